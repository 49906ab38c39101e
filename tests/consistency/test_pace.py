from math import inf, nan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from benchside.consistency.pace import ahead, minutes_per_piece, practice
from benchside.errors import OutOfRange

MIN = 60.0


def test_pieces_turned_one_after_another_take_the_time_between_their_taps():
    # Piece 1: taps at 0 and 10 min; piece 2 mounted and done by 24; piece 3 by 36.
    taps = {1: [0, 10 * MIN], 2: [12 * MIN, 24 * MIN], 3: [25 * MIN, 36 * MIN]}
    assert minutes_per_piece(taps) == pytest.approx(12)  # 10, 14, 12


def test_dinner_is_not_turning():
    # 5 min, an hour away, 5 min more.
    assert minutes_per_piece({1: [0, 5 * MIN, 65 * MIN, 70 * MIN]}) == pytest.approx(10)


def test_just_twenty_minutes_is_still_work():
    assert minutes_per_piece({1: [0, 20 * MIN]}) == pytest.approx(20)
    assert minutes_per_piece({1: [0, 20 * MIN + 1]}) is None


def test_stage_by_stage_a_piece_is_not_charged_for_the_others():
    # Two pieces by turns, 3 min at each visit: 9 min on piece 2, 6 on piece 1 (its first tap
    # has nothing before it).
    taps = {1: [0, 6 * MIN, 12 * MIN], 2: [3 * MIN, 9 * MIN, 15 * MIN]}
    assert minutes_per_piece(taps, counted={1}) == pytest.approx(6)
    assert minutes_per_piece(taps, counted={2}) == pytest.approx(9)


def test_only_finished_pieces_count():
    taps = {1: [0, 14 * MIN], 2: [15 * MIN, 16 * MIN]}
    assert minutes_per_piece(taps, counted={1}) == pytest.approx(14)


def test_taps_that_arrive_out_of_order_are_put_in_order():
    assert minutes_per_piece({1: [10 * MIN, 0]}) == pytest.approx(10)


@pytest.mark.parametrize("taps", [{}, {1: []}, {1: [5.0]}, {1: [5.0, 5.0]}])
def test_before_anything_took_time_there_is_no_pace(taps):
    assert minutes_per_piece(taps) is None


@pytest.mark.parametrize("moment", [nan, inf, -inf])
def test_a_tap_without_a_time_is_refused(moment):
    with pytest.raises(OutOfRange):
        minutes_per_piece({1: [0.0, moment]})


@given(st.lists(st.floats(2, 60), min_size=3, max_size=20))
def test_practice_is_the_line_through_the_logarithms(minutes):
    found = practice(minutes)
    number = np.log(np.arange(1, len(minutes) + 1))
    reference = stats.linregress(number, np.log(minutes))
    assert found.slope == pytest.approx(reference.slope, abs=1e-9)
    assert found.first_minutes == pytest.approx(np.exp(reference.intercept))
    assert found.doubling_low <= found.doubling <= found.doubling_high


def test_each_doubling_takes_the_same_share_off():
    found = practice([20.0 * n ** np.log2(0.9) for n in range(1, 9)])
    assert found.doubling == pytest.approx(0.9)
    assert found.minutes_for(16) == pytest.approx(20 * 0.9**4)
    assert ahead(found, 8, 10).minutes == pytest.approx(
        found.minutes_for(9) + found.minutes_for(10)
    )


def test_one_piece_says_nothing_of_practice_and_two_nothing_of_how_surely():
    one, two = practice([12.0]), practice([12.0, 9.0])
    assert (one.doubling, one.doubling_low) == (1, None)
    assert ahead(one, 1, 4).minutes == pytest.approx(36)
    assert two.doubling == pytest.approx(0.75)
    assert two.doubling_low is None


def test_fewer_than_four_times_are_the_mean_for_each_piece_within_a_wide_range():
    found = practice([3.5, 0.5])
    left = ahead(found, 2, 5)
    assert (left.minutes, left.low, left.high) == pytest.approx((6, 3, 12))
    assert found.minutes_for(5) == pytest.approx(2)


def test_no_forecast_falls_below_a_share_of_what_a_piece_takes():
    steep = [40.0, 4.0, 1.5, 0.5]
    left = ahead(practice(steep), 4, 10)
    assert left.minutes >= left.low >= 6 * np.mean(steep) / 3 - 1e-6


def test_a_piece_whose_time_was_not_taken_still_counts_as_made():
    found = practice([20.0, nan, 20 * 3 ** np.log2(0.8), 20 * 4 ** np.log2(0.8)])
    assert found.n == 3
    assert found.doubling == pytest.approx(0.8)


def test_a_set_that_is_done_takes_no_more_time():
    left = ahead(practice([12.0, 10.0, 9.0]), 3, 3)
    assert (left.pieces, left.minutes, left.low, left.high) == (0, 0, 0, 0)


def test_four_wild_pieces_leave_the_forecast_open():
    left = ahead(practice([5.0, 90.0, 6.0, 80.0]), 4, 12)
    assert left.low < left.minutes < left.high
    assert left.high > 10 * left.minutes


def test_pieces_all_alike_are_forecast_alike():
    left = ahead(practice([10.0] * 5), 5, 8)
    assert left.minutes == pytest.approx(30)
    assert left.low == pytest.approx(30)


@pytest.mark.parametrize("minutes", [[], [nan], [0.0], [-1.0, 2.0], [inf, 2.0]])
def test_a_time_that_is_none_is_refused(minutes):
    with pytest.raises(OutOfRange):
        practice(minutes)


@pytest.mark.parametrize(("made", "wanted"), [(-1, 3), (4, 3), (1, 10_001)])
def test_pieces_to_come_come_after_those_made(made, wanted):
    found = practice([10.0, 9.0])
    with pytest.raises(OutOfRange):
        ahead(found, made, wanted)
    with pytest.raises(OutOfRange):
        found.minutes_for(0)
