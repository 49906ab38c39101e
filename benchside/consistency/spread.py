"""How alike: the spread of one place over a set, the ones that stand out, one end to the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import nan, sqrt

import numpy as np
import numpy.typing as npt
from scipy.special import chdtri

from benchside.errors import OutOfRange

NOTHING_MM = 1e-6  # a difference that is no thickness of wood


@dataclass(frozen=True, slots=True)
class Spread:
    """How far apart values lie. ``sd_low_mm`` to ``sd_high_mm`` holds the true standard deviation
    with 95 % confidence; all three are None for one value. Sizes in mm."""

    n: int
    mean_mm: float
    sd_mm: float | None
    sd_low_mm: float | None
    sd_high_mm: float | None
    range_mm: float


@dataclass(frozen=True, slots=True)
class EndToEnd:
    """One straight from end to end: the ``range_mm`` of its diameters, the slope of the line of
    least squares through them (mm of diameter a mm of length), and what that makes from the first
    place to the last."""

    n: int
    range_mm: float
    slope: float
    change_mm: float


def spread(values: npt.ArrayLike) -> Spread:
    """Mean, standard deviation (n - 1) with its 95 % limits, and range. [mm in, mm out]

    The limits are s sqrt((n - 1) / chi-square) at 97.5 and 2.5 % of the chi-square distribution
    with n - 1 degrees of freedom, and hold for values that scatter normally [@nist-handbook,
    1.3.5.8]. NaN is a place not measured and is left out;
    deviations may be negative. Raises `OutOfRange` without a value, or for an endless one.

    >>> spread([12.0, 12.5, 13.0]).sd_mm
    0.5
    """
    x = _measured(values)
    if not x.size:
        raise OutOfRange("There is nothing measured here yet.", field="values")
    mean, gap = _mean(x), float(np.ptp(x))
    if x.size == 1:
        return Spread(1, mean, None, None, None, gap)
    degrees = x.size - 1
    sd = sqrt(float(np.sum((x - mean) ** 2)) / degrees)
    # chdtri(df, p) is the chi-square value that is passed with probability p.
    low, high = (sd * sqrt(degrees / float(chdtri(degrees, p))) for p in (0.025, 0.975))
    return Spread(int(x.size), mean, sd, low, high, gap)


def stands_out(values: npt.ArrayLike, tolerance_mm: float) -> tuple[int, ...]:
    """The positions in ``values`` of those that stand out from the others. [mm]

    A value stands out when it lies farther than the tolerance from the median of them all: from
    its mates, whatever the target was, for a set that is a little thick throughout still looks
    alike. The rule is ours (judgement), plain enough to follow by eye. Fewer than three measured
    values have no middle to stand out from. NaN is left out.

    Raises `OutOfRange` for an endless value or a tolerance that is none.
    """
    if not tolerance_mm > 0:
        raise OutOfRange("A tolerance must be more than 0 mm.", field="tolerance_mm")
    measured = _measured(values)
    if measured.size < 3:
        return ()
    off = np.abs(np.asarray(values, dtype=float) - np.median(measured))
    return tuple(int(i) for i in np.flatnonzero(off > tolerance_mm + NOTHING_MM))


def end_to_end(at_mm: Sequence[float], values: Sequence[float]) -> EndToEnd:
    """Whether a straight is the same thickness end to end. [mm]

    ``values`` are diameters read at ``at_mm``; NaN is a place not read. It compares diameters,
    so it sees a taper and a hollow (in the range), not a bend.

    Raises `OutOfRange` for fewer than two places or an endless figure.
    """
    at, diameter = (np.asarray(a, dtype=float) for a in (at_mm, values))
    if at.shape != diameter.shape:
        raise OutOfRange("Each reading needs its place.", field="values")
    read = ~(np.isnan(at) | np.isnan(diameter))
    at, diameter = _measured(at[read]), _measured(diameter[read])
    if at.size < 2 or np.ptp(at) == 0:
        raise OutOfRange("It takes readings at two places at least.", field="values")
    along = at - _mean(at)
    slope = float(np.sum(along * (diameter - _mean(diameter))) / np.sum(along**2))
    return EndToEnd(int(at.size), float(np.ptp(diameter)), slope, slope * float(np.ptp(at)))


def _measured(values: npt.ArrayLike) -> npt.NDArray[np.float64]:
    x: npt.NDArray[np.float64] = np.asarray(values, dtype=np.float64).ravel()
    x = x[~np.isnan(x)]
    if not np.all(np.isfinite(x)):
        raise OutOfRange("One of these is no length.", field="values")
    return x


def _mean(x: npt.NDArray[np.float64]) -> float:
    """The mean, brought nearer by the mean of what is left over: large offsets cost no digits."""
    rough = float(np.mean(x)) if x.size else nan
    return rough + float(np.mean(x - rough))
