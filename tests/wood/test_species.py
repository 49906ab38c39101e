"""Finding a species, and a species of the maker's own."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchside.errors import NotUnderstood, OutOfRange
from benchside.wood.species import (
    all_species,
    find,
    nearest,
    own_species,
    search,
    shrinkage,
    shrinkage_source,
)


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("white ash", "white ash"),
        ("White-Ash", "white ash"),
        ("  ASH,  white ", "white ash"),
        ("fraxinus AMERICANA", "white ash"),
        ("honey locust", "honeylocust"),
        ("Yellow Poplar", "yellow-poplar"),
        ("hard maple", "sugar maple"),
        ("red oak", "northern red oak"),
        ("Quercus robur", "European oak"),
        ("butternut", "butternut"),
        ("basswood", "American basswood"),
    ],
)
def test_a_name_is_found_however_it_is_written(typed, name):
    assert find(typed).common_name == name


def test_every_species_is_found_by_each_name_that_only_it_has():
    names = [name for species in all_species() for name in species.names]
    for species in all_species():
        assert find(species.id) is species
        assert find(species.common_name.upper()) is species
        for name in species.names:
            if names.count(name) == 1:
                assert find(name) is species


@pytest.mark.parametrize("typed", ["ash", "oak", "Maple"])
def test_a_word_that_many_have_is_asked_about(typed):
    with pytest.raises(NotUnderstood) as refused:
        find(typed)
    assert refused.value.field == "species"
    assert typed.lower() in refused.value.hint.lower()


@pytest.mark.parametrize(
    ("typed", "meant"), [("wite ash", "white ash"), ("shugar maple", "sugar maple")]
)
def test_an_unknown_name_is_answered_with_the_nearest(typed, meant):
    assert nearest(typed)[0] == meant
    with pytest.raises(NotUnderstood) as refused:
        find(typed)
    assert meant in refused.value.hint


@settings(max_examples=50)
@given(st.text(max_size=30))
def test_whatever_is_typed_is_a_species_or_a_question(typed):
    try:
        found = find(typed)
    except NotUnderstood:
        return
    assert found in all_species()


def test_what_is_begun_is_searched_and_the_maker_s_own_stand_first():
    mine = own_species("ash from the mill", 5.0, 9.0)
    found = search("ash", (mine,))
    assert found[0] is mine
    assert find("White ash") in found
    assert [species.common_name for species in search("whi ash")] == ["white ash"]
    assert search("zzz") == ()


def test_an_own_species_has_the_maker_s_figures_and_says_so():
    mine = own_species("White ash", 5.5, 9.9, green_percent=60.0)
    assert find("white ash", (mine,)) is mine
    assert shrinkage(mine) == (5.5, 9.9)
    assert shrinkage_source(mine).seen == "own"
    assert mine.green_sapwood_percent == 60.0


def test_under_a_listed_name_the_book_s_weight_and_strength_stay():
    mine, book = own_species("osage-ORANGE", 4.0, 6.0), find("Osage-orange")
    assert (shrinkage(mine), mine.source_of("tangential_percent").seen) == ((4.0, 6.0), "own")
    assert (mine.gravity_green, mine.green_heartwood_percent) == (
        book.gravity_green,
        book.green_heartwood_percent,
    )
    assert mine.gravity_green
    assert mine.source_of("gravity_green") == book.source_of("gravity_green")
    ash = own_species("white ash", 4.0, 6.0, green_percent=60.0)
    assert ash.modulus_12_gpa == find("white ash").modulus_12_gpa
    assert (ash.volumetric_percent, ash.source_of("volumetric_percent")) == (None, None)
    assert ash.source_of("green_sapwood_percent").seen == "own"
    assert own_species("mill ash", 4.0, 6.0).modulus_12_gpa is None


@pytest.mark.parametrize("figure", [0.0, -1.0, 31.0, float("nan"), float("inf")])
def test_an_own_species_with_a_figure_that_cannot_be_is_refused(figure):
    with pytest.raises(OutOfRange):
        own_species("mill ash", 5.0, figure)
    with pytest.raises(OutOfRange):
        own_species("mill ash", figure, 5.0)


@pytest.mark.parametrize("name", ["", "  ", "---", "a" * 61])
def test_an_own_species_needs_a_name(name):
    with pytest.raises(NotUnderstood):
        own_species(name, 5.0, 8.0)


def test_a_species_whose_shrinkage_is_not_known_is_said_so():
    with pytest.raises(NotUnderstood) as refused:
        shrinkage(find("osage orange"))
    assert "your own" in refused.value.hint


def test_shrinkage_along_the_rings_is_never_the_smaller():
    # True of every species in the handbook's tables [@wood-handbook-2010, Table 4-3].
    for species in all_species():
        if species.radial_percent is not None and species.tangential_percent is not None:
            assert 1 < species.radial_percent <= species.tangential_percent < 15
    assert shrinkage_source(find("white ash")).seen == "read"
    assert shrinkage_source(find("flowering dogwood")).seen == "memory"
