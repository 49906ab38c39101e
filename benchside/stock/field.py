"""A board seen along its grain: what each strip of it holds.

Positions ``off`` run across the grain and ``along`` it, from the board's origin. On a
straight-grained board they are the board's own measures and every fault is a rectangle; where the
grain slopes, the board and its faults are four-sided figures turned by the angle of the grain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import atan, cos, sin
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from benchside.stock.shapes import (
    EPS_MM,
    Blank,
    Board,
    Placed,
    Strip,
    depths,
    layers,
    on_board,
)

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Counts = tuple[int, ...]


class Block(NamedTuple):
    """A stretch of a strip that a fault takes, and how much of the thickness by each face."""

    start: float
    end: float
    one: float
    two: float


class Stack(NamedTuple):
    """Blanks one over the other: where along the strip, which length, how many, how deep first."""

    along: float
    size: int
    many: int
    depth: float


class Fill(NamedTuple):
    """One way to crosscut a strip: how many of each length, and where."""

    counts: Counts
    stacks: tuple[Stack, ...]


@dataclass(frozen=True)
class Field:
    """A board made ready for laying out."""

    board: Board

    @property
    def straight(self) -> bool:
        return self.board.grain_slope == 0

    @cached_property
    def outline(self) -> Floats:
        """The usable board's corners, along and across the grain. [4, 2]"""
        b = self.board
        ends, edges = (
            (b.trim_left_mm, b.length_mm - b.trim_right_mm),
            (b.near_mm, b.width_mm - b.far_mm),
        )
        sides = (ends[0], edges[0], ends[1] - ends[0], edges[1] - edges[0])
        return self._turned((sides,)).reshape(4, 2)

    @cached_property
    def faults(self) -> Floats:
        """The corners of every fault. [faults, 4, 2]"""
        return self._turned(
            [(d.at_mm, d.across_mm, d.length_mm, d.width_mm) for d in self.board.defects]
        )

    @cached_property
    def least(self) -> Floats:
        """Where each fault begins, along and across. [faults, 2]"""
        least: Floats = self.faults.min(axis=1)
        return least

    @cached_property
    def most(self) -> Floats:
        """Where each fault ends, along and across. [faults, 2]"""
        most: Floats = self.faults.max(axis=1)
        return most

    @cached_property
    def taken(self) -> Floats:
        """What each fault takes of the thickness from the two faces. [faults, 2]"""
        found = [depths(d, self.board.thickness_mm) for d in self.board.defects]
        return np.array(found).reshape(-1, 2)

    @cached_property
    def shallow(self) -> bool:
        """Whether some fault leaves part of the thickness sound."""
        return bool((self.taken.sum(axis=1) < self.board.thickness_mm - EPS_MM).any())

    @cached_property
    def low(self) -> float:
        return float(self.outline[:, 1].min())

    @cached_property
    def high(self) -> float:
        return float(self.outline[:, 1].max())

    def reach(self, off: Floats, side: float) -> tuple[Floats, Floats]:
        """From where to where along the grain the board holds strips that begin at ``off``."""
        if self.straight:
            ends = self.outline[:, 0]
            return np.full(len(off), ends.min()), np.full(len(off), ends.max())
        (low, high), (low_far, high_far) = (
            _span(self.outline[None], at, at) for at in (off, off + side)
        )
        low, high = np.maximum(low, low_far)[:, 0], np.minimum(high, high_far)[:, 0]
        off_board = ~np.isfinite(low) | ~np.isfinite(high)
        return np.where(off_board, 0.0, low), np.where(off_board, -1.0, high)

    def blocks(self, off: Floats, side: float) -> tuple[Floats, Floats, Bools]:
        """For each strip and fault: from where to where it takes the strip, and whether it does.
        [strips, faults]"""
        if self.straight:
            low, high = self.least, self.most
            hit = (low[:, 1] < off[:, None] + side - EPS_MM) & (high[:, 1] > off[:, None] + EPS_MM)
            start, end = (np.broadcast_to(a[:, 0], hit.shape) for a in (low, high))
            return start, end, hit
        start, end = _span(self.faults, off + EPS_MM, off + side - EPS_MM)
        return start, end, start <= end

    def strip(self, off: float, side: float) -> tuple[Strip, list[Block]]:
        """One strip and what its faults take of it."""
        at = np.array([off])
        (low,), (high,) = self.reach(at, side)
        start, end, hit = (found[0] for found in self.blocks(at, side))
        strip = Strip(off, side, float(low), float(high))
        return strip, [
            Block(float(start[i]), float(end[i]), float(self.taken[i, 0]), float(self.taken[i, 1]))
            for i in np.flatnonzero(hit)
        ]

    def placed(
        self, strip: int, off: float, stack: Stack, blank: Blank, kerf: float
    ) -> list[Placed]:
        """The blanks of a stack, in the board's own measures."""
        at, across = on_board(stack.along, off, self.board.grain_slope)
        return [
            Placed(
                at_mm=at,
                across_mm=across,
                length_mm=blank.length_mm,
                side_mm=blank.side_mm,
                depth_mm=stack.depth + layer * (blank.side_mm + kerf),
                strip=strip,
                need=stack.size,
            )
            for layer in range(stack.many)
        ]

    def _turned(self, sides: Sequence[tuple[float, float, float, float]]) -> Floats:
        x, y, length, width = np.array(sides, dtype=np.float64).reshape(-1, 4).T[:, :, None]
        at, across = x + length * np.array([0, 1, 1, 0]), y + width * np.array([0, 0, 1, 1])
        if not self.straight:
            turn = atan(self.board.grain_slope)
            at, across = (
                at * cos(turn) + across * sin(turn),
                across * cos(turn) - at * sin(turn),
            )
        return np.stack([at, across], axis=-1)


