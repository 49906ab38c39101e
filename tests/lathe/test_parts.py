import pytest

from benchside.lathe.parts import (
    high_places,
    slenderness,
    tenon_sections,
    tenon_span_mm,
    thin_sections,
)
from tests.lathe.samples import BACK, BALUSTER, STRETCHER, D, T, pattern


def cylinder(length, diameter):
    return pattern(("a", 0, float(diameter), D, "straight"), ("b", length, float(diameter), D))


def names(places):
    return [p.id for p in places]


def test_both_ends_of_a_straight_that_stands_high_are_high():
    assert names(high_places(BALUSTER))[:2] == ["block", "block-top"]


def test_a_shoulder_beside_a_tenon_is_high_and_the_tenon_is_not():
    short = pattern(
        ("pin", 0, 16.0, T, "shoulder"), ("ledge", 20, 30.0, D, "taper"), ("end", 200, 24.0, D)
    )
    assert names(high_places(short)) == ["ledge"]


def test_a_taper_down_from_a_fat_tenon_still_has_its_high_place():
    fat = pattern(
        ("in", 0, 40.0, T, "taper"), ("upper", 60, 30.0, D, "taper"), ("end", 200, 20.0, D)
    )
    assert names(high_places(fat)) == ["upper"]


def test_the_edges_of_a_cove_are_high_when_all_falls_away_from_them():
    coved = pattern(
        ("a", 0, 20.0, D, "taper"),
        ("b", 60, 30.0, D, "cove", 24.0),
        ("c", 80, 30.0, D, "taper"),
        ("d", 140, 22.0, D),
    )
    assert names(high_places(coved)) == ["b", "c"]


def test_a_bead_is_high_at_its_crown():
    assert "crown:throat" in names(high_places(BALUSTER))
    assert "throat" not in names(high_places(BALUSTER))


def test_the_ledge_round_a_tenon_belongs_to_it():
    assert tenon_sections(STRETCHER) == {0, 1, 4, 5}
    assert tenon_sections(BACK) == {0, 4, 5}


def test_both_necks_of_a_stretcher_are_thin():
    assert thin_sections(STRETCHER) == {2, 3}


@pytest.mark.parametrize(
    ("length", "diameter", "ratio", "band"),
    # Trouble starts past 11 diameters, about 1 in at 12 in (common practice, no source); the
    # other limits are our judgement.
    [
        (279.4, 25.4, 11.0, "stiff"),
        (304.8, 25.4, 12.0, "note"),
        (499.0, 25.0, 19.96, "note"),
        (500.0, 25.0, 20.0, "hand"),
        (1000.0, 25.0, 40.0, "hand"),
        (1001.0, 25.0, 40.04, "steady"),
    ],
)
def test_length_over_thickness_names_the_help_it_wants(length, diameter, ratio, band):
    found = slenderness(cylinder(length, diameter))
    assert found.ratio == pytest.approx(ratio)
    assert found.band == band


def test_the_tenons_do_not_make_a_stout_leg_slender():
    found = slenderness(STRETCHER)
    assert (found.least_mm, found.length_mm) == (19.0, 440)


def test_a_tenon_runs_from_its_tip_to_where_its_shoulder_begins_whichever_station_is_asked():
    for station in ("bottom", "ledge"):
        assert tenon_span_mm(BALUSTER, station) == (0, 22)  # with the shoulder at its own size
    for station in ("pin", "pin-end"):
        assert tenon_span_mm(BALUSTER, station) == (500, 545)
    assert tenon_span_mm(BALUSTER, "vase") == (112, 112)  # no tenon: no length
