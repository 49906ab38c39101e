"""The two-minute test of calipers and hand."""

from __future__ import annotations

from math import sqrt

import pytest

from benchside.consistency.spread import step_floor_mm
from benchside.errors import BenchsideError, NotFound, NotUnderstood, OutOfRange
from benchside.job import measuring
from benchside.store import judging
from benchside.store.database import Shop
from benchside.units import Unit

AT = "2026-03-09T12:00:00.000Z"
READ = {1: ("22.14", "22.18", "22.16"), 2: ("16.02", "16.05", "16.02"), 3: ("12.7", "12.7", "12.7")}


def read_through(
    shop: Shop, read: dict[int, tuple[str, ...]], step: str = "mm/100"
) -> measuring.Trial:
    found = measuring.trial(shop, measuring.begin(shop, step, at=AT))
    while found.next is not None:
        place, turn = found.next
        found = measuring.take(
            shop, found.kept.id, place, turn, read[place][turn - 1], sure=False, at=AT
        )
    return found


def test_an_untested_hand_reads_no_better_than_its_step(shop: Shop) -> None:
    found = measuring.error_mm(shop)
    assert not found.tested
    assert found.sd_mm == pytest.approx(0.1 / sqrt(12))


def test_the_hand_comes_back_to_each_place_in_turn_not_three_times_running(shop: Shop) -> None:
    found = measuring.trial(shop, measuring.begin(shop, "mm/100", at=AT))
    way = []
    while found.next is not None:
        way.append(found.next)
        place, turn = found.next
        found = measuring.take(shop, found.kept.id, place, turn, f"{10 * place}", sure=False, at=AT)
    assert [place for place, _ in way] == [1, 2, 3] * 3
    assert [turn for _, turn in way] == [1, 1, 1, 2, 2, 2, 3, 3, 3]


def test_nine_readings_say_how_well_they_repeat(shop: Shop) -> None:
    found = read_through(shop, READ)
    assert found.says is not None
    # By hand: sums of squares 0.0008, 0.0006 and 0 within the places, on 3 times 2 degrees.
    assert found.says.degrees == 6
    assert found.says.sd_mm == pytest.approx(sqrt(0.0014 / 6), rel=1e-6)
    assert found.within_mm == pytest.approx(1.959964 * sqrt(0.0014 / 6), rel=1e-6)
    assert measuring.error_mm(shop) == measuring.Error(found.says.sd_mm, 0.01, 6)


def test_readings_that_agree_to_the_last_step_are_floored_by_it(shop: Shop) -> None:
    found = read_through(shop, {1: ("22.1",) * 3, 2: ("16.0",) * 3, 3: ("12.7",) * 3}, "mm/10")
    assert found.says is not None
    assert found.says.floored
    assert measuring.error_mm(shop).sd_mm == pytest.approx(0.1 / sqrt(12))


def test_a_test_left_half_way_counts_for_nothing_and_the_newest_whole_one_counts(
    shop: Shop,
) -> None:
    first = read_through(shop, READ)
    half = measuring.begin(shop, "mm/100", at=AT)
    measuring.take(shop, half, 1, 1, "30", sure=False, at=AT)
    newest = measuring.newest_whole(shop)
    assert newest is not None
    assert newest.kept.id == first.kept.id
    read_through(shop, {1: ("22",) * 3, 2: ("16",) * 3, 3: ("12",) * 3})
    assert measuring.error_mm(shop).sd_mm == pytest.approx(0.01 / sqrt(12))


def test_a_slip_is_read_again_and_the_first_figure_is_kept_but_does_not_count(shop: Shop) -> None:
    found = read_through(shop, READ)
    again = measuring.take(shop, found.kept.id, 1, 2, "22.15", sure=False, at=AT)
    assert again.typed[0] == ("22.14", "22.15", "22.16")
    assert len(judging.every_repeat(shop, found.kept.id)) == 10


def test_a_figure_far_from_what_was_read_there_is_asked_about(shop: Shop) -> None:
    test_id = measuring.begin(shop, "mm/100", at=AT)
    measuring.take(shop, test_id, 1, 1, "12.7", sure=False, at=AT)
    with pytest.raises(BenchsideError) as trouble:
        measuring.take(shop, test_id, 1, 2, "0.5", sure=False, at=AT)
    assert trouble.value.field == "sure"
    assert measuring.trial(shop, test_id).done == 1
    assert measuring.take(shop, test_id, 1, 2, "0.5", sure=True, at=AT).done == 2


def test_what_is_no_reading_is_not_taken(shop: Shop) -> None:
    test_id = measuring.begin(shop, "in/64", at=AT)
    with pytest.raises(NotUnderstood):
        measuring.take(shop, test_id, 1, 1, "about", sure=False, at=AT)
    with pytest.raises(OutOfRange):
        measuring.take(shop, test_id, 1, 1, "0", sure=False, at=AT)
    with pytest.raises(OutOfRange):
        measuring.take(shop, test_id, 4, 1, "5/8", sure=False, at=AT)
    with pytest.raises(NotUnderstood):
        measuring.begin(shop, "mm/3", at=AT)
    with pytest.raises(NotFound):
        measuring.trial(shop, 99)
    assert measuring.take(shop, test_id, 1, 1, "5/8", sure=False, at=AT).read_mm[0][0] == 15.875


@pytest.mark.parametrize(
    ("typed", "unit", "step_mm"),
    [
        ("18.25", "mm", 0.01),
        ("18,2 mm", "in/64", 0.1),
        ("0.625", "in", 0.0254),
        ("0.625in", "mm", 0.0254),
        ("5/8", "in/16", 1.5875),
        ("1 1/4", "in/64", 0.396875),
        ("⅝", "mm", 0.396875),
        ("1", "in/64", 0.396875),
        ("18", "mm", 1.0),
    ],
)
def test_the_step_shows_in_how_a_length_was_typed(typed: str, unit: Unit, step_mm: float) -> None:
    assert measuring.step_typed_mm(typed, unit) == pytest.approx(step_mm)


def test_readings_to_a_coarser_step_than_the_test_are_no_better_than_that(shop: Shop) -> None:
    read_through(shop, READ)
    found = measuring.error_of(shop, [("5/8", "in/64"), ("1 1/4", "in/64")])
    assert found.sd_mm == pytest.approx(step_floor_mm(25.4 / 64))
    assert found.tested