def counts(field: Field, off: Floats, blank: Blank, kerf_mm: float) -> npt.NDArray[np.int64]:
    """How many blanks each strip gives that begins at one of ``off``, which rises."""
    if field.shallow:
        return _counts_by_depth(field, off, blank, kerf_mm)
    deep = layers(field.board, field.board.thickness_mm, blank.side_mm, kerf_mm)
    low, high = field.reach(off, blank.side_mm)
    pitch = blank.length_mm + kerf_mm
    slack = kerf_mm + EPS_MM
    free, found = low.copy(), np.zeros(len(off))
    if field.straight:
        # A fault takes neighbouring strips, so each is one slice of what has been laid so far.
        order = np.argsort(field.least[:, 0], kind="stable")
        begin, end = field.least[order], field.most[order]
        first = np.searchsorted(off, begin[:, 1] - blank.side_mm + EPS_MM, side="right").tolist()
        last = np.searchsorted(off, end[:, 1] - EPS_MM, side="left").tolist()
        starts, ends = begin[:, 0].tolist(), end[:, 0].tolist()
        farthest = float(field.outline[:, 0].max())
        for i, j, start, stop in zip(first, last, starts, ends, strict=True):
            if i < j:
                here = free[i:j]
                fits = np.floor_divide(min(start, farthest) - here + slack, pitch)
                np.maximum(fits, 0, out=fits)
                found[i:j] += fits
                np.maximum(here + fits * pitch, stop, out=here)
    else:
        begin, end, hit = field.blocks(off, blank.side_mm)
        order = np.argsort(np.where(hit, begin, np.inf), axis=1, kind="stable")
        begin, end = (np.take_along_axis(a, order, axis=1) for a in (begin, end))
        hit = np.take_along_axis(hit, order, axis=1)
        for column in range(int(hit.sum(axis=1).max(initial=0))):
            on = hit[:, column]
            room = np.where(on, np.minimum(begin[:, column], high), 0) - free + slack
            fits = np.where(on, np.maximum(np.floor_divide(room, pitch), 0), 0)
            found += fits
            free = np.where(on, np.maximum(free + fits * pitch, end[:, column]), free)
    found += np.maximum(np.floor_divide(high - free + slack, pitch), 0)
    return (found * deep).astype(np.int64)


def _counts_by_depth(
    field: Field, off: Floats, blank: Blank, kerf_mm: float
) -> npt.NDArray[np.int64]:
    """The same where faults leave some thickness: strips with the same faults are laid out once."""
    known: dict[tuple[object, ...], int] = {}
    found = np.zeros(len(off), dtype=np.int64)
    for i, at in enumerate(off.tolist()):
        strip, blocks = field.strip(at, blank.side_mm)
        key = (strip.from_mm, strip.to_mm, *blocks)
        if key not in known:
            (best,) = fills(blocks, strip, (blank.length_mm,), kerf_mm, field.board)
            known[key] = best.counts[0]
        found[i] = known[key]
    return found


