"""The steps of a sitting as the turn page shows them: a face to each, with its drawing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from benchside.draw import spindle as drawing
from benchside.job import progress, turning
from benchside.job.work import comes_off_side_mm, tolerance_mm
from benchside.lathe.calipers import CaliperUse
from benchside.lathe.now import PLACES
from benchside.lathe.now import sizes as sizes_now
from benchside.lathe.parts import tenon_span_mm
from benchside.lathe.steps import Step
from benchside.pattern import Place
from benchside.web import labels
from benchside.web.at_hand import SpeedLines
from benchside.web.words import words


@dataclass(frozen=True, slots=True)
class End:
    """One end of a section: its finished size, and the size it was left at until now."""

    name: str
    finish_mm: float
    from_mm: float | None


@dataclass(frozen=True, slots=True)
class Face:
    """One step at the lathe as the page shows it; ``back`` is the anchor of the one before.

    ``why`` tells how the size to turn now follows from the finished one; empty where they are one,
    and at the steps after sizing. ``hole`` says that a tenon is brought to what its hole wants, and
    ``waits`` that it is too damp for that.
    """

    step: Step
    back: str
    name: str
    picture: str
    caliper: CaliperUse | None
    span: tuple[float, float]
    ends: list[End]
    off_side_mm: float | None
    fine: bool
    why: str
    hole: str
    waits: str
    speed: SpeedLines | None


def faces(
    sitting: turning.Sitting, view: drawing.View, speed: Mapping[str, SpeedLines]
) -> list[Face]:
    """Every step that something is done at, with its drawing and what stands for it."""
    steps = sitting.steps
    found = []
    stands: list[int] = [i for step in _before(sitting, steps[0]) for i in step.forms]
    rounded = steps[0].stage not in ("mount", "rough")
    grooves = sized(_before(sitting, steps[0]))
    steady_mm = _steady_after(_before(sitting, steps[0]))
    for i, step in enumerate(steps):
        if progress.is_final_reading(step):
            continue
        if step.tool == "steady":
            steady_mm = _steady_after([step])
        place = sitting.work.places[step.place_id] if step.place_id else None
        picture = drawing.at_step(
            sitting.work.pattern,
            view,
            done=stands,
            round_=rounded,
            sized=grooves,
            here_mm=None if step.tool == "steady" else step.at_mm,
            here_diameter_mm=step.stop_mm if step.reads == "diameter" else None,
            steady_mm=steady_mm,
        )
        found.append(
            Face(
                step=step,
                back=anchor(steps[i - 1]) if i else "",
                name=labels.place_label(place) if place else _named(step),
                picture=picture,
                caliper=sitting.letters.get(step.id),
                span=_span(sitting, step),
                ends=_ends(sitting, step),
                off_side_mm=comes_off_side_mm(sitting.work.steps, step),
                fine=labels.fine_for(place, step.reads or "diameter") if place else False,
                why="" if step.place_id in sitting.aims else _why_this_size(sitting, place, step),
                hole=_for_its_hole(sitting, step),
                waits=_too_damp(sitting, step),
                speed=speed.get(step.stage) if i == 0 or steps[i - 1].stage != step.stage else None,
            )
        )
        rounded = rounded or step.stage == "rough"
        stands += step.forms
        grooves += sized([step])
    return found


def anchor(step: Step) -> str:
    """Where a step is found without script."""
    return "readings" if progress.is_final_reading(step) else step.id


def sized(steps: Iterable[Step]) -> list[float]:
    """Where sizing grooves stand after these steps. [mm]"""
    return [s.at_mm for s in steps if s.stage == "size" and s.at_mm is not None]


def _before(sitting: turning.Sitting, first: Step) -> list[Step]:
    """The steps that lie behind a stage."""
    return list(sitting.work.steps[: sitting.work.steps.index(first)])


def _why_this_size(sitting: turning.Sitting, place: Place | None, step: Step) -> str:
    """From the size in the chair to the size to turn now, in one line."""
    wood = sitting.work.wood
    if wood is None or place is None or step.stage not in ("size", "tenon"):
        return ""
    unit = sitting.unit
    why = sizes_now(sitting.work.finished, wood.turning)[place.id]
    said = words()["wood"]
    if round(why.turn_mm, PLACES) == round(why.final_mm, PLACES):
        return ""
    key = "why_turn" if why.allowance_mm else "why_turn_bare"
    found: str = said["why_rough" if wood.turning.roughing else key].format(
        final=labels.length(why.final_mm, unit, fine=place.kind == "tenon"),
        allowance=labels.length(why.allowance_mm, unit, fine=True),
        ratio=f"{why.ratio:.3f}",
        species=wood.wood.species,
        **{"from": labels.moisture(why.from_mc), "to": labels.moisture(why.to_mc)},
    )
    room = labels.room(place, why, unit)
    return f"{found} {room}" if room else found


def _for_its_hole(sitting: turning.Sitting, step: Step) -> str:
    """Where a tenon is cut: which hole its size is for, what is drawn, and what decides."""
    place_id = step.place_id or ""
    if step.stage != "tenon" or place_id not in sitting.aims:
        return ""
    drawn = sitting.work.finished_places[place_id]
    limit_mm = tolerance_mm(sitting.spindle_set, drawn, "diameter")
    return labels.for_hole(sitting.aims[place_id], drawn.diameter_mm, limit_mm, sitting.unit)


def _too_damp(sitting: turning.Sitting, step: Step) -> str:
    """At a tenon's cut, that it should be drier before its last one."""
    aim = sitting.aims.get(step.place_id or "") if step.stage == "tenon" else None
    return labels.drier_first(aim.goal) if aim else ""


def _steady_after(steps: Sequence[Step]) -> float | None:
    """Where the steady stands after these steps, if it does. [mm]"""
    moved = [s for s in steps if s.tool == "steady"]
    return moved[-1].at_mm if moved and moved[-1].say != "steady_off" else None


def _named(step: Step) -> str:
    """What a step is called that is done at no place of the pattern."""
    group, key = ("tool", "steady") if step.tool == "steady" else ("stage", step.stage)
    name: str = words()[group][key]
    return name


def _span(sitting: turning.Sitting, step: Step) -> tuple[float, float]:
    """Where a step is done, from the datum end: a place, or for a tenon its whole length. [mm]"""
    at_mm = step.at_mm or 0.0
    wood = sitting.work.wood
    roughed = step.stage == "size" and wood is not None and wood.turning.roughing
    place = sitting.work.places.get(step.place_id or "")
    if place and (step.stage == "tenon" or (roughed and place.kind == "tenon")):
        return tenon_span_mm(sitting.work.pattern, place.id)
    return at_mm, at_mm


def _ends(sitting: turning.Sitting, step: Step) -> list[End]:
    """The two ends of a section that is cut; one that still stands at its sizing size says so."""
    if step.section is None:
        return []
    sized = {s.place_id: s.stop_mm for s in sitting.work.steps if s.stage == "size"}
    stations = sitting.work.pattern.stations[step.section : step.section + 2]
    return [
        End(
            labels.place_label(sitting.work.places[s.id]),
            sitting.aims[s.id].to_mm if s.id in sitting.aims else s.diameter_mm,
            sized[s.id] if s.id in step.brings else None,
        )
        for s in stations
    ]
