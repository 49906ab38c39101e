"""Lines, variances and predictions against statsmodels, a general library of statistics."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from statsmodels.stats.oneway import anova_oneway

from benchside.consistency.drift import trend
from benchside.consistency.pace import practice
from benchside.consistency.spread import end_to_end, prediction_factor, repeatability, spread

SIZES = [3, 6, 9, 20]


def line(x: np.ndarray, y: np.ndarray) -> sm.regression.linear_model.RegressionResultsWrapper:
    return sm.OLS(y, sm.add_constant(x)).fit()


@pytest.mark.parametrize("n", SIZES)
def test_a_creep_and_its_limits_are_those_of_least_squares(n: int) -> None:
    random = np.random.default_rng(n)
    order = np.sort(random.choice(60, n, replace=False)).astype(float)
    sizes = 25 + 0.02 * order + random.normal(0, 0.08, n)
    found, reference = trend(sizes, order), line(order, sizes)
    assert found.slope_mm_per_piece == pytest.approx(reference.params[1], rel=1e-9)
    limits = reference.conf_int(0.05)[1]
    assert (found.low, found.high) == pytest.approx(tuple(limits), rel=1e-9)


@pytest.mark.parametrize("n", SIZES)
def test_practice_is_the_line_through_logarithms(n: int) -> None:
    random = np.random.default_rng(100 + n)
    pieces = np.arange(1, n + 1)
    minutes = 25 * pieces**-0.2 * np.exp(random.normal(0, 0.1, n))
    found, reference = practice(list(minutes)), line(np.log(pieces), np.log(minutes))
    assert found.first_minutes == pytest.approx(np.exp(reference.params[0]), rel=1e-9)
    assert found.slope == pytest.approx(reference.params[1], rel=1e-9)
    assert found.scatter == pytest.approx(np.sqrt(reference.mse_resid), rel=1e-9)
    limits = 2.0 ** reference.conf_int(0.05)[1]
    assert (found.doubling_low, found.doubling_high) == pytest.approx(tuple(limits), rel=1e-9)


def test_a_straights_slope_is_that_of_least_squares() -> None:
    random = np.random.default_rng(7)
    at = np.array([0.0, 80.0, 145.0, 260.0])
    diameters = 16 - 0.002 * at + random.normal(0, 0.05, at.size)
    assert end_to_end(at, diameters).slope == pytest.approx(line(at, diameters).params[1], rel=1e-9)


@pytest.mark.parametrize("repeats", [(3, 3, 3), (2, 5, 3, 4)], ids=["even", "uneven"])
def test_the_repeat_tests_table_is_the_analysis_of_variance(repeats: tuple[int, ...]) -> None:
    random = np.random.default_rng(sum(repeats))
    rows = [20 + random.normal(0, 0.2) + random.normal(0, 0.04, n) for n in repeats]
    table = np.full((len(rows), max(repeats)), np.nan)
    for row, read in zip(table, rows, strict=True):
        row[: read.size] = read
    found, reference = repeatability(table), anova_oneway(rows, use_var="equal")
    assert found.f == pytest.approx(reference.statistic, rel=1e-9)
    assert (found.places - 1, found.degrees) == pytest.approx(reference.df)


@pytest.mark.parametrize("n", SIZES)
def test_the_next_piece_is_where_statsmodels_expects_it(n: int) -> None:
    sizes = 25 + np.random.default_rng(200 + n).normal(0, 0.1, n)
    found, k = spread(sizes), prediction_factor(n)
    assert found.sd_mm is not None
    reference = sm.OLS(sizes, np.ones(n)).fit().get_prediction([1.0]).conf_int(obs=True, alpha=0.05)
    limits = found.mean_mm - k * found.sd_mm, found.mean_mm + k * found.sd_mm
    assert limits == pytest.approx(tuple(reference[0]), rel=1e-9)
