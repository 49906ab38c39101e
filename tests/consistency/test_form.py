from math import inf, nan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchside.consistency.form import evenness, ovality
from benchside.consistency.spread import end_to_end
from benchside.errors import OutOfRange

AT = [0.0, 50.0, 100.0, 150.0, 200.0]


@pytest.mark.parametrize(
    ("sizes", "shape"),
    [
        ([12.0, 12.02, 11.99, 12.01, 12.0], "even"),
        ([12.0, 12.1, 12.2, 12.3, 12.4], "taper"),
        ([12.0, 12.3, 12.4, 12.3, 12.0], "barrel"),
        ([12.0, 11.7, 11.6, 11.7, 12.0], "waist"),
        ([12.0, 12.4, 12.0, 12.4, 12.0], "uneven"),
    ],
)
def test_a_straight_is_called_by_its_form(sizes, shape):
    assert evenness(AT, sizes, 0.03).shape == shape


def test_line_and_curve_come_out_as_they_were_put_in():
    x = np.array(AT) / 200
    found = evenness(AT, (12 + 0.3 * x + 0.5 * 4 * x * (1 - x)).tolist(), 0.01)
    assert found.taper_mm == pytest.approx(0.3)
    assert found.belly_mm == pytest.approx(0.5)
    assert found.rest_mm == pytest.approx(0, abs=1e-9)
    assert found.range_mm == end_to_end(AT, 12 + 0.3 * x + 2 * x * (1 - x)).range_mm


def test_the_same_difference_is_none_with_poorer_calipers():
    sizes = [12.0, 12.03, 12.06, 12.09, 12.12]
    assert evenness(AT, sizes, 0.01).shape == "taper"
    assert evenness(AT, sizes, 0.2).shape == "even"


def test_two_places_show_a_taper_and_three_a_belly():
    two = evenness([0, 200], [12.0, 12.5], 0.03)
    assert (two.shape, two.belly_mm, two.rest_mm) == ("taper", None, 0)
    three = evenness([0, 100, nan, 200], [12.0, 12.5, 9.0, 12.0], 0.03)
    assert (three.n, three.shape, three.rest_mm) == (3, "barrel", 0)
    assert three.belly_mm == pytest.approx(0.5)


def test_a_straight_read_exactly_alike_is_even():
    assert evenness(AT, [12.7] * 5, 0.0).shape == "even"


def test_a_place_read_twice_adds_no_curve():
    assert evenness([0, 0, 200, 200], [12.0, 12.1, 12.5, 12.4], 0.03).belly_mm is None


@given(st.lists(st.floats(10, 14), min_size=5, max_size=5), st.floats(-2, 2))
def test_a_thicker_straight_has_the_same_form(sizes, more):
    here, there = (evenness(AT, s, 0.03) for s in (sizes, [size + more for size in sizes]))
    assert there.taper_mm == pytest.approx(here.taper_mm, abs=1e-9)
    assert there.belly_mm == pytest.approx(here.belly_mm, abs=1e-9)
    assert there.rest_mm == pytest.approx(here.rest_mm, abs=1e-9)


@pytest.mark.parametrize(
    ("at", "sizes", "error"),
    [([0], [12.0], 0.03), ([0, 1], [12.0, nan], 0.03), ([0, 1], [12.0, inf], 0.03),
     ([0, 1], [12.0, 12.1], -1), ([0, 1], [12.0, 12.1], nan)],
)  # fmt: skip
def test_one_place_has_no_form(at, sizes, error):
    with pytest.raises(OutOfRange):
        evenness(at, sizes, error)


def test_an_oval_shows_in_two_readings_a_quarter_turn_apart():
    found = ovality(20.4, 20.0, 0.03)
    assert found.oval
    assert found.apart_mm == pytest.approx(0.4)
    assert found.out_of_round_mm == pytest.approx(0.2)
    assert found.mean_mm == pytest.approx(20.2)


def test_what_calipers_cannot_tell_is_not_called_oval():
    assert not ovality(20.05, 20.0, 0.03).oval
    assert not ovality(20.0, 20.0, 0.0).oval


@pytest.mark.parametrize(("a", "b"), [(nan, 20.0), (20.0, inf), (0.0, 20.0), (20.0, -1.0)])
def test_roundness_needs_two_sizes(a, b):
    with pytest.raises(OutOfRange):
        ovality(a, b, 0.03)
