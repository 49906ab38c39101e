"""Limits of single pieces and trends, against certified and printed values."""

import numpy as np
import pytest
from scipy import stats

from benchside.consistency.drift import D2, individuals, trend
from tests.published.test_spread import NORRIS_X, NORRIS_Y, numbers


def test_the_flow_rates_keep_within_their_limits():
    # [@nist-handbook, 6.3.2.2]; values and limits from memory, "no point outside" read.
    rates = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
    found = individuals(rates)
    assert found.centre_mm == pytest.approx(50.81, abs=6e-5)
    assert found.sd_mm * D2 == pytest.approx(1.8778, abs=6e-5)
    assert found.upper_mm == pytest.approx(55.8041, abs=6e-5)
    assert found.lower_mm == pytest.approx(45.8159, abs=6e-5)
    assert found.signals == ()
    assert individuals([*rates, 60.0]).signals[-1].at == 10


def test_the_moving_ranges_of_25_pieces():
    # [@pyzdek-keller, Table 9.4]: the sum of the 24 printed ranges is 196; E2 = 2.66 beside it.
    x = [110, 103, 97, 96, 105, 110, 100, 93, 90, 103, 97, 103, 90, 97, 99, 106, 90, 96, 109, 90,
         91, 108, 96, 101, 96]  # fmt: skip
    found = individuals(x)
    assert found.sd_mm * D2 == pytest.approx(196 / 24, abs=1e-9)
    e2 = (found.upper_mm - found.centre_mm) / (found.sd_mm * D2)
    assert e2 == pytest.approx(2.66, abs=0.005)


def test_the_mean_range_of_two_is_the_printed_one():
    # Table of factors for control charts [@nist-handbook, 6.3.2]: d2 = 1.128 for two.
    assert pytest.approx(2 / np.sqrt(np.pi), abs=5e-4) == D2


def test_the_slope_and_its_error_are_the_certified_ones():
    # Norris [@nist-strd]: b1 = 1.00211681802045, its standard deviation 0.000429796848199937.
    found = trend(numbers(NORRIS_Y), numbers(NORRIS_X))
    assert found.n == 36
    assert found.slope_mm_per_piece == pytest.approx(1.00211681802045, rel=1e-12)
    reach = stats.t.ppf(0.975, 34) * 0.000429796848199937
    assert found.high - found.slope_mm_per_piece == pytest.approx(reach, rel=1e-9)
    assert found.slope_mm_per_piece - found.low == pytest.approx(reach, rel=1e-9)
