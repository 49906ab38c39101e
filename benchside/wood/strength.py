"""Strength, stiffness and weight of wood at any moisture, and at an angle to the grain."""

from __future__ import annotations

from typing import overload

import numpy as np
import numpy.typing as npt

from benchside.errors import OutOfRange
from benchside.wood.checked import Floats, checked, plain
from benchside.wood.moisture import checked_moisture
from benchside.wood.species import FIBER_SATURATION

INTERSECTION_PERCENT = 25.0  # where a species is not listed [@wood-handbook-2021, Table 5-13]
WATER_KG_M3 = 1000.0


@overload
def at_moisture(green: float, at_12: float, mc: float, intersection_mc: float = ...) -> float: ...
@overload
def at_moisture(
    green: npt.ArrayLike,
    at_12: npt.ArrayLike,
    mc: npt.ArrayLike,
    intersection_mc: npt.ArrayLike = ...,
) -> float | Floats: ...
def at_moisture(
    green: npt.ArrayLike,
    at_12: npt.ArrayLike,
    mc: npt.ArrayLike,
    intersection_mc: npt.ArrayLike = INTERSECTION_PERCENT,
) -> float | Floats:
    """A strength or stiffness at moisture ``mc``, from its values green and at 12 %. [any unit; %]

    ``P12 (P12 / Pg) ** ((12 - M) / (Mp - 12))`` [@wood-handbook-2021, eq. 5-3]; at and above the
    moisture of intersection Mp it is the green value. Not for work to maximum load, impact or
    tension across the grain. Scalars or arrays that fit one another.

    Raises `OutOfRange` for a strength that is not more than 0, a moisture outside 0 to 250 % and
    an intersection outside 15 to 40 %.

    >>> round(at_moisture(66.0, 103.0, 8.0, 24.0), 1)
    119.5
    """
    wet = _strength(green, "green", "The green value")
    dry = _strength(at_12, "at_12", "The value at 12 %")
    joint = checked(
        intersection_mc,
        "intersection_mc",
        "The moisture below which strength rises",
        15.0,
        40.0,
        hint="From 21 to 28 % for the species listed; 25 for all others.",
    )
    moisture = np.minimum(checked_moisture(mc, "mc"), joint)
    return plain(dry * (dry / wet) ** ((12 - moisture) / (joint - 12)))


@overload
def hankinson(parallel: float, across: float, angle_deg: float, n: float = ...) -> float: ...
@overload
def hankinson(
    parallel: npt.ArrayLike,
    across: npt.ArrayLike,
    angle_deg: npt.ArrayLike,
    n: npt.ArrayLike = ...,
) -> float | Floats: ...
def hankinson(
    parallel: npt.ArrayLike,
    across: npt.ArrayLike,
    angle_deg: npt.ArrayLike,
    n: npt.ArrayLike = 2.0,
) -> float | Floats:
    """A strength at an angle to the grain, from those along it and across it. [any unit; degrees]

    ``P Q / (P sin^n + Q cos^n)``, Hankinson's formula, from memory; that the handbook's eq. 5-2 is
    of this form was read in a copy. ``n`` is 1.5 to 2.5 by the property, from memory. Scalars or
    arrays that fit one another.

    Raises `OutOfRange` for a strength that is not more than 0, an angle outside 0 to 90 degrees
    and an ``n`` outside 1 to 3.

    >>> hankinson(100.0, 5.0, 0.0), round(hankinson(100.0, 5.0, 90.0), 6)
    (100.0, 5.0)
    """
    along = _strength(parallel, "parallel", "The strength along the grain")
    square = _strength(across, "across", "The strength across the grain")
    angle = checked(
        angle_deg,
        "angle_deg",
        "The angle to the grain",
        0.0,
        90.0,
        hint="In degrees, from 0 along the grain to 90 across it.",
    )
    power = checked(n, "n", "The exponent", 1.0, 3.0, hint="From 1.5 to 2.5.")
    sine, cosine = np.sin(np.radians(angle)) ** power, np.cos(np.radians(angle)) ** power
    return plain(along * square / (along * sine + square * cosine))


def gravity_at(gravity_green: float, mc: float) -> float:
    """Specific gravity on the volume at moisture ``mc``, from the green one. [%]

    ``G / (1 - 0.265 G (1 - M / 30))`` [@wood-handbook-2021, eq. 4-13]; above fibre saturation the
    volume is the green one. Raises `OutOfRange` for a gravity outside 0 to 1.5 and a moisture
    outside 0 to 250 %.

    >>> round(gravity_at(0.55, 12.0), 3)
    0.603
    """
    gravity = float(
        checked(gravity_green, "gravity_green", "Specific gravity", 0.05, 1.5, hint="About 0.6.")
    )
    moisture = min(float(checked_moisture(mc, "mc")), FIBER_SATURATION)
    return gravity / (1 - 0.265 * gravity * (1 - moisture / FIBER_SATURATION))


def density_kg_m3(gravity_green: float, mc: float) -> float:
    """The weight of a cubic metre of wood with its water, at moisture ``mc``. [kg/m³; %]

    ``1000 G_M (1 + M / 100)`` [@wood-handbook-2021, eq. 4-14] with `gravity_at`. Raises as that.

    >>> round(density_kg_m3(0.40, 100.0))
    800
    """
    return WATER_KG_M3 * gravity_at(gravity_green, mc) * (1 + mc / 100)


def _strength(values: npt.ArrayLike, field: str, what: str) -> Floats:
    hint = "More than 0, in the same unit as the other."
    found = checked(values, field, what, 0.0, 1e9, hint=hint)
    if not np.all(found > 0):
        raise OutOfRange(f"{what} cannot be 0.", field=field, hint=hint)
    return found
