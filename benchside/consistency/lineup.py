"""Do beads and shoulders line up across the set? What lies off shows before what is thick."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from benchside.consistency.spread import NOTHING_MM, measured
from benchside.errors import OutOfRange

Floats = npt.NDArray[np.float64]

FEWEST_PLACES = 2  # judgement: one place off is that place, not the piece


@dataclass(frozen=True, slots=True)
class Line:
    """One place over the set. [mm]

    ``lines_up``: every piece lies within the limit of the middle. ``farthest`` is the row of the
    one that lies off most, by ``farthest_mm`` with its sign (toward the drive above 0).
    ``from_drawn``: two pieces that differ have no middle to go by, so the drawn place is theirs.
    """

    column: int
    n: int
    middle_mm: float
    range_mm: float
    farthest: int
    farthest_mm: float
    lines_up: bool
    from_drawn: bool


@dataclass(frozen=True, slots=True)
class Jump:
    """Two pieces side by side, ``left`` and ``right`` rows, that differ at a place by more than
    the limit; ``by_mm`` is the right one's position less the left one's."""

    left: int
    right: int
    column: int
    by_mm: float
    limits: float


@dataclass(frozen=True, slots=True)
class LineUp:
    """How the positions line up: by place, between neighbours (farthest apart first), and by
    piece: ``shifts_mm`` is how far each whole piece is shifted along, NaN where fewer than two
    places were read. A piece that is shifted was marked or measured from another datum."""

    places: tuple[Line, ...]
    jumps: tuple[Jump, ...]
    shifts_mm: tuple[float, ...]


def line_up(
    off_mm: npt.ArrayLike, limit_mm: npt.ArrayLike, order: Sequence[int] | None = None
) -> LineUp:
    """Whether places lie at the same height on all pieces, and on neighbours. [mm]

    ``off_mm`` has a row for each piece and a column for each place: position less that of the
    pattern, NaN where it was not read. The middle of a place is its median, so that a set shifted
    throughout lines up; of two pieces that differ by more than the limit it is the drawn place,
    since half way between them lies neither. ``limit_mm`` is one for all or one for each place;
    between neighbours the same limit holds for their difference, which is half as much leeway, for
    near ones show most (judgement). ``order`` are the rows from left to right; as given where it is
    None.

    Raises `OutOfRange` for an endless figure, a limit that is none, or an order of other rows.
    """
    off = np.asarray(off_mm, dtype=np.float64)
    if off.ndim != 2:
        raise OutOfRange("It takes a row for each piece, with its places.", field="off_mm")
    measured(off)
    limits = np.broadcast_to(np.asarray(limit_mm, dtype=np.float64), off.shape[1:])
    if not np.all(limits > 0):
        raise OutOfRange("A tolerance must be more than 0 mm.", field="limit_mm")
    row = list(range(len(off)) if order is None else order)
    if len(set(row)) != len(row) or not set(row) <= set(range(len(off))):
        raise OutOfRange("Every piece has one place in the row.", field="order")
    read = [i for i in range(off.shape[1]) if not np.all(np.isnan(off[:, i]))]
    places = tuple(_line(off[:, i], i, float(limits[i])) for i in read)
    return LineUp(places=places, jumps=_jumps(off, limits, row), shifts_mm=_shifts(off, places))


def _line(off: Floats, column: int, limit_mm: float) -> Line:
    n = int(np.sum(~np.isnan(off)))
    range_mm = float(np.nanmax(off) - np.nanmin(off))
    from_drawn = n == 2 and range_mm > limit_mm + NOTHING_MM
    middle = 0.0 if from_drawn else float(np.nanmedian(off))
    farthest = int(np.nanargmax(np.abs(off - middle)))
    by = float(off[farthest]) - middle
    return Line(
        column=column,
        n=n,
        middle_mm=middle,
        range_mm=range_mm,
        farthest=farthest,
        farthest_mm=by,
        lines_up=abs(by) <= limit_mm + NOTHING_MM,
        from_drawn=from_drawn,
    )


def _jumps(off: Floats, limits: Floats, row: list[int]) -> tuple[Jump, ...]:
    found = []
    for left, right in pairwise(row):
        by = off[right] - off[left]
        for i in np.flatnonzero(np.abs(by) > limits + NOTHING_MM):
            share = abs(float(by[i])) / float(limits[i])
            found.append(Jump(left, right, int(i), float(by[i]), share))
    return tuple(sorted(found, key=lambda jump: -jump.limits))


def _shifts(off: Floats, places: tuple[Line, ...]) -> tuple[float, ...]:
    if not places:
        return (float("nan"),) * len(off)
    from_middle = off[:, [p.column for p in places]] - np.array([p.middle_mm for p in places])
    enough = np.sum(~np.isnan(from_middle), axis=1) >= FEWEST_PLACES
    return tuple(
        float(np.nanmedian(piece)) if told else float("nan")
        for piece, told in zip(from_middle, enough, strict=True)
    )
