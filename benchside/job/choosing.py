"""Which of the pieces turned to use, and which goes where in the back."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from benchside.consistency import alike, choose, lineup
from benchside.consistency.choose import Choice
from benchside.errors import BenchsideError, NotFound, OutOfRange
from benchside.job import judged
from benchside.job.finals import Floats, Key, Table
from benchside.job.judged import Judged, TwoLots
from benchside.job.sets import Standing
from benchside.pattern import Pattern, Place
from benchside.store import judging, sets
from benchside.store.database import Shop
from benchside.store.judging import Pin

COUNTS_FROM = 0.5  # judgement: a place read on fewer of the pieces is not what they are chosen by


@dataclass(frozen=True, slots=True)
class Apart:
    """How far pieces lie apart at the place that decides. [mm]"""

    place: Place
    kind: str
    by_mm: float
    limits: float


@dataclass(frozen=True, slots=True)
class Swap:
    """The next-best choice: what goes out and comes in, and how far it lies apart."""

    out: tuple[int, ...]
    into: tuple[int, ...]
    apart: Apart


@dataclass(frozen=True, slots=True)
class Over:
    """A piece, and where it lies farthest from the middle of the chosen (a tenon: from its size).

    [mm]
    """

    number: int
    place: Place
    kind: str
    off_mm: float
    limits: float


@dataclass(frozen=True, slots=True)
class Unread:
    """A piece not read at every place, and the first of the places it was not read at."""

    number: int
    place: Place
    kind: str
    missing: int


@dataclass(frozen=True, slots=True)
class Beside:
    """Two pieces side by side whose bead or shoulder does not meet. [mm]"""

    left: int
    right: int
    place: Place
    by_mm: float


@dataclass(frozen=True, slots=True)
class Chosen:
    """The best pieces in their best order. ``order`` are numbers from left to right.

    ``odd`` is the one that lies farthest from the middle of the chosen, if any lies beyond a
    limit. ``unlike`` and ``unlike_by_number`` are what the order costs, and what the order of
    numbers would. ``beside`` are neighbours that do not line up, the farthest first.
    ``first_out`` is the piece to do without, if one had to be: told where all candidates are in.
    ``fit`` are those that lie beyond no limit from the middle of the chosen.
    """

    order: tuple[int, ...]
    apart: Apart
    next_best: Swap | None
    odd: Over | None
    unlike: float
    unlike_by_number: float
    exact_order: bool
    beside: tuple[Beside, ...]
    first_out: Over | None
    fit: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Choosing:
    """What can be chosen of a set, and the best of it.

    ``chosen`` is None while fewer than two pieces can be chosen, or when ``problem`` says why not.
    ``unread`` could not be chosen for want of readings; ``judged_without`` lack one and could.
    ``pins`` are those in force; ``unpinned`` the numbers of pinned pieces that cannot be chosen.
    """

    standing: Standing
    pattern: Pattern
    keys: tuple[Key, ...]
    numbers: tuple[int, ...]
    off_mm: Floats
    limits_mm: Floats
    candidates: tuple[int, ...]
    wanted: int
    chosen: Chosen | None
    problem: BenchsideError | None
    over: tuple[Over, ...]
    unread: tuple[Unread, ...]
    judged_without: tuple[Unread, ...]
    two_lots: TwoLots | None
    pins: tuple[Pin, ...]
    unpinned: tuple[int, ...]

    def off_of(self, number: int) -> Floats:
        """A piece's differences from the target, by column. [mm]"""
        row: Floats = self.off_mm[self.numbers.index(number)]
        return row


def choosing(shop: Shop, set_id: int, wanted: int | None = None) -> Choosing:
    """The best ``wanted`` pieces of a set (as many as the set is to have) in their best order.

    Tolerances are the weights, so that decoration does not outvote tenons; where beads and
    shoulders lie counts as their sizes do. Raises `NotFound`.
    """
    known = judged.judge(shop, set_id)
    table = known.table
    counts = np.mean(~np.isnan(table.off_mm), axis=0) >= COUNTS_FROM if table.numbers else None
    weights = (counts if counts is not None else np.zeros(0)) / known.limits_mm
    lacks = np.any(np.isnan(table.off_mm[:, weights > 0]), axis=1)
    can_be = choose.measured_enough(table.off_mm, weights) if np.any(weights > 0) else ~lacks
    candidates = tuple(n for n, can in zip(table.numbers, can_be, strict=True) if can)
    pins = judging.pins(shop, set_id)
    in_force = tuple(pin for pin in pins if pin.spindle in candidates)
    many = min(wanted or known.standing.kept.choices.wanted, len(candidates))
    chosen: Chosen | None = None
    problem: BenchsideError | None = None
    over: tuple[Over, ...] = ()
    if many >= 1 and len(candidates) > 1:
        try:
            chosen, over = _best(known, weights, many, in_force)
        except OutOfRange as found:
            problem = found
    return Choosing(
        standing=known.standing,
        pattern=known.doing.pattern,
        keys=table.keys,
        numbers=table.numbers,
        off_mm=table.off_mm,
        limits_mm=known.limits_mm,
        candidates=candidates,
        wanted=many,
        chosen=chosen,
        problem=problem,
        over=over,
        unread=tuple(_unread(table, row, weights) for row in np.flatnonzero(~can_be).tolist()),
        judged_without=tuple(
            _unread(table, row, weights) for row in np.flatnonzero(can_be & lacks).tolist()
        ),
        two_lots=judged.two_lots(known),
        pins=in_force,
        unpinned=tuple(pin.spindle for pin in pins if pin.spindle not in candidates),
    )


