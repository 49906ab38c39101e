"""The maker's own speeds beside their ceilings, stage by stage. None is ever prescribed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from benchside.job import shop as shops
from benchside.job import wood_of
from benchside.job.work import Work, told_finely, work_of
from benchside.lathe import in_use, speed, whirling
from benchside.lathe.outfit import Misfit
from benchside.lathe.speed import Ceiling, Heed, Published
from benchside.lathe.steps import Stage
from benchside.store import sets
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet

SQUARE: tuple[Stage, ...] = ("mount", "rough")
RUNNING: tuple[Stage, ...] = ("rough", "size", "tenon", "run", "form", "thin")


@dataclass(frozen=True, slots=True)
class StageSpeed:
    """The speed of one stage. ``kept`` is the maker's note, for it or for the last stage before it
    that has one, ``rpm`` the figure in it.

    ``thick_mm`` is the thickest that stands then: the rough round, which is there until the last
    section is cut, or across the corners while it is ``square``. Of the lathe's steps ``below_rpm``
    lie under every ceiling. ``heed`` is what is to be said.
    """

    stage: Stage
    kept: str
    rpm: float | None
    thick_mm: float
    square: bool
    rim_m_s: float | None
    ceilings: tuple[Ceiling, ...]
    below_rpm: tuple[float, ...]
    heed: tuple[Heed, ...]
    published: tuple[Published, ...]
    whirl_rpm: float | None
    slowest_rpm: float | None


@dataclass(frozen=True, slots=True)
class Speeds:
    """Every stage's speed, and what is to be said before a piece is mounted: what does not go on
    the lathe at all, and how thin beside the thickest place its neck will be, if that is weak."""

    kept: SpindleSet
    work: Work
    lathe: shops.Lathe
    stages: Mapping[Stage, StageSpeed]
    unfit: tuple[Misfit, ...]
    weak_neck: float | None


def speeds(shop: Shop, set_id: int) -> Speeds:
    """The speeds of a set. Raises `NotFound`."""
    kept = sets.found(shop, set_id)
    return of_work(shop, kept, work_of(shop, kept))


def of_work(shop: Shop, kept: SpindleSet, doing: Work, number: int | None = None) -> Speeds:
    """The same for work already read, or for one piece, which may be round already."""
    again = number is not None and wood_of.is_round(shop, kept.id, number)
    lathe = shops.lathe(shop)
    found: dict[Stage, StageSpeed] = {}
    whirl_rpm = whirling.whirl_rpm(doing.pattern, doing.steps, doing.bench)
    text = ""
    for step in doing.steps:
        if step.stage not in RUNNING or step.stage in found:
            continue
        text = doing.speeds.get(step.stage, text)
        remounted = again or kept.choices.habit == "stage"
        square = step.stage in SQUARE and not again
        whirl = whirl_rpm[step.stage]
        found[step.stage] = _stage(
            step.stage, text, doing, lathe, whirl_rpm=whirl, remounted=remounted, square=square
        )
    unfit = shops.unfit(lathe, doing.pattern, doing.stock_mm)
    if again:
        unfit = tuple(found for found in unfit if found != "too_square")
    weak_neck = in_use.weak_neck(doing.pattern)
    return Speeds(told_finely(kept, doing), doing, lathe, found, unfit, weak_neck)


def _stage(
    stage: Stage,
    text: str,
    doing: Work,
    lathe: shops.Lathe,
    *,
    whirl_rpm: float | None,
    remounted: bool,
    square: bool,
) -> StageSpeed:
    thick_mm = doing.stock_mm * (speed.CORNERS if square else 1.0)
    rpm = speed.kept_rpm(text)
    ceilings = speed.ceilings(
        thick_mm, finishing=stage not in SQUARE, whirl_rpm=whirl_rpm, lathe_rpm=lathe.fastest_rpm
    )
    return StageSpeed(
        stage=stage,
        kept=text,
        rpm=rpm,
        thick_mm=thick_mm,
        square=square,
        rim_m_s=None if rpm is None else speed.rim_speed_m_s(thick_mm, rpm),
        ceilings=ceilings,
        below_rpm=speed.below(lathe.steps_rpm, ceilings[0].rpm),
        heed=speed.to_heed(
            rpm,
            ceilings,
            slowest_rpm=lathe.slowest_rpm,
            square=square,
            remounted=remounted and not square,
        ),
        published=speed.published(thick_mm),
        whirl_rpm=whirl_rpm,
        slowest_rpm=lathe.slowest_rpm,
    )
