"""The chosen pieces standing side by side, as they will stand in the chair."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import NamedTuple

import numpy as np

from benchside.draw import svg
from benchside.draw.finished import thickest_mm
from benchside.draw.row import SWELL, Floats, profile
from benchside.pattern import Pattern, places

PITCH_PX, NARROW_PX = 42.0, 28.0  # from piece to piece, up to a dozen and beyond
FEW = 12
RAIL_PX, SIDE_PX = 13.0, 10.0
MATE_PX = 8.0  # between one bracket and the next
MATES_DRAWN = 6
FILLED = 0.72  # of the pitch, by the thickest wood


class Standing(NamedTuple):
    """One piece: its number, differences of size and of position by place id (mm), its part.

    ``odd`` is the one that shows most, ``pinned`` one whose place was given.
    """

    number: int
    sizes: Mapping[str, float]
    positions: Mapping[str, float]
    odd: bool = False
    pinned: bool = False


@dataclass(frozen=True, slots=True)
class _Sheet:
    at_mm: Floats
    radius_mm: Floats
    place_mm: Mapping[str, float]
    length_mm: float
    along_px: float
    across_px: float
    top_px: float
    magnify: float
    pitch: float
    prefix: str


def back(
    pattern: Pattern,
    pieces: Sequence[Standing],
    magnify: float,
    *,
    height: float,
    label: str,
    mates: bool = True,
    prefix: str = "b",
) -> str:
    """The pieces upright between two rails, the datum end down, numbered underneath. [mm, px]

    True along the length, thickness to a scale of its own; differences of size and of place are
    drawn ``magnify`` times over. Beyond the outermost place read nothing is known, and the form
    wanted is drawn in outline only. With ``mates``, brackets join the pieces that stand mirrored
    (the six outermost pairs). The odd one has a bar over its number, a pinned one a peg.
    ``prefix`` keeps two pictures on one page apart.
    """
    pitch = PITCH_PX if len(pieces) <= FEW else NARROW_PX
    width = max(len(pieces) * pitch + 2 * SIDE_PX, 120.0)
    sheet = _sheet(pattern, pieces, magnify, height, pitch, svg.prefix(prefix))
    brackets = min(len(pieces) // 2, MATES_DRAWN) if mates else 0
    foot = height + 2 * RAIL_PX
    left = (width - len(pieces) * pitch) / 2
    xs = [left + (i + 0.5) * pitch for i in range(len(pieces))]
    whole = foot + 34 + brackets * MATE_PX
    return (
        svg.opening("back", width, whole, label)
        + _shared(sheet)
        + _rails(width, height)
        + "".join(_piece(sheet, piece, x) for x, piece in zip(xs, pieces, strict=True))
        + "".join(_number(piece, x, foot) for x, piece in zip(xs, pieces, strict=True))
        + _mates(xs, brackets, foot + 30)
        + "</svg>"
    )


def _sheet(
    pattern: Pattern,
    pieces: Sequence[Standing],
    magnify: float,
    height: float,
    pitch: float,
    prefix: str,
) -> _Sheet:
    at, radius = profile(pattern)
    most = max((v for p in pieces for v in p.sizes.values() if isfinite(v)), default=0.0)
    thickest = thickest_mm(pattern)
    tall = min(thickest + magnify * max(most, 0.0), SWELL * thickest)
    return _Sheet(
        at_mm=at,
        radius_mm=radius,
        place_mm={place.id: place.at_mm for place in places(pattern)},
        length_mm=pattern.length_mm,
        along_px=height / pattern.length_mm,
        across_px=FILLED * pitch / tall,
        top_px=RAIL_PX,
        magnify=magnify,
        pitch=pitch,
        prefix=prefix,
    )


def _rails(width: float, height: float) -> str:
    """The crest above and the seat below, which the ends are let into."""
    full = svg.number(width)
    return "".join(
        f'<path class="rail" d="M0 {svg.number(y)}h{full}v{svg.number(RAIL_PX + 5)}H0z"/>'
        for y in (0.0, RAIL_PX + height - 5)
    )


def _shared(sheet: _Sheet) -> str:
    """The wood, lit from the left, and the form that is wanted, for every piece to refer to."""
    wanted = _points(sheet, sheet.at_mm, sheet.radius_mm)
    return (
        f'<defs><linearGradient id="{sheet.prefix}w"><stop class="wood-rim"/>'
        '<stop class="wood-lit" offset=".3"/><stop class="wood-body" offset=".62"/>'
        '<stop class="wood-shade" offset="1"/></linearGradient>'
        f'<polygon id="{sheet.prefix}p" class="wanted-line" points="{wanted}"/></defs>'
    )


def _piece(sheet: _Sheet, piece: Standing, x: float) -> str:
    wood = _turned(sheet, piece)
    return f'<g transform="translate({svg.number(x)})">{wood}<use href="#{sheet.prefix}p"/></g>'


def _turned(sheet: _Sheet, piece: Standing) -> str:
    """The piece from the first to the last place that was read."""
    read = _read(sheet, piece.sizes)
    if len(read[0]) < 2:
        return ""
    known = (sheet.at_mm >= read[0][0]) & (sheet.at_mm <= read[0][-1])
    where = sheet.at_mm[known]
    radius = sheet.radius_mm[known] + sheet.magnify * np.interp(where, *read) / 2
    moved = _read(sheet, piece.positions)
    ends = np.concatenate([[0.0], moved[0], [sheet.length_mm]])
    shift = np.interp(where, ends, np.concatenate([[0.0], moved[1], [0.0]]))
    along = np.maximum.accumulate(where + sheet.magnify * shift)
    points = _points(sheet, along, radius)
    return f'<polygon class="turned" fill="url(#{sheet.prefix}w)" points="{points}"/>'


def _read(sheet: _Sheet, off: Mapping[str, float]) -> tuple[Floats, Floats]:
    """Where something was read and how far off it is, from the datum end."""
    found = sorted(
        (sheet.place_mm[place], value)
        for place, value in off.items()
        if place in sheet.place_mm and isfinite(value)
    )
    table = np.array(found, dtype=np.float64).reshape(-1, 2)
    return table[:, 0], table[:, 1]


def _points(sheet: _Sheet, at_mm: Floats, radius_mm: Floats) -> str:
    """A polygon's points about its own axis: up the left edge, down the right one."""
    half = np.clip(radius_mm * sheet.across_px, 0.5, sheet.pitch / 2 - 0.5).round(1)
    up = sheet.top_px + (sheet.length_mm - np.clip(at_mm, 0, sheet.length_mm)) * sheet.along_px
    up = up.round(1 if sheet.pitch > NARROW_PX else 0)
    xs = np.concatenate([-half, half[::-1]]).tolist()
    ys = np.concatenate([up, up[::-1]]).tolist()
    return " ".join(f"{a:g},{b:g}" for a, b in zip(xs, ys, strict=True))


def _number(piece: Standing, x: float, foot: float) -> str:
    at = svg.number(x)
    classes = "place-number odd-number" if piece.odd else "place-number"
    text = (
        f'<text class="{classes}" x="{at}" y="{svg.number(foot + 20)}"'
        f' font-size="17" text-anchor="middle">{piece.number}</text>'
    )
    bar = f'<path class="odd-bar" d="M{svg.point(x - 9, foot)}h18v4h-18z"/>' if piece.odd else ""
    peg = f'<circle class="peg" r="4" cx="{at}" cy="{svg.number(RAIL_PX / 2 + 2)}"/>'
    return text + bar + (peg if piece.pinned else "")


def _mates(xs: Sequence[float], count: int, top: float) -> str:
    """Brackets under the mirrored pairs, the outermost the deepest."""
    path = "".join(
        f"M{svg.point(xs[i], top)}v{svg.number((count - i) * MATE_PX - 2)}"
        f"H{svg.number(xs[-1 - i])}V{svg.number(top)}"
        for i in range(count)
    )
    return f'<path class="mates" d="{path}"/>' if path else ""
