"""Boards with faults whose best layouts are known, and strength against the slope of grain."""

from __future__ import annotations

from math import atan, cos, sin

import pytest

from benchside.stock.board import Blank, Board, Defect, lay_out, strip_counts
from benchside.stock.grain import strength_left
from benchside.stock.mixed import Need, plan

# Made for this work, since no boards with faults and proven best layouts are published: small ones
# agree with exhaustive search, the two large ones with an integer programme. Length, width, faults
# (from, to along; from, to across), blanks (length, side, worth), kerf, the most that can be had.
KNOWN = [
    (12, 3, [], [(4, 1, 1)], 0, 9),
    (14, 5, [], [(4, 1, 1)], 1, 9),
    (12, 4, [(5, 7, 1, 2)], [(4, 1, 1)], 0, 11),
    (12, 4, [(5, 6, 1, 3)], [(4, 2, 2), (3, 1, 1)], 0, 14),
    (14, 4, [(3, 5, 0, 2), (9, 10, 2, 3)], [(4, 2, 5), (3, 1, 2)], 0, 32),
    (
        *(2400, 180, [(500, 540, 60, 85), (1310, 1350, 20, 50), (1900, 1960, 120, 150)]),
        *([(600, 30, 1)], 3, 15),
    ),
    (
        *(2000, 200, [(0, 220, 90, 110), (900, 930, 30, 60), (1400, 1450, 140, 175)]),
        *([(450, 35, 1)], 4, 17),
    ),
]


@pytest.mark.parametrize(("length", "width", "faults", "blanks", "kerf", "most"), KNOWN)
def test_boards_with_known_best_layouts(length, width, faults, blanks, kerf, most, monkeypatch):
    board = Board(
        length,
        width,
        max(side for _, side, _ in blanks),
        tuple(Defect(x0, y0, x1 - x0, y1 - y0) for x0, x1, y0, y1 in faults),
        resawn=False,
    )
    needs = [Need(Blank(size, side), 100) for size, side, _ in blanks]
    worth = [value for _, _, value in blanks]
    monkeypatch.setattr("benchside.stock.mixed.worths", lambda _needs: worth)
    found = plan([board], needs, [kerf])
    assert sum(n * value for n, value in zip(found.got, worth, strict=True)) == most
    assert found.within == 0
    if len(blanks) == 1:
        assert lay_out(board, needs[0].blank, kerf).count == most


def test_the_knotty_board_gives_one_more_than_equal_rips_from_the_edge():
    # Of the same work: equal rips from the edge, each strip crosscut around its knots, give 14.
    length, width, faults, ((size, side, _),), kerf, most = KNOWN[5]
    board = Board(length, width, side, tuple(Defect(x, y, a - x, b - y) for x, a, y, b in faults))
    rips = [i * (side + kerf) for i in range((width + kerf) // (side + kerf))]
    assert sum(strip_counts(board, Blank(size, side), kerf, rips)) == most - 1 == 14


# [@wood-handbook-2010-ch5, table of strength against slope of grain; from memory]
SLOPES = [
    (25, 0.96, 0.95, 1.00),
    (20, 0.93, 0.90, 1.00),
    (15, 0.89, 0.81, 1.00),
    (10, 0.81, 0.62, 0.99),
    (5, 0.55, 0.36, 0.93),
]


@pytest.mark.parametrize(("one_in", "bending", "impact", "compression"), SLOPES)
def test_strength_left_by_slope_of_grain(one_in, bending, impact, compression):
    left = strength_left(1 / one_in)
    assert (left.bending, left.impact, left.compression) == pytest.approx(
        (bending, impact, compression)
    )


@pytest.mark.parametrize("one_in", [25, 20, 15, 10, 5])
def test_hankinson_tells_the_same_of_bending(one_in):
    # [@hankinson-1921, N = P Q / (P sin^n + Q cos^n)], n = 2 and Q/P = 0.05 for bending of
    # hardwoods [@wood-handbook-2010-ch5, eq. 5-2 and its table of n; from memory]. The printed
    # table is of tests, rounded; the two differ by at most 4 in 100.
    angle, ratio = atan(1 / one_in), 0.05
    hankinson = ratio / (sin(angle) ** 2 + ratio * cos(angle) ** 2)
    assert strength_left(1 / one_in).bending == pytest.approx(hankinson, abs=0.045)
