"""Tenons and holes as pictures: the mouth of a hole, a joint through the year, what a tree shrinks.

All as SVG text; colours and line kinds are the stylesheet's.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import cos, isfinite, radians, sin
from typing import NamedTuple

from benchside.draw import svg
from benchside.errors import OutOfRange

MOUTH_PX = 200.0
TENON_PX = 66.0  # its radius
RINGS, RAYS = 5, 3
LINE_GAP_PX = 12.0
LEAST_REACH_MM = 0.1  # judgement: less than that is drawn no larger
NAME_PX = 15.0


class YearLabels(NamedTuple):
    """The words of a year's chart: what a screen reader hears, the two lines, the three marks on
    the left (tight, nothing, slack) and the months under it."""

    title: str
    along: str
    across: str
    tight: str
    nothing: str
    slack: str
    driest: str
    dampest: str


class Believed(NamedTuple):
    """One direction of a tree's shrinkage: the handbook's, what is believed, what pieces showed."""

    name: str
    book: float
    percent: float
    low: float
    high: float
    seen: Sequence[float]


def mouth(ring_deg: float, label: str, grain: str) -> str:
    """A tenon's end in the mouth of its hole. ``grain`` stands on the part's grain. [degrees]

    The part's grain runs from left to right; the rays of the tenon lie at ``ring_deg`` to it, its
    rings square to them, and the pencil dot stands where the rays reach the edge.
    Raises `OutOfRange` for an angle that is none.
    """
    if not isfinite(ring_deg):
        raise OutOfRange("The turning of the tenon is no angle.", field="ring_deg")
    middle = MOUTH_PX / 2
    wide = MOUTH_PX * 1.5
    lines = "".join(
        f"M0 {svg.number(y)}H{svg.number(wide)}"
        for y in (LINE_GAP_PX * (n + 0.5) for n in range(int(MOUTH_PX // LINE_GAP_PX)))
    )
    x, y = wide / 2, middle
    reach, angle = TENON_PX - 11, radians(ring_deg)
    return (
        svg.opening("mouth", wide, MOUTH_PX, label)
        + f'<path class="part-face" d="M0 0H{svg.number(wide)}V{svg.number(MOUTH_PX)}H0z"/>'
        + f'<path class="part-grain" d="{lines}"/>'
        + f'<circle class="part-hole" cx="{svg.number(x)}" cy="{svg.number(y)}"'
        + f' r="{svg.number(TENON_PX + 3)}"/>'
        + f'<g transform="translate({svg.point(x, y)})">'
        + f'<circle class="tenon-end" r="{svg.number(TENON_PX)}"/>'
        + f'<g transform="rotate({svg.number(-ring_deg)})">'
        + f'<path class="tenon-rings" d="{_rings()}"/><path class="tenon-rays" d="{_rays()}"/></g>'
        + f'<circle class="tenon-dot" r="6" cx="{svg.number(reach * cos(angle))}"'
        + f' cy="{svg.number(-reach * sin(angle))}"/>'
        + "</g>"
        + f'<text class="on-part" x="10" y="{svg.number(MOUTH_PX - 8)}"'
        + f' font-size="{svg.number(NAME_PX)}">{svg.words(grain)}</text></svg>'
    )


def _rings() -> str:
    """Chords of the end, bowed as rings are, square to the rays (which lie along x)."""
    path = ""
    for n in range(1, RINGS + 1):
        x = TENON_PX * (2 * n / (RINGS + 1) - 1)
        half = (TENON_PX**2 - x**2) ** 0.5 * 0.94
        path += f"M{svg.point(x, -half)}Q{svg.point(x + 9, 0)} {svg.point(x, half)}"
    return path


def _rays() -> str:
    """A few rays between the rings."""
    path = ""
    for n in range(1, RAYS + 1):
        y = TENON_PX * (2 * n / (RAYS + 1) - 1)
        half = (TENON_PX**2 - y**2) ** 0.5 * 0.7
        path += f"M{svg.point(-half, y)}H{svg.number(half)}"
    return path


def year_chart(
    along_mm: Sequence[float],
    across_mm: Sequence[float],
    *,
    split_mm: float,
    loose_mm: float,
    width: float,
    height: float,
    labels: YearLabels,
    font_px: float = svg.FONT_PX,
) -> str:
    """Interference month by month, along the part's grain (whole line) and across it (dashed).

    Over the band it is tight enough to split (``split_mm``), under it loose (``loose_mm``); the
    thin line is a tenon that just fills its hole. The first month is drawn again at the end.
    [mm, px] Raises `OutOfRange` for figures that are none, or for years of unlike length.
    """
    every = [*along_mm, *across_mm, split_mm, loose_mm]
    if not (all(map(isfinite, every)) and len(along_mm) == len(across_mm) > 0):
        raise OutOfRange("A year has as many figures for each line.", field="along_mm")
    top = max(*every, LEAST_REACH_MM) * 1.12
    low = min(*every, -LEAST_REACH_MM) - 0.12 * top
    left = max(svg.word_width_px(word, font_px) for word in labels[3:6]) + 8
    right, foot = width - 8, height - 2.2 * font_px
    months = len(along_mm)

    def x(month: int) -> str:
        return svg.number(left + month / months * (right - left))

    def y(mm: float) -> float:
        return 6 + (top - mm) / (top - low) * (foot - 6)

    def line(values: Sequence[float]) -> str:
        points = [f"{x(i)} {svg.number(y(mm))}" for i, mm in enumerate([*values, values[0]])]
        return "M" + "L".join(points)

    marks = [(labels.tight, y(split_mm)), (labels.nothing, y(0.0)), (labels.slack, y(loose_mm))]
    if abs(loose_mm) < 1e-9:
        marks.pop()
    edge = f"M{svg.number(left)} "
    band = (
        f"{edge}{svg.number(y(split_mm))}H{svg.number(right)}V{svg.number(y(loose_mm))}"
        f"H{svg.number(left)}z"
    )
    return (
        svg.opening("year", width, height, labels.title)
        + f'<path class="band" d="{band}"/>'
        + f'<path class="nothing" d="{edge}{svg.number(y(0.0))}H{svg.number(right)}"/>'
        + f'<path class="along" d="{line(along_mm)}"/>'
        + f'<path class="across" d="{line(across_mm)}"/>'
        + _marks(marks, left, foot, font_px)
        + _months(labels, left, right, height, font_px)
        + "</svg>"
    )


def _marks(marks: Sequence[tuple[str, float]], left: float, foot: float, font_px: float) -> str:
    heights = sorted(y for _, y in marks)
    placed = svg.spread(heights, [1.15 * font_px] * len(marks), 0.0, foot + font_px)
    ordered = sorted(marks, key=lambda mark: mark[1])
    texts = "".join(
        f'<text x="{svg.number(left - 6)}" y="{svg.number(y + 0.35 * font_px)}">'
        f"{svg.words(word)}</text>"
        for (word, _), y in zip(ordered, placed, strict=True)
    )
    return f'<g class="scale" font-size="{svg.number(font_px)}" text-anchor="end">{texts}</g>'


def _months(labels: YearLabels, left: float, right: float, height: float, font_px: float) -> str:
    y = svg.number(height - 0.7 * font_px)
    middle = svg.number((left + right) / 2)
    return (
        f'<g class="scale" font-size="{svg.number(font_px)}">'
        f'<text x="{svg.number(left)}" y="{y}">{svg.words(labels.driest)}</text>'
        f'<text x="{middle}" y="{y}" text-anchor="middle">{svg.words(labels.dampest)}</text>'
        f'<text x="{svg.number(right)}" y="{y}" text-anchor="end">{svg.words(labels.driest)}</text>'
        "</g>"
    )


def believed(rows: Sequence[Believed], label: str, *, width: float = 340.0) -> str:
    """What a tree shrinks beside the handbook, a row a direction, on one scale from nothing up.

    The bar is where it lies 19 times in 20, its dot the most likely; the diamond is the handbook,
    small strokes are the pieces. [percent, px] Raises `OutOfRange` for figures that are none.
    """
    every = [mm for row in rows for mm in (row.book, row.percent, row.low, row.high, *row.seen)]
    if not (rows and all(map(isfinite, every))):
        raise OutOfRange("A shrinkage is no number.", field="percent")
    most = max(1.0, *every) * 1.05
    least = min(0.0, *every)
    tall = 62.0
    height = tall * len(rows) + 22

    def x(percent: float) -> float:
        return 12 + (percent - least) / (most - least) * (width - 24)

    step = next(s for s in (1, 2, 5, 10) if most / s <= 8)
    ticks = [float(p) for p in range(0, int(most) + 1, step)]
    foot = svg.number(height - 18)
    scale = "".join(f"M{svg.number(x(p))} {foot}v-5" for p in ticks)
    figures = "".join(
        f'<text x="{svg.number(x(p))}" y="{svg.number(height - 2)}">{p:g}</text>' for p in ticks
    )
    return (
        svg.opening("believed", width, height, label)
        + "".join(_believed(row, x, tall * n) for n, row in enumerate(rows))
        + f'<path class="foot-line" d="M{svg.number(x(least))} {foot}'
        + f'H{svg.number(x(most))}{scale}"/>'
        + f'<g class="scale" font-size="14" text-anchor="middle">{figures}</g></svg>'
    )


def _believed(row: Believed, x: Callable[[float], float], top: float) -> str:
    y = top + 38
    seen = "".join(f"M{svg.point(x(p), y - 11)}v22" for p in row.seen)
    book = x(row.book)
    return (
        f'<text x="12" y="{svg.number(top + 16)}" font-size="{svg.number(NAME_PX)}">'
        f"{svg.words(row.name)}</text>"
        f'<path class="believed-bar" d="M{svg.point(x(row.low), y)}H{svg.number(x(row.high))}"/>'
        + (f'<path class="believed-seen" d="{seen}"/>' if seen else "")
        + f'<path class="believed-book" d="M{svg.point(book, y - 9)}l9 9l-9 9l-9-9z"/>'
        + f'<circle class="believed-dot" r="5.5" cx="{svg.number(x(row.percent))}"'
        + f' cy="{svg.number(y)}"/>'
    )
