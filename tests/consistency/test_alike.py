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


def mixed(pieces, apart_mm=1.5, places=6, seed=1):
    """Every other piece from another set, off at each place one way or the other."""
    rng = np.random.default_rng(seed)
    sides = rng.choice([-1.0, 1.0], places)
    return (
        rng.normal(0, 0.1, (pieces, places)) + apart_mm * (np.arange(pieces) % 2)[:, None] * sides
    )


@pytest.mark.parametrize("pieces", [5, 9, 20])
def test_two_sets_mixed_are_seen_whichever_way_they_differ_at_each_place(pieces):
    found = alike.two_lots(mixed(pieces), np.full(6, 0.4))
    assert {found.fewer, found.more} == {tuple(range(0, pieces, 2)), tuple(range(1, pieces, 2))}
    assert len(found.fewer) <= len(found.more)
    assert (found.columns, found.told) == (tuple(range(6)), 6)


def test_a_place_at_which_two_patterns_agree_does_not_hide_the_rest():
    off = mixed(9)
    off[:, :3] = 0.0
    assert alike.two_lots(off, np.full(6, 0.4)).columns == (3, 4, 5)
    off[:, 3] = 0.0
    assert alike.two_lots(off, np.full(6, 0.4)) is None


def test_missing_stations_do_not_hide_them():
    off = mixed(9)
    off[0, 1] = off[3, 2] = off[8] = NAN
    found = alike.two_lots(off, np.full(6, 0.4))
    assert {found.fewer, found.more} == {(0, 2, 4, 6), (1, 3, 5, 7)}
    assert found.columns == tuple(range(6))


@pytest.mark.parametrize(
    "off",
    [
        np.zeros((0, 4)),
        np.zeros((9, 0)),
        np.zeros((1, 4)),
        np.zeros((9, 4)),
        np.full((9, 4), NAN),
        mixed(4),  # two and two are too few to say so
        mixed(9, apart_mm=0.3),  # within the tolerance of one another
        np.vstack([np.zeros((8, 4)), np.full((1, 4), 3.0)]),  # one odd piece
        np.vstack([np.zeros((5, 4)), [[3.0, 0, 0, 0]] * 4]),  # one caliper set anew
        np.arange(9.0)[:, None] * np.ones(4),  # creeping everywhere
    ],
)
def test_what_is_no_two_sets_is_not_asked_about(off):
    assert alike.two_lots(off, np.full(off.shape[1], 0.4)) is None
