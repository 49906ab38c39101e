"""What the review says of a set, against what was put into it."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from benchside.errors import NotFound
from benchside.job import choosing, review, sets, turning
from benchside.job.turning import Marked, Taken
from benchside.pattern import places
from benchside.store import readings
from tests import shopfloor


def _column(found: review.Review, column_id: str) -> review.Column:
    return found.columns[found.column(column_id)]


def test_a_set_never_read_has_a_review_with_nothing_in_it(shop):
    found = review.review(shop, shopfloor.started(shop).id)
    assert (found.numbers, found.columns, found.standouts, found.minutes_each) == ((), (), (), None)
    with pytest.raises(NotFound):
        found.column("st7")


def test_every_final_reading_stands_in_its_row_and_column(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1, 2, 3])
    found = review.review(shop, kept.id)
    assert found.numbers == (1, 2, 3)
    for reading in readings.standing(shop, kept.id):
        column_id = ("at:" if reading.kind == "position" else "") + reading.station_id
        column = _column(found, column_id)
        row = found.numbers.index(reading.spindle)
        off_mm = found.off_mm[row, found.column(column_id)]
        assert column.target_mm + off_mm == pytest.approx(reading.value_mm)


def test_columns_run_along_the_spindle_with_positions_only_where_they_matter(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    found = review.review(shop, kept.id)
    along = [p.id for p in places(found.pattern)]
    assert [c.id for c in found.columns if c.kind == "diameter"] == along
    assert [c.id for c in found.columns if c.kind == "position"] == [
        "at:st3",
        "at:crown:st5",
        "at:root:st6",
    ]


def test_the_piece_that_slipped_stands_out_where_it_slipped(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 7), off_mm={(5, "st7"): -0.7})
    found = review.review(shop, kept.id)
    assert [(s.number, s.column.id) for s in found.standouts] == [(5, "st7")]
    assert found.standouts[0].from_others_mm == pytest.approx(-0.7, abs=0.2)
    assert found.together == (1, 2, 3, 4, 6)


def test_a_set_that_is_all_a_little_full_still_goes_together_but_its_tenons_do_not(shop):
    kept = shopfloor.started(shop)
    full = {(n, "st4"): 1.2 for n in range(1, 6)}
    shopfloor.turn(shop, kept, range(1, 6), off_mm=full)
    found = review.review(shop, kept.id)
    assert found.together == (1, 2, 3, 4, 5)
    assert _column(found, "st4").middle_mm > _column(found, "st4").limit_mm

    other = shopfloor.started(shop)
    fat = {(n, "st1"): 0.3 for n in range(1, 6)}
    shopfloor.turn(shop, other, range(1, 6), off_mm=fat)
    assert review.review(shop, other.id).together == ()


def test_corrected_withdrawn_and_sizing_readings_do_not_count(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    at = {r.station_id: r for r in readings.standing(shop, kept.id) if r.kind == "diameter"}
    rng = random.Random(1)
    fixed = Taken(shopfloor.key(rng), "st7", "14.3", "mm", supersedes=at["st7"].key)
    turning.take(shop, kept.id, 1, fixed, device_id=None, received_at=shopfloor.moment(90))
    gone = Marked(shopfloor.key(rng), "withdrawn", about=at["st4"].key)
    turning.mark(shop, kept.id, 1, gone, device_id=None, received_at=shopfloor.moment(91))
    groove = Taken(shopfloor.key(rng), "st3", "17.6", "mm", phase="sizing")
    turning.take(shop, kept.id, 1, groove, device_id=None, received_at=shopfloor.moment(92))
    found = review.review(shop, kept.id)
    ids = [c.id for c in found.columns]
    assert "st4" not in ids
    assert found.off_mm[0, found.column("st7")] == pytest.approx(0.3)
    assert found.off_mm[0, found.column("st3")] == pytest.approx(at["st3"].value_mm - 16.0)


def test_practice_and_spoiled_pieces_are_left_out_and_named(shop):
    kept = shopfloor.started(shop, wanted=3, spares=0)
    practice = sets.practice_piece(shop, kept.id)
    shopfloor.turn(shop, kept, [1, 2, 3, practice])
    spoiled = Marked(shopfloor.key(random.Random(1)), "spoiled", text="a catch")
    turning.mark(shop, kept.id, 2, spoiled, device_id=None, received_at=shopfloor.moment(300))
    found = review.review(shop, kept.id)
    assert found.numbers == (1, 3)
    assert [(p.number, p.practice, p.lot) for p in found.left_out] == [
        (2, False, "spoiled"),
        (practice, True, "sound"),
    ]


def test_the_order_of_turning_is_that_of_the_final_readings_not_of_the_numbers(shop):
    kept = shopfloor.started(shop)
    rng = random.Random(1)
    with shop.transaction() as db:
        for minute, number in enumerate([4, 1, 3]):
            row = shopfloor.reading(rng, kept, number, "st7", 14.0, shopfloor.moment(minute))
            readings.add(db, row)
    found = review.review(shop, kept.id)
    assert [found.numbers[row] for row in _column(found, "st7").order] == [4, 1, 3]


def test_two_readings_a_quarter_turn_apart_count_as_their_mean(shop):
    kept = shopfloor.started(shop)
    rng = random.Random(1)
    with shop.transaction() as db:
        for axis, value in (("A", 12.6), ("A", 12.7), ("B", 12.9)):
            at = shopfloor.moment(value)
            how = {"axis": axis, "target_mm": 12.7}
            readings.add(db, shopfloor.reading(rng, kept, 1, "st1", value, at, **how))
    found = review.review(shop, kept.id)
    assert found.off_mm[0, 0] == pytest.approx(0.1)
    assert _column(found, "st1").spread.n == 1


def test_a_station_that_creeps_is_told_with_its_caliper(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 7), scatter=0.02, drift_mm={"crown:st5": 0.15})
    found = review.review(shop, kept.id)
    assert found.watch is not None
    assert (found.watch.place.id, found.watch.how) == ("crown:st5", "creeps")
    assert found.watch.slope_mm == pytest.approx(0.15, abs=0.02)
    assert found.watch.letter == _column(found, "crown:st5").letter
    assert found.watch.known_after in (5, 6)


def test_a_long_straight_that_is_hollow_is_found(shop):
    kept = shopfloor.started(shop)
    hollow = {(2, "along:st7:1"): -0.6}
    shopfloor.turn(shop, kept, [1, 2, 3], scatter=0.02, off_mm=hollow)
    (straight,) = review.review(shop, kept.id).straights
    assert (straight.first.id, straight.last.id) == ("st7", "st8")
    assert (straight.measured, straight.even, straight.worst) == (3, 2, 2)
    assert straight.worst_is.range_mm == pytest.approx(0.6, abs=0.05)


def test_spread_is_that_of_the_readings_themselves(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 8))
    found = review.review(shop, kept.id)
    for i, column in enumerate(found.columns):
        # The definition of the sample standard deviation, by numpy.
        assert column.spread.sd_mm == pytest.approx(np.std(found.off_mm[:, i], ddof=1))
        assert column.spread.range_mm == pytest.approx(np.ptp(found.off_mm[:, i]))


def test_the_time_of_a_piece_is_told_from_the_taps_with_pauses_left_out(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 6), minutes_each=14)
    assert review.review(shop, kept.id).minutes_each == pytest.approx(14, abs=0.5)


def test_differences_are_counted_from_the_revision_the_set_is_held_to(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    before = review.review(shop, kept.id)
    i = before.column("st4")
    new = replace(
        before.pattern,
        stations=tuple(
            replace(s, diameter_mm=22.5) if s.id == "st4" else s for s in before.pattern.stations
        ),
    )
    with shop.transaction() as db:
        revision = shopfloor.patterns.add_revision(
            db, kept.pattern_id, new, at=shopfloor.moment(400)
        )
    sets.hold_to(shop, kept.id, revision, sure=True)
    after = review.review(shop, kept.id)
    assert after.off_mm[0, i] == pytest.approx(before.off_mm[0, i] - 0.5)


def test_a_piece_far_from_a_close_set_is_the_odd_one_and_says_nothing_of_the_next(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 8), scatter=0.1, off_mm={(5, "st7"): -0.9})
    found = review.review(shop, kept.id)
    (standout,) = found.standouts
    assert standout.odd
    # The critical value of the single farthest of seven, at 5 % [@nist-handbook, 1.3.5.17.1].
    assert standout.critical == pytest.approx(2.0200, abs=1e-3)
    column = _column(found, "st7")
    assert column.these.answer == "not shown"
    assert column.coming.n == 6
    assert column.coming.reach_mm < 0.4


def test_a_reading_beyond_its_limit_in_a_wide_scatter_stands_out_but_is_not_odd(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 9), scatter=1.0)
    assert [s for s in review.review(shop, kept.id).standouts if not s.odd]


def test_half_an_inch_typed_in_a_millimetre_set_is_asked_about_and_not_believed(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 6))
    at = next(
        r
        for r in readings.standing(shop, kept.id, 3)
        if (r.station_id, r.kind) == ("st7", "diameter")
    )
    wrong = Taken(
        shopfloor.key(random.Random(1)), "st7", "0.55", "mm", supersedes=at.key, sure=True
    )
    turning.take(shop, kept.id, 3, wrong, device_id=None, received_at=shopfloor.moment(500))
    found = review.review(shop, kept.id)
    (asked,) = found.asked
    assert (asked.number, asked.place.id, asked.meant) == (3, "st7", "in")
    assert np.isnan(found.off_mm[found.numbers.index(3), found.column("st7")])
    assert found.standouts == ()
    assert _column(found, "st7").spread.n == 4


def test_a_piece_of_another_set_is_called_a_stranger(shop):
    kept = shopfloor.started(shop)
    wide = {(4, place.id): 1.5 for place in places(shopfloor.back_spindle())}
    shopfloor.turn(shop, kept, range(1, 7), off_mm=wide)
    assert review.review(shop, kept.id).strangers == (4,)


def test_two_sets_mixed_are_asked_about_in_the_review_and_where_pieces_are_chosen(shop):
    kept = shopfloor.started(shop)
    other = {(n, place.id): 1.5 for n in (2, 3, 6) for place in places(shopfloor.back_spindle())}
    shopfloor.turn(shop, kept, range(1, 8), off_mm=other)
    for found in (review.review(shop, kept.id), choosing.choosing(shop, kept.id)):
        assert found.two_lots.fewer == (2, 3, 6)
        assert found.two_lots.more == (1, 4, 5, 7)
        assert found.two_lots.places >= 10


def test_one_set_is_not_asked_about(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 8))
    assert review.review(shop, kept.id).two_lots is None


def test_a_piece_marked_out_from_another_mark_is_told_as_shifted(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 7))
    rng = random.Random(3)
    with shop.transaction() as db:
        for r in readings.standing(shop, kept.id, 2):
            if r.kind == "position":
                moved = shopfloor.reading(
                    rng,
                    kept,
                    2,
                    r.station_id,
                    r.value_mm + 2,
                    shopfloor.moment(600),
                    kind="position",
                    supersedes=r.key,
                )
                readings.add(db, moved)
    up = review.review(shop, kept.id).line_up
    assert list(up.shifted) == [2]
    assert up.shifted[2] == pytest.approx(2, abs=0.4)
    assert {line.number for line in up.lines if not line.found.lines_up} == {2}
    assert {1, 2} in [{jump.left, jump.right} for jump in up.jumps]


def test_a_place_read_a_quarter_turn_apart_is_judged_round_or_not(shop):
    kept = shopfloor.started(shop)
    rng = random.Random(1)
    with shop.transaction() as db:
        for number, (a, b) in enumerate([(12.7, 12.7), (12.7, 12.95)], 1):
            for axis, value in (("A", a), ("B", b)):
                at = shopfloor.moment(number)
                readings.add(db, shopfloor.reading(rng, kept, number, "st1", value, at, axis=axis))
    (found,) = review.review(shop, kept.id).rounds
    assert (found.measured, found.oval, found.worst) == (2, 1, 2)
    assert found.worst_is.apart_mm == pytest.approx(-0.25)


@pytest.mark.parametrize("numbers", [[1], [1, 2]])
def test_few_pieces_all_equal_make_no_fault_and_no_certainty(shop, numbers):
    kept = shopfloor.started(shop)
    rng = random.Random(1)
    with shop.transaction() as db:
        for number in numbers:
            for place in places(shopfloor.back_spindle()):
                at = shopfloor.moment(number)
                row = shopfloor.reading(rng, kept, number, place.id, place.diameter_mm, at)
                readings.add(db, row)
    found = review.review(shop, kept.id)
    assert {c.these.answer for c in found.columns} == {"shown"}
    assert "shown" not in {c.coming.answer for c in found.columns if c.place.kind == "tenon"}
    assert found.watch is None
    assert found.standouts == ()


def test_four_hundred_pieces_are_told_apart_as_nine_are(shop):
    rod = shopfloor.many_stations(5)
    kept = shopfloor.started(shop, rod, wanted=400, spares=0)
    shopfloor.turn(shop, kept, range(1, 401), off_mm={(399, "st3"): 2.0})
    found = review.review(shop, kept.id)
    assert found.off_mm.shape == (400, 5)
    assert found.standouts[0].number == 399
