"""What the turn page says of drift, and of sizes aimed off the drawn ones so that a set agrees."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from benchside import units
from benchside.job import progress, watching
from benchside.job.work import Work
from benchside.lathe.steps import Step
from benchside.units import Unit
from benchside.web import labels
from benchside.web.words import words


def drift(
    found: watching.Watch | None, aims: Sequence[watching.Aim], work: Work, unit: Unit
) -> dict[str, Any] | None:
    """What drifts, in one line ("": nothing), and what to aim for instead at which steps."""
    said = labels.drift(found, unit) if found else {}
    drifting = (found.place.id, found.kind) if found else None
    told = [
        _aimed(one, step, unit, said["first"] if _where(one) == drifting else "")
        for one in labels.aims(aims, unit)
        for step in work.steps
        if (step.place_id == one.of.place.id and step.reads in (one.of.kind, None))
        or (one.of.kind == "diameter" and one.of.place.id in step.brings)
    ]
    if found is None and not told:
        return None
    line = " ".join(filter(None, (said.get(key, "") for key in ("says", "check", "aim"))))
    return {"line": line, "aims": told}


def _where(one: labels.Aimed) -> tuple[str, str]:
    return one.of.place.id, one.of.kind


def _aimed(one: labels.Aimed, step: Step, unit: Unit, first: str) -> dict[str, Any]:
    """What a step ``at`` says of an aim; ``to`` is the size to stop at there, where that is another
    than drawn, and ``put`` what then stands at which place of its face. Where the aim is for a
    drift, what comes ``first`` and the aim are one thought. What is aimed for is the figure that is
    shown, so that its limits are those one reckons from it. [mm]"""
    said, sign = words()["page"]["aim_instead"], units.unit_sign(unit)
    aim_mm = units.parse_length(one.aim, unit)
    values = {"aim": f"{one.aim} {sign}", "drawn": one.drawn, "name": one.name}
    here = step.place_id == one.of.place.id
    read = {".read .aim b": values["aim"]} if step.reads else {}
    if progress.is_final_reading(step):
        say, to_mm, put = said["read"], aim_mm, read
    elif one.of.kind == "position":
        say, to_mm, put = said["drifts"] if first else one.words, None, {}
    elif not here or step.stop_mm is None or step.stop_mm != step.finish_mm:
        say = said["drifts_finish" if first and here else "finish"]
        to_mm, put = None, {".finish b": one.aim} if here else {}
    else:
        say, to_mm = said["drifts"] if first else one.words, aim_mm
        put = read | {
            ".size > span": one.aim,
            ".size .other": units.in_other_unit(aim_mm, unit, fine=unit != "mm"),
            ".caliper span:last-child": said["caliper"].format(aim=one.aim),
        }
    if first and here and not progress.is_final_reading(step):
        say = f"{first} {say}"
    found: dict[str, Any] = {"at": step.id, "say": say.format(**values), "put": put}
    return found if to_mm is None else found | {"to": round(to_mm, 3)}
