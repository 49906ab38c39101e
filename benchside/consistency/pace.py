"""How long a piece takes, from the times of the taps. Nobody holds a stopwatch."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise
from math import isfinite
from statistics import median

from benchside.errors import OutOfRange

BREAK_MIN = 20.0  # judgement: a longer gap between taps is a break, not work


def minutes_per_piece(
    times_s: Mapping[int, Sequence[float]], counted: Collection[int] | None = None
) -> float | None:
    """The median time at the lathe of a piece. [s in, minutes out]

    ``times_s`` holds the moments of every tap, by piece, from any one zero. The time between two
    taps that follow one another belongs to the piece of the later tap, so pieces worked in turn,
    stage by stage, are not charged for one another; gaps of more than 20 minutes are breaks.
    ``counted`` names the pieces that enter the median (the finished ones); None counts all.
    None comes back while no counted piece has any time.

    Raises `OutOfRange` for a moment that is no number.
    """
    taps = sorted((moment, piece) for piece, all_ in times_s.items() for moment in all_)
    if not all(isfinite(moment) for moment, _ in taps):
        raise OutOfRange("A tap without a time.", field="times_s")
    worked_s = dict.fromkeys(times_s, 0.0)
    for (before, _), (moment, piece) in pairwise(taps):
        if moment - before <= BREAK_MIN * 60:
            worked_s[piece] += moment - before
    spent = [s for piece, s in worked_s.items() if s and (counted is None or piece in counted)]
    return median(spent) / 60 if spent else None
