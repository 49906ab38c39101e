"""Weighing a set: moisture now, the day it will be dry, and what lies about too long."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from math import exp
from pathlib import Path

import pytest

from benchside.errors import BenchsideError, NotUnderstood, OutOfRange
from benchside.job import drying, exchange, forms, scales, turning, wood
from benchside.job.turning import Marked, Surprising
from benchside.moments import as_text
from benchside.store import wood as store
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet
from benchside.store.wood import DryingMark, add_drying_mark
from tests import shopfloor

START = datetime(2026, 2, 1, 8, 0, tzinfo=UTC)
TURNED = (1, 2, 3)
AIR = (20.0, 30.0)  # comes to 6.2 %


def at(day: float) -> str:
    return as_text(START + timedelta(days=day))


def key(i: int) -> str:
    return f"{i:032x}"


@pytest.fixture
def kept(shop: Shop) -> SpindleSet:
    made = shopfloor.started(shop)
    given = wood.Given("white ash", "green", "green", "figure", lives_mc=8.0)
    wood.give(shop, made.id, given, at=at(-1))
    for number in TURNED:
        done = Marked(key(9000 + number), "done", "done")
        turning.mark(shop, made.id, number, done, device_id=None, received_at=at(-0.5))
    drying.keep_room(shop, made.id, *AIR)
    return made


@pytest.fixture
def elsewhere(tmp_path: Path) -> Path:
    folder = tmp_path / "elsewhere"
    folder.mkdir()
    return folder


def weigh_daily(
    shop: Shop, kept: SpindleSet, number: int, days: int, rate: float = 0.45, first: int = 0
) -> None:
    """150 g of dry wood that began at 45 % and goes toward what the air gives."""
    for day in range(first, days):
        grams = 150 * (1 + (6.2 + 38.8 * exp(-rate * day)) / 100)
        drying.weigh(
            shop, kept.id, number, f"{grams:.1f}", "g", key=key(100 * number + day), at=at(day)
        )


def test_before_anything_is_weighed_it_says_so(shop, kept):
    view = drying.view(shop, kept.id, now=at(0))
    assert (view.pieces, view.verdict, view.estimate_days) == ((), None, None)
    assert view.air_mc == pytest.approx(6.2, abs=0.1)
    assert (view.start_mc, view.start_by) == (45.0, "figure")


def test_a_pace_of_the_maker_s_own_gives_an_estimate(shop, kept):
    drying.keep_room(shop, kept.id, *AIR, 2e-10)
    found = drying.view(shop, kept.id, now=at(0)).estimate_days
    assert 2 < found < 8


def test_daily_weights_forecast_the_day_with_a_range_that_narrows(shop, kept):
    weigh_daily(shop, kept, 2, 4)
    early = drying.view(shop, kept.id, now=at(4)).pieces[0]
    assert early.verdict == "not yet"
    assert early.moisture_now == pytest.approx(6.2 + 38.8 * exp(-0.45 * 3), abs=0.2)
    met = 6.8  # 6.2 + 38.8 exp(-0.45 t) = 8
    assert early.forecast.day_low < met < early.forecast.day_high
    weigh_daily(shop, kept, 2, 6, first=4)
    late = drying.view(shop, kept.id, now=at(6)).pieces[0]
    assert late.forecast.day == pytest.approx(met, abs=0.5)
    width = early.forecast.day_high - early.forecast.day_low
    assert late.forecast.day_high - late.forecast.day_low < width


def test_the_slowest_piece_speaks_for_the_set(shop, kept):
    weigh_daily(shop, kept, 1, 9)
    weigh_daily(shop, kept, 3, 9, rate=0.2)
    view = drying.view(shop, kept.id, now=at(9))
    assert [p.verdict for p in view.pieces] == ["dry", "not yet"]
    assert view.slowest.number == 3


def test_the_slowest_is_the_one_dry_last_whenever_its_first_weighing_was(shop, kept):
    """A piece weighed since long ago has many days behind it, and may still be dry sooner."""
    weigh_daily(shop, kept, 1, 7, rate=0.4)
    for day in range(4, 7):
        grams = 150 * (1 + (6.2 + 38.8 * exp(-0.4 * (day - 4))) / 100)
        drying.weigh(shop, kept.id, 3, f"{grams:.1f}", "g", key=key(300 + day), at=at(day))
    view = drying.view(shop, kept.id, now=at(6))
    sooner, later = view.pieces
    assert sooner.forecast.day > later.forecast.day
    assert sooner.forecast.day < later.forecast.day + 4
    assert view.slowest.number == 3


def test_two_weighings_learn_the_pace_for_an_estimate(shop, kept):
    weigh_daily(shop, kept, 1, 2)
    view = drying.view(shop, kept.id, now=at(2))
    assert view.pieces[0].forecast is None
    assert view.learned_m2_s > 0
    assert view.estimate_days > 1


def test_an_offcut_from_the_oven_tells_how_wet_it_began(shop, kept):
    drying.weigh_slice(shop, kept.id, "13,6", "", "g", key=key(1), at=at(0))
    assert drying.view(shop, kept.id, now=at(0)).start_by == "figure"
    drying.weigh_slice(shop, kept.id, "", "10", "g", key=key(1), at=at(1))
    view = drying.view(shop, kept.id, now=at(1))
    assert (view.start_mc, view.start_by) == (pytest.approx(36.0), "slices")
    drying.strike_slice(shop, kept.id, key(1), at=at(2))
    assert drying.view(shop, kept.id, now=at(2)).start_by == "figure"


@pytest.mark.parametrize(
    ("wet", "dry", "field"), [("10", "12", "dry"), ("", "", "wet"), ("x", "", "wet")]
)
def test_an_offcut_that_cannot_be_is_refused(shop, kept, wet, dry, field):
    with pytest.raises(BenchsideError) as refused:
        drying.weigh_slice(shop, kept.id, wet, dry, "g", key=key(1), at=at(0))
    assert refused.value.field == field


def test_a_weight_that_rises_is_asked_about_and_then_told(shop, kept):
    weigh_daily(shop, kept, 1, 4)
    with pytest.raises(Surprising) as asked:
        drying.weigh(shop, kept.id, 1, "199", "g", key=key(9), at=at(5))
    assert "would have gained" in asked.value.message
    drying.weigh(shop, kept.id, 1, "199", "g", key=key(9), at=at(5), sure=True)
    assert drying.view(shop, kept.id, now=at(5)).verdict == "rising"
    drying.strike(shop, kept.id, key(9), at=at(5))
    view = drying.view(shop, kept.id, now=at(5))
    assert view.verdict == "not yet"
    assert [w.key for w in view.struck] == [key(9)]


def test_ounces_and_grams_are_one_weight(shop, kept):
    drying.weigh(shop, kept.id, 1, "7.67 oz", "g", key=key(1), at=at(0))
    weighed = drying.view(shop, kept.id, now=at(0)).pieces[0].weighings[0]
    assert weighed.mass_g == pytest.approx(7.67 * 28.349523125)


@pytest.mark.parametrize("typed", ["", "heavy", "0", "-3", "1,500", "90 kg"])
def test_no_weight_at_all_is_refused(shop, kept, typed):
    with pytest.raises((NotUnderstood, OutOfRange)) as refused:
        drying.weigh(shop, kept.id, 1, typed, "g", key=key(1), at=at(0))
    assert refused.value.field == "mass"


def test_a_piece_lighter_than_its_own_dry_wood_is_trouble_not_a_crash(shop, kept):
    for i, grams in enumerate(("217.5", "160", "140")):
        drying.weigh(shop, kept.id, 1, grams, "g", key=key(i), at=at(i))
    found = drying.view(shop, kept.id, now=at(3)).pieces[0]
    assert found.verdict is None
    assert found.trouble is not None


@pytest.mark.parametrize(
    ("air", "field"), [((20.0, 101.0), "rh_percent"), ((150.0, 40.0), "temperature_c")]
)
def test_air_that_cannot_be_is_refused(shop, kept, air, field):
    with pytest.raises(OutOfRange) as refused:
        drying.keep_room(shop, kept.id, *air)
    assert refused.value.field == field


def test_dry_tenons_that_lie_are_pointed_out_after_two_days(shop, kept):
    drying.note(shop, kept.id, 2, "dried", key=key(1), at=at(10))
    fresh = drying.view(shop, kept.id, now=at(11)).lies[0]
    assert (fresh.numbers, fresh.stale, fresh.sized_at) == ((2,), False, None)
    drying.note(shop, kept.id, 2, "sized", key=key(2), at=at(11))
    stale = drying.view(shop, kept.id, now=at(13)).lies[0]
    assert (stale.stale, stale.sized_at) == (True, at(11))
    drying.note(shop, kept.id, 2, "fitted", key=key(3), at=at(13))
    assert drying.view(shop, kept.id, now=at(14)).lies == ()


def test_all_of_it_goes_out_and_comes_back(shop, kept, elsewhere):
    weigh_daily(shop, kept, 1, 3)
    drying.weigh_slice(shop, kept.id, "13.6", "10", "g", key=key(1), at=at(0))
    drying.note(shop, kept.id, None, "dried", key=key(2), at=at(3))
    drying.strike(shop, kept.id, key(101), at=at(3))
    document = exchange.export_set(shop, kept.id, now=at(4))
    other = shopfloor.open_shop(elsewhere)
    try:
        read = exchange.from_json(exchange.to_json(document))
        exchange.import_into(other, read, now=at(4))
        back = exchange.export_set(other, 1, now=at(4))
        assert back["sets"][0]["wood"] == document["sets"][0]["wood"]
        assert exchange.import_into(other, read, now=at(5)).sets == 0
    finally:
        other.close()


def test_an_offcut_that_would_weigh_more_out_of_the_oven_is_asked_about(shop, kept):
    with pytest.raises(OutOfRange) as refused:
        drying.weigh_slice(shop, kept.id, "10", "12", "g", key=key(1), at=at(0))
    assert refused.value.field == "dry"
    assert "weigh more than wet" in refused.value.message
    assert drying.view(shop, kept.id, now=at(1)).slices == ()


def test_weights_typed_later_from_paper_stand_by_their_day(shop, kept):
    # 150 g of dry wood that began at 45 % and goes toward 6.2 % by 0.45 a day.
    for day in (3, 0, 2, 1):
        grams = 150 * (1 + (6.2 + 38.8 * exp(-0.45 * day)) / 100)
        drying.weigh(shop, kept.id, 1, f"{grams:.1f}", "g", key=key(day), at=at(day))
    piece = drying.view(shop, kept.id, now=at(4)).pieces[0]
    assert piece.days == (0.0, 1.0, 2.0, 3.0)
    assert piece.verdict == "not yet"
    assert piece.moistures[0] == pytest.approx(45.0)
    with pytest.raises(Surprising) as asked:  # over what it weighed a day before
        drying.weigh(shop, kept.id, 1, "200", "g", key=key(9), at=at(1.5))
    assert "then 200 g: it would have gained" in asked.value.message
    with pytest.raises(Surprising):  # under what it weighed a day later
        drying.weigh(shop, kept.id, 1, "160", "g", key=key(9), at=at(1.5))
    with pytest.raises(OutOfRange) as twice:
        drying.weigh(shop, kept.id, 1, "170", "g", key=key(9), at=at(2))
    assert twice.value.field == "day"


def test_a_day_from_paper_is_its_noon_and_never_to_come():
    now = "2026-02-10T09:30:00.000Z"
    assert forms.moment("", now=now) == forms.moment("2026-02-10", now=now) == now
    noon = datetime.fromisoformat(forms.moment("2026-02-08", now=now)).astimezone()
    assert (noon.day, noon.hour) == (8, 12)
    for typed in ("2026-02-11", "2006-02-08", "0026-02-08", "8 Feb"):
        with pytest.raises((NotUnderstood, OutOfRange)):
            forms.moment(typed, now=now)


def test_scales_in_fractions_of_an_ounce_count_their_own_step(shop, kept):
    for day, typed in enumerate(("7 5/8", "7 1/4", "7 oz")):
        drying.weigh(shop, kept.id, 1, typed, "oz", key=key(day), at=at(day))
    piece = drying.view(shop, kept.id, now=at(3)).pieces[0]
    assert piece.weighings[0].mass_g == pytest.approx(7.625 * 28.349523125)
    assert [drying.shown(w) for w in piece.weighings] == ["7 5/8 oz", "7 1/4 oz", "7 oz"]


def test_the_first_weight_of_a_piece_still_to_be_turned_is_asked_about(shop, kept):
    with pytest.raises(Surprising) as asked:
        drying.weigh(shop, kept.id, 7, "217", "g", key=key(1), at=at(0))
    assert asked.value.field == "number"
    drying.weigh(shop, kept.id, 7, "217", "g", key=key(1), at=at(0), sure=True)
    drying.weigh(shop, kept.id, 7, "200", "g", key=key(2), at=at(1))


def test_all_that_came_out_dry_are_those_that_are_turned(shop, kept):
    with pytest.raises(OutOfRange):
        drying.note(shop, kept.id, None, "sized", key=key(1), at=at(3))
    drying.note(shop, kept.id, None, "dried", key=key(2), at=at(3))
    (lies,) = drying.view(shop, kept.id, now=at(3)).lies
    assert lies.numbers == TURNED
    drying.note(shop, kept.id, 2, "fitted", key=key(3), at=at(4))
    drying.note(shop, kept.id, None, "sized", key=key(4), at=at(4))
    (lies,) = drying.view(shop, kept.id, now=at(4)).lies
    assert (lies.numbers, lies.sized_at) == ((1, 3), at(4))


def test_the_form_goes_on_to_the_next_piece_that_dries(shop, kept):
    def following(after: int, day: float = 3) -> int:
        return drying.next_to_weigh(drying.view(shop, kept.id, now=at(day)), "", after)

    # 1 to 3 are turned, 4 and on are still to be.
    assert [following(after) for after in (0, 1, 2, 3)] == [1, 2, 3, 1]
    for i, (number, day) in enumerate(((1, 0), (3, 0), (1, 3))):
        drying.weigh(shop, kept.id, number, f"{200 - i}", "g", key=key(i), at=at(day))
    assert following(1) == 3  # weighed before, and not today
    drying.weigh(shop, kept.id, 3, "190", "g", key=key(8), at=at(3))
    assert following(3) == 2  # never weighed
    spoiled = Marked(key(9), "spoiled", text="A catch")
    turning.mark(shop, kept.id, 2, spoiled, device_id=None, received_at=at(3))
    drying.note(shop, kept.id, 1, "fitted", key=key(10), at=at(3))
    assert [following(after, 4) for after in (1, 3)] == [3, 3]
    # Typed from paper it is the day of the paper that counts.
    seen = drying.view(shop, kept.id, now=at(5))
    assert drying.next_to_weigh(seen, at(3)[:10], 0) == 3
    assert drying.view(shop, kept.id, now=at(5)).to_weigh == (3,)


def test_of_a_set_with_nothing_turned_nothing_came_out_dry(shop):
    made = shopfloor.started(shop)
    with pytest.raises(OutOfRange):
        drying.note(shop, made.id, None, "dried", key=key(1), at=at(3))


def test_a_slip_on_the_scales_leaves_its_piece_out_of_what_the_others_hold(shop, kept):
    drying.weigh(shop, kept.id, 1, "200", "g", key=key(1), at=at(0))
    drying.weigh(shop, kept.id, 1, "1000", "g", key=key(2), at=at(1), sure=True)
    drying.weigh(shop, kept.id, 2, "145", "g", key=key(3), at=at(0))
    drying.weigh(shop, kept.id, 2, "120", "g", key=key(4), at=at(1))
    assert scales.last_weighed(shop, kept.id) == {
        2: (at(1), pytest.approx(20.0))
    }  # 100 g dry, begun at 45 %


def test_a_mark_of_the_whole_set_ends_as_its_pieces_are_fitted(shop, kept):
    with shop.transaction() as db:
        add_drying_mark(db, kept.id, DryingMark(key(1), None, "dried", at(3)))
    (lies,) = drying.view(shop, kept.id, now=at(4)).lies
    assert lies.numbers == TURNED
    drying.note(shop, kept.id, 2, "fitted", key=key(2), at=at(4))
    (lies,) = drying.view(shop, kept.id, now=at(9)).lies
    assert (lies.numbers, lies.stale) == ((1, 3), True)
    drying.note(shop, kept.id, None, "fitted", key=key(3), at=at(9))
    assert drying.view(shop, kept.id, now=at(20)).lies == ()


def test_a_day_from_paper_is_refused_where_the_piece_was_weighed_in_its_course(shop, kept):
    afternoon = datetime(2026, 2, 8, 14, 30).astimezone()
    drying.weigh(shop, kept.id, 1, "200", "g", key=key(1), at=as_text(afternoon))
    next_day = as_text(afternoon + timedelta(days=1))
    noon = forms.moment("2026-02-08", now=next_day)
    with pytest.raises(OutOfRange) as twice:
        drying.weigh(shop, kept.id, 1, "201", "g", key=key(2), at=noon)
    assert twice.value.field == "day"
    drying.weigh(shop, kept.id, 2, "201", "g", key=key(2), at=noon)
    evening = as_text(afternoon + timedelta(hours=5))
    drying.weigh(shop, kept.id, 1, "199", "g", key=key(3), at=evening)


def test_what_went_on_the_lathe_again_dry_began_as_wet_as_it_was(shop):
    kept = shopfloor.started(shop, wanted=3, spares=0)
    given = wood.Given("white ash", "green", "rough", "figure", lives_mc=8.0)
    wood.give(shop, kept.id, given, at=at(-1))
    for number in TURNED:
        done = Marked(key(9000 + number), "done", "done")
        turning.mark(shop, kept.id, number, done, device_id=None, received_at=at(-0.5))
        for day, grams in ((0, "145"), (18, "107")):  # 100 g of wood, begun at 45 %
            weight = key(100 * number + day)
            drying.weigh(shop, kept.id, number, grams, "g", key=weight, at=at(day), sure=True)
    wood.turn_dry(shop, kept.id, [1, 2], 7.0, at=at(19))
    found = drying.view(shop, kept.id, now=at(20))
    assert (found.start_mc, found.ready) == (45.0, {3})
    assert [piece.trouble for piece in found.pieces] == [None] * 3
    # What is learned of the tree since is said of the dry wood, and changes nothing of that.
    dry = store.woods(shop, kept.id)[-1]
    with shop.transaction() as db:
        store.add_wood(db, kept.id, replace(dry, tangential_percent=8.1, learned=True))
    assert drying.view(shop, kept.id, now=at(20)).start_mc == 45.0
    at_mc = {number: round(mc, 6) for number, (_, mc) in scales.last_weighed(shop, kept.id).items()}
    assert at_mc == dict.fromkeys(TURNED, 7.0)


def test_a_moisture_said_anew_of_green_wood_is_what_it_began_with(shop, kept):
    weigh_daily(shop, kept, 2, 4)
    given = wood.Given("white ash", "green", "green", "figure", moisture=60.0, lives_mc=8.0)
    wood.give(shop, kept.id, given, at=at(5))
    assert drying.view(shop, kept.id, now=at(5)).start_mc == 60.0
