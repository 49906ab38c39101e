"""A part to match: originals measured, the pattern they give, how near the new part comes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from benchside import units
from benchside.consistency import original as core
from benchside.consistency.original import Matched, Nearness
from benchside.consistency.reading import differ
from benchside.consistency.spread import step_floor_mm
from benchside.errors import (
    BenchsideError,
    NotFound,
    OutOfRange,
    PatternBroken,
    Problem,
    Refused,
)
from benchside.job import drafts, judged, measuring
from benchside.job.keys import cell_key, keyed
from benchside.job.measuring import Error
from benchside.job.original_table import Row, Told, read, with_unit
from benchside.job.shop import lathe
from benchside.job.work import tolerance_mm
from benchside.lathe.sizes import surprising
from benchside.pattern import Kind, Pattern, Section, Station
from benchside.store import originals as store
from benchside.store import patterns
from benchside.store import sets as kept_sets
from benchside.store.database import Shop
from benchside.store.originals import Original, OriginalReading, OriginalStation
from benchside.store.sets import SpindleSet
from benchside.units import Unit

Role = Literal["station", "crown", "root"]
Axis = Literal["A", "B"]
AXES: tuple[Axis, ...] = ("A", "B")
PLACES = 6  # decimals of a millimetre: a 64th of an inch is exact to the sixth


@dataclass(frozen=True, slots=True)
class Spot:
    """One place to measure. Where a crown or root lies follows from its circle: ``at_mm`` None."""

    id: str
    role: Role
    name: str
    at_mm: float | None
    kind: Kind


@dataclass(frozen=True, slots=True)
class Line:
    """What is known of one place. ``one_way``: read in one direction only, so an oval would hide.

    ``oval``: its two ways differ by more than reading them explains; ``apart``: the originals do.
    """

    spot: Spot
    size: Matched | None
    oval: bool
    apart: bool
    one_way: bool


@dataclass(frozen=True, slots=True)
class Came:
    """How near one new piece came to the original, by place. [mm]"""

    kept: SpindleSet
    number: int
    lines: tuple[tuple[Spot, float, Nearness], ...]

    def count(self, near: str) -> int:
        """At how many places it came so near."""
        return sum(nearness.near == near for _, _, nearness in self.lines)


@dataclass(frozen=True, slots=True)
class Seen:
    """An original with all that was read of it.

    ``pattern`` is what it gives, as soon as every station was read; ``problems`` stand in the way.
    ``made`` is the pattern kept from it, and ``behind`` whether its newest revision differs from
    what the readings give now.
    """

    kept: Original
    stations: tuple[OriginalStation, ...]
    lines: tuple[Line, ...]
    readings: tuple[OriginalReading, ...]
    error: Error
    pattern: Pattern | None
    problems: tuple[Problem, ...]
    made: patterns.PatternRecord | None
    behind: bool
    came: tuple[Came, ...]

    @property
    def counted(self) -> tuple[OriginalReading, ...]:
        """The readings that count."""
        return tuple(r for r in self.readings if r.struck_at is None)

    @property
    def unread(self) -> tuple[Spot, ...]:
        """The places that were not read yet."""
        return tuple(line.spot for line in self.lines if line.size is None)


class CellsWrong(BenchsideError):
    """Some figures of a page of readings cannot be taken; nothing of the page was."""

    def __init__(self, problems: Mapping[tuple[str, str], BenchsideError]) -> None:
        count = len(problems)
        super().__init__(
            f"{'One figure' if count == 1 else f'{count} figures'} to look at; none is kept yet."
        )
        self.problems = problems


# ------------------------------------------------------------------ the table of stations


def begin(shop: Shop, told: Told, *, at: str) -> int:
    """Keep a new original; returns its id. Raises `PatternBroken` with everything that is wrong."""
    original, stations = read(told, (), 1, at)
    with shop.transaction() as db:
        original_id = store.add(db, original)
        store.keep_stations(db, original_id, stations)
    return original_id


def change(shop: Shop, original_id: int, told: Told) -> None:
    """Keep what it is and its stations anew. What was read stays with its places."""
    with shop.transaction() as db:
        kept = store.found(shop, original_id)
        following = kept.next_station
        if kept.pattern_id is not None:
            following = max(following, patterns.found(shop, kept.pattern_id).next_station)
        known = store.stations(shop, original_id)
        new, stations = read(told, [s.id for s in known], following, kept.made_at)
        most = max((r.piece for r in store.every_reading(shop, original_id)), default=0)
        if new.pieces < most:
            raise PatternBroken((Problem(0, "pieces", f"Piece {most} has been read already."),))
        store.change(
            db,
            original_id,
            name=new.name,
            note=new.note,
            unit=new.unit,
            datum_end=new.datum_end,
            pieces=new.pieces,
            next_station=new.next_station,
        )
        store.keep_stations(db, original_id, stations)


def as_told(shop: Shop, original_id: int) -> Told:
    """An original as it would be typed."""
    kept = store.found(shop, original_id)
    rows = (
        Row(s.id, with_unit(s.at_mm, kept.unit), s.name, s.kind, s.form)
        for s in store.stations(shop, original_id)
    )
    return Told(kept.name, kept.note, kept.unit, kept.datum_end, str(kept.pieces), tuple(rows))


def told_of_pattern(shop: Shop, pattern_id: int, unit: drafts.TypingUnit = "mm") -> Told:
    """The stations of a pattern, as a beginning for an original."""
    record = patterns.found(shop, pattern_id)
    pattern = record.pattern
    forms = [section.form for section in pattern.sections] + ["straight"]
    rows = (
        Row("", drafts.shown(s.at_mm, unit), s.name, s.kind, form)
        for s, form in zip(pattern.stations, forms, strict=True)
    )
    return Told(record.name, "", unit, pattern.datum_end, "1", tuple(rows))


# ------------------------------------------------------------------ what was read


def listed(shop: Shop) -> tuple[tuple[Original, int], ...]:
    """Every original, newest first, with how many readings of it count."""
    return tuple(
        (kept, sum(r.struck_at is None for r in store.every_reading(shop, kept.id)))
        for kept in store.listed(shop)
    )


def seen(shop: Shop, original_id: int) -> Seen:
    """One original with what it gives. Raises `NotFound`."""
    kept = store.found(shop, original_id)
    stations = tuple(store.stations(shop, original_id))
    readings = tuple(store.every_reading(shop, original_id))
    counted = [r for r in readings if r.struck_at is None]
    error = measuring.error_of(shop, ((r.typed, r.unit) for r in counted))
    spots = _spots(stations)
    lines = _lines(kept, spots, counted, error.sd_mm)
    pattern, problems = _pattern(shop, kept, stations, lines)
    made = None if kept.pattern_id is None else patterns.found(shop, kept.pattern_id)
    return Seen(
        kept=kept,
        stations=stations,
        lines=lines,
        readings=readings,
        error=error,
        pattern=pattern,
        problems=problems,
        made=made,
        behind=made is not None and pattern is not None and not _same(made.pattern, pattern),
        came=_came(shop, kept, lines),
    )


def take(
    shop: Shop,
    original_id: int,
    piece: int,
    cells: Mapping[tuple[str, str], str],
    *,
    key: str,
    sure: bool,
    at: str,
) -> int:
    """Keep every figure typed on a page of readings, all or none; returns how many there were.

    ``cells`` are texts by place and axis, empty ones are left out. The same ``key`` twice is one
    page. Raises `CellsWrong`, also for a figure far from the others there unless it is meant.
    """
    keyed(key)
    kept = store.found(shop, original_id)
    if not 1 <= piece <= kept.pieces:
        raise NotFound(f"{kept.name} has no piece {piece}.")
    spots = {spot.id for spot in _spots(store.stations(shop, original_id))}
    there = [r for r in store.every_reading(shop, original_id) if r.struck_at is None]
    new: list[OriginalReading] = []
    problems: dict[tuple[str, str], BenchsideError] = {}
    for (place_id, axis), text in cells.items():
        if not text.strip() or place_id not in spots or axis not in AXES:
            continue
        try:
            value_mm = _size(text, kept.unit)
            others = [r.value_mm for r in (*there, *new) if r.place_id == place_id]
            if not sure:
                _ask(text, value_mm, others)
        except BenchsideError as problem:
            problems[place_id, axis] = problem
            continue
        new.append(
            OriginalReading(
                key=cell_key(key, piece, place_id, axis),
                piece=piece,
                place_id=place_id,
                axis="B" if axis == "B" else "A",
                typed=text.strip(),
                unit=kept.unit,
                value_mm=value_mm,
                taken_at=at,
            )
        )
    if problems:
        raise CellsWrong(problems)
    with shop.transaction() as db:
        for reading in new:
            store.add_reading(db, original_id, reading)
    return len(new)


def strike(shop: Shop, original_id: int, key: str, at: str | None) -> None:
    """Strike one reading out, or with None let it count again. Raises `NotFound`."""
    if key not in {r.key for r in store.every_reading(shop, original_id)}:
        raise NotFound("There is no such reading.")
    with shop.transaction() as db:
        store.strike(db, original_id, key, at)


def make_pattern(shop: Shop, original_id: int, *, at: str) -> int:
    """Keep what the readings give as a pattern, or as its newest revision; returns its id.

    Raises `PatternBroken` with what is in the way.
    """
    with shop.transaction() as db:
        found = seen(shop, original_id)
        if found.pattern is None:
            raise PatternBroken(found.problems)
        following = found.kept.next_station
        if found.made is None:
            pattern_id = patterns.add(db, found.pattern, note=found.kept.note, at=at)
            store.change(db, original_id, pattern_id=pattern_id)
            patterns.change(db, pattern_id, next_station=following)
            return pattern_id
        if found.behind:
            following = max(following, found.made.next_station)
            patterns.add_revision(db, found.made.id, found.pattern, at=at, reason="measured again")
            patterns.change(db, found.made.id, next_station=following)
        return found.made.id


# ------------------------------------------------------------------ sizes and the pattern


def _spots(stations: tuple[OriginalStation, ...] | list[OriginalStation]) -> tuple[Spot, ...]:
    """What there is to measure: every station, each bead's crown, each cove's root."""
    spots = []
    for i, s in enumerate(stations):
        spots.append(Spot(s.id, "station", s.name, s.at_mm, s.kind))
        if i + 1 < len(stations) and s.form in ("bead", "cove"):
            role: Role = "crown" if s.form == "bead" else "root"
            spots.append(Spot(f"{role}:{s.id}", role, s.name, None, s.kind))
    return tuple(spots)


def _lines(
    kept: Original, spots: tuple[Spot, ...], counted: list[OriginalReading], error_mm: float
) -> tuple[Line, ...]:
    by_cell: dict[tuple[int, str, str], list[float]] = {}
    for r in counted:
        by_cell.setdefault((r.piece, r.place_id, r.axis), []).append(r.value_mm)
    most = max((len(values) for values in by_cell.values()), default=1)
    table = np.full((kept.pieces, len(spots), 2 * most), np.nan)
    row_of = {spot.id: i for i, spot in enumerate(spots)}
    for (piece, place_id, axis), values in by_cell.items():
        if place_id in row_of and piece <= kept.pieces:
            begins = AXES.index("B" if axis == "B" else "A") * most
            table[piece - 1, row_of[place_id], begins : begins + len(values)] = values
    sizes = core.matched(table, error_mm, axes=(0,) * most + (1,) * most)
    return tuple(_line(spot, size, error_mm) for spot, size in zip(spots, sizes, strict=True))


def _line(spot: Spot, size: Matched | None, error_mm: float) -> Line:
    if size is None:
        return Line(spot, None, oval=False, apart=False, one_way=False)
    return Line(
        spot,
        size,
        oval=size.oval_mm is not None and differ(size.oval_mm, 2, error_mm),
        apart=size.originals > 1 and differ(size.range_mm, size.originals, error_mm),
        one_way=size.oval_mm is None,
    )


def _pattern(
    shop: Shop, kept: Original, stations: tuple[OriginalStation, ...], lines: tuple[Line, ...]
) -> tuple[Pattern | None, tuple[Problem, ...]]:
    """The pattern the readings give, held to the same rules as one that is typed."""
    sizes = {line.spot.id: line.size.size_mm for line in lines if line.size is not None}
    unread = tuple(
        Problem(i, "diameter", f"{s.name} has not been read yet.")
        for i, s in enumerate(stations, 1)
        if s.id not in sizes
    )
    if unread:
        return None, unread
    try:
        pattern = Pattern(
            kept.name,
            tuple(
                Station(s.id, s.at_mm, round(sizes[s.id], PLACES), s.name, s.kind) for s in stations
            ),
            tuple(_section(s, after, sizes) for s, after in pairwise(stations)),
            kept.datum_end,
        )
    except PatternBroken as broken:
        return None, broken.problems
    draft = drafts.draft_of(pattern, "mm")
    return pattern, drafts.judge(draft, base=pattern, lathe=lathe(shop)).problems


def _section(here: OriginalStation, after: OriginalStation, sizes: Mapping[str, float]) -> Section:
    """A crown not read is the thicker end, a root not read the thinner."""
    if here.form == "bead":
        through = sizes.get(f"crown:{here.id}", max(sizes[here.id], sizes[after.id]))
    elif here.form == "cove":
        through = sizes.get(f"root:{here.id}", min(sizes[here.id], sizes[after.id]))
    else:
        return Section(here.form)
    return Section(here.form, round(through, PLACES))


def _same(one: Pattern, other: Pattern) -> bool:
    return replace(one, name="") == replace(other, name="")


# ------------------------------------------------------------------ how near the new ones came


def _came(shop: Shop, kept: Original, lines: tuple[Line, ...]) -> tuple[Came, ...]:
    """Every piece of every set turned to it that was read, the newest set first."""
    if kept.pattern_id is None:
        return ()
    found = []
    every = [*kept_sets.listed(shop), *kept_sets.listed(shop, archived=True)]
    for kept_set in every:
        if kept_set.pattern_id == kept.pattern_id:
            found += _came_of(shop, kept_set, lines)
    return tuple(found)


def _came_of(shop: Shop, kept: SpindleSet, lines: tuple[Line, ...]) -> list[Came]:
    found = judged.judge(shop, kept.id)
    doing, table = found.doing, found.table
    columns = {place.id: i for i, (place, kind) in enumerate(table.keys) if kind == "diameter"}
    here = [line for line in lines if line.spot.id in doing.places]
    limits = [tolerance_mm(kept, doing.places[line.spot.id], "diameter") for line in here]
    error = max(measuring.error_mm(shop).sd_mm, step_floor_mm(units.step_mm(kept.unit)))
    came = []
    for row, number in enumerate(table.numbers):
        new = np.array(
            [
                doing.finished_places[line.spot.id].diameter_mm
                + table.off_mm[row, columns[line.spot.id]]
                if line.spot.id in columns
                else np.nan
                for line in here
            ]
        )
        near = core.nearness(new, tuple(line.size for line in here), limits, error)
        told = zip((line.spot for line in here), new.tolist(), near, strict=True)
        came.append(Came(kept, number, tuple(told)))
    return came


# ------------------------------------------------------------------ one figure


def _size(text: str, unit: Unit) -> float:
    value_mm = units.parse_length(text, unit)
    if value_mm <= 0:
        raise OutOfRange("A part is thicker than nothing.")
    return value_mm


def _ask(text: str, value_mm: float, others: list[float]) -> None:
    if others and surprising(value_mm, sorted(others)[len(others) // 2]):
        raise Refused(
            f"{text.strip()[:20]} is far from what was read here before.",
            hint="Measure again, or say below that it is meant.",
        )
