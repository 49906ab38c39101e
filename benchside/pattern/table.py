"""The table a pattern is written in: a text of rows and columns that any spreadsheet opens.

::

    # pattern: Hall bench back spindle
    # datum: tail
    at_mm,diameter_mm,name,kind,tolerance_mm,position_tolerance_mm,section,through_mm,id
    0,15.9,tail tenon,tenon,0.1,,shoulder,,s1
    25,22,shoulder,decorative,,,taper,,s2
    400,12.7,top,slender,,,,,s3

Columns stand in any order, between commas, semicolons or tabs; a decimal comma needs one of the
latter two. ``section`` and ``through_mm`` (a crown or root) say what leads to the next row;
``called``, written where any has one, is a bead's or cove's own name. A
table with no header is position, diameter, name, section, through. A cell that would start a
spreadsheet formula is written with an apostrophe before it, which reading takes off again.
"""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from itertools import count
from math import inf, nan
from typing import NoReturn, TypeVar

from benchside.errors import BenchsideError, PatternBroken, Problem
from benchside.pattern import rules
from benchside.pattern.shapes import DatumEnd, Pattern
from benchside.pattern.stations import FORMS, KINDS, Form, Kind, Section, Station
from benchside.units import Unit, parse_length

COLUMNS = (
    "at_mm",
    "diameter_mm",
    "name",
    "kind",
    "tolerance_mm",
    "position_tolerance_mm",
    "section",
    "through_mm",
    "id",
)
LONGEST_TEXT = 200_000  # characters; judgement: a hundred times a long pattern
MOST_ROWS = 400  # judgement: far more than can be marked on one spindle

_LENGTHS = ("at", "diameter", "tolerance", "position_tolerance", "through")
_HEADERLESS = ("at", "diameter", "name", "section", "through")
_SYNONYMS = {
    "at": ("at", "position", "pos", "distance", "from_datum"),
    "diameter": ("diameter", "dia", "diam", "d", "ø", "thickness"),
    "name": ("name", "station", "label"),
    "kind": ("kind", "type"),
    "tolerance": ("tolerance", "tol", "diameter_tolerance"),
    "position_tolerance": ("position_tolerance", "position_tol", "pos_tol"),
    "section": ("section", "form", "shape"),
    "called": ("called", "section_name"),
    "through": ("through", "crown", "root", "crown_or_root"),
    "id": ("id", "mark", "station_id"),
}
_COLUMN_OF = {word: column for column, words in _SYNONYMS.items() for word in words}
_FORM_WORDS: dict[str, Form] = {
    **{form: form for form in FORMS},
    "parallel": "straight",
    "tapered": "taper",
    "hollow": "cove",
}
_KIND_WORDS: dict[str, Kind] = {kind: kind for kind in KINDS}
_UNIT_WORDS: dict[str, Unit] = {"mm": "mm", "in": "in", "inch": "in", "inches": "in"}
_EMPTY = ("", "-", "–", "—")
_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_NOTE = re.compile(r"#\s*(pattern|datum)\s*:[ ]?(.*)", re.DOTALL | re.IGNORECASE)

_Word = TypeVar("_Word", Form, Kind)


@dataclass(frozen=True, slots=True)
class _Column:
    """What a column holds, the unit of its bare figures, and the name to report it by."""

    name: str
    unit: Unit

    @property
    def field(self) -> str:
        return f"{self.name}_mm" if self.name in _LENGTHS else self.name


