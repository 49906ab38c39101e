"""Billets from a log: crosscut into bolts, each split on its end grain, the bark and pith left out.

The end grain's origin is the pith; a billet lies by the middle of its section and the angle its
first side is turned by, counter-clockwise. Splits follow the fibres and take no wood.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from math import atan, atan2, cos, degrees, floor, hypot, isfinite, pi, radians, sin, sqrt
from typing import Literal

from benchside.errors import OutOfRange
from benchside.stock.shapes import EPS_MM, Blank
from benchside.units import Unit, length_told, step_mm

Way = Literal["sectors", "grid"]
WAYS: tuple[Way, ...] = ("sectors", "grid")
SPLIT_OVER_MM = 3.2  # common practice, no source: 1/8 in more than a sawn blank, at the least
END_MM = 75.0  # common practice, no source: 3 to 6 in are cut off a log's ends for their checks
PITH_MM = 25.0  # judgement: across the pith and the first rings, which crack
KERF_MM = 6.0  # judgement: a chain saw's cut
MOST_MM = 30_000.0
SHORT_MM, THIN_MM, THICK_MM = 100.0, 40.0, 2000.0  # judgement: beyond, no log to be split
FINEST = 128  # judgement: nobody splits a round further
STEPS = 40  # of the trial of where the first row of a grid begins


@dataclass(frozen=True, slots=True)
class Log:
    """A log: its length and its diameters at both ends over the bark. [mm]

    ``sapwood_mm`` is the band under the bark, left out unless ``keep_sapwood``; ``pith_mm`` the
    diameter about the pith that no billet may touch; ``end_mm`` what is cut off at each end.
    """

    length_mm: float
    large_mm: float
    small_mm: float
    bark_mm: float = 0.0
    sapwood_mm: float = 0.0
    keep_sapwood: bool = True
    pith_mm: float = PITH_MM
    end_mm: float = END_MM
    kerf_mm: float = KERF_MM


@dataclass(frozen=True, slots=True)
class Billet:
    """One billet on the end grain: the middle of its square section, and how it is turned.

    ``course`` counts from the bark, ``part`` round the course or along the row, both from 1.
    ``ring_deg`` is the angle from its first side to the direction from the pith, 0 to 180.
    """

    x_mm: float
    y_mm: float
    turned_deg: float
    side_mm: float
    course: int
    part: int
    ring_deg: float


@dataclass(frozen=True, slots=True)
class Bolt:
    """One length of the log and how its smaller end is split.

    ``radius_mm`` is that of the usable wood; ``parts`` how many parts each course is in;
    ``courses_mm`` how far from the pith each course's inner face lies.
    """

    from_mm: float
    to_mm: float
    radius_mm: float
    bark_radius_mm: float
    billets: tuple[Billet, ...]
    parts: tuple[int, ...]
    courses_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class SplitPlan:
    """The bolts of a log and their billets."""

    log: Log
    way: Way
    side_mm: float
    bolts: tuple[Bolt, ...]

    @property
    def count(self) -> int:
        return sum(len(bolt.billets) for bolt in self.bolts)


def split(
    log: Log,
    blank: Blank,
    way: Way = "sectors",
    *,
    over_mm: float = SPLIT_OVER_MM,
    unit: Unit | None = None,
) -> SplitPlan:
    """The billets a log gives, each ``over_mm`` larger in the side than the blank, as long as it.

    ``sectors``: halves, quarters, eighths …, always in equal halves so that the split stays in
    the middle, then courses parted along the rings from the bark inward; a course is in as many
    parts as leave each billet's inner face its full width. ``grid``: halves, then rows parallel
    to the first split, then squares along each row. By geometry of the smaller end of each bolt:
    no billet reaches into the pith, the bark, or the sapwood where that is left out.

    Raises `OutOfRange` for a log or a blank that cannot be, told in ``unit`` or in both
    systems.
    """
    check(log, blank, over_mm, way, unit)
    side = blank.side_mm + over_mm
    pitch = blank.length_mm + log.kerf_mm
    usable = log.length_mm - 2 * log.end_mm
    taper = (log.large_mm - log.small_mm) / log.length_mm
    left_out = log.bark_mm + (0.0 if log.keep_sapwood else log.sapwood_mm)
    bolts = []
    for number in range(floor((usable + log.kerf_mm + EPS_MM) / pitch)):
        start = log.end_mm + number * pitch
        end = start + blank.length_mm
        outside = (log.large_mm - taper * end) / 2
        radius = max(0.0, outside - left_out)
        make = _sectors if way == "sectors" else _grid
        found = tuple(make(radius, log.pith_mm / 2, side))
        bolts.append(
            Bolt(
                from_mm=start,
                to_mm=end,
                radius_mm=radius,
                bark_radius_mm=outside,
                billets=found,
                parts=_parts(found),
                courses_mm=_faces(found, way),
            )
        )
    return SplitPlan(log, way, side, tuple(bolts))


def section(billet: Billet) -> tuple[tuple[float, float], ...]:
    """The four corners of a billet on the end grain, counter-clockwise. [mm]"""
    turn = radians(billet.turned_deg)
    half = billet.side_mm / 2
    return tuple(
        (
            billet.x_mm + a * half * cos(turn) - b * half * sin(turn),
            billet.y_mm + a * half * sin(turn) + b * half * cos(turn),
        )
        for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    )


def _sectors(radius: float, pith: float, side: float) -> Iterator[Billet]:
    """Courses from the bark inward, each in a power of two of equal sectors."""
    if radius <= side / 2:
        return
    outermost = sqrt(radius**2 - (side / 2) ** 2) - side
    for course, (inner, parts) in enumerate(_courses(outermost, pith, side), 1):
        middle = inner + side / 2
        for part in range(parts):
            angle = (part + 0.5) * 2 * pi / parts
            yield Billet(
                x_mm=middle * cos(angle),
                y_mm=middle * sin(angle),
                turned_deg=degrees(angle),
                side_mm=side,
                course=course,
                part=part + 1,
                ring_deg=0.0,
            )


def _courses(inner: float, pith: float, side: float) -> Iterator[tuple[float, int]]:
    """The inner face of each course from the outermost on, and in how many parts it is.

    A course in fewer parts than the one outside it has its corners under the flats of two of
    that one's parts, so it lies a little farther in than a whole side.
    """
    parts = _halved(inner, side)
    while parts > 1 and inner >= pith - EPS_MM:
        yield inner, parts
        flat, inner = inner, inner - side
        fewer = _halved(inner, side) if inner > 0 else 1
        if fewer < parts:
            turns = (k * pi / parts for k in range(1, parts, 2) if 2 * k < parts)
            under = (((flat - side / 2 * sin(a)) / cos(a)) - side for a in turns)
            inner = min((inner, *under))
            parts = min(parts // 2, _halved(inner, side)) if inner > 0 else 1


def _halved(inner: float, side: float) -> int:
    """Into how many parts a course can be halved whose inner face lies so far from the pith."""
    widest = pi / atan(side / (2 * inner))
    parts = 1
    while parts * 2 <= widest + 1e-9 and parts < FINEST:
        parts *= 2
    return parts


def _grid(radius: float, pith: float, side: float) -> Iterator[Billet]:
    """Rows of squares in both halves, from where the first row begins best."""
    if radius <= 0:
        return
    begins = (pith * step / STEPS for step in range(STEPS, -1, -1))
    best = max(
        (list(_half_rows(radius, pith, side, begin)) for begin in begins), key=len, default=[]
    )
    rows = max((row for row, _, _ in best), default=0)
    for half in (1, -1):
        for row, part, (x, y) in best:
            ring = degrees(atan2(y, x)) % 180
            yield Billet(
                x_mm=half * x,
                y_mm=half * y,
                turned_deg=0.0 if half > 0 else 180.0,
                side_mm=side,
                course=rows - row + 1,
                part=part if half > 0 else -part,
                ring_deg=ring,
            )


def _half_rows(
    radius: float, pith: float, side: float, begin: float
) -> Iterator[tuple[int, int, tuple[float, float]]]:
    """The middles of the squares of the upper half, row by row from the first split."""
    row, low = 1, begin
    while low + side < radius:
        chord = sqrt(radius**2 - (low + side) ** 2)
        core = sqrt(max(0.0, pith**2 - low**2))
        middle = low + side / 2
        if core > EPS_MM:
            many = floor((chord - core + EPS_MM) / side)
            for part in range(many):
                x = core + (part + 0.5) * side
                yield row, part + 1, (x, middle)
                yield row, -(part + 1), (-x, middle)
        else:
            many = floor((2 * chord + EPS_MM) / side)
            for part in range(many):
                yield row, part + 1, ((part + 0.5 - many / 2) * side, middle)
        row, low = row + 1, low + side


def _parts(billets: tuple[Billet, ...]) -> tuple[int, ...]:
    courses = sorted({billet.course for billet in billets})
    return tuple(sum(b.course == course for b in billets) for course in courses)


def _faces(billets: tuple[Billet, ...], way: Way) -> tuple[float, ...]:
    """How far each course's inner face lies from the pith, or each row's from the first split."""
    inner = {
        b.course: (hypot(b.x_mm, b.y_mm) if way == "sectors" else abs(b.y_mm)) - b.side_mm / 2
        for b in billets
    }
    return tuple(inner[course] for course in sorted(inner))


def check(log: Log, blank: Blank, over_mm: float, way: Way, unit: Unit | None = None) -> None:
    """Raise `OutOfRange` for a log, a blank or a way of splitting that cannot be, told in
    ``unit``."""
    said = partial(length_told, unit=unit)
    if way not in WAYS:
        raise OutOfRange(f"There is no way of splitting called “{way}”.", field="way")
    for field, value, least in (
        ("length_mm", log.length_mm, 1.0),
        ("large_mm", log.large_mm, 10.0),
        ("small_mm", log.small_mm, 10.0),
        ("bark_mm", log.bark_mm, 0.0),
        ("sapwood_mm", log.sapwood_mm, 0.0),
        ("pith_mm", log.pith_mm, 0.0),
        ("end_mm", log.end_mm, 0.0),
        ("kerf_mm", log.kerf_mm, 0.0),
        ("blank_length_mm", blank.length_mm, 1.0),
        ("side_mm", blank.side_mm, 1.0),
        ("over_mm", over_mm, 0.0),
    ):
        if not (isfinite(value) and least <= value <= MOST_MM):
            raise OutOfRange(
                "That cannot be.",
                field=field,
                hint=f"It can be {said(least)} to {said(MOST_MM)}.",
            )
    if log.small_mm > log.large_mm:
        raise OutOfRange(
            "The small end is larger than the large end.",
            field="small_mm",
            hint="Type the larger diameter first.",
        )
    if 2 * log.end_mm >= log.length_mm:
        raise OutOfRange(
            f"{said(log.end_mm)} off each end leaves nothing of a log {said(log.length_mm)} long.",
            field="end_mm",
            hint="Only what is checked at the ends is cut off.",
        )
    if blank.length_mm > log.length_mm:
        raise OutOfRange(
            f"The blank is {said(blank.length_mm)} long, and the log {said(log.length_mm)}.",
            field="length_mm",
            hint="Take a longer log, or shorter blanks.",
        )
    spare_mm = (log.length_mm - blank.length_mm) / 2
    if log.end_mm > spare_mm:
        room_mm = max(0.0, spare_mm - step_mm(unit or "mm") / 2)
        raise OutOfRange(
            f"Between the ends cut off {said(log.length_mm - 2 * log.end_mm)} are left, and the"
            f" blank is {said(blank.length_mm)} long.",
            field="end_mm",
            hint=f"If they are sound, {said(room_mm)} off each end leaves room for one.",
        )


def check_unit(log: Log) -> None:
    """Raise `OutOfRange` for a log so unlike one that its unit must be another; judgement."""
    small = ("That is small for a log: were those inches?", "Type 24 in, or 6 ft.")
    large = ("That is thick for a log: were those millimetres?", "Type 300 mm.")
    for field, told, wrong in (
        ("length_mm", small, log.length_mm < SHORT_MM),
        ("large_mm", small, log.large_mm < THIN_MM),
        ("large_mm", large, log.large_mm > THICK_MM),
    ):
        if wrong:
            raise OutOfRange(told[0], field=field, hint=told[1])
