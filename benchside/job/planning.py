"""The plan of a set: cut by cut how much the work gives, where it whirls, where the steady goes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from benchside.errors import NotFound, OutOfRange
from benchside.job import shop as shops
from benchside.job import wood_of
from benchside.job.work import Work, told_finely, work_of
from benchside.lathe import course, in_use, parts, plan, speed, steady, stiffness
from benchside.lathe.beam import Floats
from benchside.lathe.course import Bench
from benchside.lathe.order import Reason
from benchside.lathe.outfit import Misfit
from benchside.lathe.parts import Slenderness
from benchside.lathe.steady import Moment
from benchside.lathe.steps import Step
from benchside.pattern import Pattern
from benchside.store import sets
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet
from benchside.wood.properties import Properties

# A back is leaned on with 330 N in the durability test [@iso-7173, 7.6]; that six or seven spindles
# share it is judgement.
LOAD_N = 50.0
# Bending strength of white ash at 12 % [@wood-handbook-2021, Table 5-3], where nothing is listed
# of the set's wood.
STRENGTH_MPA = 103.0
_ALONG = 121


@dataclass(frozen=True, slots=True)
class CutView:
    """One cut. ``step`` is it, ``fit`` and ``take_off`` the steady's steps before it.

    ``whirl_rpm`` is the first whirling speed as the cut ends, both ends free to tilt and both held
    fast; ``kept_rpm`` the figure in the maker's own speed, None without one.
    """

    step: Step
    moment: Moment
    reason: Reason
    softens_mm: float
    fit: Step | None
    take_off: Step | None
    whirl_rpm: tuple[float, float]
    kept_rpm: float | None
    over_whirl: bool


@dataclass(frozen=True, slots=True)
class GiveLine:
    """The give along the piece as one cut ends, with and without the steady. [mm]

    ``at_stations`` are both at each station of the pattern.
    """

    x_mm: Floats
    bare_mm: Floats
    left_mm: Floats | None
    cut_mm: tuple[tuple[float, float], ...]
    at_stations: tuple[tuple[float, float | None], ...]


@dataclass(frozen=True, slots=True)
class InUse:
    """The neck in use, its sizes the finished ones and its ``wood`` at the dampest of its year.

    ``share`` is its stress over the bending strength of clear straight wood,
    ``grain_share`` over what is left of it where the grain runs out 1 in ``grain``.
    """

    load_n: float
    grain: float | None
    strength_mpa: float
    neck: in_use.Neck
    share: float
    grain_share: float
    wood: Properties | None


@dataclass(frozen=True, slots=True)
class PlanView:
    """Everything of a plan. ``shown`` is the cut that is drawn, ``worst`` the one that gives most
    without a steady; ``would_help`` is where one would stand for it and what it would leave, had
    the maker one. ``tried_mm`` is where the maker tries one for the cut that is drawn. ``wood`` is
    the set's as it is turned, None while nobody said."""

    kept: SpindleSet
    work: Work
    bench: Bench
    lathe: shops.Lathe
    cuts: tuple[CutView, ...]
    shown: int
    worst: int
    line: GiveLine
    tried_mm: float | None
    slender: Slenderness
    weak_neck: float | None
    would_help: tuple[float, float] | None
    shear: float
    unfit: tuple[Misfit, ...]
    wood: Properties | None
    in_use: InUse


def view(
    shop: Shop,
    set_id: int,
    cut: str = "",
    *,
    steady_mm: float | None = None,
    load_n: float = LOAD_N,
    grain: float | None = None,
) -> PlanView:
    """The plan of a set, one cut of it drawn: that named, else the one that gives most.

    ``steady_mm`` is where the maker tries a steady for that cut. Raises `NotFound`, and
    `OutOfRange` for a steady, a load or a grain that cannot be.
    """
    kept = sets.found(shop, set_id)
    doing = work_of(shop, kept)
    bench = doing.bench
    wood = doing.wood.wood if doing.wood else None
    cuts = _cuts(doing, bench)
    if not cuts and doing.wood and doing.wood.turning.roughing:
        raise NotFound(
            "This set is only roughed now, so there is nothing to plan yet.",
            hint="Once it is dry, say its wood anew.",
        )
    if not cuts:
        raise NotFound("Nothing of this pattern is cut to a form.")
    worst = max(range(len(cuts)), key=lambda i: cuts[i].moment.bare_mm)
    shown = next((i for i, c in enumerate(cuts) if c.step.id == cut), worst)
    moment = cuts[shown].moment
    if steady_mm is not None:
        steady.check_place(doing.pattern, moment, steady_mm)
        moment = replace(moment, steady_mm=steady_mm)
    lathe = shops.lathe(shop)
    return PlanView(
        kept=told_finely(kept, doing),
        work=doing,
        bench=bench,
        lathe=lathe,
        cuts=cuts,
        shown=shown,
        worst=worst,
        line=_line(doing.pattern, moment, bench),
        tried_mm=steady_mm,
        slender=parts.slenderness(doing.pattern),
        weak_neck=in_use.weak_neck(doing.pattern),
        would_help=_would_help(doing, bench),
        shear=stiffness.shear_part(cuts[-1].moment.work),
        unfit=shops.unfit(lathe, doing.pattern, doing.stock_mm),
        wood=wood_of.properties(shop, wood, wood.moisture) if wood else None,
        in_use=_in_use(
            doing.finished,
            load_n,
            grain,
            wood_of.properties(shop, wood, wood.dampest_mc) if wood else None,
        ),
    )


