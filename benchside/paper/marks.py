"""What can stand on paper: strokes, words, and parts of a drawing seen through a window.

Millimetres; x runs to the right and y down the sheet, as one reads.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import acos, asin, atan, ceil, cos, hypot, sin, tan
from typing import Literal, NamedTuple, TypedDict, Unpack

from benchside.draw.outline import corners
from benchside.pattern import Pattern

Layer = Literal["cut", "outline", "centre", "station", "mark", "words", "check"]
Paint = Literal["ink", "soft", "wood", "blank", "grain", "knot", "accent", "tab"]
Align = Literal["left", "middle", "right"]

FINE_MM, PLAIN_MM, STRONG_MM = 0.13, 0.25, 0.5  # widths of lines
DASH_MM, GAP_MM = 1.6, 1.2
PAINTS: dict[Paint, tuple[int, int, int]] = {
    "ink": (20, 18, 15),
    "soft": (96, 88, 78),
    "wood": (242, 230, 208),
    "blank": (253, 250, 244),
    "grain": (214, 198, 168),
    "knot": (122, 94, 62),
    "accent": (150, 62, 20),
    "tab": (238, 238, 238),  # where the next sheet is glued on
}
CHORD_MM = 0.002  # how far a straight step may leave an arc, where arcs are drawn in steps
NOTHING_MM = 1e-9


class Point(NamedTuple):
    """One corner. ``bulge`` is the tangent of a quarter of the angle of the arc to the next one:

    0 for a straight line, more than 0 where it turns clockwise as seen on the sheet.
    """

    x: float
    y: float
    bulge: float = 0.0


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through points; ``filled``: the closed shape is painted and has no line."""

    points: tuple[Point, ...]
    layer: Layer = "mark"
    width_mm: float = PLAIN_MM
    closed: bool = False
    dashed: bool = False
    filled: bool = False
    paint: Paint = "ink"


@dataclass(frozen=True, slots=True)
class Words:
    """One line of words on its baseline; ``upright``: it reads upward. ``size_mm`` is the em."""

    text: str
    x: float
    y: float
    size_mm: float = 3.0
    align: Align = "left"
    upright: bool = False
    bold: bool = False
    paint: Paint = "ink"
    layer: Layer = "words"


@dataclass(frozen=True, slots=True)
class Window:
    """Part of a drawing: what lies in ``left``, ``top``, ``right``, ``bottom``, and nothing else.

    Its upper left corner comes to ``x``, ``y`` of the sheet.
    """

    marks: tuple[Mark, ...]
    left: float
    top: float
    right: float
    bottom: float
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Blocks:
    """Upright rectangles painted solid, many at once: each its left, top, width and height."""

    each: tuple[tuple[float, float, float, float], ...]
    x: float = 0.0
    y: float = 0.0


Mark = Stroke | Words | Window | Blocks


@dataclass(frozen=True, slots=True)
class Strip:
    """Where a long drawing keeps a line free along its top, for words that say which sheet it is:
    its baseline ``y``, from ``low`` to ``high``. ``stops`` are the lines of the drawing with their
    names, so that each sheet can say which is next."""

    y: float
    low: float
    high: float
    stops: tuple[tuple[float, str], ...]


@dataclass(frozen=True, slots=True)
class Drawing:
    """Marks on a piece of that width and height, full size. [mm]

    ``quiet`` are the places along x that no join should come near, ``names`` those of words that
    it had better not run through.
    """

    width_mm: float
    height_mm: float
    marks: tuple[Mark, ...]
    quiet: tuple[float, ...] = ()
    names: tuple[float, ...] = ()
    strip: Strip | None = None


class Look(TypedDict, total=False):
    """What a stroke may be besides its points, as in `Stroke`."""

    layer: Layer
    width_mm: float
    dashed: bool
    filled: bool
    paint: Paint


def line(x: float, y: float, to_x: float, to_y: float, **look: Unpack[Look]) -> Stroke:
    """One straight line."""
    return Stroke((Point(x, y), Point(to_x, to_y)), **look)


def box(x: float, y: float, width: float, height: float, **look: Unpack[Look]) -> Stroke:
    """A rectangle by its upper left corner."""
    right, foot = x + width, y + height
    found = (Point(x, y), Point(right, y), Point(right, foot), Point(x, foot))
    return Stroke(found, closed=True, **look)


def circle(x: float, y: float, radius: float, **look: Unpack[Look]) -> Stroke:
    """A circle, as two half arcs."""
    ends = (Point(x - radius, y, 1.0), Point(x + radius, y, 1.0))
    return Stroke(ends, closed=True, **look)


