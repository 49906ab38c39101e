from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchside.errors import BenchsideError, NotFound, NotUnderstood, OutOfRange, PatternBroken
from benchside.job import drafts, patterns, sets, starting
from benchside.job.drafts import MOST_ROWS, Draft, Row
from benchside.job.shop import Lathe, keep_lathe
from benchside.pattern.rules import THINNEST_MM
from benchside.store import patterns as store
from benchside.store.database import Shop
from tests.shopfloor import choices

AT = "2026-01-31T10:15:00.000Z"
LATER = "2026-02-01T08:00:00.000Z"

TABLE = """\
# pattern: Hall bench back spindle
at_mm,diameter_mm,name,kind,tolerance_mm,position_tolerance_mm,section,through_mm
0,15.875,tail tenon,tenon,0.1,,shoulder,
25,22,tail shoulder,decorative,,0.5,taper,
180.3,19,neck,slender,,,cove,14
196,19,first bead,decorative,,,bead,30.4
214,22,body,decorative,,,straight,
420,22,swell end,slender,,,taper,
475,18,drive shoulder,decorative,,,shoulder,
500,15.875,drive tenon,tenon,,,,
"""


@pytest.fixture
def bench(shop: Shop) -> int:
    return patterns.read_table(shop, TABLE, at=AT)


def opened(shop: Shop, pattern_id: int, unit: drafts.TypingUnit = "mm") -> Draft:
    return drafts.draft_of(patterns.shown(shop, pattern_id).pattern, unit)


def with_cell(draft: Draft, row: int, **cells: str) -> Draft:
    rows = list(draft.rows)
    rows[row - 1] = replace(rows[row - 1], **cells)
    return replace(draft, rows=tuple(rows))


def ids(shop: Shop, pattern_id: int) -> list[str]:
    return [s.id for s in patterns.shown(shop, pattern_id).pattern.stations]


def rung() -> Draft:
    return replace(starting.SHAPES["rung"]("mm"), name="Plain rung")


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
    assert [row.name for row in turned.rows if row.form == "bead"] == ["first bead"]
    assert [row.name for row in turned.rows if row.form == "cove"] == ["neck"]
    judged = drafts.judge(drafts.changed(turned, "mirror", base=base), base=base)
    assert judged.pattern == base


def test_a_table_that_does_not_hold_together_is_not_turned_end_for_end() -> None:
    with pytest.raises(PatternBroken):
        drafts.changed(with_cell(rung(), 2, at="soon"), "mirror")


@pytest.mark.parametrize("what", ["add:0", "add:9", "delete:x", "burn:1", "up:99999999", "up:²"])
def test_a_button_that_names_no_row_is_refused(what: str) -> None:
    with pytest.raises(NotUnderstood):
        drafts.changed(rung(), what)


# ------------------------------------------------------------------ keeping


def test_a_new_pattern_numbers_its_stations_from_the_datum_end(shop: Shop) -> None:
    pattern_id = patterns.create(shop, rung(), at=AT)
    assert ids(shop, pattern_id) == ["s1", "s2", "s3", "s4", "s5"]
    assert store.found(shop, pattern_id).next_station == 6


def test_nothing_is_kept_of_a_table_that_breaks_a_rule(shop: Shop) -> None:
    with pytest.raises(PatternBroken):
        patterns.create(shop, with_cell(rung(), 2, diameter="1"), at=AT)
    assert patterns.listed(shop) == ()


def test_a_pattern_too_thick_for_the_lathe_is_refused_on_saving(shop: Shop) -> None:
    keep_lathe(shop, Lathe(swing_mm=60.0, between_centres_mm=380.0))
    with pytest.raises(PatternBroken) as refused:
        patterns.create(shop, rung(), at=AT)
    assert [(p.row, p.field) for p in refused.value.problems] == [(5, "at")]


def test_saving_makes_a_new_revision_and_keeps_the_old_one(shop: Shop, bench: int) -> None:
    old = patterns.shown(shop, bench).pattern
    draft = with_cell(opened(shop, bench), 3, diameter="18.5")
    assert patterns.save_revision(shop, bench, draft, base=1, at=LATER) == 2
    assert patterns.shown(shop, bench, 1).pattern == old
    assert patterns.shown(shop, bench).pattern.stations[2].diameter_mm == 18.5
    assert [r.revision for r in patterns.shown(shop, bench).revisions] == [2, 1]


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_saving_what_was_not_changed_makes_no_revision(
    shop: Shop, bench: int, unit: drafts.TypingUnit
) -> None:
    assert patterns.save_revision(shop, bench, opened(shop, bench, unit), base=1, at=LATER) == 1
    assert patterns.shown(shop, bench).newest == 1


