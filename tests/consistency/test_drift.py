from dataclasses import replace
from math import inf, nan

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy import stats

from benchside.consistency import drift
from benchside.errors import OutOfRange
from tests.consistency.samples import scattered

sets = hnp.arrays(float, st.integers(3, 20), elements=st.floats(-2, 2).map(lambda mm: round(mm, 2)))


@given(sets)
def test_the_trend_is_the_line_of_least_squares(values):
    assume(np.ptp(values) > 0)
    order = np.arange(1, values.size + 1)
    found = drift.trend(values, order)
    reference = stats.linregress(order, values)
    reach = stats.t.ppf(0.975, values.size - 2) * reference.stderr
    assert found.slope_mm_per_piece == pytest.approx(reference.slope, abs=1e-9)
    assert found.high - found.low == pytest.approx(2 * reach, abs=1e-6)


def test_two_pieces_have_a_slope_but_no_limits():
    found = drift.trend([12.0, 12.1], [1, 2])
    assert found.slope_mm_per_piece == pytest.approx(0.1)
    assert found.low is found.high is None


def test_equal_pieces_do_not_creep_and_the_step_keeps_it_uncertain():
    found = drift.trend([12.7] * 4, [1, 2, 3, 4], step_mm=0.1)
    assert found.slope_mm_per_piece == 0
    assert found.low < 0 < found.high


def test_pieces_count_at_their_place_in_the_order_and_gaps_are_left_out():
    whole = drift.trend([1.0, 2.0, nan, 4.0, 5.5], [1, 2, 3, 4, 5])
    assert whole == drift.trend([5.5, 1.0, 4.0, 2.0], [5, 1, 4, 2])
    assert 0 < whole.low < whole.slope_mm_per_piece


@pytest.mark.parametrize(
    ("values", "order"),
    [([], []), ([1.0], [1]), ([1.0, nan], [1, 2]), ([1.0, 2.0], [3, 3]), ([1.0, 2.0], [1]),
     ([1.0, inf], [1, 2])],
)  # fmt: skip
def test_one_piece_has_no_direction(values, order):
    with pytest.raises(OutOfRange):
        drift.trend(values, order)


def test_a_piece_outside_the_limits_is_called_out_at_its_place():
    values = [16.2, nan, 16.0, 16.2, 16.0, 16.2, 16.0, 16.2, 16.0, 16.2, 17.0]
    assert drift.individuals(values).signals == (drift.Signal(10, "outside"),)


def test_from_the_eighth_in_a_row_on_one_side_pieces_are_called_out():
    found = drift.individuals([0.0, 0.4] * 4 + [nan] + [0.5, 0.9] * 5)
    assert [s.at for s in found.signals if s.rule == "run"] == [7, 16, 17, 18]
    # One on the centre belongs to neither side.
    halved = drift.individuals([0.0, 0.4] * 3 + [0.45] + [0.5, 0.9] * 3)
    assert halved.centre_mm == pytest.approx(0.45)
    assert halved.signals == ()


def test_equal_pieces_have_limits_without_room():
    found = drift.individuals([12.7] * 12)
    assert found.lower_mm == found.centre_mm == found.upper_mm
    # The sum of many decimals is not exact: that is no signal either.
    assert found.signals == drift.individuals([0.1] * 9).signals == ()


@pytest.mark.parametrize("values", [[], [1.0], [1.0, nan], [1.0, 2.0, inf]])
def test_one_piece_has_no_limits(values):
    with pytest.raises(OutOfRange):
        drift.individuals(values)


def steady_then(seed, steady, moved_mm, columns=1, sd=0.05):
    """A set that is steady, then moves by so much on each further piece. [mm]"""
    moves = np.concatenate([np.zeros(steady), np.asarray(moved_mm)])
    return scattered(seed, moves.size, columns, sd=sd) + moves[:, None]


def test_a_caliper_that_creeps_is_told_with_how_fast_and_since_when():
    off = steady_then(1, 8, 0.08 * np.arange(1, 7), columns=2)
    alarm, *more = drift.watch(off, ["B", "B"], 20)
    assert not more
    assert (alarm.group, alarm.how, alarm.columns) == ("B", "creeps", (0, 1))
    assert alarm.slope_mm_per_piece == pytest.approx(0.08, abs=0.02)
    assert abs(alarm.since - 8) <= 1
    assert alarm.pieces == 14 - alarm.since
    assert alarm.low_mm < alarm.moved_mm < alarm.high_mm
    assert alarm.moved_mm == pytest.approx(0.48, abs=0.1)


def test_a_caliper_that_was_knocked_is_told_as_a_jump():
    alarm = drift.watch(steady_then(2, 9, [-0.4] * 5), ["A"], 20)[0]
    assert (alarm.how, alarm.since, alarm.slope_mm_per_piece) == ("jumped", 9, 0)
    assert alarm.moved_mm == pytest.approx(-0.4, abs=0.1)


def test_it_is_caught_at_that_piece_and_not_before():
    off = steady_then(1, 8, 0.08 * np.arange(1, 7), columns=2)
    ((row, alarm),) = drift.history(off, ["B", "B"], 20)
    assert alarm == drift.watch(off[: row + 1], ["B", "B"], 20)[0]
    assert drift.watch(off[:row], ["B", "B"], 20) == ()
    assert row > 8


