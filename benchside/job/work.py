"""What there is to turn: a pattern at its sizes of now, its places, its steps, its calipers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from benchside import units
from benchside.errors import NotFound
from benchside.job import wood_of
from benchside.job.shop import bench
from benchside.job.wood_of import Said
from benchside.lathe import calipers, now, plan, steady
from benchside.lathe.course import Bench
from benchside.lathe.steps import Step
from benchside.pattern import Pattern, Place, places
from benchside.store import patterns, sets, tools
from benchside.store.database import Shop


@dataclass(frozen=True, slots=True)
class Work:
    """A pattern at one revision with its places and the order of its steps.

    Where the ``wood`` was said, all sizes are those to turn now, and the ``bench`` knows how stiff
    and heavy it is; ``finished`` is the pattern as it is wanted in the chair.
    """

    pattern: Pattern
    revision: int
    places: Mapping[str, Place]
    steps: tuple[Step, ...]
    speeds: Mapping[str, str]
    finished: Pattern
    bench: Bench
    wood: Said | None = None

    @property
    def finished_places(self) -> Mapping[str, Place]:
        """The places at the sizes that are wanted in the chair."""
        return _places_of(self.finished)

    @property
    def stock_mm(self) -> float:
        """The round it is roughed to."""
        return next((s.stop_mm for s in self.steps if s.stage == "rough" and s.stop_mm), 0.0)

    def step(self, step_id: str) -> Step:
        """One step. Raises `NotFound`."""
        for step in self.steps:
            if step.id == step_id:
                return step
        raise NotFound("This pattern has no such step.", field="step_id")


_UNSAID = Bench()


def work_on(
    shop: Shop, pattern_id: int, revision: int, wood: Said | None = None, *, steps_too: bool = True
) -> Work:
    """The work of one revision, in the order remembered with the pattern, the steady among it.

    Without its steps it is found sooner.
    """
    record = patterns.found(shop, pattern_id, revision)
    pattern = now.pattern_now(record.pattern, wood.turning) if wood else record.pattern
    with_, steps = _UNSAID, tuple[Step, ...]()
    if steps_too:
        with_ = bench_of(shop, wood)
        steps = _steps_of(pattern, record.step_order, with_)
        if wood:
            steps = now.steps_now(steps, wood.turning)
    found = _places_of(pattern)
    return Work(pattern, revision, found, steps, record.speeds, record.pattern, with_, wood)


def bench_of(shop: Shop, said: Said | None) -> Bench:
    """What a wood is turned with: as stiff and heavy as it is listed at its moisture now.

    Where no wood was said, or nothing is listed of it, the bench's own white ash stands.
    """
    with_ = bench(shop)
    if said is None:
        return with_
    found = wood_of.properties(shop, said.wood, said.wood.moisture)
    modulus, density = found.modulus_gpa, found.density_kg_m3
    return replace(
        with_,
        modulus_gpa=modulus.value if modulus else with_.modulus_gpa,
        density_kg_m3=density.value if density else with_.density_kg_m3,
    )


def work_of(
    shop: Shop,
    found: sets.SpindleSet,
    number: int | None = None,
    *,
    revision: int | None = None,
    nth: int | None = None,
    steps_too: bool = True,
) -> Work:
    """The work of a set at the sizes to turn now, or of one piece at those it was mounted with."""
    wood = wood_of.said(shop, found.id, number, nth)
    return work_on(shop, found.pattern_id, revision or found.revision, wood, steps_too=steps_too)


def letters_of(
    shop: Shop, spindle_set: sets.SpindleSet, doing: Work
) -> Mapping[str, calipers.CaliperUse]:
    """Which lettered caliper stands at which size, by step id."""
    choices = spindle_set.choices
    return calipers.letters(
        doing.steps,
        calipers_for(shop, spindle_set),
        pieces=choices.wanted + choices.spares,
        habit=choices.habit,
    )


def calipers_for(shop: Shop, spindle_set: sets.SpindleSet) -> int | tuple[calipers.Caliper, ...]:
    """The calipers a set is sized with: those the maker owns, else as many as the set says."""
    owned = tools.calipers(shop)
    if not owned:
        return spindle_set.choices.calipers
    return tuple(calipers.Caliper(c.letter, c.kind, c.least_mm, c.most_mm) for c in owned)


def tolerance_mm(
    spindle_set: sets.SpindleSet, place: Place, kind: Literal["diameter", "position"]
) -> float:
    """Half-width for a place: its own where the pattern gives one, else the set's for its kind."""
    given = spindle_set.choices.tolerances
    if kind == "position":
        return place.position_tolerance_mm or given.position_mm
    by_kind = {
        "tenon": given.tenon_mm,
        "slender": given.slender_mm,
        "decorative": given.decorative_mm,
    }
    return place.tolerance_mm or by_kind[place.kind]


def told_finely(spindle_set: sets.SpindleSet, doing: Work) -> sets.SpindleSet:
    """The set, in 64ths instead of sixteenths where a size rounded to a sixteenth would miss its
    own limits: what a caliper is set to and what is read have to mean the same."""
    if spindle_set.unit != "in/16":
        return spindle_set
    step = units.step_mm("in/16")
    coarse = any(
        abs(place.diameter_mm - step * round(place.diameter_mm / step))
        > tolerance_mm(spindle_set, place, "diameter") / 2
        for place in doing.places.values()
        if place.kind != "tenon"
    )
    if not coarse:
        return spindle_set
    return replace(spindle_set, choices=replace(spindle_set.choices, unit="in/64"))


def as_told(shop: Shop, spindle_set: sets.SpindleSet) -> sets.SpindleSet:
    """The set as its sizes of now are told: `told_finely`."""
    if spindle_set.unit != "in/16":
        return spindle_set
    return told_finely(spindle_set, work_of(shop, spindle_set, steps_too=False))


def comes_off_side_mm(steps: tuple[Step, ...], step: Step) -> float | None:
    """How much comes off the radius at a step: from what stood there before. [mm]

    What stood there is the size an earlier step stopped at in this place, else the rough round.
    """
    if step.stop_mm is None or step.reads == "position" or step.phase == "final":
        return None
    before = None
    for earlier in steps[: steps.index(step)]:
        if earlier.stop_mm is not None and earlier.place_id in (step.place_id, None):
            before = earlier.stop_mm
    return None if before is None else max(0.0, (before - step.stop_mm) / 2)


@lru_cache(maxsize=64)
def _places_of(pattern: Pattern) -> Mapping[str, Place]:
    return {place.id: place for place in places(pattern)}


@lru_cache(maxsize=64)
def _steps_of(pattern: Pattern, order: tuple[str, ...], with_: Bench) -> tuple[Step, ...]:
    return steady.with_steady(pattern, plan.plan(pattern, order, with_), with_)
