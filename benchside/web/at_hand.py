"""What a turn page says of calipers, edges, speeds and drift: short lines beside the steps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import isfinite
from typing import Any

from benchside import units
from benchside.job import calipers, edges, speeds, stock, turning, watching
from benchside.job.shop import Lathe
from benchside.job.speeds import StageSpeed
from benchside.job.turning import Sitting
from benchside.job.work import Work, told_finely, work_of
from benchside.lathe.edges import Passed
from benchside.lathe.in_use import THIN_SHARE
from benchside.lathe.outfit import Misfit
from benchside.lathe.speed import CORNERS
from benchside.store import sets
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet
from benchside.units import Unit
from benchside.web import aims, labels
from benchside.web.words import words


@dataclass(frozen=True, slots=True)
class SpeedLines:
    """The maker's own speed at a stage, what is to be heeded, and its ceiling."""

    own: str
    heed: tuple[str, ...]
    ceiling: str


def lines(shop: Shop, sitting: Sitting, drifting: str = "") -> dict[str, str]:
    """The lines that change while one document lasts, by the name they stand under.

    ``calipers`` is how they should stand as the piece is begun, ``spares`` what takes the place of
    a spoiled one; a step's id is its edge, where it wants touching up first.
    """
    stand = calipers.begin(shop, sitting, drifting=drifting)
    found = {
        "calipers": standing(stand, sitting.unit),
        "spares": spares_line(stock.spares(shop, sitting.spindle_set.id)),
    }
    due = edges.due(shop, sitting)
    say = words()["edges"]["due"]
    for step in sitting.steps:
        if step.id in due:
            found[step.id] = f"{edge_line(step.tool, due[step.id])} {say}"
    return {name: text for name, text in found.items() if text}


def news(shop: Shop, set_id: int, number: int, what: str) -> dict[str, Any]:
    """Whether the set drifts now, and how calipers and edges stand for the piece to go on with.

    ``what`` was just said of piece ``number``; 0 is the set itself.
    """
    kept = sets.found(shop, set_id)
    work = work_of(shop, kept, number or None)
    watch, told = watching.told(shop, set_id, work)
    after = number if what in ("done", "spoiled") else 0
    going = turning.where_next(shop, set_id, after)
    if not after and number:
        going = (number, going[1] if going else None)
    found = {}
    if going is not None:
        sitting = turning.sitting(shop, set_id, *going)
        found = lines(shop, sitting, watch.letter if watch else "")
    drift = aims.drift(watch, told, work, told_finely(kept, work).unit)
    return {"drift": drift, "at_hand": found, "doubts": doubts(shop, kept, work)}


def doubts(shop: Shop, kept: SpindleSet, work: Work) -> dict[str, str]:
    """What is to be heeded of calipers that were dropped and not checked since, by letter."""
    said, found = words()["script"], {}
    for one in calipers.of_set(shop, kept, work):
        if one.dropped:
            pieces = labels.pieces(one.since).lower()
            since = said["dropped_since"].format(pieces=pieces) if one.since else ""
            found[one.letter] = f"{said['dropped'].format(letter=one.letter)} {since}".strip()
    return found


def standing(stand: tuple[calipers.Standing, ...], unit: Unit) -> str:
    """How the calipers should stand, a line to each, those to be checked on the gauge first."""
    said = words()["calipers"]

    def each(one: calipers.Standing) -> str:
        if one.check == "dropped":  # in mid-piece it may stand at another size
            return f"{one.letter}, {said['check'][one.check]}"
        size = labels.length(one.setting_mm, unit, fine=one.for_tenon)
        why = f", {said['check'][one.check]}" if one.check not in ("", "never") else ""
        return f"{one.letter} {size}{why}"

    check = [each(one) for one in stand if one.check]
    anew = [each(one) for one in stand if one.set_anew and not one.check]
    rest = [each(one) for one in stand if not (one.check or one.set_anew)]
    parts = ((said["gauge"], check), (said["set"], anew), (said["stand"], rest))
    return "\n".join("\n".join((head, *sizes)) for head, sizes in parts if sizes)


def spares_line(found: stock.Spares) -> str:
    """Which spares are still to be turned for pieces that were spoiled, and whether what is sound
    covers the set; "" where there is none."""
    said = words()["spares"]
    open_calls = [call for call in found.calls if not call.done]
    if not open_calls:
        return ""
    each = [
        said["piece" if call.piece else "blank" if call.label else "none"].format(
            spoiled=call.spoiled, piece=call.piece, label=call.label
        )
        for call in open_calls
    ]
    covers = said["covered" if found.sound >= found.wanted else "short"]
    return " ".join((*each, covers.format(sound=found.sound, wanted=found.wanted)))


