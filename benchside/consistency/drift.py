"""Is it creeping? A line through the order of turning, the limits of single pieces, the watch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import nan, sqrt
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.special import stdtr, stdtrit

from benchside.consistency.spread import (
    CONFIDENCE,
    NOTHING_MM,
    mean_of,
    measured,
    step_floor_mm,
)
from benchside.errors import OutOfRange

Floats = npt.NDArray[np.float64]
How = Literal["creeps", "jumped"]
Rule = Literal["outside", "run"]

D2 = 1.128  # mean range of two, in standard deviations [@nist-handbook, 6.3.2]
RUN_LENGTH = 8  # in a row on one side of the centre [@nist-handbook, 6.3.2]
# Share of charts on which nothing moves and some piece is called out, by pieces: by simulation.
BY_LUCK = {
    4: 0.0,
    6: 0.013,
    9: 0.018,
    12: 0.028,
    20: 0.065,
    40: 0.17,
    60: 0.27,
    100: 0.43,
    400: 0.92,
}

FALSE_ALARMS_PER_SET = 0.05  # judgement: one set in twenty cries wolf, not one piece in twenty
FEWEST_PIECES = 5  # judgement: before that nothing could be told
LEAST_SINCE = 3  # judgement, pieces since it began: one or two are an odd piece, not drift
BEFORE_A_JUMP = 2  # judgement: so many pieces say where it stood
# How many tests worth of false alarms the looks at one group make over a set, by pieces in the
# set, for three shares of sets in which one group may cry wolf: by simulation, 400 000 sets of
# normal scatter.
LOOKS_PIECES = (5, 6, 8, 10, 12, 16, 20, 26, 32, 40, 60)
LOOKS = {
    0.0025: (2.93, 7.36, 18.8, 32.1, 45.7, 75.6, 105.0, 155.0, 205.0, 279.0, 418.0),
    0.01: (2.75, 6.65, 16.5, 27.8, 40.0, 65.5, 90.2, 133.0, 176.0, 230.0, 363.0),
    0.05: (2.33, 5.21, 12.2, 20.5, 28.9, 46.8, 65.9, 95.1, 126.0, 165.0, 270.0),
}


@dataclass(frozen=True, slots=True)
class Caught:
    """What the watch catches, by simulation, in a set of so many ``pieces`` on five calipers.

    One of them, that reads so many ``stations``, begins to move with the piece after
    ``steady``: by ``by_sds`` a piece, or at once where it ``jumped``, in standard deviations of
    one reading. ``share`` of such sets are given the alarm, half of those caught (and more) with
    ``after`` pieces off or fewer.
    """

    pieces: int
    stations: int
    steady: int
    how: How
    by_sds: float
    share: float
    after: int


CAUGHT = (
    Caught(9, 2, 4, "creeps", 1.0, 0.91, 4),
    Caught(12, 2, 6, "creeps", 0.5, 0.64, 6),
    Caught(12, 2, 6, "creeps", 1.0, 1.0, 4),
    Caught(12, 2, 6, "jumped", 3.0, 0.92, 4),
    Caught(20, 2, 10, "creeps", 0.25, 0.81, 9),
    Caught(20, 2, 10, "creeps", 0.5, 1.0, 6),
    Caught(20, 1, 10, "creeps", 0.5, 0.99, 7),
    Caught(20, 2, 10, "jumped", 2.0, 0.92, 5),
    Caught(40, 2, 20, "creeps", 0.25, 1.0, 8),
)


@dataclass(frozen=True, slots=True)
class Trend:
    """The straight line through sizes in the order of turning.

    ``slope_mm_per_piece`` with its 95 % limits; they are None for two pieces, where a line has
    nothing to miss.
    """

    n: int
    slope_mm_per_piece: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Signal:
    """A value, by its position in those given, that is called out, and by which rule."""

    at: int
    rule: Rule


@dataclass(frozen=True, slots=True)
class Individuals:
    """Single pieces in order: centre, the limits that nearly all keep to, and what does not. [mm]

    ``sd_mm`` is the standard deviation from piece to piece, by the mean moving range.
    """

    n: int
    centre_mm: float
    lower_mm: float
    upper_mm: float
    sd_mm: float
    signals: tuple[Signal, ...]


@dataclass(frozen=True, slots=True)
class Alarm:
    """The pieces that share a caliper (one ``group``) have begun to move.

    ``since`` is the row of the first piece that is off, ``pieces`` how many are read from there
    on. Where it ``creeps``, ``slope_mm_per_piece`` is how fast; where it ``jumped`` that is 0.
    ``moved_mm`` is how far off the newest piece is by the line or the jump, ``low_mm`` to
    ``high_mm`` its 95 % limits over all the pieces it can have begun with (92 % where it creeps
    by a quarter of a standard deviation a piece, by simulation). ``columns`` are the
    stations of the group and ``most`` the one that moved most; ``p`` is the chance of one look.
    """

    group: str
    how: How
    since: int
    pieces: int
    slope_mm_per_piece: float
    moved_mm: float
    low_mm: float
    high_mm: float
    columns: tuple[int, ...]
    most: int
    p: float


def trend(values: npt.ArrayLike, order: npt.ArrayLike, step_mm: float = 0.0) -> Trend:
    """How fast a size creeps from piece to piece, with 95 % limits. [mm a piece]

    The line of least squares through ``values`` against ``order`` (1, 2, 3 … as turned) with
    limits by Student's t on n - 2 degrees of freedom. Least squares, because its limits keep
    their promise from three pieces on; the median of all slopes, which shrugs off an odd piece,
    has no 95 % limits below five. Take an odd piece out first, and name it. ``step_mm``: the
    scatter is never taken to be less than step / sqrt(12). NaN is left out.

    Raises `OutOfRange` for fewer than two pieces, all at one place in the order, or an endless
    figure.
    """
    y, at = (np.asarray(a, dtype=np.float64).ravel() for a in (values, order))
    floor_mm = step_floor_mm(step_mm)
    if y.shape != at.shape:
        raise OutOfRange("Each size needs its place in the order.", field="order")
    read = ~(np.isnan(y) | np.isnan(at))
    y, at = measured(y[read]), measured(at[read])
    if y.size < 2 or np.ptp(at) == 0:
        raise OutOfRange("It takes two pieces to tell a direction.", field="values")
    along = at - mean_of(at)
    rise = y - mean_of(y)
    slope = float(np.sum(along * rise) / np.sum(along**2))
    degrees = y.size - 2
    if degrees == 0:
        return Trend(2, slope, None, None)
    sd = sqrt(float(np.sum((rise - slope * along) ** 2)) / degrees)
    error = max(sd, floor_mm) / sqrt(float(np.sum(along**2)))
    reach = float(stdtrit(degrees, (1 + CONFIDENCE) / 2)) * error
    return Trend(int(y.size), slope, slope - reach, slope + reach)


def individuals(values: npt.ArrayLike, step_mm: float = 0.0) -> Individuals:
    """The chart of single pieces: mean, and three standard deviations to either side. [mm]

    The standard deviation is the mean moving range, newest less one before, over d2 = 1.128
    [@nist-handbook, 6.3.2.2], never less than ``step_mm`` / sqrt(12). Called out is a piece
    outside the limits, and every one from the eighth in a row on one side of the centre.

    Where nothing moves, some piece is called out on none of the charts of 3, 1 in 100 of those
    of 6, 2 of 9, 6 of 20 and 17 of 40 (`BY_LUCK`, by simulation). With limits from the same few
    pieces as they judge, what has only just begun to move is seldom seen: this is a picture, the
    verdict is that of `watch`. NaN is left out but keeps its place.

    Raises `OutOfRange` for fewer than two values or an endless one.
    """
    floor_mm = step_floor_mm(step_mm)
    given = np.asarray(values, dtype=np.float64).ravel()
    places, x = np.flatnonzero(~np.isnan(given)).tolist(), measured(given)
    if x.size < 2:
        raise OutOfRange("It takes two pieces to see how they differ.", field="values")
    centre = mean_of(x)
    sd = max(float(np.mean(np.abs(np.diff(x)))) / D2, floor_mm)
    signals: list[Signal] = []
    in_a_row, before = 0, 0
    for at, off in zip(places, (x - centre).tolist(), strict=True):
        side = 0 if abs(off) <= NOTHING_MM else 1 if off > 0 else -1
        in_a_row = in_a_row + 1 if side == before else 1
        before = side
        if abs(off) > 3 * sd + NOTHING_MM:
            signals.append(Signal(at, "outside"))
        elif side and in_a_row >= RUN_LENGTH:
            signals.append(Signal(at, "run"))
    low, high = centre - 3 * sd, centre + 3 * sd
    return Individuals(int(x.size), centre, low, high, sd, tuple(signals))


def by_luck(pieces: int) -> float:
    """On what share of charts of so many some piece is called out though nothing moves. [0 to 1]"""
    return float(np.interp(pieces, list(BY_LUCK), list(BY_LUCK.values())))


def watch(
    off_mm: npt.ArrayLike,
    groups: Sequence[str],
    pieces: int,
    *,
    step_mm: npt.ArrayLike = 0.0,
    worth_mm: float = 0.0,
) -> tuple[Alarm, ...]:
    """Whether the last pieces drift, looked at after every piece; the surest alarm first. [mm]

    ``off_mm`` has a row for each piece in the order of turning and a column for each station:
    differences from the target, NaN where nothing was read. ``groups`` names, for each column,
    the caliper it is read with: its columns are judged together, by their mean on each piece, for
    what slips moves them all. ``pieces`` is how many the set is to have, and all groups must be
    given from the first piece on: both set how sure an alarm must be.

    Of all the pieces it can have begun with, a line that bends there (creeping) and a jump are
    laid through the means, and the one that explains most is tested by Student's t. At least
    three pieces must have moved. The threshold is set by simulation so that a set in which
    nothing moves is given a false alarm, at any piece and in any group, one time in twenty
    (`FALSE_ALARMS_PER_SET`), whatever its size and stations; scatter that all stations of a
    piece share does not add to them, and readings to a coarse step make them fewer, but for long
    sets read to a step of several standard deviations (one in eleven at 40 pieces). Scatter with
    far more wild pieces than normal makes more (one in six at 40 pieces, for Student's t with 4
    degrees of freedom): take an odd piece out first. For what is caught, and when, see `CAUGHT`.

    ``step_mm``: scatter is never taken to be less than the step of the readings allows; one for
    all, or one for each station. ``worth_mm``: what has moved no farther is not told. After a
    caliper was set anew, give the pieces since then.

    Raises `OutOfRange` for an endless figure, or groups that are not one for each column.
    """
    table = np.asarray(off_mm, dtype=np.float64)
    if table.ndim != 2 or table.shape[1] != len(groups):
        raise OutOfRange("Each station needs its caliper.", field="groups")
    measured(table)
    steps = np.broadcast_to(np.asarray(step_mm, dtype=np.float64), len(groups)).tolist()
    floors_mm = np.array([step_floor_mm(step) for step in steps])
    columns: dict[str, list[int]] = {}
    for column, group in enumerate(groups):
        columns.setdefault(group, []).append(column)
    limit = alarm_below(max(pieces, len(table)), len(columns))
    found = [_judge(group, table, of, floors_mm[of]) for group, of in columns.items()]
    alarms = [a for a in found if a and a.p <= limit and abs(a.moved_mm) > worth_mm + NOTHING_MM]
    return tuple(sorted(alarms, key=lambda alarm: alarm.p))


def history(
    off_mm: npt.ArrayLike,
    groups: Sequence[str],
    pieces: int,
    *,
    step_mm: npt.ArrayLike = 0.0,
    worth_mm: float = 0.0,
) -> tuple[tuple[int, Alarm], ...]:
    """The first alarm of each group, with the row after which it was given. [mm] As `watch`."""
    table = np.asarray(off_mm, dtype=np.float64)
    told: dict[str, tuple[int, Alarm]] = {}
    for row in range(len(table)):
        alarms = watch(table[: row + 1], groups, pieces, step_mm=step_mm, worth_mm=worth_mm)
        for alarm in alarms:
            told.setdefault(alarm.group, (row, alarm))
    return tuple(told.values())


def alarm_below(pieces: int, groups: int) -> float:
    """How small the chance of one look must be for an alarm, so that a set has few false ones.

    ``groups`` share the set's 5 % between them; each one's share is spread over its looks.
    Raises `OutOfRange` without pieces or groups.
    """
    if pieces < 1 or groups < 1:
        raise OutOfRange("There is nothing to watch.", field="pieces")
    share = 1 - (1 - FALSE_ALARMS_PER_SET) ** (1 / groups)
    at = np.log(max(pieces, FEWEST_PIECES))
    looks = [np.interp(at, np.log(LOOKS_PIECES), np.log(row)) for row in LOOKS.values()]
    return float(share / np.exp(np.interp(np.log(share), np.log(list(LOOKS)), looks)))


def aim_off_mm(off_mm: npt.ArrayLike, *, to_the_target: bool = False) -> float:
    """What to aim for on the next pieces, from the target, so that the set ends alike. [mm]

    The nearest to the target that leaves the next piece among those that stand: two standard
    deviations from piece to piece inside the thickest and the thinnest, or their middle where
    there is not so much room. A tenon has its hole to fit: ``to_the_target``, always 0. NaN is
    left out; nothing read yet: 0. The rule is ours (judgement).

    Raises `OutOfRange` for an endless figure.
    """
    x = measured(off_mm)
    if to_the_target or x.size < 2:
        return 0.0
    room = 2 * float(np.mean(np.abs(np.diff(x)))) / D2
    low, high = float(np.min(x)) + room, float(np.max(x)) - room
    return (low + high) / 2 if low >= high else min(max(0.0, low), high)


def _judge(group: str, table: Floats, columns: list[int], floors_mm: Floats) -> Alarm | None:
    """The likeliest beginning of a drift in one group, however unlikely it is."""
    rows = np.flatnonzero(~np.all(np.isnan(table[:, columns]), axis=1))
    n = rows.size
    if n < FEWEST_PIECES:
        return None
    read = table[rows][:, columns]
    piece = _piece_means(read)
    shapes, unit = _shapes(n)
    along = unit @ piece
    best = int(np.argmax(np.abs(along)))
    rests = np.maximum(np.sum((piece - np.mean(piece)) ** 2) - along**2, 0.0)
    stations = np.mean(np.sum(~np.isnan(read), axis=1))
    floor_mm = sqrt(float(np.mean(floors_mm**2)) / stations)
    least_mm = max(floor_mm, 1e-3 * NOTHING_MM)
    sd = max(sqrt(float(rests[best]) / (n - 2)), least_mm)
    shape, begins, how = shapes[best], _begins(n)[best], _hows(n)[best]
    size = along[best] / float(unit[best] @ shape)
    moved = size * shape[-1]
    low, high = _moved_limits(along, rests, n, least_mm)
    return Alarm(
        group=group,
        how=how,
        since=int(rows[begins]),
        pieces=int(n - begins),
        slope_mm_per_piece=float(size) if how == "creeps" else 0.0,
        moved_mm=float(moved),
        low_mm=low,
        high_mm=high,
        columns=tuple(columns),
        most=columns[_moved_most(read, shape, float(np.sign(moved)))],
        p=2 * float(stdtr(n - 2, -abs(along[best]) / sd)),
    )


def _moved_limits(along: Floats, rests: Floats, n: int, least_mm: float) -> tuple[float, float]:
    """The 95 % limits of how far the newest piece is off, whichever way it began to move. [mm]

    Every way counts that leaves hardly more unexplained than the best (profile likelihood), with
    one degree of freedom given to the choice between them.
    """
    shapes, unit = _shapes(n)
    sd = max(sqrt(float(np.min(rests)) / (n - 3)), least_mm)
    room = np.min(rests) + (float(stdtrit(n - 3, (1 + CONFIDENCE) / 2)) * sd) ** 2 - rests
    near = room >= 0
    newest = shapes[near, -1] / np.sum(unit[near] * shapes[near], axis=1)
    reach = np.sqrt(room[near])
    low, high = ((along[near] + side * reach) * newest for side in (-1, 1))
    return float(np.min(low)), float(np.max(high))


def _piece_means(read: Floats) -> Floats:
    """What each piece is off, all stations together: pieces and stations fitted at once."""
    gaps = np.isnan(read)
    if not gaps.any():
        return np.asarray(np.mean(read - np.mean(read, axis=0), axis=1), dtype=np.float64)
    at = np.argwhere(~gaps)
    pieces, stations = read.shape
    design = np.zeros((len(at), pieces + stations))
    design[np.arange(len(at)), at[:, 0]] = 1
    design[np.arange(len(at)), pieces + at[:, 1]] = 1
    fitted = np.linalg.lstsq(design, read[~gaps], rcond=None)[0]
    return np.asarray(fitted[:pieces], dtype=np.float64)


def _moved_most(read: Floats, shape: Floats, side: float) -> int:
    """Which station goes with the shape most, by its own readings."""
    sizes = []
    for column in read.T:
        seen = ~np.isnan(column)
        along = shape[seen] - np.mean(shape[seen]) if seen.any() else np.zeros(0)
        room = float(np.sum(along**2))
        sizes.append(float(along @ column[seen]) / room if room else nan)
    return int(np.nanargmax(side * np.array(sizes))) if np.any(~np.isnan(sizes)) else 0


@lru_cache(maxsize=128)
def _shapes(n: int) -> tuple[Floats, Floats]:
    """Every way it can have begun to move, a row each, as it is and as a unit contrast.

    First the lines that bend: 0 to the piece before the first that is off, then 1, 2, 3 … Then
    the jumps.
    """
    piece = np.arange(n, dtype=np.float64)
    creeping = [np.maximum(piece - last, 0) for last in range(n - LEAST_SINCE)]
    jumping = [(piece >= first) * 1.0 for first in range(BEFORE_A_JUMP, n - LEAST_SINCE + 1)]
    shapes = np.array(creeping + jumping)
    centred = shapes - np.mean(shapes, axis=1, keepdims=True)
    return shapes, centred / np.linalg.norm(centred, axis=1, keepdims=True)


def _begins(n: int) -> tuple[int, ...]:
    """The first piece that is off, for each row of the shapes."""
    return (*range(1, n - LEAST_SINCE + 1), *range(BEFORE_A_JUMP, n - LEAST_SINCE + 1))


def _hows(n: int) -> tuple[How, ...]:
    creeping: list[How] = ["creeps"] * (n - LEAST_SINCE)
    jumping: list[How] = ["jumped"] * (n - LEAST_SINCE + 1 - BEFORE_A_JUMP)
    return (*creeping, *jumping)
