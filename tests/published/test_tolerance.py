"""How far pieces to come will lie, against printed factors."""

import numpy as np
import pytest

from benchside.consistency.enough import coming
from benchside.consistency.spread import prediction_factor, spread, tolerance_factor


def test_the_exact_factor_of_twenty_pieces():
    # EnvStats help page tolIntNormK [@millard-envstats, tolIntNormK]: six places printed.
    assert tolerance_factor(20) == pytest.approx(2.760346, abs=6e-7)


# Two-sided factors, 95 % of all with 95 % confidence, as the tables of exact factors have them
# [@odeh-owen-1980, Table 3]: two places.
TABLE = [(4, 6.34), (5, 5.08), (6, 4.42), (8, 3.75), (10, 3.39), (20, 2.76), (40, 2.45)]


@pytest.mark.parametrize(("n", "k"), TABLE)
def test_a_small_set_needs_wide_limits(n, k):
    assert tolerance_factor(n) == pytest.approx(k, abs=0.006)


def test_the_handbook_s_factor_is_an_approximation():
    # [@nist-handbook, 7.2.6.3] prints 2.2173 for 43 pieces, 90 % with 99 % confidence, by an
    # approximation; the exact factor is a quarter of a per cent larger.
    assert tolerance_factor(43, 0.90, 0.99) == pytest.approx(2.2173, rel=3e-3)
    assert tolerance_factor(43, 0.90, 0.99) > 2.2173


def test_the_next_piece_and_the_next_four():
    # [@millard-envstats, predIntNormK]: the next of 20, both sides; the next four of 12, one side
    # at 95 %, which is both sides at 90 %.
    assert prediction_factor(20) == pytest.approx(2.144711, abs=6e-7)
    assert prediction_factor(12, 4, confidence=0.90) == pytest.approx(2.698976, abs=6e-7)


def test_the_limits_of_a_capability_are_those_of_its_spread():
    # [@montgomery, confidence interval on the process capability ratio]: limits 38 and 62, s 1.75,
    # n 20: 2.29, from 1.57 (from memory) to 3.01. A restatement that prints 1.67 used the wrong
    # point of chi-square.
    values = np.linspace(-1, 1, 20)
    found = spread(values * 1.75 / np.std(values, ddof=1))
    assert (62 - 38) / (6 * found.sd_mm) == pytest.approx(2.29, abs=6e-3)
    assert (62 - 38) / (6 * found.sd_high_mm) == pytest.approx(1.57, abs=6e-3)
    assert (62 - 38) / (6 * found.sd_low_mm) == pytest.approx(3.01, abs=6e-3)
    # What that means at the bench: 12 to either side is enough for such pieces, and 3 is not.
    assert coming(values * 1.75 / np.std(values, ddof=1), 12).answer == "shown"
    assert coming(values * 1.75 / np.std(values, ddof=1), 2).answer == "not shown"
