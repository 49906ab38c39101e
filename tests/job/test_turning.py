"""At the lathe: what is kept of what two phones say, and how far a piece has come."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from benchside import units
from benchside.errors import OutOfRange
from benchside.job import as_made, devices, dried, fitting, piece, progress, sets, turning, wood
from benchside.job import shop as shops
from benchside.job.devices import PairingCodes
from benchside.pattern import Pattern, Section, Station
from benchside.store import devices as store
from benchside.store import patterns, readings, review
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet
from tests import shopfloor

AT = "2026-01-31T09:00:00.000Z"
PLACE = "st4"
GREEN = wood.Given("white ash", "green", "green", "cold_winters")


class TwoPhones:
    """Two phones at one set."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.kept = shopfloor.started(shop)
        self.rng = random.Random(3)
        codes = PairingCodes()
        self.ids = [devices.pair(shop, codes, codes.make(AT), "Phone", AT)[0].id for _ in range(2)]

    def takes(self, phone: int, typed: str, *, key: str = "", corrects: str = "") -> turning.Answer:
        taken = turning.Taken(
            key=key or shopfloor.key(self.rng),
            station_id=PLACE,
            typed=typed,
            unit="mm",
            supersedes=corrects,
        )
        return turning.take(
            self.shop, self.kept.id, 1, taken, device_id=self.ids[phone], received_at=AT
        )

    @property
    def counts(self) -> list[str]:
        return [r.typed for r in readings.standing(self.shop, self.kept.id)]


def test_of_two_corrections_of_one_reading_the_later_counts_and_is_told_of_the_other(
    shop: Shop,
) -> None:
    both = TwoPhones(shop)
    first = both.takes(0, "22.5").reading.key
    assert both.takes(0, "22.1", corrects=first).earlier is None
    late = both.takes(1, "22.3", corrects=first)
    assert both.counts == ["22.3"]
    assert late.earlier is not None
    assert (late.earlier.typed, late.earlier.device_id) == ("22.1", both.ids[0])
    assert len(readings.every(shop, both.kept.id)) == 3


def test_a_late_correction_sent_again_changes_nothing(shop: Shop) -> None:
    both = TwoPhones(shop)
    first = both.takes(0, "22.5").reading.key
    one, other = shopfloor.key(both.rng), shopfloor.key(both.rng)
    both.takes(0, "22.1", key=one, corrects=first)
    both.takes(1, "22.3", key=other, corrects=first)
    for _ in range(2):  # a lost reply on either phone
        both.takes(0, "22.1", key=one, corrects=first)
        both.takes(1, "22.3", key=other, corrects=first)
    assert both.counts == ["22.3"]
    assert len(readings.every(shop, both.kept.id)) == 3


def test_corrections_of_corrections_from_both_sides_leave_one(shop: Shop) -> None:
    both = TwoPhones(shop)
    first = both.takes(0, "22.5").reading.key
    mine = both.takes(0, "22.1", corrects=first).reading.key
    both.takes(1, "22.3", corrects=first)
    both.takes(0, "22.2", corrects=mine)
    assert both.counts == ["22.2"]


def test_two_phones_that_pair_at_once_are_told_apart(shop: Shop) -> None:
    TwoPhones(shop)
    assert [d.name for d in store.listed(shop)] == ["Phone", "Phone 2"]


def test_the_rest_of_the_readings_is_skipped_at_one_stroke_and_taken_up_again(shop: Shop) -> None:
    kept = shopfloor.started(shop)
    rng = random.Random(4)

    def mark(what: str, **said: str) -> str:
        marked = turning.Marked(key=shopfloor.key(rng), what=what, **said)
        return turning.mark(shop, kept.id, 1, marked, device_id=None, received_at=AT).key

    def behind() -> set[str]:
        sitting = turning.sitting(shop, kept.id, 1)
        return progress.passed(sitting.pieces[1], sitting.steps)

    finals = {s.id for s in turning.sitting(shop, kept.id, 1).steps if s.stage == "final"}
    assert len(finals) > 10
    key = mark("skip", step_id="final")
    assert behind() == finals
    mark("withdrawn", about=key)
    assert behind() == set()
    mark("skip", step_id="final")
    assert behind() == finals


