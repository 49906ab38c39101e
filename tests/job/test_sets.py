"""Starting a set, changing its mind, and what each piece says of itself."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from benchside.errors import BenchsideError, NotFound, OutOfRange, Refused
from benchside.job import calipers, piece, sets, turning
from benchside.job.turning import Marked, Taken
from benchside.job.work import work_on
from benchside.pattern import places
from benchside.store import patterns, readings
from tests import shopfloor


def test_a_new_set_has_its_pieces_and_its_spares_numbered_on(shop):
    kept = shopfloor.started(shop, wanted=9, spares=2)
    standing = sets.standing(shop, kept.id)
    assert [p.number for p in standing.pieces] == list(range(1, 12))
    assert standing.spares == {10, 11}
    assert (standing.done, standing.next.number, standing.begun) == (0, 1, False)


@pytest.mark.parametrize(
    ("field", "changed"),
    [
        ("name", {"name": "  "}),
        ("name", {"name": "x" * 81}),
        ("wanted", {"wanted": 0}),
        ("wanted", {"wanted": 401}),
        ("spares", {"spares": -1}),
        ("calipers", {"calipers": 27}),
    ],
)
def test_a_set_that_cannot_be_is_refused_with_the_field_named(shop, field, changed):
    with pytest.raises(BenchsideError) as refused:
        shopfloor.started(shop, **changed)
    assert refused.value.field == field
    assert not sets.listed(shop)


@pytest.mark.parametrize("value", [0.0, -0.1, 20.32, float("nan")])
def test_a_tolerance_that_is_none_or_a_slip_of_the_unit_is_refused(shop, value):
    tolerances = replace(sets.DEFAULT_TOLERANCES, slender_mm=value)
    with pytest.raises(OutOfRange) as refused:
        shopfloor.started(shop, tolerances=tolerances)
    assert refused.value.field == "slender_mm"


def test_switching_the_habit_loses_nothing(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1, 2])
    before = sets.standing_by_steps(shop, kept.id).pieces
    sets.settle(shop, kept.id, replace(kept.choices, habit="stage"))
    assert sets.standing_by_steps(shop, kept.id).pieces == before


def test_more_pieces_are_numbered_on_and_a_number_is_never_given_twice(shop):
    kept = shopfloor.started(shop, wanted=3, spares=0)
    practice = sets.practice_piece(shop, kept.id)
    kept = sets.settle(shop, kept.id, replace(kept.choices, wanted=5))
    numbers = [p.number for p in sets.standing(shop, kept.id).pieces]
    assert practice == 4
    assert numbers == [1, 2, 3, 4, 5, 6]
    kept = sets.settle(shop, kept.id, replace(kept.choices, wanted=4))
    assert [p.number for p in sets.standing(shop, kept.id).pieces] == [1, 2, 3, 4, 5]
    kept = sets.settle(shop, kept.id, replace(kept.choices, wanted=5))
    assert [p.number for p in sets.standing(shop, kept.id).pieces] == numbers


def test_a_set_cannot_shrink_below_a_piece_that_has_been_begun(shop):
    kept = shopfloor.started(shop, wanted=9, spares=0)
    shopfloor.turn(shop, kept, [7])
    with pytest.raises(OutOfRange, match="Piece 7"):
        sets.settle(shop, kept.id, replace(kept.choices, wanted=6))
    assert shopfloor.set_again(shop, kept).choices.wanted == 9
    assert sets.settle(shop, kept.id, replace(kept.choices, wanted=7)).choices.wanted == 7


def test_pieces_a_set_has_no_room_for_any_more_are_not_offered_at_the_lathe(shop):
    kept = shopfloor.started(shop, wanted=3, spares=0)
    shopfloor.turn(shop, kept, [1, 2])
    assert turning.where_next(shop, kept.id) == (3, None)
    sets.settle(shop, kept.id, replace(kept.choices, wanted=2))
    assert turning.where_next(shop, kept.id) is None
    assert sets.standing(shop, kept.id).next is None


def test_a_practice_piece_is_turned_but_not_counted(shop):
    kept = shopfloor.started(shop, wanted=2, spares=0)
    number = sets.practice_piece(shop, kept.id)
    assert sets.practice_piece(shop, kept.id) == number
    shopfloor.turn(shop, kept, [number])
    standing = sets.standing(shop, kept.id)
    assert standing.piece(number).done
    assert (standing.done, standing.next.number) == (0, 1)
    assert sets.practice_piece(shop, kept.id) == number + 1


def test_a_set_is_duplicated_with_nothing_turned(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    twin = sets.duplicate(shop, kept.id, "For the landing", at=shopfloor.moment(500))
    standing = sets.standing(shop, twin.id)
    assert (twin.name, twin.revision, standing.begun) == ("For the landing", kept.revision, False)


def test_a_set_put_away_leaves_the_first_page_and_comes_back_whole(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    sets.put_away(shop, kept.id, shopfloor.moment(500))
    assert not sets.listed(shop)
    assert [s.done for s in sets.listed(shop, archived=True)] == [1]
    sets.put_away(shop, kept.id, None)
    assert [s.done for s in sets.listed(shop)] == [1]


def test_a_set_with_a_piece_to_turn_stands_before_a_finished_one(shop):
    finished = shopfloor.started(shop, wanted=1, spares=0)
    waiting = shopfloor.started(shop, wanted=1, spares=0)
    shopfloor.turn(shop, finished, [1])
    assert [s.kept.id for s in sets.listed(shop)] == [waiting.id, finished.id]


def test_the_short_account_of_the_pieces_agrees_with_the_full_one(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1, 2])
    shopfloor.turn(shop, kept, [3], seed=9, done=False)
    rng = random.Random(1)
    with shop.transaction() as db:
        said = shopfloor.mark(rng, kept, 2, "spoiled", shopfloor.moment(900), text="a catch")
        readings.add_mark(db, said)
    short = sets.standing(shop, kept.id).pieces
    full = sets.standing_by_steps(shop, kept.id).pieces
    assert [replace(p, ticked=frozenset()) for p in full] == list(short)


def test_a_set_follows_its_pattern_freely_before_turning_and_only_when_sure_after(shop):
    kept = shopfloor.started(shop)
    record = patterns.found(shop, kept.pattern_id)
    with shop.transaction() as db:
        patterns.add_revision(db, record.id, record.pattern, at=shopfloor.moment(10))
    assert sets.hold_to(shop, kept.id, 2, sure=False).revision == 2
    assert sets.hold_to(shop, kept.id, 1, sure=False).revision == 1
    shopfloor.turn(shop, kept, [1])
    with pytest.raises(Refused):
        sets.hold_to(shop, kept.id, 2, sure=False)
    assert sets.hold_to(shop, kept.id, 2, sure=True).revision == 2
    with pytest.raises(NotFound):
        sets.hold_to(shop, kept.id, 3, sure=True)


def test_which_pieces_were_sized_with_a_caliper_since_it_was_checked(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1, 2])
    seen = {c.letter: c for c in piece.overview(shop, kept.id).calipers}
    assert seen["A"].since == (1, 2)
    key = shopfloor.key(random.Random(1))
    at = shopfloor.moment(100)
    calipers.mark(shop, kept.id, "A", "caliper_checked", key=key, at=at, device_id=None)
    shopfloor.turn(shop, kept, [3], seed=8)
    seen = {c.letter: c for c in piece.overview(shop, kept.id).calipers}
    assert seen["A"].since == (3,)
    assert seen["B"].since == (1, 2, 3)
    with pytest.raises(NotFound):
        calipers.mark(shop, kept.id, "Q", "caliper_checked", key=key, at=at, device_id=None)
    with pytest.raises(BenchsideError):
        calipers.mark(shop, kept.id, "A", "spoiled", key=key, at=at, device_id=None)


def test_a_piece_in_hand_says_which_step_it_is_at(shop):
    kept = shopfloor.started(shop)
    doing = work_on(shop, kept.pattern_id, kept.revision)
    rng = random.Random(2)
    with shop.transaction() as db:
        for step in doing.steps[:3]:
            at = shopfloor.moment(1)
            readings.add_mark(db, shopfloor.mark(rng, kept, 1, "step", at, step_id=step.id))
    assert piece.overview(shop, kept.id).step_in_hand[1] == doing.steps[3]


def test_a_piece_shows_what_stands_and_keeps_every_correction_in_its_history(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    view = piece.piece(shop, kept.id, 1)
    by_place = {(a.place.id, a.reading.kind): a for a in view.answers}
    neck, swell, foot = (by_place[i, "diameter"].reading for i in ("st7", "st4", "st3"))

    taken = Taken(shopfloor.key(random.Random(5)), "st7", "14.2", "mm", supersedes=neck.key)
    turning.take(shop, kept.id, 1, taken, device_id=None, received_at=shopfloor.moment(50))
    gone = Marked(shopfloor.key(random.Random(6)), "withdrawn", about=swell.key)
    turning.mark(shop, kept.id, 1, gone, device_id=None, received_at=shopfloor.moment(51))

    view = piece.piece(shop, kept.id, 1)
    assert {e.reading.key: e.fate for e in view.entries if e.fate != "stands"} == {
        neck.key: "corrected",
        swell.key: "withdrawn",
    }
    stands = {(a.place.id, a.reading.kind): a.reading.value_mm for a in view.answers}
    assert stands["st7", "diameter"] == 14.2
    assert ("st4", "diameter") not in stands
    assert stands["st3", "diameter"] == foot.value_mm


def test_readings_moved_to_another_piece_are_told_on_both(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    moved = turning.move(
        shop,
        kept.id,
        1,
        count=2,
        to=4,
        key=shopfloor.key(random.Random(3)),
        database="",
        device_id=None,
        received_at=shopfloor.moment(60),
    )
    assert moved == 2
    first, fourth = (piece.piece(shop, kept.id, n) for n in (1, 4))
    told = [(e.fate, e.by.spindle) for e in first.entries if e.fate != "stands"]
    assert told == [("moved", 4), ("moved", 4)]
    assert len(fourth.answers) == 2


def test_a_good_piece_becomes_the_pattern_and_then_lies_right_on_it(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1, 2], scatter=0.3)
    found = piece.becoming(shop, kept.id, 1)
    assert found.others_turned == 1
    read = {
        (a.place.id, a.reading.kind): a.reading.value_mm
        for a in piece.piece(shop, kept.id, 1).answers
    }
    changed = {(c.place.id, c.kind): c.is_mm for c in (*found.changes, *found.tenon_changes)}
    assert changed.keys() >= {("st4", "diameter"), ("crown:st5", "diameter"), ("st3", "position")}
    assert changed == {place: pytest.approx(read[place]) for place in changed}
    revision = piece.become_pattern(
        shop, kept.id, 1, seen=found.revision, at=shopfloor.moment(99), tenons=True
    )
    record = patterns.found(shop, kept.pattern_id)
    assert revision == record.revision == shopfloor.set_again(shop, kept).revision == 2
    now = {p.id: p.diameter_mm for p in places(record.pattern)}
    for answer in piece.piece(shop, kept.id, 1).answers:
        if answer.reading.kind == "diameter" and answer.place.role not in ("middle", "along"):
            assert now[answer.place.id] == pytest.approx(answer.reading.value_mm)
            assert answer.verdict.off_mm == pytest.approx(0)


def test_tenons_stay_as_the_pattern_has_them_unless_told_otherwise(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1], off_mm={(1, "st1"): 0.02, (1, "st4"): 0.3}, scatter=0)
    found = piece.becoming(shop, kept.id, 1)
    assert [(c.place.id, c.is_mm) for c in found.tenon_changes] == [("st1", 12.72)]
    assert [(c.place.id, c.is_mm) for c in found.changes if c.kind == "diameter"] == [("st4", 22.3)]
    piece.become_pattern(shop, kept.id, 1, seen=found.revision, at=shopfloor.moment(99))
    now = {s.id: s.diameter_mm for s in patterns.found(shop, kept.pattern_id).pattern.stations}
    assert (now["st1"], now["st4"]) == (12.7, 22.3)


def test_readings_the_pattern_does_not_take_are_named_with_the_reason(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    left = {(one.place.id, one.why) for one in piece.becoming(shop, kept.id, 1).left_out}
    assert left == {
        ("middle:st3", "between"),
        ("middle:st4", "between"),
        ("along:st7:1", "between"),
        ("middle:st8", "between"),
        ("crown:st5", "circle"),
        ("root:st6", "circle"),
    }


def test_practice_and_spoiled_pieces_are_not_counted_as_others_begun(shop):
    kept = shopfloor.started(shop)
    practice = sets.practice_piece(shop, kept.id)
    shopfloor.turn(shop, kept, [1, 2, 3, practice])
    spoiled = Marked(shopfloor.key(random.Random(6)), "spoiled")
    turning.mark(shop, kept.id, 3, spoiled, device_id=None, received_at=shopfloor.moment(900))
    assert piece.becoming(shop, kept.id, 1).others_turned == 1


def test_of_a_place_read_twice_the_newer_reading_stands_and_the_older_is_told(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    at, drawn = shopfloor.moment(900), {"target_mm": 14.0}
    again = shopfloor.reading(random.Random(3), kept, 1, "st7", 14.1, at, **drawn)
    with shop.transaction() as db:
        readings.add(db, again)
    view = piece.piece(shop, kept.id, 1)
    necks = [a.reading for a in view.answers if a.place.id == "st7"]
    assert necks == [again]
    assert [(e.fate, e.by) for e in view.entries if e.fate != "stands"] == [("read_again", again)]


def test_everything_wrong_in_a_set_is_told_at_once():
    long = shopfloor.choices(name="", note="n" * 2001, wanted=0, spares=-1, calipers=99)
    told = {fault.field for fault in sets.faults(long)}
    assert told == {"name", "note", "wanted", "spares", "calipers"}
    assert sets.faults(shopfloor.choices(note="n" * 2000)) == ()


def test_a_piece_does_not_become_a_pattern_that_was_revised_meanwhile(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    record = patterns.found(shop, kept.pattern_id)
    with shop.transaction() as db:
        patterns.add_revision(db, record.id, record.pattern, at=shopfloor.moment(10))
    with pytest.raises(Refused, match="revised"):
        piece.become_pattern(shop, kept.id, 1, seen=1, at=shopfloor.moment(99))
    assert patterns.found(shop, kept.pattern_id).revision == 2


def test_a_piece_never_read_cannot_become_the_pattern(shop):
    kept = shopfloor.started(shop)
    with pytest.raises(Refused, match="no final readings"):
        piece.becoming(shop, kept.id, 1)


def test_the_paper_list_names_every_place_and_every_counted_piece(shop):
    kept = shopfloor.started(shop, wanted=40, spares=2)
    sets.practice_piece(shop, kept.id)
    sheet = piece.sheet(shop, kept.id)
    assert [line.place for line in sheet.lines] == list(places(sheet.record.pattern))
    assert sheet.numbers == tuple(range(1, 43))
    sized = {line.place.id: (line.stop_mm, line.letter) for line in sheet.lines if line.letter}
    # 1/16 in over the finish while sizing [@milton-wohlers-1919, ch. V]: 22 + 1.5875 mm.
    assert sized["st4"][0] == pytest.approx(23.5875)


def test_the_paper_list_has_limits_and_what_has_been_read(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [2], scatter=0)
    rng = random.Random(9)
    with shop.transaction() as db:
        for axis, mm in (("A", 14.0), ("B", 14.2)):
            at = shopfloor.moment(900)
            readings.add(db, shopfloor.reading(rng, kept, 3, "st8", mm, at, axis=axis))
    sheet = piece.sheet(shop, kept.id)
    limits = {line.place.id: line.tolerance_mm for line in sheet.lines}
    assert (limits["st1"], limits["st4"], limits["st8"]) == (0.1, 0.8, 0.4)
    assert sheet.read[2, "st4", "diameter"] == 22.0
    assert sheet.read[3, "st8", "diameter"] == pytest.approx(14.1)
    assert (4, "st8", "diameter") not in sheet.read


def test_a_piece_that_is_not_there_is_not_found(shop):
    kept = shopfloor.started(shop)
    with pytest.raises(NotFound):
        piece.piece(shop, kept.id, 99)
    with pytest.raises(NotFound):
        piece.overview(shop, 99)
