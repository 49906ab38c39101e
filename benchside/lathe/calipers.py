"""Which lettered caliper stands at which size, so that few have to be set anew."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import inf, isfinite
from string import ascii_uppercase
from typing import Literal, NamedTuple, get_args

from benchside.errors import OutOfRange
from benchside.lathe.parts import TIE_MM
from benchside.lathe.steps import Stage, Step, stages

SAME_MM = 0.05  # judgement: sizes this near share one caliper; half a tenon's usual tolerance
SET_IN: tuple[Stage, ...] = ("size", "tenon", "form", "thin")
_NONE = -1  # no size
# judgement: so many ways are carried on for a first good dealing, and to look for a better
_NARROW, _WIDE = 40, 400

Habit = Literal["piece", "stage"]
CaliperKind = Literal["spring", "firm", "sliding", "fixed"]
CALIPER_KINDS: tuple[CaliperKind, ...] = get_args(CaliperKind)


@dataclass(frozen=True, slots=True)
class Caliper:
    """One caliper a maker owns: its letter, and what it opens to. [mm]

    A ``fixed`` one, a gauge or a slot, has one size: ``least_mm`` and ``most_mm`` are both that.
    """

    letter: str
    kind: CaliperKind = "spring"
    least_mm: float = 0.0
    most_mm: float = inf

    def takes(self, size_mm: float) -> bool:
        """Whether it can stand at a size, to within 0.05 mm."""
        room_mm = SAME_MM + TIE_MM
        return self.least_mm - room_mm <= size_mm <= self.most_mm + room_mm


@dataclass(frozen=True, slots=True)
class CaliperUse:
    """The caliper for one step. ``reset``: it stands at another size before and is set anew."""

    letter: str
    setting_mm: float
    reset: bool


class _Way(NamedTuple):
    """A dealing up to some use: what it cost, who held each use, and how the calipers stand.

    ``first`` is the size each was first wanted at in the group gone through now. -1 is no size.
    """

    cost: tuple[int, int]
    held: tuple[int, ...]
    standing: tuple[int, ...]
    first: tuple[int, ...]


def letters(
    steps: Iterable[Step],
    owned: int | Sequence[Caliper],
    *,
    pieces: int = 1,
    habit: Habit = "piece",
) -> Mapping[str, CaliperUse]:
    """The lettered caliper of every step that has one set, by step id. [mm]

    ``owned`` are the maker's calipers, or how many there are that open to anything. Sizes within
    0.05 mm share a caliper, set to the largest of them (judgement). A step keeps its letter on all
    pieces; the letters are dealt so that over the whole set the fewest are set anew, and among
    dealings as good the fewest of those for tenons. Setting a caliper for the first time is no
    reset. The least is certain for sets of common size; with very many sizes and few calipers it
    is the best of hundreds of dealings. A size no caliper takes has no letter: see `without_one`.

    Raises `OutOfRange` without calipers or pieces, or for two of one letter.
    """
    return _dealt(tuple(steps), _the_calipers(owned), pieces, habit)[0]


def without_one(steps: Iterable[Step], owned: Sequence[Caliper]) -> tuple[Step, ...]:
    """The steps whose size none of the calipers takes."""
    used, settings = _wanted(steps)
    return tuple(s for s in used if not _takers(settings[_number(settings, s)], owned))


def times_set_anew(
    steps: Iterable[Step],
    owned: int | Sequence[Caliper],
    *,
    pieces: int = 1,
    habit: Habit = "piece",
) -> int:
    """How often a caliper is set anew over the whole set, dealt as by `letters`. Raises as it."""
    return _dealt(tuple(steps), _the_calipers(owned), pieces, habit)[1]


def at_start(
    steps: Iterable[Step], uses: Mapping[str, CaliperUse], stage: Stage | None = None
) -> tuple[CaliperUse, ...]:
    """How the calipers should stand as a piece (or one stage of it) is begun, by letter.

    Of each letter its first use there.
    """
    first: dict[str, CaliperUse] = {}
    for step in steps:
        if step.id in uses and stage in (None, step.stage):
            first.setdefault(uses[step.id].letter, uses[step.id])
    return tuple(first[letter] for letter in sorted(first))


def _the_calipers(owned: int | Sequence[Caliper]) -> tuple[Caliper, ...]:
    if isinstance(owned, int):
        every = tuple(Caliper(letter) for letter in ascii_uppercase[: max(0, owned)])
    else:
        every = tuple(sorted(owned, key=lambda c: c.letter))
    if not every:
        raise OutOfRange("It takes at least one caliper.", field="calipers")
    if len({c.letter for c in every}) < len(every):
        raise OutOfRange("Two calipers have one letter.", field="calipers")
    if not all(isfinite(c.least_mm) and 0 <= c.least_mm <= c.most_mm for c in every):
        raise OutOfRange("A caliper opens from 0 or more to more.", field="calipers")
    return every


@lru_cache(maxsize=64)
def _dealt(
    steps: tuple[Step, ...], owned: tuple[Caliper, ...], pieces: int, habit: Habit
) -> tuple[Mapping[str, CaliperUse], int]:
    """The use of each step, and how often a caliper is set anew over all pieces."""
    if pieces < 1:
        raise OutOfRange("It takes at least one piece.", field="pieces")
    used, settings = _wanted(steps)
    takers = [_takers(mm, owned) for mm in settings]
    used = [s for s in used if takers[_number(settings, s)]]
    if not used:
        return {}, 0
    groups = [used] if habit == "piece" else list(stages(used).values())
    in_turn = [s for group in groups for s in group]
    wanted = [[_number(settings, s) for s in group] for group in groups]
    tenons = frozenset(_number(settings, s) for s in used if s.stage == "tenon")
    kinds = [frozenset(i for i, by in enumerate(takers) if c in by) for c in range(len(owned))]
    numbers = tuple(kinds.index(kind) for kind in kinds)
    held = _deal(wanted, _Bench(tuple(takers), tenons, pieces, numbers))
    named = _named(held, [c.letter for c in owned], numbers)
    once, again = _set_anew(wanted, held, pieces)
    uses = {
        step.id: CaliperUse(
            letter=named[held[i]],
            setting_mm=settings[_number(settings, step)],
            reset=once[i] or again[i],
        )
        for i, step in enumerate(in_turn)
    }
    return uses, sum(once) + (pieces - 1) * sum(again)


def _wanted(steps: Iterable[Step]) -> tuple[list[Step], list[float]]:
    """The steps that have a caliper set, and one setting for all sizes within 0.05 mm of one
    another: the largest, to err over."""
    used = [s for s in steps if s.stage in SET_IN and s.stop_mm is not None]
    settings: list[float] = []
    for mm in sorted((s.stop_mm or 0.0 for s in used), reverse=True):
        if not settings or settings[-1] - mm > SAME_MM + TIE_MM:
            settings.append(mm)
    return used, settings


def _number(settings: list[float], step: Step) -> int:
    stop_mm = step.stop_mm or 0.0
    return next(i for i, mm in enumerate(settings) if 0 <= mm - stop_mm <= SAME_MM + TIE_MM)


def _takers(size_mm: float, owned: Sequence[Caliper]) -> frozenset[int]:
    return frozenset(i for i, caliper in enumerate(owned) if caliper.takes(size_mm))


def _named(held: Sequence[int], letters: list[str], kinds: Sequence[int]) -> dict[int, str]:
    """A letter for each caliper that is held: among those that take the same sizes, by use."""
    free = {k: [x for x, kind in zip(letters, kinds, strict=True) if kind == k] for k in kinds}
    return {caliper: free[kinds[caliper]].pop(0) for caliper in dict.fromkeys(held)}


# ------------------------------------------------------------------ the dealing


@dataclass(frozen=True, slots=True)
class _Bench:
    """What a dealing goes by. ``kinds`` has one number for calipers that take the same sizes."""

    takers: tuple[frozenset[int], ...]
    tenons: frozenset[int]
    pieces: int
    kinds: tuple[int, ...]


def _deal(groups: list[list[int]], bench: _Bench) -> tuple[int, ...]:
    """The caliper held at each use, for groups of sizes each gone through once a piece.

    First a narrow look for a good dealing, then a wide one that drops every way which must end
    worse. Unless the wide one overflows, what is found is the least there is: farthest next use
    [@belady-1966] is among the ways, as is every other.
    """
    good = _carried(groups, bench, _NARROW, None)
    assert good is not None
    if good.cost == (0, 0):
        return good.held
    better = _carried(groups, bench, _WIDE, good.cost)
    return good.held if better is None else better.held


def _carried(
    groups: list[list[int]], bench: _Bench, width: int, most: tuple[int, int] | None
) -> _Way | None:
    """The best way through all groups, so many ways being carried on from use to use."""
    none: tuple[int, ...] = (_NONE,) * len(bench.kinds)
    ways = [_Way((0, 0), (), none, none)]
    for group in groups:
        for i, size in enumerate(group):
            longer = [new for way in ways for new in _used(way, size, bench)]
            ways = _kept(longer, frozenset(group[i + 1 :]), bench, width, most)
        ways = [_closed(way, bench) for way in ways]
    return min(ways, key=lambda way: way.cost, default=None)


def _used(way: _Way, size: int, bench: _Bench) -> Iterable[_Way]:
    """The ways to hold one more use: by each caliper that takes it, of those alike only one."""
    tried = set()
    for c in bench.takers[size]:
        alike = bench.kinds[c], way.standing[c], way.first[c]
        if alike in tried:
            continue
        tried.add(alike)
        anew = way.standing[c] not in (_NONE, size)
        first = way.first
        times = bench.pieces
        if first[c] == _NONE:  # on later pieces it depends on how the group ends: see _closed
            first, times = (*first[:c], size, *first[c + 1 :]), 1
        yield _Way(
            _more(way.cost, times if anew else 0, size, bench),
            (*way.held, c),
            (*way.standing[:c], size, *way.standing[c + 1 :]),
            first,
        )


def _closed(way: _Way, bench: _Bench) -> _Way:
    """A way at the end of a group: each later piece finds the calipers as this one left them."""
    cost = way.cost
    for first, last in zip(way.first, way.standing, strict=True):
        if first not in (_NONE, last):
            cost = _more(cost, bench.pieces - 1, first, bench)
    return way._replace(cost=cost, first=(_NONE,) * len(way.first))


def _more(cost: tuple[int, int], times: int, size: int, bench: _Bench) -> tuple[int, int]:
    """A cost and so many settings anew; those for tenons break ties."""
    return cost[0] + times, cost[1] + (times if size in bench.tenons else 0)


def _kept(
    ways: Iterable[_Way],
    ahead: frozenset[int],
    bench: _Bench,
    width: int,
    most: tuple[int, int] | None,
) -> list[_Way]:
    """The cheapest of the ways that leave the calipers alike, none that must end over ``most``."""
    best: dict[tuple[tuple[int, int, int], ...], tuple[int, _Way]] = {}
    for way in ways:
        least = way.cost[0] + _to_come(way, ahead, bench.pieces)
        if most is not None and least > most[0]:
            continue
        stands = tuple(sorted(zip(bench.kinds, way.standing, way.first, strict=True)))
        if stands not in best or way.cost < best[stands][1].cost:
            best[stands] = least, way
    if len(best) <= width:
        return [way for _, way in best.values()]
    found = sorted(best.values(), key=lambda each: (each[0], each[1].cost))
    return [way for _, way in found[:width]]


def _to_come(way: _Way, ahead: frozenset[int], pieces: int) -> int:
    """The least that the rest of a group can still cost.

    A size that stands nowhere must be set: once for all pieces only on a caliper not used in the
    group so far, and freely only on one never set.
    A caliper that has moved on from its first size is set back on every later piece.
    """
    missing, unused = len(ahead.difference(way.standing)), way.first.count(_NONE)
    anew = max(0, missing - unused)
    once = max(0, min(missing, unused) - way.standing.count(_NONE))
    moved = sum(f not in (_NONE, s) for f, s in zip(way.first, way.standing, strict=True))
    back = max(0, moved - anew) if moved or not anew else 1
    return pieces * anew + once + (pieces - 1) * back


def _set_anew(
    groups: list[list[int]], held: Sequence[int], pieces: int
) -> tuple[list[bool], list[bool]]:
    """Whether each use finds its caliper at another size: on the first piece, on every later."""
    standing: dict[int, int] = {}
    once: list[bool] = []
    again: list[bool] = []
    for group in groups:
        used = held[len(once) : len(once) + len(group)]
        for turn in (once, again)[:pieces]:
            for size, caliper in zip(group, used, strict=True):
                turn.append(standing.get(caliper, size) != size)
                standing[caliper] = size
    return once, again or [False] * len(once)
