"""Which pieces go together, and which stand out, station by station."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from warnings import catch_warnings, simplefilter

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

FEWEST_FOR_A_MIDDLE = 3  # judgement: two pieces have no middle of their own
CREEP_PIECES = 4  # judgement: four one after the other rise by luck once in twenty-four times
ONE_STEP_BACK = 6  # judgement: over so many, one step back is forgiven
LOOKS_BACK = 12  # judgement: what happened before is no news at the lathe
CREEP_SHARE = 0.5  # judgement: of the limit, over those pieces together
RUN_PIECES = 3  # judgement


@dataclass(frozen=True, slots=True)
class Run:
    """What the last ``pieces`` readings at a station do.

    ``creeping``: they go one way, by about ``by_mm`` with its sign. Else each lies outside the
    limit on one side, and ``by_mm`` is their mean.
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
    fits: Bools = np.any(read, axis=1) & ~np.any(read & (shares > 1 + 1e-9), axis=1)
    return fits


def run(off_mm: Floats, limit_mm: float) -> Run | None:
    """What the newest readings of one station do, in the order of turning. [mm]

    Creeping: at least four of the last twelve that go one way to the end by more than half the
    limit, from six on with one step back. Otherwise: at least three at the end outside the limit
    on the same side. NaN is left out. A plain look at the order, no test of significance.
    """
    values = off_mm[~np.isnan(off_mm)]
    return _creep(values, limit_mm) or _outside(values, limit_mm)


def _creep(values: Floats, limit_mm: float) -> Run | None:
    """The longest run at the end that creeps; how far is told from its first two and last two."""
    recent = values[-LOOKS_BACK:].tolist()
    for pieces in range(len(recent), CREEP_PIECES - 1, -1):
        last = recent[-pieces:]
        moved_mm = (last[-1] + last[-2] - last[0] - last[1]) / 2
        if abs(moved_mm) <= CREEP_SHARE * limit_mm:
            continue
        back = sum((after - before) * moved_mm < 0 for before, after in pairwise(last))
        if back <= (pieces >= ONE_STEP_BACK):
            return Run(pieces, moved_mm, creeping=True)
    return None


def _outside(values: Floats, limit_mm: float) -> Run | None:
    if not values.size:
        return None
    side = np.sign(values[-1])
    pieces = _trailing((np.abs(values) > limit_mm + 1e-9) & (np.sign(values) == side))
    if pieces < RUN_PIECES:
        return None
    return Run(pieces, float(np.mean(values[-pieces:])), creeping=False)


def _trailing(flags: Bools) -> int:
    """How many are true at the end, one after the other."""
    return int(np.argmin(np.append(flags[::-1], False)))
