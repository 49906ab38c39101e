import pytest
from hypothesis import given

from benchside.pattern import Pattern, Section, Station, places
from benchside.pattern.change import mirrored

from .spindles import patterns, spindle


def found(*stations, sections):
    ends = tuple(Station(f"s{i}", *s) for i, s in enumerate(stations, 1))
    return places(Pattern("p", ends, sections))


def test_the_places_of_a_spindle_come_in_order_from_the_datum_end():
    assert [p.id for p in places(spindle())] == [
        "s1",
        "s2",
        "crown:s2",
        "s3",
        "root:s3",
        "s4",
        "along:s4:1",
        "s5",
        "middle:s5",
        "s6",
        "middle:s6",
        "s7",
    ]


@given(patterns())
def test_every_place_lies_on_the_curve(pattern):
    at = [p.at_mm for p in places(pattern)]
    assert at == sorted(at)
    sizes = [p.diameter_mm for p in places(pattern)]
    # Where a half-round stands upright, a crumb along is the root of a crumb across.
    assert pattern.diameter_mm_at(at).tolist() == pytest.approx(sizes, abs=1e-4)
    assert len({p.id for p in places(pattern)}) == len(at)


@given(patterns())
def test_a_spindle_turned_end_for_end_is_read_at_as_many_places_of_the_same_kinds(pattern):
    there = [(p.role, p.kind) for p in places(pattern)]
    back = [(p.role, p.kind) for p in reversed(places(mirrored(pattern)))]
    assert back == there


def test_a_long_straight_is_read_at_three_places_or_more_at_most_150_mm_apart():
    long = found((0, 20, "a"), (480, 20, "b"), sections=(Section("straight"),))
    assert [p.at_mm for p in long] == [0, 120, 240, 360, 480]
    short = found((0, 20, "a"), (99, 20, "b"), sections=(Section("straight"),))
    assert len(short) == 2


def test_a_taper_is_read_at_its_middle_unless_it_is_short():
    tapers = found((0, 10, "a"), (100, 20, "b"), (120, 22, "c"), sections=(Section("taper"),) * 2)
    assert [(p.at_mm, p.diameter_mm) for p in tapers if p.role == "middle"] == [(50, 15)]


def test_a_crown_that_is_the_station_itself_is_not_read_twice():
    quarter = found((0, 10, "a"), (10, 30, "b"), sections=(Section("bead", 30),))
    assert [p.id for p in quarter] == ["s1", "s2"]


def test_the_body_above_a_tenon_is_not_held_to_the_tenons_tolerance():
    for stations in (
        ((0, 16, "tenon", "tenon", 0.1), (200, 22, "belly", "slender")),
        ((0, 22, "belly", "slender"), (200, 16, "tenon", "tenon", 0.1)),
    ):
        (_, middle, _) = found(*stations, sections=(Section("taper"),))
        assert (middle.kind, middle.tolerance_mm) == ("slender", None)


def test_a_long_tenon_up_to_its_shoulder_is_a_tenon_all_along():
    _, along, _ = found(
        (0, 22, "shoulder"), (120, 16, "tip", "tenon", 0.1), sections=(Section("shoulder"),)
    )
    assert (along.kind, along.tolerance_mm, along.diameter_mm) == ("tenon", 0.1, 16)


def test_the_place_of_beads_coves_and_shoulders_matters():
    assert [p.id for p in places(spindle()) if p.position_matters] == ["s2", "crown:s2", "root:s3"]
