"""Readings at one place along the order of turning, as SVG text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Literal, NamedTuple

from benchside.draw import svg
from benchside.errors import OutOfRange

Mark = Literal["within", "over", "under"]

ROOM_ROUND_BAND = 1.35  # judgement: the least height shown, in half-widths of the tolerance
FARTHEST_SHOWN = 8.0  # judgement: a slip of the keys must not flatten all the others
CLOSEST_TRACED_PX = 2.0  # judgement: nearer readings than this make a smear of the line
RIGHT_PX = 14.0
EDGE_PX = 13.0


class ChartPoint(NamedTuple):
    """One piece in the order of turning. ``value_mm`` is None where there is no reading."""

    number: int
    value_mm: float | None
    mark: Mark = "within"
    odd: bool = False


class ChartLabels(NamedTuple):
    """The words, in the maker's unit: what a screen reader hears, and the three lines' figures."""

    title: str
    target: str
    upper: str
    lower: str


@dataclass(frozen=True, slots=True)
class _Field:
    """Where piece i and a size lie in the picture."""

    left: float
    right: float
    top: float
    bottom: float
    target_mm: float
    reach_mm: float
    count: int

    @property
    def pitch(self) -> float:
        return (self.right - self.left) / max(self.count, 1)

    def x(self, i: int) -> float:
        return self.left + (i + 0.5) * self.pitch

    def y(self, value_mm: float) -> float:
        share = (value_mm - self.target_mm) / self.reach_mm
        middle, half = (self.top + self.bottom) / 2, (self.bottom - self.top) / 2
        return middle - max(min(share, 1.0), -1.0) * half


def station_chart(
    points: Sequence[ChartPoint],
    *,
    target_mm: float,
    tolerance_mm: float,
    width: float,
    height: float,
    labels: ChartLabels,
    usual_mm: tuple[float, float] | None = None,
    font_px: float = svg.FONT_PX,
) -> str:
    """Readings joined in the order given, over the target line and the band of its tolerance.

    A reading within is a dot, one over a triangle pointing up, one under a triangle pointing down;
    an odd piece has a ring and a bold number. Numbers are thinned where they would touch, never
    the first, the last or an odd one. A reading farther out than eight times the tolerance is
    drawn at the edge. ``usual_mm``, two sizes that single pieces usually lie between, are dotted
    lines where they lie within the picture. [mm, px]

    Raises `OutOfRange` for a target, tolerance or reading that is no number.
    """
    if not (isfinite(target_mm) and isfinite(tolerance_mm) and tolerance_mm > 0):
        raise OutOfRange("A target and a tolerance above 0 are needed.", field="tolerance_mm")
    if not all(p.value_mm is None or isfinite(p.value_mm) for p in points):
        raise OutOfRange("A reading is not a number.", field="value_mm")
    farthest = max(
        (abs(p.value_mm - target_mm) for p in points if p.value_mm is not None), default=0
    )
    reach = tolerance_mm * min(max(ROOM_ROUND_BAND, 1.12 * farthest / tolerance_mm), FARTHEST_SHOWN)
    words = (labels.target, labels.upper, labels.lower)
    left = max(svg.word_width_px(text, font_px) for text in words) + 10
    bottom = height - 1.5 * font_px - EDGE_PX
    field = _Field(left, width - RIGHT_PX, EDGE_PX, bottom, target_mm, reach, len(points))
    return (
        svg.opening("chart", width, height, labels.title)
        + _band(field, tolerance_mm)
        + _usual(field, usual_mm or ())
        + _scale(field, tolerance_mm, labels, font_px)
        + _trace(field, points)
        + _markers(field, points)
        + _numbers(field, points, height - 0.4 * font_px, font_px)
        + "</svg>"
    )


def _band(field: _Field, tolerance_mm: float) -> str:
    left, right = svg.number(field.left), svg.number(field.right)
    upper, lower = (field.y(field.target_mm + s * tolerance_mm) for s in (1, -1))
    target = svg.number(field.y(field.target_mm))
    return (
        f'<path class="band" d="M{left} {svg.number(upper)}H{right}V{svg.number(lower)}H{left}z"/>'
        f'<path class="limit" d="M{left} {svg.number(upper)}H{right}'
        f'M{left} {svg.number(lower)}H{right}"/>'
        f'<path class="target" d="M{left} {target}H{right}"/>'
    )


def _usual(field: _Field, sizes_mm: Sequence[float]) -> str:
    left, right = svg.number(field.left), svg.number(field.right)
    path = "".join(
        f"M{left} {svg.number(field.y(mm))}H{right}"
        for mm in sizes_mm
        if abs(mm - field.target_mm) < field.reach_mm
    )
    return f'<path class="usual" d="{path}"/>' if path else ""


def _scale(field: _Field, tolerance_mm: float, labels: ChartLabels, font_px: float) -> str:
    """The figures at the three lines; the limits give way where the band is narrow."""
    half = abs(field.y(field.target_mm + tolerance_mm) - field.y(field.target_mm))
    apart = max(half, 1.05 * font_px)
    middle = field.y(field.target_mm)
    lines = (
        (labels.upper, middle - apart),
        (labels.target, middle),
        (labels.lower, middle + apart),
    )
    texts = "".join(
        f'<text x="{svg.number(field.left - 8)}" y="{svg.number(y + 0.35 * font_px)}">'
        f"{svg.words(text)}</text>"
        for text, y in lines
    )
    return f'<g class="scale" font-size="{svg.number(font_px)}" text-anchor="end">{texts}</g>'


def _trace(field: _Field, points: Sequence[ChartPoint]) -> str:
    """The line from reading to reading, broken where there is none; left out in a throng."""
    if field.pitch < CLOSEST_TRACED_PX:
        return ""
    path, pen = [], "M"
    for i, p in enumerate(points):
        if p.value_mm is None:
            pen = "M"
            continue
        path.append(f"{pen}{svg.point(field.x(i), field.y(p.value_mm))}")
        pen = "L"
    thickness = svg.number(min(2.0, max(0.8, field.pitch / 8)))
    return f'<path class="trace" stroke-width="{thickness}" d="{"".join(path)}"/>' if path else ""


def _markers(field: _Field, points: Sequence[ChartPoint]) -> str:
    size = min(6.5, max(2.0, field.pitch / 2.4))
    placed = [
        (field.x(i), field.y(p.value_mm), p) for i, p in enumerate(points) if p.value_mm is not None
    ]
    dots = "".join(f"M{svg.point(x, y)}h0" for x, y, p in placed if p.mark == "within")
    tall, ring = max(size, 3.2), svg.number(size + 5)
    over = "".join(_triangle(x, y, tall, -1) for x, y, p in placed if p.mark == "over")
    under = "".join(_triangle(x, y, tall, 1) for x, y, p in placed if p.mark == "under")
    rings = "".join(
        f'<circle class="odd" r="{ring}" cx="{svg.number(x)}" cy="{svg.number(y)}"/>'
        for x, y, p in placed
        if p.odd
    )
    return (
        (f'<path class="dots" stroke-width="{svg.number(size * 1.5)}" d="{dots}"/>' if dots else "")
        + (f'<path class="over" d="{over}"/>' if over else "")
        + (f'<path class="under" d="{under}"/>' if under else "")
        + rings
    )


def _triangle(x: float, y: float, size: float, down: int) -> str:
    """A triangle whose middle is the reading, pointing down (+1) or up (-1)."""
    side, tall = svg.number(1.15 * size), svg.number(-2 * size * down)
    tip = svg.point(x, y + down * 1.1 * size)
    return f"M{tip}l{side} {tall}h{svg.number(-2.3 * size)}z"


def _numbers(field: _Field, points: Sequence[ChartPoint], y: float, font_px: float) -> str:
    texts = "".join(
        f'<text x="{svg.number(field.x(i))}"{_weight(points[i])}>{points[i].number}</text>'
        for i in _numbered(field, points, font_px)
    )
    size, at = svg.number(font_px), f"translate(0 {svg.number(y)})"
    return (
        f'<g class="numbers" font-size="{size}" text-anchor="middle" transform="{at}">{texts}</g>'
    )


def _weight(p: ChartPoint) -> str:
    return ' class="odd-number"' if p.odd else ""


def _numbered(field: _Field, points: Sequence[ChartPoint], font_px: float) -> list[int]:
    """Which pieces get their number: odd ones first, then the ends, then as many as fit evenly."""
    last = len(points) - 1
    widths = [svg.word_width_px(str(p.number), font_px) + 6 for p in points]
    step = 1
    for candidate in (1, 2, 5, 10, 20, 25, 50, 100):
        step = candidate
        if candidate * field.pitch >= max(widths, default=0.0):
            break
    odd = [i for i, p in enumerate(points) if p.odd]
    regular = [i for i, p in enumerate(points) if p.number % step == 0]
    chosen: list[int] = []
    for i in [*odd, 0, last, *regular]:
        clear = all(abs(i - j) * field.pitch >= (widths[i] + widths[j]) / 2 for j in chosen)
        if 0 <= i <= last and clear and i not in chosen:
            chosen.append(i)
    return sorted(chosen)
