from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchside.errors import NotFound, OutOfRange, PatternBroken
from benchside.pattern import Pattern, Section, Station, places
from benchside.pattern.change import (
    TenonChange,
    all_named,
    mirrored,
    possible_mm,
    revalued,
    scaled,
)

from .spindles import patterns, spindle


def leg(*, tip="tenon", shoulder="tenon"):
    """A leg with a tapered tenon at the far end: 15.9 mm at the tip, 28.6 mm at the mark."""
    return Pattern(
        "leg",
        (
            Station("foot", 0, 25, "foot"),
            Station("swell", 200, 50, "swell"),
            Station("mark", 390, 28.575, "shoulder mark", shoulder),
            Station("tip", 456.675, 15.875, "tip", tip),
        ),
        (Section("taper"), Section("taper"), Section("taper")),
    )


def positions(pattern):
    return [s.at_mm for s in pattern.stations]


def sizes(pattern):
    return [s.diameter_mm for s in pattern.stations]


def test_scaling_moves_stations_and_leaves_sizes_and_tenons():
    longer = scaled(spindle(), 815)  # twice as long between the tenons: 25 and 40 mm stay
    assert positions(longer.pattern) == [0, 25, 95, 135, 375, 775, 815]
    assert sizes(longer.pattern) == sizes(spindle())
    assert longer.pattern.sections == spindle().sections
    assert longer.warnings == ()


def test_a_bead_that_no_longer_fits_is_refused_with_its_row():
    with pytest.raises(PatternBroken) as refused:
        scaled(spindle(), 120)
    assert (refused.value.problems[0].row, refused.value.problems[0].field) == (2, "through_mm")


def test_tenons_scale_with_the_rest_when_asked():
    assert positions(scaled(spindle(), 880, tenon_lengths=True).pattern) == [
        0,
        50,
        120,
        160,
        400,
        800,
        880,
    ]


def test_sizes_scale_when_asked_and_the_tenons_that_change_are_told():
    half = scaled(spindle(), 220, diameters=True, tenon_lengths=True)
    assert sizes(half.pattern) == [7.95, 11, 11, 10.25, 10.25, 6.35, 4.75]
    assert [s.through_mm for s in half.pattern.sections] == [None, 15, 7, None, None, None]
    assert [(w.station_id, w.before_mm, w.after_mm) for w in half.warnings] == [
        ("s1", 15.9, 7.95),
        ("s7", 12.7, 7.95),
    ]


def test_a_tapered_tenon_made_shorter_comes_out_fatter_at_its_shoulder_mark():
    # The tenon rises 12.7 mm in 66.675 mm. At 3/4 of the length it rises as much in 50.006 mm, so
    # where the mark was, carried on, it is a third of 12.7 mm fatter.
    (warning,) = scaled(leg(), 456.675 * 0.75, tenon_lengths=True).warnings
    assert (warning.station_id, warning.name) == ("tip", "tip")
    assert warning.depth_mm == 66.675
    assert warning.before_mm == 28.575
    assert warning.change_mm == pytest.approx(12.7 / 3, abs=1e-4)


def test_a_tapered_tenon_made_longer_comes_out_thinner():
    (warning,) = scaled(leg(), 456.675 * 2, tenon_lengths=True).warnings
    assert warning.change_mm == pytest.approx(-12.7 / 2, abs=1e-4)


def test_a_tapered_tenon_that_keeps_its_length_stays_as_it_is():
    kept = scaled(leg(), 400)
    assert kept.warnings == ()
    assert kept.pattern.length_mm == 400
    assert kept.pattern.stations[-2].at_mm == 333.325


def test_a_stubby_taper_from_a_lone_tip_is_its_tenon():
    kept = scaled(leg(shoulder="decorative"), 400)
    assert kept.pattern.stations[-2].at_mm == 333.325
    assert kept.warnings == ()


