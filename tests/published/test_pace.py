"""Learning curves, against printed values."""

from math import log2

import pytest

from benchside.consistency.pace import ahead, practice

# Help examples of the R package learningCurve, 1.0, unit_curve, for the unit curve
# [@crawford-1944]: first unit 100 hours, unit 125, by what each doubling leaves.
HOURS = {0.80: 21.13225, 0.85: 32.23647, 0.90: 48.00243, 0.95: 69.9564}
SLOPES = {0.80: -0.3219281, 0.85: -0.2344653, 0.90: -0.1520031}


def by_the_curve(rate):
    return practice([100 * n ** log2(rate) for n in range(1, 9)])


@pytest.mark.parametrize("rate", HOURS)
def test_the_time_of_a_late_piece(rate):
    assert by_the_curve(rate).minutes_for(125) == pytest.approx(HOURS[rate], rel=3e-6)


@pytest.mark.parametrize("rate", SLOPES)
def test_the_slope_of_a_rate(rate):
    assert by_the_curve(rate).slope == pytest.approx(SLOPES[rate], rel=3e-6)


def test_the_time_of_a_late_piece_from_that_of_an_earlier():
    # unit_curve from unit 100 at 100 hours, 85 %: 94.90257.
    found = by_the_curve(0.85)
    share = found.minutes_for(125) / found.minutes_for(100)
    assert 100 * share == pytest.approx(94.90257, rel=3e-6)


def test_the_time_for_all_of_them():
    # unit_cum_exact: 125 units at 85 %.
    assert ahead(by_the_curve(0.85), 0, 125).minutes == pytest.approx(5201.085, rel=3e-6)
