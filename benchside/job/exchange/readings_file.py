"""Readings of one set that come as a table: from paper, another program, or an export's own table.

Every row goes the way of a tapped reading (`job.turning.take`), first on a copy of the data, so
that all that cannot be taken is told before anything is kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from hashlib import sha256

from benchside.errors import BenchsideError, NotFound, NotUnderstood
from benchside.job import turning
from benchside.job.exchange.csv_rows import original, read_rows
from benchside.job.exchange.taking_in import Fault
from benchside.job.work import work_on
from benchside.pattern import Place
from benchside.store import sets
from benchside.store.backup import on_a_copy
from benchside.store.database import Shop

MOST_ROWS = 20_000  # judgement: four hundred pieces read at fifty places
# What a column may be called; the first is what an export calls it.
_COLUMNS: Mapping[str, tuple[str, ...]] = {
    "spindle": ("spindle", "piece"),
    "station_id": ("station_id", "station", "place"),
    "typed": ("typed", "value", "size"),
    "value_mm": ("value_mm",),
    "value_in": ("value_in",),
    "unit": ("unit",),
    "kind": ("kind",),
    "axis": ("axis",),
    "phase": ("phase",),
    "taken_at": ("taken_at",),
    "note": ("note",),
    "key": ("key",),
    "supersedes": ("supersedes",),
}
_WORDS = {
    "spindle": "piece",
    "station_id": "station",
    "typed": "size",
    "value_mm": "size in mm",
    "value_in": "size in inches",
    "taken_at": "time",
    "supersedes": "what it corrects",
}
_SIZES = ("typed", "value_mm", "value_in")


@dataclass(frozen=True, slots=True)
class Candidate:
    """One row that can be taken: its line in the file, the piece, the reading."""

    line: int
    spindle: int
    taken: turning.Taken


@dataclass(frozen=True, slots=True)
class Tried:
    """What came of every row: those that can be taken, those that cannot, those to be asked about,
    and the columns nothing is known of."""

    good: tuple[Candidate, ...]
    faults: tuple[Fault, ...]
    asked: tuple[tuple[Candidate, Fault], ...]
    unknown: tuple[str, ...]


def try_out(shop: Shop, set_id: int, text: str, *, now: str) -> Tried:
    """Look every row through without keeping any.

    Raises `NotFound` for no such set and `NotUnderstood` for what is no table of readings.
    """
    found = sets.found(shop, set_id)
    columns, rows = read_rows(text)
    here = {ours: _which(columns, names) for ours, names in _COLUMNS.items()}
    _enough(here, len(rows))
    called = {ours: columns[at] for ours, at in here.items() if at is not None}
    good: list[Candidate] = []
    asked: list[tuple[Candidate, Fault]] = []
    faults: list[Fault] = []
    with on_a_copy(shop) as copy:
        places = work_on(copy, found.pattern_id, found.revision).places
        for line, cells in rows:
            if not any(cells):
                continue
            try:
                candidate = _candidate(line, cells, here, places, found)
                _take(copy, set_id, candidate, now=now)
            except turning.Surprising as question:
                asked.append((candidate, _fault(line, question, called)))
            except BenchsideError as trouble:
                faults.append(_fault(line, trouble, called))
            else:
                good.append(candidate)
    known = {index for index in here.values() if index is not None}
    unknown = tuple(name for i, name in enumerate(columns) if i not in known)
    return Tried(tuple(good), tuple(faults), tuple(asked), unknown)


def take(shop: Shop, set_id: int, tried: Tried, *, asked_too: bool, now: str) -> int:
    """Keep what can be taken, and if so said what was asked about. How many rows it was.

    A row has the key in it or one made of what it says, so that the same file twice is kept once.
    """
    meant = tuple(candidate for candidate, _ in tried.asked) if asked_too else ()
    for candidate in sorted((*tried.good, *meant), key=lambda c: c.line):
        sure = replace(candidate, taken=replace(candidate.taken, sure=True))
        _take(shop, set_id, sure, now=now)
    return len(tried.good) + len(meant)


def _take(shop: Shop, set_id: int, candidate: Candidate, *, now: str) -> None:
    turning.take(shop, set_id, candidate.spindle, candidate.taken, device_id=None, received_at=now)


def _candidate(
    line: int,
    cells: list[str],
    here: Mapping[str, int | None],
    places: Mapping[str, Place],
    found: sets.SpindleSet,
) -> Candidate:
    def cell(name: str) -> str:
        at = here[name]
        return original(cells[at]).strip() if at is not None and at < len(cells) else ""

    number = cell("spindle")
    if not number.isdecimal():
        raise NotUnderstood(f"“{number[:20]}” is no piece's number.", field="spindle")
    typed, unit = _typed(cell("typed"), cell("value_mm"), cell("value_in"))
    place = _place(cell("station_id"), places)
    taken = turning.Taken(
        key="",
        station_id=place.id,
        typed=typed,
        unit=cell("unit") or unit or found.unit,
        kind=cell("kind") or "diameter",
        axis=cell("axis") or "none",
        phase=cell("phase") or "final",
        taken_at=cell("taken_at"),
        supersedes=cell("supersedes"),
        note=cell("note"),
    )
    key = cell("key") or sha256(f"{found.id} {number} {taken} {line}".encode()).hexdigest()[:32]
    return Candidate(line, int(number), replace(taken, key=key))


def _typed(typed: str, mm: str, inches: str) -> tuple[str, str]:
    """What is said to have been read, and the unit a column's name gives it."""
    if typed:
        return typed, ""
    if mm:
        return mm, "mm"
    if inches:
        return inches, "in"
    raise NotUnderstood("There is no size in this row.", field="value_mm")


def _place(called: str, places: Mapping[str, Place]) -> Place:
    if called in places:
        return places[called]
    named = [p for p in places.values() if p.role == "station" and p.name]
    found = [p for p in named if p.name.casefold() == called.casefold()]
    if len(found) == 1:
        return found[0]
    if found:
        raise NotUnderstood(
            f"Two stations are called “{called}”.",
            field="station_id",
            hint=f"Say which by its id: {', '.join(p.id for p in found)}.",
        )
    raise NotFound(
        f"The pattern has no station “{called[:40]}”.",
        field="station_id",
        hint=f"It has: {', '.join(p.name for p in named)}.",
    )


def _which(columns: list[str], names: tuple[str, ...]) -> int | None:
    lowered = [column.lower() for column in columns]
    return next((lowered.index(name) for name in names if name in lowered), None)


def _enough(here: Mapping[str, int | None], rows: int) -> None:
    wanted = {"spindle": ["spindle"], "station": ["station_id"], "value_mm": list(_SIZES)}
    missing = [name for name, any_of in wanted.items() if all(here[n] is None for n in any_of)]
    if missing:
        raise NotUnderstood(
            f"The table has no column {' and none called '.join(missing)}.",
            field="file",
            hint="The first line names the columns: spindle or piece, station, and value_mm,"
            " value_in, or value with unit.",
        )
    if rows > MOST_ROWS:
        raise NotUnderstood(f"A table of readings has at most {MOST_ROWS} rows.", field="file")


def _fault(line: int, trouble: BenchsideError, called: Mapping[str, str]) -> Fault:
    """The row, and which of its cells, in words where the table has a name of the code's."""
    name = called.get(trouble.field)
    cell = f", {_WORDS.get(name, name)}" if name else ""
    return Fault(f"row {line}{cell}", trouble.message, trouble.hint)
