"""From blanks laid out to saw cuts: rips with their fence, crosscuts with their marks, resawing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

from benchside.stock.shapes import EPS_MM, Board, Placed, Strip, along_grain, on_board

Frees = Literal["strip", "waste", "skim", "line"]


@dataclass(frozen=True, slots=True)
class Rip:
    """One rip, running the whole length along the grain.

    ``off_mm`` is the side of the saw cut nearer the origin, across the grain; ``fence_mm`` what
    stands between fence and blade with the near edge against the fence. It ``frees`` a strip
    (numbered from 0), a waste piece, or only skims the edge; where the grain slopes, the first cut
    is a line drawn along the grain and sawn by it: ``from_mm`` to ``to_mm`` in the board's own
    measures, and no fence yet.
    """

    off_mm: float
    fence_mm: float
    frees: Frees
    strip: int | None
    from_mm: tuple[float, float]
    to_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Crosscut:
    """One crosscut of a strip.

    ``mark_mm`` is where the good wood ends or begins, measured along the strip from the board's
    left end; the saw cut lies on the waste side: ``after`` the mark or before it.
    """

    strip: int
    mark_mm: float
    after: bool
    from_mm: tuple[float, float]
    to_mm: tuple[float, float]


def rips(board: Board, strips: Sequence[Strip], kerf_mm: float) -> tuple[Rip, ...]:
    """The rips that free these strips, from the near edge on. Strips must rise."""
    found: list[Rip] = []
    slope = board.grain_slope

    def add(off: float, fence: float, frees: Frees, strip: int | None) -> None:
        ends = _across_board(board, off)
        found.append(Rip(off, fence, frees, strip, *ends))

    edge = 0.0
    far = _far_edge(board)
    for number, strip in enumerate(strips):
        gap = strip.off_mm - edge
        if number == 0 and slope:
            add(strip.off_mm - kerf_mm, 0.0, "line", None)
        elif gap > kerf_mm + EPS_MM:
            add(strip.off_mm - kerf_mm, gap - kerf_mm, "waste", None)
        elif gap > EPS_MM:
            add(strip.off_mm - kerf_mm, gap, "skim", None)
        end = strip.off_mm + strip.width_mm
        if end < far - EPS_MM:
            add(end, strip.width_mm, "strip", number)
        edge = end + kerf_mm
    return tuple(found)


def crosscuts(
    board: Board, strips: Sequence[Strip], blanks: Sequence[Placed], kerf_mm: float
) -> tuple[Crosscut, ...]:
    """The crosscuts that part these blanks, strip by strip, each mark from the left end."""
    found: list[Crosscut] = []
    for number, strip in enumerate(strips):
        left, right = _strip_ends(board, strip)
        spans = sorted({_span_along(board, placed) for placed in blanks if placed.strip == number})
        free = left
        for start, end in spans:
            # One saw cut parts neighbours that stand a kerf apart; others are squared at the start.
            parted = free > left and start - free <= EPS_MM
            if start - left > EPS_MM and not parted:
                found.append(_crosscut(board, strip, number, start, left, after=False))
            if right - end > EPS_MM:
                found.append(_crosscut(board, strip, number, end, left, after=True))
            free = end + kerf_mm
    return tuple(found)


def settings(rips: Sequence[Rip]) -> tuple[tuple[Rip, ...], ...]:
    """The rips in their order, those together that leave the fence where it is."""
    return tuple(
        tuple(together)
        for _, together in groupby(rips, lambda rip: (rip.frees, round(rip.fence_mm, 3)))
    )


def _span_along(board: Board, placed: Placed) -> tuple[float, float]:
    along, _ = along_grain(placed.at_mm, placed.across_mm, board.grain_slope)
    return round(along, 6), round(along + placed.length_mm, 6)


def _crosscut(
    board: Board, strip: Strip, number: int, mark: float, left: float, *, after: bool
) -> Crosscut:
    return Crosscut(
        strip=number,
        mark_mm=mark - left,
        after=after,
        from_mm=on_board(mark, strip.off_mm, board.grain_slope),
        to_mm=on_board(mark, strip.off_mm + strip.width_mm, board.grain_slope),
    )


def _strip_ends(board: Board, strip: Strip) -> tuple[float, float]:
    """Where the strip's near edge leaves the board, along the grain."""
    (x0, y0), (x1, y1) = _across_board(board, strip.off_mm)
    slope = board.grain_slope
    return along_grain(x0, y0, slope)[0], along_grain(x1, y1, slope)[0]


def _far_edge(board: Board) -> float:
    """How far the board reaches across the grain."""
    ends = ((0.0, board.width_mm), (board.length_mm, board.width_mm))
    return max(along_grain(x, y, board.grain_slope)[1] for x, y in ends)


def _across_board(board: Board, off: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """The two ends, on the board, of a line along the grain."""
    slope = board.grain_slope
    if not slope:
        return (0.0, off), (board.length_mm, off)
    x0, y0 = on_board(0.0, off, slope)
    across = y0 - slope * x0  # where the line meets the left end
    left, right = 0.0, board.length_mm
    at_edges = sorted((edge - across) / slope for edge in (0.0, board.width_mm))
    left, right = max(left, at_edges[0]), min(right, at_edges[1])
    return (left, across + slope * left), (right, across + slope * right)
