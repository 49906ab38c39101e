"""A spindle as it stands after each cut: how stiff it is then, and how much each cut softens it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np

from benchside.errors import OutOfRange
from benchside.lathe import stiffness
from benchside.lathe.beam import Floats, Support, Work
from benchside.pattern import Pattern

# No figure for turning solid wood between centres is published that we know of; a sharp light
# finishing cut is meant. With these, a steady is asked for about where the trade asks for one:
# an even rod of hardwood of 30 diameters gives 0.28 mm at its middle (judgement).
FORCE_N = 5.0
LIMIT_MM = 0.25  # the give at which ribbing shows (judgement)
# Where the wood of a set is not known: white ash at 12 %, modulus 12.0 GPa, and density 600 kg/m3
# of dry wood at that volume with its water, 672 [@wood-handbook-2021, Table 5-3].
MODULUS_GPA, DENSITY_KG_M3 = 12.0, 672.0
ARC_CHORDS = 8  # judgement: a bead's outline as so many straight tapers
_ALONG = 33  # places the give is averaged over
_OVER_SECTION = 9  # places along a section that the give is looked at


@dataclass(frozen=True, slots=True)
class Bench:
    """What a spindle is turned with, as far as stiffness goes. [N, mm, GPa, kg/m3, N/mm]

    ``force_n`` is the side force of the maker's finishing cut, ``limit_mm`` the give at which
    ribbing is seen. ``held_fast``: the headstock end is in a chuck and cannot tilt.
    ``steady_n_per_mm`` is None for who owns no steady, ``calipers`` for enough of them.
    """

    force_n: float = FORCE_N
    limit_mm: float = LIMIT_MM
    modulus_gpa: float = MODULUS_GPA
    density_kg_m3: float = DENSITY_KG_M3
    held_fast: bool = False
    steady_n_per_mm: float | None = None
    calipers: int | None = None

    def __post_init__(self) -> None:
        for field in ("force_n", "limit_mm"):
            value = getattr(self, field)
            if not (np.isfinite(value) and value > 0):
                raise OutOfRange(f"It is above 0, not {value:g}.", field=field)


def force_from_dip_n(work: Work, supports: Sequence[Support], at_mm: float, dip_mm: float) -> float:
    """The side force that makes a piece dip so far under the tool at a place. [mm in, N out]

    The give is in proportion to the force, so one measured dip gives it. Raises `OutOfRange` for a
    dip that is no length above 0, and for a place where nothing gives.
    """
    if not (np.isfinite(dip_mm) and dip_mm > 0):
        raise OutOfRange("The dip is a length above 0.", field="dip_mm")
    under_one_n = float(stiffness.deflection_mm(work, 1.0, at_mm, supports))
    if under_one_n < 1e-6 * stiffness.give_mm(work, 1.0).max():
        raise OutOfRange(
            "The piece cannot dip there.", field="at_mm", hint="Measure away from the ends."
        )
    return dip_mm / under_one_n


def ends(pattern: Pattern, bench: Bench) -> tuple[Support, Support]:
    """The two centres; the headstock's holds fast where the maker says so."""
    tail, drive = Support(0.0), Support(pattern.length_mm)
    if pattern.datum_end == "drive":
        tail, drive = drive, tail
    pair = (tail, stiffness.gripped(drive) if bench.held_fast else drive)
    low, high = sorted(pair, key=lambda support: support.at_mm)
    return low, high


def standing(pattern: Pattern, finished: frozenset[int], stock_mm: float, bench: Bench) -> Work:
    """The piece with some of its sections finished and the rest still the rough round. [mm]"""
    points: list[tuple[float, float]] = []
    for i, finish in enumerate(_finished(pattern)):
        start, end = pattern.stations[i].at_mm, pattern.stations[i + 1].at_mm
        points += finish if i in finished else ((start, stock_mm), (end, stock_mm))
    kept = [points[0]] + [b for a, b in pairwise(points) if a != b]
    x, diameter = np.array(kept).T
    return Work(x, diameter, bench.modulus_gpa, bench.density_kg_m3)


def over_section(pattern: Pattern, i: int) -> Floats:
    """Places along a section, its ends among them. [mm]"""
    return np.linspace(pattern.stations[i].at_mm, pattern.stations[i + 1].at_mm, _OVER_SECTION)


def mean_give_mm(work: Work, bench: Bench, supports: Sequence[Support]) -> float:
    """The give under the cut, averaged over the whole piece. [mm]"""
    at = np.linspace(float(work.x_mm[0]), float(work.x_mm[-1]), _ALONG)
    give = stiffness.deflection_mm(work, bench.force_n, at, supports)
    return float(np.trapezoid(give, at) / work.length_mm)


@lru_cache(maxsize=128)
def softening_mm(pattern: Pattern, stock_mm: float, bench: Bench) -> tuple[float, ...]:
    """What finishing each section alone adds to the mean give of the rough round. [mm]

    Between two free centres it adds the same whatever stands finished already: the give is an
    integral of 1 / E I along the piece. With an end held fast that is so to first order.
    """
    held = ends(pattern, bench)
    bare = mean_give_mm(standing(pattern, frozenset(), stock_mm, bench), bench, held)
    return tuple(
        mean_give_mm(standing(pattern, frozenset({i}), stock_mm, bench), bench, held) - bare
        for i in range(len(pattern.sections))
    )


def spans(pattern: Pattern, sections: Iterable[int]) -> list[tuple[float, float]]:
    """From where to where the sections run. [mm]"""
    return [(pattern.stations[i].at_mm, pattern.stations[i + 1].at_mm) for i in sorted(sections)]


@lru_cache(maxsize=128)
def _finished(pattern: Pattern) -> tuple[tuple[tuple[float, float], ...], ...]:
    """The finished outline of each section as straight tapers: (place, diameter)."""
    found = []
    for i, (start, end) in enumerate(pairwise(pattern.stations)):
        begins_mm, ends_mm = pattern.ends_mm(i)
        inner: list[tuple[float, float]] = []
        if pattern.arcs[i] is not None:
            at = np.linspace(start.at_mm, end.at_mm, ARC_CHORDS + 1)[1:-1]
            inner = list(zip(at.tolist(), pattern.diameter_mm_at(at).tolist(), strict=True))
        found.append(((start.at_mm, begins_mm), *inner, (end.at_mm, ends_mm)))
    return tuple(found)
