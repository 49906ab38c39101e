"""Slope of grain: how it is said, and what strength is left where a blank runs off its grain."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from math import isfinite

from benchside.errors import OutOfRange

# What is left of straight-grained wood's strength, by one in how many the grain runs off: in
# bending, in impact bending, in compression along the grain
# [@wood-handbook-2010-ch5, strength of wooden members with various grain slopes; from memory].
STRENGTH_LEFT = (
    (5.0, 0.55, 0.36, 0.93),
    (10.0, 0.81, 0.62, 0.99),
    (15.0, 0.89, 0.81, 1.0),
    (20.0, 0.93, 0.90, 1.0),
    (25.0, 0.96, 0.95, 1.0),
)
WARN_ONE_IN = 15.0  # judgement, after the limit for the rungs of wooden ladders
# [@pennsylvania-code-34-21, section 21.23: no steeper than 1 in 15]


@dataclass(frozen=True, slots=True)
class Left:
    """The shares of strength left: in bending, under a blow, and pressed along the grain."""

    bending: float
    impact: float
    compression: float


def strength_left(slope: float) -> Left:
    """What is left of straight grain's strength where grain runs off at this slope.

    Straight lines between the rows of the table, against the slope itself; straight grain is
    whole. Raises `OutOfRange` for grain steeper than the table's 1 in 5.
    """
    rise = abs(slope)
    rows = [(0.0, 1.0, 1.0, 1.0), *((1 / n, *left) for n, *left in reversed(STRENGTH_LEFT))]
    if not isfinite(rise) or rise > rows[-1][0] + 1e-9:
        raise OutOfRange(
            "No figures are known for grain that runs off faster than 1 in 5.",
            field="grain_slope",
            hint="Leave such wood out.",
        )
    after = min(max(1, bisect_left([row[0] for row in rows], rise)), len(rows) - 1)
    (low, *less), (high, *more) = rows[after - 1], rows[after]
    share = (rise - low) / (high - low)
    return Left(*(a + share * (b - a) for a, b in zip(less, more, strict=True)))


def steep(slope: float) -> bool:
    """Whether a spindle should not be laid at this slope to its grain."""
    return abs(slope) > 1 / WARN_ONE_IN + 1e-9
