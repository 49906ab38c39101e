"""A hole as it was measured: several readings at two places a quarter turn apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from benchside.errors import OutOfRange

# Bits cut over their name: a spade bit of 5/8 in by 0.010 in (common practice, no source). Farther
# off than these shares of its name, a reading is asked about (judgement).
LEAST_SHARE, MOST_SHARE = 0.97, 1.06
TIRED = 12  # judgement: tenons tried, after which a hole is no measure for the last cut


@dataclass(frozen=True, slots=True)
class Bore:
    """A hole's size: the mean of its two ways across, each the mean of its readings. [mm]

    ``oval_mm`` is by how much the ways differ, None where only one was read; ``readings`` counts
    them all.
    """

    size_mm: float
    oval_mm: float | None
    readings: int


def bore(a_mm: Sequence[float], b_mm: Sequence[float]) -> Bore | None:
    """The size of a hole from its readings one way and a quarter turn on; None without any. [mm]

    Raises `OutOfRange` for a reading that is no size.

    >>> bore([16.1, 16.2], [16.05])
    Bore(size_mm=16.1, oval_mm=0.1, readings=3)
    """
    if not all(isfinite(mm) and mm > 0 for mm in (*a_mm, *b_mm)):
        raise OutOfRange("A hole is wider than nothing.", field="value")
    ways = [sum(way) / len(way) for way in (a_mm, b_mm) if way]
    if not ways:
        return None
    oval_mm = round(abs(ways[0] - ways[1]), 6) if len(ways) == 2 else None
    return Bore(round(sum(ways) / len(ways), 6), oval_mm, len(a_mm) + len(b_mm))


def strange(size_mm: float, named_mm: float) -> bool:
    """Whether a hole's size is so far from the bit's name that it is asked about first. [mm]"""
    return not LEAST_SHARE * named_mm <= size_mm <= MOST_SHARE * named_mm
