"""One cut's analysis against a fixed count of bare banded solves of the same size."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

import numpy as np
from scipy.linalg import solveh_banded

from benchside.lathe.course import Bench
from benchside.lathe.plan import plan
from benchside.lathe.steady import moments, with_steady
from benchside.lathe.stiffness import Work, best_steady, critical_rpm, give_mm, pinned
from benchside.pattern import Pattern, Section, Station

STATIONS = (25, 100, 400)
# What the analysis would take done plainly: a solve for the give at each of 25 stations, ten of
# inverse iteration for the first mode, and a solve for each of 25 places of the steady.
SOLVES = 25 + 10 + 25
ROUNDS = 40


def measure() -> Iterator[str]:
    times, parts = {}, {}
    for count in STATIONS:
        work = spindle(count)
        ends = pinned(work)
        parts = {
            "give": _best(lambda work=work: give_mm(work, 5.0)),
            "first mode": _best(lambda work=work, ends=ends: critical_rpm(work, ends)),
            "best steady": _best(lambda work=work: best_steady(work)),
        }
        times[count] = sum(parts.values())
        if count == STATIONS[0]:
            bare = SOLVES * _best(_bare_solve(count))
            told = ", ".join(f"{name} {1e3 * s:.2f}" for name, s in parts.items())
            yield (
                f"one cut of {count} stations, give at each, first mode, best steady:"
                f" {times[count] / bare:.2f} x {SOLVES} bare banded solves of the same size"
                f" (aim: 3 or less)  [bare {1e3 * bare:.2f} ms, benchside {told} ms]"
            )
    growth = ", ".join(f"{n}: {1e3 * s:.2f} ms" for n, s in times.items())
    yield f"growth with the stations (linear: 16 x from 25 to 400 at most): {growth}"
    piece = of_25_stations()
    bench = Bench(steady_n_per_mm=200.0)
    steps_s = _best(lambda: _fresh(piece, bench), rounds=3)
    yield (
        f"the whole plan of a spindle of 25 stations, {len(plan(piece))} steps in order, every cut"
        f" analysed, the steady placed: {steps_s:.2f} s"
    )


def spindle(count: int) -> Work:
    """A spindle of 550 mm with so many stations."""
    x = np.linspace(0, 550, count)
    return Work(x, 20 + 5 * np.sin(x / 30), 11.0, 700.0)


def of_25_stations() -> Pattern:
    """Beads, coves and tapers between two tenons, slender enough for a steady."""
    stations = [Station("a", 0.0, 14.0, "a", "tenon"), Station("b", 25.0, 14.0, "b", "tenon")]
    sections = [Section("straight"), Section("shoulder")]
    at, size = 27.0, 22.0
    for k, form in enumerate(["bead", "taper", "cove", "taper", "bead", "straight", "taper"] * 3):
        stations.append(Station(f"s{k}", at, size, f"s{k}"))
        through = {"bead": size + 5, "cove": size - 4}.get(form)
        sections.append(Section(form, through))
        at += {"bead": 12, "cove": 18, "taper": 48, "straight": 30}[form]
        size += {"taper": 4 if k % 2 else -4}.get(form, 0)
    stations += [Station("y", at, size, "y"), Station("z", at + 20, 13.0, "z", "tenon")]
    return Pattern("25", tuple(stations), (*sections, Section("shoulder")))


def _fresh(piece: Pattern, bench: Bench) -> None:
    """The plan with nothing remembered from before."""
    from benchside.lathe import course, steady

    for remembered in (course.softening_mm, course._finished, steady.moments, steady._bare):
        remembered.cache_clear()
    steps = plan(piece, (), bench)
    with_steady(piece, steps, bench)
    moments(piece, steps, bench)


def _bare_solve(count: int) -> Callable[[], object]:
    """One scipy solve of a banded system with two freedoms at each station."""
    band = np.zeros((4, 2 * count))
    band[3], band[2, 1:] = 10.0, -1.0
    load = np.ones(2 * count)
    return lambda: solveh_banded(band, load)


def _best(work: Callable[[], object], rounds: int = ROUNDS) -> float:
    """The shortest of many runs: what the machine's other work adds is left out. [s]"""
    work()
    taken = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return min(taken)