def test_a_spindle_that_tapers_into_its_tenon_is_told_at_the_usual_depth():
    # 9.5 mm at the tip to 16 mm in 200 mm; the tenon goes 1.4 x 9.5 = 13.3 mm deep.
    windsor = Pattern(
        "windsor",
        (Station("tip", 0, 9.5, "tip", "tenon"), Station("bulb", 200, 16, "bulb", "slender")),
        (Section("taper"),),
    )
    (warning,) = scaled(windsor, 150).warnings
    assert warning == TenonChange("tip", "tip", 13.3, 9.93225, 10.076333)


@pytest.mark.parametrize("length_mm", [0, -5, float("nan"), float("inf")])
def test_a_length_that_is_none_is_refused(length_mm):
    with pytest.raises(OutOfRange):
        scaled(spindle(), length_mm)


def test_a_length_the_tenons_alone_fill_is_refused():
    with pytest.raises(OutOfRange, match="tenons alone are 65 mm"):
        scaled(spindle(), 65)


def test_a_rung_of_four_tenon_stations_keeps_both_its_tenons():
    rung = Pattern(
        "rung",
        tuple(Station(f"s{i}", at, 15.9, "", "tenon") for i, at in enumerate((0, 22, 400, 422), 1)),
        (Section("straight"),) * 3,
    )
    assert positions(scaled(rung, 500).pattern) == [0, 22, 478, 500]


@given(patterns(), st.floats(1, 3))
def test_scaling_reaches_the_length_and_keeps_the_order(pattern, factor):
    length_mm = round(pattern.length_mm * factor, 2) + 0.01
    if length_mm > 4000:
        return
    new = scaled(pattern, length_mm).pattern
    assert new.length_mm == length_mm
    assert sizes(new) == sizes(pattern)


@given(patterns())
def test_scaling_to_its_own_length_changes_nothing(pattern):
    assert scaled(pattern, pattern.length_mm) == scaled(pattern, pattern.length_mm, diameters=True)
    assert scaled(pattern, pattern.length_mm).pattern == pattern
    assert scaled(pattern, pattern.length_mm).warnings == ()


def test_turning_end_for_end_reverses_positions_and_sections():
    turned = mirrored(spindle())
    assert positions(turned) == [0, 40, 240, 360, 380, 415, 440]
    # The cove and the bead are called by the stations they start at, and keep being so.
    assert [s.id for s in turned.stations] == ["s7", "s6", "s5", "s3", "s2", "s4", "s1"]
    assert [s.form for s in turned.sections] == [
        "taper",
        "taper",
        "straight",
        "cove",
        "bead",
        "shoulder",
    ]
    assert turned.datum_end == spindle().datum_end


def test_a_bead_or_cove_keeps_its_name_and_mark_when_turned_end_for_end():
    here, there = (
        {p.id: (p.name, p.diameter_mm) for p in places(pattern) if p.role in ("crown", "root")}
        for pattern in (spindle(), mirrored(spindle()))
    )
    assert here == there


def test_a_station_beside_a_bead_keeps_its_name_where_it_is_turned_end_for_end():
    """The neck, where the cove ends and the taper begins, stays the neck: 14 thick."""
    back = Pattern(
        "back",
        (
            Station("s1", 0, 16, "foot"),
            Station("s2", 100, 15, "first bead"),
            Station("s3", 112, 15, "reel"),
            Station("s4", 126, 14, "neck", "slender"),
            Station("s5", 300, 12, "top"),
        ),
        (Section("taper"), Section("bead", 22), Section("cove", 11), Section("taper")),
    )
    turned = mirrored(back)
    assert [(s.name, s.diameter_mm) for s in turned.stations] == [
        ("top", 12),
        ("neck", 14),
        ("reel", 15),
        ("first bead", 15),
        ("foot", 16),
    ]
    assert [s.name for s in turned.sections] == ["", "reel", "first bead", ""]
    assert [p.name for p in places(turned) if p.role in ("crown", "root")] == ["reel", "first bead"]
    assert mirrored(turned) == back
    named = replace(
        back, sections=(*back.sections[:1], Section("bead", 22, "pearl"), *back.sections[2:])
    )
    assert [s.name for s in mirrored(named).sections] == ["", "reel", "pearl", ""]
    assert mirrored(mirrored(named)) == named


