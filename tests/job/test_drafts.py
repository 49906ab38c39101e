"""The table of a pattern as it is typed, and the buttons beside it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchside.errors import NotUnderstood, PatternBroken
from benchside.job import drafts, patterns, starting
from benchside.job.drafts import MOST_ROWS, Draft, Row
from benchside.job.shop import Lathe
from benchside.pattern.rules import THINNEST_MM
from benchside.store.database import Shop
from tests.job.pattern_bench import LATER, ids, opened, rung, with_cell

# ------------------------------------------------------------------ what is typed


def test_every_starting_shape_but_the_empty_one_can_be_kept_as_it_is() -> None:
    for unit in ("mm", "in"):
        for key, shape in starting.SHAPES.items():
            judged = drafts.judge(replace(shape(unit), name="A beginning"))
            assert (judged.pattern is None) == (key == "ends")


def test_the_middle_of_a_taper_is_computed_without_being_asked_for(shop: Shop, bench: int) -> None:
    judged = drafts.judge(opened(shop, bench))
    (middle,) = judged.within(1)
    assert middle.role == "middle"
    # A taper is a straight line: half way it is the mean of its ends.
    assert middle.at_mm == pytest.approx((25 + 180.3) / 2)
    assert middle.diameter_mm == pytest.approx((22 + 19) / 2)


def test_a_long_straight_is_checked_at_its_ends_and_at_least_once_between(
    shop: Shop, bench: int
) -> None:
    judged = drafts.judge(opened(shop, bench))
    assert len(judged.within(4)) >= 1
    assert {place.diameter_mm for place in judged.within(4)} == {22.0}


def test_the_greatest_crown_between_even_ends_is_a_half_circle() -> None:
    draft = rung()
    bead = with_cell(draft, 3, form="bead", through="30")
    bead = with_cell(bead, 4, at="210", diameter="25")
    judged = drafts.judge(replace(bead, rows=(*bead.rows[:4], replace(bead.rows[4], at="400"))))
    # Between equal ends the half circle stands half its chord over them in radius.
    assert judged.limits_mm[2] == pytest.approx((25.0, 25.0 + (210 - 200)))


def test_a_cell_may_carry_its_own_unit(shop: Shop, bench: int) -> None:
    judged = drafts.judge(with_cell(opened(shop, bench), 2, diameter="7/8 in", at="1 in"))
    assert judged.pattern is not None
    assert judged.pattern.stations[1].diameter_mm == 22.225
    assert judged.pattern.stations[1].at_mm == 25.4


def test_every_broken_cell_is_told_at_once_with_its_row(shop: Shop, bench: int) -> None:
    draft = opened(shop, bench)
    for row, cells in {
        1: {"at": "banana"},
        2: {"diameter": "NaN"},
        4: {"through": "99"},
        6: {"at": "1e9"},
        7: {"tolerance": "-1"},
        8: {"diameter": "🪵"},
    }.items():
        draft = with_cell(draft, row, **cells)
    told = {(p.row, p.field) for p in drafts.judge(draft).problems}
    assert told == {
        (1, "at"),
        (2, "diameter"),
        (4, "through"),
        (6, "at"),
        (7, "tolerance"),
        (8, "diameter"),
    }


@pytest.mark.parametrize(
    "cell", ["", " ", "NaN", "inf", "-3", "0", "1e9", "🙂", "x" * 10_000, "1,250", "12 14", "5/8"]
)
def test_a_diameter_that_cannot_be_is_refused_with_what_would_be_right(cell: str) -> None:
    judged = drafts.judge(with_cell(rung(), 3, diameter=cell))
    (problem,) = judged.problems
    assert (problem.row, problem.field) == (3, "diameter")
    assert problem.message
    assert judged.pattern is None


def test_a_table_of_one_row_asks_for_the_other_end() -> None:
    judged = drafts.judge(Draft("One end", (Row(at="0", diameter="16", name="end"),)))
    assert [p.field for p in judged.problems] == ["stations"]


def test_thousands_of_rows_are_refused_with_one_sentence() -> None:
    rows = tuple(Row(at=str(i), diameter="16") for i in range(5000))
    (problem,) = drafts.judge(Draft("Far too many", rows)).problems
    assert str(MOST_ROWS) in problem.hint


def test_a_form_or_kind_that_was_never_offered_is_refused() -> None:
    judged = drafts.judge(with_cell(rung(), 2, kind="hexagon", form="spiral"))
    assert {p.field for p in judged.problems} == {"kind", "form"}


def test_a_missing_name_keeps_a_table_from_being_kept_but_not_from_being_drawn() -> None:
    judged = drafts.judge(replace(rung(), name="  "))
    assert judged.pattern is not None
    assert [(p.row, p.field) for p in judged.problems] == [(0, "name")]


def test_what_does_not_fit_the_lathe_is_told_on_its_row() -> None:
    judged = drafts.judge(rung(), lathe=Lathe(swing_mm=24.0, between_centres_mm=300.0))
    assert {(p.row, p.field) for p in judged.problems} == {(3, "diameter"), (5, "at")}
    assert judged.pattern is not None


def test_what_does_not_fit_the_lathe_is_told_beside_every_other_broken_rule() -> None:
    lathe = Lathe(swing_mm=24.0, between_centres_mm=300.0)
    wrong = with_cell(with_cell(rung(), 1, diameter="2"), 2, diameter="2000")
    judged = drafts.judge(wrong, lathe=lathe)
    assert [(p.row, p.field) for p in judged.problems] == [
        (1, "diameter"),
        (2, "diameter"),
        (3, "diameter"),
        (5, "at"),
    ]
    assert judged.pattern is None
    unread = drafts.judge(with_cell(rung(), 3, diameter="thick"), lathe=lathe)
    assert [(p.row, p.field) for p in unread.problems] == [(3, "diameter"), (5, "at")]


@given(st.floats(min_value=THINNEST_MM, max_value=900.0))
def test_a_figure_that_is_only_looked_at_in_inches_stays_exactly_what_it_was(size: float) -> None:
    pattern = drafts.judge(rung()).pattern
    assert pattern is not None
    stations = (*pattern.stations[:2], replace(pattern.stations[2], diameter_mm=size))
    base = replace(pattern, stations=(*stations, *pattern.stations[3:]))
    base = replace(
        base, stations=tuple(replace(s, id=f"s{i}") for i, s in enumerate(base.stations))
    )
    there = drafts.draft_of(base, "mm")
    in_inches = drafts.changed(there, "unit:in", base=base)
    assert drafts.judge(in_inches, base=base).pattern == base
    back = drafts.changed(in_inches, "unit:mm", base=base)
    assert back == there


def test_a_sixteenth_is_shown_as_a_fraction_and_reads_back() -> None:
    assert drafts.shown(25.4 * (1 + 1 / 4), "in") == "1 1/4"
    assert drafts.shown(25.4 * 5 / 8, "in") == "5/8"
    assert drafts.shown(10.0, "in") == "0.3937"


def test_a_new_row_typed_in_millimetres_comes_back_from_inches_as_it_was() -> None:
    draft = with_cell(rung(), 3, at="202.5", diameter="24.3", tolerance="0.35")
    turned = drafts.changed(drafts.changed(draft, "unit:in"), "unit:mm")
    assert turned == draft


# ------------------------------------------------------------------ the buttons beside the table


@pytest.mark.parametrize("shape", ["rung", "bead"])
def test_a_starting_shape_looked_at_in_inches_is_the_same_shape(shape: str) -> None:
    draft = replace(starting.SHAPES[shape]("mm"), name="A beginning")
    wanted = drafts.judge(draft).pattern
    inches = drafts.changed(draft, "unit:in")
    assert inches.rows[-1].at == "15.748"  # 400 mm, which is no length in inches
    found = drafts.judge(inches).pattern
    assert wanted is not None
    assert found is not None
    # Four decimals of an inch: at most half of 0.00254 mm off.
    for one, other in zip(found.stations, wanted.stations, strict=True):
        assert (one.at_mm, one.diameter_mm) == pytest.approx(
            (other.at_mm, other.diameter_mm), abs=0.0013
        )
    assert drafts.changed(inches, "unit:mm") == draft


def test_a_fraction_becomes_millimetres_when_the_unit_changes() -> None:
    inches = with_cell(drafts.changed(rung(), "unit:in"), 3, diameter="1 1/8")
    assert drafts.changed(inches, "unit:mm").rows[2].diameter == "28.575"


def test_the_ends_of_an_empty_table_are_offered_as_tenons() -> None:
    assert [row.kind for row in starting.SHAPES["ends"]("mm").rows] == ["tenon", "tenon"]


def test_a_row_added_between_two_stations_stands_half_way_on_the_curve() -> None:
    added = drafts.changed(rung(), "add:2")
    new = added.rows[2]
    assert (new.at, new.diameter, new.id) == ("112.5", "22.5", "")
    judged = drafts.judge(replace(added, name="With one more"))
    assert judged.pattern is not None


def test_a_row_added_after_the_last_is_offered_beyond_it() -> None:
    added = drafts.changed(rung(), "add:5")
    assert float(added.rows[5].at) > 400
    assert drafts.judge(added).pattern is not None


def test_a_copied_row_is_a_station_of_its_own(shop: Shop, bench: int) -> None:
    copied = drafts.changed(opened(shop, bench), "copy:5")
    assert copied.rows[5].id == ""
    assert copied.rows[5].diameter == copied.rows[4].diameter
    patterns.save_revision(shop, bench, copied, base=1, at=LATER)
    assert ids(shop, bench) == ["s1", "s2", "s3", "s4", "s5", "s9", "s6", "s7", "s8"]


def test_moving_a_row_changes_places_and_keeps_positions_rising(shop: Shop, bench: int) -> None:
    draft = opened(shop, bench)
    moved = drafts.changed(draft, "down:3")
    assert [r.at for r in moved.rows] == [r.at for r in draft.rows]
    assert [r.name for r in moved.rows][2:4] == ["first bead", "neck"]
    assert drafts.changed(moved, "up:4") == draft


def test_the_last_row_left_cannot_be_deleted() -> None:
    draft = Draft("", (Row(at="0"),))
    assert drafts.changed(draft, "delete:1") == draft


def test_rows_typed_out_of_order_are_sorted_by_position() -> None:
    draft = rung()
    mixed = replace(draft, rows=(draft.rows[2], *draft.rows[:2], *draft.rows[3:]))
    assert drafts.changed(mixed, "sort") == draft


def test_turning_end_for_end_twice_gives_the_table_back(shop: Shop, bench: int) -> None:
    base = patterns.shown(shop, bench).pattern
    draft = drafts.draft_of(base, "mm")
    turned = drafts.changed(draft, "mirror", base=base)
    assert turned.rows[0].name == "tail tenon"
    assert [row.called for row in turned.rows if row.form == "bead"] == ["first bead"]
    assert [(row.name, row.called) for row in turned.rows if row.form == "cove"] == [
        ("first bead", "neck")
    ]
    judged = drafts.judge(drafts.changed(turned, "mirror", base=base), base=base)
    assert judged.pattern == base


def test_a_table_that_does_not_hold_together_is_not_turned_end_for_end() -> None:
    with pytest.raises(PatternBroken):
        drafts.changed(with_cell(rung(), 2, at="soon"), "mirror")


@pytest.mark.parametrize("what", ["add:0", "add:9", "delete:x", "burn:1", "up:99999999", "up:²"])
def test_a_button_that_names_no_row_is_refused(what: str) -> None:
    with pytest.raises(NotUnderstood):
        drafts.changed(rung(), what)