@dataclass(slots=True)
class _Found:
    """What has been read so far, with everything that is wrong in it."""

    stations: list[Station] = field(default_factory=list)
    sections: list[tuple[Form | None, float | None, str]] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def write_pattern(pattern: Pattern) -> str:
    """The table of a pattern: comma separated, in millimetres, lines ending as RFC 4180 has it.

    `read_pattern` gives the same pattern back.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow([f"# pattern: {pattern.name}"])
    writer.writerow([f"# datum: {pattern.datum_end}"])
    called = any(section.name for section in pattern.sections)
    writer.writerow([*COLUMNS, *(["called"] if called else [])])
    sections: tuple[Section | None, ...] = (*pattern.sections, None)
    for s, section in zip(pattern.stations, sections, strict=True):
        writer.writerow(
            [
                _figure(s.at_mm),
                _figure(s.diameter_mm),
                _guarded(s.name),
                s.kind,
                _figure(s.tolerance_mm),
                _figure(s.position_tolerance_mm),
                section.form if section else "",
                _figure(section.through_mm) if section else "",
                _guarded(s.id),
                *([_guarded(section.name) if section else ""] if called else []),
            ]
        )
    return text.getvalue()


def read_pattern(
    text: str,
    *,
    unit: Unit = "mm",
    name: str = "",
    swing_mm: float = inf,
    between_centres_mm: float = inf,
) -> Pattern:
    """The pattern that a table describes.

    ``unit`` is that of bare figures under a header that names none; ``name`` stands before the
    one in the table. Stations without an id are given s1, s2 and so on. An empty section is a
    taper, or straight between equal diameters. ``swing_mm`` and ``between_centres_mm`` are those
    of the lathe that has to hold it.

    Raises `PatternBroken` with every problem, each with its row counted from the first station.
    """
    records, separator = _records(text)
    title, datum, rows = _notes(records, separator)
    columns, rows = _columns(rows, unit, separator)
    if len(rows) > MOST_ROWS:
        _refuse(f"The table has {len(rows)} rows.", f"Up to {MOST_ROWS} stations make a pattern.")
    found = _Found()
    datum_end = _datum_end(datum, found)
    for row, cells in enumerate(rows, 1):
        _read_row(found, columns, cells, row, last=row == len(rows))
    stations, sections = _with_ids(found.stations), _with_forms(found)
    of_sizes = next((c.unit for c in columns if c.name == "diameter"), unit)
    too_big = rules.off_the_lathe(
        stations,
        sections,
        swing_mm=swing_mm,
        between_centres_mm=between_centres_mm,
        unit=of_sizes,
    )
    _judge(found, rules.broken_by(name or title, stations, sections, unit=of_sizes), too_big)
    return Pattern(name or title, stations, sections, datum_end)


# ------------------------------------------------------------------ writing


def _figure(mm: float | None) -> str:
    """A figure in as many decimals as name it exactly, never with an exponent."""
    if mm is None:
        return ""
    return f"{Decimal(repr(float(mm) + 0.0)):f}".removesuffix(".0")


def _guarded(cell: str) -> str:
    return f"'{cell}" if _FORMULA.match(cell) else cell


# ------------------------------------------------------------------ rows and columns


def _refuse(message: str, hint: str = "") -> NoReturn:
    raise PatternBroken((Problem(0, "text", message, hint),))


def _records(text: str) -> tuple[list[list[str]], str]:
    """Non-empty records and the separator between their cells."""
    if len(text) > LONGEST_TEXT:
        _refuse(
            f"The table is longer than {LONGEST_TEXT} characters.",
            "Give the rows of one pattern only.",
        )
    if "\0" in text:
        _refuse("This is no text: it has NUL characters in it.", "Save it as CSV in UTF-8.")
    text = text.removeprefix("\ufeff")
    if not text.strip():
        _refuse("The table is empty.", "Two columns are enough: position, diameter.")
    try:
        separator = _separator(text)
        return list(_split(text, separator, strict=True)), separator
    except csv.Error:
        _refuse(
            "A cell opens with a quotation mark that is never closed, or is too long.",
            "Close it, or write inches as 5/8 in.",
        )


def _split(text: str, separator: str, *, strict: bool) -> Iterator[list[str]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=strict)
    return (record for record in reader if any(cell.strip() for cell in record))


def _separator(text: str) -> str:
    """What stands between the columns: the one under which the first row makes sense."""
    cells = {}
    for separator in ("\t", ";", ","):
        records = _split(text, separator, strict=False)
        first = next((r for r in records if not _is_note(r)), [])
        if len(first) > 1 and (_is_header(first) or all(map(_is_figure, first[:2]))):
            return separator
        cells[separator] = len(first)
    return max(reversed(cells), key=cells.__getitem__)


def _is_note(record: list[str]) -> bool:
    return record[0].lstrip().startswith("#")


def _is_header(cells: list[str]) -> bool:
    return not _is_figure(cells[0]) and any(_column(cell, "mm") for cell in cells)


def _is_figure(cell: str) -> bool:
    try:
        parse_length(cell, "in")
    except BenchsideError:
        return False
    return True


def _notes(records: list[list[str]], separator: str) -> tuple[str, str, list[list[str]]]:
    """The name and datum end written above the table, and the records below."""
    notes = {"pattern": "", "datum": "tail"}
    for i, record in enumerate(records):
        if not _is_note(record):
            return notes["pattern"], notes["datum"], records[i:]
        if note := _NOTE.fullmatch(separator.join(record).lstrip()):
            notes[note[1].lower()] = note[2]
    return notes["pattern"], notes["datum"], []


def _datum_end(text: str, found: _Found) -> DatumEnd:
    word = text.strip().lower()
    if word in ("tail", "drive"):
        return "tail" if word == "tail" else "drive"
    found.problems.append(
        Problem(0, "datum", "The datum end is not named.", "Write # datum: tail or # datum: drive.")
    )
    return "tail"


def _columns(
    rows: list[list[str]], unit: Unit, separator: str
) -> tuple[list[_Column], list[list[str]]]:
    """What each column holds, and the rows below the header."""
    if not rows:
        _refuse("The table has no rows.", "Each station is one row: position, diameter, name.")
    first = rows[0]
    if len(first) < 2 and not _is_header(first):
        _refuse("This is no table of stations.", "Each station is one row: position, diameter.")
    if not _is_header(first) and any(c.isdigit() for cell in first[:2] for c in cell):
        if separator == ",":
            _check_no_decimal_commas(rows)
        return [_Column(name, unit) for name in _HEADERLESS], rows
    columns: list[_Column] = []
    problems = []
    for cell in first:
        column = _column(cell, unit)
        if column is None and cell.strip():
            problems.append(f"There is no column “{cell.strip()[:24]}”.")
        elif column and column.name in [c.name for c in columns]:
            problems.append(f"The column {column.name} is there twice.")
        columns.append(column or _Column("", unit))
    problems += [
        f"The column {name}_mm is missing."
        for name in ("at", "diameter")
        if name not in [c.name for c in columns]
    ]
    if problems:
        hint = f"The columns are {', '.join(COLUMNS)}."
        raise PatternBroken(tuple(Problem(0, "header", words, hint) for words in problems))
    return columns, rows[1:]


def _check_no_decimal_commas(rows: list[list[str]]) -> None:
    """Refuse 0,15,9 in a table without a header: is it 15,9, or a station with the name 9?"""
    problems = tuple(
        Problem(
            row,
            "name",
            f"“{','.join(cells[:3])[:24]}” can be read in two ways: is there a decimal comma?",
            "Put semicolons between the columns.",
        )
        for row, cells in enumerate(rows, 1)
        if len(cells) > 2 and cells[2].strip().isdecimal()
    )
    if problems:
        raise PatternBroken(problems)


def _column(header: str, unit: Unit) -> _Column | None:
    """The column a header names, such as Diameter (mm) or at_in."""
    words = re.sub(r"[^\wø]+", "_", unicodedata.normalize("NFKC", header).lower()).strip("_")
    if column := _COLUMN_OF.get(words):
        return _Column(column, unit)
    name, _, written = words.rpartition("_")
    column = _COLUMN_OF.get(name)
    if column not in _LENGTHS or written not in _UNIT_WORDS:
        return None
    inches: Unit = unit if unit != "mm" else "in"
    return _Column(column, "mm" if _UNIT_WORDS[written] == "mm" else inches)


# ------------------------------------------------------------------ cells


def _read_row(
    found: _Found, columns: list[_Column], cells: list[str], row: int, *, last: bool
) -> None:
    if any(cell.strip() for cell in cells[len(columns) :]):
        found.problems.append(
            Problem(
                row,
                "row",
                f"There are {len(cells)} cells in {len(columns)} columns.",
                "A decimal comma needs semicolons or tabs between the columns.",
            )
        )
    by_name = {c.name: cell for c, cell in zip(columns, cells, strict=False)}
    lengths = {
        c.name: _length(found, c, by_name.get(c.name, ""), row)
        for c in columns
        if c.name in _LENGTHS
    }
    at_mm, diameter_mm = (_needed(found, f, lengths[f], row) for f in ("at", "diameter"))
    kind = _word(found, "kind", by_name.get("kind", ""), _KIND_WORDS, row)
    found.stations.append(
        Station(
            id=_unguarded(by_name.get("id", "")).strip(),
            at_mm=at_mm,
            diameter_mm=diameter_mm,
            name=_unguarded(by_name.get("name", "")),
            kind=kind or "decorative",
            tolerance_mm=lengths.get("tolerance"),
            position_tolerance_mm=lengths.get("position_tolerance"),
        )
    )
    if last:
        _nothing_follows(found, by_name, row)
    else:
        cell = by_name.get("section", "")
        form = _word(found, "section", cell, _FORM_WORDS, row)
        known = form or cell.strip() in _EMPTY
        called = _unguarded(by_name.get("called", "")) if form in ("bead", "cove") else ""
        found.sections.append((form, lengths.get("through") if known else None, called))


def _nothing_follows(found: _Found, cells: dict[str, str], row: int) -> None:
    for name, column in (("section", "section"), ("through", "through_mm")):
        if cells.get(name, "").strip() not in _EMPTY:
            found.problems.append(
                Problem(row, column, "Nothing follows the last station.", "Leave the cell empty.")
            )


def _length(found: _Found, column: _Column, cell: str, row: int) -> float | None:
    """The length in a cell; None for an empty one, NaN (and a problem) for one not understood."""
    cell = cell.strip()
    if cell in _EMPTY:
        return None
    try:
        return parse_length(cell, column.unit)
    except BenchsideError as error:
        found.problems.append(Problem(row, column.field, error.message, error.hint))
        return nan


def _needed(found: _Found, name: str, length: float | None, row: int) -> float:
    if length is not None:
        return length
    words = "position" if name == "at" else "diameter"
    found.problems.append(
        Problem(row, f"{name}_mm", f"The {words} is missing.", "Give every station both figures.")
    )
    return nan


def _word(found: _Found, name: str, cell: str, words: dict[str, _Word], row: int) -> _Word | None:
    word = cell.strip().lower()
    if word in _EMPTY:
        return None
    if word not in words:
        kinds = ", ".join(dict.fromkeys(words.values()))
        what = "kind of station" if name == "kind" else "form of section"
        found.problems.append(
            Problem(row, name, f"“{word[:24]}” is no {what}.", f"One of: {kinds}.")
        )
        return None
    return words[word]


def _unguarded(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell


# ------------------------------------------------------------------ the whole


def _with_ids(stations: list[Station]) -> tuple[Station, ...]:
    taken = {s.id for s in stations}
    fresh = (f"s{n}" for n in count(1) if f"s{n}" not in taken)
    return tuple(s if s.id else replace(s, id=next(fresh)) for s in stations)


def _with_forms(found: _Found) -> tuple[Section, ...]:
    size = [s.diameter_mm for s in found.stations]
    return tuple(
        Section(form or ("straight" if size[i] == size[i + 1] else "taper"), through_mm, called)
        for i, (form, through_mm, called) in enumerate(found.sections)
    )


def _judge(found: _Found, *broken: Sequence[Problem]) -> None:
    """Raise what could not be read together with the rules that what could be read breaks."""
    problems = found.problems
    for more in broken:
        told = {(p.row, p.field) for p in problems}
        problems = [*problems, *(p for p in more if (p.row, p.field) not in told)]
    if problems:
        raise PatternBroken(tuple(sorted(problems, key=lambda p: p.row)))
