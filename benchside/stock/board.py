"""How many blanks a board gives, and where: rips along the grain first, then crosscuts.

For one size of blank the answer is the best possible. Strips and blanks can be moved towards the
origin until they meet the saw cut before them or a fault, and lose nothing by it; so the best
layout is among those positions alone, and a dynamic programme over them finds it. That holds for
every kerf, on no grid. Where the grain slopes, rips are tried on a grid not coarser than the
resolution asked for, whose step divides a strip and its saw cut evenly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, floor

import numpy as np

from benchside.errors import OutOfRange
from benchside.stock import sawing
from benchside.stock.field import Field, Fill, Floats, counts, fills
from benchside.stock.sawing import Crosscut, Rip
from benchside.stock.shapes import (
    EPS_MM,
    Blank,
    Board,
    Defect,
    Pin,
    Placed,
    Strip,
    along_grain,
    check,
    check_blank,
    depths,
    layers,
)

__all__ = [
    "Blank",
    "Board",
    "Defect",
    "Layout",
    "Pin",
    "PinTrouble",
    "Placed",
    "as_sawn",
    "lay_out",
    "plain_count",
    "strip_counts",
]


class PinTrouble(OutOfRange):
    """Pinned blanks that cannot be sawn where they are; ``pins`` says which, counted from 0, and
    ``board`` on which of the boards planned together."""

    def __init__(self, says: str, pins: tuple[int, ...], *, hint: str) -> None:
        super().__init__(says, field="pin", hint=hint)
        self.pins = pins
        self.board = 0


@dataclass(frozen=True, slots=True)
class Layout:
    """Where the blanks of one board lie, and the cuts that free them.

    ``plain_count`` is what plain sawing straight through gives, 0 where that was not asked;
    ``within`` how many more blanks there could be at most (0: best possible); ``waste`` the share
    of the board's wood that does not end in a blank.
    """

    board: Board
    kerf_mm: float
    blanks: tuple[Placed, ...]
    strips: tuple[Strip, ...]
    rips: tuple[Rip, ...]
    crosscuts: tuple[Crosscut, ...]
    plain_count: int
    within: int = 0

    @property
    def count(self) -> int:
        return len(self.blanks)

    @property
    def waste(self) -> float:
        whole = self.board.length_mm * self.board.width_mm * self.board.thickness_mm
        return 1 - sum(p.length_mm * p.side_mm**2 for p in self.blanks) / whole


@dataclass(frozen=True, slots=True)
class PinnedStrip:
    """A strip with pinned blanks: ``held`` is where along the grain, and which of the needs;
    ``pins`` which of the board's pins each is."""

    off_mm: float
    side_mm: float
    held: tuple[tuple[float, int], ...]
    pins: tuple[int, ...]


def lay_out(
    board: Board,
    blank: Blank,
    kerf_mm: float,
    resolution_mm: float = 0.5,
    *,
    pins: Sequence[Pin] = (),
) -> Layout:
    """The most blanks of one size that a board gives, around its faults and the pinned blanks.

    Rips run the whole length along the grain, each strip as wide as the blank's side; crosscuts
    part each strip on its own; a thick board is resawn last, each piece from the face that leaves
    most of it sound. The count is the best possible of all such cuttings on straight grain, and
    on a grid of ``resolution_mm`` where the grain slopes. Fewer strips are taken where two
    layouts give as many blanks.

    Raises `OutOfRange` for a board, kerf or pin that cannot be, or a blank thicker than the board.
    """
    check(board, kerf_mm, resolution_mm)
    check_blank(blank, board)
    field = Field(board)
    fixed = pinned_strips(field, (blank,), pins, kerf_mm)
    chosen: list[tuple[Strip, Fill]] = []
    for low, high in between(field, fixed, kerf_mm):
        for off in _best_strips(field, blank, kerf_mm, resolution_mm, low, high):
            strip, blocks = field.strip(off, blank.side_mm)
            (fill,) = fills(blocks, strip, (blank.length_mm,), kerf_mm, board)
            chosen.append((strip, fill))
    for pinned in fixed:
        strip, blocks = field.strip(pinned.off_mm, blank.side_mm)
        (fill,) = fills(blocks, strip, (blank.length_mm,), kerf_mm, board, pinned.held)
        chosen.append((strip, fill))
    return laid(field, (blank,), kerf_mm, chosen, pins, plain_count(board, blank, kerf_mm))


