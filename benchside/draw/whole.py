"""The whole finished spindle as SVG text, true to scale, with labels and its length."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from benchside.draw import labels as lettering
from benchside.draw import svg
from benchside.draw.finished import (
    EDGE_PX,
    MARGIN_PX,
    Headstock,
    axis_line,
    datum_at_left,
    section_symbol,
    thickest_mm,
    wood,
)
from benchside.draw.outline import Scale
from benchside.errors import OutOfRange
from benchside.pattern import Pattern


def whole(
    pattern: Pattern,
    *,
    width: float,
    height: float = 0.0,
    labels: Sequence[tuple[float, str]] = (),
    length_text: str = "",
    title: str = "",
    thickness: int = 1,
    headstock: Headstock = "left",
    prefix: str = "w",
    font_px: float = svg.FONT_PX,
) -> str:
    """The finished spindle, true to scale, with labels led to their places and its length.

    ``labels`` are (mm from the datum end, words); they are spread so that none overlap, turned
    upright where they are many, on both sides where they are more, and thinned only where even
    that is too narrow. The drawing takes the height it needs, at least ``height``; a stout spindle
    is drawn smaller rather than as a tower. ``thickness`` 2 draws it twice as thick. [px]

    Raises `OutOfRange` for a label off the spindle.
    """
    thickest = thickest_mm(pattern)
    along = (width - 2 * MARGIN_PX) / pattern.length_mm
    along = min(along, max(0.35 * width, 0.4 * height) / (thickest * thickness))
    flip = datum_at_left(pattern, headstock)
    drawn = along * pattern.length_mm
    datum = (width - drawn) / 2 if flip else (width + drawn) / 2
    level = Scale(along, along * thickness, flip, datum)
    room = _lettering(pattern, level, labels, width, font_px)
    half, foot = level.half_px(thickest), 2.6 * font_px if length_text else 0.0
    content = room.above_px + 2 * half + room.below_px + foot + 2 * EDGE_PX
    high = max(height, content)
    axis_px = (high - content) / 2 + EDGE_PX + room.above_px + half
    scale = replace(level, axis_px=axis_px)
    placed = _lettering(pattern, scale, labels, width, font_px)
    sections = "".join(
        section_symbol(pattern, svg.prefix(prefix), scale, i) for i in range(len(pattern.sections))
    )
    uses = "".join(f'<use href="#{prefix}{i}"/>' for i in range(len(pattern.sections)))
    line = axis_px + half + placed.below_px + foot - 0.75 * font_px
    return (
        svg.opening("whole", width, high, title or pattern.name)
        + f"<defs>{wood(prefix, high)}{sections}</defs>{uses}{axis_line(pattern, scale, 14)}"
        + lettering.drawn(placed, axis_px - half, axis_px + half)
        + (_dimension(pattern, scale, line, length_text, font_px) if length_text else "")
        + "</svg>"
    )


def _lettering(
    pattern: Pattern,
    scale: Scale,
    labels: Sequence[tuple[float, str]],
    width_px: float,
    font_px: float,
) -> lettering.Lettering:
    for at_mm, text in labels:
        if not 0 <= at_mm <= pattern.length_mm:
            raise OutOfRange(f"{text}: {at_mm:g} mm is off the spindle.", field="at_mm")
    sizes = pattern.diameter_mm_at([at_mm for at_mm, _ in labels])
    wanted = [
        lettering.Wanted(scale.x(at_mm), scale.top(d), scale.bottom(d), text)
        for (at_mm, text), d in zip(labels, sizes.tolist(), strict=True)
    ]
    return lettering.arrange(wanted, width_px, font_px)


def _dimension(pattern: Pattern, scale: Scale, y: float, text: str, font_px: float) -> str:
    """The whole length as a line between two arrows, its words in the middle."""
    left, right = sorted((scale.x(0.0), scale.x(pattern.length_mm)))
    middle, gap = (left + right) / 2, 0.65 * svg.word_width_px(text, font_px) + 8
    ends = [scale.bottom(pattern.stations[i].diameter_mm) + 4 for i in (0, -1)]
    if left == scale.x(pattern.length_mm):
        ends.reverse()
    foot, level = svg.number(y + 6), svg.number(y)
    lines = (
        f"M{svg.point(left, ends[0])}V{foot}M{svg.point(right, ends[1])}V{foot}"
        f"M{svg.number(left)} {level}H{svg.number(max(middle - gap, left))}"
        f"M{svg.number(right)} {level}H{svg.number(min(middle + gap, right))}"
    )
    arrows = f"M{svg.number(left)} {level}l9-3v6zM{svg.number(right)} {level}l-9-3v6z"
    return (
        f'<path class="dimension" d="{lines}"/><path class="arrow" d="{arrows}"/>'
        f'<text class="label" font-size="{svg.number(font_px)}" text-anchor="middle"'
        f' x="{svg.number(middle)}" y="{svg.number(y + 0.35 * font_px)}">{svg.words(text)}</text>'
    )
