"""How well the shop's calipers and hands read: a test of two minutes, and what it said."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from benchside import units
from benchside.consistency import reading
from benchside.consistency.spread import Repeatability, repeatability, step_floor_mm
from benchside.errors import BenchsideError, NotUnderstood, OutOfRange
from benchside.lathe.sizes import surprising
from benchside.store import judging
from benchside.store.database import Shop
from benchside.store.judging import Repeat, RepeatTest
from benchside.units import Unit

STEP_MM = 0.1  # judgement: what an untested caliper is read to
PLACES, TURNS = 3, 3
MM_PER_INCH = float(units.MM_PER_INCH)
STEPS_MM: dict[str, tuple[Unit, float]] = {  # what calipers show, by the key of the choice
    "mm/100": ("mm", 0.01),
    "mm/50": ("mm", 0.02),
    "mm/20": ("mm", 0.05),
    "mm/10": ("mm", 0.1),
    "mm/2": ("mm", 0.5),
    "in/1000": ("in", MM_PER_INCH / 1000),
    "in/64": ("in/64", MM_PER_INCH / 64),
}
_DECIMALS = re.compile(r"\d*[.,](\d+)")
_FRACTION = re.compile(r"/|[¼-¾⅐-⅞]")
_INCHES = re.compile(r'in|["″”]', re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Error:
    """The standard deviation of one reading, and the step it is read to. [mm]

    ``degrees`` of freedom of the repeat test behind it; None: not tested, so it is the least that
    the step allows.
    """

    sd_mm: float
    step_mm: float
    degrees: int | None

    @property
    def tested(self) -> bool:
        return self.degrees is not None


@dataclass(frozen=True, slots=True)
class Trial:
    """A test as it stands: what was read, what is to be read next, and in the end what it says.

    ``read_mm`` has a row for each place, NaN where nothing was read yet; ``typed`` the same as
    text. ``next`` is a place and a turn, None when all is read; ``before`` the one read last.
    """

    kept: RepeatTest
    read_mm: tuple[tuple[float, ...], ...]
    typed: tuple[tuple[str, ...], ...]
    next: tuple[int, int] | None
    before: tuple[int, int] | None
    says: Repeatability | None

    @property
    def within_mm(self) -> float | None:
        """How far one reading lies from the truth at most, 19 times in 20."""
        return None if self.says is None else reading.give_or_take_mm(self.says.sd_mm)

    @property
    def done(self) -> int:
        """How many of the readings are there."""
        return sum(bool(text) for row in self.typed for text in row)


def error_mm(shop: Shop) -> Error:
    """What one reading errs by. Until it is tested, no less than its own step makes."""
    newest = newest_whole(shop)
    if newest is None or newest.says is None:
        return Error(step_floor_mm(STEP_MM), STEP_MM, None)
    return Error(newest.says.sd_mm, newest.kept.step_mm, newest.says.degrees)


def error_of(shop: Shop, typed: Iterable[tuple[str, Unit]]) -> Error:
    """The same for readings as typed: no less than the step they were read to makes."""
    found = error_mm(shop)
    steps = [step_typed_mm(text, unit) for text, unit in typed]
    step_mm = min(steps, default=found.step_mm)
    return Error(max(found.sd_mm, step_floor_mm(step_mm)), step_mm, found.degrees)


def step_typed_mm(text: str, unit: Unit) -> float:
    """The step that a length was read to, from how it was typed. [mm]

    >>> step_typed_mm("18.25", "mm"), step_typed_mm("18", "mm"), step_typed_mm("5/8", "in/64")
    (0.01, 1.0, 0.396875)
    """
    if _FRACTION.search(text):
        return units.step_mm(unit if unit in ("in/16", "in/64") else "in/64")
    decimals = _DECIMALS.search(text)
    if decimals is None and unit in ("in/16", "in/64"):
        return units.step_mm(unit)
    inches = _INCHES.search(text) or (unit != "mm" and "mm" not in text)
    places = len(decimals[1]) if decimals else 0
    return (MM_PER_INCH if inches else 1.0) * float(f"1e-{places}")


def newest_whole(shop: Shop) -> Trial | None:
    """The newest test that was read to its end."""
    for kept in judging.repeat_tests(shop):
        found = _as_it_stands(shop, kept)
        if found.says is not None:
            return found
    return None


def whole_trials(shop: Shop) -> tuple[Trial, ...]:
    """Every test that was read to its end, newest first."""
    every = (_as_it_stands(shop, kept) for kept in judging.repeat_tests(shop))
    return tuple(found for found in every if found.says is not None)


def begin(shop: Shop, step: str, *, at: str) -> int:
    """Begin a test with calipers that show such steps (a key of `STEPS_MM`); returns its id."""
    if step not in STEPS_MM:
        raise NotUnderstood("Choose what your calipers show.", field="step")
    unit, step_mm = STEPS_MM[step]
    with shop.transaction() as db:
        return judging.add_test(db, unit, step_mm, at=at)


def trial(shop: Shop, test_id: int) -> Trial:
    """One test. Raises `NotFound`."""
    return _as_it_stands(shop, judging.repeat_test(shop, test_id))


def take(
    shop: Shop, test_id: int, place: int, turn: int, typed: str, *, sure: bool, at: str
) -> Trial:
    """Keep one reading of a test. At a place and turn read before it takes the other's stead.

    Raises `NotUnderstood`, `OutOfRange`, and `BenchsideError` with the field ``sure`` for a figure
    far from what was read there before, unless it is meant.
    """
    found = trial(shop, test_id)
    if not (1 <= place <= PLACES and 1 <= turn <= TURNS):
        raise OutOfRange("The test has three places, read three times each.", field="value")
    value_mm = units.parse_length(typed, found.kept.unit)
    if value_mm <= 0:
        raise OutOfRange("A piece is thicker than nothing.", field="value")
    others = [v for i, v in enumerate(found.read_mm[place - 1], 1) if v == v and i != turn]
    if not sure and any(surprising(value_mm, other) for other in others):
        raise BenchsideError(
            f"{typed.strip()[:20]} is far from what you read at place {place} before.",
            field="sure",
            hint="Measure again. Or tick the box, if it is what the calipers say.",
        )
    with shop.transaction() as db:
        judging.add_repeat(db, test_id, Repeat(place, turn, typed.strip(), value_mm, at))
    return trial(shop, test_id)


def _as_it_stands(shop: Shop, kept: RepeatTest) -> Trial:
    read = np.full((PLACES, TURNS), np.nan)
    typed = [[""] * TURNS for _ in range(PLACES)]
    for repeat in judging.every_repeat(shop, kept.id):
        if repeat.place <= PLACES and repeat.turn <= TURNS:
            read[repeat.place - 1, repeat.turn - 1] = repeat.value_mm
            typed[repeat.place - 1][repeat.turn - 1] = repeat.typed
    # All places once, then all again: the hand comes back to each afresh.
    way = [(place, turn) for turn in range(1, TURNS + 1) for place in range(1, PLACES + 1)]
    to_read = [at for at in way if not typed[at[0] - 1][at[1] - 1]]
    read_already = [at for at in way if at not in to_read]
    return Trial(
        kept=kept,
        read_mm=tuple(tuple(row) for row in read.tolist()),
        typed=tuple(tuple(row) for row in typed),
        next=to_read[0] if to_read else None,
        before=read_already[-1] if read_already else None,
        says=None if to_read else repeatability(read, kept.step_mm),
    )
