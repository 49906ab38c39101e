"""Spindles one under another, their differences from the pattern drawn larger than they are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import isfinite
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from benchside.draw import svg
from benchside.draw.finished import Headstock, datum_at_left, thickest_mm
from benchside.pattern import Pattern, places

SWELL = 1.5  # judgement: one wild piece may not make all the others thin
WITHIN_ARC = (0.2, 0.5, 0.8)  # between an end and the extreme of a bead or cove
GUTTER_EM = 3.2

Floats = npt.NDArray[np.float64]


class Turned(NamedTuple):
    """One piece: its number, its differences by place id (mm, plus is over), words for the ear."""

    number: int
    deviations: Mapping[str, float]
    label: str = ""
    odd: bool = False


@dataclass(frozen=True, slots=True)
class _Sheet:
    """What all the rows share."""

    at_mm: Floats
    radius_mm: Floats
    x_px: Floats
    place_mm: Mapping[str, float]
    px_per_mm: float
    magnify: float
    width_px: float
    height_px: float
    font_px: float
    prefix: str


def side_by_side(
    pattern: Pattern,
    pieces: Sequence[tuple[int, Mapping[str, float]] | Turned],
    magnify: float,
    *,
    width: float = 780.0,
    headstock: Headstock = "left",
    prefix: str = "r",
) -> str:
    """Every piece as a drawing of its own, one svg a row, after one svg of shared definitions.

    Differences are drawn ``magnify`` times over and interpolated between the places that were
    read; beyond the outermost of them the wanted outline is dashed and no wood is drawn, because
    nothing is known there. Thickness is drawn to the row's height, not to the scale of the length.
    Rows are 46 px high for a dozen, 26 px for forty, 18 px for hundreds. [mm, px]
    """
    turned = [Turned(*piece) for piece in pieces]
    sheet = _sheet(pattern, turned, magnify, width, headstock, svg.prefix(prefix))
    return _shared(sheet) + "".join(_row(sheet, piece) for piece in turned)


def _sheet(
    pattern: Pattern,
    turned: Sequence[Turned],
    magnify: float,
    width: float,
    headstock: Headstock,
    prefix: str,
) -> _Sheet:
    height = 46.0 if len(turned) <= 12 else 26.0 if len(turned) <= 40 else 18.0
    font = min(svg.FONT_PX, height - 3)
    at, radius = profile(pattern)
    left, right = GUTTER_EM * font, width - 4
    along = at / pattern.length_mm * (right - left)
    x = left + along if datum_at_left(pattern, headstock) else right - along
    thickest = thickest_mm(pattern)
    most = max((v for t in turned for v in t.deviations.values() if isfinite(v)), default=0.0)
    tall = min(thickest + magnify * max(most, 0.0), SWELL * thickest)
    scale = (height - 4) / tall
    known = {p.id: p.at_mm for p in places(pattern)}
    return _Sheet(at, radius, x, known, scale, magnify, width, height, font, prefix)


def profile(pattern: Pattern) -> tuple[Floats, Floats]:
    """Positions and radii that draw the pattern in few points. [mm]

    Each section brings its own two ends, so that a shoulder's jump is two points at one place.
    """
    at: list[float] = []
    radius: list[float] = []
    for i, (start, end) in enumerate(pairwise(pattern.stations)):
        begins_mm, ends_mm = pattern.ends_mm(i)
        extreme = pattern.extreme_at_mm(i)
        inside = _within_arc(start.at_mm, extreme, end.at_mm) if extreme is not None else []
        at += [start.at_mm, *inside, end.at_mm]
        radius += [begins_mm / 2, *(pattern.diameter_mm_at(inside) / 2).tolist(), ends_mm / 2]
    return np.array(at), np.array(radius)


def _within_arc(start_mm: float, extreme_mm: float, end_mm: float) -> list[float]:
    rising = [start_mm + share * (extreme_mm - start_mm) for share in WITHIN_ARC]
    falling = [extreme_mm + share * (end_mm - extreme_mm) for share in WITHIN_ARC]
    return [at for at in (*rising, extreme_mm, *falling) if start_mm < at < end_mm]


def _shared(sheet: _Sheet) -> str:
    """The wood, and the outline that is wanted, for every row to refer to."""
    outline = _points(sheet, sheet.x_px, sheet.radius_mm)
    return (
        '<svg class="drawing symbols" aria-hidden="true" focusable="false"><defs>'
        f'<linearGradient id="{sheet.prefix}w" x2="0" y2="1"><stop class="wood-rim"/>'
        '<stop class="wood-lit" offset=".3"/><stop class="wood-body" offset=".62"/>'
        '<stop class="wood-shade" offset="1"/></linearGradient>'
        f'<polygon id="{sheet.prefix}p" class="wanted-line" points="{outline}"/></defs></svg>'
    )


def _row(sheet: _Sheet, piece: Turned) -> str:
    middle = svg.number(sheet.height_px / 2 + 0.35 * sheet.font_px)
    bar = f'<path class="odd-bar" d="M0 2h5v{svg.number(sheet.height_px - 4)}h-5z"/>'
    return (
        svg.opening("row", sheet.width_px, sheet.height_px, piece.label or str(piece.number))
        + (bar if piece.odd else "")
        + f'<text class="row-number" x="10" y="{middle}" font-size="{svg.number(sheet.font_px)}">'
        + f"{piece.number}</text>"
        + _wood(sheet, piece)
        + f'<use href="#{sheet.prefix}p"/></svg>'
    )


def _wood(sheet: _Sheet, piece: Turned) -> str:
    """The piece from the first to the last place that was read."""
    read = sorted(
        (sheet.place_mm[place], deviation)
        for place, deviation in piece.deviations.items()
        if place in sheet.place_mm and isfinite(deviation)
    )
    if len(read) < 2:
        return ""
    places_mm, deviations = np.array(read).T
    known = (sheet.at_mm >= places_mm[0]) & (sheet.at_mm <= places_mm[-1])
    deviation = np.interp(sheet.at_mm[known], places_mm, deviations)
    radius = sheet.radius_mm[known] + deviation / 2 * sheet.magnify
    points = _points(sheet, sheet.x_px[known], radius)
    thin = ' stroke-width=".9"' if sheet.height_px < 40 else ' stroke-width="1.5"'
    return f'<polygon class="turned"{thin} fill="url(#{sheet.prefix}w)" points="{points}"/>'


def _points(sheet: _Sheet, x_px: Floats, radius_mm: Floats) -> str:
    """A polygon's points: the upper edge, and the lower one back."""
    axis = sheet.height_px / 2
    half = np.clip(radius_mm * sheet.px_per_mm, 0.5, axis - 1)
    x = np.concatenate([x_px, x_px[::-1]]).round(1).tolist()
    y = np.concatenate([axis - half, (axis + half)[::-1]]).round(1).tolist()
    return " ".join(f"{a:g},{b:g}" for a, b in zip(x, y, strict=True))
