"""Bending in use against worked figures."""

from math import pi

import numpy as np
import pytest

from benchside.errors import OutOfRange
from benchside.lathe.in_use import neck, strength_mpa, stress_mpa, thin_share, weak_neck
from tests.lathe.samples import BACK, DOWEL, D, T, pattern


def test_a_round_neck_in_bending():
    # 333.6 N (75 lbf) at 400 mm on a neck of 25 mm: 32 M / (pi d^3) = 86.989 N/mm2 (flexure
    # formula, any strength-of-materials text).
    assert stress_mpa(333.6 * 400, 25.0) == pytest.approx(86.989, rel=1e-4)


def test_a_plain_rod_bends_most_under_a_load_at_its_middle():
    # M = P L / 4 (simple beam, centre load).
    found = neck(DOWEL, 100.0)
    assert found.at_mm == pytest.approx(150.0, abs=1.0)
    assert found.moment_nmm == pytest.approx(100 * 300 / 4, rel=1e-3)
    assert found.stress_mpa == pytest.approx(32 * 7500 / (pi * 25**3), rel=1e-3)
    # and at a third: M = P a b / L, under the load
    third = neck(DOWEL, 90.0, 100.0)
    assert third.moment_nmm == pytest.approx(90 * 100 * 200 / 300, rel=1e-2)


def test_the_neck_is_found_by_trying_every_load_and_every_place():
    low, high = 25.0, 400.0  # between the tenons, the last shoulder cut at the tenon's size
    found = neck(BACK, 60.0)
    worst = 0.0
    for load in np.linspace(low + 1, high - 21, 80):
        for x in np.linspace(low + 1, high - 21, 80):
            moment = 60 * min((x - low) * (380 - load), (load - low) * (380 - x)) / (380 - low)
            worst = max(worst, 32 * moment / (pi * float(BACK.diameter_mm_at(x)) ** 3))
    assert found.stress_mpa == pytest.approx(worst, rel=5e-3)


@pytest.mark.parametrize(
    ("run", "share"), [(25, 0.96), (20, 0.93), (15, 0.89), (10, 0.81), (5, 0.55)]
)
def test_sloping_grain_leaves_what_the_handbook_says(run, share):
    # [@wood-handbook-2021, Table 5-12], bending strength by slope of grain, from memory.
    assert strength_mpa(100.0, run) / 100 == pytest.approx(share, abs=0.0125)
    assert strength_mpa(100.0) == pytest.approx(100.0)


def test_what_cannot_be_is_refused():
    for load, at in ((0.0, None), (float("nan"), None), (50.0, 0.0), (50.0, 500.0)):
        with pytest.raises(OutOfRange):
            neck(BACK, load, at)
    with pytest.raises(OutOfRange):
        stress_mpa(-1.0, 20.0)
    with pytest.raises(OutOfRange):
        strength_mpa(100.0, 0.0)


def test_how_thin_the_thinnest_place_is_beside_the_thickest():
    # the middle of the taper up to the waist, (9.5 + 14) / 2, beside the bulb's 20
    assert thin_share(BACK) == pytest.approx(11.75 / 20)
    peg = pattern(("a", 0, 12.0, T, "straight"), ("b", 90, 12.0, T))
    assert thin_share(peg) == 1.0
    waist = pattern(("a", 0, 40.0, D, "taper"), ("b", 200, 10.0, D, "taper"), ("c", 400, 40.0, D))
    assert thin_share(waist) == 0.25
    # spoken of under a third (judgement)
    assert (weak_neck(BACK), weak_neck(peg), weak_neck(waist)) == (None, None, 0.25)
