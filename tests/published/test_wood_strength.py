"""Strength and weight at any moisture, against printed figures."""

import numpy as np
import pytest

from benchside.wood.species import all_species, find
from benchside.wood.strength import at_moisture, density_kg_m3, gravity_at, hankinson

# [@wood-handbook-2021, Table 5-13]; all other species 25.
INTERSECTION = {
    "white ash": 24,
    "yellow birch": 27,
    "American chestnut": 24,
    "Douglas-fir, coast": 24,
    "western hemlock": 28,
    "western larch": 28,
    "loblolly pine": 21,
    "longleaf pine": 21,
    "red pine": 24,
    "redwood, old-growth": 21,
    "red spruce": 27,
    "Sitka spruce": 27,
    "tamarack": 24,
    "white oak": 25,
    "sugar maple": 25,
}


@pytest.mark.parametrize("name", INTERSECTION)
def test_the_table_of_intersections(name):
    assert find(name).intersection_percent == INTERSECTION[name]


def test_the_equation_passes_its_own_two_points():
    # [@wood-handbook-2021, eq. 5-3]: at 12 % the value there, at Mp the green one, and above it.
    assert at_moisture(66.0, 103.0, 12.0, 24.0) == pytest.approx(103.0)
    assert at_moisture(66.0, 103.0, 24.0, 24.0) == pytest.approx(66.0)
    assert at_moisture(66.0, 103.0, 80.0, 24.0) == pytest.approx(66.0)


def test_about_four_percent_of_bending_strength_for_one_of_moisture():
    # A wartime report of the same laboratory: 4 % of bending strength and 2 % of stiffness for 1 %
    # of moisture, over all species; white ash by the equation lies within half a percent of that.
    ash = find("white ash")
    for green, dry, change in (
        (ash.rupture_green_mpa, ash.rupture_12_mpa, 4.0),
        (ash.modulus_green_gpa, ash.modulus_12_gpa, 2.0),
    ):
        drier = at_moisture(green, dry, 11.0, 24.0) / dry - 1
        assert 100 * drier == pytest.approx(change, abs=0.5)


# [@wood-handbook-2021, Table 4-6a]: gravity on the volume at that moisture, kg/m³.
@pytest.mark.parametrize(
    ("gravity_there", "mc", "density"), [(0.60, 12.0, 672.0), (0.40, 100.0, 800.0)]
)
def test_weight_of_a_cubic_metre(gravity_there, mc, density):
    # The table is entered with the gravity on the volume at that moisture: undo eq. 4-13 first.
    green = gravity_there / (1 + 0.265 * gravity_there * max(0.0, 1 - mc / 30))
    assert gravity_at(green, mc) == pytest.approx(gravity_there)
    assert density_kg_m3(green, mc) == pytest.approx(density, abs=0.5)


def test_white_ash_from_green_to_12_percent():
    # [@wood-handbook-2021]: 0.55 green, 0.605 and 678 kg/m³ at 12 %. The equation gives 0.603 and
    # 675; the printed figure looks read off a chart.
    assert gravity_at(0.55, 12.0) == pytest.approx(0.605, abs=0.01)
    assert density_kg_m3(0.55, 12.0) == pytest.approx(678, abs=10)


def shrunk_percent(total, mc):
    """Shrinkage from green to ``mc``, percent."""
    return total * max(0.0, 1 - mc / 30)


