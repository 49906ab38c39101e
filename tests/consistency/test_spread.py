from math import inf, isnan, nan

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from benchside.consistency.spread import (
    OfReading,
    end_to_end,
    of_reading,
    pooled_sd_mm,
    prediction_factor,
    repeatability,
    spread,
    tolerance_factor,
)
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


def test_no_spread_is_called_smaller_than_the_step_allows():
    found = spread([12.7, 12.7, 12.7], step_mm=0.1)
    assert found.floored
    assert found.sd_mm == pytest.approx(0.1 / 12**0.5)
    assert found.sd_low_mm == 0  # it may be nothing at all
    assert found.sd_high_mm > found.sd_mm


def test_a_spread_that_is_wider_than_the_step_is_left_as_it_is():
    assert spread([12.0, 12.5, 13.0], step_mm=0.1) == spread([12.0, 12.5, 13.0])


def test_readings_one_step_apart_may_have_been_alike():
    found = spread([12.7, 12.8, 12.7, 12.8], step_mm=0.1)
    assert not found.floored
    assert found.sd_low_mm == pytest.approx(0, abs=1e-9)
    assert found.sd_high_mm > spread([12.7, 12.8, 12.7, 12.8]).sd_high_mm


@pytest.mark.parametrize("step", [-0.1, nan, inf])
def test_a_step_that_is_none_is_refused(step):
    with pytest.raises(OutOfRange):
        spread([12.0, 12.5], step)


def test_the_repeat_test_tells_the_calipers_from_the_places():
    # Three places, three times each: 0.1 either way at every one; the places 1 mm apart.
    found = repeatability([[9.9, 10.0, 10.1], [10.9, 11.0, 11.1], [11.9, 12.0, 12.1]])
    assert (found.places, found.readings, found.degrees) == (3, 9, 6)
    assert found.sd_mm == pytest.approx(0.1)
    # Variance between: (MSB - MSW) / 3 with MSB = 3 x 1.
    assert found.between_sd_mm == pytest.approx(((3 - 0.01) / 3) ** 0.5)
    assert found.apart_mm == pytest.approx(1.96 * 2**0.5 * 0.1, rel=1e-4)
    assert found.sd_low_mm < 0.1 < found.sd_high_mm


def test_calipers_that_always_say_the_same_are_no_better_than_their_step():
    found = repeatability([[10.0] * 3, [11.0] * 3, [12.0] * 3], step_mm=0.05)
    assert found.floored
    assert found.sd_mm == pytest.approx(0.05 / 12**0.5)
    assert (found.sd_low_mm, found.f) == (0, None)
    assert repeatability([[10.0, 10.0]]).sd_mm == 0


def test_places_that_differ_less_than_the_calipers_do_not_differ():
    assert repeatability([[10.0, 10.4], [10.4, 10.0]]).between_sd_mm == 0


def test_one_place_read_again_and_again_is_enough_for_the_calipers():
    found = repeatability([10.0, 10.1, 10.2])
    assert found.sd_mm == pytest.approx(0.1)
    assert found.between_sd_mm is found.total_sd_mm is found.f is None


def test_a_reading_that_was_left_out_of_the_repeat_test_is_left_out():
    gap = repeatability([[10.0, 10.1, nan], [11.0, 11.2, 11.1], [nan, nan, nan]])
    assert (gap.places, gap.readings, gap.degrees) == (2, 5, 3)


@pytest.mark.parametrize("readings", [[], [[10.0]], [[10.0], [11.0]], [[10.0, inf]], [[nan, nan]]])
def test_a_place_read_once_says_nothing_of_the_calipers(readings):
    with pytest.raises(OutOfRange):
        repeatability(readings)


@pytest.mark.parametrize("n", [1, 0, -3, 2.5])
def test_a_tolerance_factor_needs_two_pieces(n):
    with pytest.raises(OutOfRange):
        tolerance_factor(n)


@pytest.mark.parametrize("share", [0.0, 1.0, nan])
def test_a_share_of_all_or_none_is_no_coverage(share):
    with pytest.raises(OutOfRange):
        tolerance_factor(5, share)


@given(st.integers(2, 60), st.floats(0.5, 0.99), st.floats(0.5, 0.99))
@settings(max_examples=30)
def test_more_pieces_never_need_wider_limits(n, coverage, confidence):
    assert tolerance_factor(n + 1, coverage, confidence) < tolerance_factor(n, coverage, confidence)


def test_with_very_many_pieces_the_limits_are_those_of_the_normal_curve():
    assert tolerance_factor(100_000) == pytest.approx(norm.ppf(0.975), abs=0.01)
    assert prediction_factor(100_000) == pytest.approx(norm.ppf(0.975), abs=0.001)


def test_the_next_pieces_need_two_to_go_by():
    with pytest.raises(OutOfRange):
        prediction_factor(1)
    assert prediction_factor(2) == pytest.approx(12.7062 * 1.5**0.5, rel=1e-5)


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


def test_an_error_known_from_the_step_alone_is_the_least_share_and_has_no_limits():
    assert of_reading(0.2, 8, 0.1) == OfReading(0.25, None, None)
    assert of_reading(0.1, 8, 0.3).share == 1.0


@pytest.mark.parametrize(
    ("sd", "degrees", "error"),
    [(0.0, 8, 0.1), (nan, 8, 0.1), (0.2, 0, 0.1), (0.2, 8, -0.1), (0.2, 8, inf)],
)
def test_a_share_needs_a_spread_and_an_error(sd, degrees, error):
    with pytest.raises(OutOfRange):
        of_reading(sd, degrees, error)


def test_places_pooled_count_by_their_degrees_and_none_without_one():
    assert pooled_sd_mm([0.3, 0.4], [1, 1]) == pytest.approx((0.125) ** 0.5)
    assert pooled_sd_mm([0.3, 0.4], [3, 0]) == pytest.approx(0.3)
    assert pooled_sd_mm([], []) is None