def test_a_new_name_alone_makes_no_revision(shop: Shop, bench: int) -> None:
    draft = replace(opened(shop, bench), name="Porch bench")
    assert patterns.save_revision(shop, bench, draft, base=1, at=LATER) == 1
    assert patterns.shown(shop, bench).kept.name == "Porch bench"


def test_a_station_keeps_its_mark_through_renaming_and_moving(shop: Shop, bench: int) -> None:
    draft = with_cell(opened(shop, bench), 3, name="throat", at="170")
    patterns.save_revision(shop, bench, draft, base=1, at=LATER)
    third = patterns.shown(shop, bench).pattern.stations[2]
    assert (third.id, third.name, third.at_mm) == ("s3", "throat", 170.0)


def test_the_mark_of_a_deleted_station_is_never_given_again(shop: Shop, bench: int) -> None:
    without = drafts.changed(opened(shop, bench), "delete:5")
    patterns.save_revision(shop, bench, without, base=1, at=LATER)
    more = drafts.changed(opened(shop, bench), "add:4")
    more = with_cell(more, 5, form="straight")
    patterns.save_revision(shop, bench, more, base=2, at=LATER)
    assert "s5" not in ids(shop, bench)
    assert "s9" in ids(shop, bench)


def test_a_mark_that_was_made_up_is_not_believed(shop: Shop, bench: int) -> None:
    draft = with_cell(drafts.changed(opened(shop, bench), "add:2"), 3, id="s77:drop")
    patterns.save_revision(shop, bench, draft, base=1, at=LATER)
    assert ids(shop, bench)[2] == "s9"


def test_a_row_sent_twice_with_one_mark_keeps_it_once(shop: Shop, bench: int) -> None:
    draft = with_cell(drafts.changed(opened(shop, bench), "add:2"), 3, id="s2")
    patterns.save_revision(shop, bench, draft, base=1, at=LATER)
    assert len(set(ids(shop, bench))) == 9


def test_a_table_opened_before_another_was_saved_is_not_saved_over_it(
    shop: Shop, bench: int
) -> None:
    first, second = opened(shop, bench), opened(shop, bench)
    patterns.save_revision(shop, bench, with_cell(first, 3, diameter="18"), base=1, at=LATER)
    mine = with_cell(second, 3, diameter="17")
    with pytest.raises(patterns.Stale) as refused:
        patterns.save_revision(shop, bench, mine, base=1, at=LATER)
    assert refused.value.newest == 2
    assert patterns.shown(shop, bench).newest == 2
    # Having seen revision 2, the maker says so; a third one in between would be refused again.
    with pytest.raises(patterns.Stale):
        patterns.save_revision(shop, bench, mine, base=1, over=7, at=LATER)
    assert patterns.save_revision(shop, bench, mine, base=1, over=2, at=LATER) == 3


def test_a_table_that_came_too_late_can_become_a_pattern_of_its_own(shop: Shop, bench: int) -> None:
    mine = with_cell(opened(shop, bench), 3, diameter="17")
    apart = patterns.save_apart(shop, bench, mine, base=1, at=LATER)
    assert apart != bench
    assert patterns.shown(shop, apart).pattern.stations[2].diameter_mm == 17.0
    assert patterns.shown(shop, bench).newest == 1


def test_an_older_revision_is_taken_up_again_as_the_newest(shop: Shop, bench: int) -> None:
    old = patterns.shown(shop, bench).pattern
    draft = with_cell(opened(shop, bench), 3, diameter="18")
    patterns.save_revision(shop, bench, draft, base=1, at=LATER)
    assert patterns.go_back_to(shop, bench, 1, at=LATER) == 3
    assert patterns.shown(shop, bench).pattern == old


def test_a_set_keeps_the_revision_it_was_started_from(shop: Shop, bench: int) -> None:
    started = sets.start(shop, bench, choices(), at=AT)
    draft = with_cell(opened(shop, bench), 3, diameter="18")
    patterns.save_revision(shop, bench, draft, base=1, at=LATER)
    (used,) = patterns.shown(shop, bench).used_by
    assert (used.id, used.revision) == (started.id, 1)
    assert [s.id for one in patterns.listed(shop) for s in one.used_by] == [started.id]


# ------------------------------------------------------------------ tables, scaling, the rest


def test_a_table_written_out_reads_back_as_the_same_pattern(shop: Shop, bench: int) -> None:
    name, text = patterns.write_table(shop, bench)
    again = patterns.read_table(shop, text, at=LATER)
    assert name == "Hall bench back spindle"
    assert patterns.shown(shop, again).pattern == patterns.shown(shop, bench).pattern


