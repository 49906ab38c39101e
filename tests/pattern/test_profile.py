import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchside.errors import OutOfRange
from benchside.pattern import Pattern, Section, Station
from benchside.pattern.change import mirrored
from benchside.pattern.profile import arc_through, greatest_rise_mm, through_limits_mm

from .spindles import patterns, spindle

shares = st.lists(st.floats(0, 1), min_size=1, max_size=20)
ends_mm = st.floats(3, 100)


def one(form, length_mm, start_mm, end_mm, through_mm=None):
    return Pattern(
        "one",
        (Station("a", 0, start_mm, "a"), Station("b", length_mm, end_mm, "b")),
        (Section(form, through_mm),),
    )


@given(patterns())
def test_the_curve_is_exact_at_every_station(pattern):
    at = [s.at_mm for s in pattern.stations]
    assert pattern.diameter_mm_at(at).tolist() == [s.diameter_mm for s in pattern.stations]


@given(patterns())
def test_the_curve_is_exact_at_every_crown_and_root(pattern):
    for i, section in enumerate(pattern.sections):
        at_mm = pattern.extreme_at_mm(i)
        assert (at_mm is None) == (section.through_mm is None)
        if at_mm is not None:
            found = float(pattern.diameter_mm_at(min(at_mm, pattern.length_mm)))
            assert found == pytest.approx(section.through_mm, abs=1e-6)


@given(ends_mm, ends_mm, st.floats(1, 200), st.floats(1e-6, 1), st.booleans())
def test_a_bead_and_a_cove_are_circles_through_both_ends_and_the_extreme(a, b, length, share, bead):
    rise = greatest_rise_mm(length, a, b) * share
    if rise < 1e-9:
        return
    through = max(a, b) + rise if bead else min(a, b) - rise
    arc = arc_through(length, a, b, through)
    for x, diameter in ((0, a), (length, b), (arc.centre_mm, through)):
        from_centre = np.hypot(x - arc.centre_mm, diameter / 2 - arc.height_mm)
        assert from_centre == pytest.approx(arc.radius_mm, rel=1e-9, abs=1e-6)
    assert -1e-6 <= arc.centre_mm <= length + 1e-6


@given(st.floats(3, 100), st.floats(3, 100), st.floats(5, 200), st.floats(0.01, 1), shares)
def test_every_place_on_a_bead_lies_on_its_circle(a, b, length, share, where):
    rise = greatest_rise_mm(length, a, b) * share
    if rise < 1e-6:
        return
    bead = one("bead", length, a, b, max(a, b) + rise)
    arc = arc_through(length, a, b, max(a, b) + rise)
    x = np.array(where) * length
    height = bead.diameter_mm_at(x) / 2 - arc.height_mm
    assert np.hypot(x - arc.centre_mm, height) == pytest.approx(arc.radius_mm, rel=1e-6)


@given(patterns())
def test_nothing_is_thicker_than_the_crowns_or_thinner_than_the_roots(pattern):
    x = np.linspace(0, pattern.length_mm, 301)
    for i, section in enumerate(pattern.sections):
        start, end = pattern.stations[i], pattern.stations[i + 1]
        inside = pattern.diameter_mm_at(x[(x > start.at_mm) & (x < end.at_mm)])
        sizes = [start.diameter_mm, end.diameter_mm, section.through_mm or start.diameter_mm]
        assert np.all(inside <= max(sizes) + 1e-9)
        assert np.all(inside >= min(sizes) - 1e-9)


def test_straights_and_tapers_run_in_a_line():
    taper = one("taper", 100, 10, 20)
    assert taper.diameter_mm_at([0, 25, 50, 100]).tolist() == [10, 12.5, 15, 20]


def test_a_shoulder_runs_at_its_smaller_size_and_jumps_at_the_larger_station():
    for start, end in ((16, 22), (22, 16)):
        shoulder = one("shoulder", 25, start, end)
        assert shoulder.diameter_mm_at([0, 1e-9, 12, 25]).tolist() == [start, 16, 16, end]


def test_a_flat_bead_keeps_its_hair_of_swell():
    # One thousandth of a millimetre over a metre: the circle's radius is 250 km.
    flat = one("bead", 1000, 20, 20, 20.001)
    assert float(flat.diameter_mm_at(500)) == 20.001
    assert flat.diameter_mm_at(250) == pytest.approx(20.00075, abs=1e-9)


def test_a_whole_array_of_places_comes_back_in_its_shape():
    x = np.linspace(0, 440, 12).reshape(3, 4)
    assert spindle().diameter_mm_at(x).shape == (3, 4)
    assert spindle().diameter_mm_at(10).shape == ()


@pytest.mark.parametrize("x", [-0.001, 440.001, float("nan"), float("inf")])
def test_there_is_no_wood_past_the_ends(x):
    with pytest.raises(OutOfRange):
        spindle().diameter_mm_at([0, x])


@given(patterns(), shares)
def test_the_mirrored_spindle_has_the_mirrored_curve(pattern, where):
    x = np.array(where) * pattern.length_mm
    there = np.minimum(mirrored(pattern).length_mm, np.maximum(0, pattern.length_mm - x))
    stations = np.array([s.at_mm for s in pattern.stations])
    apart = np.abs(x[:, None] - stations).min(axis=1) > 1e-6  # not on the jump of a shoulder
    turned, straight = mirrored(pattern).diameter_mm_at(there), pattern.diameter_mm_at(x)
    # Where a half-round stands upright, a crumb along is the root of a crumb across.
    assert turned[apart] == pytest.approx(straight[apart], abs=1e-4)


def test_a_crown_lies_over_both_ends_and_a_root_under_them_as_far_as_half_a_circle_goes():
    # On a chord of 20 mm between ends of 20 mm: 10 mm of rise in radius at the most.
    assert through_limits_mm("bead", 20, 20, 20) == (20, 40)
    assert through_limits_mm("cove", 20, 30, 30) == (10, 30)
    assert through_limits_mm("bead", 20, 18, 22)[0] == 22
    assert through_limits_mm("cove", 20, 18, 22)[1] == 18
