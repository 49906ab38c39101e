"""The table of an original's stations while it is being typed."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from itertools import pairwise

from benchside import units
from benchside.errors import BenchsideError, NotUnderstood, PatternBroken, Problem
from benchside.job import forms
from benchside.job.forms import LONGEST_NOTE
from benchside.pattern import Form, Kind
from benchside.pattern.stations import FORMS, KINDS
from benchside.store.originals import Original, OriginalStation
from benchside.units import UNITS, Unit

MOST_PIECES = 20  # judgement: a stair has more balusters, but nobody measures them all
SAME_MM = 1e-6


@dataclass(frozen=True, slots=True)
class Row:
    """One station as typed."""

    id: str = ""
    at: str = ""
    name: str = ""
    kind: str = "decorative"
    form: str = "taper"


@dataclass(frozen=True, slots=True)
class Told:
    """An original as typed: what it is, and the table of its stations."""

    name: str = ""
    note: str = ""
    unit: str = "mm"
    datum_end: str = "tail"
    pieces: str = "1"
    rows: tuple[Row, ...] = ()


def read(
    told: Told, known: Collection[str], following: int, made_at: str
) -> tuple[Original, list[OriginalStation]]:
    """What a form says. Raises `PatternBroken` with everything that is wrong with it."""
    problems: list[Problem] = []
    unit: Unit = next((u for u in UNITS if u == told.unit), "mm")
    name = forms.plain(told.name)
    if not name or len(name) > forms.LONGEST_NAME:
        message = "It needs a name." if not name else "That name is too long."
        problems.append(Problem(0, "name", message, "Whose it is, or where it stood."))
    if len(told.note) > LONGEST_NOTE:
        problems.append(Problem(0, "note", f"A note has room for {LONGEST_NOTE} characters."))
    pieces = int(told.pieces) if told.pieces.strip().isdecimal() and len(told.pieces) < 6 else 0
    if not 1 <= pieces <= MOST_PIECES:
        problems.append(Problem(0, "pieces", f"It can be 1 to {MOST_PIECES} pieces."))
    stations: list[tuple[int, OriginalStation]] = []
    for number, row in enumerate(told.rows, 1):
        if not (row.at.strip() or row.name.strip()):
            continue
        station = _station(row, number, unit, problems)
        if station is None:
            continue
        if station.id not in known or station.id in {s.id for _, s in stations}:
            station = replace(station, id=f"s{following}")
            following += 1
        stations.append((number, station))
    stations.sort(key=lambda numbered: numbered[1].at_mm)
    problems += _in_line(stations) if not problems else []
    if problems:
        raise PatternBroken(tuple(problems))
    return (
        Original(
            id=0,
            name=name,
            note=told.note.strip(),
            unit=unit,
            datum_end="drive" if told.datum_end == "drive" else "tail",
            pieces=pieces,
            next_station=following,
            pattern_id=None,
            made_at=made_at,
        ),
        [station for _, station in stations],
    )


def _station(row: Row, number: int, unit: Unit, problems: list[Problem]) -> OriginalStation | None:
    try:
        if not row.at.strip():
            raise NotUnderstood("Where does it lie?", hint="The distance from the datum end.")
        at_mm = units.parse_length(row.at, unit)
    except BenchsideError as problem:
        problems.append(Problem(number, "at", problem.message, problem.hint))
        return None
    name = forms.plain(row.name)
    if len(name) > forms.LONGEST_NAME:
        problems.append(Problem(number, "name", "That name is too long.", "Shorten it."))
    kind: Kind = next((kind for kind in KINDS if kind == row.kind), "decorative")
    form: Form = next((form for form in FORMS if form == row.form), "taper")
    return OriginalStation(row.id, at_mm, name or f"station {number}", kind, form)


def _in_line(stations: list[tuple[int, OriginalStation]]) -> list[Problem]:
    if len(stations) < 2:
        return [Problem(0, "stations", "It takes at least both ends.", "Add the other end.")]
    first, station = stations[0]
    if station.at_mm > SAME_MM:
        return [Problem(first, "at", "The first station is the datum end itself: 0.")]
    return [
        Problem(
            number,
            "at",
            "Another station lies at this place.",
            "Each has its own distance from the datum end.",
        )
        for (_, before), (number, here) in pairwise(stations)
        if here.at_mm - before.at_mm <= SAME_MM
    ]


def with_unit(mm: float, unit: Unit) -> str:
    text = units.format_length(mm, unit, fine=unit == "mm")
    if abs(units.parse_length(text, unit) - mm) < SAME_MM:
        return text.rstrip("0").rstrip(".") if unit == "mm" and "." in text else text
    return f"{mm:.6f}".rstrip("0").rstrip(".") + " mm"