def test_every_wrong_row_of_a_table_is_told_at_once(shop: Shop) -> None:
    text = "0,16,end,straight\nabc,16,next,taper\n50,many,third,taper\n60,16,last\n"
    with pytest.raises(PatternBroken) as refused:
        patterns.read_table(shop, text, name="Wrong twice", at=AT)
    assert {p.row for p in refused.value.problems} == {2, 3}
    assert patterns.listed(shop) == ()


def test_a_table_with_no_name_anywhere_asks_for_one(shop: Shop) -> None:
    with pytest.raises(PatternBroken) as refused:
        patterns.read_table(shop, "0,16\n400,16\n", at=AT)
    assert [(p.row, p.field) for p in refused.value.problems] == [(0, "name")]


def test_stations_without_names_are_called_by_their_number(shop: Shop) -> None:
    pattern_id = patterns.read_table(shop, "0,16\n400,16\n", name="Two columns", at=AT)
    names = [s.name for s in patterns.shown(shop, pattern_id).pattern.stations]
    assert names == ["station 1", "station 2"]


@pytest.mark.parametrize("text", ["", "\0\0", "🙂", "0,16\n", "a" * 300_000, "=1+1,2\n3,4"])
def test_what_is_no_table_is_refused_and_nothing_is_kept(shop: Shop, text: str) -> None:
    with pytest.raises(BenchsideError):
        patterns.read_table(shop, text, name="Nonsense", at=AT)
    assert patterns.listed(shop) == ()


def test_scaling_moves_positions_and_leaves_sizes_and_tenons(shop: Shop, bench: int) -> None:
    new = patterns.scaled(shop, bench, 600.0)
    old = patterns.shown(shop, bench).pattern
    assert new.pattern.length_mm == 600.0
    assert [s.diameter_mm for s in new.pattern.stations] == [s.diameter_mm for s in old.stations]
    assert new.pattern.stations[1].at_mm == 25.0
    assert patterns.keep_scaled(shop, new, base=1, at=LATER) == 2
    assert ids(shop, bench) == [s.id for s in old.stations]


def test_a_spindle_scaled_longer_than_the_lathe_is_refused(shop: Shop, bench: int) -> None:
    with pytest.raises(PatternBroken):
        patterns.scaled(shop, bench, 2000.0)


def test_a_bead_that_no_longer_fits_when_shortened_is_told(shop: Shop, bench: int) -> None:
    with pytest.raises(PatternBroken) as refused:
        patterns.scaled(shop, bench, 150.0)
    assert "through" in {p.field.removesuffix("_mm") for p in refused.value.problems}


def test_a_scaling_seen_before_another_revision_is_not_saved_over_it(
    shop: Shop, bench: int
) -> None:
    patterns.mirror(shop, bench, base=1, at=LATER)
    with pytest.raises(patterns.Stale):
        patterns.keep_scaled(shop, patterns.scaled(shop, bench, 600.0), base=1, at=LATER)


def test_turning_end_for_end_is_a_revision_whose_stations_keep_their_marks(
    shop: Shop, bench: int
) -> None:
    before = ids(shop, bench)
    assert patterns.mirror(shop, bench, base=1, at=LATER) == 2
    # s3 starts the cove and s4 the bead: they stay with them, and s5 comes to the other end.
    assert ids(shop, bench) == ["s8", "s7", "s6", "s4", "s3", "s5", "s2", "s1"]
    assert sorted(ids(shop, bench)) == before
    with pytest.raises(patterns.Stale):
        patterns.mirror(shop, bench, base=1, at=LATER)


def test_a_duplicate_takes_order_and_speeds_with_it_and_goes_its_own_way(
    shop: Shop, bench: int
) -> None:
    steps = [s.id for s in patterns.steps(shop, bench).steps]
    patterns.move_step(shop, bench, steps[3], later=True)
    patterns.set_speeds(shop, bench, {"rough": "about 900"})
    copy = patterns.duplicate(shop, bench, "A copy", at=LATER)
    kept, twin = store.found(shop, bench), store.found(shop, copy)
    assert (twin.step_order, twin.speeds, twin.next_station) == (
        kept.step_order,
        kept.speeds,
        kept.next_station,
    )
    patterns.save_revision(
        shop, copy, with_cell(opened(shop, copy), 3, diameter="17"), base=1, at=LATER
    )
    assert patterns.shown(shop, bench).newest == 1


