"""The sizes to turn now: a pattern of finished sizes as it has to leave the lathe today.

Each diameter by `wood.shrinkage.size_now`; positions stay, since wood hardly moves along the
grain. What is left over for the last cut stands on tenons alone, or on everything where the piece
is only roughed now.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import ceil, floor
from typing import Literal

from benchside.lathe.steps import Step
from benchside.pattern import Kind, Pattern, Place, Section, Station, places
from benchside.pattern.profile import through_limits_mm
from benchside.wood.shrinkage import SizeNow, dimension_ratio, section_mm, size_now
from benchside.wood.species import FIBER_SATURATION

PLACES = 2  # of a millimetre: as fine as a caliper reads
DRY_TO_TRY = 0.99  # judgement: a tenon that still loses more than a hundredth tells of no hole
ROUGHING = ("mount", "rough", "size", "done")  # the stages of a piece that is turned again dry


@dataclass(frozen=True, slots=True)
class Turning:
    """What the wood does between the lathe now and the chair. [%, mm]

    ``roughing`` says that the piece is only roughed now, with ``rough_mm`` left on every size.
    """

    radial_percent: float
    tangential_percent: float
    from_mc: float
    to_mc: float
    sizing_mm: float
    rough_mm: float
    roughing: bool
    fiber_saturation: float = FIBER_SATURATION

    @property
    def tries(self) -> bool:
        """Whether a tenon turned now can be tried in its hole, or has to dry first."""
        worst = max(self.radial_percent, self.tangential_percent)
        ratio = dimension_ratio(worst, self.from_mc, self.to_mc, self.fiber_saturation)
        return ratio > DRY_TO_TRY


def size(final_mm: float, kind: Kind, wood: Turning) -> SizeNow:
    """The size to turn now at a place of that kind, with its reasons. [mm]"""
    tenon = wood.sizing_mm if kind == "tenon" else 0.0
    return size_now(
        final_mm,
        radial_percent=wood.radial_percent,
        tangential_percent=wood.tangential_percent,
        from_mc=wood.from_mc,
        to_mc=wood.to_mc,
        allowance_mm=wood.rough_mm if wood.roughing else tenon,
        fiber_saturation=wood.fiber_saturation,
    )


@lru_cache(maxsize=64)
def sizes(pattern: Pattern, wood: Turning) -> Mapping[str, SizeNow]:
    """The size to turn now of each place of a pattern, by its id.

    A crown or root that the ends leave no room for is turned as `pattern_now` has it.
    """
    through = [section.through_mm for section in pattern_now(pattern, wood).sections]
    return {place.id: _size_of(place, through, wood) for place in places(pattern)}


@lru_cache(maxsize=64)
def pattern_now(pattern: Pattern, wood: Turning) -> Pattern:
    """The pattern with every diameter as it is to be turned now. [mm]

    A crown or root that the fatter ends leave no room for is brought to the nearest that there is.
    """
    stations = tuple(
        replace(s, diameter_mm=round(size(s.diameter_mm, s.kind, wood).turn_mm, PLACES))
        for s in pattern.stations
    )
    kinds = {place.section: place.kind for place in places(pattern) if place.section is not None}
    sections = tuple(
        replace(section, through_mm=_through_mm(pattern, stations, i, kinds.get(i), wood))
        for i, section in enumerate(pattern.sections)
    )
    return replace(pattern, stations=stations, sections=sections)


def steps_now(steps: tuple[Step, ...], wood: Turning) -> tuple[Step, ...]:
    """The steps to take now: a piece turned again dry is only mounted, roughed and sized.

    Roughed, its high places and its tenons are cut to their size at once, since no finer cut
    follows today. A tenon that has still to dry is not tried in its hole. The sizes to stop at are
    rounded as those of the pattern are.
    """
    here = _only_roughed(steps, wood) if wood.roughing else steps
    if not wood.tries:
        here = [_untried(step) for step in here]
    return tuple(
        replace(step, stop_mm=_fine(step.stop_mm), finish_mm=_fine(step.finish_mm)) for step in here
    )


def finish_mm(turned_mm: float, wood: Turning) -> float:
    """The least that a size turned now may come to, so that it is still right in the end. [mm]

    Of a piece only roughed now, without what is left on it for turning it dry.
    """
    if not wood.roughing:
        return turned_mm
    return turned_mm - wood.rough_mm / size(turned_mm, "decorative", wood).ratio


def _only_roughed(steps: tuple[Step, ...], wood: Turning) -> list[Step]:
    """Mounting, the round, a groove at each high place and each tenon, and done."""
    sized = {step.place_id for step in steps if step.stage == "size"}
    return [
        _roughed(step, wood)
        for step in steps
        if step.stage in ROUGHING or (step.stage == "tenon" and step.reads)
        if step.place_id not in sized or step.stage == "size"
    ]


def _roughed(step: Step, wood: Turning) -> Step:
    """A sizing cut that nothing follows today; every other step as it was."""
    if step.finish_mm is None or step.stage not in ("size", "tenon"):
        return step
    least_mm = finish_mm(step.finish_mm, wood)
    groove = replace(step, stop_mm=step.finish_mm, finish_mm=least_mm)
    if step.stage == "size":
        return groove
    return replace(
        groove,
        id=f"size:{step.place_id}",
        stage="size",
        say="size",
        why="half",
        caution="stop_to_measure",
        try_mm=None,
        touch_up=False,
        forms=(),
    )


def _size_of(place: Place, through: Sequence[float | None], wood: Turning) -> SizeNow:
    wanted = size(place.diameter_mm, place.kind, wood)
    if place.role not in ("crown", "root") or place.section is None:
        return wanted
    room_mm = through[place.section]
    if room_mm is None or room_mm == round(wanted.turn_mm, PLACES):
        return wanted
    ways = (wood.radial_percent, wood.tangential_percent)
    dried = section_mm(room_mm, *ways, wood.from_mc, wood.to_mc, wood.fiber_saturation)
    return replace(wanted, turn_mm=room_mm, dried=dried)


def _untried(step: Step) -> Step:
    """A tenon cut to its size without its hole; every other step as it was."""
    if step.stage != "tenon":
        return step
    caution = "stop_to_measure"
    return replace(step, try_mm=None, say="tenon_wet", why="half", caution=caution)


def _fine(mm: float | None) -> float | None:
    return None if mm is None else round(mm, PLACES)


def _through_mm(
    pattern: Pattern,
    stations: tuple[Station, ...],
    i: int,
    kind: Kind | None,
    wood: Turning,
) -> float | None:
    section: Section = pattern.sections[i]
    if section.through_mm is None:
        return None
    start, end = pattern.stations[i], pattern.stations[i + 1]
    for was, now in ((start, stations[i]), (end, stations[i + 1])):
        if section.through_mm == was.diameter_mm:
            return now.diameter_mm
    ends_mm = stations[i].diameter_mm, stations[i + 1].diameter_mm
    form: Literal["bead", "cove"] = "bead" if section.form == "bead" else "cove"
    least_mm, most_mm = through_limits_mm(form, end.at_mm - start.at_mm, *ends_mm)
    wanted_mm = round(size(section.through_mm, kind or start.kind, wood).turn_mm, PLACES)
    fine = 10.0**PLACES
    if form == "bead":
        return max(least_mm, min(wanted_mm, floor(most_mm * fine) / fine))
    return min(most_mm, max(wanted_mm, ceil(least_mm * fine) / fine))
