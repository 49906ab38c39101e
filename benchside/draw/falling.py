"""Moisture day by day: the weighings, the curve through them, and when the target is met."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import ceil, isfinite

from benchside.draw import svg
from benchside.errors import OutOfRange

LEFT_PX, RIGHT_PX, TOP_PX, FOOT_PX = 40.0, 12.0, 14.0, 44.0
POINTS = 60  # of the curve
LONGEST_AHEAD = 4.0  # judgement: times the first day it may be dry, drawn at most


def falling(
    days: Sequence[float],
    moistures: Sequence[float],
    *,
    target: float,
    target_words: str,
    curve: Callable[[float], float] | None = None,
    curve_from: float = 0.0,
    low_day: float | None = None,
    high_day: float | None = None,
    air: float | None = None,
    air_words: str = "",
    axis_words: str = "",
    width: float,
    height: float,
    label: str,
) -> str:
    """The weighings of one piece over days, with the range in which it is dry. [days, %, px]

    ``curve`` gives the moisture on a day by the fitted law; the band from ``low_day`` to
    ``high_day`` (endless: to the edge) says when. ``air`` draws the balance with the room.
    Raises `OutOfRange` for a figure that is none.
    """
    if not days or not all(isfinite(v) for v in (*days, *moistures, target)):
        raise OutOfRange("A weighing has a day and a moisture.", field="mass")
    last = max(days[-1], 1.0)
    end = last * 1.15
    if high_day is not None and low_day is not None:
        reach = high_day if isfinite(high_day) else low_day * 1.5
        end = max(end, min(reach, LONGEST_AHEAD * max(last, low_day)) * 1.08)
    top = max(*moistures, target) * 1.06
    field = _Field(end, top, width - RIGHT_PX, height - FOOT_PX)
    parts = [svg.opening("falling", width, height, label)]
    if low_day is not None and high_day is not None:
        left, right = field.x(min(low_day, end)), field.x(min(high_day, end))
        parts.append(
            f'<rect class="band" x="{svg.number(left)}" y="{svg.number(TOP_PX)}"'
            f' width="{svg.number(max(right - left, 2.0))}"'
            f' height="{svg.number(field.foot - TOP_PX)}"/>'
        )
    parts.append(_scale(field, axis_words))
    parts.append(_level("target", field, target, target_words, above=True))
    if air is not None:
        parts.append(_level("usual", field, air, air_words, above=False))
    if curve is not None:
        at = [curve_from + (end - curve_from) * i / POINTS for i in range(POINTS + 1)]
        line = "L".join(svg.point(field.x(d), field.y(curve(d))) for d in at)
        parts.append(f'<path class="trace" d="M{line}"/>')
    dots = "".join(
        f"M{svg.point(field.x(d), field.y(m))}h0" for d, m in zip(days, moistures, strict=True)
    )
    parts.append(f'<path class="dots" stroke-width="9" d="{dots}"/></svg>')
    return "".join(parts)


class _Field:
    """Where a day and a moisture stand in the picture."""

    def __init__(self, end: float, top: float, right: float, foot: float) -> None:
        self.end, self.top, self.right, self.foot = end, top, right, foot

    def x(self, day: float) -> float:
        return LEFT_PX + (self.right - LEFT_PX) * day / self.end

    def y(self, moisture: float) -> float:
        share = min(max(moisture / self.top, 0.0), 1.0)
        return self.foot - (self.foot - TOP_PX) * share


def _level(name: str, field: _Field, moisture: float, words: str, *, above: bool) -> str:
    y = field.y(moisture)
    text_y = y - 6 if above else y + svg.FONT_PX + 2
    return (
        f'<path class="{name}" d="M{svg.point(LEFT_PX, y)}H{svg.number(field.right)}"/>'
        f'<text font-size="{svg.number(svg.FONT_PX)}" x="{svg.number(LEFT_PX + 4)}"'
        f' y="{svg.number(text_y)}">{svg.words(words)}</text>'
    )


def _scale(field: _Field, axis_words: str) -> str:
    every_day = max(1, ceil(field.end / 8))
    days = range(0, int(field.end) + 1, every_day)
    every = 5 if field.top < 40 else 10 if field.top < 90 else 20
    percents = range(0, int(field.top) + 1, every)
    feet = "".join(
        f'<text x="{svg.number(field.x(d))}" y="{svg.number(field.foot + 18)}">{d}</text>'
        for d in days
    )
    sides = "".join(
        f'<text x="{svg.number(LEFT_PX - 6)}" y="{svg.number(field.y(p) + 5)}"'
        f' text-anchor="end">{p}</text>'
        for p in percents
    )
    lines = "".join(
        f"M{svg.point(LEFT_PX, field.y(p))}H{svg.number(field.right)}" for p in percents
    )
    return (
        f'<path class="scale-line" d="{lines}"/>'
        f'<g class="scale" font-size="{svg.number(svg.FONT_PX)}" text-anchor="middle">{feet}'
        f'<text x="{svg.number((LEFT_PX + field.right) / 2)}"'
        f' y="{svg.number(field.foot + 38)}">{svg.words(axis_words)}</text>{sides}</g>'
    )
