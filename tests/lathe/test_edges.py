from dataclasses import replace
from math import pi

import pytest

from benchside.errors import OutOfRange
from benchside.lathe.edges import (
    ASSUMED_RPM,
    MINUTES,
    Passed,
    Tap,
    due_at,
    has_edge,
    passed,
    since_touched,
    speeds_rpm,
    worked_mm,
)
from benchside.lathe.plan import plan
from tests.lathe.samples import BACK, BALUSTER


def test_metres_past_the_edge_are_turns_times_the_way_round():
    # 100 mm round, 1000 turns a minute, three minutes with the edge always in the wood: 300 m.
    found = passed(100 / pi, 1000, 3, cutting_share=1)
    assert found.metres == pytest.approx(300)
    assert found.worn_m == found.metres
    assert passed(100 / pi, 1000, 3).metres == pytest.approx(150)
    hard = passed(100 / pi, 1000, 3, cuts="hard")
    assert hard.metres == pytest.approx(150)
    assert hard.worn_m > hard.metres


def test_a_step_s_time_belongs_to_its_tool_and_a_touch_up_begins_anew():
    def tap(minute, tool):
        return Tap(minute * 60, tool, 100 / pi, 1000)

    # 0: mounted; 2 minutes of gouge; 3 of skew; a break of half an hour; 1 more of skew.
    taps = [tap(0, ""), tap(2, "roughing_gouge"), tap(5, "skew"), tap(35, "skew"), tap(36, "skew")]
    found = since_touched(reversed(taps), {}, cutting_share=1)
    assert found["roughing_gouge"].metres == pytest.approx(200)
    assert found["skew"].metres == pytest.approx(400)
    found = since_touched(taps, {"skew": 4 * 60.0}, cutting_share=1)
    assert found["roughing_gouge"].metres == pytest.approx(200)
    assert found["skew"].metres == pytest.approx(200)  # from the fourth minute on
    assert since_touched(taps, {"": 36 * 60.0}) == {}
    assert since_touched(taps, {"": 0.0, "skew": 35 * 60.0}, cutting_share=1)[
        "skew"
    ].metres == pytest.approx(100)


def test_nothing_without_an_edge_is_counted():
    assert since_touched([Tap(0), Tap(60), Tap(90, "caliper", 20, 900)], {}) == {}
    assert not has_edge("")
    assert not any(map(has_edge, ("mallet", "stick", "caliper", "rule", "pencil")))
    for step in plan(BALUSTER):
        assert has_edge(step.tool) is (step.stage in MINUTES)


def test_the_thickness_half_way_through_each_cut():
    steps = {step.id: step for step in plan(BALUSTER)}
    stock = steps["rough"].stop_mm
    assert worked_mm(BALUSTER, steps["rough"], stock) == stock
    assert worked_mm(BALUSTER, steps["form:fillet"], stock) == pytest.approx((30 + 30 + 38) / 3)
    assert worked_mm(BALUSTER, steps["thin:vase-top"], stock) == pytest.approx(25)
    tenon = steps["tenon:pin"]
    assert worked_mm(BALUSTER, tenon, stock) == pytest.approx((stock + 16) / 2)


def test_a_stage_without_a_speed_runs_on_as_the_one_before():
    found = speeds_rpm(plan(BACK), {"rough": "about 700", "thin": "1100 or pulley 3"})
    assert found["mount"] == ASSUMED_RPM
    assert found["rough"] == found["size"] == found["tenon"] == 700
    assert found["thin"] == 1100


def test_an_edge_is_due_before_the_step_that_would_wear_it_out():
    one, two, three = [
        replace(step, tool="skew") for step in plan(BALUSTER) if step.stage == "form"
    ][:3]
    other = replace(one, id="other", tool="parting")
    to_pass = {step.id: Passed(60, 60) for step in (one, two, three, other)}
    steps = (one, other, two, three)
    limits = {"skew": 130.0}
    assert due_at(steps, to_pass, {}, limits) == {three.id: Passed(120, 120)}
    worn = {"skew": Passed(100, 100)}
    again = {one.id: Passed(100, 100), three.id: Passed(120, 120)}
    assert due_at(steps, to_pass, worn, limits) == again
    # Hard wood wears more than its metres.
    hard = {step_id: Passed(60, 90) for step_id in to_pass}
    assert due_at(steps, hard, {}, limits) == {
        two.id: Passed(60, 90),
        three.id: Passed(60, 90),
    }
    # A limit below one step's own wear asks no oftener than at each step.
    assert due_at(steps, to_pass, {}, {"skew": 10.0}).keys() == {two.id, three.id}


def test_times_and_shares_that_cannot_be_are_refused():
    for wrong in (
        {"minutes": -1.0},
        {"minutes": float("nan")},
        {"minutes": 1.0, "cutting_share": 0.0},
        {"minutes": 1.0, "cutting_share": 1.5},
    ):
        with pytest.raises(OutOfRange):
            passed(20, 900, **wrong)


def test_a_step_without_an_edge_wears_none():
    steps = [step for step in plan(BACK) if step.stage in ("mount", "set_out")]
    assert due_at(steps, {step.id: Passed(900, 900) for step in steps}, {}, {}) == {}