def edge_line(tool: str, passed: Passed) -> str:
    """What has passed an edge since it was touched up."""
    said = words()["edges"]
    alike = round(passed.metres) == round(passed.worn_m)
    text: str = said["since" if alike else "counts"]
    return text.format(
        tool=words()["tool"][tool], metres=f"{passed.metres:.0f}", worn=f"{passed.worn_m:.0f}"
    )


def speed_lines(found: speeds.Speeds) -> Mapping[str, SpeedLines]:
    """What is said of the speed at each stage, by stage.

    A ceiling only where it is a new one, and to set a speed of the maker's beside.
    """
    said: dict[str, SpeedLines] = {}
    before = ""
    for stage, one in found.stages.items():
        lines = _speed(one)
        new = lines.own and lines.ceiling != before
        said[stage] = replace(lines, ceiling=lines.ceiling if new else "")
        before = lines.ceiling if new else before
    return said


def heeded(one: StageSpeed) -> tuple[str, ...]:
    """What is to be heeded at a stage, in words."""
    said: Mapping[str, str] = words()["speed"]["heed"]
    speeds_rpm: dict[str, float | None] = {
        **{ceiling.reason: ceiling.rpm for ceiling in one.ceilings},
        "least": _least_rpm(one),
        "own": one.rpm,
        "slowest": one.slowest_rpm,
    }
    figures = {name: f"{rpm(value)} rpm" for name, value in speeds_rpm.items()}
    return tuple(said[key].format(**figures) for key in one.heed)


def before_mounting(found: speeds.Speeds, unit: Unit) -> tuple[str, ...]:
    """What speaks against putting a piece of this on the lathe, in words."""
    said = [*unfit(found.unfit, found.work, found.lathe, unit)]
    too_fast = [one for one in found.stages.values() if "none_slow" in one.heed]
    if too_fast:
        worst = min(too_fast, key=_least_rpm)
        said.append(
            words()["before_mounting"]["none_slow"].format(
                slowest=f"{rpm(worst.slowest_rpm)} rpm",
                least=f"{rpm(_least_rpm(worst))} rpm",
                stage=words()["stage"][worst.stage],
            )
        )
    return (*said, *weak_neck(found.weak_neck))


def weak_neck(share: float | None) -> tuple[str, ...]:
    """That a neck is weak, in words."""
    if share is None:
        return ()
    figures = {"share": f"{share:.0%}", "limit": f"{THIN_SHARE:.0%}"}
    shown = {name: text.replace("%", " %") for name, text in figures.items()}
    return (words()["before_mounting"]["weak_neck"].format(**shown),)


def _least_rpm(one: StageSpeed) -> float:
    """The least ceiling that is not the lathe's own."""
    return min(c.rpm for c in one.ceilings if c.reason != "lathe")


def unfit(found: Sequence[Misfit], work: Work, lathe: Lathe, unit: Unit) -> tuple[str, ...]:
    """What does not go on the lathe, in words."""
    sizes_mm = {
        "length": work.pattern.length_mm,
        "between": lathe.between_centres_mm,
        "stock": work.stock_mm,
        "corners": CORNERS * work.stock_mm,
        "swing": lathe.swing_mm,
    }
    sign = units.unit_sign(unit)
    sizes = {name: f"{labels.position(mm, unit)} {sign}" for name, mm in sizes_mm.items()}
    return tuple(words()["unfit"][key].format(**sizes) for key in found)


def rpm(speed_rpm: float | None) -> str:
    """A speed in whole turns a minute, thousands apart."""
    return "" if speed_rpm is None or not isfinite(speed_rpm) else f"{speed_rpm:,.0f}"


def own_speed(one: StageSpeed) -> str:
    """The maker's own note with its rim speed; "" where none stands."""
    if not one.kept:
        return ""
    text = speed_kept(one.kept)
    if one.rim_m_s is None:
        return text
    return str(words()["speed"]["own"].format(own=text, rim=f"{one.rim_m_s:.1f}"))


def speed_kept(note: str) -> str:
    """The maker's own note of a speed, the unit after a mere figure."""
    return note + (" rpm" if note.isdecimal() else "")


def _speed(one: StageSpeed) -> SpeedLines:
    least = one.ceilings[0]
    page, own = words()["page"], own_speed(one)
    return SpeedLines(
        own=page["speed"].format(speed=own) if own else "",
        heed=heeded(one),
        ceiling=page["unround"]
        if one.square
        else page["ceiling"].format(
            ceiling=f"{rpm(_in_hundreds(least.rpm))} rpm",
            reason=words()["speed"]["ceiling"][least.reason],
        ),
    )


def _in_hundreds(speed_rpm: float) -> float:
    """A ceiling as it is worth telling, never rounded up: wood alone scatters by a tenth."""
    return speed_rpm if speed_rpm < 100 else speed_rpm // 100 * 100


def thick(mm: float, unit: Unit) -> str:
    """A thickness with its unit."""
    return f"{labels.length(mm, unit)} {units.unit_sign(unit)}"
