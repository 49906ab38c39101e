"""The curve of a pattern. Pure geometry, in millimetres."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt
from typing import Literal

import numpy as np
import numpy.typing as npt

from benchside.pattern.stations import Section, Station


@dataclass(frozen=True, slots=True)
class Arc:
    """The circle of a bead (``bulge`` +1) or cove (-1), in the section's own coordinates.

    ``centre_mm`` lies along the axis from the section's first station, ``height_mm`` from the axis
    of the spindle; the circle has radius ``radius_mm``.
    """

    centre_mm: float
    height_mm: float
    radius_mm: float
    bulge: int


def arc_through(length_mm: float, start_mm: float, end_mm: float, through_mm: float) -> Arc:
    """The one circle through both ends whose extreme is the crown or root. Diameters in. [mm]

    With h the distance in radius from each end to the extreme and r the radius, the ends lie
    sqrt(2 r h - h^2) to either side of the centre (the sagitta relation); the two halves make up
    the section's length, which fixes r (see `_radius`).
    """
    bulge = 1 if through_mm >= max(start_mm, end_mm) else -1
    rise_start, rise_end = (abs(through_mm - d) / 2 for d in (start_mm, end_mm))
    radius = _radius(length_mm, rise_start, rise_end)
    centre = _half_chord(radius, rise_start)
    if rise_start > rise_end:  # the far half is then the better conditioned one
        centre = length_mm - _half_chord(radius, rise_end)
    return Arc(centre, through_mm / 2 - bulge * radius, radius, bulge)


def greatest_rise_mm(length_mm: float, start_mm: float, end_mm: float) -> float:
    """The most a crown may stand over the larger end (or a root under the smaller), in diameter.

    [mm] Beyond it the circle would overhang an end: there the rise passes half the chord. With d
    the difference of the ends in radius it is (L - d)^2 / (2 L) in radius, and nothing when
    d >= L. At d = L a quarter circle still fits, its crown on the larger end; beyond it no circle
    does.
    """
    difference = abs(start_mm - end_mm) / 2
    return 0.0 if difference >= length_mm else (length_mm - difference) ** 2 / length_mm


def through_limits_mm(
    form: Literal["bead", "cove"], length_mm: float, start_mm: float, end_mm: float
) -> tuple[float, float]:
    """The least and the greatest crown of a bead, or root of a cove, between those ends. [mm]"""
    rise_mm = greatest_rise_mm(length_mm, start_mm, end_mm)
    if form == "bead":
        edge_mm = max(start_mm, end_mm)
        return edge_mm, edge_mm + rise_mm
    edge_mm = min(start_mm, end_mm)
    return edge_mm - rise_mm, edge_mm


def arcs(stations: Sequence[Station], sections: Sequence[Section]) -> tuple[Arc | None, ...]:
    """The circle of each bead and cove, by section; None for the other sections."""
    ends = zip(stations, stations[1:], sections, strict=False)
    return tuple(_arc(start, end, section) for start, end, section in ends)


def diameter_mm_at(
    stations: Sequence[Station],
    sections: Sequence[Section],
    section_arcs: Sequence[Arc | None],
    x_mm: npt.NDArray[np.float64],
) -> npt.NDArray[np.float64]:
    """Diameters at ``x_mm``, which must lie on the spindle. [mm in, mm out, same shape]"""
    at = np.array([s.at_mm for s in stations])
    diameter = np.array([s.diameter_mm for s in stations])
    found = np.interp(x_mm, at, diameter)
    for i, section in enumerate(sections):
        inside = (x_mm > at[i]) & (x_mm < at[i + 1])
        arc = section_arcs[i]
        if section.form == "shoulder":
            found = np.where(inside, min(diameter[i], diameter[i + 1]), found)
        elif arc is not None:
            # Down from the extreme, not up from the centre, which lies far off for a flat arc.
            along = x_mm - at[i] - arc.centre_mm
            reach = np.sqrt(np.maximum(arc.radius_mm**2 - along**2, 0.0))
            drop = along**2 / (arc.radius_mm + reach)
            found = np.where(inside, section.through_mm - 2 * arc.bulge * drop, found)
    return np.asarray(found, dtype=np.float64)


def _arc(start: Station, end: Station, section: Section) -> Arc | None:
    if section.form not in ("bead", "cove") or section.through_mm is None:
        return None
    length_mm = end.at_mm - start.at_mm
    return arc_through(length_mm, start.diameter_mm, end.diameter_mm, section.through_mm)


def _half_chord(radius: float, rise: float) -> float:
    return sqrt(max(2 * radius * rise - rise**2, 0.0))


def _radius(length: float, rise_start: float, rise_end: float) -> float:
    """Radius of the circle with those rises over a chord of that length along the axis.

    With a, b the rises, L the length, S = a + b and c the chord, squaring the sagitta relation
    twice gives 4 (a - b)^2 r^2 - 4 S c^2 r + c^2 (L^2 + S^2) = 0. The smaller root has the extreme
    between the ends; it is written here so that equal rises need no special case.
    """
    total = rise_start + rise_end
    chord = hypot(length, rise_start - rise_end)
    below = 2 * (total * chord + 2 * length * sqrt(rise_start * rise_end))
    return chord * (length**2 + total**2) / below