def test_the_station_that_moved_most_is_named():
    off = steady_then(3, 8, 0.1 * np.arange(1, 7), columns=3)
    off[8:, 2] += 0.1 * np.arange(1, 7)
    assert drift.watch(off, ["C", "C", "C"], 20)[0].most == 2


def test_stations_on_one_caliper_are_caught_sooner_than_alone():
    def told_at(groups, off):
        return min(row for row, _ in drift.history(off, groups, 20))

    sooner = 0
    for seed in range(12):
        off = steady_then(seed, 8, 0.05 * np.arange(1, 13), columns=4)
        sooner += told_at(["A"] * 4, off) - told_at(["A", "B", "C", "D"], off)
    assert sooner <= -6  # half a piece sooner, and more


def test_only_the_caliper_that_moves_is_told():
    off = np.hstack([steady_then(4, 8, 0.1 * np.arange(1, 7)), scattered(5, 14, 2, sd=0.05)])
    assert [alarm.group for alarm in drift.watch(off, ["B", "A", "A"], 20)] == ["B"]


@pytest.mark.parametrize("seed", range(5))
def test_one_odd_piece_is_no_drift(seed):
    off = scattered(seed, 12, 2, sd=0.05)
    off[7] += 0.5
    assert drift.watch(off, ["A", "A"], 12) == ()
    assert drift.watch(off[:8], ["A", "A"], 12) == ()


def test_pieces_mixed_from_two_lots_by_turns_are_no_drift():
    off = scattered(1, 20, 1, sd=0.05) + 0.5 * (np.arange(20) % 2)[:, None]
    assert drift.watch(off, ["A"], 20) == ()


def test_a_drift_too_small_to_matter_is_kept_quiet():
    off = steady_then(1, 8, 0.08 * np.arange(1, 7), columns=2)
    assert drift.watch(off, ["B", "B"], 20, worth_mm=0.6) == ()


def test_equal_pieces_and_few_pieces_give_no_alarm():
    assert drift.watch(np.zeros((20, 3)), ["A", "A", "B"], 20) == ()
    assert drift.watch(np.arange(4.0)[:, None], ["A"], 20) == ()
    assert drift.watch(np.zeros((0, 2)), ["A", "B"], 20) == ()
    assert drift.watch(np.full((9, 1), nan), ["A"], 20) == ()


def test_missing_stations_do_not_shift_a_piece():
    # Two stations, one full and one lean; each piece lacks one of them by turns: nothing moves.
    off = np.array([[0.5, -0.5]] * 12) + scattered(6, 12, 2, sd=0.02)
    off[np.arange(12), np.arange(12) // 6] = nan
    off[0] = off[6] = [0.5, -0.5]
    assert drift.watch(off, ["A", "A"], 12) == ()


def test_a_piece_not_read_keeps_its_row_in_the_alarm():
    off = steady_then(2, 9, [-0.4] * 5)
    with_gap = np.insert(off, 3, nan, axis=0)
    before, after = (drift.watch(o, ["A"], 20)[0] for o in (off, with_gap))
    assert after == replace(before, since=before.since + 1)


def test_the_more_that_is_watched_the_surer_an_alarm_must_be():
    limits = [drift.alarm_below(p, g) for p, g in [(6, 1), (20, 1), (20, 8), (40, 8), (80, 30)]]
    assert limits == sorted(limits, reverse=True)
    assert all(0 < limit < 0.05 for limit in limits)


@pytest.mark.parametrize(
    ("off", "groups"),
    [([[1.0, 2.0]], ["A"]), ([1.0, 2.0], ["A", "B"]), ([[inf]], ["A"]), ([[]], [])],
)
def test_each_station_needs_its_caliper(off, groups):
    with pytest.raises(OutOfRange):
        drift.watch(off, groups, 12)


def test_the_next_piece_is_aimed_at_the_target_while_that_keeps_the_set_alike():
    assert drift.aim_off_mm([-0.15, -0.05, -0.1, 0.0, 0.0, 0.05, 0.1, 0.1, 0.15]) == 0


def test_a_set_that_is_full_throughout_is_kept_full():
    aim = drift.aim_off_mm([0.30, 0.32, 0.28, 0.30, 0.31])
    assert aim == pytest.approx(0.30, abs=0.02)


def test_a_tenon_is_always_aimed_at_its_hole():
    assert drift.aim_off_mm([0.3, 0.3, 0.3], to_the_target=True) == 0
    assert drift.aim_off_mm([]) == drift.aim_off_mm([0.4]) == drift.aim_off_mm([nan]) == 0


@given(sets)
def test_the_aim_never_makes_the_set_wider(values):
    assert values.min() - 1e-9 <= drift.aim_off_mm(values) <= values.max() + 1e-9


def test_a_fine_station_is_not_blurred_by_the_step_of_a_coarse_one():
    # Hundredths at A creep; B is read to whole millimetres, which would hide it.
    off = np.zeros((10, 2))
    off[5:, 0] = 0.02 * np.arange(1, 6)
    told = drift.watch(off, ["A", "B"], 10, step_mm=[0.01, 1.0])
    assert [alarm.group for alarm in told] == ["A"]
    assert not drift.watch(off, ["A", "B"], 10, step_mm=1.0)
    # Judged together they are only as fine as their mean.
    assert not drift.watch(off, ["A", "A"], 10, step_mm=[0.01, 1.0])
