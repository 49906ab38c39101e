"""Blanks of several sizes from several boards, by one integer programme.

Each strip is as wide as one of the sizes; along a strip blanks of that side lie in any order. The
strips of a board are a flow across its width, one unit from the near edge to the far, which is
the tightest way to say that strips do not overlap; how each is crosscut is chosen among the ways
that no other beats. Where there are too many places to try, rips are tried on the grid.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from math import floor, isfinite

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from benchside.errors import OutOfRange
from benchside.stock.board import (
    Layout,
    PinTrouble,
    between,
    grid_step,
    laid,
    pinned_strips,
    positions,
)
from benchside.stock.field import Block, Field, Fill, Floats, fills
from benchside.stock.shapes import EPS_MM, Blank, Board, Pin, Strip, check, check_blank, layers

TIME_S = 4.0  # judgement: as long as one waits for an answer
MOST_PLACES = 1200  # judgement: more places to rip at are put on the grid
MOST_NEEDS = 12  # judgement


@dataclass(frozen=True, slots=True)
class Need:
    """So many blanks of one size, perhaps none any more. ``priority`` 1 is served first, then 2,
    and so on."""

    blank: Blank
    wanted: int
    priority: int = 1


@dataclass(frozen=True, slots=True)
class Plan:
    """What several boards give: a layout for each, how many of each need, how near the best.

    ``within`` is how many more of the wanted blanks there could be at most; 0: best possible.
    ``on_grid``: rips were tried on the grid of the resolution only.
    """

    layouts: tuple[Layout, ...]
    got: tuple[int, ...]
    plain: tuple[int, ...]
    within: int
    on_grid: bool


@dataclass(frozen=True, slots=True)
class _Choice:
    """Strips of one width with the same faults, and a way to crosscut them."""

    board: int
    group: int
    fill: Fill


@dataclass(frozen=True, slots=True)
class _Flow:
    """The places to rip at between two places of a board: for each, the strips that begin there:
    the strip, the group it is in, and the place after it."""

    strips: tuple[tuple[tuple[Strip, int, int], ...], ...]


@dataclass(slots=True)
class _Rows:
    """A sparse matrix as it grows, one row a rule."""

    at: list[tuple[int, int, float]]
    low: list[float]
    high: list[float]

    def add(self, terms: Sequence[tuple[int, float]], low: float, high: float) -> None:
        self.at.extend((len(self.low), column, value) for column, value in terms)
        self.low.append(low)
        self.high.append(high)


def plan(
    boards: Sequence[Board],
    needs: Sequence[Need],
    kerf_mm: Sequence[float],
    resolution_mm: float = 0.5,
    *,
    pins: Sequence[Sequence[Pin]] = (),
    time_s: float = TIME_S,
    to_edge: bool = True,
) -> Plan:
    """The most of what is needed that these boards give, the first priority first.

    Each board has its kerf, and its pinned blanks if any. Blanks beyond what is wanted are left
    out. ``within`` comes from the bound that the programme proves within ``time_s``. With
    ``to_edge`` strips lie as near to the near edge as they can.

    Raises `OutOfRange` for boards, kerfs, needs or pins that cannot be, and for a need that is
    still wanted and thicker than every board.
    """
    _check(boards, needs, kerf_mm, resolution_mm)
    model = _Model(boards, needs, kerf_mm, resolution_mm, pins or [()] * len(boards))
    chosen, within = model.solve(time_s)
    chosen = _without_surplus(chosen, needs)
    if to_edge:
        chosen = model.towards_edge(chosen)
    plain = plain_counts(boards, needs, kerf_mm)
    blanks = [need.blank for need in needs]
    layouts = tuple(
        laid(
            field,
            blanks,
            kerf_mm[b],
            [(strip, fill) for board, strip, fill in chosen if board == b],
            model.pins[b],
            0,
            within,
        )
        for b, field in enumerate(model.fields)
    )
    got = tuple(
        sum(placed.need == n for layout in layouts for placed in layout.blanks)
        for n in range(len(needs))
    )
    return Plan(layouts, got, plain, within, model.on_grid)


def plain_counts(
    boards: Sequence[Board], needs: Sequence[Need], kerf_mm: Sequence[float]
) -> tuple[int, ...]:
    """What plain sawing straight through gives of each need: the first priority first, board after
    board, strips from the near edge on, every strip crosscut at equal stops from the left end."""
    got = [0] * len(needs)
    order = sorted(range(len(needs)), key=lambda n: (needs[n].priority, n))
    for board, kerf in zip(boards, kerf_mm, strict=True):
        flat = Field(replace(board, grain_slope=0.0))
        low = flat.low
        while True:
            free = [
                n
                for n in order
                if got[n] < needs[n].wanted
                and needs[n].blank.side_mm <= min(flat.high - low, board.thickness_mm) + EPS_MM
            ]
            if not free:
                break
            blank = needs[free[0]].blank
            got[free[0]] = min(
                needs[free[0]].wanted, got[free[0]] + _plain_strip(flat, low, blank, kerf)
            )
            low += blank.side_mm + kerf
    return tuple(got)


def _plain_strip(field: Field, off: float, blank: Blank, kerf: float) -> int:
    strip, blocks = field.strip(off, blank.side_mm)
    pitch = blank.length_mm + kerf
    many = floor((strip.to_mm - strip.from_mm + kerf + EPS_MM) / pitch)
    thickness = field.board.thickness_mm
    found = 0
    for stop in range(max(0, many)):
        start = strip.from_mm + stop * pitch
        end = start + blank.length_mm
        met = [b for b in blocks if b.start < end - EPS_MM and b.end > start + EPS_MM]
        one, two = (max((getattr(b, f) for b in met), default=0.0) for f in ("one", "two"))
        found += layers(field.board, thickness - one - two, blank.side_mm, kerf)
    return found


class _Model:
    """The programme: its columns are arcs across the boards and ways to crosscut strips."""

    def __init__(
        self,
        boards: Sequence[Board],
        needs: Sequence[Need],
        kerfs: Sequence[float],
        resolution: float,
        pins: Sequence[Sequence[Pin]],
    ) -> None:
        self.needs = needs
        self.fields = [Field(board) for board in boards]
        self.kerfs = kerfs
        self.pins = pins
        self.on_grid = False
        self.rows = _Rows([], [], [])
        self.columns = 0
        self.choices: dict[int, _Choice] = {}
        self.flows: list[_Flow] = []
        self.groups: list[list[tuple[int, float]]] = []
        self.members: list[list[tuple[Strip, int]]] = []
        self.group_of: dict[tuple[int, float, float], int] = {}
        self.resolution = resolution
        for b, field in enumerate(self.fields):
            self._add_board(b, field)

    def _add_board(self, b: int, field: Field) -> None:
        kerf, thickness = self.kerfs[b], field.board.thickness_mm
        blanks = [need.blank for need in self.needs]
        try:
            fixed = pinned_strips(field, blanks, self.pins[b], kerf)
        except PinTrouble as trouble:
            trouble.board = b
            raise
        sides = sorted({k.side_mm for k in blanks if k.side_mm <= thickness + EPS_MM})
        for pinned in fixed:
            sizes = self._sizes(pinned.side_mm)
            held = [(at, sizes.index(need)) for at, need in pinned.held]
            strip, blocks = field.strip(pinned.off_mm, pinned.side_mm)
            group = self._add_group(b, field, strip, blocks, sizes, held)
            self.rows.add(self.groups[group], 1, 1)
            self.members[group].append((strip, -1))
        known: dict[tuple[object, ...], int] = {}
        for low, high in between(field, fixed, kerf):
            at = self._places(field, sides, kerf, low, high)
            if len(at):
                self._add_flow(b, field, at, sides, high, known)
        for group, members in enumerate(self.members):
            columns = [column for _, column in members if column >= 0]
            if columns and self.groups[group] and self.choices[self.groups[group][0][0]].board == b:
                terms = [*self.groups[group], *((column, -1.0) for column in columns)]
                self.rows.add(terms, 0, 0)

    def _sizes(self, side: float) -> list[int]:
        return [n for n, need in enumerate(self.needs) if need.blank.side_mm == side]

    def _places(
        self, field: Field, sides: Sequence[float], kerf: float, low: float, high: float
    ) -> Floats:
        fit = [side for side in sides if side <= high - low + EPS_MM]
        if not fit:
            return np.empty(0)
        if field.straight:
            found = positions(field, fit, kerf, self.resolution, low, high)
            if len(found) <= MOST_PLACES:
                return found
        self.on_grid = True
        step = grid_step(fit, kerf, self.resolution)
        step *= max(1, round((high - low) / step / MOST_PLACES + 0.5))
        return np.arange(low, high - min(fit) + EPS_MM, step)

    def _add_flow(
        self,
        b: int,
        field: Field,
        at: Floats,
        sides: Sequence[float],
        high: float,
        known: dict[tuple[object, ...], int],
    ) -> None:
        """The strips between two places across the grain as a flow over the places to rip at."""
        kerf = self.kerfs[b]
        last = len(at)
        flow: list[list[tuple[int, float]]] = [[] for _ in range(last + 1)]
        for i in range(last):
            self._arc(flow, i, i + 1)
        begin: list[list[tuple[Strip, int, int]]] = [[] for _ in range(last)]
        for side in sides:
            following = np.searchsorted(at, at + side + kerf - EPS_MM)
            for i, off in enumerate(at.tolist()):
                if off + side > high + EPS_MM:
                    break
                strip, blocks = field.strip(off, side)
                key = (side, strip.from_mm, strip.to_mm, *blocks)
                if key not in known:
                    known[key] = self._add_group(b, field, strip, blocks, self._sizes(side), ())
                self.group_of[b, off, side] = known[key]
                if known[key] >= 0:
                    column = self._arc(flow, i, int(following[i]))
                    self.members[known[key]].append((strip, column))
                    begin[i].append((strip, known[key], int(following[i])))
        self.flows.append(_Flow(tuple(tuple(here) for here in begin)))
        for i, terms in enumerate(flow[:-1]):
            self.rows.add(terms, float(i == 0), float(i == 0))

    def _arc(self, flow: list[list[tuple[int, float]]], i: int, j: int) -> int:
        column = self.columns
        self.columns += 1
        flow[i].append((column, 1.0))
        flow[j].append((column, -1.0))
        return column

    def _add_group(
        self,
        b: int,
        field: Field,
        strip: Strip,
        blocks: Sequence[Block],
        sizes: Sequence[int],
        held: Sequence[tuple[float, int]],
    ) -> int:
        """Columns for the ways to crosscut strips alike; -1 where they give nothing."""
        lengths = [self.needs[n].blank.length_mm for n in sizes]
        every = fills(blocks, strip, lengths, self.kerfs[b], field.board, held)
        every = [fill for fill in every if any(fill.counts)]
        if not every:
            return -1
        columns: list[tuple[int, float]] = []
        for fill in every:
            stacks = tuple(stack._replace(size=sizes[stack.size]) for stack in fill.stacks)
            counts = [0] * len(self.needs)
            for n, many in zip(sizes, fill.counts, strict=True):
                counts[n] = many
            self.choices[self.columns] = _Choice(b, len(self.groups), Fill(tuple(counts), stacks))
            columns.append((self.columns, 1.0))
            self.columns += 1
        self.groups.append(columns)
        self.members.append([])
        return len(self.groups) - 1

    def solve(self, time_s: float) -> tuple[list[tuple[int, Strip, Fill]], int]:
        """The strips chosen, each with its board, and how much better there could be."""
        worth = worths(self.needs)
        total = self.columns + len(self.needs)
        for n in range(len(self.needs)):
            terms = [(c, float(k.fill.counts[n])) for c, k in self.choices.items()]
            self.rows.add([(self.columns + n, -1.0), *(t for t in terms if t[1])], 0, np.inf)
        cost = np.zeros(total)
        cost[self.columns :] = [-float(w) for w in worth]
        upper = np.full(total, np.inf)
        upper[self.columns :] = [need.wanted for need in self.needs]
        entry = np.array(self.rows.at, dtype=np.float64).reshape(-1, 3)
        matrix = coo_array(
            (entry[:, 2], (entry[:, 0].astype(int), entry[:, 1].astype(int))),
            shape=(len(self.rows.low), total),
        ).tocsr()
        solved = milp(
            cost,
            constraints=LinearConstraint(matrix, self.rows.low, self.rows.high),
            bounds=Bounds(np.zeros(total), upper),
            integrality=np.ones(total),
            options={"time_limit": time_s, "mip_rel_gap": 0.0},
        )
        found = self._by_turns(worth)
        if solved.x is not None:
            best = self._chosen(np.rint(solved.x).astype(int))
            found = max(best, found, key=lambda chosen: self._value(chosen, worth))
        bound = (
            -float(solved.mip_dual_bound) if isfinite(solved.mip_dual_bound or np.inf) else np.inf
        )
        return found, _within(self.needs, self._got(found), worth, bound)

    def _got(self, chosen: Sequence[tuple[int, Strip, Fill]]) -> list[int]:
        return [
            min(need.wanted, sum(fill.counts[n] for _, _, fill in chosen))
            for n, need in enumerate(self.needs)
        ]

    def _value(self, chosen: Sequence[tuple[int, Strip, Fill]], worth: Sequence[int]) -> int:
        return sum(w * n for w, n in zip(worth, self._got(chosen), strict=True))

    def _by_turns(self, worth: Sequence[int]) -> list[tuple[int, Strip, Fill]]:
        """A good plan without waiting: stretch after stretch laid out for what is still missing."""
        found: list[tuple[int, Strip, Fill]] = []
        left = [need.wanted for need in self.needs]

        def value(fill: Fill) -> int:
            return sum(w * min(n, m) for w, n, m in zip(worth, fill.counts, left, strict=True))

        def take(group: int, strip: Strip) -> None:
            choices = [self.choices[column] for column, _ in self.groups[group]]
            best = max(choices, key=lambda choice: value(choice.fill))
            found.append((best.board, strip, best.fill))
            left[:] = [max(0, m - n) for m, n in zip(left, best.fill.counts, strict=True)]

        for group, members in enumerate(self.members):
            for strip, column in members:
                if column < 0:
                    take(group, strip)
        for flow in self.flows:
            most = [
                max(value(self.choices[column].fill) for column, _ in columns)
                for columns in self.groups
            ]
            best = [0] * (len(flow.strips) + 1)
            for i in range(len(flow.strips) - 1, -1, -1):
                ways = (most[group] + best[j] for _, group, j in flow.strips[i])
                best[i] = max(best[i + 1], *ways, 0)
            i = 0
            while i < len(flow.strips):
                if best[i] == best[i + 1]:
                    i += 1
                    continue
                strip, group, j = max(flow.strips[i], key=lambda s: most[s[1]] + best[s[2]])
                take(group, strip)
                i = j
        return found

    def towards_edge(
        self, chosen: Sequence[tuple[int, Strip, Fill]]
    ) -> list[tuple[int, Strip, Fill]]:
        """The same strips as near to the near edge as wood alike lies free, so that what is left
        of a board is in one piece."""
        found = []
        free = [-np.inf] * len(self.fields)
        for b, strip, fill in sorted(chosen, key=lambda each: each[1].off_mm):
            group = self.group_of.get((b, strip.off_mm, strip.width_mm))
            alike = [] if group is None else [member for member, _ in self.members[group]]
            nearer = [s for s in alike if free[b] - EPS_MM <= s.off_mm <= strip.off_mm]
            nearest = min(nearer, key=lambda s: s.off_mm, default=strip)
            free[b] = nearest.off_mm + nearest.width_mm + self.kerfs[b]
            found.append((b, nearest, fill))
        return found

    def _chosen(
        self, x: np.ndarray[tuple[int], np.dtype[np.int_]]
    ) -> list[tuple[int, Strip, Fill]]:
        found = []
        for group, columns in enumerate(self.groups):
            ways = [column for column, _ in columns for _ in range(int(x[column]))]
            here = [strip for strip, column in self.members[group] if column < 0 or x[column] > 0]
            for strip, column in zip(here, ways, strict=True):
                found.append((self.choices[column].board, strip, self.choices[column].fill))
        return found


def worths(needs: Sequence[Need]) -> list[int]:
    """What one blank of each need counts: more than all those of later priorities together."""
    found, more = [0] * len(needs), 1
    order = sorted(range(len(needs)), key=lambda n: -needs[n].priority)
    for _, together in groupby(order, key=lambda n: needs[n].priority):
        same = list(together)
        for n in same:
            found[n] = more
        more += more * sum(needs[n].wanted for n in same)
    return found


def _within(needs: Sequence[Need], got: Sequence[int], worth: Sequence[int], bound: float) -> int:
    """How many more of the wanted blanks there could be, from what is proved of their worth."""
    missing = sum(need.wanted - n for need, n in zip(needs, got, strict=True))
    have = sum(w * n for w, n in zip(worth, got, strict=True))
    if not isfinite(bound):
        return missing
    return min(missing, max(0, floor((bound - have) / min(worth) + 1e-6)))


def _without_surplus(
    chosen: list[tuple[int, Strip, Fill]], needs: Sequence[Need]
) -> list[tuple[int, Strip, Fill]]:
    """The same strips with no more blanks than wanted, and none that is empty then.

    Strips that give most are filled first, so that the others may be left whole.
    """
    left = [need.wanted for need in needs]
    found = []
    for board, strip, fill in sorted(chosen, key=lambda c: -sum(c[2].counts)):
        stacks = []
        for stack in fill.stacks:
            many = min(stack.many, left[stack.size])
            left[stack.size] -= many
            if many:
                stacks.append(stack._replace(many=many))
        if stacks:
            found.append((board, strip, Fill(fill.counts, tuple(stacks))))
    return found


def _check(
    boards: Sequence[Board], needs: Sequence[Need], kerfs: Sequence[float], resolution: float
) -> None:
    if not needs or len(needs) > MOST_NEEDS:
        raise OutOfRange(f"Say 1 to {MOST_NEEDS} sizes of blank.", field="needs")
    for board, kerf in zip(boards, kerfs, strict=True):
        check(board, kerf, resolution)
    for need in needs:
        if not 0 <= need.wanted <= 10_000 or not 1 <= need.priority <= 9:
            raise OutOfRange(
                "So many blanks, or such a priority, cannot be.",
                field="wanted",
                hint="0 to 10,000 blanks; priorities 1 to 9.",
            )
        if boards and need.wanted:
            check_blank(need.blank, max(boards, key=lambda board: board.thickness_mm))
