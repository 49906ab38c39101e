"""Alike enough? Asked of the pieces that stand there, and of the ones still to come."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import isfinite, sqrt
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.special import chdtri, nctdtrit, ndtr, ndtri

from benchside.consistency.spread import (
    CONFIDENCE,
    HALVINGS,
    NOTHING_MM,
    SURE,
    check_error_mm,
    measured,
    prediction_factor,
    spread,
    tolerance_factor,
)
from benchside.errors import OutOfRange

Answer = Literal["shown", "not shown", "cannot tell"]

COVERAGE = 0.95  # judgement: alike enough is when 19 of 20 pieces keep to the tolerance
MOST_MORE = 400  # judgement: nobody turns more to be told


@dataclass(frozen=True, slots=True)
class These:
    """How alike the pieces read are, which nothing but the error of reading blurs. [mm]

    ``range_mm`` is how far the two farthest lie apart, give or take ``give_or_take_mm`` (95 % and
    more: how far as many errors of reading lie apart, for these make the two farthest);
    ``farthest`` is the position of the one farthest from the middle, by ``farthest_mm`` with its
    sign. ``answer``: whether all keep within the tolerance of the middle.
    """

    n: int
    range_mm: float
    give_or_take_mm: float
    middle_mm: float
    farthest: int
    farthest_mm: float
    answer: Answer


@dataclass(frozen=True, slots=True)
class Coming:
    """What pieces to come will do, made as these were. [mm]

    ``low_mm`` to ``high_mm`` holds the next piece with 95 % confidence; None for one value.
    ``reach_mm`` to either side of the mean holds 95 % of all of them, with 95 % confidence.
    ``answer``: whether at least 95 % keep within the tolerance. ``more`` is how many more pieces
    would tell if they go on as they are: 0 when it is told; None when more than 400.
    """

    n: int
    mean_mm: float
    low_mm: float | None
    high_mm: float | None
    reach_mm: float | None
    answer: Answer
    more: int | None


def these(
    values: npt.ArrayLike,
    tolerance_mm: float,
    error_mm: float = 0.0,
    *,
    to_the_target: bool = False,
) -> These:
    """Whether the pieces that were read lie within the tolerance of their middle. [mm]

    The middle is the median; ``to_the_target`` judges ``values``, then differences from the
    target, as they are. ``error_mm`` is the standard deviation of one reading
    (`spread.repeatability`), and at least step / sqrt(12): within 1.96 of it from the limit
    cannot be told. NaN is left out.

    Raises `OutOfRange` without a value, for an endless one, or a tolerance that is none.
    """
    _check(tolerance_mm, error_mm)
    given = np.asarray(values, dtype=np.float64).ravel()
    x = measured(given)
    if not x.size:
        raise OutOfRange("There is nothing measured here yet.", field="values")
    middle = 0.0 if to_the_target else float(np.median(x))
    off = given - middle
    farthest = int(np.nanargmax(np.abs(off)))
    blur = SURE * error_mm
    beyond = abs(float(off[farthest])) - tolerance_mm - NOTHING_MM
    answer: Answer = "cannot tell"
    if abs(beyond) > blur or error_mm == 0:
        answer = "shown" if beyond <= 0 else "not shown"
    return These(
        int(x.size),
        float(np.ptp(x)),
        errors_apart(int(x.size)) * error_mm,
        middle,
        farthest,
        float(off[farthest]),
        answer,
    )


@lru_cache(maxsize=512)
def errors_apart(n: int) -> float:
    """How far so many errors lie apart at most, 19 times in 20, in standard deviations of one. [-]

    The range of ``n`` normal values (the studentized range with endless degrees of freedom).
    """
    if n < 2:
        return 0.0
    node, weight = np.polynomial.legendre.leggauss(96)
    low = 9 * node  # where the lowest lies; beyond nine standard deviations is never
    density = 9 * weight * np.exp(-(low**2) / 2) / sqrt(2 * np.pi)
    least, most = 0.0, 18.0
    for _ in range(HALVINGS):
        apart = (least + most) / 2
        within = float(n * np.sum(density * (ndtr(low + apart) - ndtr(low)) ** (n - 1)))
        least, most = (apart, most) if within < CONFIDENCE else (least, apart)
    return (least + most) / 2


def coming(
    values: npt.ArrayLike,
    tolerance_mm: float,
    step_mm: float = 0.0,
    *,
    to_the_target: bool = False,
) -> Coming:
    """Whether pieces made in this way keep within the tolerance, and how many would tell. [mm]

    Shown: the limits that hold 95 % of all pieces with 95 % confidence (`tolerance_factor`) lie
    within the tolerance, about the set's own mean, or about 0 ``to_the_target``, where ``values``
    are differences from it. Not shown: with the same confidence more than 5 % miss it. For the
    set's own mean that is when even the lower limit of the standard deviation is too wide; for a
    target, also when too much lies beyond one side (non-central t [@odeh-owen-1980, Table 1]),
    each at half the risk. Neither: cannot tell. Readings' own error is in the spread, so it never
    flatters. ``step_mm`` as in `spread`.

    Raises `OutOfRange` without a value, for an endless one, or a tolerance that is none.
    """
    _check(tolerance_mm, step_mm)
    found = spread(values, step_mm)
    if found.sd_mm is None:
        return Coming(1, found.mean_mm, None, None, None, "cannot tell", None)
    off = abs(found.mean_mm) if to_the_target else None
    answer = _answer(found.n, off, found.sd_mm, tolerance_mm)
    reach = prediction_factor(found.n) * found.sd_mm
    return Coming(
        found.n,
        found.mean_mm,
        found.mean_mm - reach,
        found.mean_mm + reach,
        tolerance_factor(found.n, COVERAGE, CONFIDENCE) * found.sd_mm,
        answer,
        0 if answer != "cannot tell" else _more(found.n, off, found.sd_mm, tolerance_mm),
    )


def _answer(n: int, off_mm: float | None, sd_mm: float, tolerance_mm: float) -> Answer:
    """``off_mm``: how far the mean lies from the target; None where there is none to keep to."""
    reach = tolerance_factor(n, COVERAGE, CONFIDENCE) * sd_mm
    if (off_mm or 0.0) + reach <= tolerance_mm + NOTHING_MM:
        return "shown"
    risk = (1 - CONFIDENCE) / (1 if off_mm is None else 2)
    least_sd = sd_mm * sqrt((n - 1) / float(chdtri(n - 1, risk)))
    if least_sd * float(ndtri((1 + COVERAGE) / 2)) > tolerance_mm + NOTHING_MM:
        return "not shown"
    if off_mm is not None:
        # With this confidence one piece in twenty lies farther on that side.
        least = float(nctdtrit(n - 1, float(ndtri(COVERAGE)) * sqrt(n), risk)) / sqrt(n)
        if off_mm + least * sd_mm > tolerance_mm + NOTHING_MM:
            return "not shown"
    return "cannot tell"


def _more(n: int, off_mm: float | None, sd_mm: float, tolerance_mm: float) -> int | None:
    """The fewest more pieces that would tell, by halving: once it is told it stays told."""
    low, high = 0, MOST_MORE
    if _answer(n + high, off_mm, sd_mm, tolerance_mm) == "cannot tell":
        return None
    while high - low > 1:
        middle = (low + high) // 2
        told = _answer(n + middle, off_mm, sd_mm, tolerance_mm) != "cannot tell"
        low, high = (low, middle) if told else (middle, high)
    return high


def _check(tolerance_mm: float, error_mm: float) -> None:
    if not (isfinite(tolerance_mm) and tolerance_mm > 0):
        raise OutOfRange("A tolerance must be more than 0 mm.", field="tolerance_mm")
    check_error_mm(error_mm)
