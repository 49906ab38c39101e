"""What cannot be is said plainly; what holds must hold."""

from math import inf, nan

import numpy as np
import pytest

from benchside.errors import OutOfRange
from benchside.lathe.stiffness import (
    Support,
    Work,
    best_steady,
    critical_rpm,
    deflection_mm,
    frequencies_hz,
    give_mm,
    pinned,
)

PIECE = Work([0, 35, 35, 165, 236, 380, 520], [16, 16, 18, 25, 17, 13, 12.7], 12, 650)
ENDS = pinned(PIECE)


@pytest.mark.parametrize(
    ("x", "diameter", "modulus", "density"),
    [
        ([0, 100], [20, nan], 11, 700),
        ([0, 100], [20, 0], 11, 700),
        ([0, 100], [20, -1], 11, 700),
        ([100, 0], [20, 20], 11, 700),
        ([0], [20], 11, 700),
        ([0, 50, 50, 50, 100], [20, 18, 17, 16, 15], 11, 700),
        ([0, 0, 100], [20, 18, 18], 11, 700),
        ([0, 100], [20, 20, 20], 11, 700),
        ([0, 100], [20, 20], 0, 700),
        ([0, 100], [20, 20], 11, inf),
    ],
)
def test_what_is_no_piece_is_refused(x, diameter, modulus, density):
    with pytest.raises(OutOfRange):
        Work(x, diameter, modulus, density)


@pytest.mark.parametrize(
    "supports",
    [
        (),
        (Support(0),),
        (Support(0), Support(0)),
        (Support(0), Support(521)),
        (Support(-1), Support(520)),
        (Support(0, 0.0), Support(520)),
    ],
)
def test_what_does_not_hold_is_refused(supports):
    with pytest.raises(OutOfRange) as caught:
        deflection_mm(PIECE, 5, 260, supports)
    assert caught.value.field == "supports"
    with pytest.raises(OutOfRange):
        frequencies_hz(PIECE, supports)


def test_a_force_a_place_and_a_stiffness_that_cannot_be():
    for force, at in ((nan, 260), (-1, 260), (5, 521), (5, nan), (5, [10, 900, 20])):
        with pytest.raises(OutOfRange):
            deflection_mm(PIECE, force, at, ENDS)
    for stiffness in (0, -1, nan):
        with pytest.raises(OutOfRange):
            best_steady(PIECE, stiffness_n_per_mm=stiffness)
    for cut in ((100, 521), [[10, 20], [30, nan]], []):
        with pytest.raises(OutOfRange):
            best_steady(PIECE, cut_mm=cut)
    for modes in (0, 13):
        with pytest.raises(OutOfRange):
            frequencies_hz(PIECE, ENDS, modes)
    with pytest.raises(OutOfRange):
        Support(nan)
    with pytest.raises(OutOfRange):
        Support(10, -1)


def test_thinner_means_livelier_and_a_steady_helps_everywhere():
    thick = Work(PIECE.x_mm, PIECE.diameter_mm + 3, 12, 650)
    assert np.all(give_mm(PIECE, 5)[1:-1] > give_mm(thick, 5)[1:-1])
    held = (*ENDS, Support(best_steady(PIECE)))
    at = np.linspace(1, 519, 40)
    assert np.all(deflection_mm(PIECE, 5, at, held) <= deflection_mm(PIECE, 5, at, ENDS) + 1e-12)
    assert critical_rpm(PIECE, held) > 2 * critical_rpm(PIECE, ENDS)


def test_turned_end_for_end_nothing_changes():
    back = Work(520 - PIECE.x_mm[::-1], PIECE.diameter_mm[::-1], 12, 650)
    assert give_mm(back, 5) == pytest.approx(give_mm(PIECE, 5)[::-1], abs=1e-12)
    assert critical_rpm(back, ENDS) == pytest.approx(critical_rpm(PIECE, ENDS), rel=1e-6)
    assert best_steady(back) == pytest.approx(520 - best_steady(PIECE), abs=0.1)


def test_a_steady_stands_where_it_may():
    free = best_steady(PIECE)
    assert best_steady(PIECE, stand_mm=(0, 200)) == pytest.approx(200, abs=0.05)
    assert best_steady(PIECE, stand_mm=[[0, 100], [150, 520]]) == pytest.approx(free, abs=0.1)
    assert best_steady(PIECE, cut_mm=[300.0, 310.0, 320.0]) == pytest.approx(310, abs=3)
