import json
from contextlib import suppress
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchside.errors import PatternBroken
from benchside.pattern import Pattern, Section, Station
from benchside.pattern.table import COLUMNS, read_pattern, write_pattern

from .spindles import patterns, spindle


def broken(text, **options):
    with pytest.raises(PatternBroken) as refused:
        read_pattern(text, **options)
    return refused.value.problems


def where(problems):
    return [(p.row, p.field) for p in problems]


def shape(pattern):
    """What a pattern is apart from names and ids."""
    return [(s.at_mm, s.diameter_mm) for s in pattern.stations], [s.form for s in pattern.sections]


@given(patterns())
def test_a_pattern_written_out_and_read_again_is_the_same(pattern):
    assert read_pattern(write_pattern(pattern)) == pattern


def test_a_bead_s_own_name_has_a_column_only_where_there_is_one():
    own = replace(
        spindle(),
        sections=tuple(
            replace(s, name="=pearl") if s.form == "bead" else s for s in spindle().sections
        ),
    )
    assert read_pattern(write_pattern(own)) == own
    assert "called" in write_pattern(own)
    assert "called" not in write_pattern(spindle())


NASTY = [
    'round "collar", first',
    "two\nlines",
    "carriage\r\nreturn",
    "=1+1",
    "+44",
    "-tip",
    "@here",
    "'=quoted already",
    "''-twice",
    "'plain apostrophe",
    "# no note",
    "  spaces about  ",
    "semi;colon\tand tab",
    "צוואר הכד",
    "\u202eturned\u202c",
    "🪑",
    "x" * 200,
    "",
]


@pytest.mark.parametrize("name", NASTY)
def test_any_name_goes_out_and_comes_back(name):
    pattern = spindle()
    stations = tuple(replace(s, name=name) for s in pattern.stations)
    named = replace(pattern, name=name, stations=stations)
    assert read_pattern(write_pattern(named)) == named


@pytest.mark.parametrize("name", ["=1+1", "+44", "-tip", "@here", "\ttab", "\rreturn"])
def test_no_cell_starts_a_formula_in_a_spreadsheet(name):
    pattern = replace(
        spindle(), stations=(replace(spindle().stations[0], name=name), *spindle().stations[1:])
    )
    row = write_pattern(pattern).split(",15.9,", 1)[1]
    assert row.lstrip('"').startswith(f"'{name}")


def test_the_table_looks_like_this():
    pattern = Pattern(
        "Hall bench back spindle",
        (
            Station("s1", 0, 15.875, "tail tenon", "tenon", 0.1),
            Station("s2", 25, 22, "shoulder", position_tolerance_mm=0.8),
            Station("s3", 60.0, 22, "top"),
        ),
        (Section("shoulder"), Section("bead", 30)),
        "drive",
    )
    assert write_pattern(pattern) == (
        "# pattern: Hall bench back spindle\r\n"
        "# datum: drive\r\n"
        "at_mm,diameter_mm,name,kind,tolerance_mm,position_tolerance_mm,section,through_mm,id\r\n"
        "0,15.875,tail tenon,tenon,0.1,,shoulder,,s1\r\n"
        "25,22,shoulder,decorative,,0.8,bead,30,s2\r\n"
        "60,22,top,decorative,,,,,s3\r\n"
    )


@pytest.mark.parametrize(
    "text",
    [
        "0,15.9,foot,straight\n25,15.9,,bead,22\n40,15.9",
        "0;15,9;foot;straight\n25;15,9;;bead;22\n40;15,9",
        "0\t15,9\tfoot\tstraight\n25\t15.9\t\tbead\t22\n40\t15.9",
        "\ufeffat_mm,diameter_mm,section,through_mm\r\n"
        "0,15.9,straight,\r\n25,15.9,bead,22\r\n40,15.9,,\r\n",
        "Section;Crown;Diameter (mm);Position [mm]\n"
        "parallel;-;15,9;0\n\nBEAD;22;15,9;25\n;;15,9;40\n",
        "  # from the stick\nat,dia,form,through\n0,15.9,,\n25,15.9 mm,bead,2.2 cm\n40,15.9,—,—",
        "shape\troot\td\tat\nstraight\t\t15.9\t0\nbead\t22\t15.9\t25\n\t\t15.9\t40",
    ],
)
def test_many_a_table_is_understood(text):
    stations, forms = shape(read_pattern(text))
    assert stations == [(0, 15.9), (25, 15.9), (40, 15.9)]
    assert forms == ["straight", "bead"]


def test_bare_figures_are_in_the_unit_given_and_cells_may_say_their_own():
    text = "at,diameter\n0,5/8\n1 1/2,15.9 mm\n10,⅝"
    assert shape(read_pattern(text, unit="in/64"))[0] == [(0, 15.875), (38.1, 15.9), (254, 15.875)]


def test_a_header_with_a_unit_is_stronger_than_the_unit_given():
    text = "at_mm,diameter_in\n0,5/8\n100,0.625"
    assert shape(read_pattern(text, unit="in"))[0] == [(0, 15.875), (100, 15.875)]
    assert shape(read_pattern(text))[0] == [(0, 15.875), (100, 15.875)]


def test_what_the_table_leaves_out_is_filled_in():
    pattern = read_pattern("0,16\n100,16\n200,12")
    assert [s.id for s in pattern.stations] == ["s1", "s2", "s3"]
    assert [s.form for s in pattern.sections] == ["straight", "taper"]
    assert {s.kind for s in pattern.stations} == {"decorative"}
    assert (pattern.name, pattern.datum_end) == ("", "tail")


