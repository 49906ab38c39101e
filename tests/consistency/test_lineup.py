from math import inf, isnan, nan

import numpy as np
import pytest

from benchside.consistency.lineup import line_up
from benchside.errors import OutOfRange


def test_beads_at_one_height_line_up():
    found = line_up([[0.1, 0.0], [0.0, -0.1], [-0.1, 0.1]], 0.8)
    assert [line.lines_up for line in found.places] == [True, True]
    assert found.places[0].range_mm == pytest.approx(0.2)
    assert found.jumps == ()


def test_a_set_marked_off_one_rule_lines_up_wherever_the_rule_lay():
    found = line_up([[2.0], [2.1], [1.9]], 0.8)
    assert found.places[0].lines_up
    assert found.places[0].middle_mm == pytest.approx(2.0)


def test_the_bead_that_is_off_is_named_with_its_piece():
    found = line_up([[0.0, 0.0], [0.0, 1.5], [0.1, 0.0], [0.0, 0.1]], 0.8)
    off = found.places[1]
    assert (off.lines_up, off.farthest) == (False, 1)
    assert off.farthest_mm == pytest.approx(1.45)


def test_of_two_that_differ_the_one_off_the_drawn_place_is_named():
    (line,) = line_up([[0.0], [1.5]], 0.6).places
    assert (line.from_drawn, line.lines_up, line.farthest) == (True, False, 1)
    assert line.farthest_mm == pytest.approx(1.5)
    assert line_up([[0.0, 0.0], [1.5, 1.6]], 0.6).shifts_mm == pytest.approx((0, 1.55))
    (agreed,) = line_up([[2.0], [2.1]], 0.6).places
    assert (agreed.from_drawn, agreed.lines_up) == (False, True)


def test_neighbours_show_what_far_ones_hide():
    # Falling across the row by 0.5 a piece: fine side by side. Swapped, two neighbours are not.
    falling = [[0.0], [0.5], [1.0], [1.5]]
    assert line_up(falling, 0.8).jumps == ()
    jump = line_up(falling, 0.8, order=[0, 3, 1, 2]).jumps[0]
    assert (jump.left, jump.right, jump.column) == (0, 3, 0)
    assert jump.by_mm == pytest.approx(1.5)


def test_the_worst_jump_comes_first_by_its_own_limit():
    found = line_up([[0.0, 0.0], [1.0, 0.5]], [0.8, 0.1])
    assert [jump.column for jump in found.jumps] == [1, 0]


def test_a_piece_marked_from_another_datum_is_shifted_as_a_whole():
    off = np.zeros((4, 3))
    off[2] += 1.2
    assert line_up(off, 0.8).shifts_mm == (0, 0, pytest.approx(1.2), 0)


def test_places_and_pieces_not_read_are_left_out():
    found = line_up([[0.0, nan, nan], [0.1, 0.2, nan], [nan, nan, nan]], 0.8)
    assert [(line.column, line.n) for line in found.places] == [(0, 2), (1, 1)]
    assert isnan(found.shifts_mm[0])
    assert isnan(found.shifts_mm[2])
    assert line_up(np.full((3, 2), nan), 0.8).places == ()
    assert line_up(np.zeros((0, 2)), 0.8).places == ()


def test_one_piece_lines_up_with_itself():
    found = line_up([[0.3, 0.4]], 0.8)
    assert all(line.lines_up for line in found.places)
    assert found.jumps == ()


@pytest.mark.parametrize(
    ("off", "limit", "order"),
    [([[inf]], 0.8, None), ([0.0], 0.8, None), ([[0.0]], 0, None), ([[0.0]], nan, None),
     ([[0.0], [1.0]], 0.8, [0, 0]), ([[0.0], [1.0]], 0.8, [0, 2])],
)  # fmt: skip
def test_what_cannot_be_lined_up_is_refused(off, limit, order):
    with pytest.raises(OutOfRange):
        line_up(off, limit, order)