def test_sixteenths_too_coarse_for_a_size_are_shown_as_sixty_fourths(shop: Shop) -> None:
    """21.4 mm lies 0.76 mm over 13/16 in, nearly the whole of its limits: the size shown has to be
    one at which the caliper's figure is right."""
    straight = Pattern(
        "Stud",
        (Station("s1", 0.0, 20.6375, "Head"), Station("s2", 101.6, 20.6375, "End")),
        (Section("straight"),),
    )
    kept = shopfloor.started(shop, straight, unit="in/16")
    assert turning.sitting(shop, kept.id, 1).unit == "in/16"
    thicker = replace(
        straight, stations=tuple(replace(s, diameter_mm=21.4) for s in straight.stations)
    )
    kept = shopfloor.started(shop, thicker, unit="in/16", name="Thicker")
    sitting = turning.sitting(shop, kept.id, 1)
    assert sitting.unit == "in/64"
    assert piece.sheet(shop, kept.id).kept.unit == "in/64"
    assert piece.piece(shop, kept.id, 1).standing.kept.unit == "in/64"
    assert as_made.as_made(shop, kept.id).standing.kept.unit == "in/64"
    assert wood.view(shop, kept.id).standing.kept.unit == "in/64"
    assert dried.dried(shop, kept.id).standing.kept.unit == "in/64"
    assert fitting.fitting(shop, kept.id, now=shopfloor.moment(9)).standing.kept.unit == "in/64"
    place = sitting.work.places["s1"]
    shown = units.format_length(place.diameter_mm, sitting.unit)
    assert shown == "27/32"
    read_mm = units.parse_length(shown, sitting.unit)
    assert abs(read_mm - place.diameter_mm) < turning.tolerance_mm(kept, place, "diameter") / 2
    # A list without script names no unit: it is the one its page was told in.
    listed = turning.Taken("a" * 32, "s1", "51/64", "")
    taken = turning.take(shop, kept.id, 1, listed, device_id=None, received_at=AT)
    assert taken.reading.unit == "in/64"


def test_the_second_way_across_is_judged_beside_the_first(shop: Shop) -> None:
    """12.72 at the dot is right; 12.90 a quarter turn on is 0.10 a side over, which taken off all
    round would leave 12.52 at the dot, under 12.60."""
    kept = shopfloor.started(shop)
    rng = random.Random(5)

    def takes(typed: str, axis: str, corrects: str = "") -> turning.Answer:
        key = shopfloor.key(rng)
        taken = turning.Taken(key, "st1", typed, "mm", axis=axis, supersedes=corrects)
        return turning.take(shop, kept.id, 1, taken, device_id=None, received_at=AT)

    first = takes("12.72", "A")
    assert (first.verdict.action, first.other) == ("next", None)
    second = takes("12.90", "B")
    assert (second.verdict.word, second.verdict.action) == ("over", "oval_trim")
    assert round(second.verdict.oval_mm, 9) == 0.18
    assert second.other == first.reading
    shown = turning.sitting(shop, kept.id, 1).answers["final:st1"]
    assert (shown.verdict, shown.other) == (second.verdict, first.reading)
    # Put right it is judged by the same first way; the first way anew is judged alone.
    assert takes("12.71", "B", second.reading.key).verdict.action == "next"
    anew = takes("12.95", "A")
    assert (anew.verdict.action, anew.other.typed if anew.other else "") == ("try_final", "12.71")
    assert anew.other_word == "within"


