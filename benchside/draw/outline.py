"""The outline of a spindle as path data, at a scale. Pure geometry: millimetres in, pixels out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from benchside.draw.svg import number, point
from benchside.pattern import Pattern, profile


@dataclass(frozen=True, slots=True)
class Scale:
    """How millimetres along and across the spindle become pixels.

    ``datum_px`` is where the datum end lies and ``axis_px`` the height of the axis.
    ``flip`` is for a datum end at the left; otherwise it is at the right, as the tail-centre end
    is when the headstock stands at the maker's left.
    """

    px_per_mm_along: float
    px_per_mm_across: float
    flip: bool = False
    datum_px: float = 0.0
    axis_px: float = 0.0

    def x(self, at_mm: float) -> float:
        """Pixels from the left of the drawing to a place on the spindle."""
        along = at_mm * self.px_per_mm_along
        return self.datum_px + along if self.flip else self.datum_px - along

    def half_px(self, diameter_mm: float) -> float:
        """Pixels from the axis to the surface."""
        return diameter_mm / 2 * self.px_per_mm_across

    def top(self, diameter_mm: float) -> float:
        """Pixels from the top of the drawing to the upper surface."""
        return self.axis_px - self.half_px(diameter_mm)

    def bottom(self, diameter_mm: float) -> float:
        """Pixels from the top of the drawing to the lower surface."""
        return self.axis_px + self.half_px(diameter_mm)


class Corner(NamedTuple):
    """One corner of an outline, and how it is reached from the one before.

    A line where ``arc_mm`` is 0, else an arc of that radius; ``bulge`` +1 swells, -1 hollows.
    """

    at_mm: float
    diameter_mm: float
    arc_mm: float = 0.0
    bulge: int = 0


def corners(pattern: Pattern, first: int, last: int) -> list[Corner]:
    """The upper edge of sections ``first`` to ``last``, both included, from the datum end. [mm]

    The arc of a bead or cove is met in two halves that join at its crown or root, so that the
    extreme is exact however the numbers are rounded.
    """
    found: list[Corner] = []
    for i in range(first, last + 1):
        made = _section(pattern, i, pattern.arcs[i])
        found += made[1:] if found and found[-1][:2] == made[0][:2] else made
    return found


def _section(pattern: Pattern, i: int, arc: profile.Arc | None) -> list[Corner]:
    start, end = pattern.stations[i], pattern.stations[i + 1]
    begins_mm, ends_mm = pattern.ends_mm(i)
    ends = [Corner(start.at_mm, begins_mm), Corner(end.at_mm, ends_mm)]
    through_mm = pattern.sections[i].through_mm
    if arc is None or through_mm is None:
        return ends
    extreme = Corner(start.at_mm + arc.centre_mm, through_mm, arc.radius_mm, arc.bulge)
    return [ends[0], extreme, Corner(*ends[1][:2], arc.radius_mm, arc.bulge)]


def outline(pattern: Pattern, section_from: int, section_to: int, scale: Scale) -> str:
    """Closed path data, both halves, of sections ``section_from`` to ``section_to`` inclusive. [px]

    Beads and coves are true arcs of the pattern's own circles (of ellipses, where thickness is
    drawn at another scale than length).
    """
    upper = corners(pattern, section_from, section_to)
    down = _reached(upper[-1]._replace(arc_mm=0.0), scale, -1)
    return f"M{_run(upper, scale)}{down}{_back(upper, scale)}z"


def upper_edge(pattern: Pattern, section_from: int, section_to: int, scale: Scale) -> str:
    """Open path data of the upper edge of the same sections. [px]"""
    return f"M{_run(corners(pattern, section_from, section_to), scale)}"


def edges_of(closed: str, pattern: Pattern, section: int, scale: Scale) -> str:
    """The edges of one section in the letters of its closed `outline`, so that the two weigh as
    one where a page is packed; the lower edge is drawn back to the section's beginning."""
    down = _reached(corners(pattern, section, section)[-1]._replace(arc_mm=0.0), scale, -1)
    over, under = closed[:-1].rsplit(down, 1)
    return f"{over}M{down[1:]}{under}"


def _run(upper: list[Corner], scale: Scale) -> str:
    start = point(scale.x(upper[0].at_mm), scale.top(upper[0].diameter_mm))
    return start + "".join(_reached(corner, scale, 1) for corner in upper[1:])


def _back(upper: list[Corner], scale: Scale) -> str:
    """The lower edge from its far end to the datum end, after a pen already at the far end."""
    steps = []
    for nearer, farther in zip(upper[-2::-1], upper[:0:-1], strict=True):
        step = nearer._replace(arc_mm=farther.arc_mm, bulge=farther.bulge)
        # Reversed and mirrored: each turns the arc's sense about, so together they keep it.
        steps.append(_reached(step, scale, -1, sense=1))
    return "".join(steps)


def _reached(corner: Corner, scale: Scale, side: int, *, sense: int = 0) -> str:
    """The path command that draws to a corner on the upper (+1) or lower (-1) edge."""
    x = scale.x(corner.at_mm)
    y = scale.axis_px - side * scale.half_px(corner.diameter_mm)
    if not corner.arc_mm:
        return f"L{point(x, y)}"
    # On the screen y grows downward, so an upper edge drawn to the right over a bead turns
    # clockwise, which is sweep 1.
    clockwise = (corner.bulge > 0) == scale.flip
    if (sense or side) < 0:
        clockwise = not clockwise
    radii = point(
        corner.arc_mm * scale.px_per_mm_along,
        corner.arc_mm * scale.px_per_mm_across,
    )
    return f"A{radii} 0 0 {int(clockwise)} {point(x, y)}"


def bars(spans_px: Iterable[tuple[float, float]], top_px: float, bottom_px: float) -> str:
    """Path data of upright rectangles between two heights, one for each span of x. [px]"""
    height = number(bottom_px - top_px)
    return "".join(
        f"M{point(min(span), top_px)}h{number(abs(span[1] - span[0]))}v{height}"
        f"h{number(-abs(span[1] - span[0]))}z"
        for span in spans_px
    )
