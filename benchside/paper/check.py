"""What a printed sheet is measured by: a scale each way, and crosses to measure corner to corner.

A rectangle whose sides are as 3 to 4 has diagonals of 5; a sheet that was pulled askew in the
printer has one longer than the other (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot
from typing import NamedTuple

from benchside import units
from benchside.paper import lettering
from benchside.paper.marks import FINE_MM, Mark, Words, line
from benchside.units import Unit

ARM_MM = 1.2  # a cross reaches so far to every side
TOLD_MM, SCALE_TOLD_MM = 2.4, 2.9
UP_MM = 24.5  # the words of the scale across begin so far up, past the lower left cross


class Corners(NamedTuple):
    """Four crosses about a rectangle: where its upper left one is, and its two sides. [mm]"""

    x: float
    y: float
    along_mm: float
    down_mm: float

    @property
    def across_mm(self) -> float:
        """From corner to corner."""
        return hypot(self.along_mm, self.down_mm)


def across_told(found: Corners, unit: Unit) -> str:
    """The diagonal, as it is read off a rule."""
    inch = units.unit_sign(unit) == "in"
    number = units.format_length(found.across_mm, "in/64" if inch else "mm").removesuffix(".0")
    return f"{units.as_fraction_text(number)} {units.unit_sign(unit)}"


def crosses(found: Corners, told: Sequence[str], to_y: float) -> list[Mark]:
    """The four crosses, small and quiet, and words that run up to the first from ``to_y`` at the
    most: of those told, the first that there is room for. [mm]"""
    marks: list[Mark] = []
    for x in (found.x, found.x + found.along_mm):
        for y in (found.y, found.y + found.down_mm):
            marks += [
                line(x - ARM_MM, y, x + ARM_MM, y, layer="check", width_mm=FINE_MM),
                line(x, y - ARM_MM, x, y + ARM_MM, layer="check", width_mm=FINE_MM),
            ]
    top = found.y + ARM_MM + 1.4
    fit = next((text for text in told if lettering.width_mm(text, TOLD_MM) <= to_y - top), told[-1])
    words = Words(fit, found.x + 0.5, top, TOLD_MM, "right", upright=True, layer="check")
    return [*marks, words]


def scale_along(x: float, y: float, length: float, told: str, told_x: float) -> list[Mark]:
    """A scale from ``x`` to the right; its words begin at ``told_x``. [mm]"""
    marks: list[Mark] = [line(x, y, x + length, y, layer="check")]
    for mm in _ticks(length):
        tall, width = _tick(mm, length)
        marks.append(line(x + mm, y, x + mm, y - tall, layer="check", width_mm=width))
        if mm % 50 == 0 and 0 < mm < length:
            marks.append(Words(str(mm), x + mm, y - 4.6, 2.6, "middle", layer="check"))
    return [*marks, Words(told, told_x, y - 8.2, SCALE_TOLD_MM, layer="check")]


def scale_across(x: float, bottom: float, length: float, told: str) -> list[Mark]:
    """A scale from ``bottom`` up. [mm]"""
    marks: list[Mark] = [line(x, bottom, x, bottom - length, layer="check")]
    for mm in _ticks(length):
        tall, width = _tick(mm, length)
        y = bottom - mm
        marks.append(line(x, y, x + tall, y, layer="check", width_mm=width))
        if mm % 50 == 0 and 0 < mm < length:
            marks.append(Words(str(mm), x + 6.4, y, 2.6, "middle", upright=True, layer="check"))
    words = Words(told, x + 10.0, bottom - UP_MM, SCALE_TOLD_MM, upright=True, layer="check")
    return [*marks, words]


def told_from_y(bottom: float, told: str) -> float:
    """How far up the words of a scale from ``bottom`` up reach. [mm]"""
    return bottom - UP_MM - lettering.width_mm(told, SCALE_TOLD_MM)


def _ticks(length: float) -> list[int]:
    """Every centimetre, and the end."""
    return sorted({*range(0, int(length), 10), int(length)})


def _tick(mm: int, length: float) -> tuple[float, float]:
    if mm in (0, length):
        return 7.0, FINE_MM
    return (3.6, FINE_MM) if mm % 50 == 0 else (2.0, FINE_MM)
