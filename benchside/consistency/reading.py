"""What the error of one reading lets be said of one, of two, and of several things read."""

from __future__ import annotations

from math import isfinite, sqrt

from scipy.special import ndtri

from benchside.consistency.spread import CONFIDENCE, NOTHING_MM, SURE, check_error_mm
from benchside.errors import OutOfRange


def give_or_take_mm(error_mm: float) -> float:
    """One reading lies within this of the truth, 19 times in 20. [mm]

    1.96 standard deviations of the normal distribution, ``error_mm`` being one.

    >>> round(give_or_take_mm(0.05), 3)
    0.098
    """
    check_error_mm(error_mm)
    return SURE * error_mm


def differ(range_mm: float, things: int, error_mm: float) -> bool:
    """Whether so many things differ by more than the error of reading them explains. [mm]

    ``range_mm`` from the largest to the smallest, each taken as one reading (more only make it
    surer). Each of the pairs has its share of the 5 % (Bonferroni's inequality), so among things
    that are alike it is said wrongly at most one time in twenty.

    Raises `OutOfRange` for fewer than two things or a range that is none.
    """
    check_error_mm(error_mm)
    if things < 2 or not (isfinite(range_mm) and range_mm >= 0):
        raise OutOfRange("It takes two things to differ.", field="things")
    share = (1 - CONFIDENCE) / (things * (things - 1))  # two tails of each of n (n - 1) / 2 pairs
    limit_mm = float(ndtri(1 - share)) * sqrt(2) * error_mm
    return range_mm > limit_mm + NOTHING_MM
