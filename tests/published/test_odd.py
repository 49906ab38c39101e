"""Outliers, against printed values."""

import pytest

from benchside.consistency.odd import odd_ones
from tests.published.test_repeatability import GLUCOSE
from tests.published.test_spread import numbers

# [@rosner-1983], 54 values as the handbook gives them [@nist-handbook, 1.3.5.17.3].
ROSNER = """
-0.25 0.68 0.94 1.15 1.20 1.26 1.26 1.34 1.38 1.43 1.49 1.49 1.55 1.56 1.58 1.65 1.69 1.70 1.76
1.77 1.81 1.91 1.94 1.96 1.99 2.06 2.09 2.10 2.14 2.15 2.23 2.24 2.26 2.35 2.37 2.40 2.47 2.54
2.62 2.64 2.90 2.92 2.92 2.93 3.21 3.26 3.30 3.59 3.68 4.30 4.64 5.34 5.42 6.01
"""
R = [3.118, 2.942, 3.179, 2.810, 2.815, 2.848, 2.279, 2.310, 2.101, 2.067]
CRITICAL = [3.158, 3.151, 3.143, 3.136, 3.128, 3.120, 3.111, 3.103, 3.094, 3.085]


def test_rosner_s_three_are_odd_though_the_first_two_alone_would_pass():
    # The page cuts digits off rather than rounding, hence 1e-3.
    found = odd_ones(numbers(ROSNER), most=10)
    assert found.statistic == pytest.approx(R, abs=1e-3)
    assert found.critical == pytest.approx(CRITICAL, abs=1e-3)
    assert [numbers(ROSNER)[i] for i in found.at] == [6.01, 5.42, 5.34]
    # Stopping at the first that passes would find none.
    assert found.statistic[0] < found.critical[0]


def test_the_single_farthest_of_eight():
    # [@nist-handbook, 1.3.5.17.1]; G from memory. The page's critical value 2.032 is one-sided;
    # ours is two-sided.
    found = odd_ones([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57], most=1)
    assert found.at == (7,)
    assert found.statistic[0] == pytest.approx(2.4687, abs=1.1e-4)
    assert found.critical[0] == pytest.approx(2.1266, abs=1.1e-4)
    one_sided = odd_ones([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57], 1, 0.10)
    assert one_sided.critical[0] == pytest.approx(2.0317, abs=1.1e-4)


def test_a_slip_of_the_keyboard_is_found():
    # 148.30 for 138.30 [@astm-e691, Table 1], fourth laboratory, second result.
    values = [x for laboratory in GLUCOSE[2] for x in laboratory]
    assert odd_ones(values).at == ()
    values[10] = 148.3
    assert odd_ones(values).at == (10,)
