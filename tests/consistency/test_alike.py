"""Which pieces go together: laws and edges. The rules are our own judgement."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchside.consistency import alike

NAN = float("nan")
sizes = st.lists(st.floats(-2, 2).map(lambda mm: round(mm, 2)), min_size=3, max_size=12)


def stand_out(values, limit_mm=0.4):
    """The rows that stand out at one station of a set that is judged against its own middle."""
    off = np.array(values, dtype=float)[:, None]
    middle = alike.middles_mm(off, np.array([False]))
    shares = alike.apart(off, middle, np.array([limit_mm]))
    return [i for i, share in enumerate(shares[:, 0]) if share > 1 + 1e-9]


def test_the_one_fat_spindle_of_five_stands_out():
    assert stand_out([15.9, 16.0, 15.8, 16.6, 15.9]) == [3]


def test_a_set_that_is_fat_throughout_has_none_that_stands_out():
    assert stand_out([17.0, 17.1, 16.9, 17.2]) == []


def test_just_the_tolerance_away_does_not_stand_out():
    # 17.3 - 16.9 comes out above 0.4 in binary.
    assert stand_out([16.9, 16.9, 17.3]) == []
    assert stand_out([16.9, 16.9, 17.31]) == [2]


def test_pieces_not_measured_keep_their_place_in_the_count():
    assert stand_out([NAN, 15.9, 15.9, NAN, 14.9]) == [4]


@given(sizes, st.floats(-5, 5))
def test_a_set_that_is_full_throughout_is_just_as_alike(values, all_mm):
    def fits(off):
        middle = alike.middles_mm(off, np.array([False]))
        return alike.apart(off, middle, np.array([0.4]))

    off = np.array(values)[:, None]
    assert fits(off + all_mm) == pytest.approx(fits(off), abs=1e-6)


def test_a_tenon_is_judged_by_its_size_for_it_has_a_hole_to_fit():
    off = np.full((5, 2), 0.3)
    middle = alike.middles_mm(off, np.array([True, False]))
    assert middle.tolist() == [0.0, 0.3]


def test_two_pieces_have_no_middle_of_their_own():
    off = np.array([[0.9, 0.9], [0.9, 0.9], [NAN, 0.9]])
    assert alike.middles_mm(off, np.array([False, False])).tolist() == [0.0, 0.9]


def test_a_piece_read_nowhere_goes_with_no_other():
    shares = np.array([[NAN, NAN], [0.2, NAN], [0.2, 1.2]])
    assert alike.go_together(shares).tolist() == [False, True, False]


def test_nothing_read_at_all_is_no_fault():
    off = np.empty((0, 3))
    assert alike.middles_mm(off, np.zeros(3, dtype=bool)).tolist() == [0, 0, 0]