def test_steps_move_one_place_and_the_order_is_remembered(shop: Shop, bench: int) -> None:
    before = [s.id for s in patterns.steps(shop, bench).steps]
    patterns.move_step(shop, bench, before[4], later=False)
    after = [s.id for s in patterns.steps(shop, bench).steps]
    assert after == [*before[:3], before[4], before[3], *before[5:]]
    patterns.move_step(shop, bench, before[4], later=True)
    assert store.found(shop, bench).step_order == ()


def test_benchsides_own_order_needs_no_advice(shop: Shop, bench: int) -> None:
    assert patterns.steps(shop, bench).advice == ()


@pytest.mark.parametrize(
    ("early", "late", "what"),
    [
        ("set_out", "rough", "rough_late"),
        ("tenon:s1", "set_out", "set_out_late"),
        ("final:crown:s4", "form:s4", "read_early"),
        ("position:s2", "tenon:s1", "read_early"),
    ],
)
def test_an_order_that_is_rarely_meant_gets_a_word_and_is_kept(
    shop: Shop, bench: int, early: str, late: str, what: str
) -> None:
    order = [s.id for s in patterns.steps(shop, bench).steps]
    order.remove(early)
    order.insert(order.index(late), early)
    patterns.set_order(shop, bench, tuple(order))
    found = patterns.steps(shop, bench)
    assert [s.id for s in found.steps] == order
    assert [(a.what, a.step.id) for a in found.advice] == [(what, early)]


def test_mounting_stays_first_and_done_stays_last(shop: Shop, bench: int) -> None:
    before = [s.id for s in patterns.steps(shop, bench).steps]
    patterns.move_step(shop, bench, before[1], later=False)
    patterns.move_step(shop, bench, before[-2], later=True)
    patterns.move_step(shop, bench, before[0], later=True)
    assert [s.id for s in patterns.steps(shop, bench).steps] == before
    with pytest.raises(NotFound):
        patterns.move_step(shop, bench, "size:nowhere", later=True)


def test_an_order_outlives_a_revision_with_one_station_more(shop: Shop, bench: int) -> None:
    before = [s.id for s in patterns.steps(shop, bench).steps]
    patterns.move_step(shop, bench, before[3], later=True)
    draft = drafts.changed(opened(shop, bench), "add:6")
    patterns.save_revision(shop, bench, draft, base=1, at=LATER)
    after = [s.id for s in patterns.steps(shop, bench).steps]
    assert after.index(before[4]) < after.index(before[3])
    assert any("s9" in step for step in after)


def test_an_unknown_step_in_an_order_is_left_out(shop: Shop, bench: int) -> None:
    patterns.set_order(shop, bench, ("burn:down", "rough"))
    assert store.found(shop, bench).step_order == ()


def test_speeds_are_the_makers_own_words(shop: Shop, bench: int) -> None:
    patterns.set_speeds(shop, bench, {"rough": "  second  pulley ", "size": "", "boil": "100"})
    assert store.found(shop, bench).speeds == {"rough": "second pulley"}
    with pytest.raises(OutOfRange):
        patterns.set_speeds(shop, bench, {"rough": "x" * 21})


def test_a_pattern_put_away_can_be_taken_out_again(shop: Shop, bench: int) -> None:
    patterns.archive(shop, bench, LATER)
    assert patterns.listed(shop) == ()
    assert [one.kept.id for one in patterns.listed(shop, archived=True)] == [bench]
    patterns.archive(shop, bench, None)
    assert [one.kept.id for one in patterns.listed(shop)] == [bench]


@pytest.mark.parametrize("name", ["", "   ", "\n", "x" * 81])
def test_a_pattern_cannot_be_renamed_to_nothing_or_to_a_page(
    shop: Shop, bench: int, name: str
) -> None:
    with pytest.raises(OutOfRange):
        patterns.rename(shop, bench, name, "")
    assert patterns.shown(shop, bench).kept.name == "Hall bench back spindle"


def test_the_thinnest_place_and_slenderness_are_there_to_advise(shop: Shop, bench: int) -> None:
    slender = patterns.shown(shop, bench).slender
    assert slender.least_mm == 14.0
    assert slender.ratio == pytest.approx(500 / 14)


def test_a_pattern_that_is_not_there_is_not_found(shop: Shop) -> None:
    for ask in (
        lambda: patterns.shown(shop, 7),
        lambda: patterns.rename(shop, 7, "x", ""),
        lambda: patterns.archive(shop, 7, AT),
        lambda: patterns.steps(shop, 7),
        lambda: patterns.mirror(shop, 7, base=1, at=AT),
    ):
        with pytest.raises(NotFound):
            ask()
