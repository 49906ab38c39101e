"""The size of a hole from its readings."""

import pytest

from benchside.errors import OutOfRange
from benchside.joint.hole import bore, strange


def test_each_way_across_counts_alike_however_often_it_was_read():
    found = bore([16.0, 16.2, 16.1], [16.3])
    assert (found.size_mm, found.oval_mm, found.readings) == (
        pytest.approx(16.2),
        pytest.approx(0.2),
        4,
    )


def test_one_way_alone_says_nothing_of_an_oval():
    assert bore([], [16.1]).oval_mm is None
    assert bore([], []) is None


@pytest.mark.parametrize("mm", [0.0, -1.0, float("nan"), float("inf")])
def test_what_is_no_size_is_refused(mm):
    with pytest.raises(OutOfRange):
        bore([mm], [])


def test_a_spade_bit_that_cuts_over_its_name_is_nothing_strange():
    five_eighths = 15.875
    assert not strange(five_eighths + 0.254, five_eighths)  # 0.010 in: common practice, no source
    assert not strange(five_eighths - 0.2, five_eighths)  # a hole that closed a little
    assert strange(five_eighths + 1.6, five_eighths)
    assert strange(14.0, five_eighths)
