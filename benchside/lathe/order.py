"""The order of cuts that costs least, under rules that must hold.

Every cut softens the piece for all that come after it; changing the tool, moving the tool rest and
taking up another caliper cost time and wake errors. The order that makes the sum of these least is
found exactly, by A* over how many cuts of each class are done (cuts of one class cost the same
handling and stand under the same rules, so among them the least softening goes first).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from typing import Literal, TypeAlias

from benchside.errors import OutOfRange

Reason = Literal[
    "high_first", "before_shoulder", "shoulder_first", "thin_last", "most", "only", "least", "tool",
    "caliper", "changes", "own",
]  # fmt: skip
CLOSE = 1e-9  # costs nearer than this are alike


@dataclass(frozen=True, slots=True)
class Cut:
    """One cut to be put in order. [mm]

    ``level``: all cuts of a lower level come before. ``after`` are cuts that must be done before
    it. ``softens_mm`` is what it adds to the give of every later cut. ``reach_mm`` is where along
    the piece it works, ``caliper_mm`` the setting it is checked with, if any.
    """

    id: str
    level: int
    tool: str
    reach_mm: float
    softens_mm: float
    caliper_mm: float | None = None
    after: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Costs:
    """What things cost, in changes of the tool (all judgement, and the maker's to change).

    ``limit``: one later cut that gives by as much as the maker's limit. ``rest``: the lathe is
    stopped for it. ``caliper``: taking up another one; where they do not suffice it is set anew,
    which costs ``reset`` instead. ``rest_mm`` is how far the rest reaches.
    """

    limit_mm: float = 0.25
    limit: float = 6.0
    tool: float = 1.0
    rest: float = 1.5
    caliper: float = 0.25
    reset: float = 2.0
    rest_mm: float = 300.0


# judgement: how many looks a search may take, and by how much over the least each further search
# may come out
_LOOKS = 8000
_GREED = (1.0, 1.05, 1.5, 10.0)
_State: TypeAlias = tuple[tuple[int, ...], int]


@dataclass(frozen=True, slots=True)
class _Classes:
    """The cuts by class, each class with the least softening first.

    ``change`` is what it costs to come from one class to another, ``begin`` to come to it
    first; ``soft`` lists every cut's level, softening, class and place in it, softest last.
    ``marks`` are each class's level and, as single bits, its stand (tool and rest together), its
    rest and its shared caliper.
    """

    members: tuple[tuple[Cut, ...], ...]
    change: tuple[tuple[float, ...], ...]
    begin: tuple[float, ...]
    soft: tuple[tuple[int, float, int, int], ...]
    marks: tuple[tuple[int, int, int, int], ...]
    stand: float
    rest: float
    caliper: float
    weight: float


def in_order(
    cuts: Sequence[Cut], costs: Costs | None = None, calipers: int | None = None
) -> tuple[Cut, ...]:
    """The cuts in the order of least `cost`; of orders that cost the same, always the same one.

    Exact while that takes fewer than 8000 looks, as a spindle of 25 stations nearly always does;
    beyond, the order found costs at most a twentieth more than the least (and in what no spindle
    asks for, a half). ``calipers`` is how many the maker owns (None: enough).

    Raises `OutOfRange` for rules that no order can keep.
    """
    costs = costs or Costs()
    classes = _classes(cuts, costs, _caliper_cost(cuts, costs, calipers))
    for greed in _GREED:
        way = _way(classes, len(cuts), greed, _LOOKS)
        if way is not None:
            return tuple(_walked(classes, way))
    raise OutOfRange("No order of the cuts keeps every rule.", field="order")


def _way(classes: _Classes, count: int, greed: float, looks: int) -> tuple[int, ...] | None:
    """The classes in order of least cost; None where there is none, or it takes too many looks.

    With a ``greed`` above 1 it costs at most so many times the least.
    """
    start: _State = ((0,) * len(classes.members), -1)
    done = tuple(len(members) for members in classes.members)
    waiting: list[tuple[float, int, tuple[int, ...], _State, float]] = [(0.0, 0, (), start, 0.0)]
    best: dict[_State, float] = {start: 0.0}
    while waiting and looks:
        _, _, way, state, so_far = heappop(waiting)
        if state[0] == done:
            return way
        if so_far > best[state] + CLOSE:
            continue
        looks -= 1
        for then, step in _next(classes, state, count):
            cost = so_far + step
            if cost < best.get(then, float("inf")) - CLOSE:
                best[then] = cost
                bound = round(cost + greed * _at_least(classes, then), 9)
                heappush(waiting, (bound, -len(way), (*way, then[1]), then, cost))
    return None


def cost(cuts: Sequence[Cut], costs: Costs | None = None, calipers: int | None = None) -> float:
    """What an order of cuts costs, in changes of the tool.

    Each cut is charged with all the give that the cuts before it have added, in units of the
    maker's limit, and with the handling that leads to it.
    """
    costs = costs or Costs()
    caliper = _caliper_cost(cuts, costs, calipers)
    shared = _shared(cuts)
    total, soft = 0.0, 0.0
    for i, cut in enumerate(cuts):
        total += soft * costs.limit / costs.limit_mm
        soft += cut.softens_mm
        total += _handling(cuts[i - 1] if i else None, cut, costs, caliper, shared)
    return total


def zone(at_mm: float, costs: Costs) -> int:
    """Which stand of the tool rest a place belongs to, counted from the datum end. [mm]"""
    return int(at_mm // costs.rest_mm)


def reasons(cuts: Sequence[Cut]) -> dict[str, Reason]:
    """Why each cut stands where it does, by id: a rule, the handling, or how little it softens."""
    found: dict[str, Reason] = {}
    for i, cut in enumerate(cuts):
        alike = [other for other in cuts if other.level == cut.level]
        left = [other for other in cuts[i:] if other.level == cut.level]
        found[cut.id] = _reason(cut, cuts[i - 1] if i else None, alike, left)
    return found


def _reason(cut: Cut, before: Cut | None, alike: Sequence[Cut], left: Sequence[Cut]) -> Reason:
    if any(cut.id in other.after for other in left):
        return "shoulder_first"
    if len(left) == 1:
        softest = cut.softens_mm >= max(other.softens_mm for other in alike) - CLOSE
        return "most" if softest and len(alike) > 1 else "only"
    free = [other for other in left if not other.after - {cut.id}] or left
    if cut.softens_mm <= min(other.softens_mm for other in free) + CLOSE:
        return "least"
    if before and before.tool == cut.tool:
        same = before.caliper_mm is not None and before.caliper_mm == cut.caliper_mm
        return "caliper" if same else "tool"
    return "changes"


def _caliper_cost(cuts: Sequence[Cut], costs: Costs, owned: int | None) -> float:
    settings = {cut.caliper_mm for cut in cuts if cut.caliper_mm is not None}
    return costs.reset if owned is not None and len(settings) > owned else costs.caliper


def _shared(cuts: Sequence[Cut]) -> frozenset[float]:
    """Settings that more than one cut is checked with."""
    counts = Counter(cut.caliper_mm for cut in cuts)
    return frozenset(mm for mm, count in counts.items() if mm is not None and count > 1)


def _handling(
    before: Cut | None, cut: Cut, costs: Costs, caliper: float, shared: frozenset[float]
) -> float:
    """What it costs to come from one cut to the next. A setting used once costs the same always.

    To come to the first costs its caliper alone.
    """
    if before is None:
        return caliper if cut.caliper_mm in shared else 0.0
    moved = zone(before.reach_mm, costs) != zone(cut.reach_mm, costs)
    found = costs.tool * (before.tool != cut.tool) + costs.rest * moved
    if cut.caliper_mm in shared and cut.caliper_mm != before.caliper_mm:
        found += caliper
    return found


def _classes(cuts: Sequence[Cut], costs: Costs, caliper: float) -> _Classes:
    shared = _shared(cuts)
    waited_for = {cut.id: frozenset(o.id for o in cuts if cut.id in o.after) for cut in cuts}
    grouped: dict[object, list[Cut]] = {}
    for cut in cuts:
        setting = cut.caliper_mm if cut.caliper_mm in shared else None
        kind = (
            cut.level, cut.tool, zone(cut.reach_mm, costs), setting, cut.after, waited_for[cut.id],
        )  # fmt: skip
        grouped.setdefault(kind, []).append(cut)
    members = tuple(
        tuple(sorted(group, key=lambda cut: cut.softens_mm)) for group in grouped.values()
    )
    change = tuple(
        tuple(_handling(a[0], b[0], costs, caliper, shared) for b in members) for a in members
    )
    soft = sorted(
        (cut.level, cut.softens_mm, c, k)
        for c, group in enumerate(members)
        for k, cut in enumerate(group)
    )
    firsts = [group[0] for group in members]
    rests = [zone(cut.reach_mm, costs) for cut in firsts]
    stands = _bits([(cut.tool, rest) for cut, rest in zip(firsts, rests, strict=True)])
    settings = _bits([cut.caliper_mm if cut.caliper_mm in shared else None for cut in firsts])
    levels = [cut.level for cut in firsts]
    return _Classes(
        members=members,
        change=change,
        begin=tuple(_handling(None, group[0], costs, caliper, shared) for group in members),
        soft=tuple(soft),
        marks=tuple(zip(levels, stands, _bits(rests), settings, strict=True)),
        stand=min(costs.tool, costs.rest),
        rest=max(costs.rest - costs.tool, 0.0),
        caliper=caliper,
        weight=costs.limit / costs.limit_mm,
    )


def _bits(values: Sequence[object]) -> list[int]:
    """A bit of its own for each value that is there; 0 for None."""
    there = [value for value in dict.fromkeys(values) if value is not None]
    return [0 if value is None else 1 << there.index(value) for value in values]


def _next(classes: _Classes, state: _State, count: int) -> Iterator[tuple[_State, float]]:
    """What may come next, and what it costs: its handling, and its softening of all that follow."""
    counts, last = state
    left = count - sum(counts)
    open_ = [c for c, members in enumerate(classes.members) if counts[c] < len(members)]
    level = min(classes.members[c][0].level for c in open_)
    undone = {cut.id for c in open_ for cut in classes.members[c][counts[c] :]}
    for c in open_:
        cut = classes.members[c][counts[c]]
        if cut.level == level and not cut.after & undone:
            more = (*counts[:c], counts[c] + 1, *counts[c + 1 :])
            handling = classes.change[last][c] if last >= 0 else classes.begin[c]
            yield (more, c), handling + classes.weight * cut.softens_mm * (left - 1)


def _at_least(classes: _Classes, state: _State) -> float:
    """No order of what is left costs less.

    The least softening first; and on each level every stand, and every rest and caliper among
    them, is come to at least once, the one that is held already aside.
    """
    counts, last = state
    soft = [mm for _, mm, c, k in classes.soft if k >= counts[c]]
    behind = len(soft) - 1
    spent = sum(mm * (behind - i) for i, mm in enumerate(soft))
    levels: dict[int, list[int]] = {}
    for c, (level, *bits) in enumerate(classes.marks):
        if counts[c] < len(classes.members[c]):
            there = levels.setdefault(level, [0, 0, 0])
            for k in range(3):
                there[k] |= bits[k]
    handling = 0.0
    held = classes.marks[last] if last >= 0 else None
    for level in sorted(levels):
        costs = (classes.stand, classes.rest, classes.caliper)
        for k, (bits_, each) in enumerate(zip(levels[level], costs, strict=True)):
            kept = bits_ & held[k + 1] if held and held[0] == level else bits_
            handling += each * max(bits_.bit_count() - (kept != 0), 0)
    return classes.weight * spent + handling


def _walked(classes: _Classes, way: Sequence[int]) -> Iterator[Cut]:
    taken = [0] * len(classes.members)
    for c in way:
        yield classes.members[c][taken[c]]
        taken[c] += 1
