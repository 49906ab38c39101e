"""A board as it is typed: its sizes, the table of its knots, and a table pasted from elsewhere."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass, fields, replace
from math import atan, degrees, isfinite, radians, tan
from typing import TypeVar, get_args

from benchside import units
from benchside.errors import BenchsideError, NotUnderstood, OutOfRange, PatternBroken, Problem
from benchside.job import forms
from benchside.job.forms import LONGEST_NOTE
from benchside.stock import shapes
from benchside.stock.board import Board, Defect
from benchside.store.stock import BoardPin, KeptBoard, Knot, KnotKind
from benchside.units import Unit

KERF_MM = 3.2  # common practice, no source: the saw cut of a table saw, 1/8 in
SAME_MM = 1e-6  # as near as a pinned blank may lie to a knot
SAME_SLOPE = 1e-9
KINDS: tuple[KnotKind, ...] = get_args(KnotKind)
MOST_ROWS = shapes.MOST_DEFECTS
DOUBTS = {
    "small": (
        "That is small for a board: were those inches?",
        "Type 8 in, or 8 ft. If it is so small, tick the box.",
    ),
    "large": ("That is large for a board.", "If it is so large, tick the box."),
    "turned": ("It is wider than it is long.", "The grain runs along the length."),
    "thick": ("It is thicker than it is wide.", "Turn it over, or tick the box."),
    "no_kerf": ("A saw cut of nothing is no saw cut.", "A table saw takes about 3 mm (1/8 in)."),
    "wide_kerf": ("That is a wide saw cut.", "A table saw takes about 3 mm (1/8 in)."),
}
# Rough lumber is sold by quarters of an inch of thickness: common practice, no source.
_QUARTERS = re.compile(r"(?P<n>[4-9]|1[0246]) ?/ ?4 ?(?:in(?:ch(?:es)?)?|\")?")
_SLOPE = re.compile(r"(?:1\s*(?:in|:|/|zu)\s*)?(?P<n>[0-9]+(?:[.,][0-9]+)?)")
_DEGREES = re.compile(r"(?P<n>[0-9]+(?:[.,][0-9]+)?)\s*(?:°|deg(?:rees)?)")
_COLUMNS = ("at", "across", "length", "width", "face", "depth", "kind")

Choice = TypeVar("Choice", bound=str)


@dataclass(frozen=True, slots=True)
class KnotRow:
    """One knot as typed."""

    kind: str = "knot"
    face: str = "one"
    at: str = ""
    across: str = ""
    length: str = ""
    width: str = ""
    depth: str = ""
    tried: str = ""

    @property
    def empty(self) -> bool:
        return not any(text.strip() for text in (self.at, self.across, self.length, self.width))


@dataclass(frozen=True, slots=True)
class PinRow:
    """One pinned blank as typed."""

    at: str = ""
    across: str = ""
    need: str = "0"

    @property
    def empty(self) -> bool:
        return not (self.at.strip() or self.across.strip())


@dataclass(frozen=True, slots=True)
class BoardTold:
    """A board as typed."""

    name: str = ""
    note: str = ""
    unit: str = "mm"
    set_id: str = ""
    length: str = ""
    width: str = ""
    thickness: str = ""
    kerf: str = ""
    trim_left: str = ""
    trim_right: str = ""
    near: str = ""
    far: str = ""
    slope: str = ""
    slope_to: str = "far"
    resawn: str = "yes"
    blank_length: str = ""
    blank_side: str = ""
    pasted: str = ""
    sure: str = ""
    knots: tuple[KnotRow, ...] = ()
    pins: tuple[PinRow, ...] = ()


def as_told(kept: KeptBoard) -> BoardTold:
    """A kept board as it would be typed."""

    def text(mm: float | None) -> str:
        return "" if mm is None else shown(mm, kept.unit)

    steep = kept.grain_slope
    return BoardTold(
        name=kept.name,
        note=kept.note,
        unit=kept.unit,
        set_id="" if kept.set_id is None else str(kept.set_id),
        length=text(kept.length_mm),
        width=text(kept.width_mm),
        thickness=text(kept.thickness_mm),
        kerf=text(kept.kerf_mm),
        trim_left=text(kept.trim_left_mm),
        trim_right=text(kept.trim_right_mm),
        near=text(kept.near_mm),
        far=text(kept.far_mm),
        slope=_slope_shown(abs(steep)) if steep else "",
        slope_to="near" if steep < 0 else "far",
        resawn="yes" if kept.resawn else "",
        blank_length=text(kept.blank_length_mm),
        blank_side=text(kept.blank_side_mm),
        knots=tuple(
            KnotRow(
                *(k.kind, k.face, text(k.at_mm), text(k.across_mm), text(k.length_mm)),
                *(text(k.width_mm), text(k.depth_mm), "yes" if k.tried else ""),
            )
            for k in kept.knots
        ),
        pins=tuple(PinRow(text(p.at_mm), text(p.across_mm), str(p.need)) for p in kept.pins),
    )


def shown(mm: float, unit: Unit) -> str:
    """A figure as it would be typed in this unit, without more noughts than it needs; in
    millimetres, with their sign, where no inch names it, since it is read again as it is kept.

    >>> shown(46.83125, "in/64"), shown(46.99, "in/64"), shown(47.0, "in/64"), shown(47.0, "mm")
    ('1 27/32', '1.85', '47 mm', '47')
    """
    inches: tuple[Unit, ...] = () if unit == "mm" else ("in",) if unit == "in" else ("in/64", "in")
    for one in inches:
        text = units.format_length(mm, one)
        with suppress(BenchsideError):
            if mm == 0 or abs(units.parse_length(text, one) - mm) < SAME_MM:
                return _bare(text)
    text = _bare(f"{mm:.7f}")
    return text if unit == "mm" else f"{text} mm"


def _bare(text: str) -> str:
    return text.rstrip("0").rstrip(".") if "." in text else text


def _slope_shown(steep: float) -> str:
    """A slope as it would be typed, so exactly that it is read again as it is kept."""
    run, angle = round(1 / steep, 2), round(degrees(atan(steep)), 2)
    if abs(1 / run - steep) < SAME_SLOPE:
        return f"1 in {run:g}"
    if abs(tan(radians(angle)) - steep) < SAME_SLOPE:
        return f"{angle:g}°"
    return f"1 in {1 / steep:.9g}"


def read(told: BoardTold, kept: KeptBoard) -> KeptBoard:
    """The board that was typed, in place of ``kept``.

    Raises `PatternBroken` with everything that is wrong, by row of the knots and by field.
    """
    reader = _Reader(told.unit)
    name = forms.plain(told.name)
    if not name or len(name) > forms.LONGEST_NAME:
        reader.tell(0, "name", "It needs a name." if not name else "That name is too long.")
    if len(told.note) > LONGEST_NOTE:
        reader.tell(0, "note", f"A note has room for {LONGEST_NOTE:,} characters.")
    board = replace(
        kept,
        name=name,
        note=told.note.strip(),
        unit=reader.unit,
        set_id=forms.numbered(told.set_id),
        length_mm=reader.length(told.length, "length"),
        width_mm=reader.length(told.width, "width"),
        thickness_mm=quarters_mm(told.thickness) or reader.length(told.thickness, "thickness"),
        kerf_mm=reader.length(told.kerf, "kerf", KERF_MM),
        trim_left_mm=reader.length(told.trim_left, "trim_left", 0.0),
        trim_right_mm=reader.length(told.trim_right, "trim_right", 0.0),
        near_mm=reader.length(told.near, "near", 0.0),
        far_mm=reader.length(told.far, "far", 0.0),
        grain_slope=reader.asked("slope", lambda: slope(told.slope, told.slope_to)),
        resawn=told.resawn == "yes",
        blank_length_mm=reader.length(told.blank_length, "blank_length", -1.0),
        blank_side_mm=reader.length(told.blank_side, "blank_side", -1.0),
        knots=tuple(reader.knots((*told.knots, *pasted(told.pasted, reader)))),
        pins=tuple(reader.pins(told.pins)),
    )
    board = replace(
        board,
        blank_length_mm=board.blank_length_mm if (board.blank_length_mm or 0) > 0 else None,
        blank_side_mm=board.blank_side_mm if (board.blank_side_mm or 0) > 0 else None,
    )
    if not reader.problems:
        reader.check(board, sure=bool(told.sure))
    if reader.problems:
        raise PatternBroken(tuple(reader.problems))
    return board


def with_sign(mm: float, unit: Unit) -> str:
    """A figure as it would be typed in any unit."""
    text = shown(mm, unit)
    return text if text.endswith("mm") else f"{text} {units.unit_sign(unit)}"


def of_core(kept: KeptBoard, *, without_tried: bool = True) -> Board:
    """The board as the core lays it out; what is tried without is left out."""
    return Board(
        length_mm=kept.length_mm,
        width_mm=kept.width_mm,
        thickness_mm=kept.thickness_mm,
        defects=tuple(
            Defect(k.at_mm, k.across_mm, k.length_mm, k.width_mm, k.face, k.depth_mm)
            for k in kept.knots
            if not (without_tried and k.tried)
        ),
        grain_slope=kept.grain_slope,
        trim_left_mm=kept.trim_left_mm,
        trim_right_mm=kept.trim_right_mm,
        near_mm=kept.near_mm,
        far_mm=kept.far_mm,
        resawn=kept.resawn,
    )


def quarters_mm(text: str) -> float | None:
    """The thickness that rough lumber is called by, 6/4 being 1 1/2 in; None for another text."""
    found = _QUARTERS.fullmatch(" ".join(text.lower().replace("⁄", "/").split()))
    return int(found["n"]) * float(units.MM_PER_INCH) / 4 if found else None


def slope(text: str, towards: str) -> float:
    """The slope of grain as typed: 1 in 15, 15, 4°; nothing or 0 is straight.

    Raises `NotUnderstood` and `OutOfRange`.
    """
    said = text.strip().lower()
    sign = -1.0 if towards == "near" else 1.0
    if said in ("", "0", "straight"):
        return 0.0
    if found := _DEGREES.fullmatch(said):
        rise = tan(radians(min(89.0, float(found["n"].replace(",", ".")))))
    elif found := _SLOPE.fullmatch(said):
        run = float(found["n"].replace(",", "."))
        rise = 1 / run if run else 0.0
    else:
        raise NotUnderstood(
            "That is no slope of grain.", field="slope", hint="Type 1 in 15, or 4°, or nothing."
        )
    if not isfinite(rise) or rise > 0.2 + 1e-9:
        raise OutOfRange(
            "Grain that runs off faster than 1 in 5 is short grain; no blank is laid in it.",
            field="slope",
            hint="Leave that board, or the part of it, out.",
        )
    return sign * rise


def pasted(text: str, reader: _Reader) -> list[KnotRow]:
    """Knots from a table: at, across, length, width, face, depth, kind; a heading may name them."""
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    if not lines:
        return []
    mark = "\t" if "\t" in lines[0] else ";" if ";" in lines[0] else ","
    cells = [[cell.strip() for cell in line.split(mark)] for line in lines]
    names = [cell.lower().removesuffix("_mm").removesuffix("_in") for cell in cells[0]]
    order: list[str] = list(_COLUMNS)
    if "at" in names and "across" in names:
        unknown = [name for name in names if name not in _COLUMNS]
        if unknown:
            hint = f"There are: {', '.join(_COLUMNS)}."
            reader.tell(0, "pasted", f"There is no column “{unknown[0][:24]}”.", hint)
        order, cells = names, cells[1:]
    found = []
    for line in cells[: MOST_ROWS + 1]:
        if len(line) > len(order) or len(line) < 4:
            hint = "A line is: at, across, length, width; then face, depth, kind if you know them."
            reader.tell(0, "pasted", f"“{mark.join(line)[:40]}” cannot be read.", hint)
            continue
        row = dict(zip(order, line, strict=False))
        if "face" in row:
            row["face"] = {"1": "one", "2": "two", "": "one"}.get(row["face"], row["face"])
        said = {n: text for n, text in row.items() if n in _COLUMNS and (text or n != "kind")}
        found.append(KnotRow(**said))
    return found


class _Reader:
    """Reads figures in one unit and keeps everything that is wrong with them."""

    def __init__(self, unit: str) -> None:
        self.problems: list[Problem] = []
        self.unit: Unit = unit if unit in units.UNITS else "mm"

    def tell(self, row: int, field: str, message: str, hint: str = "") -> None:
        self.problems.append(Problem(row, field, message, hint))

    def asked(self, field: str, read: Callable[[], float], row: int = 0) -> float:
        try:
            return read()
        except BenchsideError as problem:
            self.tell(row, field, problem.message, problem.hint)
            return 1.0

    def length(self, text: str, field: str, empty: float | None = None, row: int = 0) -> float:
        if not text.strip():
            if empty is None:
                self.tell(row, field, "This is still empty.")
            return 1.0 if empty is None else empty
        return self.asked(field, lambda: units.parse_length(text, self.unit, field=field), row)

    def one_of(self, said: str, field: str, among: tuple[Choice, ...], row: int) -> Choice:
        found = next((one for one in among if one == said), None)
        if found is None:
            self.tell(row, field, f"It can be {' or '.join(among)}.")
        return found or among[0]

    def knots(self, rows: Iterable[KnotRow]) -> list[Knot]:
        found = []
        for number, row in enumerate((row for row in rows if not row.empty), 1):
            depth = self.length(row.depth, "depth", -1.0, number)
            found.append(
                Knot(
                    kind=self.one_of(row.kind, "kind", KINDS, number),
                    face=self.one_of(row.face, "face", shapes.FACES, number),
                    at_mm=self.length(row.at, "at", None, number),
                    across_mm=self.length(row.across, "across", None, number),
                    length_mm=self.length(row.length, "length", 0.0, number),
                    width_mm=self.length(row.width, "width", 0.0, number),
                    depth_mm=depth if depth > 0 else None,
                    tried=row.tried == "yes",
                )
            )
        return found

    def pins(self, rows: Iterable[PinRow]) -> list[BoardPin]:
        return [
            BoardPin(
                self.length(row.at, "pin", 0.0),
                self.length(row.across, "pin", 0.0),
                int(row.need) if row.need.isdecimal() and len(row.need) < 3 else 0,
            )
            for row in rows
            if not row.empty
        ]

    def check(self, kept: KeptBoard, *, sure: bool) -> None:
        board = of_core(kept, without_tried=False)
        bare = replace(board, defects=())
        for row, defect in enumerate(board.defects[: MOST_ROWS + 1], 1):
            try:
                shapes.check_defect(defect, bare, row)
            except BenchsideError as problem:
                self.tell(row, problem.field.removesuffix("_mm"), problem.message, problem.hint)
        many = board.defects if len(board.defects) > MOST_ROWS else ()
        try:
            shapes.check(replace(board, defects=many), kept.kerf_mm, 0.5)
        except BenchsideError as problem:
            self.tell(0, problem.field.removesuffix("_mm"), problem.message, problem.hint)
        if not sure and not self.problems:
            for doubt in shapes.doubts(bare, kept.kerf_mm):
                self.tell(0, "sure", *DOUBTS[doubt])


ROW_FIELDS = tuple(field.name for field in fields(KnotRow))
PIN_FIELDS = tuple(field.name for field in fields(PinRow))