def laid(
    field: Field,
    blanks: Sequence[Blank],
    kerf_mm: float,
    chosen: Sequence[tuple[Strip, Fill]],
    pins: Sequence[Pin],
    plain: int,
    within: int = 0,
) -> Layout:
    """A layout from its strips and how each is crosscut."""
    board = field.board
    strips: list[Strip] = []
    placed: list[Placed] = []
    pinned = {(round(p.at_mm, 3), round(p.across_mm, 3)) for p in pins}
    for number, (strip, fill) in enumerate(sorted(chosen, key=lambda found: found[0].off_mm)):
        strips.append(strip)
        for stack in fill.stacks:
            placed.extend(field.placed(number, strip.off_mm, stack, blanks[stack.size], kerf_mm))
    placed = [
        replace(p, pinned=True) if (round(p.at_mm, 3), round(p.across_mm, 3)) in pinned else p
        for p in placed
    ]
    return Layout(
        board=board,
        kerf_mm=kerf_mm,
        blanks=tuple(placed),
        strips=tuple(strips),
        rips=sawing.rips(board, strips, kerf_mm),
        crosscuts=sawing.crosscuts(board, strips, placed, kerf_mm),
        plain_count=plain,
        within=within,
    )


def as_sawn(board: Board, kerf_mm: float, blanks: Sequence[Placed]) -> Layout:
    """The layout of blanks that were sawn, in their order: their strips and cuts, nothing planned.

    Which strip a blank is in is found by where it lies.
    """
    field = Field(board)
    lines: list[tuple[float, float]] = []
    of: dict[int, int] = {}
    off = [along_grain(p.at_mm, p.across_mm, board.grain_slope)[1] for p in blanks]
    for i in sorted(range(len(blanks)), key=off.__getitem__):
        if not lines or off[i] - lines[-1][0] > 10 * EPS_MM:
            lines.append((off[i], blanks[i].side_mm))
        of[i] = len(lines) - 1
    strips = [field.strip(*line)[0] for line in lines]
    placed = tuple(replace(p, strip=of[i]) for i, p in enumerate(blanks))
    return Layout(
        board=board,
        kerf_mm=kerf_mm,
        blanks=placed,
        strips=tuple(strips),
        rips=sawing.rips(board, strips, kerf_mm),
        crosscuts=sawing.crosscuts(board, strips, placed, kerf_mm),
        plain_count=0,
    )


def plain_count(board: Board, blank: Blank, kerf_mm: float) -> int:
    """How many clear blanks plain sawing gives: equal rips from the near edge along the board,
    every strip crosscut at the same stops from the left end, and what has a fault thrown away."""
    pitch, wide = blank.length_mm + kerf_mm, blank.side_mm + kerf_mm
    across = board.width_mm - board.near_mm - board.far_mm
    along = board.length_mm - board.trim_left_mm - board.trim_right_mm
    rows = floor((across + kerf_mm + EPS_MM) / wide)
    columns = floor((along + kerf_mm + EPS_MM) / pitch)
    deep = layers(board, board.thickness_mm, blank.side_mm, kerf_mm)
    if rows < 1 or columns < 1:
        return 0
    spoiled = np.zeros((deep, rows, columns), dtype=bool)
    for d in board.defects:
        x, y = d.at_mm - board.trim_left_mm, d.across_mm - board.near_mm
        i0, i1 = _cells(y, d.width_mm, blank.side_mm, wide, rows)
        j0, j1 = _cells(x, d.length_mm, blank.length_mm, pitch, columns)
        one, two = depths(d, board.thickness_mm)
        for layer in range(deep):
            top = layer * wide
            if top < one - EPS_MM or top + blank.side_mm > board.thickness_mm - two + EPS_MM:
                spoiled[layer, i0:i1, j0:j1] = True
    return int((~spoiled).sum())


def strip_counts(
    board: Board, blank: Blank, kerf_mm: float, off_mm: Sequence[float]
) -> tuple[int, ...]:
    """How many blanks strips give that begin at these places across the grain, which must rise."""
    check(board, kerf_mm, 1.0)
    check_blank(blank, board)
    return tuple(counts(Field(board), np.asarray(off_mm, float), blank, kerf_mm).tolist())


def positions(
    field: Field,
    widths: Sequence[float],
    kerf_mm: float,
    resolution_mm: float,
    low: float,
    high: float,
) -> Floats:
    """Where strips of these widths need be tried between two places across the grain, rising.

    On straight grain: after the edge and after each fault, and from there on by whole strips and
    saw cuts. Where the grain slopes: on a grid.
    """
    last = high - min(widths)
    if last < low - EPS_MM:
        return np.empty(0)
    if not field.straight:
        return np.arange(low, last + EPS_MM, grid_step(widths, kerf_mm, resolution_mm))
    begins = field.most[:, 1]
    begins = np.unique(np.append(begins[(begins > low) & (begins <= last + EPS_MM)], low))
    found: Floats = begins
    for width in widths:
        steps = np.arange(floor((high - low) / (width + kerf_mm)) + 1) * (width + kerf_mm)
        found = (found[:, None] + steps).ravel()
        found = np.unique(found[found <= last + EPS_MM])
    return found


