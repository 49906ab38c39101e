"""A table of stations while it is being typed: what each cell says, and the pattern it makes.

Nothing here is kept. A draft is text in the maker's own unit; a cell that still shows what the
kept pattern holds stands for that exact figure, so showing it in inches never changes it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import nan
from typing import Literal

from benchside import units
from benchside.errors import BenchsideError, NotUnderstood, PatternBroken, Problem
from benchside.job.forms import LONGEST_NAME, plain
from benchside.job.shop import Lathe
from benchside.pattern import DatumEnd, Pattern, Place, Section, Station, change, places, rules
from benchside.pattern.profile import through_limits_mm
from benchside.pattern.stations import FORMS, KINDS, Form, Kind
from benchside.units import Unit

TypingUnit = Literal["mm", "in"]

MOST_ROWS = 100  # judgement: more marks than a pattern stick has room for
BEYOND_MM = 20.0  # judgement: how far past the last station a new one is offered
SAME_MM = 1e-6  # far under anything that can be measured on wood
NEW = "new-"


@dataclass(frozen=True, slots=True)
class Row:
    """One station as typed, and the section from it to the next."""

    id: str = ""
    at: str = ""
    diameter: str = ""
    name: str = ""
    kind: str = "decorative"
    tolerance: str = ""
    position_tolerance: str = ""
    form: str = "taper"
    through: str = ""
    called: str = ""


@dataclass(frozen=True, slots=True)
class Draft:
    """A whole table as typed."""

    name: str
    rows: tuple[Row, ...]
    unit: TypingUnit = "mm"
    datum_end: DatumEnd = "tail"
    note: str = ""


@dataclass(frozen=True, slots=True)
class Judged:
    """What a draft amounts to.

    ``pattern`` is there whenever the table can be drawn, also when something else (a name, the
    lathe) still stands in the way of keeping it. ``limits_mm`` holds, for each row whose section
    is a bead or cove, the least and greatest crown or root between its ends.
    """

    pattern: Pattern | None
    problems: tuple[Problem, ...]
    limits_mm: tuple[tuple[float, float] | None, ...]
    places: tuple[Place, ...] = ()

    def within(self, i: int) -> tuple[Place, ...]:
        """The places that follow from the table inside the section after row i (from 0)."""
        return tuple(place for place in self.places if place.section == i)


def shown(mm: float, unit: TypingUnit) -> str:
    """A length as a cell holds it: fractions where it is exactly a 64th of an inch.

    >>> shown(15.875, "in"), shown(20.0, "mm"), shown(10.0, "in")
    ('5/8', '20', '0.3937')
    """
    if unit == "mm":
        return f"{mm:.4f}".rstrip("0").rstrip(".")
    fraction = units.format_length(mm, "in/64")
    if abs(units.parse_length(fraction, "in") - mm) < SAME_MM:
        return fraction
    return f"{mm / float(units.MM_PER_INCH):.4f}".rstrip("0").rstrip(".")


def figure(mm: float, unit: TypingUnit) -> str:
    """A length as a page shows it: hundredths of a millimetre, or real fractions of an inch.

    >>> figure(19.0625, "mm"), figure(15.875, "in")
    ('19.06', '5⁄8')
    """
    return units.as_fraction_text(shown(round(mm, 2) if unit == "mm" else mm, unit))


def draft_of(pattern: Pattern, unit: TypingUnit, *, note: str = "") -> Draft:
    """A pattern as a table to type in."""
    sections: list[Section | None] = [*pattern.sections, None]
    rows = tuple(_row(s, sec, unit) for s, sec in zip(pattern.stations, sections, strict=True))
    return Draft(pattern.name, rows, unit, pattern.datum_end, note)


def judge(draft: Draft, *, base: Pattern | None = None, lathe: Lathe | None = None) -> Judged:
    """Read every cell of a draft and hold it to every rule; all that is wrong is listed at once.

    ``base`` is the kept pattern the table was made from; ``lathe``, if given, has to hold it.
    """
    if len(draft.rows) > MOST_ROWS:
        problem = Problem(
            0,
            "stations",
            f"{len(draft.rows)} rows are more than one spindle can be set out by.",
            f"Up to {MOST_ROWS} stations; leave out the ones you would not mark on the stick.",
        )
        return Judged(None, (problem,), (None,) * len(draft.rows))
    exact = {s.id: (s, sec) for s, sec in _stations(base)}
    kept = {name: _row(*both, draft.unit) for name, both in exact.items()}
    ids = _ids(draft, set(exact))
    reader = _Reader(draft.unit)
    stations, sections = [], []
    for i, row in enumerate(draft.rows):
        reader.start(i + 1, kept.get(row.id), exact.get(row.id))
        stations.append(reader.station(row, ids[i]))
        sections.append(reader.section(row, last=i == len(draft.rows) - 1))
    pattern, broken = _make(draft, stations, sections)
    problems = list(reader.unread)
    for found_wrong in (broken, _off_the_lathe(stations, sections, lathe, draft.unit)):
        told = {(p.row, p.field) for p in problems}
        problems += [p for p in found_wrong if (p.row, p.field) not in told]
    problems += [*reader.names, *_named(draft)]
    problems.sort(key=lambda p: p.row)
    limits = tuple(_limits(i, stations, sections) for i in range(len(stations)))
    found = places(pattern) if pattern is not None else ()
    return Judged(pattern, tuple(problems), limits, found)


def changed(draft: Draft, what: str, *, base: Pattern | None = None) -> Draft:
    """The draft after one of the buttons beside it.

    ``what`` is ``add``, ``copy``, ``up``, ``down`` or ``delete`` with ``:ROW`` (from 1), or
    ``mirror``, ``sort``, ``unit:mm``, ``unit:in``. Raises `PatternBroken` where a mirror is
    asked of a table that does not hold together, and `NotUnderstood` for anything else.
    """
    verb, _, where = what.partition(":")
    if verb == "unit":
        return _in_unit(draft, "in" if where == "in" else "mm", base)
    if verb == "mirror":
        return _mirrored(draft, base)
    if verb == "sort":
        return _sorted(draft, base)
    row = int(where) if where.isascii() and where.isdigit() and len(where) < 5 else 0
    if verb not in _ROW_CHANGES or not 1 <= row <= len(draft.rows):
        raise NotUnderstood("That button names no row of this table.")
    if verb in ("add", "copy") and len(draft.rows) >= MOST_ROWS:
        return draft
    return replace(draft, rows=_ROW_CHANGES[verb](draft, row - 1, base))


# ------------------------------------------------------------------ reading cells


class _Reader:
    """Reads rows one after another and gathers what cannot be read."""

    def __init__(self, unit: TypingUnit) -> None:
        self.unit: Unit = unit
        self.unread: list[Problem] = []
        self.names: list[Problem] = []

    def start(
        self, row: int, kept: Row | None, exact: tuple[Station, Section | None] | None
    ) -> None:
        self._row = row
        self._kept = kept
        self._exact = exact

    def station(self, row: Row, station_id: str) -> Station:
        was = self._exact[0] if self._exact else None
        at_mm = self._length("at", row.at, was.at_mm if was else None)
        diameter_mm = self._length("diameter", row.diameter, was.diameter_mm if was else None)
        tolerance_mm = self._maybe("tolerance", row.tolerance, was.tolerance_mm if was else None)
        position_mm = self._maybe(
            "position_tolerance", row.position_tolerance, was.position_tolerance_mm if was else None
        )
        return Station(
            id=station_id,
            at_mm=nan if at_mm is None else at_mm,
            diameter_mm=nan if diameter_mm is None else diameter_mm,
            name=self._name(row.name),
            kind=self._kind(row.kind),
            tolerance_mm=tolerance_mm,
            position_tolerance_mm=position_mm,
        )

    def section(self, row: Row, *, last: bool) -> Section:
        if last:
            return Section("straight")
        form = self._form(row.form)
        if form not in ("bead", "cove"):
            return Section(form)
        was = self._exact[1] if self._exact else None
        through_mm = self._maybe("through", row.through, was.through_mm if was else None)
        return Section(form, through_mm, self._name(row.called))

    def _length(self, field: str, text: str, exact_mm: float | None) -> float | None:
        if not text.strip():
            what = "position" if field == "at" else "diameter"
            self._wrong(field, f"The {what} is missing.", "A length, such as 24 or 15/16 in.")
            return None
        return self._maybe(field, text, exact_mm)

    def _maybe(self, field: str, text: str, exact_mm: float | None) -> float | None:
        """The length in a cell; None for an empty one and for one that cannot be read."""
        text = text.strip()
        if not text:
            return None
        if exact_mm is not None and self._kept and getattr(self._kept, field) == text:
            return exact_mm
        try:
            return units.parse_length(text, self.unit)
        except BenchsideError as problem:
            self._wrong(field, problem.message, problem.hint)
            return None

    def _name(self, text: str) -> str:
        name = plain(text)
        if len(name) > LONGEST_NAME:
            self.names.append(_too_long(self._row))
        return name[:LONGEST_NAME]

    def _kind(self, text: str) -> Kind:
        for kind in KINDS:
            if kind == text:
                return kind
        self._wrong("kind", "That is no kind of station.", f"One of: {', '.join(KINDS)}.")
        return "decorative"

    def _form(self, text: str) -> Form:
        for form in FORMS:
            if form == text:
                return form
        self._wrong("form", "That is no form of section.", f"One of: {', '.join(FORMS)}.")
        return "straight"

    def _wrong(self, field: str, message: str, hint: str) -> None:
        self.unread.append(Problem(self._row, field, message, hint))


def _make(
    draft: Draft, stations: list[Station], sections: list[Section]
) -> tuple[Pattern | None, list[Problem]]:
    name = plain(draft.name)[:LONGEST_NAME]
    broken = rules.broken_by(name, stations, sections[:-1], unit=draft.unit)
    if broken:
        return None, [_named_as_cell(p) for p in broken]
    return Pattern(name, tuple(stations), tuple(sections[:-1]), draft.datum_end), []


def _named_as_cell(problem: Problem) -> Problem:
    return replace(problem, field=problem.field.removesuffix("_mm"))


def _named(draft: Draft) -> list[Problem]:
    name = plain(draft.name)
    if not name:
        return [Problem(0, "name", "The pattern has no name.", "Something to know it by.")]
    return [_too_long(0)] if len(name) > LONGEST_NAME else []


def _too_long(row: int) -> Problem:
    return Problem(row, "name", f"A name has room for {LONGEST_NAME} characters.", "Shorten it.")


def _off_the_lathe(
    stations: list[Station], sections: list[Section], lathe: Lathe | None, unit: Unit
) -> list[Problem]:
    if lathe is None:
        return []
    found = rules.off_the_lathe(
        stations,
        sections[:-1],
        swing_mm=lathe.swing_mm,
        between_centres_mm=lathe.between_centres_mm,
        unit=unit,
    )
    return [_named_as_cell(problem) for problem in found]


def _limits(i: int, stations: list[Station], sections: list[Section]) -> tuple[float, float] | None:
    form = sections[i].form
    if i + 1 >= len(stations) or (form != "bead" and form != "cove"):
        return None
    start, end = stations[i], stations[i + 1]
    length_mm = end.at_mm - start.at_mm
    if not (length_mm > 0 and start.diameter_mm > 0 and end.diameter_mm > 0):  # nan: not read
        return None
    least_mm, greatest_mm = through_limits_mm(form, length_mm, start.diameter_mm, end.diameter_mm)
    return max(least_mm, rules.THINNEST_MM), greatest_mm


# ------------------------------------------------------------------ changing rows


def _added(draft: Draft, i: int, base: Pattern | None) -> tuple[Row, ...]:
    pattern = judge(draft, base=base).pattern
    above = draft.rows[i]
    at, diameter = _between(draft, i, pattern)
    keeps_form = above.form not in ("bead", "cove") and i + 1 < len(draft.rows)
    new = Row(
        at=at,
        diameter=diameter,
        kind=above.kind if above.kind == "slender" else "decorative",
        form=above.form if keeps_form else "straight",
    )
    return (*draft.rows[: i + 1], new, *draft.rows[i + 1 :])


def _copied(draft: Draft, i: int, base: Pattern | None) -> tuple[Row, ...]:
    at, _ = _between(draft, i, judge(draft, base=base).pattern)
    copy = replace(draft.rows[i], id="", at=at)
    return (*draft.rows[: i + 1], copy, *draft.rows[i + 1 :])


def _between(draft: Draft, i: int, pattern: Pattern | None) -> tuple[str, str]:
    """Position and diameter to offer for a station after row i; empty where it cannot be told."""
    if pattern is None:
        return "", ""
    here = pattern.stations[i]
    if i + 1 == len(pattern.stations):
        return shown(here.at_mm + BEYOND_MM, draft.unit), shown(here.diameter_mm, draft.unit)
    at_mm = round((here.at_mm + pattern.stations[i + 1].at_mm) / 2, 1)
    if not here.at_mm < at_mm < pattern.stations[i + 1].at_mm:
        return "", ""
    diameter_mm = round(float(pattern.diameter_mm_at(at_mm)), 2)
    return shown(at_mm, draft.unit), shown(diameter_mm, draft.unit)


def _up(draft: Draft, i: int, base: Pattern | None) -> tuple[Row, ...]:
    return _down(draft, i - 1, base) if i > 0 else draft.rows


def _down(draft: Draft, i: int, _base: Pattern | None) -> tuple[Row, ...]:
    """Change places with the next row: each takes the other's position, all else goes along."""
    rows = list(draft.rows)
    if i + 1 < len(rows):
        upper, lower = rows[i], rows[i + 1]
        rows[i], rows[i + 1] = replace(lower, at=upper.at), replace(upper, at=lower.at)
    return tuple(rows)


