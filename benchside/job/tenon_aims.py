"""The sizes that tenons are brought to at the lathe, where it is known what their holes want."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from benchside.job import fitting, wood_of
from benchside.job.fitting import Fit, PartFit, Row
from benchside.job.holds import By
from benchside.job.tenon_dryness import wait
from benchside.job.wood_of import Said
from benchside.job.work import Work
from benchside.lathe.parts import is_tenon, tenon_span_mm
from benchside.lathe.steps import Step
from benchside.store import fitting as store
from benchside.store.database import Shop


@dataclass(frozen=True, slots=True)
class Goal:
    """What one tenon of a piece, by its outermost station, is brought to for its hole. [mm]

    ``by`` says what wants it so: its own ``hole``, by number, or a test hole that stands in; a
    piece without a hole goes by the test hole too, or is left as thick as the ``largest`` wants.
    ``settled``: who goes into which hole was said, or makes no difference to its size. ``damp``
    is what the piece holds and what says so, where its way of fitting ``wants`` it drier. [%]
    """

    tenon: str
    part: str
    by: Literal["hole", "test", "largest"]
    hole: int
    settled: bool
    to_mm: float
    damp: tuple[float, By] | None = None
    wants: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class TenonAim:
    """What a tenon is brought to at one place, and what is drawn there. [mm]"""

    goal: Goal
    to_mm: float
    drawn_mm: float


def goals(shop: Shop, set_id: int, numbers: Collection[int]) -> Mapping[int, tuple[Goal, ...]]:
    """What the tenons of each piece are brought to; nothing for a piece that has still to dry,
    whose tenons come to their last size later."""
    none = dict.fromkeys(numbers, ())
    if not store.parts(shop, set_id):
        return none
    holds = wood_of.of_pieces(shop, set_id, numbers)
    last = {number for number in numbers if is_last_pass(holds[number])}
    if not last:
        return none
    found = fitting.fitting(shop, set_id, now="")
    return {n: _of_piece(found, n) if n in last else () for n in numbers}


def by_holes(shop: Shop, set_id: int) -> bool:
    """Whether a set's tenons go by their holes as they are turned next."""
    return bool(store.parts(shop, set_id)) and is_last_pass(wood_of.said(shop, set_id))


def is_last_pass(holds: Said | None) -> bool:
    """Whether a tenon turned of such wood goes into its hole as it leaves the lathe."""
    return holds is None or holds.last_pass


def at_places(doing: Work, wanted: Collection[Goal]) -> dict[str, TenonAim]:
    """What is aimed at along the tenons, by place: all of a tenon moves by what its hole asks."""
    found = {}
    for goal in wanted:
        start_mm, end_mm = tenon_span_mm(doing.pattern, goal.tenon)
        outer_mm = doing.places[goal.tenon].diameter_mm
        for place in doing.places.values():
            if start_mm <= place.at_mm <= end_mm and is_tenon(doing.pattern, place):
                drawn_mm = place.diameter_mm
                found[place.id] = TenonAim(goal, goal.to_mm + (drawn_mm - outer_mm), drawn_mm)
    return found


def at_holes(shop: Shop, set_id: int, number: int, doing: Work) -> dict[str, TenonAim]:
    """What is aimed at along the tenons of one piece, whose work it is, by place."""
    return at_places(doing, goals(shop, set_id, [number])[number])


def aimed(steps: tuple[Step, ...], aims: Mapping[str, TenonAim]) -> tuple[Step, ...]:
    """The steps with the sizes of the tenons, and where they are tried, moved to what is aimed."""
    return tuple(_aimed(step, aims.get(step.place_id or "")) for step in steps)


def _aimed(step: Step, aim: TenonAim | None) -> Step:
    if aim is None or step.reads == "position":
        return step
    return replace(
        step,
        stop_mm=_moved(step.stop_mm, aim),
        finish_mm=_moved(step.finish_mm, aim),
        try_mm=_moved(step.try_mm, aim),
    )


def _moved(mm: float | None, aim: TenonAim) -> float | None:
    return None if mm is None else aim.to_mm + (mm - aim.drawn_mm)


def _of_piece(found: Fit, number: int) -> tuple[Goal, ...]:
    return tuple(goal for part in found.parts if (goal := _goal(found, part, number)) is not None)


def _goal(found: Fit, part: PartFit, number: int) -> Goal | None:
    sizes_mm = {row.target_mm for row in part.rows if row.target_mm is not None}
    own = next((row for row in part.rows if row.number == number), None)
    end, name = part.end.id, part.part.name
    if own is None:
        to_mm = max(sizes_mm, default=None)
        if to_mm is None:
            return None
        by_test = part.test_hole is not None and to_mm == part.target_mm
        return Goal(end, name, "test" if by_test else "largest", 0, settled=True, to_mm=to_mm)
    if own.target_mm is None:
        return None
    settled = found.settled or len(sizes_mm) == 1
    goal = Goal(end, name, "test", 0, settled, own.target_mm)
    return _damp(replace(goal, by="hole", hole=own.hole) if own.own else goal, part, own)


def _damp(goal: Goal, part: PartFit, row: Row) -> Goal:
    says = row.evidence
    if says is None or says.moisture is None or wait(says, part.wants_mc[1]) != "damper":
        return goal
    return replace(goal, damp=(says.moisture, says.by), wants=part.wants_mc)
