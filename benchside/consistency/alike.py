"""Which pieces go together, and which stand out, station by station."""

from __future__ import annotations

from dataclasses import dataclass
from warnings import catch_warnings, simplefilter

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

FEWEST_FOR_A_MIDDLE = 3  # judgement: two pieces have no middle of their own
CREEP_PIECES = 4  # judgement: four one after the other rise by luck once in twenty-four times
CREEP_SHARE = 0.5  # judgement: of the limit, over those pieces together
RUN_PIECES = 3  # judgement


@dataclass(frozen=True, slots=True)
class Run:
    """The last ``pieces`` readings at a station go one way; ``by_mm`` is how far, with its sign.

    ``creeping``: each is beyond the one before. Else: each lies outside the limit on one side, and
    ``by_mm`` is their mean.
    """

    pieces: int
    by_mm: float
    creeping: bool


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
    return np.any(read, axis=1) & ~np.any(read & (shares > 1 + 1e-9), axis=1)


def run(off_mm: Floats, limit_mm: float) -> Run | None:
    """What the newest readings of one station do, in the order of turning. [mm]

    Creeping: at least four, each further the same way than the one before, by more than half the
    limit in all. Otherwise: at least three at the end, all outside the limit on the same side.
    NaN is left out.
    """
    values = off_mm[~np.isnan(off_mm)]
    if values.size < RUN_PIECES:
        return None
    steps = np.sign(np.diff(values))
    last = steps[-1]
    rising = 1 + _trailing(steps == last) if last else 1
    moved = float(values[-1] - values[-rising])
    if rising >= CREEP_PIECES and abs(moved) > CREEP_SHARE * limit_mm:
        return Run(rising, moved, creeping=True)
    side = np.sign(values[-1])
    outside = _trailing((np.abs(values) > limit_mm) & (np.sign(values) == side))
    if outside >= RUN_PIECES:
        return Run(outside, float(np.mean(values[-outside:])), creeping=False)
    return None


def _trailing(flags: Bools) -> int:
    """How many are true at the end, one after the other."""
    return int(np.argmin(np.append(flags[::-1], False)))
