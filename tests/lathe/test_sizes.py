import json
from math import inf, nan
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchside.errors import OutOfRange
from benchside.lathe.sizes import most_mm, surprising, verdict

# Worked by hand; the phone's own rules are held to the same cases.
CASES = json.loads(Path(__file__).with_name("verdict_cases.json").read_text("utf-8"))
TAKEN = [case for case in CASES if "refused" not in case["expect"]]
REFUSED = [case for case in CASES if "refused" in case["expect"]]

mm = st.floats(1.0, 200.0)


def asked(case):
    return verdict(
        case["value_mm"],
        case["target_mm"],
        tolerance_mm=case["tolerance_mm"],
        finish_mm=case["finish_mm"],
        kind=case["kind"],
        reads=case["reads"],
        phase=case["phase"],
        first_mm=case.get("first_mm"),
        tried=case.get("tried", True),
        blends=case.get("blends", True),
    )


@pytest.mark.parametrize("case", TAKEN, ids=lambda case: case["name"])
def test_a_reading_means_what_was_worked_out_by_hand(case):
    found, expect = asked(case), case["expect"]
    assert (found.word, found.action) == (expect["word"], expect["action"])
    for name in ("off_mm", "side_mm", "left_mm"):
        assert getattr(found, name) == pytest.approx(expect[name], abs=1e-9), name
    assert found.oval_mm == pytest.approx(expect.get("oval_mm", 0), abs=1e-9)


@pytest.mark.parametrize("case", TAKEN, ids=lambda case: case["name"])
def test_a_figure_far_off_is_asked_about(case):
    found = surprising(case["value_mm"], case["target_mm"], reads=case["reads"])
    assert found is case["expect"]["surprising"]


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: case["name"])
def test_what_is_no_size_is_refused(case):
    with pytest.raises(OutOfRange):
        asked(case)
    with pytest.raises(OutOfRange):
        surprising(case["value_mm"], case["target_mm"], reads=case["reads"])


@pytest.mark.parametrize("bad", [nan, inf, -inf])
@pytest.mark.parametrize("reads", ["diameter", "position"])
def test_figures_that_are_no_number_are_refused(bad, reads):
    for value, target, tolerance, finish in (
        (bad, 20.0, 0.4, None),
        (20.0, bad, 0.4, None),
        (20.0, 20.0, bad, None),
    ):
        with pytest.raises(OutOfRange):
            verdict(value, target, tolerance_mm=tolerance, finish_mm=finish, reads=reads)
    with pytest.raises(OutOfRange):
        verdict(20.0, 20.0, tolerance_mm=0.4, finish_mm=bad)


def test_a_refusal_says_what_would_be_right():
    with pytest.raises(OutOfRange) as refused:
        verdict(-3.0, 20.0, tolerance_mm=0.4)
    assert refused.value.message == "-3 is no thickness."
    assert refused.value.field == "value"
    assert "more than 0" in refused.value.hint


def test_a_tolerance_of_nothing_still_takes_the_size_itself():
    assert verdict(20.0, 20.0, tolerance_mm=0.0).word == "within"


@given(mm, mm, st.floats(0.01, 2.0))
@settings(deadline=None)
def test_half_of_what_is_over_or_missing_is_a_side(value, target, tolerance):
    found = verdict(value, target, tolerance_mm=tolerance)
    assert found.side_mm * 2 == pytest.approx(abs(value - target))
    assert found.left_mm >= 0


@given(mm, mm, st.floats(0.01, 2.0), st.floats(0.0, 3.0))
@settings(deadline=None)
def test_cutting_deeper_never_turns_under_back_to_over(value, target, tolerance, deeper):
    rank = ["under", "within", "over"]
    less = max(value - deeper, 0.5)
    before = verdict(value, target, tolerance_mm=tolerance).word
    after = verdict(less, target, tolerance_mm=tolerance).word
    assert rank.index(after) <= rank.index(before)


def test_no_piece_was_thicker_than_the_lathe_swings_nor_than_three_times_its_round():
    assert most_mm(30.0) == 90.0
    assert most_mm(30.0, 305.0) == 90.0
    assert most_mm(150.0, 305.0) == 305.0
    assert most_mm(150.0, 100.0) == 450.0  # a swing that does not take the round was said wrong
