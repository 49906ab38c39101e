"""A board with many knots against the same question as an integer programme, solved by HiGHS.

The programme is the tightest there is: strips as a flow of one unit across the width, whose
relaxation is nearly always whole already. Its strips' counts are made ready before the clock runs.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterator
from math import ceil

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from benchside.stock.board import Blank, Board, Defect, lay_out, strip_counts

LENGTH_MM, WIDTH_MM, KNOTS = 4000.0, 400.0, 60
BLANK, KERF_MM, STEP_MM = Blank(560.0, 25.0), 3.0, 0.5
BOARDS = 5


def measure() -> Iterator[str]:
    ratios, ours, base = [], [], []
    for seed in range(BOARDS):
        board = knotty(seed, WIDTH_MM, KNOTS)
        ours_s, found = _timed(lambda board=board: lay_out(board, BLANK, KERF_MM, STEP_MM).count)
        base_s, best = _solved(board)
        assert found >= best, (found, best)  # the flow knows the grid only
        ratios.append(base_s / ours_s)
        ours.append(ours_s)
        base.append(base_s)
    yield (
        f"a board 4 m x 400 mm with {KNOTS} knots: {statistics.median(ratios):.1f} x faster than"
        f" the strips as a flow (aim: 5 x)  [HiGHS {statistics.median(base) * 1e3:.0f} ms,"
        f" benchside {statistics.median(ours) * 1e3:.1f} ms]"
    )
    yield _growth("width", [(f"{w:g} mm", w, KNOTS * w / WIDTH_MM) for w in (200, 400, 800, 1600)])
    yield _growth("knots", [(f"{n}", WIDTH_MM, n) for n in (30, 60, 120, 240)])


def knotty(seed: int, width_mm: float, knots: float) -> Board:
    """A board with knots anywhere on both faces."""
    chance = np.random.default_rng(seed)
    high = [LENGTH_MM - 60, width_mm - 20, 60, 30]
    rows = chance.uniform([0, 0, 5, 5], high, (round(knots), 4)).tolist()
    return Board(LENGTH_MM, width_mm, 27.0, tuple(Defect(*row) for row in rows))


def as_flow(
    counts: npt.NDArray[np.int64], width_mm: float, pitch_mm: float, step_mm: float = STEP_MM
) -> int:
    """The most blanks by strips on a grid, as a flow across the width solved by HiGHS."""
    places = round(width_mm / step_mm)
    strips = len(counts)
    across = ceil(pitch_mm / step_mm - 1e-9)
    start = np.concatenate([np.arange(places), np.arange(strips)])
    end = np.concatenate([np.arange(1, places + 1), np.arange(strips) + across])
    end = np.minimum(end, places)
    columns = np.arange(len(start))
    flow = coo_array(
        (
            np.concatenate([np.ones(len(start)), -np.ones(len(start))]),
            (np.concatenate([start, end]), np.concatenate([columns, columns])),
        ),
        shape=(places + 1, len(start)),
    ).tocsr()
    balance = np.zeros(places + 1)
    balance[0], balance[-1] = 1, -1
    solved = milp(
        -np.concatenate([np.zeros(places), counts]),
        constraints=LinearConstraint(flow, balance, balance),
        bounds=Bounds(0, 1),
        integrality=np.ones(len(start)),
        options={"mip_rel_gap": 0.0},
    )
    return round(-float(solved.fun))


def _solved(board: Board) -> tuple[float, int]:
    at = np.arange(round((board.width_mm - BLANK.side_mm) / STEP_MM) + 1) * STEP_MM
    counts = np.array(strip_counts(board, BLANK, KERF_MM, at.tolist()))
    return _timed(lambda: as_flow(counts, board.width_mm, BLANK.side_mm + KERF_MM))


def _growth(what: str, sizes: list[tuple[str, float, float]]) -> str:
    said = []
    for name, width_mm, knots in sizes:
        board = knotty(7, width_mm, knots)
        took = min(_timed(lambda board=board: lay_out(board, BLANK, KERF_MM))[0] for _ in range(3))
        said.append(f"{name}: {took * 1e3:.1f} ms")
    return f"growth with {what}: {', '.join(said)}"


def _timed(work: Callable[[], int]) -> tuple[float, int]:
    start = time.perf_counter()
    found = work()
    return time.perf_counter() - start, found