def _deleted(draft: Draft, i: int, _base: Pattern | None) -> tuple[Row, ...]:
    return (*draft.rows[:i], *draft.rows[i + 1 :]) if len(draft.rows) > 1 else draft.rows


_ROW_CHANGES: dict[str, Callable[[Draft, int, Pattern | None], tuple[Row, ...]]] = {
    "add": _added,
    "copy": _copied,
    "up": _up,
    "down": _down,
    "delete": _deleted,
}


def _mirrored(draft: Draft, base: Pattern | None) -> Draft:
    judged = judge(draft, base=base)
    if judged.pattern is None:
        raise PatternBroken(judged.problems)
    turned = draft_of(change.mirrored(judged.pattern), draft.unit)
    rows = tuple(replace(r, id="" if r.id.startswith(NEW) else r.id) for r in turned.rows)
    return replace(draft, rows=rows, datum_end=turned.datum_end)


def _sorted(draft: Draft, base: Pattern | None) -> Draft:
    exact = {s.id: s.at_mm for s, _ in _stations(base)}

    def place(row: Row) -> float:
        if row.id in exact and row.at.strip() == shown(exact[row.id], draft.unit):
            return exact[row.id]
        try:
            return units.parse_length(row.at, draft.unit)
        except BenchsideError:
            return float("inf")

    return replace(draft, rows=tuple(sorted(draft.rows, key=place)))


