"""A piece of turning as a beam: its outline, what holds it, and what cannot be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite, isinf, pi
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from benchside.errors import OutOfRange
from benchside.units import length_told

Floats: TypeAlias = npt.NDArray[np.float64]

MOST_STIFF = float("inf")
PINNED = 0.0  # held, and free to tilt
_OFF = 1e-9  # of the length: a place this little beyond an end is at the end


@dataclass(frozen=True, slots=True, eq=False)
class Work:
    """A round piece: diameters at places along it, straight in between. [mm, GPa, kg/m3]

    ``x_mm`` rises; a place that stands twice is a step in the diameter. ``modulus_gpa`` is the
    modulus of elasticity along the grain. Raises `OutOfRange` for anything else.
    """

    x_mm: Floats
    diameter_mm: Floats
    modulus_gpa: float
    density_kg_m3: float

    def __post_init__(self) -> None:
        x, diameter = (
            np.array(v, dtype=np.float64, ndmin=1) for v in (self.x_mm, self.diameter_mm)
        )
        _check_outline(x, diameter)
        for field in ("modulus_gpa", "density_kg_m3"):
            value = float(getattr(self, field))
            if not (isfinite(value) and value > 0):
                raise OutOfRange(f"It is above 0, not {value:g}.", field=field)
        object.__setattr__(self, "x_mm", x)
        object.__setattr__(self, "diameter_mm", diameter)

    @property
    def length_mm(self) -> float:
        """From the first place to the last."""
        return float(self.x_mm[-1] - self.x_mm[0])

    @property
    def rigidity_nmm2(self) -> float:
        """E pi / 64: times the fourth power of a diameter in mm it is E I. [N/mm2]"""
        return self.modulus_gpa * 1000.0 * pi / 64

    @property
    def mass_t_mm3(self) -> float:
        """rho pi / 4: times the square of a diameter it is the mass of a millimetre. [t/mm3]"""
        return self.density_kg_m3 * 1e-12 * pi / 4

    def diameter_mm_at(self, x_mm: npt.ArrayLike) -> Floats:
        """Diameters along the piece; at a step the one beyond it. [mm]"""
        x = np.asarray(x_mm, dtype=np.float64)
        i = self.interval(x)
        start, end = self.x_mm[i], self.x_mm[i + 1]
        share = (x - start) / (end - start)
        return self.diameter_mm[i] + share * (self.diameter_mm[i + 1] - self.diameter_mm[i])

    def interval(self, x_mm: Floats) -> npt.NDArray[np.intp]:
        """Between which two of its places each x lies: the number of the first."""
        inner = self.x_mm[1:-1]
        return np.searchsorted(inner, x_mm, side="right")


@dataclass(frozen=True, slots=True)
class Support:
    """What holds a piece at one place. [mm, N/mm, N mm per radian]

    A centre is stiff and lets the piece tilt; ``rotation_nmm_per_rad`` inf lets it not.
    """

    at_mm: float
    stiffness_n_per_mm: float = MOST_STIFF
    rotation_nmm_per_rad: float = PINNED

    def __post_init__(self) -> None:
        if not isfinite(self.at_mm):
            raise OutOfRange("A support stands somewhere along the piece.", field="at_mm")
        for field in ("stiffness_n_per_mm", "rotation_nmm_per_rad"):
            if not getattr(self, field) >= 0:
                raise OutOfRange("A stiffness is 0 or more.", field=field)


def yields(stiffness: float) -> float:
    """How far what is so stiff moves under one newton, or N mm; nothing where it is endless."""
    return 0.0 if isinf(stiffness) else 1.0 / stiffness


def checked_supports(work: Work, supports: Sequence[Support]) -> tuple[Support, ...]:
    """The supports, in order. Raises `OutOfRange` where one is off the piece or all hold nothing.

    It takes two that hold it sideways, or one that does and one that keeps it from tilting.
    """
    found = sorted(supports, key=lambda s: s.at_mm)
    for support in found:
        _on(work, support.at_mm, "A support", "supports")
    places = [s.at_mm for s in found if s.stiffness_n_per_mm > 0]
    if len(set(places)) < len(places):
        raise OutOfRange("Two supports stand at one place.", field="supports")
    tilts = not any(s.rotation_nmm_per_rad > 0 for s in found)
    if len(places) < 1 or (len(places) < 2 and tilts):
        raise OutOfRange(
            "Nothing holds the piece there.",
            field="supports",
            hint="It takes two centres, or one end held fast.",
        )
    return tuple(found)


def checked_places(work: Work, at_mm: npt.ArrayLike) -> Floats:
    """The places as an array. [mm] Raises `OutOfRange` for one that is off the piece."""
    at = np.asarray(at_mm, dtype=np.float64)
    for place in np.atleast_1d(at)[[0, -1]] if at.size else ():
        _on(work, float(place), "A place", "at_mm")
    if at.size > 2:
        for place in (float(at.min()), float(at.max())):
            _on(work, place, "A place", "at_mm")
    return at


def _check_outline(x: Floats, diameter: Floats) -> None:
    if x.ndim != 1 or x.shape != diameter.shape or x.size < 2:
        raise OutOfRange("It takes as many diameters as places, two at least.", field="x_mm")
    if not (np.all(np.isfinite(x)) and np.all(np.diff(x) >= 0) and x[-1] > x[0]):
        raise OutOfRange("The places rise from one end to the other.", field="x_mm")
    if np.any(x[2:] == x[:-2]) or x[0] == x[1] or x[-1] == x[-2]:
        raise OutOfRange("A place stands twice for a step, not more, not at an end.", field="x_mm")
    if not (np.all(np.isfinite(diameter)) and np.all(diameter > 0)):
        raise OutOfRange("A diameter is above 0.", field="diameter_mm")


def _on(work: Work, at_mm: float, what: str, field: str) -> None:
    start, end = float(work.x_mm[0]), float(work.x_mm[-1])
    hair = _OFF * work.length_mm
    if not start - hair <= at_mm <= end + hair:
        raise OutOfRange(
            f"{what} at {length_told(at_mm)} is off the piece.",
            field=field,
            hint=f"The piece runs from {length_told(start)} to {length_told(end)}.",
        )
