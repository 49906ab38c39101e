import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchside.errors import PatternBroken
from benchside.pattern import Pattern, Section, Station
from benchside.pattern.rules import broken_by, off_the_lathe

from .spindles import spindle

NAN, INF = float("nan"), float("inf")


def two(form, length_mm, start_mm, end_mm, through_mm):
    return Pattern(
        "two",
        (Station("a", 0, start_mm, "a"), Station("b", length_mm, end_mm, "b")),
        (Section(form, through_mm),),
    )


def problems(**changes):
    """What is wrong with the spindle when fields of its rows (from 1) are changed."""
    pattern = spindle()
    stations, sections = list(pattern.stations), list(pattern.sections)
    for row, fields in changes.pop("stations", {}).items():
        stations[row - 1] = replace(stations[row - 1], **fields)
    for row, fields in changes.pop("sections", {}).items():
        sections[row - 1] = replace(sections[row - 1], **fields)
    with pytest.raises(PatternBroken) as broken:
        replace(pattern, stations=tuple(stations), sections=tuple(sections), **changes)
    return [(p.row, p.field) for p in broken.value.problems]


@given(
    st.sampled_from(["bead", "cove"]),
    st.integers(100, 20_000),
    st.integers(300, 10_000),
    st.integers(300, 10_000),
)
def test_the_greatest_crown_named_is_accepted_and_a_hundredth_more_refused(form, length, a, b):
    length_mm, a_mm, b_mm = length / 100, a / 100, b / 100
    with pytest.raises(PatternBroken) as broken:
        two(form, length_mm, a_mm, b_mm, 1001 if form == "bead" else 2.99)
    hint = broken.value.hint
    if "Make it a shoulder" in hint:
        assert abs(a_mm - b_mm) / 2 > length_mm
        return
    named_mm = float(re.search(r"here is (\d+\.\d+) mm", hint)[1])
    if min(a_mm, b_mm) == 3 and form == "cove":
        return  # no root can be thinner
    two(form, length_mm, a_mm, b_mm, named_mm)
    past_mm = named_mm + 0.01 if form == "bead" else named_mm - 0.01
    with pytest.raises(PatternBroken):
        two(form, length_mm, a_mm, b_mm, past_mm)


def test_half_a_circle_is_the_most_a_bead_can_be():
    two("bead", 20, 20, 20, 40)
    with pytest.raises(PatternBroken, match=r"half a circle.*40\.00 mm"):
        two("bead", 20, 20, 20, 40.01)


def test_a_quarter_circle_may_end_level_with_the_larger_station():
    quarter = two("bead", 10, 10, 30, 30)
    assert quarter.extreme_at_mm(0) == pytest.approx(10)
    assert float(quarter.diameter_mm_at(5)) == pytest.approx(10 + 2 * 75**0.5)


def test_no_bead_fits_where_the_step_is_steeper_than_a_quarter_circle():
    with pytest.raises(PatternBroken, match="No bead fits on 9 mm"):
        two("bead", 9, 10, 30, 30)


@pytest.mark.parametrize(
    ("form", "through_mm", "says"),
    [
        ("bead", 21.9, "over both its ends"),
        ("bead", 22, "over both its ends"),
        ("cove", 22.1, "under both its ends"),
        ("cove", 2.9, "between 3 and 1000"),
        ("cove", -400, "between 3 and 1000"),
        ("bead", 1e9, "between 3 and 1000"),
        ("bead", None, "needs the diameter of its crown"),
        ("cove", NAN, "needs the diameter of its root"),
        ("bead", INF, "needs the diameter of its crown"),
        ("straight", 30, "no crown or root"),
        ("shoulder", 30, "no crown or root"),
    ],
)
def test_an_impossible_crown_or_root_is_refused(form, through_mm, says):
    with pytest.raises(PatternBroken, match=says) as broken:
        two(form, 50, 22, 22, through_mm)
    assert broken.value.field == "through_mm"


@pytest.mark.parametrize("at_mm", [-1, NAN, INF, -INF, 4001, 1e9])
def test_a_position_is_a_place_on_a_lathe_bed(at_mm):
    assert (7, "at_mm") in problems(stations={7: {"at_mm": at_mm}})


@pytest.mark.parametrize("diameter_mm", [0, -5, 2.99, NAN, INF, 1e9])
def test_nothing_is_thinner_than_3_mm(diameter_mm):
    assert problems(stations={5: {"diameter_mm": diameter_mm}}) == [(5, "diameter_mm")]


def test_exactly_3_mm_will_do():
    two("taper", 50, 3, 3, None)