def _in_unit(draft: Draft, unit: TypingUnit, base: Pattern | None) -> Draft:
    if unit == draft.unit:
        return draft
    exact = {s.id: (s, sec) for s, sec in _stations(base)}
    rows = tuple(_row_in(row, draft.unit, unit, exact.get(row.id)) for row in draft.rows)
    return replace(draft, rows=rows, unit=unit)


def _row_in(
    row: Row, old: TypingUnit, new: TypingUnit, exact: tuple[Station, Section | None] | None
) -> Row:
    was, is_now = (_row(*exact, old), _row(*exact, new)) if exact else (None, None)
    cells = {}
    for name in ("at", "diameter", "tolerance", "position_tolerance", "through"):
        text = getattr(row, name).strip()
        if was and is_now and text == getattr(was, name):
            cells[name] = getattr(is_now, name)
        else:
            cells[name] = _cell_in(text, old, new)
    return replace(row, **cells)


def _cell_in(text: str, old: TypingUnit, new: TypingUnit) -> str:
    """A cell in the other unit; as it stands where it cannot be read or names its own unit."""
    mm = _read(text, old)
    if mm is None or (mm == _read(text, new) and mm != 0):
        return text
    # 4.0354 in was 102.5 mm before: the roundest figure that reads the same goes back.
    same = (round(mm, places) for places in range(4) if shown(round(mm, places), old) == text)
    return shown(next(same, mm), new)


