"""How long the pieces took, how that falls with practice, and how long the rest will take."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import nan
from statistics import median

from benchside.consistency import pace
from benchside.consistency.pace import Ahead, Practice
from benchside.job import sets
from benchside.job.sets import Standing
from benchside.job.work import Work, work_on
from benchside.lathe.steps import Stage
from benchside.store import review as rows
from benchside.store.database import Shop

LEAST_MINUTES = 0.05  # judgement: a stage that took less is not told
SLOW = 2.0  # judgement: a piece that took more than twice the usual is named


@dataclass(frozen=True, slots=True)
class Forecast:
    """The pieces done so far in the order they were finished, and what follows from them.

    ``minutes`` are None for a piece whose time was not taken. ``practice`` and ``ahead`` are None
    while there is no time to go by. [minutes]
    """

    numbers: tuple[int, ...]
    minutes: tuple[float | None, ...]
    to_make: int
    practice: Practice | None
    ahead: Ahead | None

    @property
    def usual(self) -> float | None:
        """The median time of a piece; None while none was timed. [minutes]"""
        told = [minutes for minutes in self.minutes if minutes is not None]
        return median(told) if told else None

    @property
    def slow(self) -> tuple[int, float] | None:
        """The piece that took longest and its time, where that is far over the usual. [minutes]"""
        told = [(m, n) for n, m in zip(self.numbers, self.minutes, strict=True) if m is not None]
        longest, number = max(told, default=(0.0, 0))
        return (number, longest) if longest > SLOW * (self.usual or longest) else None


@dataclass(frozen=True, slots=True)
class Timing:
    """A forecast, and what each stage takes on a piece, on average over the pieces done."""

    standing: Standing
    forecast: Forecast
    stages: tuple[tuple[Stage, float], ...]


def timing(shop: Shop, set_id: int) -> Timing:
    """The times of one set. Raises `NotFound`."""
    standing = sets.standing(shop, set_id)
    doing = work_on(shop, standing.kept.pattern_id, standing.kept.revision)
    stage_of = _stages(doing)
    taps: dict[tuple[int, Stage], list[float]] = {}
    stage: Stage = "mount"
    for moment_s, number, step_id, *read in rows.timed(shop, set_id):
        stage = stage_of.get(step_id or tuple(read), stage)
        taps.setdefault((number, stage), []).append(moment_s)
    worked = pace.minutes_by(taps)
    each: dict[int, float] = {}
    for (number, _), minutes in worked.items():
        each[number] = each.get(number, 0.0) + minutes
    found = forecast(standing, each)
    done = [number for number in found.numbers if each.get(number)]
    stages = [
        (stage, sum(worked.get((number, stage), 0.0) for number in done) / len(done))
        for stage in dict.fromkeys(step.stage for step in doing.steps)
        if done
    ]
    return Timing(
        standing,
        found,
        tuple((stage, minutes) for stage, minutes in stages if minutes >= LEAST_MINUTES),
    )


def forecast(standing: Standing, each: Mapping[int, float]) -> Forecast:
    """What the times of the pieces done say of those to come.

    Practice pieces and spoiled ones have taught the hand too, so they count as made.
    """
    done = sorted((p for p in standing.pieces if p.done), key=lambda p: p.last_at or "")
    minutes = [each.get(piece.number) or None for piece in done]
    to_make = max(0, standing.kept.choices.wanted - standing.done)
    practice = None
    if any(minutes):
        practice = pace.practice([nan if m is None else m for m in minutes])
    made = len(done)
    return Forecast(
        numbers=tuple(piece.number for piece in done),
        minutes=tuple(minutes),
        to_make=to_make,
        practice=practice,
        ahead=None if practice is None else pace.ahead(practice, made, made + to_make),
    )


def _stages(doing: Work) -> dict[str | tuple[str, ...], Stage]:
    """The stage of each step, by its id and by what is read at it."""
    found: dict[str | tuple[str, ...], Stage] = {}
    for step in doing.steps:
        found[step.id] = step.stage
        if step.place_id and step.reads:
            found.setdefault((step.place_id, step.reads, step.phase), step.stage)
    return found