def test_the_ends_change_names_with_their_places():
    turned = mirrored(
        Pattern(
            "rung",
            (
                Station("a", 0, 16, "tail tenon", "tenon"),
                Station("b", 190, 19, "bead, tail side"),
                Station("c", 206, 19, "bead, drive side"),
                Station("d", 400, 16, "Drive end", "tenon"),
            ),
            (Section("taper"), Section("bead", 28), Section("taper")),
        )
    )
    assert [(s.id, s.name) for s in turned.stations] == [
        ("d", "Tail end"),
        ("b", "bead, tail side"),
        ("c", "bead, drive side"),
        ("a", "drive tenon"),
    ]


def test_turning_twice_gives_the_spindle_back():
    odd = Pattern(
        "odd",
        (Station("a", 0, 20, "a"), Station("b", 12.7, 20, "b"), Station("c", 500.1, 20, "c")),
        (Section("straight"),) * 2,
    )
    for pattern in (spindle(), leg(), odd):
        assert mirrored(mirrored(pattern)) == pattern


@given(patterns())
def test_turning_twice_gives_every_name_back(pattern):
    def names(pattern):
        return [s.name for s in (*pattern.stations, *pattern.sections)]

    assert names(mirrored(mirrored(pattern))) == names(all_named(pattern))


def test_a_bead_at_a_station_without_a_name_is_called_by_its_number_whichever_end_is_first():
    bare = spindle()
    stations = tuple(replace(s, name="" if s.id == "s2" else s.name) for s in bare.stations)
    bare = replace(bare, stations=stations)
    turned = mirrored(bare)
    crowns = [
        next(p.name for p in places(p) if p.role == "crown") for p in (turned, all_named(bare))
    ]
    assert crowns == ["station 2", "station 2"]
    assert mirrored(turned) == all_named(bare)


@pytest.mark.parametrize("longest_mm", [699.99, 700.0, 700.49])
@pytest.mark.parametrize("shortest_mm", [300.0, 300.01, 300.51])
@pytest.mark.parametrize("now_mm", [300.6, 450.0, 699.9])
def test_the_lengths_that_are_told_are_those_that_fit(now_mm, shortest_mm, longest_mm):
    def fits(length_mm):
        return shortest_mm <= length_mm <= longest_mm

    told = possible_mm(now_mm, 1.0, fits)
    assert told is not None
    assert all(map(fits, told))
    assert not any(map(fits, (told[0] - 1, told[1] + 1)))


def test_where_no_whole_length_fits_none_is_told():
    assert possible_mm(300.5, 1.0, lambda length_mm: 300.2 < length_mm < 300.7) is None


def test_the_first_good_piece_becomes_the_pattern():
    measured = {"s1": 15.85, "s2": 21.8, "crown:s2": 29.6, "root:s3": 14.2, "middle:s5": 99.0}
    good = revalued(spindle(), measured, {"s2": 25.3, "crown:s2": 43.0})
    assert sizes(good) == [15.85, 21.8, 22, 20.5, 20.5, 12.7, 9.5]
    assert positions(good) == [0, 25.3, 60, 80, 200, 400, 440]
    assert [s.through_mm for s in good.sections] == [None, 29.6, 14.2, None, None, None]
    assert [p.id for p in places(good)] == [p.id for p in places(spindle())]


def test_readings_that_break_a_rule_do_not_become_a_pattern():
    with pytest.raises(PatternBroken):
        revalued(spindle(), {"crown:s2": 20.0}, {})
    with pytest.raises(PatternBroken):
        revalued(spindle(), {}, {"s3": 90.0})


def test_a_reading_of_no_place_is_refused():
    for unknown in ({"s99": 20.0}, {"crown:s1": 20.0}):
        with pytest.raises(NotFound):
            revalued(spindle(), unknown, {})


@given(patterns())
def test_a_piece_that_measures_as_drawn_changes_nothing(pattern):
    found = places(pattern)
    same = revalued(
        pattern,
        {p.id: p.diameter_mm for p in found},
        {p.id: p.at_mm for p in found},
    )
    assert same == pattern