def test_new_ids_do_not_collide_with_those_that_stand():
    pattern = read_pattern("id,at,diameter\n,0,16\ns1,10,16\n,20,16\ns3,30,16")
    assert [s.id for s in pattern.stations] == ["s2", "s1", "s4", "s3"]


def test_the_name_given_stands_before_the_one_in_the_table():
    text = '# Pattern: Leg, 12" taper\n#datum:drive\n0,16\n100,16'
    pattern = read_pattern(text)
    assert (pattern.name, pattern.datum_end) == ('Leg, 12" taper', "drive")
    assert read_pattern(text, name="Mine").name == "Mine"


def test_every_problem_is_reported_at_once_with_its_row():
    text = (
        "at,diameter,name,kind,section,through,tolerance,id\n"
        "0,thick,foot,leg,bead,30,,a\n"
        "50,22,bead,,bead,21,0,a\n"
        "40,2,neck,,ogee,9,,b\n"
        "100,,end,,taper,,,c\n"
        "1e9,20,too far,,cove,5,,d,extra\n"
    )
    assert sorted(where(broken(text))) == sorted(
        [
            (1, "diameter_mm"),
            (1, "kind"),
            (1, "id"),
            (2, "tolerance_mm"),
            (2, "id"),
            (3, "at_mm"),
            (3, "diameter_mm"),
            (3, "section"),
            (4, "diameter_mm"),
            (5, "at_mm"),
            (5, "row"),
            (5, "section"),
            (5, "through_mm"),
        ]
    )


def test_rows_are_counted_from_the_first_station_and_told_in_order():
    problems = broken("# pattern: p\n\nat,diameter\n\n0,16\n50,x\n20,y\n")
    assert where(problems) == [(2, "diameter_mm"), (3, "at_mm"), (3, "diameter_mm")] or where(
        problems
    ) == [(2, "diameter_mm"), (3, "diameter_mm"), (3, "at_mm")]


def test_a_crown_that_cannot_be_is_told_with_an_unread_figure_elsewhere():
    problems = broken("0,20,,bead,500\n30,20,,bead,25\n60,1e9")
    assert where(problems) == [(1, "through_mm"), (3, "diameter_mm")]


def test_a_decimal_comma_between_commas_is_asked_about():
    problems = broken("0,15,9\n100,16,9")
    assert "0,15,9" in problems[0].message
    assert "semicolons" in problems[0].hint
    with_header = broken("at,diameter\n0,15,9\n100,16,9")
    assert where(with_header) == [(1, "row"), (2, "row")]
    assert "semicolons" in with_header[0].hint


def test_unknown_missing_and_doubled_columns_are_named():
    problems = broken("at_mm,at,speed_rpm,name\n0,0,900,foot")
    assert [p.message for p in problems] == [
        "The column at is there twice.",
        "There is no column “speed_rpm”.",
        "The column diameter_mm is missing.",
    ]
    assert COLUMNS[0] in problems[0].hint


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "The table is empty"),
        ("  \n\n\t\n", "The table is empty"),
        ("# pattern: only a name\n", "no rows"),
        ("at_mm,diameter_mm\n", "at least two stations"),
        ("0,16", "at least two stations"),
        ("hello", "no table"),
        ("at_mm", "column diameter_mm is missing"),
        ("hello,world", "no column “hello”"),
        ("🪑🪑🪑", "no table"),
        ("0,16\n100,16\0", "NUL"),
        ("x" * 200_001, "longer than 200000"),
        ("0,16\n" * 401, "401 rows"),
        ('0,16,"foot\n100,16,end', "never closed"),
        ("0," + "9" * 140_000 + "\n1,2", "too long"),
        ("# datum: middle\n0,16\n100,16", "datum end"),
        ("0,16\n100,16,end,taper", "Nothing follows the last station"),
        (json.dumps([{"at_mm": 0}]), "no table"),
        (json.dumps([{"at_mm": 0, "diameter_mm": 16}]), "not a length"),
        ("<table><tr><td>0</td></tr></table>", "no table"),
        ("NaN,16\n100,16", "not a length"),
        ("0,NaN\n100,inf", "not a length"),
        ("0,-16\n100,16", "negative"),
        ("0,0\n100,16", "between 3 and 1000"),
        ("0,16\n1e9,16", "not a length"),
        ("0,16\n5000,16", "between 0 and 4000"),
    ],
)
def test_bad_text_is_refused_with_a_clear_word(text, says):
    assert says in " ".join(p.message for p in broken(text))


@given(st.text(alphabet='0123456789,;\t\n"# atdiameternm=.-½', max_size=80))
def test_no_text_does_more_harm_than_a_refusal(text):
    try:
        read_pattern(text)
    except PatternBroken as refused:
        found = refused.problems
    else:
        found = ()
    assert all(p.message and len(p.message) < 200 for p in found)


@given(patterns(), st.data())
def test_a_truncated_table_is_refused_or_makes_a_sound_pattern(pattern, data):
    text = write_pattern(pattern)
    cut = text[: data.draw(st.integers(0, len(text)))]
    with suppress(PatternBroken):
        assert len(read_pattern(cut).stations) <= len(pattern.stations)
