"""Fixed gauges to saw or to burn: a gap for the upper limit at one end, for the lower at the other.

A piece is within its limits where the first gap goes over it and the second does not. Fixed plate
gauges with eased corners, and half holes along an edge: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import isfinite, pi, tan
from typing import Literal

from benchside import units
from benchside.errors import OutOfRange
from benchside.paper import lettering
from benchside.paper.marks import (
    PLAIN_MM,
    Drawing,
    Mark,
    Point,
    Stroke,
    Words,
    moved,
)
from benchside.paper.words import Paper
from benchside.units import Unit, length_told, most_told

Shape = Literal["notch", "half-round"]

MOST_KERF_MM = 2.0  # judgement: a wider cut is a saw's, and is sawn beside the line
WALL_MM = 7.0  # judgement: what stands beside a gap, so that it does not spring open
WALL_SHARE = 0.22  # judgement: more beside a wide one
PAST_MM = 3.0  # judgement: a notch reaches so far past the middle of the piece
EASED_MM = 1.0  # judgement: the corners of its mouth, so that it does not grab
BODY_MM = 25.0  # between the two gaps: room for the words
STATE_MM = 3.2  # the letters that say what the wood is in, for which there is more room
LEAST_WIDTH_MM = 30.0  # judgement: room for the words the other way
ROW_MM = 0.7  # between two lines of words
APART_MM = 4.0  # between two gauges on a sheet
_QUARTER = tan(pi / 8)  # the bulge of a quarter circle


@dataclass(frozen=True, slots=True)
class Size:
    """One size to be gauged, with the tolerance to either side. [mm]

    ``letters`` are the calipers that stand at it; ``fine``: a tenon's.
    """

    name: str
    size_mm: float
    tolerance_mm: float
    letters: str = ""
    fine: bool = False


@dataclass(frozen=True, slots=True)
class Gauge:
    """One gauge: the two gaps it has, in true millimetres, and all the places it is for.

    ``state`` is what the wood is in when it is tried, where the set has gauges for two.
    """

    names: tuple[str, ...]
    size_mm: float
    go_mm: float
    not_go_mm: float
    letters: str
    fine: bool
    state: str = ""


@dataclass(frozen=True, slots=True)
class Cut:
    """How the gauges are cut. ``kerf_mm`` is the width the tool takes away, half to either side
    of its line: 0 for a saw led beside the line, about 0.2 for a laser (judgement)."""

    shape: Shape = "notch"
    kerf_mm: float = 0.0


def gauges(sizes: Iterable[Size], state: str = "") -> tuple[Gauge, ...]:
    """One gauge for each size and tolerance, thick to thin; places that share them share it.

    Raises `OutOfRange` where the lower limit is no size any more.
    """
    found: dict[tuple[float, float], list[Size]] = {}
    for size in sizes:
        if not size.size_mm - size.tolerance_mm > 0:
            raise OutOfRange(
                f"{size.name}: with {length_told(size.tolerance_mm)} to either side its lower"
                " limit is nothing.",
                field="tolerance_mm",
            )
        key = (round(size.size_mm, 6), round(size.tolerance_mm, 6))
        found.setdefault(key, []).append(size)
    return tuple(
        Gauge(
            names=tuple(dict.fromkeys(s.name for s in alike)),
            size_mm=size_mm,
            go_mm=round(size_mm + tolerance_mm, 6),
            not_go_mm=round(size_mm - tolerance_mm, 6),
            letters=" ".join(sorted({c for s in alike for c in s.letters})),
            fine=any(s.fine for s in alike),
            state=state,
        )
        for (size_mm, tolerance_mm), alike in sorted(found.items(), reverse=True)
    )


def plate(gauge: Gauge, cut: Cut) -> Stroke:
    """The closed line the tool follows, with half its kerf outside the wood all round. [mm]

    What is left of the wood has gaps of exactly ``go_mm`` at its left end and ``not_go_mm`` at its
    right end, measured square across the mouth. Its middle lies level at y = 0,
    its wood begins at x = 0.
    Raises `OutOfRange` for a kerf that cannot be.
    """
    if not (isfinite(cut.kerf_mm) and 0 <= cut.kerf_mm <= MOST_KERF_MM):
        raise OutOfRange(
            f"A kerf is 0 to {most_told(MOST_KERF_MM)}.",
            field="kerf",
            hint="Cut a slot and measure how much wider it is than drawn.",
        )
    off = cut.kerf_mm / 2
    length, width = plate_mm(gauge, cut.shape)
    mouth = _notch if cut.shape == "notch" else _half_round
    left = mouth(gauge.go_mm, off)
    right = [Point(length - p.x, -p.y, p.bulge) for p in mouth(gauge.not_go_mm, off)]
    high, low = -width / 2 - off, width / 2 + off
    corners = (
        Point(-off, high),
        Point(length + off, high),
        *right,
        Point(length + off, low),
        Point(-off, low),
        *left,
    )
    return Stroke(corners, "cut", PLAIN_MM, closed=True)


def plate_mm(gauge: Gauge, shape: Shape) -> tuple[float, float]:
    """Length and width of the wood of one gauge. [mm]"""
    depths = [_depth(gap, shape) for gap in (gauge.go_mm, gauge.not_go_mm)]
    wall = max(WALL_MM, WALL_SHARE * gauge.go_mm)
    body = BODY_MM + (STATE_MM + ROW_MM if gauge.state else 0.0)
    return sum(depths) + body, max(LEAST_WIDTH_MM, gauge.go_mm + 2 * wall)


def gauge_sheets(
    every: Sequence[Gauge],
    cut: Cut,
    room_mm: tuple[float, float],
    title: str,
    unit: Unit,
    say: Paper,
) -> tuple[Drawing, ...]:
    """The gauges packed on sheets of that room, labelled with the set and the caliper. [mm]

    In rows, the widest first, each on the first row or sheet that has room. Raises `OutOfRange`
    for one that no sheet can hold.
    """
    pieces = [(*_size_with_kerf(g, cut), g) for g in every]
    for length, width, gauge in pieces:
        if length > room_mm[0] or width > room_mm[1]:
            raise OutOfRange(
                f"The gauge for {length_told(gauge.size_mm)} is {length_told(length)} by"
                f" {length_told(width)}; the sheet has room for {length_told(room_mm[0])} by"
                f" {length_told(room_mm[1])}.",
                field="page",
                hint="Take a larger sheet.",
            )
    sheets = _packed(pieces, room_mm)
    return tuple(
        Drawing(
            *room_mm,
            tuple(
                mark for x, y, gauge in sheet for mark in _drawn(gauge, cut, x, y, title, unit, say)
            ),
        )
        for sheet in sheets
    )


Packed = list[tuple[float, float, Gauge]]


def _packed(
    pieces: Sequence[tuple[float, float, Gauge]], room: tuple[float, float]
) -> list[Packed]:
    """Rows of falling height, filled first fit."""
    sheets: list[Packed] = []
    rows: list[list[float]] = []  # which sheet, its top, its height, how far it is filled
    feet: list[float] = []
    for length, width, gauge in sorted(pieces, key=lambda p: (-p[1], -p[0])):
        row = next((r for r in rows if r[3] + length <= room[0] and width <= r[2]), None)
        if row is None:
            sheet = next((i for i, foot in enumerate(feet) if foot + width <= room[1]), len(feet))
            if sheet == len(feet):
                feet.append(0.0)
                sheets.append([])
            row = [sheet, feet[sheet], width, 0.0]
            rows.append(row)
            feet[sheet] += width + APART_MM
        sheets[int(row[0])].append((row[3], row[1], gauge))
        row[3] += length + APART_MM
    return sheets


def _size_with_kerf(gauge: Gauge, cut: Cut) -> tuple[float, float]:
    length, width = plate_mm(gauge, cut.shape)
    return length + cut.kerf_mm, width + cut.kerf_mm


def _depth(gap_mm: float, shape: Shape) -> float:
    return gap_mm / 2 + (PAST_MM if shape == "notch" else 0.0)


def _notch(gap: float, off: float) -> list[Point]:
    """The mouth at the left end, met from below: eased corners, straight sides, a flat bottom.

    ``off`` is how far the line stands outside the wood.
    """
    half, deep = gap / 2 - off, _depth(gap, "notch") - off
    ease = EASED_MM + off
    return [
        Point(-off, gap / 2 + EASED_MM, _QUARTER),
        Point(-off + ease, half),
        Point(deep, half),
        Point(deep, -half),
        Point(-off + ease, -half, _QUARTER),
        Point(-off, -gap / 2 - EASED_MM),
    ]


def _half_round(gap: float, off: float) -> list[Point]:
    """The mouth at the left end, met from below: half a hole, its middle on the wood's edge."""
    half = gap / 2 - off
    return [Point(-off, half), Point(0.0, half, -1.0), Point(0.0, -half), Point(-off, -half)]


