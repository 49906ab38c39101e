"""How a tenon sits in its hole: driven home, and through the year.

Tenons of a set that go into holes alike sit alike, so what was worked out once is kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from benchside.joint import fit
from benchside.joint.fit import Doubt, Interference, Month, Mortise, Moved, Tenon, Turning, Year

KEPT = 256  # more than a set's tenons and holes


@dataclass(frozen=True, slots=True)
class Course:
    """How one tenon sits: driven home, and through the year. ``kindest`` turns it best.

    ``until`` is how tenon and hole have moved by the driest and by the dampest month.
    """

    tenon: Tenon
    mortise: Mortise
    driven: Interference
    year: Year
    kindest: Turning
    until: Mapping[Month, Moved]
    warnings: tuple[Doubt, ...]


@lru_cache(maxsize=KEPT)
def course_of(
    tenon: Tenon,
    mortise: Mortise,
    tenon_mc: float,
    mortise_mc: float,
    months_mc: tuple[float, float],
    glued: bool,
) -> Course:
    """How a tenon sits that goes home at these moistures, between its driest and dampest month."""
    driven = fit.interference_mm(tenon, mortise, tenon_mc, mortise_mc)
    through = fit.year(tenon, mortise, *months_mc)
    until: dict[Month, Moved] = {
        "driest": fit.moved(tenon, mortise, months_mc[0]),
        "dampest": fit.moved(tenon, mortise, months_mc[1]),
    }
    return Course(
        tenon,
        mortise,
        driven,
        through,
        fit.kindest_turning(tenon, mortise, *months_mc),
        until,
        fit.warnings(driven, through, mortise.bore_mm, tenon_mc, mortise_mc, glued=glued),
    )


@lru_cache(maxsize=KEPT)
def size_for(
    fit_mm: float, tenon: Tenon, mortise: Mortise, tenon_mc: float, mortise_mc: float
) -> float:
    """What a tenon is brought to, so that it is so much larger than its hole. [mm]"""
    return fit.size_for_mm(fit_mm, tenon, mortise, tenon_mc, mortise_mc)