def pin(shop: Shop, set_id: int, number: int, place: int | None) -> None:
    """A piece must be in, at a place from the left (from 1) or wherever it fits best.

    Raises `NotFound` and `OutOfRange`.
    """
    kept = sets.found(shop, set_id)
    if not sets.has(shop, set_id, number):
        raise NotFound(f"{kept.name} has no piece {number}.", field="spindle")
    most = kept.choices.wanted + kept.choices.spares
    if place is not None and not 1 <= place <= most:
        raise OutOfRange(
            f"Places are counted 1 to {most} from the left, not {place}.", field="place"
        )
    with shop.transaction() as db:
        judging.pin(db, set_id, number, place)


def unpin(shop: Shop, set_id: int, number: int) -> None:
    """Let a piece go where it fits best, or be left out. Raises `NotFound`."""
    sets.found(shop, set_id)
    with shop.transaction() as db:
        judging.unpin(db, set_id, number)


def _best(
    known: Judged, weights: Floats, many: int, pins: tuple[Pin, ...]
) -> tuple[Chosen, tuple[Over, ...]]:
    table, limits_mm = known.table, known.limits_mm
    row_of = {number: row for row, number in enumerate(table.numbers)}
    best_of = partial(
        choose.best_set,
        table.off_mm,
        weights=weights,
        pins={row_of[pin.spindle] for pin in pins},
        may_miss=choose.may_lack(weights),
    )
    best = best_of(many)
    rows = list(best.chosen)
    first_out = None
    if best.next_best is None and len(pins) < many and many > 2:
        fewer = best_of(many - 1)
        first_out = next(row for row in rows if row not in fewer.chosen)
    sizes_mm = table.off_mm[rows]
    places = {
        rows.index(row_of[pin.spindle]): pin.place - 1
        for pin in pins
        if pin.place is not None and pin.place <= many
    }
    order = choose.arrange(sizes_mm, weights, places)
    numbers = [table.numbers[row] for row in rows]
    shares = _shares(table, rows, limits_mm, weights)
    worst = [_over(table, row, shares, limits_mm) for row in range(len(table.numbers))]
    odd = max((worst[row] for row in rows), key=lambda over: over.limits)
    in_order = tuple(numbers[i] for i in order)
    chosen = Chosen(
        order=in_order,
        apart=_apart(table, best),
        next_best=_swap(table, best),
        odd=odd if alike.beyond(odd.limits) else None,
        unlike=choose.unlikeness(sizes_mm, order, weights),
        unlike_by_number=choose.unlikeness(sizes_mm, list(range(many)), weights),
        exact_order=many <= choose.EXACT_PLACES,
        beside=_beside(table, [rows[i] for i in order], limits_mm),
        first_out=None if first_out is None else worst[first_out],
        fit=tuple(worst[row].number for row in rows if not alike.beyond(worst[row].limits)),
    )
    left = [
        worst[row]
        for row in range(len(table.numbers))
        if row not in rows and row not in best.left_out
    ]
    return chosen, tuple(left)


def _apart(table: Table, choice: Choice) -> Apart:
    place, kind = table.keys[choice.worst_column]
    return Apart(place, kind, choice.worst_range_mm, choice.worst)


def _swap(table: Table, best: Choice) -> Swap | None:
    other = best.next_best
    if other is None:
        return None
    now, then = ({table.numbers[row] for row in choice.chosen} for choice in (best, other))
    return Swap(tuple(sorted(now - then)), tuple(sorted(then - now)), _apart(table, other))


def _shares(table: Table, rows: list[int], limits_mm: Floats, weights: Floats) -> Floats:
    """How far every piece lies from the middle of the chosen, in limits, with its sign."""
    off = table.off_mm - alike.middles_mm(table.off_mm[rows], table.tenons)
    return np.where(weights > 0, off / limits_mm, np.nan)


def _over(table: Table, row: int, shares: Floats, limits_mm: Floats) -> Over:
    share = np.nan_to_num(shares[row])
    i = int(np.argmax(np.abs(share)))
    place, kind = table.keys[i]
    off_mm = float(share[i] * limits_mm[i])
    return Over(table.numbers[row], place, kind, off_mm, abs(float(share[i])))


def _beside(table: Table, order: list[int], limits_mm: Floats) -> tuple[Beside, ...]:
    at = [i for i, (_, kind) in enumerate(table.keys) if kind == "position"]
    if not at:
        return ()
    found = lineup.line_up(table.off_mm[:, at], limits_mm[at], order)
    return tuple(
        Beside(
            table.numbers[jump.left],
            table.numbers[jump.right],
            table.keys[at[jump.column]][0],
            jump.by_mm,
        )
        for jump in found.jumps
    )


def _unread(table: Table, row: int, weights: Floats) -> Unread:
    missing = np.flatnonzero(np.isnan(table.off_mm[row]) & (weights > 0))
    place, kind = table.keys[int(missing[0])]
    return Unread(table.numbers[row], place, kind, int(missing.size))