def _drawn(
    gauge: Gauge, cut: Cut, x: float, y: float, title: str, unit: Unit, say: Paper
) -> tuple[Mark, ...]:
    off = cut.kerf_mm / 2
    length, width = plate_mm(gauge, cut.shape)
    go, stop = (_depth(gap, cut.shape) for gap in (gauge.go_mm, gauge.not_go_mm))
    left, right = go + 2.0, length - stop - 2.0
    marks: list[Mark] = [plate(gauge, cut)]

    def length_of(mm: float) -> str:
        return units.as_fraction_text(units.format_length(mm, unit, fine=True))

    across = width - 4
    for text, at_x, bold in (
        (f"{say.go} {length_of(gauge.go_mm)}", left + 2.6, True),
        (f"{say.not_go} {length_of(gauge.not_go_mm)}", right, False),
    ):
        marks.append(
            Words(
                lettering.shortened(text, across, 2.8, bold=bold),
                at_x,
                0.0,
                2.8,
                "middle",
                upright=True,
                bold=bold,
            )
        )
    size = units.as_fraction_text(units.format_length(gauge.size_mm, unit, fine=gauge.fine))
    head = f"{size} {units.unit_sign(unit)}"
    if gauge.letters:
        head = f"{gauge.letters}  {head}"
    names = lettering.wrapped(", ".join(gauge.names), across, 2.6, 2)
    titles = lettering.wrapped(title, across, 2.4, 3 - len(names))
    state = [(gauge.state, STATE_MM, True)] if gauge.state else []
    rows = [
        (head, 3.4, True),
        *state,
        *((n, 2.6, False) for n in names),
        *((t, 2.4, False) for t in titles),
    ]
    # Midway between the words of the two ends, whose letters reach so far from their lines.
    tall = rows[0][1] * lettering.CAP_EM + sum(size_mm + ROW_MM for _, size_mm, _ in rows[1:])
    at_x = (left + 2.6 + right - 2.8 * lettering.CAP_EM - tall) / 2
    at_x += rows[0][1] * lettering.CAP_EM - rows[0][1] - ROW_MM
    for text, size_mm, bold in rows:
        at_x += size_mm + ROW_MM
        marks.append(
            Words(
                lettering.shortened(text, across, size_mm, bold=bold),
                at_x,
                0.0,
                size_mm,
                "middle",
                upright=True,
                bold=bold,
            )
        )
    return moved(marks, x + off, y + off + width / 2)
