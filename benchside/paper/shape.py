"""A pattern as a drawing for other programs: its outline closed, its axis, a line a station."""

from __future__ import annotations

from benchside.draw.finished import thickest_mm
from benchside.paper.marks import (
    FINE_MM,
    PLAIN_MM,
    Drawing,
    Mark,
    Point,
    Stroke,
    Words,
    line,
    upper_edge,
    whole_edge,
)
from benchside.pattern import Pattern

AROUND_MM = 5.0


def shape(pattern: Pattern, *, half: bool = False) -> Drawing:
    """The finished outline, full size, the datum end at the left at x = 5 mm. [mm]

    ``half`` gives the half over the axis, closed along it. Beads and coves are arcs.
    """
    thickest = thickest_mm(pattern)
    axis = AROUND_MM + thickest / 2
    if half:
        upper = upper_edge(pattern, axis, AROUND_MM)
        edge = (*upper, Point(upper[-1].x, axis), Point(upper[0].x, axis))
    else:
        edge = whole_edge(pattern, axis, AROUND_MM)
    length = pattern.length_mm
    marks: list[Mark] = [
        Stroke(edge, "outline", PLAIN_MM, closed=True),
        line(0, axis, length + 2 * AROUND_MM, axis, layer="centre", width_mm=FINE_MM, dashed=True),
    ]
    for station in pattern.stations:
        x, reach = AROUND_MM + station.at_mm, station.diameter_mm / 2
        low = axis if half else axis + reach
        marks.append(line(x, axis - reach, x, low, layer="station", width_mm=FINE_MM))
    foot = axis if half else axis + thickest / 2
    height = foot + AROUND_MM + 4
    marks.append(Words(pattern.name, AROUND_MM, height - 1.5, 3.0))
    return Drawing(length + 2 * AROUND_MM, height, tuple(marks))
