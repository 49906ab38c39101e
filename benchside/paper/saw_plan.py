"""A board's saw plan and a log's ends on paper, one to so many, numbered as on the screen."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, cos, pi, sin

from benchside.draw.board import Fault, Figure, NumberedBlank, SawPlan, across_mm, grain_lines
from benchside.draw.log import End
from benchside.paper import lettering
from benchside.paper.marks import (
    FINE_MM,
    PLAIN_MM,
    STRONG_MM,
    Drawing,
    Mark,
    Paint,
    Point,
    Stroke,
    Window,
    Words,
    box,
    circle,
    line,
    moved,
)

SCALES = (1, 2, 5, 10, 20, 50)  # what a drawing on paper is made to, one to so many
LEAST_STRIP_MM = 4.5  # judgement: the least height of a strip that a number can be read in
HIGHEST_MM = 120.0  # judgement: higher, a board takes the sheet for itself
NUMBER_MM = 3.2
LEAST_PART_MM = 9.0  # judgement: a shorter part of a blank carries no number
LEAST_KNOT_MM = 0.4  # a smaller one would not be seen
GRAIN_PITCH_MM = 4.0
CORNERS = 32  # of a knot's outline
EDGE_MM = 0.3  # a line along the edge of a board is shown in its whole width
END_GAP_MM, END_LABEL_MM = 8.0, 4.6


@dataclass(frozen=True, slots=True)
class Stretch:
    """Part of a board, from its left end. ``drawing`` is that part to scale. [mm]"""

    from_mm: float
    to_mm: float
    drawing: Drawing


def scale_of(plan: SawPlan) -> int:
    """What a board is drawn to, one to so many: the smallest that its strips can be read in."""
    low = [s for s in SCALES if plan.width_mm / s <= HIGHEST_MM] or SCALES[-1:]
    sides = [across_mm(blank.figure) for blank in plan.blanks] or [plan.width_mm / 4]
    return max((s for s in low if min(sides) / s >= LEAST_STRIP_MM), default=low[0])


def stretches(plan: SawPlan, room_mm: float) -> tuple[Stretch, ...]:
    """The board to `scale_of`, the near edge down, in stretches no longer on paper than the room.

    Seen on face one: knots of the other face, and those only tried without, are dashed.
    """
    scale = scale_of(plan)
    row = room_mm * scale
    rows = ceil(plan.length_mm / row - 1e-9)
    ends = [(i * row, min(plan.length_mm, (i + 1) * row)) for i in range(rows)]
    return tuple(Stretch(low, high, _stretch(plan, scale, low, high)) for low, high in ends)


def ends_scale(ends: Sequence[End], room_mm: float) -> int:
    """What the ends of a log's bolts are drawn to: the largest that leaves room for two a row."""
    widest = max(2 * end.bark_mm for end in ends)
    most = (room_mm - END_GAP_MM) / 2
    return next((s for s in SCALES if widest / s <= most), SCALES[-1])


def end_rows(ends: Sequence[End], labels: Sequence[str], room_mm: float) -> tuple[Drawing, ...]:
    """The ends of a log's bolts to `ends_scale`, each over its label, in rows as wide as the
    room. [mm]"""
    scale = ends_scale(ends, room_mm)
    wide = max(2 * end.bark_mm for end in ends) / scale + END_GAP_MM
    each = max(1, int((room_mm + END_GAP_MM) / wide))
    found = []
    for start in range(0, len(ends), each):
        marks: list[Mark] = []
        high = wide - END_GAP_MM
        for i, (end, label) in enumerate(
            zip(ends[start : start + each], labels[start : start + each], strict=True)
        ):
            middle = i * wide + high / 2
            marks += moved(_end(end, scale), middle, high / 2 + EDGE_MM)
            marks.append(Words(label, middle, high + 3.6, 2.7, "middle"))
        found.append(Drawing(room_mm, high + END_LABEL_MM, tuple(marks)))
    return tuple(found)


def _stretch(plan: SawPlan, scale: int, low: float, high: float) -> Drawing:
    wide, tall = (high - low) / scale, plan.width_mm / scale
    on = _Paper(scale, plan.width_mm)
    marks = (
        *_wood(plan, on),
        *(Stroke(on.figure(ends)) for ends in (*plan.rips, *plan.crosscuts)),
        *(mark for blank in plan.blanks for mark in _blank(blank, on, low, high)),
        *(mark for fault in plan.faults for mark in _fault(fault, on)),
    )
    # An edge of the board is drawn whole; where it goes on in the next stretch there is none.
    left = low / scale - (EDGE_MM if low == 0 else 0.0)
    right = high / scale + (EDGE_MM if high == plan.length_mm else 0.0)
    at = left - low / scale
    window = Window(marks, left, -EDGE_MM, right, tall + EDGE_MM, at, -EDGE_MM)
    return Drawing(wide, tall, (window,))


