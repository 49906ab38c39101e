"""The shop's test holes: the bit, the wood, the hole as it really is, and how worn it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import get_args

from benchside import units
from benchside.errors import OutOfRange, Refused
from benchside.job import wood_of
from benchside.job.forms import Asked, named, short
from benchside.job.keys import cell_key, keyed
from benchside.joint.hole import TIRED, Bore, bore, strange
from benchside.store import fitting
from benchside.store.database import Shop
from benchside.store.fitting import Axis, HoleReading, TestHole
from benchside.units import Unit

LARGEST_MM = 200.0  # judgement: no bit of a hand's size is wider
DEEPEST_MM = 1000.0  # judgement
AXES: tuple[Axis, ...] = ("A", "B")


@dataclass(frozen=True, slots=True)
class Hole:
    """A test hole with what was read of it. ``over_mm``: by how much it is over the bit's name."""

    kept: TestHole
    readings: tuple[HoleReading, ...]
    size: Bore | None

    @property
    def over_mm(self) -> float | None:
        """The difference of both as they are shown, so that a person reckons the same."""
        if self.size is None:
            return None
        size_mm, named_mm = (
            units.parse_length(units.format_length(mm, self.kept.unit, fine=True), self.kept.unit)
            for mm in (self.size.size_mm, self.kept.named_mm)
        )
        return size_mm - named_mm

    @property
    def tired(self) -> bool:
        """Whether it is no measure for the last cut any more."""
        return self.kept.worn_at is not None or self.kept.uses >= TIRED


@dataclass(frozen=True, slots=True)
class Told:
    """A new test hole as typed."""

    bit: str = ""
    named: str = ""
    species: str = ""
    depth: str = ""
    unit: str = "mm"
    note: str = ""


def listed(shop: Shop) -> tuple[Hole, ...]:
    """Every test hole, the fresh ones first, then the newest."""
    every = (_hole(shop, kept) for kept in fitting.test_holes(shop))
    return tuple(sorted(every, key=lambda hole: hole.tired))


def seen(shop: Shop, key: str) -> Hole:
    """One test hole. Raises `NotFound`."""
    return _hole(shop, fitting.test_hole(shop, key))


def add(shop: Shop, told: Told, *, key: str, at: str) -> Hole:
    """Keep a new test hole. The same key twice is one. Raises `Wrong` with all that is."""
    keyed(key)
    unit = unit_of(told.unit)
    asked = Asked()
    which = ("Which bit was it?", "How it cuts will do: spade, lip and spur.")
    bit = asked.read("bit", "", named, told.bit, *which)
    named_mm = asked.read("named", 1.0, width_mm, told.named, unit)
    wood = asked.read("species", "", wood_named, shop, told.species) if told.species.strip() else ""
    deep = told.depth.strip()
    depth_mm = asked.read("depth", None, depth_of, deep, unit) if deep else None
    note = asked.read("note", "", short, told.note)
    asked.settle()
    kept = TestHole(key, bit, named_mm, wood, depth_mm, unit, note, 0, at, None, told.named.strip())
    with shop.transaction() as db:
        fitting.add_test_hole(db, kept)
    return seen(shop, key)


def read(
    shop: Shop, hole_key: str, typed: Mapping[Axis, str], *, key: str, sure: bool, at: str
) -> Hole:
    """Keep what was read of a hole, one way and a quarter turn on, all or none.

    Raises `Wrong`, also for a figure far from the bit's name unless it is meant.
    """
    hole = fitting.test_hole(shop, hole_key)
    named_mm = None if sure else hole.named_mm
    found = readings_of(typed, hole.unit, hole=0, key=key, named_mm=named_mm, at=at)
    with shop.transaction() as db:
        for reading in found:
            fitting.add_test_hole_reading(db, hole_key, reading)
    return seen(shop, hole_key)


def readings_of(
    typed: Mapping[Axis, str], unit: Unit, *, hole: int, key: str, named_mm: float | None, at: str
) -> list[HoleReading]:
    """The readings of one hole from a form; with ``named_mm`` what is far from it is asked about.

    Raises `Wrong` by axis.
    """
    keyed(key)
    asked = Asked()
    found = []
    for axis in AXES:
        text = typed.get(axis, "").strip()
        value_mm = asked.read(axis, None, _size, text, unit, named_mm) if text else None
        if value_mm is not None:
            cell = cell_key(key, hole, axis)
            found.append(HoleReading(cell, hole, axis, text, unit, value_mm, at))
    if not found:
        asked.read("A", "", named, "", "Nothing was typed.", "One way across at least.")
    asked.settle()
    return found


def strike(shop: Shop, hole_key: str, key: str, at: str | None) -> None:
    """Strike a reading out, or with None let it count again. Raises `NotFound`."""
    with shop.transaction() as db:
        fitting.strike_test_hole_reading(db, hole_key, key, at)


def used(shop: Shop, hole_key: str, seen_uses: int) -> None:
    """One tenon more was tried in it. ``seen_uses`` is the count the maker saw, so that a tap sent
    twice counts once."""
    hole = fitting.test_hole(shop, hole_key)
    with shop.transaction() as db:
        fitting.change_test_hole(db, hole_key, uses=max(hole.uses, seen_uses + 1))


def wear(shop: Shop, hole_key: str, at: str | None) -> None:
    """Mark a hole as worn, or with None as fit for the last cut again."""
    fitting.test_hole(shop, hole_key)
    with shop.transaction() as db:
        fitting.change_test_hole(db, hole_key, worn_at=at)


def size_of(readings: Sequence[HoleReading]) -> Bore | None:
    """The size from the readings that count."""
    counted = [r for r in readings if r.struck_at is None]
    return bore(*([r.value_mm for r in counted if r.axis == axis] for axis in AXES))


def wood_named(shop: Shop, text: str) -> str:
    """The common name of a species as typed. Raises `NotUnderstood` with the nearest names."""
    return wood_of.species(text, shop).common_name


def unit_of(text: str) -> Unit:
    """A unit by its name, millimetres for anything else."""
    return next((unit for unit in get_args(Unit) if unit == text), "mm")


def width_mm(text: str, unit: Unit) -> float:
    """The width of a hole as typed. [mm]"""
    value_mm = units.parse_length(text, unit)
    if not 0 < value_mm <= LARGEST_MM:
        raise OutOfRange(
            "No hole for a tenon is so wide." if value_mm else "A hole is wider than nothing.",
            hint=f"Up to {units.most_told(LARGEST_MM, unit)}.",
        )
    return value_mm


def depth_of(text: str, unit: Unit) -> float:
    """The depth of a hole as typed. [mm]"""
    value_mm = units.parse_length(text, unit)
    if not 0 < value_mm <= DEEPEST_MM:
        raise OutOfRange(
            "So deep no hole is bored.", hint=f"Up to {units.most_told(DEEPEST_MM, unit)}."
        )
    return value_mm


def _size(text: str, unit: Unit, named_mm: float | None) -> float:
    value_mm = width_mm(text, unit)
    if named_mm is not None and strange(value_mm, named_mm):
        should = f"{units.format_length(named_mm, unit)} {units.unit_sign(unit)}"
        raise Refused(
            f"{text[:20]} is far from the {should} it should be.",
            hint="Measure again, or say below that it is meant.",
        )
    return value_mm


def _hole(shop: Shop, kept: TestHole) -> Hole:
    readings = tuple(fitting.test_hole_readings(shop, kept.key))
    return Hole(kept, readings, size_of(readings))
