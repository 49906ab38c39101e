from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchside.lathe import parts
from benchside.lathe.plan import plan
from benchside.lathe.steps import STAGES, next_step, stages
from benchside.pattern import places
from tests.lathe.samples import BACK, BALUSTER, DOWEL, STRETCHER, D, T, pattern, patterns


def ids(steps, *of):
    return [step.id for step in steps if not of or step.stage in of]


def step(steps, step_id):
    return next(s for s in steps if s.id == step_id)


def test_a_back_spindle_is_turned_in_the_order_of_the_trade():
    assert ids(plan(BACK)) == [
        "mount",
        "rough",
        "set_out",
        "size:bulb",
        "tenon:tip",
        "tenon:tip-end",
        "tenon:foot",
        "tenon:foot-end",
        "run:bulb",
        "run:waist",
        "thin:tip-end",
        "final:tip",
        "final:tip-end",
        "final:middle:tip-end",
        "final:waist",
        "final:middle:waist",
        "final:bulb",
        "final:middle:bulb",
        "final:neck",
        "final:foot",
        "final:foot-end",
        "done",
    ]


def test_a_baluster_is_sized_thick_to_thin_with_equal_sizes_together():
    steps = plan(BALUSTER)
    assert ids(steps, "size") == [
        "size:block",
        "size:block-top",
        "size:crown:fillet",
        "size:vase",
        "size:vase-top",
        "size:head",
        "size:crown:throat",
        "size:crown:collar",
    ]


def test_shoulders_come_before_all_that_meets_them():
    steps = plan(BALUSTER)
    assert ids(steps, "run") == ["run:block-top", "run:block", "run:cap", "run:vase"]
    # The fillet's bead stands by the shoulder, so all shoulders and slopes come before the beads.
    assert ids(steps).index("run:vase") < ids(steps).index("form:ring")
    assert sorted(ids(steps, "form")) == ["form:collar", "form:fillet", "form:ring"]


def test_where_no_bead_waits_for_a_shoulder_beads_and_coves_come_while_the_piece_is_stiff():
    plain = pattern(
        ("a", 0, 20.0, T, "straight"),
        ("b", 30, 20.0, T, "taper"),
        ("c", 250, 28.0, D, "bead", 34.0),
        ("d", 266, 28.0, D, "cove", 22.0),
        ("e", 290, 30.0, D, "taper"),
        ("f", 600, 14.0, D),
    )
    found = [s.id for s in plan(plain) if s.stage in ("form", "run", "thin")]
    assert found == ["form:c", "form:d", "run:b", "thin:e"]


def test_what_meets_the_thinnest_place_waits_till_last():
    steps = plan(BALUSTER)
    # The throat of 18 mm is the thinnest but for the tenons: the long taper down to it and the
    # bead above it.
    assert ids(steps, "thin") == ["thin:throat", "thin:vase-top"]
    # Of two alike the rest stands at the second already: the tenon there was the last cut.
    assert ids(plan(STRETCHER), "tenon")[-1] == "tenon:right-end"
    assert ids(plan(STRETCHER), "run", "thin") == ["thin:swell", "thin:neck"]


def test_a_plain_cylinder_has_no_thinnest_part():
    assert ids(plan(DOWEL)) == [
        "mount",
        "rough",
        "set_out",
        "size:left",
        "size:right",
        "run:left",
        "final:left",
        "final:along:left:1",
        "final:right",
        "done",
    ]


def test_roughing_leaves_an_eighth_of_an_inch_over_the_largest_diameter():
    # 1/8 in = 3.175 mm: common practice.
    rough = step(plan(BALUSTER), "rough")
    assert (rough.finish_mm, rough.stop_mm) == (44.0, 47.175)


def test_sizing_stops_a_sixteenth_of_an_inch_over():
    # Calipers 1/16 in (1.5875 mm) over [@milton-wohlers-1919, ch. V].
    for s in plan(BALUSTER):
        if s.stage == "size" and not s.brings:
            assert s.stop_mm == pytest.approx(s.finish_mm + 1.5875)


def test_what_was_sized_over_is_brought_to_its_finish_by_what_is_cut_beside_it():
    # Slopes are planed from the high places down, ends to size: common practice.
    brings = {s.id: s.brings for s in plan(BALUSTER) if s.brings}
    assert brings == {
        "run:block": ("block", "block-top"),
        "form:fillet": ("crown:fillet",),
        "run:vase": ("vase", "vase-top"),
        "run:cap": ("head",),
        "thin:throat": ("crown:throat",),
        "form:collar": ("crown:collar",),
    }


