from math import inf, nan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchside.consistency.enough import coming, these
from benchside.consistency.spread import spread, tolerance_factor
from benchside.errors import OutOfRange
from tests.consistency.samples import scattered

sizes = st.lists(st.floats(-1, 1).map(lambda mm: round(mm, 2)), min_size=2, max_size=12)


def test_pieces_within_the_tolerance_of_their_middle_are_shown_to_be_alike():
    found = these([16.3, 16.2, nan, 16.4, 16.3], 0.4, 0.03)
    assert (found.n, found.answer) == (4, "shown")
    assert found.range_mm == pytest.approx(0.2)
    assert found.middle_mm == pytest.approx(16.3)
    assert found.give_or_take_mm == pytest.approx(3.633 * 0.03, rel=1e-3)  # of four errors


def test_the_one_that_is_too_far_is_named():
    found = these([16.0, 16.1, 15.0, 16.0], 0.4, 0.03)
    assert (found.farthest, found.answer) == (2, "not shown")
    assert found.farthest_mm == pytest.approx(-1.0)


def test_nearer_to_the_limit_than_the_calipers_can_tell_is_not_told():
    assert these([16.0, 16.0, 16.0, 16.42], 0.4, 0.03).answer == "cannot tell"
    assert these([16.0, 16.0, 16.0, 16.38], 0.4, 0.03).answer == "cannot tell"
    assert these([16.0, 16.0, 16.0, 16.4], 0.4).answer == "shown"


def test_tenons_are_judged_by_their_hole():
    assert these([0.15, 0.15, 0.15], 0.1, to_the_target=True).answer == "not shown"
    assert these([0.15, 0.15, 0.15], 0.1).answer == "shown"


def test_one_piece_is_alike_to_itself_and_says_nothing_of_the_next():
    assert these([16.0], 0.4).answer == "shown"
    found = coming([16.0], 0.4)
    assert (found.answer, found.more, found.low_mm) == ("cannot tell", None, None)


def test_a_set_far_inside_the_tolerance_is_shown_to_be_enough():
    found = coming(scattered(1, 9, sd=0.05), 0.4)
    assert (found.answer, found.more) == ("shown", 0)
    assert found.low_mm < found.mean_mm < found.high_mm
    assert found.reach_mm <= 0.4


def test_a_set_far_outside_the_tolerance_is_shown_not_to_be():
    assert coming(scattered(1, 9, sd=1.0), 0.4).answer == "not shown"
    far_off = [0.5, 0.52, 0.48, 0.51, 0.5, 0.49]
    assert coming(far_off, 0.4, to_the_target=True).answer == "not shown"
    assert coming(far_off, 0.4).answer == "shown"


def test_how_many_more_would_tell_is_what_it_takes_if_they_go_on_alike():
    values = scattered(3, 5)
    values *= 0.12 / np.std(values, ddof=1)
    found = coming(values, 0.4)
    assert found.answer == "cannot tell"
    sd = spread(values).sd_mm
    enough = next(n for n in range(5, 400) if tolerance_factor(n) * sd <= 0.4)
    assert found.more == enough - 5


def test_on_the_very_edge_no_number_would_tell():
    values = [-0.204, 0.204] * 3  # s = 0.2235: 1.96 s is 0.438
    assert coming(values, 1.96 * spread(values).sd_mm).more is None


def test_equal_pieces_are_enough_as_far_as_their_step_goes():
    assert coming([12.7] * 4, 0.4, 0.1).answer == "shown"
    assert coming([12.7] * 2, 0.4, 0.1).answer == "cannot tell"
    assert coming([12.7] * 4, 0.1, 0.1).answer == "cannot tell"


def test_two_sets_mixed_are_not_enough():
    assert coming([0.0, 1.0] * 5, 0.4).answer == "not shown"


@given(sizes, st.floats(0.05, 2))
@settings(max_examples=30)
def test_a_wider_tolerance_is_never_less_shown(values, tolerance):
    ladder = ["not shown", "cannot tell", "shown"]
    for target in (False, True):
        narrow = coming(values, tolerance, 0.01, to_the_target=target)
        wide = coming(values, 2 * tolerance, 0.01, to_the_target=target)
        assert ladder.index(narrow.answer) <= ladder.index(wide.answer)


@pytest.mark.parametrize("judge", [these, coming])
@pytest.mark.parametrize(
    ("values", "tolerance"),
    [([], 0.4), ([nan], 0.4), ([1.0, inf], 0.4), ([1.0, 2.0], 0), ([1.0, 2.0], nan)],
)
def test_nothing_can_be_asked_of_nothing(judge, values, tolerance):
    with pytest.raises(OutOfRange):
        judge(values, tolerance)


@pytest.mark.parametrize("judge", [these, coming])
def test_an_error_below_nothing_is_refused(judge):
    with pytest.raises(OutOfRange):
        judge([1.0, 2.0], 0.4, -0.1)
