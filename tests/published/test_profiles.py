"""What the curve encloses, and its length, against closed forms.

The closed forms are those of any engineer's handbook (cylinder, frustum of a cone, zone of a
sphere) and Pappus's theorem, from memory. The curve is summed by quadrature, QUADPACK's by way of
scipy, and by chords.
"""

from itertools import pairwise
from math import asin, hypot, pi, sqrt

import numpy as np
import pytest
from hypothesis import given
from scipy.integrate import quad

from benchside.pattern import Pattern, Section, Station
from benchside.pattern.change import mirrored
from tests.pattern.spindles import patterns


def one(form, length_mm, start_mm, end_mm, through_mm=None):
    return Pattern(
        "one",
        (Station("a", 0, start_mm, "a"), Station("b", length_mm, end_mm, "b")),
        (Section(form, through_mm),),
    )


def volume_mm3(pattern):
    """The wood under the curve. [mm3]"""
    total = 0.0
    for a, b in pairwise(pattern.stations):

        def slice_mm3(share, start=a.at_mm, length=b.at_mm - a.at_mm):
            # share runs so that the upright ends of half-rounds are no singularity
            x = min(start + length * share**2 * (3 - 2 * share), pattern.length_mm)
            speed = length * 6 * share * (1 - share)
            return pi / 4 * float(pattern.diameter_mm_at(x)) ** 2 * speed

        total += quad(slice_mm3, 0, 1, epsabs=1e-9, epsrel=1e-12, limit=200)[0]
    return total


def outline_mm(pattern):
    """The length of the curve along one side, jumps at shoulders included, by short chords. [mm]"""
    share = np.linspace(0, 1, 20_001)
    along = share**2 * (3 - 2 * share)
    total = 0.0
    for a, b in pairwise(pattern.stations):
        # The ends to the last digit, or the jump of a shoulder is not met.
        x = np.r_[a.at_mm, a.at_mm + (b.at_mm - a.at_mm) * along[1:-1], b.at_mm]
        radius = pattern.diameter_mm_at(x) / 2
        total += float(np.hypot(np.diff(x), np.diff(radius)).sum())
    return total


def test_a_straight_is_a_cylinder():
    dowel = one("straight", 400, 16, 16)
    assert volume_mm3(dowel) == pytest.approx(pi * 8**2 * 400, rel=1e-14)
    assert outline_mm(dowel) == 400


def test_a_taper_is_a_frustum_of_a_cone():
    leg = one("taper", 300, 20, 40)
    assert volume_mm3(leg) == pytest.approx(pi * 300 / 3 * (10**2 + 10 * 20 + 20**2), rel=1e-14)
    assert outline_mm(leg) == pytest.approx(hypot(300, 10), rel=1e-15)  # its slant height


def test_a_shoulder_is_a_cylinder_of_the_smaller_size_and_a_ring():
    tenon = one("shoulder", 25, 16, 22)
    assert volume_mm3(tenon) == pytest.approx(pi * 8**2 * 25, rel=1e-14)
    assert outline_mm(tenon) == pytest.approx(25 + 3)


@pytest.mark.parametrize(("radius", "low", "high"), [(30, -20, 20), (30, -29, 5), (40, -10, 25)])
def test_a_bead_centred_on_the_axis_is_a_zone_of_a_sphere(radius, low, high):
    # V = pi h / 6 (3 a^2 + 3 b^2 + h^2), a and b the radii of the zone's two faces, h its height.
    a, b, height = sqrt(radius**2 - low**2), sqrt(radius**2 - high**2), high - low
    ball = one("bead", height, 2 * a, 2 * b, 2 * radius)
    zone = pi * height / 6 * (3 * a**2 + 3 * b**2 + height**2)
    assert volume_mm3(ball) == pytest.approx(zone, rel=1e-12)
    assert outline_mm(ball) == pytest.approx(radius * (asin(high / radius) - asin(low / radius)))


def test_a_half_round_bead_is_what_pappus_says():
    # Half a disc of radius r has area pi r^2 / 2 and its centroid 4 r / (3 pi) from its edge.
    edge, r = 11, 6
    bead = one("bead", 2 * r, 2 * edge, 2 * edge, 2 * (edge + r))
    ring = 2 * pi * (edge + 4 * r / (3 * pi)) * pi * r**2 / 2
    assert volume_mm3(bead) == pytest.approx(pi * edge**2 * 2 * r + ring, rel=1e-12)
    assert outline_mm(bead) == pytest.approx(pi * r)


def test_a_half_round_cove_is_what_pappus_says():
    edge, r = 15, 6
    cove = one("cove", 2 * r, 2 * edge, 2 * edge, 2 * (edge - r))
    ring = 2 * pi * (edge - 4 * r / (3 * pi)) * pi * r**2 / 2
    assert volume_mm3(cove) == pytest.approx(pi * edge**2 * 2 * r - ring, rel=1e-12)
    assert outline_mm(cove) == pytest.approx(pi * r)


def test_a_hair_of_swell_adds_two_thirds_of_its_height():
    # A very flat arc is a parabola: its mean height is 2/3 of the sagitta (Archimedes).
    swell = one("bead", 1000, 20, 20, 20.0001)
    added = volume_mm3(swell) - pi * 10**2 * 1000
    assert added == pytest.approx(2 * pi * 10 * 2 / 3 * 0.00005 * 1000, rel=1e-4)


@given(patterns())
def test_turning_a_spindle_end_for_end_takes_no_wood_away(pattern):
    # Positions are decimals; turned about, a length may differ in its last binary digit, which a
    # very flat arc enlarges.
    assert volume_mm3(mirrored(pattern)) == pytest.approx(volume_mm3(pattern), rel=1e-6)
    assert outline_mm(mirrored(pattern)) == pytest.approx(outline_mm(pattern), rel=1e-6)