def test_a_place_that_nothing_is_cut_to_later_is_sized_to_its_finish_at_once():
    runs = [name for name in ids(plan(DOWEL)) if name.startswith("run:")]
    late = plan(DOWEL, [*runs, "size:left"])
    sized = step(late, "size:left")
    assert (sized.stop_mm, sized.brings) == (sized.finish_mm, ("left",))
    # A ring between two shoulders: both run below it.
    ring = pattern(
        ("a", 0, 20.0, D, "straight"),
        ("b", 100, 20.0, D, "shoulder"),
        ("ring", 120, 30.0, D, "shoulder"),
        ("c", 140, 20.0, D, "straight"),
        ("d", 240, 20.0, D),
    )
    assert step(plan(ring), "size:ring").stop_mm == 30.0


def test_a_tenon_is_stopped_and_tried_before_its_size():
    tenon = step(plan(BALUSTER), "tenon:pin")
    assert (tenon.stop_mm, tenon.finish_mm, tenon.try_mm) == (16.0, 16.0, 16.5)
    assert all(s.try_mm is None for s in plan(BALUSTER) if s.stage != "tenon")


def test_a_taper_is_read_at_its_middle_and_a_long_straight_along_it():
    steps = plan(BALUSTER)
    assert step(steps, "run:cap").place_id == "middle:cap"
    assert step(steps, "run:cap").stop_mm == 26.0  # half way from 22 to 30
    assert step(steps, "run:vase").place_id == "along:vase:1"


def test_a_run_without_a_middle_is_read_at_its_lower_end():
    # From 30 mm at the block's top the shoulder runs at the fillet's size.
    shoulder = step(plan(BALUSTER), "run:block-top")
    assert (shoulder.place_id, shoulder.stop_mm) == ("fillet", 30.0)


def test_a_crown_sized_before_is_not_read_twice_as_if_it_were_one_reading():
    steps = plan(BALUSTER)
    assert step(steps, "size:crown:fillet").reads == "diameter"
    bead = step(steps, "form:fillet")
    assert (bead.place_id, bead.stop_mm, bead.reads) == ("crown:fillet", 38.0, None)
    assert step(steps, "form:ring").reads == "diameter"


def test_where_beads_and_shoulders_lie_is_read_right_after_their_size():
    found = ids(plan(BALUSTER))
    for place in ("block", "block-top", "head", "crown:fillet", "root:ring", "crown:throat"):
        assert found.index(f"position:{place}") == found.index(f"final:{place}") + 1
    where = step(plan(BALUSTER), "position:head")
    assert (where.at_mm, where.finish_mm, where.stop_mm, where.reads) == (
        500.0,
        500.0,
        500.0,
        "position",
    )
    assert "position:vase-top" not in found


def test_the_edge_is_touched_up_at_the_start_before_finishing_and_before_the_thin_part():
    assert ids(s for s in plan(BACK) if s.touch_up) == ["mount", "tenon:tip", "thin:tip-end"]
    assert ids(s for s in plan(DOWEL) if s.touch_up) == ["mount", "run:left"]


def test_a_tenon_stands_finished_once_both_its_ends_are():
    steps = plan(BALUSTER)
    assert step(steps, "tenon:bottom").forms == ()
    assert step(steps, "tenon:ledge").forms == (0, 1)
    turned_round = plan(BALUSTER, ["tenon:ledge", "tenon:bottom"])
    assert step(turned_round, "tenon:bottom").forms == (0,)
    assert step(turned_round, "tenon:ledge").forms == (1,)


def test_a_shoulder_that_runs_below_a_fat_tenon_is_not_part_of_it():
    fat = pattern(
        ("end", 0, 30.0, T, "straight"),
        ("in", 30, 30.0, T, "shoulder"),
        ("land", 60, 20.0, D, "taper"),
        ("far", 200, 26.0, D),
    )
    steps = plan(fat)
    assert step(steps, "tenon:in").forms == (0,)
    assert "thin:in" in ids(steps)


def test_a_hand_behind_is_asked_for_where_the_work_is_slender():
    slender = step(plan(BALUSTER), "run:vase")
    stout = step(plan(DOWEL), "run:left")
    assert (slender.caution, stout.caution) == ("hand_behind", "rest_first")
    assert {s.caution for s in plan(BACK) if s.stage == "thin"} == {"hand_behind"}


def test_what_the_trade_knows_is_told_in_turn():
    told = [s.why for s in plan(BALUSTER) if s.say == "size"]
    assert told == ["widen", "round_tips", "reads_over", "half", "widen"]


def test_a_remembered_order_is_followed():
    own = ["form:ring", "run:cap", "tenon:pin", "tenon:pin-end", "size:head"]
    found = ids(plan(BALUSTER, own))
    at = [found.index(name) for name in own]
    assert at == sorted(at)


def test_steps_not_named_stay_behind_their_neighbour():
    found = ids(plan(BALUSTER, ["tenon:pin", "tenon:bottom"]))
    assert found.index("tenon:pin-end") == found.index("tenon:pin") + 1
    assert found.index("tenon:ledge") == found.index("tenon:bottom") + 1