@pytest.mark.parametrize("value", [0, -0.1, NAN, INF])
def test_a_tolerance_is_more_than_nothing(value):
    broken = problems(stations={1: {"tolerance_mm": value}, 2: {"position_tolerance_mm": value}})
    assert broken == [(1, "tolerance_mm"), (2, "position_tolerance_mm")]


def test_positions_rise_from_the_datum_end():
    assert problems(stations={5: {"at_mm": 80}}) == [(5, "at_mm")]
    assert problems(stations={1: {"at_mm": 1}}) == [(1, "at_mm")]


def test_marks_are_given_once_and_hold_no_colon():
    assert problems(stations={1: {"id": "s7"}}) == [(1, "id"), (7, "id")]
    assert problems(stations={1: {"id": "crown:s1"}, 2: {"id": ""}}) == [(1, "id"), (2, "id")]


def test_a_name_is_plain_text_of_at_most_200_characters():
    too_much = {1: {"name": "x" * 201}, 2: {"name": "a\0"}, 3: {"name": "\ud800"}}
    assert problems(stations=too_much) == [(1, "name"), (2, "name"), (3, "name")]
    assert problems(name="x" * 201) == [(0, "name")]
    replace(spindle(), name="\u05d0" * 200)


def test_only_known_kinds_and_forms_make_a_pattern():
    broken = problems(stations={3: {"kind": "leg"}}, sections={5: {"form": "ogee"}})
    assert broken == [(3, "kind"), (5, "form")]


def test_one_station_is_no_pattern():
    for few in ((), spindle().stations[:1]):
        with pytest.raises(PatternBroken, match="at least two stations"):
            Pattern("few", few, ())


def test_sections_lead_from_each_station_to_the_next():
    with pytest.raises(PatternBroken, match="7 stations need 6 sections, there are 5"):
        replace(spindle(), sections=spindle().sections[1:])


def test_every_broken_rule_is_reported_at_once_each_with_its_row():
    broken = problems(
        stations={
            1: {"at_mm": 2, "tolerance_mm": 0},
            6: {"diameter_mm": 2},
            7: {"id": "s6", "at_mm": 300},
        },
        sections={2: {"through_mm": 21}, 3: {"through_mm": None}, 4: {"through_mm": 9}},
    )
    assert broken == [
        (1, "tolerance_mm"),
        (1, "at_mm"),
        (2, "through_mm"),
        (3, "through_mm"),
        (4, "through_mm"),
        (6, "diameter_mm"),
        (6, "id"),
        (7, "at_mm"),
        (7, "id"),
    ]


def test_a_crown_between_unread_ends_is_not_judged():
    stations = (Station("a", 0, 20, "a"), Station("b", 30, NAN, "b"))
    found = broken_by("", stations, (Section("bead", 10),))
    assert [(p.row, p.field) for p in found] == [(2, "diameter_mm")]


def fitted(pattern, **lathe):
    return off_the_lathe(pattern.stations, pattern.sections, **lathe)


def test_the_spindle_has_to_fit_the_lathe():
    assert fitted(spindle(), swing_mm=30, between_centres_mm=440) == []
    found = fitted(spindle(), swing_mm=21, between_centres_mm=439)
    assert [(p.row, p.field) for p in found] == [
        (2, "diameter_mm"),
        (2, "through_mm"),
        (3, "diameter_mm"),
        (7, "at_mm"),
    ]


def test_limits_are_named_in_the_unit_that_is_typed():
    # On a chord of 1 in between ends of 1 in the greatest circle is the half one: crown 2 in.
    inch = 25.4
    ends = (Station("a", 0.0, inch, "a"), Station("b", inch, inch, "b"))

    def said(crown_mm, unit):
        (problem,) = broken_by("x", ends, (Section("bead", crown_mm),), unit=unit)
        return f"{problem.message} {problem.hint}"

    in_inches = said(2.5 * inch, "in")
    assert "A crown of 2.5 in is more than half a circle" in in_inches
    assert "The greatest possible crown here is 2.000 in." in in_inches
    assert "The greatest possible crown here is 50.80 mm." in said(2.5 * inch, "mm")
    assert "mm" not in in_inches
    for unit in ("in/16", "in/64"):
        assert said(2.5 * inch, unit) == in_inches


def test_what_does_not_fit_the_lathe_is_said_in_inches_to_who_types_inches():
    long = Pattern(
        "x",
        (Station("a", 0.0, 127.0, "a"), Station("b", 254.0, 127.0, "b")),
        (Section("straight"),),
    )
    found = fitted(long, swing_mm=101.6, between_centres_mm=203.2, unit="in")
    assert [p.message for p in found] == [
        "5 in is thicker than the lathe's swing, 4 in.",
        "5 in is thicker than the lathe's swing, 4 in.",
        "10 in is longer than the 8 in between the lathe's centres.",
    ]
