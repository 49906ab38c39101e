"""Moisture of wood: in balance with the air, and from weights. Percent of the oven-dry weight."""

from __future__ import annotations

from collections.abc import Sequence
from typing import overload

import numpy as np
import numpy.typing as npt

from benchside.errors import NotUnderstood
from benchside.wood.checked import Floats, checked, plain

COLDEST_C, HOTTEST_C = -1.2, 99.0  # the printed table's 30 to 210 °F, rounded outward
MOST_PERCENT = 250.0  # judgement: over the wettest green sapwood of the table

# W, K, K1, K2 as polynomials of °C, constant first. [@wood-handbook-2021, eq. 4-5], from
# [@simpson-1973].
_W = (349.0, 1.29, 0.0135)
_K = (0.805, 0.000736, -0.00000273)
_K1 = (6.27, -0.00938, -0.000303)
_K2 = (1.91, 0.0407, -0.000293)


@overload
def emc_percent(temperature_c: float, rh_percent: float) -> float: ...
@overload
def emc_percent(temperature_c: npt.ArrayLike, rh_percent: npt.ArrayLike) -> float | Floats: ...
def emc_percent(temperature_c: npt.ArrayLike, rh_percent: npt.ArrayLike) -> float | Floats:
    """The moisture that wood comes to in air of that temperature and humidity. [°C, % in; %]

    The handbook's Hailwood and Horrobin form, one site and two hydrates
    [@wood-handbook-2021, eq. 4-5]. Scalars or arrays that fit one another; a float comes back for
    two floats. It knows no difference between species and none between wood that dries and wood
    that takes moisture up; against its own printed table it is at most 0.06 off
    (`tests/published/test_wood_moisture.py`).

    Raises `OutOfRange` outside −1.2 to 99 °C, and for a humidity below 0 or of 100 % and more.

    >>> round(emc_percent(21.1, 50.0), 1)
    9.2
    """
    t = checked(
        temperature_c,
        "temperature_c",
        "The temperature",
        COLDEST_C,
        HOTTEST_C,
        hint="The formula holds from −1 to 99 °C, such as 20.",
    )
    rh = checked(
        rh_percent,
        "rh_percent",
        "The humidity of the air",
        0.0,
        100.0,
        below=True,
        hint="The formula holds from 0 to below 100 %, such as 45.",
    )
    kh = _of(_K, t) * rh / 100
    k1, k2 = _of(_K1, t), _of(_K2, t)
    first = k1 * kh
    second = k1 * k2 * kh**2
    bound = (first + 2 * second) / (1 + first + second)
    return plain(1800 / _of(_W, t) * (kh / (1 - kh) + bound))


@overload
def moisture_percent(mass_g: float, ovendry_g: float) -> float: ...
@overload
def moisture_percent(mass_g: npt.ArrayLike, ovendry_g: npt.ArrayLike) -> float | Floats: ...
def moisture_percent(mass_g: npt.ArrayLike, ovendry_g: npt.ArrayLike) -> float | Floats:
    """The moisture of wood that weighs so much now, and so much oven-dry. [g in; %]

    On the oven-dry weight: 136 g that weigh 100 g dry hold 36 %. Raises `OutOfRange` for a weight
    that is none, one under the oven-dry weight, or more than 250 %.

    >>> moisture_percent(136.0, 100.0)
    36.0
    """
    dry = _weight(ovendry_g, "ovendry_g", "The oven-dry weight")
    mass = _weight(mass_g, "mass_g", "The weight")
    percent = (mass - dry) / dry * 100
    checked(
        percent,
        "ovendry_g",
        "The moisture by these weights",
        0.0,
        MOST_PERCENT,
        hint="Wood weighs more wet than oven-dry, and holds at most two and a half times itself.",
    )
    return plain(percent)


@overload
def ovendry_mass_g(mass_g: float, moisture_percent: float) -> float: ...
@overload
def ovendry_mass_g(mass_g: npt.ArrayLike, moisture_percent: npt.ArrayLike) -> float | Floats: ...
def ovendry_mass_g(mass_g: npt.ArrayLike, moisture_percent: npt.ArrayLike) -> float | Floats:
    """What wood of that weight and moisture weighs oven-dry. [g, % in; g]

    Raises `OutOfRange` for a weight that is none and a moisture outside 0 to 250 %.

    >>> round(ovendry_mass_g(1400.0, 72.5), 2)
    811.59
    """
    mass = _weight(mass_g, "mass_g", "The weight")
    return plain(mass / (1 + checked_moisture(moisture_percent) / 100))


def of_slices(weights_g: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """The moisture of wood by slices cut from it, and how far they disagree. [g in; %, %]

    ``weights_g`` are the weights, wet and oven-dry, of thin slices cut from the ends; their mean
    moisture is taken for the wood's [@wengert-sample-board, step 3B], and the most less the least
    of them tells how far the ends disagree.

    Raises `NotUnderstood` without a slice and `OutOfRange` for weights that cannot be.

    >>> moisture, apart = of_slices([(17.25, 10.0), (17.0, 10.0)])
    >>> round(moisture, 2), round(apart, 2)
    (71.25, 2.5)
    """
    if not weights_g:
        raise NotUnderstood(
            "No slice has been weighed.",
            field="slices",
            hint="Weigh a slice wet, dry it in the oven and weigh it again.",
        )
    found = [moisture_percent(wet, dry) for wet, dry in weights_g]
    return sum(found) / len(found), max(found) - min(found)


def checked_moisture(percent: npt.ArrayLike, field: str = "moisture_percent") -> Floats:
    """Moistures as an array. Raises `OutOfRange` below 0 or above 250 %."""
    return checked(
        percent,
        field,
        "The moisture",
        0.0,
        MOST_PERCENT,
        hint="It is counted on the oven-dry weight: green ash about 45, dry indoors about 8.",
    )


def _of(coefficients: tuple[float, float, float], t: Floats) -> Floats:
    constant, first, second = coefficients
    return constant + first * t + second * t**2


def _weight(mass_g: npt.ArrayLike, field: str, what: str) -> Floats:
    mass = checked(mass_g, field, what, 0.0, 1e6, hint="In grams, more than 0.")
    if not np.all(mass > 0):
        return checked(-1.0, field, what, 0.0, 1e6, hint="In grams, more than 0.")
    return mass
