"""At the lathe a tenon on its last pass is brought to the size that the fit sheet says."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchside.job import drying, fit_forms, fitting, judged, piece, review, sets, turning, wood
from benchside.job.fitting import Row
from benchside.job.turning import Answer, Marked, Sitting, Taken
from benchside.job.work import work_of
from benchside.store import patterns
from benchside.store.database import Shop
from tests import shopfloor
from tests.job.fitted_bench import ASH, LOWER, SEAT, UPPER, a_seat, a_set, a_test_hole, key

AT, LATER = "2026-02-01T08:00:00.000Z", "2026-03-01T08:00:00.000Z"
ROUGH = wood.Given("white ash", "green", "rough", "cold_winters")
KILN_DRY = replace(ASH, state="kiln-dry", moisture=7.0, route="dry")
INNER = "st2"  # the tenon's other station


def tap_through(shop: Shop, number: int, first: int, at: str) -> None:
    for i, step in enumerate(work_of(shop, sets.standing(shop, 1).kept, number).steps, first):
        tapped = Marked(key(i), "done" if step.id == "done" else "step", step.id)
        turning.mark(shop, 1, number, tapped, device_id=None, received_at=at)


def roughed_and_dried(shop: Shop, *numbers: int) -> None:
    kept = shopfloor.started(shop, wanted=4, spares=1)
    wood.give(shop, kept.id, ROUGH, at=AT)
    for number in numbers:
        tap_through(shop, number, 1000 * number, AT)
    wood.turn_dry(shop, kept.id, numbers, 7.0, at=LATER)


def row(shop: Shop, number: int) -> Row:
    return fitting.fitting(shop, 1, now=LATER).row(key(800), number)


def bored(shop: Shop, hole: int, mm: str, n: int = 500) -> None:
    both: dict[fit_forms.Axis, str] = {"A": mm, "B": mm}
    fit_forms.read_hole(shop, 1, key(800), hole, both, key=key(n + hole), sure=True, at=AT)


def stops(sitting: Sitting, step_id: str) -> tuple[float | None, float | None]:
    step = sitting.work.step(step_id)
    return step.stop_mm, step.try_mm


def read(shop: Shop, number: int, typed: str, n: int, **more: object) -> Answer:
    sitting = turning.sitting(shop, 1, number)
    shown = str(sitting.work.step(f"final:{LOWER}").stop_mm)
    taken = Taken(key(n), LOWER, typed, "mm", **{"target_mm": shown, **more})
    return turning.take(shop, 1, number, taken, device_id=None, received_at=LATER)


def test_roughed_green_a_tenon_is_turned_dry_to_what_its_hole_wants(shop: Shop) -> None:
    roughed_and_dried(shop, 1, 2)
    a_seat(shop, 1, replace(SEAT, test_hole=a_test_hole(shop)))
    green, dry = (turning.sitting(shop, 1, number) for number in (3, 1))
    assert dict(green.aims) == {}  # its tenons are only roughed
    assert row(shop, 1).target_mm == pytest.approx(12.78)
    for step_id in (f"tenon:{LOWER}", f"final:{LOWER}", f"tenon:{INNER}", f"final:{INNER}"):
        assert stops(dry, step_id)[0] == row(shop, 1).target_mm
    assert stops(dry, f"tenon:{LOWER}")[1] == pytest.approx(13.28)
    drawn = dry.work.places[UPPER].diameter_mm
    assert stops(dry, f"tenon:{UPPER}")[0] == drawn  # nothing is known of its hole
    # The caliper is set to what is cut, and one page serves all that are cut alike.
    assert dry.letters[f"tenon:{LOWER}"].setting_mm == row(shop, 1).target_mm
    assert dry.alike == {1, 2}


def test_a_hole_measured_itself_is_aimed_at_by_its_own_piece_alone(shop: Shop) -> None:
    roughed_and_dried(shop, 1, 2, 3)
    a_seat(shop, 1, replace(SEAT, test_hole=a_test_hole(shop)))
    bored(shop, 2, "12.95")
    second = turning.sitting(shop, 1, 2)
    goal = second.aims[LOWER].goal
    assert (goal.by, goal.hole, goal.settled) == ("hole", 2, False)
    assert stops(second, f"tenon:{LOWER}")[0] == row(shop, 2).target_mm == pytest.approx(12.95)
    assert second.alike == {2}
    assert turning.sitting(shop, 1, 1).alike == {1, 3}
    fit_forms.pair(shop, 1, {1: "2", 2: "1"}, at=AT)
    assert stops(turning.sitting(shop, 1, 2), f"tenon:{LOWER}")[0] == pytest.approx(12.78)
    assert turning.sitting(shop, 1, 1).aims[LOWER].goal.settled


def test_a_spare_is_left_thick_enough_for_the_largest_hole(shop: Shop) -> None:
    a_set(shop, pieces=0, said=KILN_DRY)
    a_seat(shop, 1, replace(SEAT, test_hole=a_test_hole(shop)))
    spare = turning.sitting(shop, 1, 5).aims[LOWER]
    assert (spare.goal.by, spare.to_mm) == ("test", pytest.approx(12.78))
    assert turning.sitting(shop, 1, 1).alike == {1, 2, 3, 4, 5}
    bored(shop, 3, "12.95")
    spare = turning.sitting(shop, 1, 5).aims[LOWER]
    assert (spare.goal.by, spare.to_mm) == ("largest", pytest.approx(12.95))


def test_green_tenons_are_turned_fat_and_wood_nobody_told_goes_by_its_holes(shop: Shop) -> None:
    a_set(shop, pieces=0)
    a_seat(shop, 1, replace(SEAT, test_hole=a_test_hole(shop)))
    assert dict(turning.sitting(shop, 1, 1).aims) == {}
    a_set(shop, pieces=0, said=None)
    fit_forms.keep_part(shop, 2, replace(SEAT, test_hole=key(900)), key=key(810), at=AT)
    assert turning.sitting(shop, 2, 1).aims[LOWER].to_mm == pytest.approx(12.78)


def test_the_limits_go_along_and_what_is_read_so_counts_as_sized(shop: Shop) -> None:
    a_set(shop, pieces=0, said=KILN_DRY)
    a_seat(shop, 1)
    bored(shop, 1, "13.00")  # three times the tenon's limit over the drawn 12.7
    answer = read(shop, 1, "13.05", 1, axis="A")
    assert (answer.verdict.word, answer.reading.target_mm) == ("within", pytest.approx(13.0))
    assert read(shop, 1, "13.02", 2, axis="B").verdict.word == "within"
    sized = row(shop, 1)
    assert (sized.sized, sized.to_size, sized.sized_mm) == (True, False, pytest.approx(13.035))
    # The set is judged by what the hole wanted; what was made stands as it was read.
    table = judged.judge(shop, 1).table
    column = [place.id for place, _ in table.keys].index(LOWER)
    assert table.off_mm[0, column] == pytest.approx(0.035)
    assert table.hole_mm[0, column] == pytest.approx(0.3 - (drawn_now(shop) - 12.7), abs=0.001)
    found = review.review(shop, 1)
    assert (found.to_holes, found.standouts, found.together) == (True, (), (1,))
    # Bored anew, the tenon is one that was read before, and is still to be sized.
    bored(shop, 1, "12.80", 600)
    again = row(shop, 1)
    assert (again.sized_mm, again.to_size) == (None, True)


def test_what_was_read_before_a_piece_went_on_again_is_no_size_of_it(shop: Shop) -> None:
    a_set(shop, pieces=0, said=replace(KILN_DRY, moisture=12.0))
    a_seat(shop, 1, replace(SEAT, test_hole=a_test_hole(shop)))
    read(shop, 1, "12.8", 1, axis="A")
    assert row(shop, 1).sized
    drier = wood.Given("white ash", "kiln-dry", "dry", "cold_winters", moisture=7.0, again=True)
    wood.give(shop, 1, drier, at="2026-03-02T08:00:00.000Z")
    assert turning.sitting(shop, 1, 1).answers == {}
    assert (row(shop, 1).sized, row(shop, 1).dry) == (False, None)


def drawn_now(shop: Shop) -> float:
    return turning.sitting(shop, 1, 1).aims[LOWER].drawn_mm


def test_a_pattern_that_only_got_another_name_puts_no_tenon_off_its_hole(shop: Shop) -> None:
    a_set(shop, pieces=0, said=KILN_DRY)
    a_seat(shop, 1)
    bored(shop, 1, "13.40")  # seven times the tenon's limit over the drawn 12.7
    read(shop, 1, "13.42", 1, axis="A")
    read(shop, 1, "13.40", 2, axis="B")
    before = judged.judge(shop, 1).table
    kept = sets.standing(shop, 1).kept
    drawn = patterns.found(shop, kept.pattern_id).pattern
    named = tuple(replace(s, name="Bulge") if s.id == "st4" else s for s in drawn.stations)
    with shop.transaction() as db:
        new = replace(drawn, stations=named)
        revision = patterns.add_revision(db, kept.pattern_id, new, at=AT, reason="")
    sets.hold_to(shop, 1, revision, sure=True)
    table, found = judged.judge(shop, 1).table, review.review(shop, 1)
    assert (table.off_mm.tolist(), table.hole_mm.tolist()) == (
        before.off_mm.tolist(),
        before.hole_mm.tolist(),
    )
    assert (found.to_holes, found.standouts) == (True, ())
    on_its_page = piece.piece(shop, 1, 1)
    assert [(a.verdict.word, a.reading.target_mm) for a in on_its_page.answers] == [
        ("within", pytest.approx(13.4))
    ] * 2
    assert set(on_its_page.before_hole_mm) == {key(1), key(2)}


def test_a_size_put_right_is_of_the_hole_too(shop: Shop) -> None:
    a_set(shop, pieces=0, said=KILN_DRY)
    a_seat(shop, 1)
    bored(shop, 1, "13.00")
    read(shop, 1, "13.50", 1, axis="A", sure=True)
    right = read(shop, 1, "13.05", 2, axis="A", supersedes=key(1), target_mm="")
    assert (right.verdict.word, right.reading.target_mm) == ("within", pytest.approx(13.0))


def test_a_hole_far_from_the_drawn_tenon_still_takes_its_reading(shop: Shop) -> None:
    a_set(shop, pieces=0, said=KILN_DRY)
    a_seat(shop, 1)
    bored(shop, 1, "16.10")
    assert read(shop, 1, "16.1", 1, axis="A").verdict.word == "within"


def test_wood_damper_than_the_fit_counts_on_is_told_so_at_the_cut(shop: Shop) -> None:
    a_set(shop, pieces=0, said=replace(KILN_DRY, state="air-dry", moisture=12.0))
    a_seat(shop, 1, replace(SEAT, test_hole=a_test_hole(shop)))
    goal = turning.sitting(shop, 1, 1).aims[LOWER].goal
    assert (goal.damp, goal.wants) == ((12.0, "told"), (5.0, 7.0))


def test_a_roughed_piece_is_ready_for_the_lathe_by_the_newest_that_says_it_is_dry(
    shop: Shop,
) -> None:
    kept = shopfloor.started(shop, wanted=2, spares=0)
    wood.give(shop, kept.id, ROUGH, at=AT)
    tap_through(shop, 1, 1000, AT)
    drying.note(shop, 1, 1, "dried", key=key(1), at="2026-02-20T08:00:00.000Z")
    assert drying.view(shop, 1, now=LATER).ready == {1}
    for n, (day, grams) in enumerate((("01", "145"), ("22", "118"))):
        at = f"2026-02-{day}T12:00:00.000Z"
        drying.weigh(shop, 1, 1, grams, "g", key=key(10 + n), at=at)
    assert drying.view(shop, 1, now=LATER).ready == frozenset()


def test_the_pattern_leaves_wood_for_a_hole_where_the_tenon_is_turned_to_it_at_the_lathe(
    shop: Shop,
) -> None:
    """Only a tenon that comes back to the lathe finished but for its last cut can be too thin."""
    a_set(shop, pieces=0, said=KILN_DRY)
    seat = a_seat(shop, 1, replace(SEAT, test_hole=a_test_hole(shop, ("13.2", "13.2"))))
    assert (seat.thin, seat.comes_mm) == (False, None)
    roughed = shopfloor.started(shop, name="Roughed")
    wood.give(shop, roughed.id, ROUGH, at=AT)  # an eighth of an inch is left on everything
    seat = a_seat(shop, roughed.id, replace(SEAT, test_hole=key(900)), 810)
    assert not seat.thin
    assert seat.comes_mm == pytest.approx(12.7 + 3.175, abs=0.1)
    green = shopfloor.started(shop, name="Green")
    wood.give(shop, green.id, replace(ROUGH, route="green"), at=AT)
    assert a_seat(shop, green.id, replace(SEAT, test_hole=key(900)), 820).thin


def test_a_piece_turned_to_the_end_since_it_came_out_dry_has_its_tenons_cut(shop: Shop) -> None:
    kept = shopfloor.started(shop, wanted=2, spares=0)
    wood.give(shop, kept.id, ROUGH, at=AT)
    tap_through(shop, 1, 1000, AT)
    drying.note(shop, 1, 1, "dried", key=key(1), at="2026-02-20T08:00:00.000Z")
    (lies,) = drying.view(shop, 1, now=LATER).lies
    assert lies.sized_at is None
    wood.turn_dry(shop, kept.id, [1], 7.0, at="2026-02-21T08:00:00.000Z")
    tap_through(shop, 1, 5000, "2026-02-21T09:00:00.000Z")
    (lies,) = drying.view(shop, 1, now=LATER).lies
    assert lies.sized_at == "2026-02-21T09:00:00.000Z"
