"""Whether limits hold what they promise and alarms are as rare as they say: by simulation.

Every number stated in the code or its docstrings as "by simulation" is held here, by seeds.
"""

import numpy as np
import pytest
from scipy.special import stdtr
from scipy.stats import norm

from benchside.consistency import drift, enough, form, odd, original, pace, spread

pytestmark = pytest.mark.slow

SIZES = (3, 6, 9, 20)


def share(flags):
    return float(np.mean(list(flags)))


@pytest.mark.parametrize("n", SIZES)
def test_the_limits_of_a_spread_hold_it_19_times_in_20(n):
    rng = np.random.default_rng(n)
    found = [spread.spread(rng.normal(16, 0.3, n)) for _ in range(8000)]
    assert share(s.sd_low_mm <= 0.3 <= s.sd_high_mm for s in found) == pytest.approx(0.95, abs=0.01)


@pytest.mark.parametrize("n", SIZES)
@pytest.mark.parametrize("steps", [0.1, 0.3, 0.6, 1.0, 3.0])
def test_the_limits_of_a_spread_hold_it_when_readings_are_rounded(n, steps):
    # The true spread in steps: below one they are wider than need be.
    rng = np.random.default_rng(n)
    read = (np.round(rng.normal(rng.uniform(0, 1), steps, n)) for _ in range(4000))
    found = [spread.spread(values, 1.0) for values in read]
    assert share(s.sd_low_mm <= steps <= s.sd_high_mm for s in found) >= 0.92


@pytest.mark.parametrize("n", SIZES)
def test_tolerance_and_prediction_limits_hold_what_they_say(n):
    rng = np.random.default_rng(n)
    x = rng.normal(size=(20_000, n))
    mean, sd = np.mean(x, axis=1), np.std(x, axis=1, ddof=1)
    k = spread.tolerance_factor(n)
    held = norm.cdf(mean + k * sd) - norm.cdf(mean - k * sd)
    assert share(held >= 0.95) == pytest.approx(0.95, abs=0.006)
    coming = rng.normal(size=20_000)
    reach = spread.prediction_factor(n) * sd
    assert share(np.abs(coming - mean) <= reach) == pytest.approx(0.95, abs=0.006)


@pytest.mark.parametrize("repeats", [2, 3, 6])
def test_the_repeat_test_holds_the_error_of_the_calipers(repeats):
    rng = np.random.default_rng(repeats)
    tests = [
        spread.repeatability(np.array([[10], [20], [30]]) + rng.normal(0, 0.05, (3, repeats)))
        for _ in range(6000)
    ]
    held = share(t.sd_low_mm <= 0.05 <= t.sd_high_mm for t in tests)
    assert held == pytest.approx(0.95, abs=0.012)


@pytest.mark.parametrize("n", SIZES)
def test_the_limits_of_a_trend_hold_it_19_times_in_20(n):
    rng = np.random.default_rng(n)
    order = np.arange(n)
    found = [drift.trend(0.05 * order + rng.normal(0, 0.3, n), order) for _ in range(6000)]
    assert share(t.low <= 0.05 <= t.high for t in found) == pytest.approx(0.95, abs=0.012)
    still = [drift.trend(rng.normal(0, 0.3, n), order) for _ in range(6000)]
    assert share(t.creeps for t in still) == pytest.approx(0.05, abs=0.012)


@pytest.mark.parametrize("n", drift.INDIVIDUALS_FALSE)
def test_single_pieces_are_called_out_as_seldom_as_is_said(n):
    rng = np.random.default_rng(n)
    called = share(bool(drift.individuals(rng.normal(size=n)).signals) for _ in range(4000))
    assert called == pytest.approx(drift.INDIVIDUALS_FALSE[n], abs=0.018)


