"""Bending in the neck of a back spindle while somebody leans on it: information, no clearance."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan, degrees, isfinite, pi

import numpy as np

from benchside.errors import OutOfRange
from benchside.lathe import parts
from benchside.pattern import Pattern
from benchside.units import length_told
from benchside.wood.strength import hankinson

# Bending strength across the grain over that along it, and the exponent of Hankinson's formula for
# bending: 0.04 to 0.10 and 1.5 to 2, from memory of the handbook's remarks on it; in between here.
ACROSS_SHARE, EXPONENT = 0.07, 1.75
THIN_SHARE = 1 / 3  # judgement: thinner than this beside the thickest place is spoken of
# Loads are borne again and again: for that, and for knots, short grain and what no table knows,
# a quarter of the strength of clear wood is called a working figure (judgement).
WORKING_SHARE = 0.25
_LOOKS = 400  # places between the tenons that are looked at


@dataclass(frozen=True, slots=True)
class Neck:
    """The place where a load at ``load_at_mm`` bends a spindle most. [mm, N mm, MPa]"""

    at_mm: float
    diameter_mm: float
    load_at_mm: float
    moment_nmm: float
    stress_mpa: float


def stress_mpa(moment_nmm: float, diameter_mm: float) -> float:
    """The bending stress at the surface of a solid round: 32 M / (pi d^3). [N mm, mm in, MPa out]

    The flexure formula. Raises `OutOfRange` for a moment below 0 or a diameter not above 0.
    """
    if not (isfinite(moment_nmm) and moment_nmm >= 0):
        raise OutOfRange("A bending moment is 0 or more.", field="moment_nmm")
    if not (isfinite(diameter_mm) and diameter_mm > 0):
        raise OutOfRange("A diameter is above 0.", field="diameter_mm")
    return 32 * moment_nmm / (pi * diameter_mm**3)


def neck(pattern: Pattern, load_n: float, at_mm: float | None = None) -> Neck:
    """Where one sideways load strains a finished spindle most, its tenons held but free to tilt.

    ``at_mm`` None: the load stands wherever it strains it most. Between two supports the moment
    under a load P at a and at any place nearer the one end is P b x / L. Glued tenons hold against
    tilting too, which eases the middle and strains the tenons. Raises `OutOfRange` for a load not
    above 0 and a place off the spindle.
    """
    if not (isfinite(load_n) and load_n > 0):
        raise OutOfRange("A load is a number of newtons above 0.", field="load_n")
    low, high = _between_tenons(pattern)
    span = high - low
    x = np.linspace(low, high, _LOOKS + 1)[1:-1]
    loads = x if at_mm is None else np.array([at_mm], dtype=np.float64)
    if not np.all((loads > low) & (loads < high)):
        raise OutOfRange(
            "The load stands between the tenons.",
            field="at_mm",
            hint=f"They leave {length_told(low)} to {length_told(high)} free.",
        )
    a, along = loads[:, None] - low, x - low
    moment = load_n * np.minimum(along * (span - a), a * (span - along)) / span
    stress = 32 * moment / (pi * pattern.diameter_mm_at(x) ** 3)
    load, place = np.unravel_index(int(np.argmax(stress)), stress.shape)
    return Neck(
        at_mm=float(x[place]),
        diameter_mm=float(pattern.diameter_mm_at(x[place])),
        load_at_mm=float(loads[load]),
        moment_nmm=float(moment[load, place]),
        stress_mpa=float(stress[load, place]),
    )


def strength_mpa(straight_mpa: float, run_mm: float | None = None) -> float:
    """Bending strength where the grain runs out 1 in ``run_mm`` (None: straight). [MPa]

    Hankinson's formula with 0.07 of the strength across the grain and an exponent of 1.75; at
    1 in 25, 20, 15, 10 and 5 it gives the shares of straight grain's strength that the handbook
    tabulates, 0.96, 0.93, 0.89, 0.81 and 0.55 [@wood-handbook-2021, Table 5-12], from memory, to
    within 0.01. Raises `OutOfRange` for a strength or a run not above 0.
    """
    if run_mm is None:
        return hankinson(straight_mpa, ACROSS_SHARE * straight_mpa, 0.0, EXPONENT)
    if not (isfinite(run_mm) and run_mm > 0):
        raise OutOfRange("The grain runs out 1 in so many: a number above 0.", field="grain")
    angle = degrees(atan(1 / run_mm))
    return hankinson(straight_mpa, ACROSS_SHARE * straight_mpa, angle, EXPONENT)


def thin_share(pattern: Pattern) -> float:
    """The thinnest place, tenons aside, over the thickest; 1 for a piece that is all tenon."""
    high = [p.diameter_mm for p in parts.high_places(pattern)]
    return parts.slenderness(pattern).least_mm / max(high) if high else 1.0


def weak_neck(pattern: Pattern) -> float | None:
    """That share where it is under `THIN_SHARE`; None where the neck is stout enough."""
    share = thin_share(pattern)
    return share if share < THIN_SHARE else None


def _between_tenons(pattern: Pattern) -> tuple[float, float]:
    """The free length: from the inner end of one tenon to that of the other."""
    tenon = parts.tenon_sections(pattern)
    low, high = 0, len(pattern.sections)
    while low in tenon:
        low += 1
    while high - 1 in tenon and high - 1 > low:
        high -= 1
    if low >= high:
        return 0.0, pattern.length_mm
    return pattern.stations[low].at_mm, pattern.stations[high].at_mm
