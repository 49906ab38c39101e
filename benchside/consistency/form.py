"""The form of one piece, as far as calipers see it: the same along its length, and round."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite, sqrt
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri

from benchside.consistency.spread import CONFIDENCE, SURE, check_error_mm, end_to_end
from benchside.errors import OutOfRange

Floats = npt.NDArray[np.float64]
Shape = Literal["even", "taper", "barrel", "waist", "uneven"]


@dataclass(frozen=True, slots=True)
class Evenness:
    """A straight from end to end, as read with calipers. [mm]

    ``taper_mm`` is how much thicker it is at the last place than at the first by the line through
    the readings; ``belly_mm`` how much thicker in the middle than at both ends by the curve
    (below 0: a waist), None for fewer than three places; ``rest_mm`` how far the farthest of four
    readings or more lies from line and curve together. ``shape`` names the largest of them that is
    more than the error of reading alone makes it 19 times in 20; "even" says no more than that
    none could be seen. ``range_mm`` is plain thickest less thinnest.
    """

    n: int
    range_mm: float
    taper_mm: float
    belly_mm: float | None
    rest_mm: float
    shape: Shape


@dataclass(frozen=True, slots=True)
class Ovality:
    """Two diameters a quarter turn apart at one place. [mm]

    ``apart_mm`` is the difference, A less B; ``mean_mm`` is the mean, which for an oval does not
    depend on where the first was taken. ``oval`` says whether more than the error of reading is
    there (95 %). ``out_of_round_mm`` is the least it is out of round in
    radius, half the difference. An oval read askew shows less, and three flats show nothing.
    """

    mean_mm: float
    apart_mm: float
    oval: bool
    out_of_round_mm: float


def evenness(at_mm: Sequence[float], values: Sequence[float], error_mm: float) -> Evenness:
    """How a straight differs along its length, beyond the error of reading. [mm]

    ``values`` are diameters read at ``at_mm`` (NaN: not read), ``error_mm`` the standard
    deviation of one reading: from a repeat test, and at least step / sqrt(12). Line, then curve
    by least squares; what the error makes of each follows from the error itself, for so few
    readings cannot tell their own scatter. This is thickness only: a bent piece is even.

    Raises `OutOfRange` for fewer than two places, an endless figure, or an error that is none.
    """
    check_error_mm(error_mm)
    ends = end_to_end(at_mm, values)
    at, size = (np.asarray(a, dtype=np.float64) for a in (at_mm, values))
    read = ~(np.isnan(at) | np.isnan(size))
    at, size = at[read], size[read]
    curved, more = np.unique(at).size >= 3, np.unique(at).size >= 3 and at.size > 3
    risk = (1 - CONFIDENCE) / (1 + curved + more)  # shared out among what is judged
    along = (at - np.min(at)) / np.ptp(at)  # 0 at the first place, 1 at the last
    line = along - np.mean(along)
    rest = size - np.mean(size) - ends.change_mm * line
    curve = _curve(along, line) if curved else np.zeros(at.size)
    belly_mm = _share(rest, curve) if curved else None
    rest = rest - (belly_mm or 0.0) * curve
    rest_mm = float(np.max(np.abs(rest))) if more else 0.0
    sure_mm = float(ndtri(1 - risk / 2)) * error_mm
    # The farthest of so many readings: the risk is shared out among them.
    sure_of_rest_mm = float(ndtri(1 - risk / 2 / at.size)) * error_mm
    seen: dict[Shape, float] = {}
    if abs(ends.change_mm) > sure_mm / float(np.linalg.norm(line)):
        seen["taper"] = abs(ends.change_mm)
    if belly_mm is not None and abs(belly_mm) > sure_mm / float(np.linalg.norm(curve)):
        seen["barrel" if belly_mm > 0 else "waist"] = abs(belly_mm)
    if more and rest_mm > sure_of_rest_mm:
        seen["uneven"] = 2 * rest_mm
    return Evenness(
        n=int(at.size),
        range_mm=ends.range_mm,
        taper_mm=ends.change_mm,
        belly_mm=belly_mm,
        rest_mm=rest_mm,
        shape=max(seen, key=lambda shape: seen[shape], default="even"),
    )


def _curve(along: Floats, line: Floats) -> Floats:
    """Nothing at both ends and 1 in the middle, less what a line can say of it."""
    curve = 4 * along * (1 - along)
    curve = curve - np.mean(curve)
    found: Floats = curve - line * _share(curve, line)
    return found


def _share(of: Floats, shape: Floats) -> float:
    """How much of a shape is in it, by least squares."""
    return float(shape @ of) / float(shape @ shape)


def ovality(a_mm: float, b_mm: float, error_mm: float) -> Ovality:
    """How oval a place is, from two diameters a quarter turn apart. [mm]

    ``error_mm`` is the standard deviation of one reading. Roundness is the gap in radius between
    two circles about one centre that hold the outline [@iso-1101, roundness]: for an oval half the
    difference of its diameters; of a piece with three flats calipers see nothing.

    Raises `OutOfRange` for sizes that are none, or an error that is none.
    """
    check_error_mm(error_mm)
    if not (isfinite(a_mm) and isfinite(b_mm) and a_mm > 0 and b_mm > 0):
        raise OutOfRange("A size must be more than 0 mm.", field="a_mm")
    apart = a_mm - b_mm
    blur = SURE * sqrt(2) * error_mm
    return Ovality((a_mm + b_mm) / 2, apart, abs(apart) > blur, abs(apart) / 2)