@pytest.mark.parametrize(
    ("kind", "typed", "swing_mm", "why"),
    [
        # Roughed to 22 + 3.2 mm, three times which is 75.5; the spindle is 450 mm long.
        ("diameter", "75.6", None, "75.6 mm cannot be: the piece was roughed to 25.2 mm."),
        ("diameter", "91 3/8 in", None, "2320.9 mm cannot be"),
        ("diameter", "60.1", 60.0, "60.1 mm cannot be: your lathe swings 60.0 mm."),
        ("position", "900.5", None, "900.5 mm cannot be: the piece is 450.0 mm long."),
    ],
)
def test_what_a_piece_cannot_have_been_is_not_taken_even_where_it_is_meant(
    shop: Shop, kind: str, typed: str, swing_mm: float | None, why: str
) -> None:
    kept = shopfloor.started(shop)
    if swing_mm:
        shops.keep_lathe(shop, shops.Lathe(swing_mm=swing_mm))
    key = shopfloor.key(random.Random(6))
    taken = turning.Taken(key, PLACE, typed, "mm", kind=kind, sure=True)

    def takes(one: turning.Taken) -> turning.Answer:
        return turning.take(shop, kept.id, 1, one, device_id=None, received_at=AT)

    with pytest.raises(OutOfRange) as refused:
        takes(taken)
    assert refused.value.message.startswith(why)
    assert refused.value.field == "value"
    assert readings.every(shop, kept.id) == []
    # Nothing is in its way: the same with the slip put right is taken.
    right = "22.0" if kind == "diameter" else "130"
    assert takes(replace(taken, typed=right)).verdict.word == "within"


def test_a_correction_tells_of_the_moment_of_what_it_corrects(shop: Shop) -> None:
    """Else a piece put right at the end of the day would stand last in the order of turning, and
    as read after a caliper was set anew."""
    kept = shopfloor.started(shop)
    rng = random.Random(11)

    def takes(number: int, typed: str, minutes: int, corrects: str = "") -> turning.Answer:
        taken = turning.Taken(shopfloor.key(rng), PLACE, typed, "mm", supersedes=corrects)
        at = shopfloor.moment(minutes)
        return turning.take(shop, kept.id, number, taken, device_id=None, received_at=at)

    first = takes(1, "22.9", 1).reading.key
    takes(2, "22.2", 2)
    put_right = takes(1, "22.1", 500, first).reading
    assert (put_right.taken_at, put_right.received_at) == (
        shopfloor.moment(1),
        shopfloor.moment(500),
    )
    assert [final[0] for final in review.finals(shop, kept.id)] == [1, 2]
    again = takes(1, "22.3", 501).reading
    # What was read since stands, and is not said to be replaced.
    assert takes(1, "22.0", 502, put_right.key).earlier is None
    assert readings.standing(shop, kept.id, 1)[-1] == again


def test_a_green_reading_put_right_after_its_piece_went_on_again_dry_stays_a_green_one(
    shop: Shop,
) -> None:
    kept = shopfloor.started(shop)
    wood.give(shop, kept.id, GREEN, at=shopfloor.moment(0))
    rng = random.Random(12)

    def takes(typed: str, minutes: int, corrects: str = "") -> turning.Answer:
        taken = turning.Taken(shopfloor.key(rng), PLACE, typed, "mm", supersedes=corrects)
        at = shopfloor.moment(minutes)
        return turning.take(shop, kept.id, 1, taken, device_id=None, received_at=at)

    wet = takes("23.9", 1)
    dry = replace(GREEN, state="kiln-dry", route="dry", again=True)
    wood.give(shop, kept.id, dry, at=shopfloor.moment(100))
    put_right = takes("23.4", 200, wet.reading.key)
    assert put_right.reading.state == "green"
    assert put_right.reading.target_mm == wet.reading.target_mm
    assert put_right.verdict.word == "within"
    assert turning.sitting(shop, kept.id, 1).answers == {}