def _read(text: str, unit: TypingUnit) -> float | None:
    try:
        return units.parse_length(text, unit)
    except BenchsideError:
        return None


# ------------------------------------------------------------------ small parts


def _row(station: Station, section: Section | None, unit: TypingUnit) -> Row:
    def cell(mm: float | None) -> str:
        return "" if mm is None else shown(mm, unit)

    return Row(
        id=station.id,
        at=shown(station.at_mm, unit),
        diameter=shown(station.diameter_mm, unit),
        name=station.name,
        kind=station.kind,
        tolerance=cell(station.tolerance_mm),
        position_tolerance=cell(station.position_tolerance_mm),
        form=section.form if section else "taper",
        through=cell(section.through_mm) if section else "",
        called=section.name if section else "",
    )


def _stations(pattern: Pattern | None) -> list[tuple[Station, Section | None]]:
    if pattern is None:
        return []
    return list(zip(pattern.stations, (*pattern.sections, None), strict=True))


def _ids(draft: Draft, known: set[str]) -> list[str]:
    """An id for each row: the kept station's, or one that only holds until the table is kept."""
    seen: set[str] = set()
    ids = []
    for i, row in enumerate(draft.rows, 1):
        ids.append(row.id if row.id in known - seen else f"{NEW}{i}")
        seen.add(ids[-1])
    return ids
