"""Choosing the best pieces against one model of the whole choice, solved by HiGHS."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import lil_matrix

from benchside.consistency.choose import best_set

PIECES, CHOSEN, STATIONS = 40, 12, 25


def measure() -> Iterator[str]:
    # One set: the model takes 4 to 14 s, and brute force holds small ones elsewhere.
    sizes = np.random.default_rng(0).normal(0, 0.3, (PIECES, STATIONS))
    ours_s, found = _timed(lambda: best_set(sizes, CHOSEN).worst_range_mm)
    base_s, least = _timed(lambda: one_model(sizes, CHOSEN))
    assert abs(found - least) < 1e-6, (found, least)
    yield (
        f"best {CHOSEN} of {PIECES} over {STATIONS} stations, and the next best:"
        f" {ours_s / base_s:.4f} x the best alone as one model (aim: under 1 s)"
        f"  [one model {base_s:.2f} s, benchside {ours_s:.3f} s]"
    )


def one_model(sizes: npt.NDArray[np.float64], k: int) -> float:
    """The least largest range in one mixed-integer program, as tight as its bounds allow.

    Of any k pieces the thickest is at least the k-th from below, the thinnest at most the k-th
    from above; a chosen piece beyond those pushes them out.
    """
    n, stations = sizes.shape
    order = np.sort(sizes, axis=0)
    top, bottom, size = n, n + stations, n + 2 * stations
    rules = lil_matrix((2 * n * stations + stations + 1, size + 1))
    low, high = (np.full(rules.shape[0], bound) for bound in (-np.inf, np.inf))
    row = 0
    for j in range(stations):
        least_top, most_bottom = order[k - 1, j], order[n - k, j]
        for i in range(n):
            rules[row, [top + j, i]] = 1, -max(0.0, sizes[i, j] - least_top)
            low[row] = least_top
            rules[row + 1, [bottom + j, i]] = 1, max(0.0, most_bottom - sizes[i, j])
            high[row + 1] = most_bottom
            row += 2
        rules[row, [size, top + j, bottom + j]] = 1, -1, 1
        low[row] = 0
        row += 1
    rules[row, :n] = 1
    low[row] = high[row] = k
    cost = np.zeros(size + 1)
    cost[size] = 1
    bounds = Bounds(
        np.concatenate([np.zeros(n), order[k - 1], order[0], [0]]),
        np.concatenate([np.ones(n), order[-1], order[n - k], [np.inf]]),
    )
    solved = milp(
        cost,
        constraints=LinearConstraint(rules.tocsr(), low, high),
        bounds=bounds,
        integrality=np.concatenate([np.ones(n), np.zeros(2 * stations + 1)]),
    )
    return float(solved.fun)


def _timed(work: Callable[[], float]) -> tuple[float, float]:
    start = time.perf_counter()
    found = work()
    return time.perf_counter() - start, found