def chances(means, sd_floor=0.0):
    """The chance of the likeliest drift after every piece, for many sets at once: (sets, pieces).

    The same contrasts as `drift.watch`, which a test below holds it to.
    """
    found = np.ones(means.shape)
    for n in range(drift.FEWEST_PIECES, means.shape[1] + 1):
        unit = drift._shapes(n)[1]
        centred = means[:, :n] - np.mean(means[:, :n], axis=1, keepdims=True)
        most = np.max((centred @ unit.T) ** 2, axis=1)
        rest = (np.sum(centred**2, axis=1) - most) / (n - 2)
        sd = np.sqrt(np.maximum(np.maximum(rest, sd_floor**2), 1e-18))
        found[:, n - 1] = 2 * stdtr(n - 2, -np.sqrt(most) / sd)
    return found


def test_the_simulation_judges_as_the_watch_does():
    off = np.random.default_rng(1).normal(0, 0.1, (12, 3))
    off[6:] += 0.2 * np.arange(1, 7)[:, None]
    fast = chances(np.mean(off, axis=1)[None])[0]
    for n in range(drift.FEWEST_PIECES, 13):
        told = drift.watch(off[:n], ["A"] * 3, 12)
        assert bool(told) == (fast[n - 1] <= drift.alarm_below(12, 1))
        if told:
            assert told[0].p == pytest.approx(fast[n - 1], rel=1e-6)


def crying_wolf(pieces, groups, stations=1, step=0.0, sets=4000, seed=0):
    """The share of sets with nothing moving that are given some alarm."""
    rng = np.random.default_rng(seed)
    read = rng.normal(size=(sets * groups, stations, pieces)) + rng.uniform(
        0, 10, (sets * groups, stations, 1)
    )
    if step:
        read = np.round(read / step) * step
    floor = step / np.sqrt(12 * stations)
    told = np.min(chances(np.mean(read, axis=1), floor), axis=1)
    return share(np.any((told <= drift.alarm_below(pieces, groups)).reshape(sets, groups), axis=1))


@pytest.mark.parametrize(
    ("pieces", "groups"),
    [
        (6, 1),
        (6, 5),
        (9, 1),
        (9, 3),
        (9, 10),
        (12, 4),
        (20, 1),
        (20, 8),
        (20, 25),
        (40, 1),
        (40, 8),
    ],
)
def test_one_set_in_twenty_cries_wolf_whatever_its_size(pieces, groups):
    assert crying_wolf(pieces, groups) == pytest.approx(drift.FALSE_ALARMS_PER_SET, abs=0.011)


@pytest.mark.parametrize(("pieces", "groups"), [(6, 3), (9, 3), (12, 4), (20, 8)])
@pytest.mark.parametrize("step", [0.3, 1.0, 4.0])
@pytest.mark.parametrize("stations", [1, 3])
def test_coarse_readings_cry_wolf_less(pieces, groups, step, stations):
    assert crying_wolf(pieces, groups, stations, step, sets=2000) <= 0.06


def test_the_exceptions_are_as_bad_as_is_said():
    assert crying_wolf(40, 8, 1, 4.0, sets=2000) == pytest.approx(1 / 11, abs=0.025)
    rng = np.random.default_rng(4)
    told = np.min(chances(rng.standard_t(4, (2000 * 8, 40))), axis=1) <= drift.alarm_below(40, 8)
    assert share(np.any(told.reshape(2000, 8), axis=1)) == pytest.approx(1 / 6, abs=0.03)


@pytest.mark.parametrize("case", drift.CAUGHT)
def test_the_watch_catches_what_is_said(case):
    rng = np.random.default_rng(3)
    count = np.maximum(np.arange(case.pieces) - case.steady + 1, 0)
    moved = case.by_sds * (count if case.how == "creeps" else count > 0)
    read = np.mean(rng.normal(size=(3000, case.stations, case.pieces)), axis=1) + moved
    told = chances(read) <= drift.alarm_below(case.pieces, 5)
    told[:, : case.steady] = False
    caught = np.any(told, axis=1)
    assert share(caught) == pytest.approx(case.share, abs=0.025)
    after = np.argmax(told[caught], axis=1) - case.steady + 1
    assert np.median(after) == pytest.approx(case.after, abs=1)


