"""How long the pieces took, and how long the rest will."""

from __future__ import annotations

import pytest

from benchside.job import sets, timing
from tests import shopfloor


def test_a_set_not_begun_has_no_times(shop):
    found = timing.timing(shop, shopfloor.started(shop).id)
    assert found.forecast.practice is None
    assert found.forecast.ahead is None
    assert found.stages == ()


def test_pieces_that_take_fourteen_minutes_each_are_told_so_and_the_rest_follows(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 6), minutes_each=14)
    found = timing.timing(shop, kept.id).forecast
    assert found.numbers == (1, 2, 3, 4, 5)
    # The first tap of a piece comes after a pause, so what went before it is not counted.
    assert found.minutes == pytest.approx([14] * 5, abs=0.5)
    assert found.to_make == 4
    assert found.practice.doubling == pytest.approx(1, abs=0.01)
    assert found.ahead.minutes == pytest.approx(4 * 14, abs=2)
    assert found.ahead.low <= found.ahead.minutes <= found.ahead.high


def test_the_stages_add_up_to_the_piece(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 4), minutes_each=14)
    found = timing.timing(shop, kept.id)
    assert sum(minutes for _, minutes in found.stages) == pytest.approx(14, abs=0.5)
    # Three tenths of each piece were spent reading it.
    assert dict(found.stages)["final"] == pytest.approx(0.3 * 14, abs=1)


def test_a_practice_piece_taught_the_hand_but_is_not_one_of_the_set(shop):
    kept = shopfloor.started(shop, wanted=2, spares=0)
    practice = sets.practice_piece(shop, kept.id)
    shopfloor.turn(shop, kept, [practice, 1])
    found = timing.timing(shop, kept.id).forecast
    assert set(found.numbers) == {practice, 1}
    assert found.to_make == 1


def test_a_set_that_is_done_has_nothing_ahead(shop):
    kept = shopfloor.started(shop, wanted=3, spares=0)
    shopfloor.turn(shop, kept, range(1, 4))
    ahead = timing.timing(shop, kept.id).forecast.ahead
    assert (ahead.pieces, ahead.minutes) == (0, 0)


@pytest.mark.parametrize(("last", "slow"), [(27, None), (45, 6)])
def test_a_piece_that_took_more_than_twice_the_usual_is_named(shop, last, slow):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 6), minutes_each=14)
    shopfloor.turn(shop, kept, [6], minutes_each=last, seed=8)
    found = timing.timing(shop, kept.id).forecast
    assert found.usual == pytest.approx(14, abs=0.5)
    if slow is None:
        assert found.slow is None
    else:
        assert found.slow == (slow, pytest.approx(last, abs=1.5))


def test_of_a_set_without_times_no_piece_is_usual_or_slow(shop):
    found = timing.timing(shop, shopfloor.started(shop).id).forecast
    assert (found.usual, found.slow) == (None, None)
