from math import inf, isnan, nan

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchside.consistency.spread import end_to_end, spread, stands_out
from benchside.errors import OutOfRange

sizes = st.lists(st.floats(5.0, 80.0), min_size=2, max_size=40)


def test_one_spindle_has_no_spread():
    found = spread([15.9])
    assert (found.n, found.mean_mm, found.range_mm) == (1, 15.9, 0.0)
    assert found.sd_mm is found.sd_low_mm is found.sd_high_mm is None


def test_a_place_not_measured_is_left_out():
    assert spread([15.9, nan, 16.1]) == spread([15.9, 16.1])


def test_equal_spindles_have_no_spread_at_all():
    found = spread([12.7, 12.7, 12.7])
    assert (found.sd_mm, found.sd_low_mm, found.sd_high_mm, found.range_mm) == (0, 0, 0, 0)


@pytest.mark.parametrize("values", [[], [nan, nan], [15.9, inf]])
def test_nothing_measured_and_endless_figures_are_refused(values):
    with pytest.raises(OutOfRange):
        spread(values)


@given(sizes)
@settings(deadline=None)
def test_the_limits_hold_the_standard_deviation_between_them(values):
    found = spread(values)
    assert found.sd_low_mm <= found.sd_mm <= found.sd_high_mm
    assert min(values) - 1e-9 <= found.mean_mm <= max(values) + 1e-9
    # Popoviciu's inequality, with the divisor n - 1 at its worst for two values.
    assert found.sd_mm <= found.range_mm / 2**0.5 + 1e-9


@given(sizes, st.floats(-100, 100))
@settings(deadline=None)
def test_a_set_that_is_thicker_throughout_is_as_much_alike(values, more):
    shifted = spread([v + more for v in values])
    assert shifted.sd_mm == pytest.approx(spread(values).sd_mm, abs=1e-9)


def test_the_one_fat_spindle_of_five_stands_out():
    assert stands_out([15.9, 16.0, 15.8, 16.6, 15.9], 0.4) == (3,)


def test_a_set_that_is_fat_throughout_has_none_that_stands_out():
    assert stands_out([17.0, 17.1, 16.9, 17.2], 0.4) == ()


def test_just_the_tolerance_away_does_not_stand_out():
    # 17.3 - 16.9 comes out above 0.4 in binary.
    assert stands_out([16.9, 16.9, 17.3], 0.4) == ()
    assert stands_out([16.9, 16.9, 17.31], 0.4) == (2,)


def test_pieces_not_measured_keep_their_place_in_the_count():
    assert stands_out([nan, 15.9, 15.9, nan, 14.9], 0.4) == (4,)


def test_of_two_pieces_neither_is_the_odd_one():
    assert stands_out([15.0, 17.0], 0.4) == ()


@pytest.mark.parametrize("tolerance", [0.0, -0.4, nan])
def test_standing_out_needs_a_tolerance(tolerance):
    with pytest.raises(OutOfRange):
        stands_out([15.9, 16.0, 16.1], tolerance)


def test_a_straight_that_thickens_toward_the_drive_shows_by_how_much():
    found = end_to_end([0, 100, 200], [12.0, 12.1, 12.2])
    assert found.n == 3
    assert found.range_mm == pytest.approx(0.2)
    assert found.slope == pytest.approx(0.001)
    assert found.change_mm == pytest.approx(0.2)


def test_a_hollow_straight_shows_in_its_range_not_its_slope():
    found = end_to_end([0, 100, 200], [12.0, 11.5, 12.0])
    assert found.range_mm == pytest.approx(0.5)
    assert found.change_mm == pytest.approx(0.0, abs=1e-12)


def test_a_place_not_read_along_a_straight_is_left_out():
    assert end_to_end([0, 100, 200], [12.0, nan, 12.2]) == end_to_end([0, 200], [12.0, 12.2])
    assert not isnan(end_to_end([0, 100, 200], [12.0, nan, 12.2]).slope)


@pytest.mark.parametrize(
    ("at", "values"),
    [([], []), ([0], [12.0]), ([0, 100], [12.0, nan]), ([5, 5], [12.0, 12.1]), ([0, 1], [12.0]),
     ([0, 100], [12.0, inf])],
)  # fmt: skip
def test_one_place_says_nothing_about_end_to_end(at, values):
    with pytest.raises(OutOfRange):
        end_to_end(at, values)
