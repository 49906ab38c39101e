"""Which pieces go together, and which stand out, station by station."""

from __future__ import annotations

from dataclasses import dataclass
from warnings import catch_warnings, simplefilter

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

FEWEST_FOR_A_MIDDLE = 3  # judgement: two pieces have no middle of their own
FEWEST_OF_A_LOT = 2  # judgement: one piece is an odd one, not another set
FEWEST_PIECES = 5  # judgement, of both: four fall into two pairs too often by luck
FEWEST_PLACES = 3  # judgement: two places may fall apart the same way by luck
OF_THE_PLACES = 0.5  # judgement: another pattern shows at half of them or more


@dataclass(frozen=True, slots=True)
class TwoLots:
    """Pieces that read like two sets mixed: rows of the ``fewer`` and of the ``more``.

    At ``columns``, of ``told`` columns that could have told, they lie in two heaps, the same way.
    """

    fewer: tuple[int, ...]
    more: tuple[int, ...]
    columns: tuple[int, ...]
    told: int


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
    """How far each reading lies from the middle, in limits: beyond 1 it stands out. NaN stays.

    [mm in, shape (pieces, columns); a middle and a limit for each column]
    """
    return np.abs(off_mm - middle_mm) / limit_mm


def go_together(shares: Floats) -> Bools:
    """Which pieces (rows) stand out nowhere. A piece with no reading does not count."""
    read = ~np.isnan(shares)
    fits: Bools = np.any(read, axis=1) & ~np.any(beyond(shares), axis=1)
    return fits


def beyond(shares: npt.ArrayLike) -> Bools:
    """Which lie beyond their limit, past what the binary form of the figures can make."""
    far: Bools = np.asarray(shares) > 1 + 1e-9
    return far


def two_lots(off_mm: Floats, limit_mm: Floats) -> TwoLots | None:
    """Whether the pieces look like two sets mixed, which is to be asked, not known. [mm]

    At one place they lie in two heaps where a gap wider than the tolerance, and than either heap,
    parts two pieces or more from two or more others, five in all. It is asked about when the same
    pieces part at three places or more and at half of those where both lots were read. In a set
    that is one, that happens by luck less than once in a hundred where places scatter each for
    itself, and up to once in six where whole pieces come out thick or thin by several tolerances
    (by simulation): a reason to look, no proof. NaN is a place not read.
    """
    splits = {
        column: split
        for column in range(off_mm.shape[1])
        if (split := _heaps(off_mm[:, column], float(limit_mm[column]))) is not None
    }
    read = ~np.isnan(off_mm)
    found = None
    for one, other in sorted(set(splits.values())):
        parted = tuple(
            column
            for column, heaps in splits.items()
            if {_of(one, read[:, column]), _of(other, read[:, column])} == set(heaps)
        )
        both = [np.sum(read[list(lot)], axis=0) >= FEWEST_OF_A_LOT for lot in (one, other)]
        told = int(np.sum(both[0] & both[1]))
        enough = len(parted) >= max(FEWEST_PLACES, OF_THE_PLACES * told)
        if enough and (found is None or len(parted) > len(found.columns)):
            fewer, more = sorted((one, other), key=len)
            found = TwoLots(fewer, more, parted, told)
    return found


def _heaps(off_mm: Floats, limit_mm: float) -> tuple[tuple[int, ...], tuple[int, ...]] | None:
    """The rows of two heaps with nothing between them, the one with the lowest row first."""
    rows = np.flatnonzero(~np.isnan(off_mm))
    rows = rows[np.argsort(off_mm[rows], kind="stable")]
    if rows.size < FEWEST_PIECES:
        return None
    gaps = np.diff(off_mm[rows])
    at = int(np.argmax(gaps)) + 1
    low, high = rows[:at], rows[at:]
    widest = max(limit_mm, float(np.ptp(off_mm[low])), float(np.ptp(off_mm[high])))
    if min(low.size, high.size) < FEWEST_OF_A_LOT or gaps[at - 1] <= widest + 1e-9:
        return None
    one, other = sorted((tuple(sorted(low.tolist())), tuple(sorted(high.tolist()))))
    return one, other


def _of(lot: tuple[int, ...], read: Bools) -> tuple[int, ...]:
    return tuple(row for row in lot if read[row])
