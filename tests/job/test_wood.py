"""Saying a set's wood, and all that follows: sizes to turn, frozen pieces, verdicts, review."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from benchside.errors import BenchsideError
from benchside.job import exchange, judged, piece, progress, sets, turning, wood, wood_of
from benchside.job.turning import Marked, Taken
from benchside.job.work import work_of
from benchside.store import wood as kept_wood
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet
from tests import shopfloor

AT = "2026-02-01T08:00:00.000Z"
LATER = "2026-03-01T08:00:00.000Z"
ASH = wood.Given("white ash", "green", "green", "cold_winters")


def key(i: int) -> str:
    return f"{i:032x}"


def take(shop: Shop, kept: SpindleSet, number: int, typed: str, i: int, **more: object):
    taken = Taken(key(i), "st1", typed, "mm", **more)
    return turning.take(shop, kept.id, number, taken, device_id=None, received_at=AT)


def mount(shop: Shop, kept: SpindleSet, number: int, i: int, **more: object):
    tapped = Marked(key(i), "step", "mount", **more)
    return turning.mark(shop, kept.id, number, tapped, device_id=None, received_at=AT)


def test_a_set_without_its_wood_is_turned_to_its_finished_sizes(shop, kept):
    view = wood.view(shop, kept.id)
    assert (view.said, view.rows) == (None, ())
    assert work_of(shop, kept).places == work_of(shop, kept).finished_places
    answer = take(shop, kept, 1, "12.7", 1)
    assert (answer.reading.target_mm, answer.reading.state) == (12.7, "dry")


def test_every_size_becomes_the_one_to_turn_now_with_its_reasons(shop, kept):
    wood.give(shop, kept.id, ASH, at=AT)
    view = wood.view(shop, kept.id)
    # White ash as it stands: 45 % is over saturation; the middle of 5.4 and 9.2 % is the chair's.
    tenon = next(row.why for row in view.rows if row.place.id == "st1")
    ratio = 1 - 0.078 * (1 - tenon.to_mc / 30)
    assert tenon.from_mc == pytest.approx(45.0)
    assert tenon.turn_mm == pytest.approx((12.7 + 0.3) / ratio)
    swell = next(row for row in view.rows if row.place.id == "st4")
    assert swell.why.turn_mm == pytest.approx(22.0 / ratio)
    doing = work_of(shop, kept)
    assert doing.places["st1"].diameter_mm == pytest.approx(tenon.turn_mm, abs=0.0051)
    assert doing.finished_places["st1"].diameter_mm == 12.7
    assert [p.at_mm for p in doing.places.values()][:3] == [0.0, 25.0, 26.0]
    assert view.oval.tangential_mm == pytest.approx(13.0)
    assert view.source.seen == "read"


def test_a_reading_of_green_wood_is_judged_by_the_green_size(shop, kept):
    wood.give(shop, kept.id, ASH, at=AT)
    target = work_of(shop, kept).places["st1"].diameter_mm
    answer = take(shop, kept, 1, f"{target:.2f}", 1)
    assert answer.verdict.word == "within"
    assert answer.reading.state == "green"
    assert answer.reading.target_mm == target
    with pytest.raises(turning.Surprising):
        take(shop, kept, 1, "9.5", 2)
    under = take(shop, kept, 1, "12.7", 3)
    assert under.verdict.word == "under"


def test_a_piece_keeps_the_sizes_it_was_mounted_with(shop, kept):
    wood.give(shop, kept.id, ASH, at=AT)
    mount(shop, kept, 1, 1)
    green = work_of(shop, kept, 1).places["st1"].diameter_mm
    wood.give(shop, kept.id, replace(ASH, state="kiln-dry"), at=LATER)
    assert work_of(shop, kept, 1).places["st1"].diameter_mm == green
    assert work_of(shop, kept, 2).places["st1"].diameter_mm < green
    sitting = turning.sitting(shop, kept.id, 1)
    assert sitting.alike == {1}
    assert wood.view(shop, kept.id).mounted == 1


def test_a_piece_begun_before_the_wood_was_said_keeps_its_finished_sizes(shop, kept):
    mount(shop, kept, 1, 1)
    wood.give(shop, kept.id, ASH, at=LATER)
    assert work_of(shop, kept, 1).wood is None
    assert work_of(shop, kept, 2).wood is not None


def test_what_a_phone_showed_counts_though_the_wood_was_said_anew_meanwhile(shop, kept):
    wood.give(shop, kept.id, ASH, at=AT)
    shown = work_of(shop, kept).places["st1"].diameter_mm
    wood.give(shop, kept.id, replace(ASH, state="kiln-dry"), at=LATER)
    assert take(shop, kept, 1, "13.8", 1, wood=1).reading.target_mm == shown
    assert work_of(shop, kept, 1).wood.nth == 1
    with pytest.raises(BenchsideError):
        take(shop, kept, 2, "13.8", 2, wood=7)


def test_a_tenon_that_has_still_to_dry_is_not_tried_in_its_hole(shop, kept):
    def tenons() -> list[tuple[float | None, str]]:
        steps = work_of(shop, kept).steps
        return [(step.try_mm, step.say) for step in steps if step.stage == "tenon"]

    assert (13.2, "tenon") in tenons()
    wood.give(shop, kept.id, ASH, at=AT)
    assert set(tenons()) == {(None, "tenon_wet")}
    target = work_of(shop, kept).places["st1"].diameter_mm
    assert take(shop, kept, 1, f"{target + 0.3:.2f}", 1).verdict.action == "cut_on"
    # 0.2 % of it is lost from 8 to 7.3 %: less than calipers show.
    wood.give(shop, kept.id, replace(ASH, state="kiln-dry"), at=LATER)
    assert tenons()[0][1] == "tenon"
    target = work_of(shop, kept).places["st1"].diameter_mm
    assert take(shop, kept, 2, f"{target + 0.3:.2f}", 2).verdict.action == "try_final"


ROUGH = replace(ASH, route="rough")


def tap_through(shop: Shop, kept: SpindleSet, number: int, first: int, at: str = AT) -> None:
    for i, step in enumerate(work_of(shop, kept, number).steps, first):
        tapped = Marked(key(i), "done" if step.id == "done" else "step", step.id)
        turning.mark(shop, kept.id, number, tapped, device_id=None, received_at=at)


def test_roughed_green_every_high_place_and_every_tenon_is_cut_to_its_size_at_once(shop, kept):
    wood.give(shop, kept.id, ROUGH, at=AT)
    doing = work_of(shop, kept)
    assert {step.stage for step in doing.steps} == {"mount", "rough", "size", "done"}
    ratio = 1 - 0.078 * (1 - doing.wood.turning.to_mc / 30)
    assert doing.places["st4"].diameter_mm == pytest.approx((22 + 3.175) / ratio, abs=0.0051)
    sized = {step.place_id: step for step in doing.steps if step.stage == "size"}
    assert {"st1", "st4", "st10"} < set(sized)
    for place_id, step in sized.items():
        wanted = doing.finished_places[place_id].diameter_mm
        assert step.stop_mm == doing.places[place_id].diameter_mm
        # Less than that, and nothing is left to turn when it is dry.
        assert step.finish_mm == pytest.approx(wanted / ratio, abs=0.011)
    assert len({step.id for step in doing.steps}) == len(doing.steps)


def test_a_rough_size_cut_too_deep_is_only_bad_where_nothing_is_left_to_turn(shop, kept):
    wood.give(shop, kept.id, ROUGH, at=AT)
    target = work_of(shop, kept).places["st1"].diameter_mm
    deep = take(shop, kept, 1, f"{target - 1:.2f}", 1, phase="sizing")
    assert (deep.verdict.word, deep.verdict.action) == ("under", "go_lighter")
    assert deep.verdict.left_mm == pytest.approx((3.175 / 0.941 - 1) / 2, abs=0.01)
    gone = take(shop, kept, 1, f"{target - 3.8:.2f}", 2, phase="sizing", sure=True)
    assert gone.verdict.action == "mend_tenon"


def test_a_roughed_piece_waits_to_be_dry_and_is_then_turned_to_the_end(shop, kept):
    wood.give(shop, kept.id, ROUGH, at=AT)
    tap_through(shop, kept, 1, 1)
    roughed = sets.standing(shop, kept.id)
    assert (roughed.roughed, roughed.done, roughed.next.number) == ((1,), 0, 2)
    piece_one = progress.pieces(shop, kept.id)[1]
    assert (piece_one.roughed, piece_one.done, piece_one.to_turn) == (True, False, False)
    for _ in range(2):  # tapped twice
        wood.turn_dry(shop, kept.id, [1], 9.0, at=LATER)
    assert len(kept_wood.woods(shop, kept.id)) == 3
    again = progress.pieces(shop, kept.id)[1]
    assert (again.roughed, again.to_turn, again.ticked) == (False, True, frozenset())
    dry = work_of(shop, kept, 1)
    assert dry.wood.state == "dry"
    mean = (dry.wood.wood.driest_mc + dry.wood.wood.dampest_mc) / 2
    ratio = (1 - 0.078 * (1 - mean / 30)) / (1 - 0.078 * (1 - 9.0 / 30))
    assert dry.places["st4"].diameter_mm == pytest.approx(22 / ratio, abs=0.0051)
    assert {"tenon", "final", "done"} < {step.stage for step in dry.steps}
    # The others are still to be roughed.
    assert work_of(shop, kept, 2).wood.turning.roughing
    tap_through(shop, kept, 1, 100, LATER)
    assert sets.standing(shop, kept.id).done == 1


def test_what_was_read_while_it_was_roughed_is_no_reading_of_the_piece_turned_dry(shop, kept):
    wood.give(shop, kept.id, ROUGH, at=AT)
    rough = work_of(shop, kept, 1).places["st1"].diameter_mm
    take(shop, kept, 1, f"{rough:.2f}", 1, phase="sizing", axis="A")
    assert turning.sitting(shop, kept.id, 1).answers
    tap_through(shop, kept, 1, 10)
    wood.turn_dry(shop, kept.id, [1], 9.0, at=LATER)
    again = turning.sitting(shop, kept.id, 1)
    assert (dict(again.answers), again.latest) == ({}, ())
    sent = Taken(key(90), "st1", "12.7", "mm", phase="sizing", axis="B")
    answer = turning.take(shop, kept.id, 1, sent, device_id=None, received_at=LATER)
    assert (answer.earlier, answer.other) == (None, None)  # the other way was read of another size
    assert set(turning.sitting(shop, kept.id, 1).answers) == {"tenon:st1"}


def test_when_all_are_roughed_the_set_itself_is_of_dry_wood(shop):
    kept = shopfloor.started(shop, wanted=2, spares=0)
    wood.give(shop, kept.id, ROUGH, at=AT)
    for number in (1, 2):
        tap_through(shop, kept, number, 100 * number)
    assert wood.turn_dry(shop, kept.id, [1, 2], 7.0, at=LATER) == (1, 2)
    assert wood_of.said(shop, kept.id).state == "dry"
    assert turning.sitting(shop, kept.id, 1).alike == {1, 2}


@pytest.mark.parametrize(
    ("numbers", "moisture", "field"),
    [([], 7.0, "pieces"), ([1], 26.0, "moisture"), ([1], -1.0, "moisture")],
)
def test_nothing_is_turned_dry_that_cannot_be(shop, kept, numbers, moisture, field):
    wood.give(shop, kept.id, ROUGH, at=AT)
    tap_through(shop, kept, 1, 1)
    with pytest.raises(BenchsideError) as refused:
        wood.turn_dry(shop, kept.id, numbers, moisture, at=LATER)
    assert refused.value.field == field
    assert sets.standing(shop, kept.id).roughed == (1,)


def test_said_dry_by_hand_the_pieces_begun_go_on_the_lathe_again(shop, kept):
    wood.give(shop, kept.id, ROUGH, at=AT)
    tap_through(shop, kept, 1, 1)
    wood.give(shop, kept.id, replace(ROUGH, state="kiln-dry", again=True), at=LATER)
    again = progress.pieces(shop, kept.id)[1]
    assert (again.to_turn, again.ticked) == (True, frozenset())
    assert work_of(shop, kept, 1).places["st4"].diameter_mm == pytest.approx(22, abs=0.1)


def test_pieces_of_different_states_are_compared_each_with_its_own_size(shop, kept):
    wood.give(shop, kept.id, ASH, at=AT)
    green = work_of(shop, kept).places["st1"].diameter_mm
    take(shop, kept, 1, f"{green + 0.05:.3f}", 1)
    wood.give(shop, kept.id, replace(ASH, state="kiln-dry"), at=LATER)
    dry = work_of(shop, kept).places["st1"].diameter_mm
    take(shop, kept, 2, f"{dry + 0.05:.3f}", 2)
    table = judged.judge(shop, kept.id).table
    assert table.off_mm[:, 0] == pytest.approx([0.05, 0.05], abs=0.002)


def test_the_pattern_that_follows_a_green_piece_holds_finished_sizes(shop, kept):
    wood.give(shop, kept.id, ASH, at=AT)
    swell = work_of(shop, kept).places["st4"].diameter_mm
    taken = Taken(key(1), "st4", f"{swell + 0.5:.3f}", "mm")
    turning.take(shop, kept.id, 1, taken, device_id=None, received_at=AT)
    changes = piece.becoming(shop, kept.id, 1).changes
    assert [(c.place.id, c.is_mm) for c in changes] == [("st4", pytest.approx(22.5, abs=0.006))]


def test_a_bead_that_the_fatter_ends_leave_no_room_for_is_still_a_bead(shop):
    kept = shopfloor.started(shop, shopfloor.round_bead())
    wood.give(shop, kept.id, ASH, at=AT)
    crown = work_of(shop, kept).places["crown:st5"]
    assert 27 < crown.diameter_mm < 28.7
    # Its length is 12 mm, so a half circle stands 12 mm over the 15 mm ends turned green.
    row = next(row for row in wood.view(shop, kept.id).rows if row.place.id == "crown:st5")
    ends = work_of(shop, kept).places["st5"].diameter_mm
    assert row.turn_mm == crown.diameter_mm == pytest.approx(ends + 12)
    assert row.why.reckoned_mm == pytest.approx(26.9 / row.why.ratio)
    assert row.why.dried.tangential_mm == pytest.approx(row.turn_mm * row.why.ratio)
    others = [row for row in wood.view(shop, kept.id).rows if row.place.id != "crown:st5"]
    assert {row.why.short_mm for row in others} == {0.0}


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"species": "wite ash"}, "species"),
        ({"species": "osage orange"}, "species"),
        ({"state": "damp"}, "state"),
        ({"route": "fast"}, "route"),
        ({"moisture": 260.0}, "moisture"),
        ({"moisture": -1.0}, "moisture"),
        ({"state": "figure"}, "moisture"),
        ({"climate": "moon"}, "climate"),
        ({"climate": "figure"}, "lives_mc"),
        ({"climate": "own", "winter_c": 21.0}, "winter_rh"),
        (
            {
                "climate": "own",
                "winter_c": 21.0,
                "winter_rh": 40.0,
                "summer_c": 24.0,
                "summer_rh": 100.0,
            },
            "summer_rh",
        ),
        ({"dry_mc": float("nan")}, "dry_mc"),
        ({"sizing_mm": 5.0}, "sizing_mm"),
        ({"rough_mm": -1.0}, "rough_mm"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field_and_nothing_is_kept(shop, kept, change, field):
    with pytest.raises(BenchsideError) as refused:
        wood.give(shop, kept.id, replace(ASH, **change), at=AT)
    assert refused.value.field == field
    assert wood_of.said(shop, kept.id) is None


def test_everything_that_cannot_be_of_a_climate_and_a_species_is_told_at_once(shop):
    given = replace(ASH, climate="own", winter_c=200.0, winter_rh=120.0, summer_rh=-3.0)
    told = {fault.field for fault in wood.faults(shop, given)}
    assert told == {"winter_c", "winter_rh", "summer_c", "summer_rh"}
    cold = replace(ASH, climate="own", winter_c=0.0, winter_rh=80.0, summer_c=20.0, summer_rh=65.0)
    assert wood.faults(shop, cold) == ()
    faults = wood.species_faults(" ", 40.0, -1.0, 300.0)
    assert [fault.field for fault in faults] == [
        *("name", "radial_percent", "tangential_percent", "green_percent"),
    ]
    assert wood.species_faults("mill ash", 5.0, 9.0, None) == ()


def test_an_own_species_is_found_first_and_goes_along_with_its_set(shop, kept, tmp_path):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    wood.keep_species(shop, "Mill ash", 5.2, 9.9, green_percent=55.0, at=AT)
    wood.give(shop, kept.id, replace(ASH, species="mill-ash"), at=AT)
    mount(shop, kept, 1, 1)
    known = wood_of.known(shop, kept.id)
    assert (known.tangential_percent, known.turned_mc) == (9.9, 55.0)
    document = exchange.to_json(exchange.export_set(shop, kept.id, now=LATER))
    other = shopfloor.open_shop(elsewhere)
    try:
        exchange.import_into(other, exchange.from_json(document), now=LATER)
        assert wood.view(other, 1).species.sources == wood.view(shop, kept.id).species.sources
        assert work_of(other, sets.standing(other, 1).kept, 1).wood.nth == 1
    finally:
        other.close()


def test_a_wood_that_shrinks_below_22_percent_is_reckoned_so_all_the_way(shop, kept, tmp_path):
    wood.give(shop, kept.id, replace(ASH, species="western redcedar"), at=AT)
    said = wood_of.said(shop, kept.id)
    assert said.wood.saturation_percent == 22.0
    swell = next(row.why for row in wood.view(shop, kept.id).rows if row.place.id == "st4")
    assert swell.ratio == pytest.approx(1 - 0.05 * (1 - swell.to_mc / 22))
    assert wood_of.known(shop, kept.id).saturation == 22.0
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    other = shopfloor.open_shop(elsewhere)
    document = json.loads(exchange.to_json(exchange.export_set(shop, kept.id, now=LATER)))
    try:
        exchange.import_into(other, exchange.from_json(json.dumps(document).encode()), now=LATER)
        assert wood_of.said(other, 1).wood == said.wood
    finally:
        other.close()
    # A file from before says nothing of it, and was reckoned with 30.
    del document["sets"][0]["wood"]["said"][0]["saturation_percent"]
    (old,) = exchange.from_json(json.dumps(document).encode()).sets[0].wood.woods
    assert old.saturation_percent == 30.0


def test_the_tenth_by_habit_is_warned_of_where_it_leaves_too_little(shop, kept):
    hungry = replace(ASH, species="American beech", climate="dry_country", sizing_mm=0.5)
    wood.give(shop, kept.id, hungry, at=AT)
    assert {row.place.kind for row in wood.view(shop, kept.id).short} == {"tenon"}
    wood.give(shop, kept.id, replace(ASH, species="black locust"), at=AT)
    assert wood.view(shop, kept.id).short == ()
