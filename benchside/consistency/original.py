"""A part to match: what size the original is, how surely, and how near the new one came."""

from __future__ import annotations

from dataclasses import dataclass
from math import nan, sqrt
from typing import Literal
from warnings import catch_warnings, simplefilter

import numpy as np
import numpy.typing as npt
from scipy.special import stdtrit

from benchside.consistency.spread import CONFIDENCE, NOTHING_MM, SURE, check_error_mm, measured
from benchside.errors import OutOfRange

Floats = npt.NDArray[np.float64]
Near = Literal["as near as can be seen", "within", "off", "cannot tell", "not read"]

FEWEST_FOR_A_MEDIAN = 3  # of two it is their mean
# How much more a median of n scatters than their mean, for normal scatter; by simulation of two
# million samples each. It nears sqrt(pi / 2).
MEDIAN_COST = {3: 1.160, 4: 1.092, 5: 1.198, 6: 1.135, 7: 1.214, 8: 1.160, 9: 1.223, 10: 1.176}
MEDIAN_COST_AT_MOST = sqrt(np.pi / 2)


@dataclass(frozen=True, slots=True)
class Matched:
    """The size of one station of the original, from all that was read of it. [mm]

    ``size_mm`` give or take ``uncertain_mm`` (95 %). ``originals`` were read there, with
    ``readings`` in all; ``range_mm`` is how far the originals differ (0 for one) and ``oval_mm``
    the largest difference of two axes of one of them, None where no two were read. With
    one original the uncertainty is that of reading it alone: what its mates were is not known.
    """

    size_mm: float
    uncertain_mm: float
    originals: int
    readings: int
    range_mm: float
    oval_mm: float | None


@dataclass(frozen=True, slots=True)
class Nearness:
    """How near the new part came at one station. [mm]

    ``off_mm`` is the new size less the original's, give or take ``uncertain_mm``. ``near``: "as
    near as can be seen" within that; else "within" or "off" the tolerance, as far as the
    uncertainty lets it be said, or "cannot tell".
    """

    off_mm: float
    uncertain_mm: float
    near: Near


def matched(
    readings: npt.ArrayLike, error_mm: float, axes: tuple[int, ...] | None = None
) -> tuple[Matched | None, ...]:
    """The size and uncertainty of every station of an original, from several readings. [mm]

    ``readings`` has the shape (originals, stations, readings of each), NaN where there is none.
    ``axes`` names, for each of the readings, its axis (0 for A, 1 for B, a quarter turn on);
    None: all on one. On each axis the median of its readings counts, so that one slip does not;
    an original's size is the mean of its axes, which for an oval is the same wherever the first
    was taken. Over three originals or more their median counts, so that a worn one does not pull;
    over two their mean.

    The uncertainty is t s / sqrt(n) over the originals, times what a median costs, and never less
    than that of reading them: 1.96 ``error_mm`` carried through the medians and means, with
    ``error_mm`` the standard deviation of one reading, at least step / sqrt(12): over sqrt(2) for
    one reading on each of two axes. A station not read at all is None.

    Raises `OutOfRange` for endless sizes, an error that is none, or axes that do not fit.
    """
    check_error_mm(error_mm)
    table = np.asarray(readings, dtype=np.float64)
    if table.ndim != 3:
        raise OutOfRange("It takes originals, their stations and readings.", field="readings")
    measured(table)
    named = np.zeros(table.shape[2], dtype=int) if axes is None else np.asarray(axes, dtype=int)
    if named.shape != table.shape[2:]:
        raise OutOfRange("Each reading needs its axis.", field="axes")
    by_axis = [table[:, :, named == axis] for axis in np.unique(named)]
    counts = np.array([np.sum(~np.isnan(read), axis=2) for read in by_axis])
    with catch_warnings():
        simplefilter("ignore", RuntimeWarning)  # what was not read has no middle
        middles = np.array([np.nanmedian(read, axis=2) for read in by_axis])
        sizes = np.nanmean(middles, axis=0)
        ovals = np.where(np.sum(counts > 0, axis=0) > 1, np.ptp(middles, axis=0), np.nan)
    costs = np.array([0.0, *(_median_cost(n) ** 2 / n for n in range(1, table.shape[2] + 1))])
    variances = np.sum(costs[counts], axis=0) / np.maximum(np.sum(counts > 0, axis=0), 1) ** 2
    return tuple(
        _station(sizes[:, i], variances[:, i], int(counts[:, :, i].sum()), ovals[:, i], error_mm)
        for i in range(table.shape[1])
    )