def fills(
    blocks: Sequence[Block],
    strip: Strip,
    lengths: Sequence[float],
    kerf_mm: float,
    board: Board,
    pins: Sequence[tuple[float, int]] = (),
) -> list[Fill]:
    """Every way to crosscut a strip that none beats: no other gives as many of each length.

    A blank can be moved towards the left end until it meets the saw cut of the one before or a
    fault, and loses nothing; so only such places are tried. ``pins``, in order along, are places
    that stay: where, and which length.
    """
    start, made = strip.from_mm, [Fill((0,) * len(lengths), ())]
    for at, size in pins:
        until = at - kerf_mm if at - strip.from_mm > EPS_MM else at
        between = _fills(blocks, start, until, lengths, strip.width_mm, kerf_mm, board)
        stack = _stack(blocks, at, size, lengths[size], strip.width_mm, kerf_mm, board)
        made = _best([_joined(a, b, stack) for a in made for b in between])
        start = at + lengths[size] + kerf_mm
    rest = _fills(blocks, start, strip.to_mm, lengths, strip.width_mm, kerf_mm, board)
    return _best([_joined(a, b) for a in made for b in rest])


def _fills(
    blocks: Sequence[Block],
    start: float,
    until: float,
    lengths: Sequence[float],
    side: float,
    kerf: float,
    board: Board,
) -> list[Fill]:
    ends = sorted(b.end for b in blocks if start + EPS_MM < b.end < until)
    waiting: dict[float, list[Fill]] = {round(start, 6): [Fill((0,) * len(lengths), ())]}
    done: list[Fill] = []
    while waiting:
        at = min(waiting)
        here = _best(waiting.pop(at))
        done.extend(here)
        following = next((end for end in ends if end > at + EPS_MM), None)
        if following is not None:
            waiting.setdefault(round(following, 6), []).extend(here)
        for size, length in enumerate(lengths):
            if at + length > until + EPS_MM:
                continue
            stack = _stack(blocks, at, size, length, side, kerf, board)
            if stack.many:
                after = waiting.setdefault(round(at + length + kerf, 6), [])
                after.extend(_joined(fill, Fill((0,) * len(lengths), ()), stack) for fill in here)
    return _best(done)


def _stack(
    blocks: Sequence[Block],
    at: float,
    size: int,
    length: float,
    side: float,
    kerf: float,
    board: Board,
) -> Stack:
    met = [b for b in blocks if b.start < at + length - EPS_MM and b.end > at + EPS_MM]
    one, two = max((b.one for b in met), default=0.0), max((b.two for b in met), default=0.0)
    return Stack(at, size, layers(board, board.thickness_mm - one - two, side, kerf), one)


def _joined(first: Fill, then: Fill, stack: Stack | None = None) -> Fill:
    counts = [a + b for a, b in zip(first.counts, then.counts, strict=True)]
    stacks = (*first.stacks, *then.stacks)
    if stack is not None:
        counts[stack.size] += stack.many
        stacks = (*stacks, stack)
    return Fill(tuple(counts), stacks)


def _best(every: list[Fill]) -> list[Fill]:
    """Those that no other equals or beats in every length; the first of equals stays."""
    found: list[Fill] = []
    for fill in sorted(every, key=lambda f: f.counts, reverse=True):
        if not any(all(a >= b for a, b in zip(o.counts, fill.counts, strict=True)) for o in found):
            found.append(fill)
    return found


def _span(figures: Floats, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """From where to where along each figure lies within a band across: least and greatest, the
    least above the greatest where it does not. [bands, figures]"""
    u, v = figures[None, :, :, 0], figures[None, :, :, 1]
    u_next, v_next = np.roll(u, -1, axis=2), np.roll(v, -1, axis=2)
    a, b = low[:, None, None], high[:, None, None]
    inside = (v >= a) & (v <= b)
    least = np.where(inside, u, np.inf).min(axis=2)
    most = np.where(inside, u, -np.inf).max(axis=2)
    for level in (a, b):
        rise = v_next - v
        share = (level - v) / np.where(rise == 0, 1.0, rise)
        crossed = (rise != 0) & (share >= 0) & (share <= 1)
        where = u + share * (u_next - u)
        least = np.minimum(least, np.where(crossed, where, np.inf).min(axis=2))
        most = np.maximum(most, np.where(crossed, where, -np.inf).max(axis=2))
    return least, most
