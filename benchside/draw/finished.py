"""A finished spindle's parts, for every drawing of one: its wood, its sections, its axis.

Colours come from classes (``static/drawing.css``), never from here.
"""

from __future__ import annotations

from typing import Literal

from benchside.draw import svg
from benchside.draw.outline import Scale, edges_of, outline
from benchside.pattern import Pattern

Headstock = Literal["left", "right"]

MARGIN_PX = 24.0  # room for the two centres beyond the ends
EDGE_PX = 4.0  # between a drawing and the edge of its picture
GRAIN_PX = 36.0  # after so much the lines of the grain begin again


def datum_at_left(pattern: Pattern, headstock: Headstock = "left") -> bool:
    """Whether positions run from the left of the drawing: the datum end is at the headstock's side.

    The headstock stands at the left as the maker sees it, so a datum at the tail centre is right.
    """
    return (pattern.datum_end == "drive") == (headstock == "left")


def thickest_mm(pattern: Pattern) -> float:
    """The greatest finished diameter anywhere on the pattern. [mm]"""
    crowns = [s.through_mm for s in pattern.sections if s.through_mm is not None]
    return max([s.diameter_mm for s in pattern.stations] + crowns)


def wood(prefix: str, height_px: float) -> str:
    """The paints of a finished surface: ``#PREFIXw`` shades it, ``#PREFIXv`` gives it grain."""
    tile = min(height_px, GRAIN_PX)
    waves = "".join(_wave(i) for i in range(int(tile / 6)))
    return (
        f'<linearGradient id="{prefix}w" x2="0" y2="1"><stop class="wood-rim"/>'
        '<stop class="wood-lit" offset=".3"/><stop class="wood-body" offset=".62"/>'
        '<stop class="wood-shade" offset="1"/></linearGradient>'
        f'<pattern id="{prefix}v" width="180" height="{svg.number(tile)}"'
        f' patternUnits="userSpaceOnUse"><path id="{prefix}n" class="grain" d="{waves}"/></pattern>'
    )


def section_symbol(pattern: Pattern, prefix: str, scale: Scale, i: int) -> str:
    """One finished section: its wood, the line where it begins, its two edges."""
    edge, crease = _joints(pattern, i, scale)
    closed = outline(pattern, i, i, scale)
    return (
        f'<g id="{prefix}{i}"><g fill="url(#{prefix}w)"><path id="{prefix}o{i}"'
        f' d="{closed}"/></g><use href="#{prefix}o{i}"'
        f' fill="url(#{prefix}v)"/>{crease}<path class="edge"'
        f' d="{edges_of(closed, pattern, i, scale)}{edge}"/></g>'
    )


def axis_line(pattern: Pattern, scale: Scale, beyond_px: float) -> str:
    """The line through both centres, running on beyond the ends."""
    left, right = sorted((scale.x(0.0), scale.x(pattern.length_mm)))
    return (
        f'<path class="axis" d="M{svg.point(left - beyond_px, scale.axis_px)}'
        f'H{svg.number(right + beyond_px)}"/>'
    )


def _wave(i: int) -> str:
    """One line of grain, 180 px long, that meets itself again; no two neighbours sway alike."""
    first = 60 + i * 37 % 61
    rest, bend = 180 - first, (2, -4, 3, -2, 4)[i % 5]
    back = -bend * rest / first
    return (
        f"M0 {3 + i * 6 + i * i % 4}c{svg.point(0.4 * first, bend)} {svg.point(0.6 * first, -bend)}"
        f" {first} 0s{svg.point(0.6 * rest, back)} {rest} 0"
    )


def _joints(pattern: Pattern, i: int, scale: Scale) -> tuple[str, str]:
    """The lines across a section's beginning: an end or a shoulder's wall as more of its edge,
    a crease as a path of its own."""
    start, end = pattern.stations[i], pattern.stations[i + 1]
    forms = {section.form for section in pattern.sections[max(i - 1, 0) : i + 1]}
    begins = _upright(scale, start.at_mm, start.diameter_mm)
    ends = _upright(scale, end.at_mm, end.diameter_mm) if i == len(pattern.sections) - 1 else ""
    if i == 0 or "shoulder" in forms:
        return begins + ends, ""
    return ends, f'<path class="crease" d="{begins}"/>'


def _upright(scale: Scale, at_mm: float, diameter_mm: float) -> str:
    top, bottom = scale.top(diameter_mm), scale.bottom(diameter_mm)
    return f"M{svg.point(scale.x(at_mm), top)}V{svg.number(bottom)}"
