from math import cos, inf, nan, radians

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchside.consistency.original import matched, nearness
from benchside.errors import OutOfRange


def test_one_original_read_once_is_as_sure_as_the_calipers():
    (found,) = matched([[[20.0]]], 0.05)
    assert (found.size_mm, found.originals, found.readings) == (20.0, 1, 1)
    assert found.uncertain_mm == pytest.approx(1.96 * 0.05, rel=1e-4)
    assert found.range_mm == 0
    assert found.oval_mm is None


def test_reading_again_makes_it_surer():
    (found,) = matched([[[20.0, 20.1, 19.9, 20.0]]], 0.05)
    # The middle of four scatters 1.092 times as much as their mean.
    assert found.uncertain_mm == pytest.approx(1.092 * 1.96 * 0.05 / 2, rel=1e-4)


@given(st.floats(0, 180))
def test_an_oval_has_one_size_wherever_the_first_axis_was_taken(angle):
    sizes = [20 + 0.4 * cos(radians(2 * (angle + turn))) for turn in (0, 90)]
    (found,) = matched([[sizes]], 0.05, axes=(0, 1))
    assert found.size_mm == pytest.approx(20)
    assert found.oval_mm <= 0.8 + 1e-9


def test_a_slip_among_several_readings_does_not_count():
    (found,) = matched([[[20.0, 25.0, 20.1, 20.2, 20.1]]], 0.05, axes=(0, 0, 0, 1, 1))
    assert found.size_mm == pytest.approx((20.1 + 20.15) / 2)


def test_a_worn_original_does_not_pull_the_middle():
    (found,) = matched([[[20.0]], [[20.1]], [[18.5]], [[20.2]], [[20.1]]], 0.05)
    assert found.size_mm == pytest.approx(20.1)
    assert found.range_mm == pytest.approx(1.7)


def test_originals_that_differ_leave_the_size_open():
    (alike,) = matched([[[20.0]], [[20.1]], [[20.0]]], 0.05)
    (unlike,) = matched([[[19.5]], [[20.0]], [[20.6]]], 0.05)
    assert unlike.uncertain_mm > 1 > alike.uncertain_mm


def test_originals_that_agree_are_no_surer_than_the_calipers():
    (found,) = matched([[[20.0]], [[20.0]], [[20.0]]], 0.05)
    assert found.uncertain_mm == pytest.approx(1.160 * 1.96 * 0.05 / 3**0.5, rel=1e-4)


def test_stations_not_read_are_not_known():
    first, second = matched([[[20.0, nan], [nan, nan]], [[nan, nan], [nan, nan]]], 0.05)
    assert (first.originals, first.readings) == (1, 1)
    assert second is None


@pytest.mark.parametrize(
    ("readings", "error", "axes"),
    [([[[inf]]], 0.05, None), ([[20.0]], 0.05, None), ([[[20.0]]], -1, None),
     ([[[20.0]]], nan, None), ([[[20.0]]], 0.05, (0, 1))],
)  # fmt: skip
def test_originals_that_cannot_be_read_are_refused(readings, error, axes):
    with pytest.raises(OutOfRange):
        matched(readings, error, axes)


def test_how_near_the_new_part_came():
    original = matched([[[20.0]] * 4 + [[nan]]], 0.05)
    near = nearness([20.05, 20.2, 20.6, 20.42, 20.0], original, 0.4, 0.05)
    assert [station.near for station in near] == [
        "as near as can be seen",
        "within",
        "off",
        "cannot tell",
        "not read",
    ]
    assert near[1].off_mm == pytest.approx(0.2)
    assert near[1].uncertain_mm == pytest.approx(1.96 * 0.05 * 2**0.5, rel=1e-4)


def test_a_station_of_the_new_part_not_read_is_told():
    original = matched([[[20.0], [15.0]]], 0.05)
    assert nearness([nan, 15.0], original, [0.4, 0.8], 0.05)[0].near == "not read"


@pytest.mark.parametrize(
    ("new", "tolerance", "error"),
    [([inf], 0.4, 0.05), ([20.0, 20.0], 0.4, 0.05), ([20.0], 0, 0.05), ([20.0], 0.4, nan)],
)
def test_a_new_part_that_cannot_be_judged_is_refused(new, tolerance, error):
    original = matched(np.full((1, 1, 1), 20.0), 0.05)
    with pytest.raises(OutOfRange):
        nearness(new, original, tolerance, error)
