from math import inf, nan

import pytest

from benchside.consistency.pace import minutes_per_piece
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
