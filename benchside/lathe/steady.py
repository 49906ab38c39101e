"""Where a spindle gives too much while it is cut, and where one steady stands best for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from benchside.errors import OutOfRange
from benchside.lathe import course, stiffness
from benchside.lathe.beam import MOST_STIFF, Support, Work
from benchside.lathe.course import Bench
from benchside.lathe.parts import stock_mm
from benchside.lathe.steps import Stage, Step
from benchside.pattern import Pattern
from benchside.units import length_told

CLEAR_MM = 12.0  # judgement: room a steady needs to either side, for itself and for the tool
SET_TO_MM = 1.0  # judgement: no steady is set finer
HELPS = 0.8  # judgement: a steady that leaves more than this of the give is not worth fitting
ALMOST = 1.1  # judgement: one place for several cuts may leave so much more than one place for each
_STANDS_ON = ("straight", "taper")  # a finished bead, cove or shoulder carries no steady


@dataclass(frozen=True, slots=True)
class Moment:
    """The piece as one cut ends, when it is thinnest under the tool. [mm]

    ``bare_mm`` is the largest give over the length being cut, at ``at_mm``; ``left_mm`` the same
    with the steady that stands then at ``steady_mm``, if one does.
    """

    step_id: str
    sections: tuple[int, ...]
    finished: frozenset[int]
    work: Work
    at_mm: float
    bare_mm: float
    steady_mm: float | None
    left_mm: float


@dataclass(frozen=True, slots=True)
class Stay:
    """A steady at one place, over the cuts ``first`` to ``last`` of the moments. [mm]"""

    at_mm: float
    first: int
    last: int


@lru_cache(maxsize=128)
def moments(pattern: Pattern, steps: tuple[Step, ...], bench: Bench) -> tuple[Moment, ...]:
    """Each cut in the order of the steps, with the steady where the maker owns one and it helps.

    The give is that under ``bench.force_n`` as the cut ends, largest over the sections it cuts.
    """
    bare = _bare(pattern, steps, bench)
    found = list(bare)
    for stay in _stays(pattern, bare, bench):
        for k in range(stay.first, stay.last + 1):
            left = _give_mm(pattern, bare[k], bench, stay.at_mm)[0]
            found[k] = replace(bare[k], steady_mm=stay.at_mm, left_mm=left)
    return tuple(found)


def stays(pattern: Pattern, steps: tuple[Step, ...], bench: Bench) -> tuple[Stay, ...]:
    """Where the steady stands and for which cuts: as few places as keep the give within the limit.

    Cuts that give no more than the limit need none. A steady stands clear of all that is cut while
    it stands there, on the rough round or on a finished straight or taper. None for who owns none.
    """
    return tuple(_stays(pattern, _bare(pattern, steps, bench), bench))


def with_steady(pattern: Pattern, steps: tuple[Step, ...], bench: Bench) -> tuple[Step, ...]:
    """The steps with those that fit the steady, move it and take it off again.

    ``steady:STEP`` comes before the step that needs it, ``off:STEP`` before the one it would be in
    the way of; their ``at_mm`` is where it stands.
    """
    bare = _bare(pattern, steps, bench)
    before = _steady_steps(pattern, steps, bare, _stays(pattern, bare, bench))
    found = ((before[step.id], step) if step.id in before else (step,) for step in steps)
    return tuple(step for pair in found for step in pair)


def _steady_steps(
    pattern: Pattern, steps: Sequence[Step], bare: Sequence[Moment], stays: Sequence[Stay]
) -> dict[str, Step]:
    """What is done with the steady, by the id of the step it comes before."""
    by_id = {step.id: step for step in steps}
    first = {stay.first: stay.at_mm for stay in stays}
    needed_to = max((stay.last for stay in stays), default=-1)
    found: dict[str, Step] = {}
    on_mm: float | None = None
    for k, moment in enumerate(bare):
        step = by_id[moment.step_id]
        if k in first:
            say = "steady_fit" if on_mm is None else "steady_move"
            on_mm = first[k]
            found[step.id] = _steady_step("steady", step, step.stage, say, on_mm)
        elif on_mm is not None and (k > needed_to or not _clear(pattern, moment, on_mm)):
            found[step.id] = _steady_step("off", step, step.stage, "steady_off", on_mm)
            on_mm = None
    if on_mm is not None:
        last = by_id[bare[-1].step_id]
        after = steps[steps.index(last) + 1]
        found[after.id] = _steady_step("off", after, last.stage, "steady_off", on_mm)
    return found


def check_place(pattern: Pattern, moment: Moment, at_mm: float) -> None:
    """Raise `OutOfRange` where no steady can stand during a cut: off the work, or on it. [mm]"""
    if not CLEAR_MM <= at_mm <= pattern.length_mm - CLEAR_MM:
        low, high = length_told(CLEAR_MM), length_told(pattern.length_mm - CLEAR_MM)
        raise OutOfRange(
            f"At {length_told(at_mm)} the steady would stand off the work, or on its centre.",
            field="steady",
            hint=f"Between {low} and {high} there is room.",
        )
    if not _clear(pattern, moment, at_mm):
        low, high = map(length_told, course.spans(pattern, moment.sections)[0])
        raise OutOfRange(
            f"At {length_told(at_mm)} the steady would stand on what is cut: {low} to {high}.",
            field="steady",
            hint=f"Keep {length_told(CLEAR_MM)} clear of it.",
        )


def stand_spans(
    pattern: Pattern, finished: frozenset[int], cut: Sequence[int]
) -> list[tuple[float, float]]:
    """Where a steady may stand while those sections are cut. [mm, from-to]"""
    length = pattern.length_mm
    may = [
        i
        for i, section in enumerate(pattern.sections)
        if i not in cut and (i not in finished or section.form in _STANDS_ON)
    ]
    joined: list[tuple[float, float]] = []
    for low, high in course.spans(pattern, may):
        if joined and joined[-1][1] == low:
            joined[-1] = (joined[-1][0], high)
        else:
            joined.append((low, high))
    clear = [(low + CLEAR_MM, min(high, length) - CLEAR_MM) for low, high in joined]
    return [(low, high) for low, high in clear if low <= high]


@lru_cache(maxsize=128)
def _bare(pattern: Pattern, steps: tuple[Step, ...], bench: Bench) -> tuple[Moment, ...]:
    finished: frozenset[int] = frozenset()
    found = []
    round_mm = stock_mm(pattern)
    for step in steps:
        if step.forms:
            finished |= set(step.forms)
            work = course.standing(pattern, finished, round_mm, bench)
            moment = Moment(step.id, step.forms, finished, work, 0.0, 0.0, None, 0.0)
            give, at = _give_mm(pattern, moment, bench, None)
            found.append(replace(moment, at_mm=at, bare_mm=give, left_mm=give))
    return tuple(found)


def _give_mm(
    pattern: Pattern, moment: Moment, bench: Bench, steady_mm: float | None
) -> tuple[float, float]:
    """The largest give over what is being cut, and where. [mm]"""
    at = np.concatenate([course.over_section(pattern, i) for i in moment.sections])
    held = supports(pattern, bench, steady_mm)
    give = stiffness.deflection_mm(moment.work, bench.force_n, at, held)
    top = int(np.argmax(give))
    return float(give[top]), float(at[top])


def supports(pattern: Pattern, bench: Bench, steady_mm: float | None) -> tuple[Support, ...]:
    """The centres, and the steady where one stands. [mm]"""
    low, high = course.ends(pattern, bench)
    if steady_mm is None:
        return low, high
    return low, Support(steady_mm, bench.steady_n_per_mm or MOST_STIFF), high


def _stays(pattern: Pattern, bare: Sequence[Moment], bench: Bench) -> list[Stay]:
    """From each cut that needs it on, one place for as many of the next cuts as it will do for.

    Fewer cuts never need more, so taking as many as will do at each place takes the fewest places.
    """
    if bench.steady_n_per_mm is None:
        return []
    alone = {
        k: place
        for k, moment in enumerate(bare)
        if moment.bare_mm > bench.limit_mm and (place := _one_place(pattern, bare, k, k, bench))
    }
    helped = {k: left for k, (_, left) in alone.items() if left[k] <= HELPS * bare[k].bare_mm}
    found: list[Stay] = []
    k = 0
    while k < len(bare):
        if k not in helped:
            k += 1
            continue
        stay = Stay(alone[k][0], k, k)
        for last in range(k + 1, len(bare)):
            tried = _one_place(pattern, bare, k, last, bench)
            if tried is None or any(
                left > max(bench.limit_mm, ALMOST * helped[j][j])
                for j, left in tried[1].items()
                if j in helped
            ):
                break
            if last in helped:
                stay = Stay(tried[0], k, last)
        found.append(stay)
        k = stay.last + 1
    return found


def _one_place(
    pattern: Pattern, bare: Sequence[Moment], first: int, last: int, bench: Bench
) -> tuple[float, dict[int, float]] | None:
    """The best place for all these cuts, and what each needing one gives with it; None: no place.

    Every cut softens the piece, so the best place for the last of them is the best for all.
    """
    cut = [i for moment in bare[first : last + 1] for i in moment.sections]
    stands = stand_spans(pattern, bare[first].finished - set(bare[first].sections), cut)
    if not stands:
        return None
    needing = [k for k in range(first, last + 1) if bare[k].bare_mm > bench.limit_mm]
    at_mm = stiffness.best_steady(
        bare[last].work,
        course.ends(pattern, bench),
        course.spans(pattern, {i for k in needing for i in bare[k].sections}),
        bench.steady_n_per_mm or MOST_STIFF,
        stand_mm=stands,
    )
    at_mm = SET_TO_MM * round(at_mm / SET_TO_MM)
    return at_mm, {k: _give_mm(pattern, bare[k], bench, at_mm)[0] for k in needing}


def _clear(pattern: Pattern, moment: Moment, steady_mm: float) -> bool:
    """Whether a steady stands clear of what is cut."""
    return all(
        not low - CLEAR_MM + SET_TO_MM < steady_mm < high + CLEAR_MM - SET_TO_MM
        for low, high in course.spans(pattern, moment.sections)
    )


def _steady_step(name: str, before: Step, stage: Stage, say: str, at_mm: float) -> Step:
    """A step of the steady's before another, worked at with the stage of the cut beside it."""
    return Step(
        id=f"{name}:{before.id}",
        stage=stage,
        tool="steady",
        say=say,
        why=say,
        caution="steady_stopped",
        at_mm=at_mm,
    )