def test_a_position_moves_with_its_final_reading():
    found = ids(plan(BALUSTER, ["final:head", "final:block"]))
    assert found.index("position:head") == found.index("final:head") + 1
    assert found.index("position:block") == found.index("final:block") + 1


def test_names_the_pattern_no_longer_has_are_passed_over():
    assert plan(BACK, ["run:gone", "size:gone", ""]) == plan(BACK)


def test_mounting_stays_first_and_done_last_whatever_was_remembered():
    found = ids(plan(BACK, ["done", "final:tip", "mount", "rough"]))
    assert (found[0], found[-1]) == ("mount", "done")
    assert found.index("final:tip") < found.index("rough")


def test_the_default_order_remembered_changes_nothing():
    assert plan(BALUSTER, ids(plan(BALUSTER))) == plan(BALUSTER)


def test_the_next_step_is_the_first_not_done():
    steps = plan(BACK)
    assert next_step(steps, set()).id == "mount"
    assert next_step(steps, {"mount", "set_out"}).id == "rough"
    assert next_step(steps, {s.id for s in steps}) is None


def test_stages_hold_every_step_in_order():
    found = stages(plan(BALUSTER))
    assert list(found) == list(STAGES)
    assert [s for group in found.values() for s in group] == list(plan(BALUSTER))


def test_a_spindle_that_is_all_tenon_needs_no_sizing():
    peg = pattern(("a", 0, 12.0, T, "straight"), ("b", 90, 12.0, T))
    assert ids(plan(peg)) == [
        "mount", "rough", "set_out", "tenon:a", "tenon:b", "final:a", "final:b", "done",
    ]  # fmt: skip


@given(patterns(), st.randoms(use_true_random=False), st.booleans())
@settings(max_examples=50)
def test_the_laws_of_the_plan_hold_for_any_pattern_in_any_order(any_pattern, random, shuffled):
    default = plan(any_pattern)
    order = ids(default)
    if shuffled:
        random.shuffle(order)
        order = order[: random.randint(0, len(order))]
    steps = plan(any_pattern, order)

    found = ids(steps)
    assert sorted(found) == sorted(ids(default))
    assert len(set(found)) == len(found)
    assert (found[0], found[-1]) == ("mount", "done")
    named = [name for name in order if name not in ("mount", "done")]
    assert [name for name in found if name in set(named)] == named

    finished = Counter(i for s in steps for i in s.forms)
    assert finished == Counter(range(len(any_pattern.sections)))

    by_id = {p.id: p for p in places(any_pattern)}
    finals = [s.place_id for s in steps if s.reads == "diameter" and s.phase == "final"]
    assert sorted(finals) == sorted(by_id)
    positions = [s.place_id for s in steps if s.reads == "position"]
    assert sorted(positions) == sorted(p.id for p in by_id.values() if p.position_matters)

    read = Counter((s.place_id, s.reads, s.phase) for s in steps if s.reads)
    assert not read or max(read.values()) == 1

    brought = [place for s in steps for place in s.brings]
    assert sorted(brought) == sorted(s.place_id for s in steps if s.stage == "size")
    for i, s in enumerate(steps):
        if s.stage == "size" and s.stop_mm > s.finish_mm:
            assert any(s.place_id in later.brings for later in steps[i + 1 :])

    for s in steps:
        if s.place_id is not None:
            assert s.at_mm == by_id[s.place_id].at_mm
            if s.reads != "position":
                assert s.finish_mm == by_id[s.place_id].diameter_mm
        if s.stop_mm is not None:
            assert s.stop_mm >= s.finish_mm


@given(patterns())
@settings(deadline=None)
def test_every_pattern_that_is_not_all_tenon_has_a_high_place(any_pattern):
    high = parts.high_places(any_pattern)
    assert not any(parts.is_tenon(any_pattern, p) for p in high)
    marked = [
        p
        for p in places(any_pattern)
        if p.role in ("station", "crown") and not parts.is_tenon(any_pattern, p)
    ]
    assert {p.id for p in high} <= {p.id for p in marked}
    if marked:
        assert max(p.diameter_mm for p in marked) == max(p.diameter_mm for p in high)


@given(patterns())
@settings(deadline=None)
def test_the_thin_part_is_where_the_least_working_diameter_lies(any_pattern):
    thin = parts.thin_sections(any_pattern)
    free = [p for p in places(any_pattern) if not parts.is_tenon(any_pattern, p)]
    if len({p.diameter_mm for p in free}) < 2:
        assert not thin
        return
    least = min(p.diameter_mm for p in free)
    assert least == parts.slenderness(any_pattern).least_mm
    for i in thin:
        ends = [s.diameter_mm for s in any_pattern.stations[i : i + 2]]
        through = any_pattern.sections[i].through_mm
        assert least in ends or through == least or least == sum(ends) / 2
