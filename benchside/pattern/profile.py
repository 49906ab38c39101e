"""The curve of a pattern. Pure geometry, in millimetres."""

from __future__ import annotations

from dataclasses import dataclass
from math import asin, hypot, pi, sqrt
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from benchside.pattern.shapes import Pattern


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

    Beyond it the circle would overhang an end: there the rise passes half the chord. With d the
    difference of the ends in radius it is (L - d)^2 / (2 L) in radius, and nothing when d >= L.
    At d = L a quarter circle still fits, its crown on the larger end; beyond it no circle does.
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


def arcs(pattern: Pattern) -> tuple[Arc | None, ...]:
    """The circle of each bead and cove; None for the other sections."""
    found: list[Arc | None] = []
    for i, section in enumerate(pattern.sections):
        start, end = pattern.stations[i], pattern.stations[i + 1]
        if section.form in ("bead", "cove") and section.through_mm is not None:
            found.append(
                arc_through(
                    end.at_mm - start.at_mm, start.diameter_mm, end.diameter_mm, section.through_mm
                )
            )
        else:
            found.append(None)
    return tuple(found)


def diameter_mm_at(
    pattern: Pattern, section_arcs: tuple[Arc | None, ...], x: npt.NDArray[np.float64]
) -> npt.NDArray[np.float64]:
    """Diameters at ``x``, which must lie on the spindle. [mm]"""
    at = np.array([s.at_mm for s in pattern.stations])
    diameter = np.array([s.diameter_mm for s in pattern.stations])
    found = np.interp(x, at, diameter)
    for i, section in enumerate(pattern.sections):
        inside = (x > at[i]) & (x < at[i + 1])
        arc = section_arcs[i]
        if section.form == "shoulder":
            found = np.where(inside, min(diameter[i], diameter[i + 1]), found)
        elif arc is not None:
            # Down from the extreme, not up from the centre, which lies far off for a flat arc.
            along = x - at[i] - arc.centre_mm
            reach = np.sqrt(np.maximum(arc.radius_mm**2 - along**2, 0.0))
            drop = along**2 / (arc.radius_mm + reach)
            found = np.where(inside, section.through_mm - 2 * arc.bulge * drop, found)
    return np.asarray(found, dtype=np.float64)


def volume_mm3(pattern: Pattern) -> float:
    """The wood in a finished spindle. [mm3]

    A straight or taper is a frustum, pi L (R^2 + R r + r^2) / 3; a shoulder a cylinder of its
    smaller diameter; a cove or bead the solid that its arc sweeps about the axis.
    """
    total = 0.0
    for i, (section, arc) in enumerate(zip(pattern.sections, arcs(pattern), strict=True)):
        length, start, end = _ends(pattern, i)
        if arc is not None and section.through_mm is not None:
            total += _swept_mm3(arc, length, section.through_mm / 2)
        elif section.form == "shoulder":
            total += pi * length * min(start, end) ** 2
        else:
            total += pi * length * (start**2 + start * end + end**2) / 3
    return total


def outline_mm(pattern: Pattern) -> float:
    """The length of the outline along one side, jumps at shoulders included. [mm]"""
    total = 0.0
    for i, (section, arc) in enumerate(zip(pattern.sections, arcs(pattern), strict=True)):
        length, start, end = _ends(pattern, i)
        if arc is not None:
            total += arc.radius_mm * (_angle(arc, length) - _angle(arc, 0.0))
        elif section.form == "shoulder":
            total += length + abs(start - end)
        else:
            total += hypot(length, start - end)
    return total


def _ends(pattern: Pattern, i: int) -> tuple[float, float, float]:
    """Length of section i and the radii of its two ends."""
    start, end = pattern.stations[i], pattern.stations[i + 1]
    return end.at_mm - start.at_mm, start.diameter_mm / 2, end.diameter_mm / 2


def _angle(arc: Arc, along_mm: float) -> float:
    """The angle at the circle's centre from the extreme to a place along the section."""
    return asin(min(1.0, max(-1.0, (along_mm - arc.centre_mm) / arc.radius_mm)))


def _swept_mm3(arc: Arc, length: float, extreme: float) -> float:
    """Volume under an arc. With y = e -+ s(u), s the drop from the extreme radius e, it is

    pi (e^2 L -+ 2 e S1 + S2), S1 and S2 the integrals of s and s^2 over the section.
    """
    first, second = _drops(arc, length)
    return pi * (extreme**2 * length - 2 * arc.bulge * extreme * first + second)


def _drops(arc: Arc, length: float) -> tuple[float, float]:
    """Integrals over the section of the drop s(u) = r - sqrt(r^2 - u^2) and of its square.

    In closed form a flat arc cancels to nothing, so there Gauss's rule with 20 points is used: up
    to u = r / 4 its error is below a double's last place.
    """
    r, low, high = arc.radius_mm, -arc.centre_mm, length - arc.centre_mm
    if max(abs(low), abs(high)) <= r / 4:
        nodes, weights = np.polynomial.legendre.leggauss(20)
        u = (low + high) / 2 + nodes * length / 2
        drop = u**2 / (r + np.sqrt(r**2 - u**2))
        return float(weights @ drop) * length / 2, float(weights @ drop**2) * length / 2

    def segment(u: float) -> float:
        u = min(r, max(-r, u))
        return (u * sqrt(r**2 - u**2) + r**2 * asin(u / r)) / 2

    reach = segment(high) - segment(low)
    cubes = (high**3 - low**3) / 3
    return r * length - reach, 2 * r**2 * length - 2 * r * reach - cubes


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
