"""The watch over the last pieces: what it tells, when, and what silences it."""

from __future__ import annotations

import random
from dataclasses import replace

from benchside.job import calipers, review, turning, watching, wood
from benchside.job.turning import Marked, Taken
from benchside.job.work import work_of
from benchside.web import aims as told_at_steps
from tests import shopfloor

CROWN = {"crown:st5": 0.2}


def test_a_set_not_begun_has_nothing_to_watch(shop):
    assert shopfloor.drifting(shop, shopfloor.started(shop).id) is None


def test_four_pieces_tell_nothing_yet_and_six_do(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 5), scatter=0.02, drift_mm=CROWN)
    assert shopfloor.drifting(shop, kept.id) is None
    other = shopfloor.started(shop)
    shopfloor.turn(shop, other, range(1, 7), scatter=0.02, drift_mm=CROWN)
    told = shopfloor.drifting(shop, other.id)
    assert told is not None
    assert (told.place.id, told.kind, told.how) == ("crown:st5", "diameter", "creeps")
    assert told.low_mm < told.moved_mm < told.high_mm


def test_the_page_and_the_lathe_are_told_the_same(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 7), scatter=0.02, drift_mm=CROWN)
    at_the_lathe = shopfloor.drifting(shop, kept.id)
    on_the_page = review.review(shop, kept.id).watch
    assert on_the_page is not None
    assert at_the_lathe == replace(on_the_page, known_after=None)


def test_sets_in_which_nothing_moves_are_left_in_peace(shop):
    quiet = 0
    for seed in range(8):
        kept = shopfloor.started(shop)
        shopfloor.turn(shop, kept, range(1, 10), seed=seed)
        quiet += shopfloor.drifting(shop, kept.id) is None
    assert quiet == 8


def test_what_goes_by_one_caliper_at_one_setting_is_judged_together(shop):
    kept = shopfloor.started(shop)
    both = {"st7": 0.1, "along:st7:1": 0.1, "st8": 0.1}
    shopfloor.turn(shop, kept, range(1, 8), scatter=0.02, drift_mm=both)
    told = shopfloor.drifting(shop, kept.id)
    assert told is not None
    assert {place.id for place in told.places} == {"st7", "st8"}


def test_a_caliper_looked_at_is_judged_by_the_pieces_since(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 7), scatter=0.02, drift_mm=CROWN)
    told = shopfloor.drifting(shop, kept.id)
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
    assert shopfloor.drifting(shop, kept.id) is None


def test_an_odd_piece_so_marked_does_not_hide_a_drift(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(
        shop, kept, range(1, 9), scatter=0.02, drift_mm=CROWN, off_mm={(4, "crown:st5"): -2.5}
    )
    assert shopfloor.drifting(shop, kept.id) is None
    odd = Marked(shopfloor.key(random.Random(1)), "odd")
    turning.mark(shop, kept.id, 4, odd, device_id=None, received_at=shopfloor.moment(600))
    told = shopfloor.drifting(shop, kept.id)
    assert told is not None
    assert told.place.id == "crown:st5"


def test_a_tenon_that_drifts_is_aimed_at_its_own_size(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 8), scatter=0.1, drift_mm={"st1": 0.06, "st2": 0.06})
    told = shopfloor.drifting(shop, kept.id)
    assert told is not None
    assert told.place.kind == "tenon"
    assert told.aim_mm == told.target_mm


def test_what_moves_less_than_a_quarter_of_its_limit_is_not_worth_a_stop(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 10), scatter=0.0, drift_mm={"crown:st5": 0.02})
    assert shopfloor.drifting(shop, kept.id) is None


def test_one_piece_out_of_its_limits_moves_no_aim(shop):
    """Of many pieces scattered by a half of the limit, where the odd test alone lets it pass."""
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 5), scatter=0.5, seed=6, off_mm={(4, "crown:st5"): -1.0})
    _, aims = watching.told(shop, kept.id, work_of(shop, kept))
    assert "crown:st5" not in {aim.place.id for aim in aims}


def test_a_piece_mounted_to_other_sizes_is_aimed_in_its_own(shop):
    """Six pieces turned green stand half a millimetre over at a crown; the wood is then said to be
    dry. A seventh, on the lathe to the green sizes, joins them half a millimetre over those."""
    kept = shopfloor.started(shop)
    green = wood.Given("white ash", "green", "green", "cold_winters")
    wood.give(shop, kept.id, green, at=shopfloor.moment(0))
    mount = Marked("a" * 32, "step", "mount")
    turning.mark(shop, kept.id, 7, mount, device_id=None, received_at=shopfloor.moment(1))
    doing = work_of(shop, kept)
    for number in range(1, 7):
        typed = f"{doing.places['crown:st5'].diameter_mm + 0.5 + 0.01 * number:.2f}"
        taken = Taken(f"{number:032x}", "crown:st5", typed, "mm")
        at = shopfloor.moment(10 * number)
        turning.take(shop, kept.id, number, taken, device_id=None, received_at=at)
    dry = wood.Given("white ash", "kiln-dry", "dry", "cold_winters")
    wood.give(shop, kept.id, dry, at=shopfloor.moment(100))
    for number, drawn_mm in ((7, doing.places["crown:st5"].diameter_mm), (8, 22.04)):
        sitting = turning.sitting(shop, kept.id, number)
        assert sitting.work.places["crown:st5"].diameter_mm == drawn_mm
        watch, found = watching.told(shop, kept.id, sitting.work)
        drift = told_at_steps.drift(watch, found, sitting.work, sitting.unit)
        assert drift is not None
        (aim,) = [one for one in drift["aims"] if one["at"] == "final:crown:st5"]
        assert drawn_mm + 0.4 < aim["to"] < drawn_mm + 0.6
        assert f"drawn {drawn_mm:.1f}" in aim["say"]
        # What is judged by is the figure that is shown.
        assert aim["put"][".read .aim b"] == f"{aim['to']:.1f} mm"
        assert aim["to"] == round(aim["to"], 1)