def upper_edge(pattern: Pattern, axis_y: float = 0.0, at_x: float = 0.0) -> tuple[Point, ...]:
    """Half the outline, over an axis at ``axis_y``, the datum end at ``at_x`` and the rest to the
    right of it: straight lines and true arcs. [mm]"""
    edge = corners(pattern, 0, len(pattern.sections) - 1)
    found: list[Point] = []
    for here, after in pairwise([*edge, edge[-1]]):
        y = axis_y - here.diameter_mm / 2
        bulge = 0.0
        if after.arc_mm:
            reach = hypot(after.at_mm - here.at_mm, (after.diameter_mm - here.diameter_mm) / 2)
            # The arc's angle from its chord; two halves are drawn, each at most a quarter circle.
            bulge = after.bulge * tan(asin(min(1.0, reach / 2 / after.arc_mm)) / 2)
        point = Point(at_x + here.at_mm, y, bulge)
        if found and hypot(found[-1].x - point.x, found[-1].y - point.y) < NOTHING_MM:
            found[-1] = point
        else:
            found.append(point)
    return (*found[:-1], found[-1]._replace(bulge=0.0))


def reversed_points(points: Sequence[Point]) -> tuple[Point, ...]:
    """The same line from its other end."""
    bulges = [*[-p.bulge for p in points[-2::-1]], 0.0]
    return tuple(p._replace(bulge=b) for p, b in zip(reversed(points), bulges, strict=True))


def mirrored(points: Iterable[Point], axis_y: float) -> tuple[Point, ...]:
    """The same line on the other side of a level axis."""
    return tuple(Point(p.x, 2 * axis_y - p.y, -p.bulge) for p in points)


def whole_edge(pattern: Pattern, axis_y: float, at_x: float = 0.0) -> tuple[Point, ...]:
    """The closed outline, both halves, end faces straight."""
    upper = upper_edge(pattern, axis_y, at_x)
    return (*upper, *mirrored(reversed_points(upper), axis_y))


def segments(stroke: Stroke) -> Iterator[tuple[Point, Point]]:
    """Each stretch from a point to the next; the last one closes a closed line."""
    yield from pairwise(stroke.points)
    if stroke.closed:
        yield stroke.points[-1], stroke.points[0]


def radius_mm(start: Point, end: Point) -> float:
    """The radius of the arc from one point to the next. Its bulge must not be 0."""
    b = abs(start.bulge)
    return hypot(end.x - start.x, end.y - start.y) * (1 + b * b) / (4 * b)


def in_steps(stroke: Stroke, chord_mm: float = CHORD_MM) -> tuple[tuple[float, float], ...]:
    """The line's points with every arc in straight steps that leave it by at most ``chord_mm``."""
    found = [(stroke.points[0].x, stroke.points[0].y)]
    for start, end in segments(stroke):
        if abs(start.bulge) > NOTHING_MM:
            found += _along(start, end, chord_mm)
        found.append((end.x, end.y))
    return tuple(found)


def _along(start: Point, end: Point, chord_mm: float) -> Iterator[tuple[float, float]]:
    angle = 4 * atan(start.bulge)
    radius = radius_mm(start, end)
    step = 2 * acos(1 - min(1.0, chord_mm / radius))
    count = max(1, ceil(abs(angle) / step))
    centre_x, centre_y = centre(start, end)
    from_x, from_y = start.x - centre_x, start.y - centre_y
    for k in range(1, count):
        turn = angle * k / count
        yield (
            centre_x + from_x * cos(turn) - from_y * sin(turn),
            centre_y + from_x * sin(turn) + from_y * cos(turn),
        )


def centre(start: Point, end: Point) -> tuple[float, float]:
    """The centre of the arc from one point to the next. Its bulge must not be 0."""
    b = start.bulge
    reach = (1 - b * b) / (4 * b)
    middle = (start.x + end.x) / 2, (start.y + end.y) / 2
    return middle[0] - reach * (end.y - start.y), middle[1] + reach * (end.x - start.x)


def moved(marks: Iterable[Mark], by_x: float, by_y: float) -> tuple[Mark, ...]:
    """The same marks elsewhere."""
    return tuple(_moved(mark, by_x, by_y) for mark in marks)


def _moved(mark: Mark, by_x: float, by_y: float) -> Mark:
    if isinstance(mark, Stroke):
        points = tuple(Point(p.x + by_x, p.y + by_y, p.bulge) for p in mark.points)
        return replace(mark, points=points)
    return replace(mark, x=mark.x + by_x, y=mark.y + by_y)


def reach_x(mark: Mark) -> tuple[float, float]:
    """From where to where along x a mark can be seen, words by a generous guess. [mm]"""
    if isinstance(mark, Stroke):
        # An arc of a half circle or less stays within half its chord of its ends.
        spare = max(
            (abs(b.x - a.x) + abs(b.y - a.y) for a, b in segments(mark) if a.bulge), default=0
        )
        xs = [p.x for p in mark.points]
        return min(xs) - spare / 2 - mark.width_mm, max(xs) + spare / 2 + mark.width_mm
    if isinstance(mark, Blocks):
        return mark.x + min(b[0] for b in mark.each), mark.x + max(b[0] + b[2] for b in mark.each)
    if isinstance(mark, Words):
        spare = mark.size_mm * (1.5 if mark.upright else 1.5 + len(mark.text))
        return mark.x - spare, mark.x + spare
    return mark.x, mark.x + mark.right - mark.left
