"""Which pieces to use, and which goes where in the row."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from math import inf

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, milp, quadratic_assignment

from benchside.errors import OutOfRange

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int_]

MOST_PIECES = 60  # judgement: so many are chosen among in seconds
SAME = 9  # decimals: what differs beyond is the binary form of the figures, not wood

# judgement: what two unlike pieces cost, by where they stand, and an odd piece by its place
MATES = 2.0  # mirrored left and right: the eye compares them
NEIGHBOURS = 1.0
ODD = 2.0  # in the middle of the row, falling to nothing at its ends
EXACT_PLACES = 12  # all orders are weighed up to here
STARTS = 2  # beyond it, so many exchanges are begun from chance orders, besides two by size


@dataclass(frozen=True, slots=True)
class Choice:
    """The pieces that go together best, by row, and what another choice would cost.

    ``worst_range_mm`` is how far they lie apart at ``worst_column``, the station that decides;
    ``worst`` is that times its weight. ``ranges_mm`` are all stations (NaN: not counted).
    ``next_best`` is the best of all other choices; None if there is no other. ``left_out`` are
    the rows that could not be chosen, for want of a reading.
    """

    chosen: tuple[int, ...]
    worst_range_mm: float
    worst_column: int
    worst: float
    ranges_mm: tuple[float, ...]
    left_out: tuple[int, ...]
    next_best: Choice | None


def best_set(
    sizes_mm: npt.ArrayLike,
    k: int,
    weights: npt.ArrayLike | None = None,
    pins: Collection[int] = (),
) -> Choice:
    """The ``k`` pieces whose largest difference at any station is the least there is. [mm]

    ``sizes_mm`` has a row for each piece and a column for each station (sizes or positions, or
    their differences from the target). ``weights`` multiply each column: give 1 / tolerance, so
    that decoration does not outvote tenons; 0 leaves a column out. ``pins`` are rows that must be
    in. A piece not measured (NaN) at every counted station is no candidate and is named.

    Exact: pieces go together within a limit exactly if every two of them do, so the least limit
    is one of the differences between two pieces, and the question for each is whether k pieces
    all agree with one another, which HiGHS settles. Among choices as good, the pieces nearest the
    middle of all are taken.

    Raises `OutOfRange` for endless sizes, weights that are none, more than 60 candidates, fewer
    than k, or a pin that is none of them.
    """
    sizes, weight = _columns(sizes_mm, weights)
    complete = ~np.any(np.isnan(sizes[:, weight > 0]), axis=1)
    rows = np.flatnonzero(complete)
    _check(k, rows, pins)
    scaled = sizes[np.ix_(complete, weight > 0)] * weight[weight > 0]
    apart = np.round(np.max(np.abs(scaled[:, None] - scaled[None]), axis=2), SAME)
    off = np.sqrt(np.mean((scaled - np.median(scaled, axis=0)) ** 2, axis=1))
    pinned = np.isin(rows, list(pins))
    best = _least(apart, off, k, pinned)
    if best is None:
        raise AssertionError("k pieces always agree within the widest limit")
    other = _least(apart, off, k, pinned, best)
    left_out = tuple(np.flatnonzero(~complete).tolist())
    after = None if other is None else _choice(sizes, weight, rows[other], left_out, None)
    return _choice(sizes, weight, rows[best], left_out, after)


def _choice(
    sizes: Floats, weight: Floats, rows: Ints, left_out: tuple[int, ...], after: Choice | None
) -> Choice:
    ranges = np.where(weight > 0, np.ptp(sizes[rows], axis=0), np.nan)
    weighed = ranges * weight
    column = int(np.nanargmax(weighed))
    return Choice(
        chosen=tuple(rows.tolist()),
        worst_range_mm=float(ranges[column]),
        worst_column=column,
        worst=float(weighed[column]),
        ranges_mm=tuple(ranges.tolist()),
        left_out=left_out,
        next_best=after,
    )


def _columns(sizes_mm: npt.ArrayLike, weights: npt.ArrayLike | None) -> tuple[Floats, Floats]:
    sizes = np.asarray(sizes_mm, dtype=np.float64)
    if sizes.ndim != 2 or not sizes.shape[1]:
        raise OutOfRange("It takes a row for each piece, with its stations.", field="sizes_mm")
    if np.any(np.isinf(sizes)):
        raise OutOfRange("One of these is no length.", field="sizes_mm")
    weight = np.ones(sizes.shape[1]) if weights is None else np.asarray(weights, dtype=np.float64)
    if weight.shape != sizes.shape[1:] or not np.all(np.isfinite(weight) & (weight >= 0)):
        raise OutOfRange("Each station needs a weight of 0 or more.", field="weights")
    if not np.any(weight > 0):
        raise OutOfRange("At least one station must count.", field="weights")
    return sizes, weight


def _check(k: int, rows: Ints, pins: Collection[int]) -> None:
    if k < 1:
        raise OutOfRange("Choose one piece at least.", field="k")
    if rows.size < k:
        raise OutOfRange(
            f"Only {rows.size} of the pieces are measured at every station that counts.",
            hint="Measure the others there too, or leave that station out.",
            field="k",
        )
    if rows.size > MOST_PIECES:
        raise OutOfRange(
            f"These are too many to choose among at once: {rows.size}.",
            hint=f"Choose among {MOST_PIECES} at most.",
            field="sizes_mm",
        )
    if not set(pins) <= set(rows.tolist()):
        raise OutOfRange(
            "A piece that must be in is not measured at every station that counts.", field="pins"
        )
    if len(set(pins)) > k:
        raise OutOfRange(f"More than {k} pieces must be in.", field="pins")


def _least(
    apart: Floats, off: Floats, k: int, pinned: Bools, but: Ints | None = None
) -> Ints | None:
    """The k that agree within the least limit, other than ``but``; None if there are no others.

    By halving over the limits there are; no others agree within less than ``but`` do.
    """
    limits = np.unique(apart)
    if but is not None:
        limits = limits[limits >= np.max(apart[np.ix_(but, but)])]
    found = None
    low, high = 0, limits.size
    middle = 0  # it is often the very first for others, and quickly no for the best
    while low < high:
        agreed = _agree(apart <= limits[middle], off, k, pinned, but)
        found = found if agreed is None else agreed
        low, high = (middle + 1, high) if agreed is None else (low, middle)
        middle = (low + high) // 2
    return found


def _agree(near: Bools, off: Floats, k: int, pinned: Bools, but: Ints | None) -> Ints | None:
    """The k pieces all near one another that lie least off, or None. Rows of ``near``."""
    keep = _core(near, k, pinned)
    if keep.size < k or not np.all(np.isin(np.flatnonzero(pinned), keep)):
        return None
    unlike = _unlike_groups(~near[np.ix_(keep, keep)])
    rules = [LinearConstraint(np.ones((1, keep.size)), k, k)]
    if unlike.size:
        rules.append(LinearConstraint(unlike, -np.inf, 1))
    if but is not None:
        rules.append(LinearConstraint(np.isin(keep, but)[None] * 1.0, -np.inf, k - 1))
    solved = milp(
        off[keep],
        constraints=rules,
        bounds=Bounds(pinned[keep] * 1.0, np.ones(keep.size)),
        integrality=np.ones(keep.size),
    )
    return None if solved.x is None else keep[solved.x > 0.5]


def _core(near: Bools, k: int, pinned: Bools) -> Ints:
    """Those near k pieces or more (themselves counted) and every pin, and so on among those."""
    keep = np.flatnonzero(np.all(near[:, pinned], axis=1))
    while keep.size:
        stays = np.sum(near[np.ix_(keep, keep)], axis=1) >= k
        if stays.all():
            break
        keep = keep[stays]
    return keep


def _unlike_groups(unlike: Bools) -> Floats:
    """Groups of pieces no two of which go together, so that one at most is chosen: a row each.

    Every unlike pair is in some group, and the larger the groups, the tighter the formulation.
    """
    left = np.triu(unlike, 1)
    rows = []
    while left.any():
        first, second = np.argwhere(left)[0]
        group = [int(first), int(second)]
        others = unlike[first] & unlike[second]
        while others.any():
            group.append(int(np.argmax(others)))
            others = others & unlike[group[-1]]
        left[np.ix_(group, group)] = False
        row = np.zeros(len(unlike))
        row[group] = 1
        rows.append(row)
    return np.array(rows)


def arrange(
    sizes_mm: npt.ArrayLike,
    weights: npt.ArrayLike | None = None,
    pins: Mapping[int, int] | None = None,
) -> tuple[int, ...]:
    """Which piece (row) stands at each place of a row, from left to right.

    The order whose `unlikeness` is least: mates mirrored left and right alike, neighbours alike,
    an odd piece toward an end. ``sizes_mm`` and ``weights`` as in `best_set`; a station where one
    of two pieces was not measured (NaN) is left out between those two. ``pins`` gives pieces
    their places, {row: place}, counted from 0.

    Up to 12 places every order is weighed (outside in, by dynamic programming); beyond that the
    best is taken of exchanges of two begun from several orders, which comes near. Of an order and
    its mirror image, the one with the lower row at the left.

    Raises `OutOfRange` as `best_set` does, or for pins that do not fit.
    """
    sizes, weight = _columns(sizes_mm, weights)
    count = len(sizes)
    pinned = dict(pins or {})
    places = set(pinned.values())
    if not (set(pinned) | places <= set(range(count)) and len(places) == len(pinned)):
        raise OutOfRange("A pinned piece needs a place of its own in the row.", field="pins")
    if count < 2:
        return tuple(range(count))
    unlike = _unlike(sizes, weight)
    exact = count <= EXACT_PLACES
    order = _outside_in(unlike, pinned) if exact else _exchanged(unlike, pinned)
    return order if pinned or order[0] <= order[-1] else order[::-1]


def unlikeness(
    sizes_mm: npt.ArrayLike, order: npt.ArrayLike, weights: npt.ArrayLike | None = None
) -> float:
    """What an order costs: the sum that `arrange` makes least. [mm, times the weights]

    Twice the difference of every two mates (places mirrored about the middle), once that of every
    two neighbours, and for each piece its difference from the middle of all pieces times 2 in the
    middle of the row, falling evenly to 0 at its ends. The difference of two pieces is the root of
    the mean square over their stations. The weights are ours (judgement).

    Raises `OutOfRange` as `best_set` does, or for an order that leaves a piece out.
    """
    sizes, weight = _columns(sizes_mm, weights)
    at = np.asarray(order, dtype=int)
    if sorted(at.tolist()) != list(range(len(sizes))):
        raise OutOfRange("Every piece needs one place.", field="order")
    if at.size < 2:
        return 0.0
    return float(np.sum(_looked_at(at.size) * _unlike(sizes, weight)[np.ix_(at, at)]))


def _unlike(sizes: Floats, weight: Floats) -> Floats:
    """Difference of every two pieces; on the diagonal, of each from the middle of all."""
    counted = (weight > 0) & ~np.all(np.isnan(sizes), axis=0)
    scaled = sizes[:, counted] * weight[counted]
    seen = ~np.isnan(scaled)
    middle = np.nanmedian(scaled, axis=0)
    filled = np.where(seen, scaled, 0.0)
    both = seen[:, None] & seen[None]
    squares = np.sum(np.where(both, filled[:, None] - filled[None], 0.0) ** 2, axis=2)
    unlike: Floats = np.sqrt(squares / np.maximum(np.sum(both, axis=2), 1))
    off = np.sum(np.where(seen, filled - middle, 0.0) ** 2, axis=1)
    np.fill_diagonal(unlike, np.sqrt(off / np.maximum(np.sum(seen, axis=1), 1)))
    return unlike


def _looked_at(places: int) -> Floats:
    """How much the eye compares two places, each way half; on the diagonal, how much one shows."""
    looked = np.zeros((places, places))
    at = np.arange(places)
    looked[at[:-1], at[1:]] += NEIGHBOURS / 2
    looked[at[1:], at[:-1]] += NEIGHBOURS / 2
    looked[at, at[::-1]] += MATES / 2
    np.fill_diagonal(looked, ODD * (1 - np.abs(2 * at - (places - 1)) / (places - 1)))
    return looked


def _outside_in(unlike: Floats, pinned: Mapping[int, int]) -> tuple[int, ...]:
    """The best order of all: places filled in mirrored pairs, from the ends to the middle.

    Of all ways to use the same pieces with the same two placed last, only the cheapest goes on.
    """
    count = len(unlike)
    bits = 1 << np.arange(count)
    place, pair, beside = _costs(unlike, pinned)
    best = np.full((1 << count, count, count), inf)
    left, right = np.nonzero(~np.eye(count, dtype=bool))
    best[bits[left] | bits[right], left, right] = pair[0][left, right]
    for depth in range(1, count // 2):
        for used in (u for u in range(1 << count) if u.bit_count() == 2 * depth):
            free = np.flatnonzero(bits & used == 0)
            left, right = (free[i] for i in np.nonzero(~np.eye(free.size, dtype=bool)))
            cost = (_next_in(best[used], beside) + pair[depth])[left, right]
            after = used | bits[left] | bits[right]
            best[after, left, right] = np.minimum(best[after, left, right], cost)
    used, inner = (1 << count) - 1, []
    if count % 2:
        single = [_next_in(best[used ^ bit], beside)[i, i] for i, bit in enumerate(bits.tolist())]
        inner = [int(np.argmin(np.array(single) + place[count // 2]))]
        used ^= int(bits[inner[0]])
    return _traced(best, beside, used, inner)


def _costs(unlike: Floats, pinned: Mapping[int, int]) -> tuple[Floats, list[Floats], Floats]:
    """Of a piece at a place, of two pieces at the mirrored places from the ends in, side by side.

    A place that pins forbid costs without end.
    """
    count = len(unlike)
    apart = unlike - np.diag(np.diag(unlike))
    place = np.diag(_looked_at(count))[:, None] * np.diag(unlike)
    for piece, at in pinned.items():
        place[np.arange(count) != at, piece] = inf
        place[at, np.arange(count) != piece] = inf
    pair = [
        place[depth][:, None] + place[count - 1 - depth] + MATES * apart
        for depth in range(count // 2)
    ]
    if count % 2 == 0:
        pair[-1] = pair[-1] + NEIGHBOURS * apart
    return place, pair, NEIGHBOURS * apart


def _next_in(best: Floats, beside: Floats) -> Floats:
    """The least cost of each two pieces set inside of the two placed last."""
    left = np.min(best[:, :, None] + beside[:, None, :], axis=0)
    found: Floats = np.min(left[:, :, None] + beside[:, None, :], axis=0)
    return found


def _traced(best: Floats, beside: Floats, used: int, inner: list[int]) -> tuple[int, ...]:
    """Back outward from the innermost places, along the cheapest way."""
    lefts: list[int] = []
    rights: list[int] = []
    while used:
        cost = best[used].copy()
        if inner or lefts:
            cost += beside[:, [(lefts or inner)[0]]] + beside[[(rights or inner)[0]]]
        left, right = (int(i) for i in np.unravel_index(np.argmin(cost), cost.shape))
        lefts.insert(0, left)
        rights.insert(0, right)
        used ^= 1 << left | 1 << right
    return (*lefts, *inner, *reversed(rights))


def _exchanged(unlike: Floats, pinned: Mapping[int, int]) -> tuple[int, ...]:
    """A good order of many: two pieces change places as long as that helps.

    Begun from all in one line by size, dealt left and right in turn from the thin end and from
    the thick one, and from chance orders.
    """
    looked = _looked_at(len(unlike))
    fixed = np.array(sorted((place, piece) for piece, place in pinned.items()), dtype=int)
    along = _along(unlike)
    starts = [_dealt(along, fixed), _dealt(along[::-1], fixed)]
    starts += [_dealt(np.random.default_rng(i).permutation(along), fixed) for i in range(STARTS)]
    tried = [
        quadratic_assignment(
            looked,
            unlike,
            method="2opt",
            options={
                "rng": np.random.default_rng(0),
                "partial_match": fixed.reshape(-1, 2),
                "partial_guess": start,
            },
        )
        for start in starts
    ]
    best = min(tried, key=lambda found: float(found.fun))
    return tuple(best.col_ind.tolist())


def _along(unlike: Floats) -> Ints:
    """The pieces in one line, so that near in it is alike: the first axis of their distances."""
    square = (unlike - np.diag(np.diag(unlike))) ** 2
    centred = square - np.mean(square, axis=0) - np.mean(square, axis=1, keepdims=True)
    return np.argsort(np.linalg.eigh(-(centred + np.mean(square)))[1][:, -1], kind="stable")


def _dealt(along: Ints, fixed: Ints) -> Ints:
    """Places and pieces: dealt from the ends of the row inward, the pinned ones where they are."""
    count = along.size
    inward = [
        place for pair in zip(range(count), range(count)[::-1], strict=True) for place in pair
    ]
    taken = set(fixed[:, 0].tolist()) if fixed.size else set()
    free = [place for place in dict.fromkeys(inward) if place not in taken]
    pinned = set(fixed[:, 1].tolist()) if fixed.size else set()
    pieces = [piece for piece in along.tolist() if piece not in pinned]
    dealt = [*zip(free, pieces, strict=True), *map(tuple, fixed.reshape(-1, 2).tolist())]
    return np.array(sorted(dealt), dtype=int)
