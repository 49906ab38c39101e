from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchside.consistency.odd import odd_ones, other_unit
from benchside.errors import OutOfRange
from tests.consistency.samples import scattered


def test_the_odd_spindle_is_named_by_its_place():
    values = [16.0, nan, 16.1, 15.9, 16.0, 17.5, 16.1, 15.9, 16.0]
    assert odd_ones(values).at == (5,)


def test_two_odd_ones_do_not_hide_each_other():
    values = [*scattered(1, 10, sd=0.1).tolist(), 2.0, 2.1]
    assert set(odd_ones(values).at) == {10, 11}


def test_a_set_that_scatters_evenly_has_no_odd_one():
    assert odd_ones([15.8, 15.9, 16.0, 16.1, 16.2]).at == ()


def test_half_a_set_cannot_be_odd():
    assert odd_ones([0.0, 0.01, -0.01, 0.0, 0.02, 1.0, 1.01, 0.99, 1.0, 1.02]).at == ()


def test_equal_pieces_and_fewer_than_three_have_no_odd_one():
    for values in ([], [1.0], [1.0, 9.0], [12.7] * 9, [nan] * 5, [0.1 + 0.2, 0.3, 0.3, 0.3]):
        assert odd_ones(values).at == ()


def test_one_step_of_the_calipers_is_not_odd():
    values = [12.7] * 8 + [12.8]
    assert odd_ones(values).at == (8,)
    assert odd_ones(values, least_mm=0.1).at == ()


def test_three_pieces_can_show_an_odd_one_only_if_the_others_are_very_near():
    assert odd_ones([1.0, 1.1, 3.0]).at == ()
    assert odd_ones([1.0, 1.0001, 3.0]).at == (2,)


@given(st.lists(st.floats(-2, 2), min_size=3, max_size=15), st.floats(-9, 9))
def test_who_is_odd_does_not_hang_on_where_the_set_lies(values, by):
    values = [round(v, 2) for v in values]
    assert odd_ones(values).at == odd_ones([round(v + round(by, 2), 2) for v in values]).at


@pytest.mark.parametrize(
    ("values", "significance"), [([1.0, 2.0, inf], 0.05), ([1.0], 0), ([1.0], 1)]
)
def test_endless_figures_are_refused(values, significance):
    with pytest.raises(OutOfRange):
        odd_ones(values, significance=significance)


@pytest.mark.parametrize(
    ("value", "expected", "unit"),
    [
        (12.7 * 25.4, 12.7, "mm"),  # 12.7 typed in an inch set for half an inch
        (0.5, 12.7, "in"),  # 0.5 typed in a millimetre set
        (0.625, 15.9, "in"),
        (12.0, 12.7, None),
        (25.4, 12.7, None),
    ],
)
def test_a_figure_in_the_other_unit_is_asked_about(value, expected, unit):
    assert other_unit(value, expected) == unit


@pytest.mark.parametrize("value", [0.0, -1.0, nan, inf])
def test_what_is_no_length_has_no_unit(value):
    with pytest.raises(OutOfRange):
        other_unit(value, 12.7)