def grid_step(widths: Sequence[float], kerf_mm: float, resolution_mm: float) -> float:
    """The step of the grid: not over the resolution, and the first strip with its saw cut is a
    whole number of it."""
    pitch = widths[0] + kerf_mm
    return pitch / ceil(pitch / resolution_mm - 1e-9)


def pinned_strips(
    field: Field, blanks: Sequence[Blank], pins: Sequence[Pin], kerf_mm: float
) -> list[PinnedStrip]:
    """The strips that the pinned blanks lie in, from the near edge on.

    Raises `PinTrouble` for a pin off the board, over a fault, in the way of another, or of a size
    that is not asked for.
    """
    turned = []
    for number, pin in enumerate(pins):
        if pin.need >= len(blanks):
            raise PinTrouble(
                f"Pinned blank {number + 1} is of a size that is no longer wanted.",
                (number,),
                hint="Let it go, or make it another.",
            )
        along, off = along_grain(pin.at_mm, pin.across_mm, field.board.grain_slope)
        turned.append((off, along, pin.need, number))
    found: list[PinnedStrip] = []
    for off, along, need, number in sorted(turned):
        side = blanks[need].side_mm
        last = found[-1] if found else PinnedStrip(-np.inf, 0.0, (), ())
        if off - last.off_mm <= EPS_MM and side == last.side_mm:
            held, numbers = (*last.held, (along, need)), (*last.pins, number)
            found[-1] = replace(last, held=held, pins=numbers)
        elif off < last.off_mm + last.side_mm + kerf_mm - EPS_MM:
            pair = sorted((last.pins[-1], number))
            raise PinTrouble(
                f"Pinned blanks {pair[0] + 1} and {pair[1] + 1} cannot both be ripped out.",
                tuple(pair),
                hint="Pin them in one line, or a strip and a saw cut apart.",
            )
        else:
            found.append(PinnedStrip(off, side, ((along, need),), (number,)))
    for pinned in found:
        _check_strip(field, pinned, blanks, kerf_mm)
    return found


def between(
    field: Field, fixed: Sequence[PinnedStrip], kerf_mm: float
) -> list[tuple[float, float]]:
    """What is left across the grain beside the strips with pinned blanks."""
    free, found = field.low, []
    for pinned in fixed:
        found.append((free, pinned.off_mm - kerf_mm))
        free = pinned.off_mm + pinned.side_mm + kerf_mm
    return [*found, (free, field.high)]


def _best_strips(
    field: Field, blank: Blank, kerf_mm: float, resolution_mm: float, low: float, high: float
) -> list[float]:
    """Where to rip strips between two places across the grain, for the most blanks."""
    at = positions(field, (blank.side_mm,), kerf_mm, resolution_mm, low, high)
    if not len(at):
        return []
    many = counts(field, at, blank, kerf_mm)
    following = np.searchsorted(at, at + blank.side_mm + kerf_mm - EPS_MM).tolist()
    # A blank outweighs any number of strips, so that of equal layouts the one with fewer wins.
    worth = (many * (len(at) + 1) - 1).tolist()
    best = [0] * (len(at) + 1)
    for i in range(len(at) - 1, -1, -1):
        best[i] = max(best[i + 1], worth[i] + best[following[i]])
    chosen, i = [], 0
    while i < len(at):
        if best[i] == best[i + 1]:
            i += 1
        else:
            chosen.append(float(at[i]))
            i = following[i]
    return chosen


def _check_strip(
    field: Field, pinned: PinnedStrip, blanks: Sequence[Blank], kerf_mm: float
) -> None:
    off, side = pinned.off_mm, pinned.side_mm
    strip, blocks = field.strip(off, side)
    inside = field.low - EPS_MM <= off and off + side <= field.high + EPS_MM
    free = strip.from_mm
    for (along, need), number in zip(pinned.held, pinned.pins, strict=True):
        length = blanks[need].length_mm
        if not inside or along < free - EPS_MM or along + length > strip.to_mm + EPS_MM:
            raise PinTrouble(
                f"Pinned blank {number + 1} reaches over the end or edge of the board, or into"
                " another.",
                (number,),
                hint="Move it, or let it go.",
            )
        alone = replace(strip, from_mm=along, to_mm=along + length)
        (fill,) = fills(blocks, alone, (length,), kerf_mm, field.board)
        if not fill.counts[0]:
            raise PinTrouble(
                f"Pinned blank {number + 1} has a knot in it.",
                (number,),
                hint="Move it, or try the board without that knot.",
            )
        free = along + length + kerf_mm


def _cells(at: float, extent: float, size: float, pitch: float, most: int) -> tuple[int, int]:
    """Which cells of a row a fault takes: the first, and the one after the last."""
    first = floor((at - size + EPS_MM) / pitch) + 1
    last = ceil((at + extent - EPS_MM) / pitch)
    return max(0, first), max(0, min(most, last))