def test_a_reading_of_before_its_wood_was_told_is_put_right_as_one_of_the_finished_sizes(
    shop: Shop,
) -> None:
    kept = shopfloor.started(shop)
    rng = random.Random(14)

    def takes(typed: str, minutes: int, corrects: str = "") -> turning.Answer:
        taken = turning.Taken(shopfloor.key(rng), PLACE, typed, "mm", supersedes=corrects)
        at = shopfloor.moment(minutes)
        return turning.take(shop, kept.id, 1, taken, device_id=None, received_at=at)

    drawn = takes("22.9", 1).reading
    wood.give(shop, kept.id, replace(GREEN, again=True), at=shopfloor.moment(100))
    put_right = takes("22.1", 200, drawn.key)
    assert put_right.reading.supersedes == drawn.key
    assert (put_right.reading.state, put_right.reading.target_mm) == ("dry", drawn.target_mm)
    assert takes("22.2", 201, put_right.reading.key).reading.target_mm == drawn.target_mm


def test_a_phone_that_still_shows_the_finished_sizes_has_its_piece_stand_to_these(
    shop: Shop,
) -> None:
    """It was out of reach as the wood was told: what it tapped since is of what it showed."""
    kept = shopfloor.started(shop)
    wood.give(shop, kept.id, GREEN, at=shopfloor.moment(0))
    taken = turning.Taken("a" * 32, PLACE, "22.1", "mm", wood=0)
    found = turning.take(shop, kept.id, 1, taken, device_id=None, received_at=AT)
    assert (found.reading.state, found.reading.target_mm) == ("dry", 22.0)
    tapped = turning.Marked("b" * 32, "step", f"size:{PLACE}", wood=0)
    turning.mark(shop, kept.id, 2, tapped, device_id=None, received_at=AT)
    for number in (1, 2):
        assert turning.sitting(shop, kept.id, number).work.wood is None
    assert turning.sitting(shop, kept.id, 3).work.wood is not None


def test_the_lathe_judges_an_older_revision_s_readings_by_what_it_shows_now(shop: Shop) -> None:
    kept = shopfloor.started(shop)
    rng = random.Random(13)
    for phase in ("sizing", "final"):
        taken = turning.Taken(shopfloor.key(rng), PLACE, "22.3", "mm", phase=phase)
        turning.take(shop, kept.id, 1, taken, device_id=None, received_at=AT)
    drawn = patterns.found(shop, kept.pattern_id).pattern
    thicker = tuple(replace(s, diameter_mm=24.0) if s.id == PLACE else s for s in drawn.stations)
    with shop.transaction() as db:
        new = replace(drawn, stations=thicker)
        revision = patterns.add_revision(db, kept.pattern_id, new, at=AT, reason="")
    sets.hold_to(shop, kept.id, revision, sure=True)
    sitting = turning.sitting(shop, kept.id, 1)
    shown = {step.id: step.stop_mm for step in sitting.steps}
    for step_id, word in ((f"size:{PLACE}", "under"), (f"final:{PLACE}", "under")):
        said = sitting.answers[step_id]
        assert (said.reading.target_mm, said.verdict.word) == (shown[step_id], word)
    on_its_page = {a.reading.phase: a for a in piece.piece(shop, kept.id, 1).answers}
    assert on_its_page["final"].verdict == sitting.answers[f"final:{PLACE}"].verdict


@pytest.mark.parametrize(
    ("taken_at", "sent_at"),
    [("9999-12-31T23:59:59Z", "0001-01-01T00:00:00Z"), ("0001-01-01T00:00:00+14:00", "")],
)
def test_a_clock_out_of_all_reason_holds_up_no_reading(
    shop: Shop, kept: SpindleSet, taken_at: str, sent_at: str
) -> None:
    """Else the phone would send it again and again, and nothing after it."""
    taken = turning.Taken("a" * 32, PLACE, "22.1", "mm", taken_at=taken_at, sent_at=sent_at)
    answered = turning.take(shop, kept.id, 1, taken, device_id=None, received_at=AT)
    assert answered.reading.taken_at == AT
