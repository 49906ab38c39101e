"""Which pieces to use, and which goes where in the row."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from math import inf

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_array

from benchside.errors import OutOfRange

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int_]

SAME = 9  # decimals: what differs beyond is the binary form of the figures, not wood
NO_LESS = 1e-9  # a sum lower by less is no lower

# judgement: what two unlike pieces cost, by where they stand, and an odd piece by its place
MATES = 2.0  # mirrored left and right: the eye compares them
NEIGHBOURS = 1.0
ODD = 2.0  # in the middle of the row, falling to nothing at its ends
EXACT_PLACES = 12  # all orders are weighed up to here
# judgement, beyond it: an order is shaken up so often, divided by the square of the places, and so
# many pairs change places each time
SHAKES, MOST_SHAKES = 100_000, 60
SHAKEN = 3
MAY_MISS = 1  # judgement: so many stations may be unmeasured on a piece that is chosen from,
OF_STATIONS = 4  # where this many count for each
# judgement: divided by the pieces, how often one nearer the middle is looked for among choices as
# good
TRIED = 60_000


@dataclass(frozen=True, slots=True)
class Choice:
    """The pieces that go together best, by row, and what another choice would cost.

    ``worst_range_mm`` is how far they lie apart at ``worst_column``, the station that decides;
    ``worst`` is that times its weight. ``next_best`` is the best of all other choices; None if
    there is no other. ``left_out`` are the rows that could not be chosen, for want of a reading.
    """

    chosen: tuple[int, ...]
    worst_range_mm: float
    worst_column: int
    worst: float
    left_out: tuple[int, ...]
    next_best: Choice | None


def best_set(
    sizes_mm: npt.ArrayLike,
    k: int,
    weights: npt.ArrayLike | None = None,
    pins: Collection[int] = (),
    *,
    may_miss: int = 0,
) -> Choice:
    """The ``k`` pieces whose largest difference at any station is the least there is. [mm]

    ``sizes_mm`` has a row for each piece and a column for each station (sizes or positions, or
    their differences from the target). ``weights`` multiply each column: give 1 / tolerance, so
    that decoration does not outvote tenons; 0 leaves a column out. ``pins`` are rows that must be
    in. A piece not measured (NaN) at every counted station is no candidate and is named. With
    ``may_miss`` it may lack so many, and is compared with nothing there.

    Exact: pieces go together within a limit exactly if every two of them do, so the least limit
    is one of the differences between two pieces, and the question for each is whether k pieces
    all agree with one another, which is settled by branch and bound: in hundredths of a second for
    40 pieces, in seconds for hundreds. Among choices as good, the pieces nearest the middle of all
    are taken, as far as a bounded number of looks tells.

    Raises `OutOfRange` for endless sizes, weights that are none, fewer candidates than k, or a
    pin that is none of them.
    """
    sizes, weight = _columns(sizes_mm, weights)
    enough = _missing(sizes, weight) <= may_miss
    rows = np.flatnonzero(enough)
    _check(k, rows, pins)
    scaled = sizes[np.ix_(enough, weight > 0)] * weight[weight > 0]
    scaled = scaled[:, ~np.all(np.isnan(scaled), axis=0)]
    between = np.nan_to_num(np.abs(scaled[:, None] - scaled[None]))  # not measured: not apart
    apart = np.round(np.max(between, axis=2), SAME)
    squares = (scaled - np.nanmedian(scaled, axis=0)) ** 2
    off = np.round(np.sqrt(np.asarray(np.nanmean(squares, axis=1))), SAME)
    pinned = np.isin(rows, list(pins))
    best = _least(apart, off, k, pinned)
    if best is None:
        raise AssertionError("k pieces always agree within the widest limit")
    other = _least(apart, off, k, pinned, best)
    left_out = tuple(np.flatnonzero(~enough).tolist())
    after = None if other is None else _choice(sizes, weight, rows[other], left_out, None)
    return _choice(sizes, weight, rows[best], left_out, after)


def may_lack(weights: npt.ArrayLike) -> int:
    """How many stations a piece that is chosen from may be unmeasured at, of those that count.

    One where four count, else none (judgement): every one makes a piece look more alike than is
    known.
    """
    counted = int(np.sum(np.asarray(weights, dtype=np.float64) > 0))
    return min(MAY_MISS, counted // OF_STATIONS)


def measured_enough(sizes_mm: npt.ArrayLike, weights: npt.ArrayLike) -> Bools:
    """Which pieces (rows) can be chosen from where `may_lack` stations may be unmeasured."""
    sizes, weight = _columns(sizes_mm, weights)
    found: Bools = _missing(sizes, weight) <= may_lack(weight)
    return found


def _missing(sizes: Floats, weight: Floats) -> Ints:
    found: Ints = np.sum(np.isnan(sizes[:, weight > 0]), axis=1)
    return found


def _choice(
    sizes: Floats, weight: Floats, rows: Ints, left_out: tuple[int, ...], after: Choice | None
) -> Choice:
    read = ~np.isnan(sizes[rows])
    high = np.max(np.where(read, sizes[rows], -inf), axis=0)
    low = np.min(np.where(read, sizes[rows], inf), axis=0)
    ranges = np.full(len(weight), np.nan)
    told = (weight > 0) & np.any(read, axis=0)
    ranges[told] = high[told] - low[told]
    weighed = ranges * weight
    column = int(np.nanargmax(weighed))
    return Choice(
        chosen=tuple(rows.tolist()),
        worst_range_mm=float(ranges[column]),
        worst_column=column,
        worst=float(weighed[column]),
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
            f"Only {rows.size} of the pieces are measured at enough of the stations that count.",
            hint="Measure the others there too, or leave that station out.",
            field="k",
        )
    if not set(pins) <= set(rows.tolist()):
        raise OutOfRange(
            "A piece that must be in is not measured at enough of the stations.", field="pins"
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
        agreed = next(_agree(apart <= limits[middle], off, k, pinned, but), None)
        found = found if agreed is None else limits[middle]
        low, high = (middle + 1, high) if agreed is None else (low, middle)
        middle = (low + high) // 2
    if found is None:
        return None
    *_, nearest = _agree(apart <= found, off, k, pinned, but)
    return nearest


def _agree(near: Bools, off: Floats, k: int, pinned: Bools, but: Ints | None) -> Iterator[Ints]:
    """Choices of k pieces all near one another, each less off than the one before.

    Branch and bound. The pieces still to choose from are dealt into groups no two of which are
    near, so that each group gives one at most: with fewer groups than are wanted there is no
    choice, and none is less off than the first of each of the first groups.
    """
    rows = _core(near, k, pinned)
    rows = rows[np.lexsort((rows, off[rows], ~pinned[rows]))]
    held = int(np.sum(pinned))
    if rows.size < k or not np.all(pinned[rows[:held]]):
        return
    others = [_bits(row) & ~(1 << i) for i, row in enumerate(near[np.ix_(rows, rows)])]
    cost = off[rows].tolist()
    barred = 0 if but is None else _bits(np.isin(rows, but))
    best, tried, found = inf, 0, False
    free = (1 << rows.size) - (1 << held)
    branches = [(free, (1 << held) - 1, sum(cost[:held]), k - held)]
    while branches and not (found and tried * rows.size > TRIED):
        tried += 1
        left, chosen, spent, need = branches.pop()
        if not need:
            if chosen != barred and spent < best - NO_LESS:
                best, found = spent, True
                yield np.sort(rows[[i for i in range(rows.size) if chosen >> i & 1]])
            continue
        groups = _unlike_groups(left, others)
        firsts = [group[0] for group in groups[:need]]
        if len(firsts) < need or spent + sum(cost[i] for i in firsts) >= best - NO_LESS:
            continue
        late = [i for group in groups[need - 1 :] for i in group]
        after = []
        for i in reversed(late):
            after.append((left & others[i], chosen | 1 << i, spent + cost[i], need - 1))
            left ^= 1 << i
        branches += reversed(after)


def _bits(which: Bools) -> int:
    """As a whole number whose bit i says whether i is among them."""
    return int.from_bytes(np.packbits(which, bitorder="little").tobytes(), "little")


def _unlike_groups(left: int, others: list[int]) -> list[list[int]]:
    """All that are left, in groups no two of which are near; the least off comes first in each."""
    groups = []
    while left:
        open_, group = left, []
        while open_:
            first = (open_ & -open_).bit_length() - 1
            group.append(first)
            open_ &= ~(others[first] | 1 << first)
            left ^= 1 << first
        groups.append(group)
    return groups


def _core(near: Bools, k: int, pinned: Bools) -> Ints:
    """Those near k pieces or more (themselves counted) and every pin, and so on among those."""
    keep = np.flatnonzero(np.all(near[:, pinned], axis=1))
    while keep.size:
        stays = np.sum(near[np.ix_(keep, keep)], axis=1) >= k
        if stays.all():
            break
        keep = keep[stays]
    return keep


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

    Up to 12 places every order is weighed (outside in, by dynamic programming). Beyond that the
    order is one that no exchange of two makes better, and the best of several such; where both can
    be had it comes within 5 %. Of an order and its mirror image, the one with the lower row at the
    left.

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
    return _cost(_unlike(sizes, weight), at)


def _cost(unlike: Floats, order: npt.ArrayLike) -> float:
    at = np.asarray(order, dtype=int)
    return float(np.sum(_looked_at(at.size) * unlike[np.ix_(at, at)]))


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
    """A good order of many: no two that change places make it better.

    Begun from all in one line by size, dealt left and right in turn from the thin end and from
    the thick one; the better is shaken up again and again, and mended.
    """
    count = len(unlike)
    free = np.setdiff1d(np.arange(count), list(pinned.values()))
    along = _along(unlike)

    def mended(order: Ints) -> tuple[float, Ints]:
        order = _mended(unlike, order, free)
        return _cost(unlike, order), order

    least, best = min((mended(_dealt(way, pinned)) for way in (along, along[::-1])), key=_first)
    chance = np.random.default_rng(0)
    for _ in range(min(MOST_SHAKES, SHAKES // count**2) if free.size > 1 else 0):
        order = best.copy()
        for _ in range(SHAKEN):
            two = chance.choice(free, 2, replace=False)
            order[two] = order[two[::-1]]
        cost, order = mended(order)
        if cost < least - NO_LESS:
            least, best = cost, order
    return tuple(best.tolist())


def _first(pair: tuple[float, Ints]) -> float:
    return pair[0]


def _mended(unlike: Floats, order: Ints, free: Ints) -> Ints:
    """Two pieces change places as long as that helps, those that help most first.

    What an exchange brings depends on the four pieces beside and opposite each of the two only,
    so that several far enough from one another are made at once.
    """
    order = order.copy()
    looked = _looked_at(order.size)
    alone = np.diag(looked)
    beside = looked - np.diag(alone)
    by_place = csr_array(beside)
    near = [np.flatnonzero(row) for row in beside]
    fixed = np.ones((len(order), len(order)), dtype=bool)
    fixed[np.ix_(free, free)] = False
    while True:
        here = unlike[np.ix_(order, order)]
        off = np.diag(here).copy()
        np.fill_diagonal(here, 0)
        across = by_place @ here + np.outer(alone, off) / 2
        now = np.diag(across)
        more = 2 * (across + across.T - now[:, None] - now) + 4 * beside * here
        left, right = np.nonzero(np.triu((more < -NO_LESS) & ~fixed))
        if not left.size:
            return order
        touched: set[int] = set()
        for i in np.argsort(more[left, right], kind="stable"):
            one, other = int(left[i]), int(right[i])
            reach = {one, other, *near[one].tolist(), *near[other].tolist()}
            if not reach & touched:
                touched |= reach
                order[[one, other]] = order[[other, one]]


def _along(unlike: Floats) -> Ints:
    """The pieces in one line, so that near in it is alike: the first axis of their distances."""
    square = (unlike - np.diag(np.diag(unlike))) ** 2
    centred = square - np.mean(square, axis=0) - np.mean(square, axis=1, keepdims=True)
    return np.argsort(np.linalg.eigh(-(centred + np.mean(square)))[1][:, -1], kind="stable")


def _dealt(along: Ints, pinned: Mapping[int, int]) -> Ints:
    """Dealt from the ends of the row inward, the pinned ones where they are."""
    count = along.size
    order = np.full(count, -1)
    order[list(pinned.values())] = list(pinned)
    inward = dict.fromkeys(place for i in range(count) for place in (i, count - 1 - i))
    free = [place for place in inward if order[place] < 0]
    order[free] = [piece for piece in along.tolist() if piece not in pinned]
    return order
