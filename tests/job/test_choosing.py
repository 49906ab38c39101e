"""Choosing the best pieces and their places, against all choices tried one by one."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from benchside.errors import NotFound, OutOfRange
from benchside.job import choosing
from benchside.store import readings
from benchside.store.database import Shop
from benchside.store.readings import Mark
from benchside.store.sets import SpindleSet
from tests import shopfloor


def tried_one_by_one(found: choosing.Choosing, count: int) -> list[tuple[float, set[int]]]:
    """Every choice with its largest difference in tolerances, the best first."""
    shares = found.off_mm / found.limits_mm
    tried = [
        (float(np.max(np.ptp(shares[list(rows)], axis=0))), {found.numbers[row] for row in rows})
        for rows in combinations(range(len(found.numbers)), count)
    ]
    return sorted(tried, key=lambda choice: choice[0])


def withdraw(shop: Shop, kept: SpindleSet, number: int, place: str) -> None:
    """Take back the size that was read of a piece at a place."""
    gone = next(
        r
        for r in readings.standing(shop, kept.id, number)
        if (r.station_id, r.kind) == (place, "diameter")
    )
    at, key = shopfloor.moment(600), f"{int(gone.key, 16) ^ 1:032x}"
    with shop.transaction() as db:
        readings.add_mark(db, Mark(key, kept.id, number, "withdrawn", "", gone.key, "", at, at))


def test_the_best_five_of_eight_are_those_that_trying_all_choices_finds(shop):
    kept = shopfloor.started(shop, wanted=5, spares=3)
    shopfloor.turn(shop, kept, range(1, 9), scatter=0.5)
    found = choosing.choosing(shop, kept.id)
    first, second = tried_one_by_one(found, 5)[:2]
    assert found.chosen is not None
    assert set(found.chosen.order) == first[1]
    assert found.chosen.apart.limits == pytest.approx(first[0])
    swap = found.chosen.next_best
    assert swap is not None
    assert swap.apart.limits == pytest.approx(second[0])
    assert (first[1] - set(swap.out)) | set(swap.into) == second[1]
    assert {over.number for over in found.over} == set(found.numbers) - first[1]


def test_a_pinned_piece_is_in_and_stands_at_its_place(shop):
    kept = shopfloor.started(shop, wanted=4, spares=2)
    shopfloor.turn(shop, kept, range(1, 7), off_mm={(2, "st7"): -0.9})
    assert 2 not in choosing.choosing(shop, kept.id).chosen.order
    choosing.pin(shop, kept.id, 2, 3)
    found = choosing.choosing(shop, kept.id)
    assert found.chosen.order[2] == 2
    assert [(pin.spindle, pin.place) for pin in found.pins] == [(2, 3)]
    choosing.unpin(shop, kept.id, 2)
    assert 2 not in choosing.choosing(shop, kept.id).chosen.order


def test_the_odd_piece_is_placed_at_an_end_and_is_the_first_to_do_without(shop):
    kept = shopfloor.started(shop, wanted=7, spares=0)
    shopfloor.turn(shop, kept, range(1, 8), off_mm={(4, "st7"): -0.9})
    found = choosing.choosing(shop, kept.id).chosen
    assert found.odd.number == 4
    assert 4 in (found.order[0], found.order[-1])
    assert found.first_out.number == 4
    assert found.unlike <= found.unlike_by_number


def test_a_piece_not_measured_everywhere_is_named_with_the_place(shop):
    kept = shopfloor.started(shop, wanted=4, spares=0)
    shopfloor.turn(shop, kept, range(1, 5))
    withdraw(shop, kept, 3, "st7")
    found = choosing.choosing(shop, kept.id)
    assert [(u.number, u.place.id, u.missing) for u in found.judged_without] == [(3, "st7", 1)]
    assert found.unread == ()
    assert set(found.chosen.order) == {1, 2, 3, 4}
    withdraw(shop, kept, 3, "st4")
    choosing.pin(shop, kept.id, 3, None)
    found = choosing.choosing(shop, kept.id)
    assert [(u.number, u.place.id, u.missing) for u in found.unread] == [(3, "st4", 2)]
    assert found.judged_without == ()
    assert found.unpinned == (3,)
    assert set(found.chosen.order) == {1, 2, 4}


def test_a_piece_judged_without_one_place_is_compared_at_all_others(shop):
    kept = shopfloor.started(shop, wanted=4, spares=1)
    shopfloor.turn(shop, kept, range(1, 6), scatter=0.05, off_mm={(2, "st4"): 2.0})
    withdraw(shop, kept, 2, "st7")
    found = choosing.choosing(shop, kept.id)
    assert set(found.chosen.order) == {1, 3, 4, 5}
    assert found.chosen.fit == (1, 3, 4, 5)
    assert choosing.choosing(shop, kept.id, 5).chosen.fit == (1, 3, 4, 5)
    shares = (found.off_mm / found.limits_mm)[[0, 2, 3, 4]]
    assert found.chosen.apart.limits == pytest.approx(float(np.max(np.ptp(shares, axis=0))))


def test_a_place_read_on_few_pieces_does_not_keep_the_others_out(shop):
    kept = shopfloor.started(shop, wanted=4, spares=0)
    shopfloor.turn(shop, kept, range(1, 5))
    with shop.transaction() as db:
        for number in (1, 2, 3):
            for i, r in enumerate(readings.standing(shop, kept.id, number)):
                if r.station_id == "st7":
                    at = shopfloor.moment(600)
                    key = f"{number * 1000 + i:032x}"
                    readings.add_mark(
                        db, Mark(key, kept.id, number, "withdrawn", "", r.key, "", at, at)
                    )
    found = choosing.choosing(shop, kept.id)
    assert set(found.chosen.order) == {1, 2, 3, 4}


@pytest.mark.parametrize("turned", [0, 1])
def test_nothing_to_choose_from_is_no_fault(shop, turned):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 1 + turned))
    found = choosing.choosing(shop, kept.id)
    assert found.chosen is None
    assert found.problem is None


def test_pieces_all_equal_go_in_any_order(shop):
    kept = shopfloor.started(shop, shopfloor.many_stations(4), wanted=5, spares=0)
    shopfloor.turn(shop, kept, range(1, 6), scatter=0.0)
    found = choosing.choosing(shop, kept.id).chosen
    assert sorted(found.order) == [1, 2, 3, 4, 5]
    assert found.apart.by_mm == pytest.approx(0)
    assert found.odd is None
    assert found.unlike == pytest.approx(0)


def test_a_stair_of_seventy_is_chosen_among_like_any_set(shop):
    kept = shopfloor.started(shop, shopfloor.many_stations(3), wanted=40, spares=30)
    shopfloor.turn(shop, kept, range(1, 71))
    found = choosing.choosing(shop, kept.id)
    assert len(found.chosen.order) == 40
    assert len(found.over) == 30
    assert not found.chosen.exact_order


def test_more_pins_than_places_is_said(shop):
    kept = shopfloor.started(shop, wanted=2, spares=3)
    shopfloor.turn(shop, kept, range(1, 6))
    for number in (1, 2, 3):
        choosing.pin(shop, kept.id, number, None)
    found = choosing.choosing(shop, kept.id)
    assert found.chosen is None
    assert "More than 2 pieces" in found.problem.message


def test_pins_that_cannot_be_are_refused(shop):
    kept = shopfloor.started(shop)
    with pytest.raises(NotFound):
        choosing.pin(shop, kept.id, 99, None)
    with pytest.raises(NotFound):
        choosing.pin(shop, 99, 1, None)
    for place in (0, 11):
        with pytest.raises(OutOfRange, match="from the left"):
            choosing.pin(shop, kept.id, 1, place)
