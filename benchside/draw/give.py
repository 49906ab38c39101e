"""How much the work gives along its length, as SVG text that stands under its drawing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import NamedTuple

from benchside.draw import svg
from benchside.draw.spindle import View
from benchside.errors import OutOfRange

HEADROOM = 1.15  # judgement: of the larger of the limit and the largest give
FARTHEST = 6.0  # judgement: limits; what gives more is drawn at the foot
TOP_PX = 8.0
ANCHOR_END = ' text-anchor="end"'


class GiveLabels(NamedTuple):
    """The words: what a screen reader hears, the limit's figure, the largest give's."""

    title: str
    limit: str
    most: str


@dataclass(frozen=True, slots=True)
class Give:
    """Give along the piece, at rising places; ``left_mm`` with the steady that stands. [mm]"""

    x_mm: Sequence[float]
    bare_mm: Sequence[float]
    left_mm: Sequence[float] | None
    limit_mm: float
    cut_mm: Sequence[tuple[float, float]]
    steady_mm: float | None


def give_chart(
    give: Give, seen: View, *, height_px: float, labels: GiveLabels, font_px: float = svg.FONT_PX
) -> str:
    """The give hangs from the axis, to the scale of the drawing above it along the length.

    What is left with the steady is filled; the give without it is dashed beside it, or filled
    where there is none. The limit is a line with its figure; what is being cut is shaded. Give
    beyond six limits is drawn at the foot. [mm, px]

    Raises `OutOfRange` for a limit not above 0 and a give that is no number.
    """
    if not (isfinite(give.limit_mm) and give.limit_mm > 0):
        raise OutOfRange("A limit is above 0.", field="limit_mm")
    if not all(isfinite(v) for v in (*give.x_mm, *give.bare_mm, *(give.left_mm or ()))):
        raise OutOfRange("A give is not a number.", field="give_mm")
    foot = height_px - 1.4 * font_px
    most = min(max(*give.bare_mm, give.limit_mm), FARTHEST * give.limit_mm) * HEADROOM
    scale = (foot - TOP_PX) / most

    def y(mm: float) -> float:
        return TOP_PX + min(mm * scale, foot - TOP_PX)

    def line(values: Sequence[float]) -> str:
        points = (
            svg.point(seen.scale.x(x), y(mm)) for x, mm in zip(give.x_mm, values, strict=True)
        )
        return "M" + "L".join(points)

    ends = sorted((seen.scale.x(give.x_mm[0]), seen.scale.x(give.x_mm[-1])))
    left, right = (svg.number(x) for x in ends)
    shown = give.bare_mm if give.left_mm is None else give.left_mm
    over = max(shown) > give.limit_mm
    return (
        svg.opening("give", seen.width_px, height_px, labels.title)
        + "".join(_cut(seen, span, foot) for span in give.cut_mm)
        + f'<path class="{"hangs over-limit" if over else "hangs"}" d="{line(shown)}z"/>'
        + ("" if give.left_mm is None else f'<path class="bare" d="{line(give.bare_mm)}"/>')
        + f'<path class="axis-line" d="M{left} {svg.number(TOP_PX)}H{right}"/>'
        + _limit(give, seen, y(give.limit_mm), labels.limit, font_px)
        + _most(give, seen, y, labels.most, height_px, font_px)
        + _steady_line(seen, give.steady_mm, foot)
        + "</svg>"
    )


def _cut(seen: View, span: tuple[float, float], foot: float) -> str:
    low, high = sorted(seen.scale.x(mm) for mm in span)
    return (
        f'<path class="cutting" d="M{svg.number(low)} 0H{svg.number(high)}'
        f'V{svg.number(foot)}H{svg.number(low)}z"/>'
    )


def _limit(give: Give, seen: View, y: float, label: str, font_px: float) -> str:
    """The limit's line, its figure at the end that is farther from the steady, or from the most."""
    ends = sorted((seen.scale.x(give.x_mm[0]), seen.scale.x(give.x_mm[-1])))
    most = give.x_mm[max(range(len(give.bare_mm)), key=lambda k: give.bare_mm[k])]
    busy = seen.scale.x(most if give.steady_mm is None else give.steady_mm)
    at_right = busy < sum(ends) / 2
    return (
        f'<path class="limit" d="M{svg.number(ends[0])} {svg.number(y)}H{svg.number(ends[1])}"/>'
        f'<text class="said" x="{svg.number(ends[at_right])}" y="{svg.number(y + 1.05 * font_px)}"'
        f' font-size="{svg.number(font_px)}"{ANCHOR_END if at_right else ""}>'
        f"{svg.words(label)}</text>"
    )


def _most(
    give: Give, seen: View, y: Callable[[float], float], label: str, height: float, font_px: float
) -> str:
    """A tick at the place that gives most, its figure at the foot."""
    i = max(range(len(give.bare_mm)), key=lambda k: give.bare_mm[k])
    x = seen.scale.x(give.x_mm[i])
    half = svg.word_width_px(label, font_px) / 2
    at = min(max(x, half), seen.width_px - half)
    foot = svg.number(height - 1.2 * font_px)
    return (
        f'<path class="most" d="M{svg.point(x, y(give.bare_mm[i]))}V{foot}"/>'
        f'<text class="said" x="{svg.number(at)}" y="{svg.number(height - 0.2 * font_px)}"'
        f' font-size="{svg.number(font_px)}" text-anchor="middle">{svg.words(label)}</text>'
    )


def _steady_line(seen: View, steady_mm: float | None, foot: float) -> str:
    if steady_mm is None:
        return ""
    x = seen.scale.x(steady_mm)
    return f'<path class="stands" d="M{svg.number(x)} 0V{svg.number(foot)}"/>'