@pytest.mark.parametrize("n", SIZES)
def test_the_single_odd_one_is_called_odd_by_luck_one_time_in_twenty(n):
    rng = np.random.default_rng(n)
    found = share(bool(odd.odd_ones(rng.normal(size=n), most=1).at) for _ in range(6000))
    assert found == pytest.approx(0.05, abs=0.011)
    some = share(bool(odd.odd_ones(rng.normal(size=n)).at) for _ in range(4000))
    assert some <= 0.075


@pytest.mark.parametrize("n", SIZES)
def test_alike_enough_is_seldom_said_in_error(n):
    rng = np.random.default_rng(n)
    # Just not enough (a little under 95 % within 1.95), and just enough.
    for tolerance, wrong in ((1.95, "shown"), (1.97, "not shown")):
        said = [enough.coming(rng.normal(size=n), tolerance).answer for _ in range(2000)]
        assert share(answer == wrong for answer in said) <= 0.062
    # To a target, half a standard deviation off: 1.645 + 0.5 leaves 5.2 % out on one side.
    said = [
        enough.coming(rng.normal(0.5, 1, n), 2.14, to_the_target=True).answer for _ in range(2000)
    ]
    assert share(answer == "shown" for answer in said) <= 0.062
    # Enough: 95.1 % within 2.19.
    said = [
        enough.coming(rng.normal(0.5, 1, n), 2.19, to_the_target=True).answer for _ in range(2000)
    ]
    assert share(answer == "not shown" for answer in said) <= 0.062


@pytest.mark.parametrize("n", SIZES)
def test_a_straight_that_is_even_is_called_so_19_times_in_20(n):
    rng = np.random.default_rng(n)
    shapes = (form.evenness(range(n), rng.normal(12, 0.05, n), 0.05).shape for _ in range(4000))
    assert share(shape != "even" for shape in shapes) <= 0.06


def test_a_round_is_called_oval_one_time_in_twenty():
    rng = np.random.default_rng(2)
    read = rng.normal(20, 0.05, (6000, 2))
    found = share(form.ovality(a, b, 0.05).oval for a, b in read)
    assert found == pytest.approx(0.05, abs=0.012)


@pytest.mark.parametrize("n", [2, *SIZES])
def test_the_size_of_originals_is_known_as_surely_as_is_said(n):
    rng = np.random.default_rng(n)
    found = [original.matched(rng.normal(20, 0.3, (n, 1, 1)), 0.0)[0] for _ in range(2500)]
    held = share(abs(m.size_mm - 20) <= m.uncertain_mm for m in found)
    assert 0.94 <= held <= 0.975


@pytest.mark.parametrize("n", original.MEDIAN_COST)
def test_a_median_costs_what_is_said(n):
    rng = np.random.default_rng(n)
    medians = np.median(rng.normal(size=(500_000, n)), axis=1)
    assert np.std(medians) * np.sqrt(n) == pytest.approx(original.MEDIAN_COST[n], abs=0.005)


@pytest.mark.parametrize(("made", "wanted"), [(3, 9), (6, 12), (9, 20), (20, 40)])
def test_a_set_is_done_within_the_forecast_19_times_in_20(made, wanted):
    rng = np.random.default_rng(made)
    held = []
    for _ in range(4000):
        minutes = 20 * np.arange(1, wanted + 1) ** -0.15 * np.exp(rng.normal(0, 0.15, wanted))
        left = pace.ahead(pace.practice(minutes[:made].tolist()), made, wanted)
        held.append(left.low <= np.sum(minutes[made:]) <= left.high)
    assert share(held) == pytest.approx(0.95, abs=0.013)