def nearness(
    new_mm: npt.ArrayLike,
    original: tuple[Matched | None, ...],
    tolerance_mm: npt.ArrayLike,
    error_mm: float,
) -> tuple[Nearness, ...]:
    """How near a new part came to the original at every station. [mm]

    ``new_mm`` are its sizes by station (NaN: not read), ``tolerance_mm`` one for all or one for
    each. The uncertainties of both are added as squares. Raises `OutOfRange` for endless sizes,
    an error that is none, or stations that do not fit.
    """
    check_error_mm(error_mm)
    new = np.asarray(new_mm, dtype=np.float64).ravel()
    measured(new)
    if new.size != len(original):
        raise OutOfRange("Each station of the original needs a size.", field="new_mm")
    limits = np.broadcast_to(np.asarray(tolerance_mm, dtype=np.float64), new.shape)
    if not np.all(limits > 0):
        raise OutOfRange("A tolerance must be more than 0 mm.", field="tolerance_mm")
    return tuple(
        _near(size, station, limit, error_mm)
        for size, station, limit in zip(new.tolist(), original, limits.tolist(), strict=True)
    )


def _station(
    sizes_mm: Floats, variances: Floats, readings: int, ovals_mm: Floats, error_mm: float
) -> Matched | None:
    """One station from the size of each original, NaN where one was not read there.

    ``variances`` are those of the error of each size, in squares of ``error_mm``.
    """
    read = ~np.isnan(sizes_mm)
    sizes, n = sizes_mm[read], int(np.sum(read))
    if not n:
        return None
    median = n >= FEWEST_FOR_A_MEDIAN
    reading = error_mm * sqrt(float(np.sum(variances[read]))) / n * _median_cost(n)
    return Matched(
        size_mm=float(np.median(sizes) if median else np.mean(sizes)),
        uncertain_mm=max(SURE * reading, _between(sizes)),
        originals=n,
        readings=readings,
        range_mm=float(np.ptp(sizes)),
        oval_mm=float(np.nanmax(ovals_mm)) if np.any(~np.isnan(ovals_mm)) else None,
    )


def _median_cost(n: int) -> float:
    """How much more the median of so many scatters than their mean; of two it is their mean."""
    return MEDIAN_COST.get(n, MEDIAN_COST_AT_MOST) if n >= FEWEST_FOR_A_MEDIAN else 1.0


def _between(sizes: Floats) -> float:
    """What the originals' own scatter leaves open. Nothing is known of it from one."""
    n = sizes.size
    if n < 2:
        return 0.0
    t = float(stdtrit(n - 1, (1 + CONFIDENCE) / 2))
    return _median_cost(n) * t * float(np.std(sizes, ddof=1)) / sqrt(n)


def _near(size: float, station: Matched | None, limit_mm: float, error_mm: float) -> Nearness:
    if station is None or size != size:
        return Nearness(nan, nan, "not read")
    off = size - station.size_mm
    reading = SURE * error_mm
    uncertain = sqrt(station.uncertain_mm**2 + reading**2)
    near: Near = "cannot tell"
    if abs(off) + uncertain <= limit_mm + NOTHING_MM:
        near = "as near as can be seen" if abs(off) <= uncertain else "within"
    elif abs(off) - uncertain > limit_mm + NOTHING_MM:
        near = "off"
    return Nearness(off, uncertain, near)
