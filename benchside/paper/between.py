"""Light ticks between the lines of a stick: the middle of a taper, places along a straight.

They are where a maker checks the run between two stations (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from benchside.paper import lettering
from benchside.paper.marks import FINE_MM, PLAIN_MM, Mark, Words, line

TALL_MM = 4.0  # on the slip; a line is at least 7 mm tall
REACH_MM = 1.7  # on the half-pattern, to either side
NEAR_SHARE = 0.42  # of the way to the nearest line, so that two ticks never meet
TOLD_MM = 2.6
OVER_MM = 1.0  # the words stand so far over the tick
CLEAR_MM = 1.0  # and so far from a line, on the half-pattern from its tick and letter
CLEAR_OF_TICKS_MM = 4.6


@dataclass(frozen=True, slots=True)
class Between:
    """One place: where it lies along the stick, its size to turn now and its dry one where that
    is another, and what may be told of it, the longest first. [mm]"""

    x: float
    sizes_mm: tuple[float, ...]
    told: tuple[str, ...]


def on_slip(each: Sequence[Between], lines: Sequence[float], edge_y: float) -> list[Mark]:
    """Short ticks at the working edge, ``lines`` being where everything else stands. [mm]"""
    marks: list[Mark] = []
    for one in each:
        top = edge_y - TALL_MM
        marks.append(
            line(one.x, edge_y, one.x, top, layer="station", width_mm=FINE_MM, paint="soft")
        )
        marks += _told(one, _nearest(one, each, lines) - CLEAR_MM, top)
    return marks


def on_board(each: Sequence[Between], lines: Sequence[float], edge_y: float) -> list[Mark]:
    """Ticks at the full diameter over the straight edge, to set a caliper by. [mm]"""
    marks: list[Mark] = []
    for one in each:
        near = _nearest(one, each, lines)
        marks.append(line(one.x, edge_y, one.x, edge_y - TALL_MM, width_mm=FINE_MM, paint="soft"))
        for mm, width_mm in zip(one.sizes_mm, (PLAIN_MM, FINE_MM), strict=False):
            reach, y = min(REACH_MM, NEAR_SHARE * near), edge_y - mm
            marks.append(
                line(
                    *(one.x - reach, y, one.x + reach, y),
                    layer="station",
                    width_mm=width_mm,
                    paint="soft",
                )
            )
        marks += _told(one, near - CLEAR_OF_TICKS_MM, edge_y - max(one.sizes_mm))
    return marks


def _nearest(one: Between, each: Sequence[Between], lines: Sequence[float]) -> float:
    others = (*lines, *(other.x for other in each if other is not one))
    return min(abs(x - one.x) for x in others)


def _told(one: Between, reach: float, y: float) -> list[Mark]:
    """The most that fits to either side, or nothing."""
    for text in one.told:
        if lettering.width_mm(lettering.tidy(text), TOLD_MM) / 2 <= reach:
            return [Words(text, one.x, y - OVER_MM, TOLD_MM, "middle", paint="soft")]
    return []