@dataclass(frozen=True, slots=True)
class _Paper:
    """From millimetres of the board, its near edge down, to millimetres of paper."""

    scale: int
    width_mm: float

    def at(self, point: tuple[float, float]) -> Point:
        return Point(point[0] / self.scale, (self.width_mm - point[1]) / self.scale)

    def figure(self, found: Figure) -> tuple[Point, ...]:
        return tuple(self.at(point) for point in found)


def _wood(plan: SawPlan, on: _Paper) -> Iterator[Mark]:
    yield Stroke(on.figure(plan.usable), closed=True, filled=True, paint="wood")
    rows = max(3, round(plan.width_mm / on.scale / GRAIN_PITCH_MM))
    for a, b in grain_lines(plan, rows):
        yield Stroke((on.at(a), on.at(b)), width_mm=FINE_MM, paint="grain")
    yield box(0.0, 0.0, plan.length_mm / on.scale, plan.width_mm / on.scale)


def _blank(blank: NumberedBlank, on: _Paper, low: float, high: float) -> Iterator[Mark]:
    outline = on.figure(blank.figure)
    width = STRONG_MM if blank.pinned else PLAIN_MM
    yield Stroke(outline, closed=True, filled=True, paint="blank")
    yield Stroke(outline, width_mm=width, closed=True, dashed=bool(blank.need))
    # A blank that lies over a join carries its number on either side of it.
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = blank.figure
    left, right = (x0 + x3) / 2, (x1 + x2) / 2
    start, end = max(left, low), min(right, high)
    if end - start < min(right - left, LEAST_PART_MM * on.scale):
        return
    middle = (start + end) / 2
    along = (middle - left) / (right - left)
    centre = on.at((middle, ((y0 + y3) * (1 - along) + (y1 + y2) * along) / 2))
    size = min(NUMBER_MM, across_mm(blank.figure) / on.scale * 0.95)
    yield _number(blank.label, centre.x, centre.y, size)


def _number(text: str, x: float, y: float, size: float) -> Words:
    return Words(text, x, y + size * lettering.MIDDLE_EM, size, "middle", bold=True)


def _fault(fault: Fault, on: _Paper) -> Iterator[Mark]:
    (x0, y0, _), _, (x1, y1, _), _ = on.figure(fault.figure)
    across, down = (max(abs(b - a) / 2, LEAST_KNOT_MM) for a, b in ((x0, x1), (y0, y1)))
    turns = [2 * pi * k / CORNERS for k in range(CORNERS)]
    oval = tuple(
        Point((x0 + x1) / 2 + across * cos(t), (y0 + y1) / 2 + down * sin(t)) for t in turns
    )
    seen = fault.face != "two" and not fault.tried
    if seen:
        yield Stroke(oval, closed=True, filled=True, paint="knot")
    yield Stroke(oval, width_mm=FINE_MM, closed=True, dashed=not seen)
    spoiled = on.figure(fault.figure)
    yield Stroke(spoiled, width_mm=FINE_MM, closed=True, dashed=not seen, paint="soft")


def _end(end: End, scale: int) -> Iterator[Mark]:
    def disc(radius_mm: float, paint: Paint, width_mm: float = PLAIN_MM) -> Iterator[Mark]:
        yield circle(0.0, 0.0, radius_mm / scale, filled=True, paint=paint)
        yield circle(0.0, 0.0, radius_mm / scale, width_mm=width_mm)

    yield from disc(end.bark_mm, "grain")
    yield from disc(end.wood_mm, "blank", FINE_MM)
    yield from disc(end.usable_mm, "wood", FINE_MM)
    for radius in end.rings_mm:
        yield circle(0.0, 0.0, radius / scale, width_mm=FINE_MM, paint="grain")
    for (ax, ay), (bx, by) in end.splits:
        yield line(ax / scale, -ay / scale, bx / scale, -by / scale, width_mm=FINE_MM, dashed=True)
    for billet in end.billets:
        outline = tuple(Point(x / scale, -y / scale) for x, y in billet.corners)
        yield Stroke(outline, closed=True, filled=True, paint="blank")
        yield Stroke(outline, width_mm=FINE_MM, closed=True)
        for a, b in billet.radial:
            yield Stroke((outline[a], outline[b]), width_mm=STRONG_MM)
        size = min(NUMBER_MM, billet.side_mm / scale * 0.62)
        x, y = billet.middle
        yield _number(str(billet.number), x / scale, -y / scale, size)
    if end.pith_mm:
        yield from disc(end.pith_mm, "knot", FINE_MM)
