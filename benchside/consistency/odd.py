"""The odd ones: what does not belong with the rest, or was typed in the other unit."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, sqrt
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.special import stdtrit

from benchside.consistency.spread import NOTHING_MM, mean_of, measured
from benchside.errors import OutOfRange
from benchside.units import MM_PER_INCH

SIGNIFICANCE = 0.05  # judgement: one set in twenty has an odd one by luck
ONE_IN = 5  # judgement: if more than a fifth were odd, none would be
FEWEST = 3  # of two neither is the odd one
NEAR = 0.1  # judgement: a figure taken in the other unit comes within a tenth of its size


@dataclass(frozen=True, slots=True)
class Odd:
    """The odd ones, by their position in the values, the oddest first.

    ``taken`` are all that were looked at, in the order in which they were taken out;
    ``statistic`` is how far each lay from the mean of what was left, in standard deviations, and
    ``critical`` how far it may by luck.
    """

    at: tuple[int, ...]
    taken: tuple[int, ...]
    statistic: tuple[float, ...]
    critical: tuple[float, ...]


def odd_ones(
    values: npt.ArrayLike,
    most: int | None = None,
    significance: float = SIGNIFICANCE,
    least_mm: float = 0.0,
) -> Odd:
    """Which values do not belong: the generalized test of extreme deviates. [mm]

    The farthest from the mean is taken out, then the farthest of the rest, up to ``most`` (at
    least one, at most a fifth of them); all up to the last that lies farther than luck allows are
    odd, so that two odd ones do not hide each other [@rosner-1983, the test]. For values that
    scatter normally. With one to take out it is the two-sided test of the single farthest, exact
    at any number. ``least_mm``: nearer to the median than that is never called odd, such as the
    step of the readings. Fewer than three values, or all the same, have no odd one. NaN is left
    out but keeps its place.

    Raises `OutOfRange` for an endless value, or a significance that is none.
    """
    if not 0 < significance < 1:
        raise OutOfRange("A significance lies between 0 and 1.", field="significance")
    given = np.asarray(values, dtype=np.float64).ravel()
    measured(given)
    left = np.flatnonzero(~np.isnan(given))
    n = left.size
    if n < FEWEST:
        return Odd((), (), (), ())
    middle = float(np.median(given[left]))
    most = max(1, n // ONE_IN) if most is None else most
    taken: list[int] = []
    statistic: list[float] = []
    critical: list[float] = []
    for i in range(min(most, n - 2)):
        x = given[left]
        off = np.abs(x - mean_of(x))
        sd = sqrt(float(np.sum(off**2)) / (x.size - 1))
        if sd <= NOTHING_MM:
            break
        farthest = int(np.argmax(np.round(off, 9)))  # of two as far, the first
        taken.append(int(left[farthest]))
        statistic.append(float(off[farthest]) / sd)
        critical.append(_critical(n - i, significance))
        left = np.delete(left, farthest)
    beyond = [i for i, r in enumerate(statistic) if r > critical[i]]
    found = taken[: beyond[-1] + 1] if beyond else []
    odd = [i for i in found if abs(given[i] - middle) > least_mm + NOTHING_MM]
    return Odd(tuple(odd), tuple(taken), tuple(statistic), tuple(critical))


def _critical(left: int, significance: float) -> float:
    """How far the farthest of so many lies by luck, in standard deviations."""
    t = float(stdtrit(left - 2, 1 - significance / (2 * left)))
    return (left - 1) * t / sqrt((left - 2 + t**2) * left)


def other_unit(value_mm: float, expected_mm: float) -> Literal["in", "mm"] | None:
    """The unit a figure was probably meant in, if not the one it was taken in. [mm in]

    12.7 typed in an inch set for half an inch is 322.58 mm: it was meant in "mm". 0.5 typed in a
    millimetre set for 12.7 was meant in "in". None where neither comes within a tenth of what is
    expected, or the figure itself does. Ask before believing.

    Raises `OutOfRange` for figures that are not lengths.

    >>> other_unit(322.58, 12.7), other_unit(0.5, 12.7), other_unit(12.4, 12.7)
    ('mm', 'in', None)
    """
    if not (isfinite(value_mm) and isfinite(expected_mm) and value_mm > 0 and expected_mm > 0):
        raise OutOfRange("A size must be more than 0 mm.", field="value_mm")
    inch_mm = float(MM_PER_INCH)
    if abs(value_mm / inch_mm - expected_mm) <= NEAR * expected_mm:
        return "mm"
    return "in" if abs(value_mm * inch_mm - expected_mm) <= NEAR * expected_mm else None