@pytest.mark.parametrize("basic", [0.35, 0.50, 0.60, 0.72])
@pytest.mark.parametrize("mc", [0.0, 6.0, 12.0, 20.0, 30.0, 60.0])
def test_gravity_is_what_the_handbook_s_other_equations_make_of_it(basic, mc):
    # [@wood-handbook-2021, eq. 4-11 and 4-12]: G = Gb / (1 - S / 100), S from S0 = 26.5 Gb, the
    # whole shrinkage of the volume (13.25 % of 0.50).
    total = 26.5 * basic
    assert gravity_at(basic, mc) == pytest.approx(basic / (1 - shrunk_percent(total, mc) / 100))
    # [@wood-handbook-2021, eq. 4-10]: from one moisture to another by the two shrinkages.
    kept, kept_at_12 = (100 - shrunk_percent(total, m) for m in (mc, 12.0))
    assert gravity_at(basic, 12.0) == pytest.approx(gravity_at(basic, mc) * kept / kept_at_12)
    # [@wood-handbook-2021, eq. 4-15 and 4-16]: the same from the density bone-dry, in kg/m3.
    bone_dry = density_kg_m3(basic, 0.0)
    total_again = 26.5 * bone_dry / (1000 + 0.265 * bone_dry)
    assert total_again == pytest.approx(total)
    shrunk = 100 - shrunk_percent(total_again, mc)
    ours = density_kg_m3(basic, mc)
    assert ours == pytest.approx(bone_dry * (1 + mc / 100) * (100 - total_again) / shrunk)


@pytest.mark.parametrize("basic", [0.50, 0.35, 0.60, 0.90])
def test_wood_sinks_when_a_cubic_metre_weighs_a_tonne(basic):
    # [@wood-handbook-2021, ch. 4]: at 100 (1 - Gb) / Gb percent; 0.50 sinks at 100 %.
    sinks_at = 100 * (1 - basic) / basic
    if sinks_at > 30:  # below, the volume is no longer the green one
        assert density_kg_m3(basic, sinks_at) == pytest.approx(1000.0)
    else:
        assert density_kg_m3(basic, 30.0) > 1000.0


def test_spruce_from_12_to_10_percent_is_as_much_stronger_as_the_old_rule_says():
    # A wartime report of the same laboratory, read: crushing strength along the grain changes by
    # 6 % for each percent of moisture, from 5610 psi at 12 % for Sitka spruce; its answer at 10 %
    # is not legible, 12 % more is 6283. Green 2670 psi and Mp = 27 (the handbook's, from memory)
    # by eq. 5-3: 1.5 % under that.
    spruce = find("Sitka spruce")
    ours = at_moisture(2670.0, 5610.0, 10.0, spruce.intersection_percent)
    assert ours == pytest.approx(5610 * 1.12, rel=0.02)


# [@tm-5-852-4, Table 2-2, read]: of all species together, from the gravity G on the volume at that
# moisture, psi for the bending strength and for the stiffness.
BY_GRAVITY = [
    ("rupture_green_mpa", "gravity_green", lambda g: 17_600 * g**1.25, 1000.0),
    ("rupture_12_mpa", "gravity_12", lambda g: 25_700 * g**1.25, 1000.0),
    ("modulus_green_gpa", "gravity_green", lambda g: 2_360_000 * g, 1e6),
    ("modulus_12_gpa", "gravity_12", lambda g: 2_800_000 * g, 1e6),
]


@pytest.mark.parametrize(("figure", "gravity", "printed_psi", "psi"), BY_GRAVITY)
def test_hardwoods_are_as_strong_as_their_gravity_lets_expect(figure, gravity, printed_psi, psi):
    share = []
    for species in all_species():
        value, weighs = getattr(species, figure), getattr(species, gravity)
        if species.group == "hardwood" and value is not None and weighs is not None:
            share.append(value / (printed_psi(weighs) / psi * 6.894757))
    assert len(share) > 60
    # Largest deviation of the middle 6.2 %; nine in ten of single species lie within 27 %.
    assert np.median(share) == pytest.approx(1.0, abs=0.065)
    assert np.quantile(np.abs(np.array(share) - 1.0), 0.9) < 0.28


# Bending strength of wood whose grain slopes, percent of straight-grained: the handbook's table as
# remembered, not looked up.
SLOPES = [(25, 96), (20, 93), (15, 89), (10, 81), (5, 55)]


@pytest.mark.parametrize(("one_in", "percent"), SLOPES)
def test_sloping_grain_by_hankinson_comes_near_the_remembered_table(one_in, percent):
    # n = 1.75 and 7 % across the grain come nearest; 0.81 of 100 is the largest deviation.
    angle = float(np.degrees(np.arctan(1 / one_in)))
    assert hankinson(100.0, 7.0, angle, 1.75) == pytest.approx(percent, abs=0.85)
