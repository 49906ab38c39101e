"""The cylinder's series, against tables and against the equation solved by brute force."""

import numpy as np
import pytest
from scipy.linalg import solve_banded
from scipy.special import jn_zeros

from benchside.wood.drying import estimated_days, fourier_at, unaccomplished


def test_the_roots_are_the_tabulated_ones():
    # [@abramowitz-stegun-1964, Table 9.5].
    printed = [2.4048255577, 5.5200781103, 8.6537279129, 11.7915344391]
    assert jn_zeros(0, 4) == pytest.approx(printed, abs=1e-10)


# Share of the moisture change still to come, by the series of [@crank-1975, ch. 5] summed on its
# own with a thousand cells of finite volumes beside it: agreement there to 2e-6.
SERIES = [
    (0.001, 0.92964111),
    (0.01, 0.78452606),
    (0.02, 0.70143609),
    (0.1, 0.39417581),
    (0.2, 0.21785245),
    (0.4, 0.0684313),
    (0.5, 0.03837871),
    (0.8, 0.0067703),
]


@pytest.mark.parametrize(("fourier", "share"), SERIES)
def test_the_series_at_its_tabulated_times(fourier, share):
    assert unaccomplished(fourier) == pytest.approx(share, abs=2e-6)


def test_half_and_nine_tenths_of_the_way():
    assert fourier_at(0.5) == pytest.approx(0.0630582, abs=1e-7)
    assert fourier_at(0.1) == pytest.approx(0.3344132, abs=1e-7)
    # 1e-10 m²/s and a radius of 10 mm: 17.516 hours to half, 3.8705 days to nine tenths.
    assert 24 * estimated_days(20.0, 50.0, 28.0, 6.0, 1e-10) == pytest.approx(17.516, abs=1e-3)
    assert estimated_days(20.0, 50.0, 10.4, 6.0, 1e-10) == pytest.approx(3.8705, abs=1e-4)


def test_one_term_alone_is_this_far_off_at_a_fifth():
    # -0.136 % at Fo = 0.2: the late stretch is a single exponential of rate 5.783 D / r².
    root = jn_zeros(0, 1)[0]
    one_term = 4 / root**2 * np.exp(-(root**2) * 0.2)
    assert one_term / unaccomplished(0.2) - 1 == pytest.approx(-0.00136, rel=0.02)
    late = np.log(unaccomplished(0.8) / unaccomplished(1.0)) / 0.2
    assert late == pytest.approx(5.783, abs=1e-3)


def finite_differences(until, cells=300, steps=1500):
    """The mean of dm/dt = (1/x) d/dx (x dm/dx) on 0..1, dry at 1 from the start, 1 within.

    Crank and Nicolson's implicit halves in rings of equal width.
    """
    edge = np.linspace(0, 1, cells + 1)
    middle = (edge[:-1] + edge[1:]) / 2
    area = (edge[1:] ** 2 - edge[:-1] ** 2) / 2
    width, dt = 1 / cells, until / steps
    flow = edge / width
    flow[-1] = 1 / (1 - middle[-1])
    lower, upper = flow[:-1].copy(), flow[1:].copy()
    lower[0] = 0.0
    keep = (lower + upper) * dt / area / 2
    down, up = lower * dt / area / 2, upper * dt / area / 2
    up_in = up.copy()
    up_in[-1] = 0.0
    banded = np.zeros((3, cells))
    banded[0, 1:], banded[1], banded[2, :-1] = -up_in[:-1], 1 + keep, -down[1:]
    held = np.ones(cells)
    for _ in range(steps):
        right = (1 - keep) * held
        right[1:] += down[1:] * held[:-1]
        right[:-1] += up_in[:-1] * held[1:]
        held = solve_banded((1, 1), banded, right)
    return float(np.sum(held * area) / np.sum(area))


@pytest.mark.parametrize("until", [0.05, 0.3])
def test_the_series_is_what_a_fine_grid_gives(until):
    assert finite_differences(until) == pytest.approx(unaccomplished(until), abs=3e-5)
