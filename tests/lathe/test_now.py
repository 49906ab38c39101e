"""The sizes to turn now: every diameter as the wood asks, and what is left of the plan."""

from dataclasses import replace

import pytest

from benchside.lathe.now import Turning, finish_mm, pattern_now, sizes, steps_now
from benchside.lathe.plan import plan
from benchside.pattern import places
from tests.lathe.samples import BALUSTER, D, pattern

# White ash, 4.9 % along the rays and 7.8 % along the rings from green to 0 % [@wood-handbook-2021,
# Table 4-3]; green to 8 % it keeps 1 - 0.078 (30 - 8) / 30 of its size on the way that loses most.
ASH = Turning(4.9, 7.8, 45.0, 8.0, sizing_mm=0.3, rough_mm=2.0, roughing=False)
KEEPS = 1 - 0.078 * 22 / 30
STILL = replace(ASH, radial_percent=0.0, tangential_percent=0.0, sizing_mm=0.0)


def test_wood_that_does_not_move_is_turned_to_its_finished_sizes():
    assert pattern_now(BALUSTER, STILL) == BALUSTER
    for was, is_now in zip(plan(BALUSTER), steps_now(plan(BALUSTER), STILL), strict=True):
        assert is_now == replace(was, stop_mm=is_now.stop_mm, finish_mm=is_now.finish_mm)
        assert is_now.stop_mm == (was.stop_mm and pytest.approx(was.stop_mm, abs=0.0051))
        assert is_now.finish_mm == (was.finish_mm and pytest.approx(was.finish_mm, abs=0.0051))
    assert STILL.tries


def test_every_diameter_is_larger_by_what_it_loses_and_tenons_by_the_last_cut_too():
    now = pattern_now(BALUSTER, ASH)
    for was, is_now in zip(BALUSTER.stations, now.stations, strict=True):
        more_mm = 0.3 if was.kind == "tenon" else 0.0
        assert is_now.diameter_mm == pytest.approx((was.diameter_mm + more_mm) / KEEPS, abs=0.006)
        assert is_now.at_mm == was.at_mm
    of_place = sizes(BALUSTER, ASH)
    for place in places(now):
        assert of_place[place.id].turn_mm == pytest.approx(place.diameter_mm, abs=0.006)


def test_a_crown_for_which_its_fatter_ends_leave_no_room_is_brought_to_the_most_there_is():
    # A ball is a half circle between ends as thick as it is long: no fatter crown fits on 20 mm.
    ball = pattern(("a", 0, 20.0, D, "bead", 40.0), ("b", 20, 20.0, D))
    crown_mm = pattern_now(ball, ASH).sections[0].through_mm
    assert crown_mm == pytest.approx(20 / KEEPS + 20, abs=0.011)
    assert crown_mm < 40 / KEEPS
    groove = pattern(("a", 0, 40.0, D, "cove", 20.0), ("b", 20, 40.0, D))
    root_mm = pattern_now(groove, ASH).sections[0].through_mm
    assert root_mm == pytest.approx(40 / KEEPS - 20, abs=0.011)
    assert root_mm > 20 / KEEPS


def test_a_bead_that_ends_at_its_crown_keeps_ending_there():
    half = pattern(("a", 0, 20.0, D, "bead", 30.0), ("b", 20, 30.0, D))
    now = pattern_now(half, ASH)
    assert now.sections[0].through_mm == now.stations[1].diameter_mm


def test_a_tenon_that_has_still_to_dry_is_not_tried_in_its_hole():
    assert not ASH.tries
    tenons = [step for step in steps_now(plan(BALUSTER), ASH) if step.stage == "tenon"]
    assert tenons
    assert {(step.try_mm, step.say) for step in tenons} == {(None, "tenon_wet")}
    nearly_dry = replace(ASH, from_mc=11.0, to_mc=8.0)  # loses 0.078 * 3 / 30, under a hundredth
    assert nearly_dry.tries


def test_a_piece_only_roughed_is_mounted_roughed_and_sized_with_what_is_left_on_it():
    roughed = replace(ASH, roughing=True)
    now = pattern_now(BALUSTER, roughed)
    for was, is_now in zip(BALUSTER.stations, now.stations, strict=True):
        assert is_now.diameter_mm == pytest.approx((was.diameter_mm + 2) / KEEPS, abs=0.006)
    steps = steps_now(plan(now), roughed)
    assert {step.stage for step in steps} == {"mount", "rough", "size", "done"}
    tenons = {s.id for s in BALUSTER.stations if s.kind == "tenon"}
    assert tenons & {step.place_id for step in steps}
    for step in steps:
        if step.stage == "size":
            # Nothing finer follows today: it stops at the size itself, and may lose what is left.
            assert step.stop_mm - step.finish_mm == pytest.approx(2 / KEEPS, abs=0.011)
    assert finish_mm(30.0, ASH) == 30.0
