"""Blanks of several sizes from several boards."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from benchside.errors import OutOfRange
from benchside.stock.board import Blank, Board, Defect, Pin, lay_out
from benchside.stock.mixed import Need, plain_counts, plan, worths
from tests.stock.faults import touches

SPINDLE, RUNG, LEG = Blank(90.0, 14.0), Blank(60.0, 14.0), Blank(70.0, 22.0)
KERF = 2.0


def board(seed: int, knots: int = 6) -> Board:
    chance = np.random.default_rng(seed)
    rows = chance.integers([0, 0, 1, 1], [380, 90, 40, 20], (knots, 4)).astype(float).tolist()
    return Board(400.0, 100.0, 24.0, tuple(Defect(*row) for row in rows), resawn=False)


@pytest.mark.parametrize("seed", range(12))
def test_one_size_gives_what_the_dynamic_programme_gives(seed):
    alone = lay_out(board(seed), SPINDLE, KERF).count
    found = plan([board(seed)], [Need(SPINDLE, 100)], [KERF])
    assert found.got == (alone,)
    assert found.within == 0


@pytest.mark.parametrize("seed", range(6))
def test_two_boards_give_what_each_gives(seed):
    both = [board(seed), board(seed + 50)]
    alone = sum(lay_out(b, SPINDLE, KERF).count for b in both)
    assert plan(both, [Need(SPINDLE, 200)], [KERF, KERF]).got == (alone,)


@pytest.mark.parametrize("seed", range(6))
def test_the_first_priority_is_served_as_if_it_were_alone(seed):
    alone = lay_out(board(seed), LEG, KERF).count
    found = plan([board(seed)], [Need(SPINDLE, 50, 2), Need(LEG, 50, 1)], [KERF])
    assert found.got[1] == alone
    wanted = max(1, alone - 2)
    fewer = plan([board(seed)], [Need(SPINDLE, 50, 2), Need(LEG, wanted, 1)], [KERF])
    assert fewer.got[1] == min(wanted, alone)
    assert fewer.got[0] >= found.got[0]


@pytest.mark.parametrize("seed", range(8))
def test_no_blank_has_a_fault_in_it_or_meets_another(seed):
    needs = [Need(SPINDLE, 9, 1), Need(RUNG, 6, 2), Need(LEG, 4, 1)]
    found = plan([board(seed)], needs, [KERF])
    (layout,) = found.layouts
    assert sum(found.got) == layout.count
    for placed in layout.blanks:
        size = needs[placed.need].blank
        assert (placed.length_mm, placed.side_mm) == (size.length_mm, size.side_mm)
        assert not any(touches(placed, d, 0.0, 24.0) for d in layout.board.defects)
    for a, b in combinations(layout.blanks, 2):
        gaps = (
            max(a.at_mm - b.at_mm - b.length_mm, b.at_mm - a.at_mm - a.length_mm),
            max(a.across_mm - b.across_mm - b.side_mm, b.across_mm - a.across_mm - a.side_mm),
        )
        assert max(gaps) >= KERF - 1e-6


def test_lengths_share_a_strip():
    strip = Board(154.0, 14.0, 14.0)
    assert plan([strip], [Need(SPINDLE, 1), Need(RUNG, 1)], [4.0]).got == (1, 1)
    assert plan(
        [replace(strip, length_mm=153.9)], [Need(SPINDLE, 1), Need(RUNG, 1)], [4.0]
    ).got in (
        (1, 0),
        (0, 1),
    )


def test_a_pinned_blank_stays_and_the_rest_is_planned_around_it():
    needs = [Need(SPINDLE, 40, 1), Need(LEG, 3, 2)]
    found = plan([board(3, knots=0)], needs, [KERF], pins=[[Pin(35.0, 41.0, 1)]])
    (kept,) = [p for p in found.layouts[0].blanks if p.pinned]
    assert (kept.at_mm, kept.across_mm, kept.need) == (35.0, 41.0, 1)
    assert 0 < found.got[0] < plan([board(3, knots=0)], needs[:1], [KERF]).got[0]


def test_what_is_left_of_a_board_is_in_one_piece():
    clear = replace(board(0, knots=0), width_mm=200.0)
    (layout,) = plan([clear], [Need(SPINDLE, 5), Need(LEG, 1)], [KERF]).layouts
    ends = [strip.off_mm + strip.width_mm + KERF for strip in layout.strips]
    assert [strip.off_mm for strip in layout.strips] == pytest.approx([0.0, *ends[:-1]])
    assert {rip.frees for rip in layout.rips} == {"strip"}


def test_no_more_is_sawn_than_is_wanted():
    found = plan([board(1, knots=0)], [Need(SPINDLE, 5)], [KERF])
    assert found.got == (5,)
    assert len(found.layouts[0].strips) == 2


@pytest.mark.slow
def test_a_plan_cut_short_says_how_much_better_there_could_be():
    chance = np.random.default_rng(0)
    rows = chance.uniform([0, 0, 5, 5], [1900, 180, 60, 30], (15, 4)).tolist()
    knotty = Board(2000.0, 200.0, 27.0, tuple(Defect(*row) for row in rows))
    needs = [Need(Blank(560.0, 25.0), 12, 1), Need(Blank(420.0, 22.0), 12, 2)]
    hurried = plan([knotty], needs, [3.2], time_s=0.01)
    assert sum(hurried.got) > 0
    assert hurried.within <= 24 - sum(hurried.got)
    calm = plan([knotty], needs, [3.2], time_s=20.0)
    assert calm.within == 0
    assert calm.got >= hurried.got
    assert sum(calm.got) <= sum(hurried.got) + hurried.within


def test_an_earlier_priority_outweighs_all_the_later_ones():
    needs = [Need(SPINDLE, 10, 2), Need(RUNG, 5, 3), Need(LEG, 2, 1)]
    two, three, one = worths(needs)
    assert two > 5 * three
    assert one > 10 * two + 5 * three


def test_plain_sawing_takes_the_first_priority_first():
    needs = [Need(SPINDLE, 8, 2), Need(LEG, 5, 1)]
    # 5 legs fill one strip of 22; of 100 mm 76 are left, four strips of 14 with their cuts, 4 each.
    assert plain_counts([board(0, knots=0)], needs, [KERF]) == (8, 5)
    assert plain_counts([replace(board(0, knots=0), width_mm=40.0)], needs, [KERF]) == (4, 5)


@pytest.mark.parametrize(
    ("needs", "field"),
    [
        ([], "needs"),
        ([Need(SPINDLE, -1)], "wanted"),
        ([Need(SPINDLE, 3, 0)], "wanted"),
        ([Need(Blank(90.0, 40.0), 3)], "thickness_mm"),
    ],
)
def test_what_cannot_be_is_refused(needs, field):
    with pytest.raises(OutOfRange) as caught:
        plan([board(0)], needs, [KERF])
    assert caught.value.field == field
