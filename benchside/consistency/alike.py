"""Which pieces go together, and which stand out, station by station."""

from __future__ import annotations

from warnings import catch_warnings, simplefilter

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

FEWEST_FOR_A_MIDDLE = 3  # judgement: two pieces have no middle of their own


def middles_mm(off_mm: Floats, to_the_target: Bools) -> Floats:
    """What each column of differences is judged against. [mm in, shape (pieces, columns)]

    The median of the set at that station, so that a set made alike but all a little full still
    goes together; nothing (the target itself) where ``to_the_target`` says so, as for tenons,
    and where fewer than three pieces were read.
    """
    if not off_mm.size:
        return np.zeros(off_mm.shape[1])
    with catch_warnings():
        simplefilter("ignore", RuntimeWarning)  # a column with no reading has no median
        middle = np.nanmedian(off_mm, axis=0)
    few = np.sum(~np.isnan(off_mm), axis=0) < FEWEST_FOR_A_MIDDLE
    return np.where(few | to_the_target, 0.0, middle)


def apart(off_mm: Floats, middle_mm: Floats, limit_mm: Floats) -> Floats:
    """How far each reading lies from the middle, in limits: beyond 1 it stands out. NaN stays."""
    return np.abs(off_mm - middle_mm) / limit_mm


def go_together(shares: Floats) -> Bools:
    """Which pieces (rows) stand out nowhere. A piece with no reading does not count."""
    read = ~np.isnan(shares)
    fits: Bools = np.any(read, axis=1) & ~np.any(read & (shares > 1 + 1e-9), axis=1)
    return fits
