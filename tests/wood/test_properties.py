"""What is listed of a species, at a moisture."""

from __future__ import annotations

import pytest

from benchside.wood import properties
from benchside.wood.species import OWN, Species, find, own_species


def test_white_ash_is_as_strong_as_the_handbook_works_out() -> None:
    # 66 MPa green, 103 MPa at 12 %, intersection 24 %: 119 MPa at 8 %
    # [@wood-handbook-2021, the example to eq. 5-3].
    rupture = properties.at(find("white ash"), 8.0).rupture_mpa
    assert rupture.value == pytest.approx(119, abs=0.6)
    assert (rupture.holds, rupture.source.seen) == ("here", "reprint")


@pytest.mark.parametrize("name", ["white ash", "sugar maple", "black cherry"])
def test_green_and_at_twelve_percent_it_is_as_listed(name: str) -> None:
    species = find(name)
    green, dry = properties.at(species, 60.0), properties.at(species, 12.0)
    assert green.modulus_gpa.value == pytest.approx(species.modulus_green_gpa)
    assert dry.modulus_gpa.value == pytest.approx(species.modulus_12_gpa)
    assert green.rupture_mpa.value == pytest.approx(species.rupture_green_mpa)
    assert dry.rupture_mpa.value == pytest.approx(species.rupture_12_mpa)
    # Green, all its water stands on the green volume [@wood-handbook-2021, eq. 4-14].
    assert green.density_kg_m3.value == pytest.approx(1600 * species.gravity_green)
    # At 12 % the table lists the gravity of its own [@wood-handbook-2021, Table 5-3], to 0.01.
    assert dry.density_kg_m3.value == pytest.approx(1120 * species.gravity_12, abs=25)


def test_a_single_figure_stands_as_it_is_listed_at_any_moisture() -> None:
    dry = properties.at(find("European ash"), 40.0)
    assert (dry.modulus_gpa.value, dry.modulus_gpa.holds) == (13.4, "dry")
    assert dry.density_kg_m3 is None
    green = properties.at(find("tanoak"), 8.0)
    assert (green.modulus_gpa.value, green.modulus_gpa.holds) == (10.7, "green")


def test_of_a_makers_own_species_only_what_the_maker_said_is_known() -> None:
    said: Species = own_species("Mill ash", 5.2, 9.9, gravity_green=0.5)
    found = properties.at(said, 50.0)
    assert (found.modulus_gpa, found.rupture_mpa) == (None, None)
    assert found.density_kg_m3.value == pytest.approx(750)
    assert found.density_kg_m3.source == OWN
