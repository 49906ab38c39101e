"""How long a piece takes, from the times of the taps. Nobody holds a stopwatch."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, inf, isfinite, log, sqrt
from statistics import median
from typing import TypeVar

import numpy as np
from scipy.special import stdtrit

from benchside.consistency.spread import CONFIDENCE, mean_of
from benchside.errors import OutOfRange

Of = TypeVar("Of", bound=Hashable)

BREAK_MIN = 20.0  # judgement: a longer gap between taps is a break, not work
MOST_AHEAD = 10_000  # judgement: nobody plans for more pieces
FEWEST_TIMES = 4  # judgement: fewer bend the line by one slow first piece
LEAST_SHARE = 1 / 3  # judgement: no piece to come takes less of the mean than this
FEW_REACH = 2.0  # judgement: fewer times only tell the rest within half and twice the mean
_TOO_LONG = 50.0  # the logarithm of more minutes than anyone has


@dataclass(frozen=True, slots=True)
class Practice:
    """How the time for a piece falls with practice, from ``n`` pieces. [minutes]

    Piece i takes ``first_minutes`` i ^ ``slope``: every doubling of the pieces made brings the
    time to ``doubling`` times what it was (0.9: a tenth saved), with 95 % limits that are None
    below three pieces. One piece alone says nothing of practice: slope 0. ``scatter`` is the
    standard deviation of the logarithm about the line; ``middle`` and ``room`` are the mean and
    the sum of squares of the logarithms of the numbers, which forecasts need, as is
    ``mean_minutes``, the plain mean of a piece.
    """

    n: int
    first_minutes: float
    slope: float
    doubling: float
    doubling_low: float | None
    doubling_high: float | None
    scatter: float
    middle: float
    room: float
    mean_minutes: float

    def minutes_for(self, piece: int) -> float:
        """What that piece takes by the line, or the mean of fewer than four times.

        Raises `OutOfRange` for a piece before the first.
        """
        if piece < 1:
            raise OutOfRange("Pieces are counted from 1.", field="piece")
        if self.n < FEWEST_TIMES:
            return self.mean_minutes
        return self.first_minutes * exp(self.slope * log(piece))


@dataclass(frozen=True, slots=True)
class Ahead:
    """What is still to do: the most likely time, and its 95 % limits. [minutes]

    A high one without end says that nothing is known.
    """

    pieces: int
    minutes: float
    low: float
    high: float


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
    worked = minutes_by(times_s)
    spent = [m for piece, m in worked.items() if m and (counted is None or piece in counted)]
    return median(spent) if spent else None


def minutes_by(times_s: Mapping[Of, Sequence[float]]) -> dict[Of, float]:
    """The time at the lathe for each piece, or for whatever the taps are sorted by.

    [s in, minutes out] As `minutes_per_piece`: each gap belongs to what the later tap is of.
    Raises `OutOfRange` for a moment that is no number.
    """
    taps = [(moment, of) for of, all_ in times_s.items() for moment in all_]
    if not all(isfinite(moment) for moment, _ in taps):
        raise OutOfRange("A tap without a time.", field="times_s")
    taps.sort(key=_moment)
    worked_s = dict.fromkeys(times_s, 0.0)
    for (before, _), (moment, of) in pairwise(taps):
        if moment - before <= BREAK_MIN * 60:
            worked_s[of] += moment - before
    return {of: s / 60 for of, s in worked_s.items()}


def _moment(tap: tuple[float, object]) -> float:
    return tap[0]


def practice(minutes: Sequence[float]) -> Practice:
    """The learning curve through the times of pieces 1, 2, 3 … in the order made. [minutes]

    The line of least squares of log time against log number: the time of each unit falls by one
    rate with every doubling (the unit curve [@crawford-1944]). NaN is a piece whose time was not
    taken; it still counts as made.

    Raises `OutOfRange` without a time, or for one that is not more than 0.

    >>> round(practice([10.0, 8.0]).doubling, 3)
    0.8
    """
    number = np.arange(1, len(minutes) + 1, dtype=np.float64)
    taken = np.asarray(minutes, dtype=np.float64)
    seen = ~np.isnan(taken)
    number, taken = np.log(number[seen]), taken[seen]
    if not taken.size or not np.all(np.isfinite(taken) & (taken > 0)):
        raise OutOfRange("A piece takes more than 0 minutes.", field="minutes")
    time, mean = np.log(taken), mean_of(taken)
    middle, n = mean_of(number), int(taken.size)
    along = number - middle
    room = float(along @ along)
    slope = float(along @ (time - mean_of(time))) / room if room else 0.0
    first = exp(mean_of(time) - slope * middle)
    if n < 3:
        return Practice(n, first, slope, 2**slope, None, None, 0.0, middle, room, mean)
    rest = time - mean_of(time) - slope * along
    scatter = sqrt(float(rest @ rest) / (n - 2))
    reach = float(stdtrit(n - 2, (1 + CONFIDENCE) / 2)) * scatter / sqrt(room)
    return Practice(
        n,
        first,
        slope,
        2**slope,
        _power(slope - reach),
        _power(slope + reach),
        scatter,
        middle,
        room,
        mean,
    )


def ahead(found: Practice, made: int, wanted: int) -> Ahead:
    """How long the pieces still to make will take, by the learning curve. [minutes]

    The sum of the curve over pieces ``made`` + 1 to ``wanted``, with the mean of times that
    scatter in the logarithm (half its variance more). The limits are by Student's t on n - 2
    degrees of freedom, with the error of the line and the scatter of the pieces to come carried
    into the logarithm of the sum. Below four times it is the mean for each piece, within half and
    twice of that; never is it below a third of the mean for each. Breaks are not in it.

    Raises `OutOfRange` for counts that are none.
    """
    if not 0 <= made <= wanted <= MOST_AHEAD:
        raise OutOfRange("The pieces to come are counted from those made.", field="wanted")
    if made == wanted:
        return Ahead(0, 0.0, 0.0, 0.0)
    plain = found.mean_minutes * (wanted - made)
    if found.n < FEWEST_TIMES:
        return Ahead(wanted - made, plain, plain / FEW_REACH, plain * FEW_REACH)
    number = np.log(np.arange(made + 1, wanted + 1, dtype=np.float64))
    curve = np.exp(log(found.first_minutes) + found.slope * number + found.scatter**2 / 2)
    each = np.maximum(curve, LEAST_SHARE * found.mean_minutes)
    minutes = float(np.sum(each))
    share = each / minutes
    line = 1 / found.n + float(share @ (number - found.middle)) ** 2 / found.room
    error = found.scatter * sqrt(line + float(share @ share))
    reach = float(stdtrit(found.n - 2, (1 + CONFIDENCE) / 2)) * error
    low = min(max(minutes * exp(-min(reach, _TOO_LONG)), LEAST_SHARE * plain), minutes)
    high = minutes * exp(reach) if reach < _TOO_LONG else inf
    return Ahead(wanted - made, minutes, low, high)


def _power(slope: float) -> float:
    return 2.0**slope if slope < _TOO_LONG else inf
