"""Volumes and lengths of the curve against closed forms, and against independent quadrature.

The closed forms are those of any engineer's handbook (cylinder, frustum of a cone, zone of a
sphere) and Pappus's theorem, from memory; quadrature is QUADPACK's by way of scipy.
"""

from math import asin, hypot, pi, sqrt

import pytest
from hypothesis import given, settings
from scipy.integrate import quad

from benchside.pattern import Pattern, Section, Station
from benchside.pattern.change import mirrored
from benchside.pattern.profile import outline_mm, volume_mm3
from tests.pattern.spindles import patterns, spindle


def one(form, length_mm, start_mm, end_mm, through_mm=None):
    return Pattern(
        "one",
        (Station("a", 0, start_mm, "a"), Station("b", length_mm, end_mm, "b")),
        (Section(form, through_mm),),
    )


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
    assert outline_mm(tenon) == 25 + 3


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


def test_the_volume_hardly_jumps_where_the_formula_for_flat_arcs_takes_over():
    # At an arc of half-chord r / 4: rise s with r = (c^2 + s^2) / 2 s and c = r / 4.
    length = 100
    radius = length / 2 * 4
    rise = radius - sqrt(radius**2 - (length / 2) ** 2)
    below, above = (
        volume_mm3(one("bead", length, 20, 20, 20 + 2 * rise * (1 + e))) for e in (-1e-9, 1e-9)
    )
    assert above == pytest.approx(below, rel=1e-8)
    assert above > below


@settings(max_examples=40)
@given(patterns())
def test_the_volume_is_that_of_independent_quadrature(pattern):
    total = 0.0
    for a, b in zip(pattern.stations, pattern.stations[1:], strict=False):
        length = b.at_mm - a.at_mm

        def area(share, start=a.at_mm, length=length):
            # share runs so that the upright ends of half-rounds are no singularity
            x = start + length * share**2 * (3 - 2 * share)
            speed = length * 6 * share * (1 - share)
            return pi / 4 * float(pattern.diameter_mm_at(min(x, pattern.length_mm))) ** 2 * speed

        total += quad(area, 0, 1, epsabs=1e-9, epsrel=1e-10, limit=200)[0]
    assert volume_mm3(pattern) == pytest.approx(total, rel=1e-6)


@given(patterns())
def test_turning_a_spindle_end_for_end_takes_no_wood_away(pattern):
    # Positions are decimals; turned about, a length may differ in its last binary digit, which a
    # very flat arc enlarges.
    assert volume_mm3(mirrored(pattern)) == pytest.approx(volume_mm3(pattern), rel=1e-6)
    assert outline_mm(mirrored(pattern)) == pytest.approx(outline_mm(pattern), rel=1e-6)


def test_the_whole_is_the_sum_of_its_sections():
    whole = spindle()
    parts = [
        Pattern(
            "part",
            (
                Station("a", 0, a.diameter_mm, "a"),
                Station("b", b.at_mm - a.at_mm, b.diameter_mm, "b"),
            ),
            (section,),
        )
        for a, b, section in zip(whole.stations, whole.stations[1:], whole.sections, strict=False)
    ]
    assert volume_mm3(whole) == pytest.approx(sum(map(volume_mm3, parts)), rel=1e-12)
