"""Patterns kept, revised, scaled, ordered and put away."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchside.errors import BenchsideError, NotFound, OutOfRange, PatternBroken
from benchside.job import drafts, patterns, sets
from benchside.job.shop import Lathe, keep_lathe
from benchside.store import patterns as store
from benchside.store.database import Shop
from tests.job.pattern_bench import AT, LATER, ids, opened, rung, with_cell
from tests.shopfloor import choices

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


def test_a_table_too_big_for_the_lathe_is_told_so_beside_its_other_faults(shop: Shop) -> None:
    keep_lathe(shop, Lathe(swing_mm=60.0, between_centres_mm=380.0))
    text = "0,2,end,taper\n50,70,thick,taper\n40,16,back,taper\n900,1200,last\n"
    with pytest.raises(PatternBroken) as refused:
        patterns.read_table(shop, text, name="Too big", at=AT)
    assert [(p.row, p.field) for p in refused.value.problems] == [
        (1, "diameter_mm"),
        (2, "diameter_mm"),
        (3, "at_mm"),
        (4, "diameter_mm"),
        (4, "at_mm"),
    ]
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
