"""Which lettered caliper stands at which size, so that few have to be set anew."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, islice
from string import ascii_uppercase
from typing import Literal

from benchside.errors import OutOfRange
from benchside.lathe.parts import TIE_MM
from benchside.lathe.plan import Stage, Step, stages

SAME_MM = 0.05  # judgement: sizes this near share one caliper; half a tenon's usual tolerance
SET_IN: tuple[Stage, ...] = ("size", "tenon", "form", "thin")
_TRIES = 400  # dealings of one group that are looked at
_CARRIED = 16  # dealings that are carried on to the next group

Habit = Literal["piece", "stage"]


@dataclass(frozen=True, slots=True)
class CaliperUse:
    """The caliper for one step. ``reset``: it stands at another size before and is set anew.

    ``each_piece`` is False when that happens only once, as a stage begins for all the pieces.
    """

    letter: str
    setting_mm: float
    reset: bool
    each_piece: bool


@dataclass(frozen=True, slots=True)
class _Plan:
    """The caliper held at each use so far, and the size each one stands at after."""

    held: tuple[int, ...]
    standing: tuple[tuple[int, int], ...]


def letters(
    steps: Iterable[Step], owned: int, *, pieces: int = 1, habit: Habit = "piece"
) -> dict[str, CaliperUse]:
    """The lettered caliper of every step that has one set, by step id. [mm]

    Sizes within 0.05 mm share a caliper, set to the largest of them (judgement). While the sizes
    are no more than the calipers owned, each has its own letter and none is ever set anew.
    Otherwise the letters are dealt so that few are: for one piece the least possible, by setting
    anew the one whose size is wanted again farthest on (Belady's rule [@belady-1966]). Over several
    pieces a step keeps its letter on all of them, and the best such dealing found is taken.
    Setting a caliper for the first time is no reset.

    Raises `OutOfRange` without calipers or pieces.
    """
    if owned < 1 or pieces < 1:
        raise OutOfRange(
            "It takes at least one caliper and one piece.",
            field="calipers" if owned < 1 else "pieces",
        )
    used = [s for s in steps if s.stage in SET_IN and s.stop_mm is not None]
    if not used:
        return {}
    settings = _settings(used)
    groups = [used] if habit == "piece" else list(stages(used).values())
    in_turn = [s for group in groups for s in group]
    wanted = [[_number(settings, s) for s in group] for group in groups]
    held = _by_first_use(_deal(wanted, min(owned, len(ascii_uppercase)), pieces))
    once, again = _set_anew(wanted, held, pieces)
    return {
        step.id: CaliperUse(
            letter=ascii_uppercase[held[i]],
            setting_mm=settings[_number(settings, step)],
            reset=once[i] or again[i],
            each_piece=again[i],
        )
        for i, step in enumerate(in_turn)
    }


def _settings(used: list[Step]) -> list[float]:
    """One setting for all sizes within 0.05 mm of one another: the largest, to err over.

    A tenon's come first: among dealings as good, theirs are the last to be set anew.
    """
    found: list[float] = []
    for mm in sorted((s.stop_mm or 0.0 for s in used), reverse=True):
        if not found or found[-1] - mm > SAME_MM + TIE_MM:
            found.append(mm)
    tenons = {_number(found, s) for s in used if s.stage == "tenon"}
    return [found[i] for i in sorted(range(len(found)), key=lambda i: i not in tenons)]


def _number(settings: list[float], step: Step) -> int:
    stop_mm = step.stop_mm or 0.0
    return next(i for i, mm in enumerate(settings) if 0 <= mm - stop_mm <= SAME_MM + TIE_MM)


def _by_first_use(held: list[int]) -> list[int]:
    order = list(dict.fromkeys(held))
    return [order.index(caliper) for caliper in held]


def _deal(groups: list[list[int]], owned: int, pieces: int) -> list[int]:
    """The caliper held at each use, for groups of sizes each gone through once a piece."""
    if pieces == 1:
        return _farthest_next_use([size for group in groups for size in group], owned)
    plans: list[_Plan] = [_Plan((), ())]
    for g, group in enumerate(groups):
        later = [size for after in groups[g + 1 :] for size in after]
        rounds = sorted(
            islice(_rounds(group, owned), _TRIES), key=lambda held: _resets([group], held, pieces)
        )
        longer = [
            _onto(plan, group, held, later, owned) for plan in plans for held in rounds[:_CARRIED]
        ]

        def worth(plan: _Plan, upto: int = g + 1, later: Sequence[int] = later) -> tuple[int, int]:
            ready = {size for _, size in plan.standing}.intersection(later)
            return _resets(groups[:upto], plan.held, pieces), -len(ready)

        plans = _unlike(sorted(longer, key=worth))[:_CARRIED]
    return list(plans[0].held)


def _unlike(plans: list[_Plan]) -> list[_Plan]:
    """The first of all plans that leave the calipers standing alike."""
    found: dict[tuple[tuple[int, int], ...], _Plan] = {}
    for plan in plans:
        found.setdefault(plan.standing, plan)
    return list(found.values())


def _rounds(group: list[int], owned: int) -> Iterator[list[int]]:
    """Dealings of one group that is gone through again and again.

    Some calipers are kept for one size each; the others serve the rest by farthest next use, the
    round being cut open at each place in turn.
    """
    sizes = sorted(set(group))
    if len(sizes) <= owned:
        yield [sizes.index(size) for size in group]
        return
    for count in range(owned - 1, -1, -1):
        for kept in combinations(sizes, count):
            rest = [i for i, size in enumerate(group) if size not in kept]
            for cut in range(len(rest)):
                turned = rest[cut:] + rest[:cut]
                served = _farthest_next_use([group[i] for i in turned], owned - count)
                at = {i: count + caliper for i, caliper in zip(turned, served, strict=True)}
                yield [at[i] if i in at else kept.index(size) for i, size in enumerate(group)]


def _farthest_next_use(sizes: list[int], owned: int) -> list[int]:
    standing: list[int] = []
    held = []
    for i, size in enumerate(sizes):
        if size in standing:
            caliper = standing.index(size)
        elif len(standing) < owned:
            caliper = len(standing)
            standing.append(size)
        else:
            wait = [_wait(kept, sizes[i + 1 :]) for kept in standing]
            caliper = wait.index(max(wait))
            standing[caliper] = size
        held.append(caliper)
    return held


def _wait(size: int, later: Sequence[int]) -> int:
    """How many uses pass before a size is wanted again."""
    return later.index(size) if size in later else len(later)


def _onto(plan: _Plan, group: list[int], held: list[int], later: list[int], owned: int) -> _Plan:
    """A group's dealing put on the calipers as they stand.

    Those that stand right are kept; then come those not set yet, then those whose size is wanted
    again farthest on.
    """
    standing = dict(plan.standing)
    first: dict[int, int] = {}
    for size, caliper in zip(group, held, strict=True):
        first.setdefault(caliper, size)
    real: dict[int, int] = {}
    for caliper, size in first.items():
        right = [c for c, stands in standing.items() if stands == size]
        if right and right[0] not in real.values():
            real[caliper] = right[0]
    for caliper in first:
        if caliper not in real:
            free = [c for c in range(owned) if c not in real.values()]
            real[caliper] = max(
                free, key=lambda c: (c not in standing, _wait(standing.get(c, -1), later))
            )
    used = [real[caliper] for caliper in held]
    standing |= dict(zip(used, group, strict=True))
    return _Plan((*plan.held, *used), tuple(sorted(standing.items())))


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


def _resets(groups: list[list[int]], held: Sequence[int], pieces: int) -> int:
    once, again = _set_anew(groups, held, pieces)
    return sum(once) + (pieces - 1) * sum(again)