def keep_force(shop: Shop, force_n: float | None, limit_mm: float | None) -> None:
    """Keep the force of the maker's cut and the give they see; None is benchside's own figure.

    Raises `OutOfRange`.
    """
    lathe = shops.lathe(shop)
    shops.keep_lathe(shop, replace(lathe, cut_force_n=force_n, give_limit_mm=limit_mm))


def calibrate(shop: Shop, set_id: int, cut: str, at_mm: float, dip_mm: float) -> float:
    """Keep the force that makes the piece dip so far at a place, as it stands after a cut. [N]

    Raises `NotFound` for a cut that is none, `OutOfRange` for a place or a dip that cannot be.
    """
    seen = view(shop, set_id, cut)
    chosen = seen.cuts[seen.shown]
    if chosen.step.id != cut:
        raise NotFound("The plan has no such cut.", field="cut")
    pattern = seen.work.pattern
    held = steady.supports(pattern, seen.bench, chosen.moment.steady_mm)
    force_n = course.force_from_dip_n(chosen.moment.work, held, at_mm, dip_mm)
    if not 0 < force_n <= shops.MOST_FORCE_N:
        raise OutOfRange(
            f"That dip would take {force_n:,.0f} N, which no hand pushes with.",
            field="dip_mm",
            hint="Measure the dip again.",
        )
    keep_force(shop, round(force_n, 2), seen.lathe.give_limit_mm)
    return force_n


def _cuts(doing: Work, bench: Bench) -> tuple[CutView, ...]:
    pattern = doing.pattern
    steps = tuple(step for step in doing.steps if step.tool != "steady")
    extra = {step.id: step for step in doing.steps if step.tool == "steady"}
    why = plan.why_here(pattern, steps, bench=bench)
    softens = plan.softens_mm(pattern, bench)
    by_id = {step.id: step for step in steps}
    found = []
    for moment in steady.moments(pattern, steps, bench):
        step = by_id[moment.step_id]
        low, high = _whirl(pattern, steps, bench)[step.id]
        kept_rpm = _kept_rpm(doing.speeds, steps, step)
        found.append(
            CutView(
                step=step,
                moment=moment,
                reason=why[step.id],
                softens_mm=softens[step.id],
                fit=extra.get(f"steady:{step.id}"),
                take_off=extra.get(f"off:{step.id}"),
                whirl_rpm=(low, high),
                kept_rpm=kept_rpm,
                over_whirl=kept_rpm is not None and kept_rpm > speed.WHIRL_SHARE * low,
            )
        )
    return tuple(found)


@lru_cache(maxsize=32)
def _whirl(
    pattern: Pattern, steps: tuple[Step, ...], bench: Bench
) -> Mapping[str, tuple[float, float]]:
    """The first whirling speeds as each cut ends, the ends free and fast. [rpm]"""
    return {
        moment.step_id: stiffness.rpm_when_held(
            moment.work, steady.supports(pattern, bench, moment.steady_mm)
        )
        for moment in steady.moments(pattern, steps, bench)
    }


def _kept_rpm(speeds: Mapping[str, str], steps: Sequence[Step], step: Step) -> float | None:
    """The figure in the maker's speed for a stage, or in that of the last stage that has one."""
    stages = list(dict.fromkeys(s.stage for s in steps))
    upto = stages[: stages.index(step.stage) + 1]
    said = next((speeds[stage] for stage in reversed(upto) if speeds.get(stage)), "")
    return speed.kept_rpm(said)


def _line(pattern: Pattern, moment: Moment, bench: Bench) -> GiveLine:
    x = np.linspace(0.0, pattern.length_mm, _ALONG)
    stations = np.array([station.at_mm for station in pattern.stations])

    def give(at: Floats, steady_mm: float | None) -> Floats:
        held = steady.supports(pattern, bench, steady_mm)
        return stiffness.deflection_mm(moment.work, bench.force_n, at, held)

    steadied = moment.steady_mm is not None
    there = give(stations, moment.steady_mm).tolist() if steadied else [None] * len(stations)
    return GiveLine(
        x,
        give(x, None),
        give(x, moment.steady_mm) if steadied else None,
        tuple(course.spans(pattern, moment.sections)),
        tuple(zip(give(stations, None).tolist(), there, strict=True)),
    )


def _would_help(doing: Work, bench: Bench) -> tuple[float, float] | None:
    """Where a steady would stand for the worst cut and what it would leave, had the maker one."""
    if bench.steady_n_per_mm is not None:
        return None
    steps = doing.steps
    owned = replace(bench, steady_n_per_mm=float("inf"))
    steadied = [m for m in steady.moments(doing.pattern, steps, owned) if m.steady_mm is not None]
    worst = max(steadied, key=lambda m: m.bare_mm, default=None)
    return None if worst is None else (worst.steady_mm or 0.0, worst.left_mm)


def _in_use(pattern: Pattern, load_n: float, grain: float | None, wood: Properties | None) -> InUse:
    found = in_use.neck(pattern, load_n)
    listed = wood.rupture_mpa if wood else None
    straight_mpa = listed.value if listed else STRENGTH_MPA
    return InUse(
        load_n=load_n,
        grain=grain,
        strength_mpa=straight_mpa,
        neck=found,
        share=found.stress_mpa / straight_mpa,
        grain_share=found.stress_mpa / in_use.strength_mpa(straight_mpa, grain),
        wood=wood,
    )
