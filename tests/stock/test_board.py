"""The best layout of one size of blank: against every layout there is, a programme, and laws."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from benchside.errors import OutOfRange
from benchside.stock.board import (
    Blank,
    Board,
    Defect,
    Layout,
    Pin,
    PinTrouble,
    lay_out,
    strip_counts,
)
from benchside.stock.field import Field, counts, fills
from benchside.stock.shapes import EPS_MM, along_grain, corners, doubts
from tests.benchmarks.stock import as_flow
from tests.stock.faults import touches

OAK = Board(2400.0, 180.0, 27.0)
BLANK = Blank(560.0, 25.0)


# ------------------------------------------------------------------ every layout there is


def every_layout(board: Board, blank: Blank, kerf: int) -> int:
    """The most blanks of all whole-millimetre layouts, each tried: nothing of ours is used."""

    def clear(at: int, across: int) -> bool:
        return not any(
            d.at_mm < at + blank.length_mm
            and at < d.at_mm + d.length_mm
            and d.across_mm < across + blank.side_mm
            and across < d.across_mm + d.width_mm
            for d in board.defects
        )

    def along(at: int, across: int) -> int:
        if at + blank.length_mm > board.length_mm:
            return 0
        found = along(at + 1, across)
        if clear(at, across):
            found = max(found, 1 + along(at + int(blank.length_mm) + kerf, across))
        return found

    strip = [along(0, y) for y in range(int(board.width_mm - blank.side_mm) + 1)]
    apart = int(blank.side_mm) + kerf
    most = 0
    for many in range(1, int((board.width_mm + kerf) // apart) + 1):
        for rips in combinations(range(len(strip)), many):
            if all(b - a >= apart for a, b in pairwise(rips)):
                most = max(most, sum(strip[y] for y in rips))
    return most


@pytest.mark.parametrize("seed", range(24))
def test_no_layout_of_a_small_board_gives_more(seed):
    chance = np.random.default_rng(seed)
    length, width = int(chance.integers(6, 15)), int(chance.integers(3, 10))
    blank = Blank(float(chance.integers(2, 6)), float(chance.integers(1, 4)))
    kerf = int(chance.integers(0, 2))
    defects = tuple(
        Defect(
            float(chance.integers(0, length)),
            float(chance.integers(0, width)),
            float(chance.integers(1, 4)),
            float(chance.integers(1, 4)),
        )
        for _ in range(int(chance.integers(0, 4)))
    )
    board = Board(float(length), float(width), 4.0, defects, resawn=False)
    assert lay_out(board, blank, kerf).count == every_layout(board, blank, kerf)


@pytest.mark.parametrize("seed", range(8))
def test_the_programme_of_strips_as_a_flow_finds_no_more_and_no_less(seed):
    chance = np.random.default_rng(seed)
    rows = chance.integers([0, 0, 1, 1], [580, 110, 60, 25], (12, 4)).astype(float).tolist()
    board = Board(600.0, 120.0, 20.0, tuple(Defect(*row) for row in rows), resawn=False)
    blank, kerf = Blank(90.0, 14.0), 2.0
    at = np.arange(120 - 14 + 1.0)
    flow = as_flow(np.array(strip_counts(board, blank, kerf, at.tolist())), 120.0, 16.0, 1.0)
    assert lay_out(board, blank, kerf, 1.0).count == flow


def test_a_saw_cut_off_the_grid_loses_no_blank_to_plain_ripping():
    # 4 x 38 + 3 x 3.2 = 161.6 exactly; on a grid of 0.5 mm a strip and its cut would take 41.5.
    layout = lay_out(Board(1000.0, 161.6, 40.0), Blank(900.0, 38.0), 3.2)
    assert layout.count == layout.plain_count == 4


def test_a_check_thinner_than_the_saw_cut_still_parts_two_blanks_by_a_whole_cut():
    board = Board(203.0, 20.0, 20.0, (Defect(100.0, 0.0, 1.0, 20.0),))
    assert [p.at_mm for p in lay_out(board, Blank(100.0, 20.0), 3.0).blanks] == [0.0, 103.0]
    assert lay_out(replace(board, length_mm=202.9), Blank(100.0, 20.0), 3.0).count == 1


# ------------------------------------------------------------------ laws

mm = st.integers(0, 400).map(float)


@st.composite
def boards(draw: st.DrawFn, slopes: tuple[float, ...] = (0.0,)) -> Board:
    length, width = draw(st.integers(120, 400)), draw(st.integers(30, 90))
    defects = draw(st.lists(defect(length, width), max_size=6))
    return Board(
        float(length),
        float(width),
        draw(st.sampled_from([12.0, 14.5, 27.0])),
        tuple(defects),
        draw(st.sampled_from(slopes)),
        trim_left_mm=draw(st.sampled_from([0.0, 20.0])),
        near_mm=draw(st.sampled_from([0.0, 5.5])),
    )


def defect(length: int, width: int) -> st.SearchStrategy[Defect]:
    return st.builds(
        Defect,
        st.integers(0, length).map(float),
        st.integers(0, width).map(float),
        st.integers(0, 60).map(float),
        st.integers(0, 30).map(float),
        st.sampled_from(["one", "two", "both"]),
        st.sampled_from([None, None, 2.0, 5.0]),
    )


SMALL = Blank(75.0, 11.0)
KERF = 2.4


@settings(max_examples=25, deadline=None)
@given(boards(slopes=(0.0, 0.0, 0.1, -0.07)))
def test_no_blank_has_a_fault_in_it_or_meets_another_or_leaves_the_board(board):
    layout = lay_out(board, SMALL, KERF, 2.0)
    assert layout.within == 0
    for placed in layout.blanks:
        assert not any(
            touches(placed, d, board.grain_slope, board.thickness_mm) for d in board.defects
        )
        for x, y in corners(
            placed.at_mm, placed.across_mm, placed.length_mm, placed.side_mm, board.grain_slope
        ):
            assert board.trim_left_mm - EPS_MM <= x <= board.length_mm + EPS_MM
            assert board.near_mm - EPS_MM <= y <= board.width_mm + EPS_MM
    for one, other in combinations(layout.blanks, 2):
        assert apart(one, other, board.grain_slope) >= KERF - EPS_MM


def apart(one, other, slope: float) -> float:
    """How far two blanks are apart in the direction that parts them best."""
    a = along_grain(one.at_mm, one.across_mm, slope)
    b = along_grain(other.at_mm, other.across_mm, slope)
    return max(
        abs(a[0] - b[0]) - one.length_mm,
        abs(a[1] - b[1]) - one.side_mm,
        abs(one.depth_mm - other.depth_mm) - one.side_mm,
    )


@settings(max_examples=25, deadline=None)
@given(boards(slopes=(0.0, 0.0, 0.1)), st.data())
def test_one_more_fault_never_gives_more_blanks(board, data):
    more = data.draw(defect(int(board.length_mm), int(board.width_mm)))
    worse = replace(board, defects=(*board.defects, more))
    assert lay_out(worse, SMALL, KERF, 2.0).count <= lay_out(board, SMALL, KERF, 2.0).count


@settings(max_examples=25, deadline=None)
@given(boards(slopes=(0.0, 0.0, 0.1, -0.07)), st.integers(1, 40))
def test_a_wider_board_never_gives_fewer_blanks(board, by):
    wider = replace(board, width_mm=board.width_mm + by)
    assert lay_out(wider, SMALL, KERF, 2.0).count >= lay_out(board, SMALL, KERF, 2.0).count


@settings(max_examples=25, deadline=None)
@given(boards(), st.lists(st.integers(0, 79).map(float), min_size=1, max_size=8, unique=True))
def test_strips_counted_together_hold_what_each_holds_when_laid_out(board, off):
    field = Field(board)
    at = np.array(sorted(y for y in off if y + SMALL.side_mm <= board.width_mm))
    for y, many in zip(at.tolist(), counts(field, at, SMALL, KERF).tolist(), strict=True):
        strip, blocks = field.strip(y, SMALL.side_mm)
        (fill,) = fills(blocks, strip, (SMALL.length_mm,), KERF, board)
        assert fill.counts == (many,)


@settings(max_examples=15, deadline=None)
@given(boards())
# A strip that just fits between a knot's end and the pinned strip's saw cut: 16.4 - 2.4 < 14.0.
@example(Board(153.0, 30.0, 12.0, (Defect(0.0, 0.0, 1.0, 3.0),), resawn=True))
def test_what_is_pinned_stays_and_gives_no_more_than_the_best(board):
    best = lay_out(board, SMALL, KERF, 2.0)
    if best.blanks:
        kept = best.blanks[-1]
        again = lay_out(board, SMALL, KERF, 2.0, pins=[Pin(kept.at_mm, kept.across_mm)])
        assert again.count == best.count
        assert [p.at_mm for p in again.blanks if p.pinned][:1] == [kept.at_mm]
    moved = Pin(board.trim_left_mm + 3.0, board.near_mm + 1.0)
    with suppress(OutOfRange):
        layout = lay_out(board, SMALL, KERF, 2.0, pins=[moved])
        assert layout.count <= best.count
        assert any(
            p.pinned and (p.at_mm, p.across_mm) == (moved.at_mm, moved.across_mm)
            for p in layout.blanks
        )


@pytest.mark.parametrize(
    ("pins", "which"),
    [
        ([Pin(1900.0, 30.0)], (0,)),
        ([Pin(0.0, 160.0)], (0,)),
        ([Pin(500.0, 30.0), Pin(0.0, 30.0)], (0,)),
        ([Pin(700.0, 40.0), Pin(0.0, 30.0)], (0, 1)),
        ([Pin(0.0, 0.0), Pin(950.0, 90.0)], (1,)),
        ([Pin(0.0, 0.0), Pin(0.0, 90.0, need=1)], (1,)),
    ],
    ids=[
        *("over the end", "over the edge", "into another", "two strips in one", "in a knot"),
        "of no size",
    ],
)
def test_a_pin_that_cannot_be_is_refused(pins, which):
    board = replace(OAK, defects=(Defect(1000.0, 100.0, 30.0, 20.0),))
    with pytest.raises(PinTrouble) as caught:
        lay_out(board, BLANK, 3.0, pins=pins)
    assert caught.value.field == "pin"
    assert caught.value.pins == which


# ------------------------------------------------------------------ thickness, faces, grain


def test_a_thick_board_gives_layers_and_a_saw_cut_between_them():
    assert lay_out(Board(600.0, 30.0, 53.0), BLANK, 3.0).count == 2
    assert lay_out(Board(600.0, 30.0, 52.9), BLANK, 3.0).count == 1
    assert lay_out(Board(600.0, 30.0, 53.0, resawn=False), BLANK, 3.0).count == 1


def test_a_knot_that_is_known_to_be_shallow_is_planed_away():
    knot = Defect(200.0, 5.0, 30.0, 20.0, "one")
    board = Board(600.0, 30.0, 30.0, (knot,))
    assert lay_out(board, BLANK, 3.0).count == 0
    (blank,) = lay_out(replace(board, defects=(replace(knot, depth_mm=4.0),)), BLANK, 3.0).blanks
    assert blank.depth_mm == 4.0
    both = (replace(knot, depth_mm=4.0), Defect(300.0, 5.0, 30.0, 20.0, "two", 2.0))
    assert lay_out(replace(board, defects=both), BLANK, 3.0).count == 0


def test_blanks_lie_along_the_grain_and_not_along_the_edge():
    board = replace(OAK, grain_slope=1 / 20)
    layout = lay_out(board, BLANK, 3.2)
    first = layout.blanks[0]
    (x0, y0), (x1, y1), *_ = corners(
        first.at_mm, first.across_mm, first.length_mm, first.side_mm, board.grain_slope
    )
    assert (y1 - y0) / (x1 - x0) == pytest.approx(1 / 20)
    assert layout.rips[0].frees == "line"
    assert layout.count < lay_out(OAK, BLANK, 3.2).count


# ------------------------------------------------------------------ the cuts


def fence_of(layout: Layout) -> list[tuple[str, float]]:
    return [(rip.frees, round(rip.fence_mm, 3)) for rip in layout.rips]


def test_the_fence_is_set_to_the_strip_and_the_waste_before_it_comes_off_first():
    knot = Defect(0.0, 24.0, 1130.0, 10.0)
    layout = lay_out(Board(1130.0, 100.0, 25.0, (knot,)), BLANK, 3.0)
    assert [s.off_mm for s in layout.strips] == [34.0, 62.0]
    assert fence_of(layout) == [("waste", 31.0), ("strip", 25.0), ("strip", 25.0)]


def test_the_last_strip_needs_no_rip_where_the_board_ends_with_it():
    layout = lay_out(Board(600.0, 53.0, 25.0), BLANK, 3.0)
    assert fence_of(layout) == [("strip", 25.0)]


def test_crosscuts_are_marked_from_the_left_end_and_one_cut_parts_two_neighbours():
    layout = lay_out(Board(1200.0, 25.0, 25.0, trim_left_mm=30.0), BLANK, 3.0)
    marks = [(cut.mark_mm, cut.after) for cut in layout.crosscuts]
    assert marks == [(30.0, False), (590.0, True), (1153.0, True)]


@settings(max_examples=15, deadline=None)
@given(boards(slopes=(0.0, 0.1)))
def test_no_saw_cut_goes_through_a_blank(board):
    layout = lay_out(board, SMALL, KERF, 2.0)
    for rip in layout.rips:
        for strip in layout.strips:
            over = min(strip.off_mm + strip.width_mm, rip.off_mm + KERF) - max(
                strip.off_mm, rip.off_mm
            )
            assert over <= EPS_MM
    for number in range(len(layout.strips)):
        ends = [
            along_grain(p.at_mm, p.across_mm, board.grain_slope)[0] + size
            for p in layout.blanks
            if p.strip == number
            for size in (0, p.length_mm)
        ]
        for cut in layout.crosscuts:
            if cut.strip == number:
                mark, _ = along_grain(*cut.from_mm, board.grain_slope)
                assert min(abs(mark - end) for end in ends) < 1e-4


def test_what_is_not_a_blank_is_waste():
    layout = lay_out(Board(1000.0, 50.0, 25.0), Blank(500.0, 25.0), 0.0)
    assert layout.count == 4
    assert layout.waste == pytest.approx(0.0)
    assert lay_out(Board(1000.0, 50.0, 25.0), Blank(500.0, 25.0), 1.0).waste == pytest.approx(0.75)


# ------------------------------------------------------------------ what cannot be


@pytest.mark.parametrize(
    ("board", "kerf", "field"),
    [
        (replace(OAK, thickness_mm=20.0), 3.0, "thickness_mm"),
        (replace(OAK, length_mm=float("nan")), 3.0, "length_mm"),
        (replace(OAK, width_mm=-1.0), 3.0, "width_mm"),
        (OAK, -0.1, "kerf_mm"),
        (OAK, 40.0, "kerf_mm"),
        (replace(OAK, grain_slope=0.8), 3.0, "grain_slope"),
        (replace(OAK, trim_left_mm=2000.0, trim_right_mm=400.0), 3.0, "trim_left_mm"),
        (replace(OAK, near_mm=180.0), 3.0, "near_mm"),
        (replace(OAK, defects=(Defect(2500.0, 10.0, 20.0, 20.0),)), 3.0, "at_mm"),
        (replace(OAK, defects=(Defect(20.0, 190.0, 20.0, 20.0),)), 3.0, "across_mm"),
        (replace(OAK, defects=(Defect(20.0, 10.0, -2.0, 20.0),)), 3.0, "length_mm"),
        (replace(OAK, defects=(Defect(20.0, 10.0, 2.0, 2.0, "one", 0.0),)), 3.0, "depth_mm"),
    ],
)
def test_what_cannot_be_is_refused_where_it_stands(board, kerf, field):
    with pytest.raises(OutOfRange) as caught:
        lay_out(board, BLANK, kerf)
    assert caught.value.field == field


def test_a_board_too_short_or_narrow_gives_nothing_and_is_no_error():
    assert lay_out(replace(OAK, length_mm=300.0), BLANK, 3.0).count == 0
    assert lay_out(replace(OAK, width_mm=20.0), BLANK, 3.0).count == 0


def test_knots_may_lie_over_one_another_and_over_the_edge():
    knots = (Defect(-5.0, -5.0, 40.0, 20.0), Defect(10.0, 5.0, 40.0, 20.0))
    joined = (Defect(-5.0, -5.0, 55.0, 20.0), Defect(10.0, 15.0, 40.0, 10.0))
    found = [lay_out(replace(OAK, defects=d), BLANK, 3.0).count for d in (knots, joined)]
    assert found[0] == found[1]


def test_a_thousand_knots_are_laid_out_and_three_thousand_refused():
    chance = np.random.default_rng(3)
    rows = chance.uniform([0, 0, 1, 1], [3990, 390, 9, 5], (3000, 4)).tolist()
    knots = tuple(Defect(*row) for row in rows)
    board = Board(4000.0, 400.0, 27.0, knots[:1000])
    assert 0 < lay_out(board, Blank(120.0, 15.0), 3.0).count < 31 * 22
    with pytest.raises(OutOfRange, match="3,000"):
        lay_out(replace(board, defects=knots), BLANK, 3.0)


def test_an_absurd_board_is_asked_about():
    assert doubts(OAK, 3.2) == ()
    assert doubts(Board(96.0, 8.0, 1.0), 3.2) == ("small",)
    assert doubts(Board(60960.0 / 4, 4572.0, 685.0), 3.2) == ("large",)
    assert doubts(Board(180.0, 2400.0, 27.0), 3.2) == ("small", "large", "turned")
    assert doubts(OAK, 0.0) == ("no_kerf",)
    assert doubts(OAK, 9.0) == ("wide_kerf",)
