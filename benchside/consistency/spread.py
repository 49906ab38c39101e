"""How far apart: the spread of one place over a set, from end to end, and of the calipers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import inf, isfinite, nan, sqrt

import numpy as np
import numpy.typing as npt
from scipy.special import chdtrc, chdtri, chndtrix, fdtri, ndtri, stdtrit

from benchside.errors import OutOfRange

NOTHING_MM = 1e-6  # a difference that is no thickness of wood
CONFIDENCE = 0.95  # judgement, of every limit here: 19 times in 20
SURE = float(ndtri((1 + CONFIDENCE) / 2))  # standard deviations to either side hold so many
HALVINGS = 60  # of an interval: past the last digit of a float


@dataclass(frozen=True, slots=True)
class Spread:
    """How far apart values lie. ``sd_low_mm`` to ``sd_high_mm`` holds the true standard deviation
    with 95 % confidence; all three are None for one value. ``floored``: the readings lie closer
    together than their own step can tell, and ``sd_mm`` is what the step allows. Sizes in mm."""

    n: int
    mean_mm: float
    sd_mm: float | None
    sd_low_mm: float | None
    sd_high_mm: float | None
    range_mm: float
    floored: bool = False


@dataclass(frozen=True, slots=True)
class EndToEnd:
    """One straight from end to end: the ``range_mm`` of its diameters, the slope of the line of
    least squares through them (mm of diameter a mm of length), and what that makes from the first
    place to the last."""

    n: int
    range_mm: float
    slope: float
    change_mm: float


@dataclass(frozen=True, slots=True)
class Repeatability:
    """What reading the same places again and again says of the calipers and the hand. [mm]

    ``sd_mm`` is the standard deviation of one reading, with its 95 % limits; ``apart_mm`` is how
    far two readings of one place differ at most, 19 times in 20. ``between_sd_mm`` is what the
    places themselves scatter, with the error of reading taken out, and ``total_sd_mm`` both.
    ``ss_between``, ``ss_within`` and ``f`` are the table behind it; ``f`` is None without scatter.
    """

    places: int
    readings: int
    degrees: int
    sd_mm: float
    sd_low_mm: float
    sd_high_mm: float
    apart_mm: float
    between_sd_mm: float | None
    total_sd_mm: float | None
    ss_between: float
    ss_within: float
    f: float | None
    floored: bool


@dataclass(frozen=True, slots=True)
class OfReading:
    """How much of a spread is the error of reading: the ``share`` of its square, 0 to 1.

    ``low`` to ``high`` are its 95 % limits; None where the error is only the least the step makes.
    """

    share: float
    low: float | None
    high: float | None


def step_floor_mm(step_mm: float) -> float:
    """The least standard deviation that readings to a step can show: step / sqrt(12). [mm]

    What is rounded to a step lies anywhere within half of it [@gum-2008, F.2.2.1]. Raises
    `OutOfRange` for a step that is none; 0 is a step too fine to matter.
    """
    if not (isfinite(step_mm) and step_mm >= 0):
        raise OutOfRange("A step must be 0 mm or more.", field="step_mm")
    return step_mm / sqrt(12)


def spread(values: npt.ArrayLike, step_mm: float = 0.0) -> Spread:
    """Mean, standard deviation (n - 1) with its 95 % limits, and range. [mm in, mm out]

    The limits are s sqrt((n - 1) / chi-square) at 97.5 and 2.5 % of the chi-square distribution
    with n - 1 degrees of freedom, and hold for values that scatter normally [@nist-handbook,
    1.3.5.8]. ``step_mm`` is what the readings were rounded to: no spread is called smaller than
    step / sqrt(12), and the limits of one no wider than the step allow for what rounding can have
    added (half a step) and taken away. NaN is a place not measured and is left out; deviations may
    be negative. Raises `OutOfRange` without a value, or for an endless one.

    >>> spread([12.0, 12.5, 13.0]).sd_mm
    0.5
    """
    floor_mm = step_floor_mm(step_mm)
    x = measured(values)
    if not x.size:
        raise OutOfRange("There is nothing measured here yet.", field="values")
    mean, gap = mean_of(x), float(np.ptp(x))
    if x.size == 1:
        return Spread(1, mean, None, None, None, gap)
    degrees = x.size - 1
    sd = sqrt(float(np.sum((x - mean) ** 2)) / degrees)
    low, high = _limits(sd, step_mm, x.size, degrees)
    return Spread(int(x.size), mean, max(sd, floor_mm), low, high, gap, sd < floor_mm)


def _limits(sd: float, step_mm: float, n: int, degrees: int) -> tuple[float, float]:
    """The 95 % limits of a standard deviation of ``n`` readings to a step, which blurs it."""
    if step_mm == 0 or sd > step_mm + NOTHING_MM:
        return sd_limits(sd, degrees)
    added = step_mm / 2 * sqrt(n / degrees)  # if all lay on one edge of the step
    low, _ = sd_limits(max(0.0, sd - added), degrees)
    _, high = sd_limits(sd + step_floor_mm(step_mm), degrees)
    return low, high


def sd_limits(sd_mm: float, degrees: int) -> tuple[float, float]:
    """The 95 % limits of a standard deviation known with ``degrees`` of freedom. [mm]"""
    # chdtri(df, p) is the chi-square value that is passed with probability p.
    tail = (1 - CONFIDENCE) / 2
    low, high = (sd_mm * sqrt(degrees / float(chdtri(degrees, p))) for p in (tail, 1 - tail))
    return low, high


def repeatability(readings: npt.ArrayLike, step_mm: float = 0.0) -> Repeatability:
    """How well a place is read: a row for each place, its repeats along the row. [mm]

    One-way analysis of variance: what differs within places is the error of reading, what differs
    between them beyond that is the places [@nist-handbook, 3.2.3.1]. With unequal numbers of
    repeats (NaN where there is none) the between part is divided by the usual n0. A between part
    that comes out below nothing is nothing. Give differences from the targets where places of
    several sizes are read. ``step_mm`` as in `spread`.

    Raises `OutOfRange` unless some place was read twice.
    """
    floor_mm = step_floor_mm(step_mm)
    table = np.atleast_2d(np.asarray(readings, dtype=np.float64))
    rows = [row for row in (measured(row) for row in table) if row.size]
    counts = np.array([row.size for row in rows])
    degrees = int(counts.sum()) - len(rows)
    if degrees < 1:
        raise OutOfRange("It takes a place that was read twice.", field="readings")
    means = np.array([mean_of(row) for row in rows])
    middle = mean_of(np.concatenate(rows))
    ss_within = float(sum(np.sum((row - m) ** 2) for row, m in zip(rows, means, strict=True)))
    ss_between = float(np.sum(counts * (means - middle) ** 2))
    sd = sqrt(ss_within / degrees)
    between = _between(ss_between, sd, counts)
    low, high = _limits(sd, step_mm, int(counts.sum()), degrees)
    return Repeatability(
        places=len(rows),
        readings=int(counts.sum()),
        degrees=degrees,
        sd_mm=max(sd, floor_mm),
        sd_low_mm=low,
        sd_high_mm=high,
        apart_mm=SURE * sqrt(2) * max(sd, floor_mm),
        between_sd_mm=between,
        total_sd_mm=None if between is None else sqrt(between**2 + sd**2),
        ss_between=ss_between,
        ss_within=ss_within,
        f=ss_between / (len(rows) - 1) / sd**2 if len(rows) > 1 and sd > 0 else None,
        floored=sd < floor_mm,
    )


def pooled_sd_mm(sds_mm: Sequence[float], degrees: Sequence[int]) -> float | None:
    """One standard deviation for several places, each weighted by its degrees of freedom. [mm]

    The root of the sum of squares over the sum of degrees [@nist-handbook, 2.4.4.4]. None without
    a degree.
    """
    if not sum(degrees):
        return None
    squares = sum(n * sd**2 for sd, n in zip(sds_mm, degrees, strict=True))
    return sqrt(squares / sum(degrees))


def of_reading(
    sd_mm: float, degrees: int, error_mm: float, error_degrees: int | None = None
) -> OfReading:
    """How much of a spread from piece to piece is the calipers and the hand. [mm in]

    Errors add as squares, so the share is error^2 / sd^2. ``degrees`` are those of the spread
    (n - 1), ``error_degrees`` those of the repeat test behind the error: the ratio of two such
    squares over the true one follows F [@nist-handbook, 1.3.5.9]. None: the error is that of the
    step alone, and the share the least it can be. A share is never called more than the whole.

    Raises `OutOfRange` for a spread or an error that is none.

    >>> of_reading(0.2, 8, 0.1).share
    0.25
    """
    if not (isfinite(sd_mm) and isfinite(error_mm) and sd_mm > 0 <= error_mm and degrees > 0):
        raise OutOfRange("A spread must be more than 0 mm.", field="sd_mm")
    ratio = error_mm**2 / sd_mm**2
    if error_degrees is None:
        return OfReading(min(ratio, 1.0), None, None)
    tail = (1 - CONFIDENCE) / 2
    low, high = (ratio / float(fdtri(error_degrees, degrees, p)) for p in (1 - tail, tail))
    return OfReading(min(ratio, 1.0), min(low, 1.0), min(high, 1.0))


def _between(ss_between: float, sd: float, counts: npt.NDArray[np.int_]) -> float | None:
    places = counts.size
    if places < 2:
        return None
    n0 = (counts.sum() - np.sum(counts**2) / counts.sum()) / (places - 1)
    return sqrt(max(0.0, (ss_between / (places - 1) - sd**2) / n0))


@lru_cache(maxsize=512)
def tolerance_factor(n: int, coverage: float = 0.95, confidence: float = 0.95) -> float:
    """How many standard deviations to either side hold ``coverage`` of all pieces to come. [-]

    Mean plus and minus k standard deviations of ``n`` pieces hold at least that share of what is
    made in the same way, with that confidence, if it scatters normally. Two-sided and exact: the
    chance that the limits hold enough, taken over where the measured mean may lie, is brought to
    the confidence [@odeh-owen-1980, Table 3]. The usual approximation errs by 2 % at four pieces.

    Raises `OutOfRange` for fewer than two pieces, or shares that are not between 0 and 1.

    >>> round(tolerance_factor(20), 6)
    2.760346
    """
    if n != int(n) or n < 2:
        raise OutOfRange("It takes two pieces at least.", field="n")
    if not (0 < coverage < 1 and 0 < confidence < 1):
        raise OutOfRange("A share lies between 0 and 1.", field="coverage")
    # u: how far the measured mean lies off, in its own standard deviations; beyond 9 is never.
    node, weight = np.polynomial.legendre.leggauss(48)
    u = 4.5 * (node + 1)
    density = 4.5 * weight * 2 * np.exp(-(u**2) / 2) / sqrt(2 * np.pi)
    # Half the width that still holds the coverage from a mean so far off, squared.
    half2 = chndtrix(coverage, 1.0, u**2 / n)
    low, high = 0.0, 1.0
    while _held(high, n, half2, density) < confidence:
        low, high = high, 2 * high
    for _ in range(HALVINGS):
        k = (low + high) / 2
        low, high = (k, high) if _held(k, n, half2, density) < confidence else (low, k)
    return (low + high) / 2


def _held(
    k: float, n: int, half2: npt.NDArray[np.float64], density: npt.NDArray[np.float64]
) -> float:
    return float(np.sum(density * chdtrc(n - 1, (n - 1) * half2 / k**2)))


def prediction_factor(n: int, coming: int = 1, confidence: float = 0.95) -> float:
    """How many standard deviations to either side of the mean hold the next pieces. [-]

    t sqrt(1 + 1/n), for ``coming`` pieces all at once with the confidence shared out among them
    (Bonferroni) [@epa-unified-2009, 18.2]. Raises `OutOfRange` for fewer than two pieces.
    """
    if n < 2 or coming < 1 or not 0 < confidence < 1:
        raise OutOfRange("It takes two pieces at least.", field="n")
    t = float(stdtrit(n - 1, 1 - (1 - confidence) / (2 * coming)))
    return t * sqrt(1 + 1 / n) if isfinite(t) else inf


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
    at, diameter = measured(at[read]), measured(diameter[read])
    if at.size < 2 or np.ptp(at) == 0:
        raise OutOfRange("It takes readings at two places at least.", field="values")
    along = at - mean_of(at)
    slope = float(np.sum(along * (diameter - mean_of(diameter))) / np.sum(along**2))
    return EndToEnd(int(at.size), float(np.ptp(diameter)), slope, slope * float(np.ptp(at)))


def check_error_mm(error_mm: float) -> None:
    """Raises `OutOfRange` for an error of reading that is none."""
    if not (isfinite(error_mm) and error_mm >= 0):
        raise OutOfRange("An error of reading must be 0 mm or more.", field="error_mm")


def measured(values: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """What was measured, without the gaps. Raises `OutOfRange` for an endless figure."""
    x: npt.NDArray[np.float64] = np.asarray(values, dtype=np.float64).ravel()
    x = x[~np.isnan(x)]
    if not np.all(np.isfinite(x)):
        raise OutOfRange("One of these is no length.", field="values")
    return x


def mean_of(x: npt.NDArray[np.float64]) -> float:
    """The mean, brought nearer by the mean of what is left over: large offsets cost no digits."""
    rough = float(np.mean(x)) if x.size else nan
    return rough + float(np.mean(x - rough))
