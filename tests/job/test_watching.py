"""The watch over the last pieces: what it tells, when, and what silences it."""

from __future__ import annotations

import random
from dataclasses import replace

from benchside.job import calipers, review, turning, watching
from benchside.job.turning import Marked
from tests import shopfloor

CROWN = {"crown:st5": 0.2}


def test_a_set_not_begun_has_nothing_to_watch(shop):
    assert watching.watch(shop, shopfloor.started(shop).id) is None


def test_four_pieces_tell_nothing_yet_and_six_do(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 5), scatter=0.02, drift_mm=CROWN)
    assert watching.watch(shop, kept.id) is None
    other = shopfloor.started(shop)
    shopfloor.turn(shop, other, range(1, 7), scatter=0.02, drift_mm=CROWN)
    told = watching.watch(shop, other.id)
    assert told is not None
    assert (told.place.id, told.kind, told.how) == ("crown:st5", "diameter", "creeps")
    assert told.low_mm < told.moved_mm < told.high_mm


def test_the_page_and_the_lathe_are_told_the_same(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 7), scatter=0.02, drift_mm=CROWN)
    at_the_lathe = watching.watch(shop, kept.id)
    on_the_page = review.review(shop, kept.id).watch
    assert on_the_page is not None
    assert at_the_lathe == replace(on_the_page, known_after=None)


def test_sets_in_which_nothing_moves_are_left_in_peace(shop):
    quiet = 0
    for seed in range(8):
        kept = shopfloor.started(shop)
        shopfloor.turn(shop, kept, range(1, 10), seed=seed)
        quiet += watching.watch(shop, kept.id) is None
    assert quiet == 8


def test_what_goes_by_one_caliper_at_one_setting_is_judged_together(shop):
    kept = shopfloor.started(shop)
    both = {"st7": 0.1, "along:st7:1": 0.1, "st8": 0.1}
    shopfloor.turn(shop, kept, range(1, 8), scatter=0.02, drift_mm=both)
    told = watching.watch(shop, kept.id)
    assert told is not None
    assert {place.id for place in told.places} == {"st7", "st8"}


def test_a_caliper_looked_at_is_judged_by_the_pieces_since(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 7), scatter=0.02, drift_mm=CROWN)
    told = watching.watch(shop, kept.id)
    assert told is not None
    calipers.mark(
        shop,
        kept.id,
        told.letter,
        "caliper_checked",
        key="a" * 32,
        at=shopfloor.moment(600),
        device_id=None,
    )
    assert watching.watch(shop, kept.id) is None


def test_an_odd_piece_so_marked_does_not_hide_a_drift(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(
        shop, kept, range(1, 9), scatter=0.02, drift_mm=CROWN, off_mm={(4, "crown:st5"): -2.5}
    )
    assert watching.watch(shop, kept.id) is None
    odd = Marked(shopfloor.key(random.Random(1)), "odd")
    turning.mark(shop, kept.id, 4, odd, device_id=None, received_at=shopfloor.moment(600))
    told = watching.watch(shop, kept.id)
    assert told is not None
    assert told.place.id == "crown:st5"


def test_a_tenon_that_drifts_is_aimed_at_its_own_size(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 8), scatter=0.1, drift_mm={"st1": 0.06, "st2": 0.06})
    told = watching.watch(shop, kept.id)
    assert told is not None
    assert told.place.kind == "tenon"
    assert told.aim_mm == told.target_mm


def test_what_moves_less_than_a_quarter_of_its_limit_is_not_worth_a_stop(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 10), scatter=0.0, drift_mm={"crown:st5": 0.02})
    assert watching.watch(shop, kept.id) is None


def test_one_piece_out_of_its_limits_moves_no_aim(shop):
    """Of many pieces scattered by a half of the limit, where the odd test alone lets it pass."""
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 5), scatter=0.5, seed=6, off_mm={(4, "crown:st5"): -1.0})
    _, aims = watching.told(shop, kept.id)
    assert "crown:st5" not in {aim.place.id for aim in aims}
