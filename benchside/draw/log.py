"""The end of a log with its billets, bark, pith and splits."""

from __future__ import annotations

from math import cos, hypot, pi, sin

from benchside.draw import svg
from benchside.stock.log import Billet, Bolt, Log, Way, section

SIDE_PX = 14.0  # room round the log
RINGS = 9


def end_grain(log: Log, bolt: Bolt, way: Way, *, width: float, label: str, first: int = 1) -> str:
    """The smaller end of a bolt, true to scale: bark, sapwood left out, rings, splits, billets.

    Billets are numbered from ``first``; their radial faces are drawn double where they lie along
    the rays. [px]
    """
    scale = (width - 2 * SIDE_PX) / (2 * bolt.bark_radius_mm)
    middle = width / 2
    sheet = _Sheet(scale, middle)
    return (
        svg.opening("log", width, width, label)
        + _round("bark", middle, bolt.bark_radius_mm * scale)
        + _round("left-out", middle, (bolt.bark_radius_mm - log.bark_mm) * scale)
        + _round("usable", middle, bolt.radius_mm * scale)
        + _rings(middle, bolt.radius_mm * scale)
        + _splits(bolt, way, sheet)
        + "".join(_billet(billet, sheet, first + i) for i, billet in enumerate(bolt.billets))
        + _round("pith", middle, log.pith_mm / 2 * scale)
        + "</svg>"
    )


class _Sheet:
    """From millimetres about the pith, up the page, to pixels."""

    def __init__(self, scale: float, middle: float) -> None:
        self.scale, self.middle = scale, middle

    def at(self, x: float, y: float) -> str:
        return svg.point(self.middle + x * self.scale, self.middle - y * self.scale)


def _round(classes: str, middle: float, radius: float) -> str:
    at = svg.number(middle)
    return f'<circle class="{classes}" cx="{at}" cy="{at}" r="{svg.number(max(0.0, radius))}"/>'


def _rings(middle: float, radius: float) -> str:
    return "".join(_round("ring", middle, radius * (i + 0.5) / RINGS) for i in range(RINGS))


def _splits(bolt: Bolt, way: Way, sheet: _Sheet) -> str:
    """The splits that come first: through the pith, and in sectors the finest that all share."""
    reach = bolt.bark_radius_mm
    lines = [pi * k / 2 for k in range(2)] if way == "sectors" else [0.0]
    if way == "sectors" and bolt.parts:
        half = max(2, bolt.parts[-1]) // 2
        lines = [pi * k / half for k in range(half)]
    path = "".join(
        f"M{sheet.at(-reach * cos(a), -reach * sin(a))}L{sheet.at(reach * cos(a), reach * sin(a))}"
        for a in lines
    )
    return f'<path class="split" d="{path}"/>'


def _billet(billet: Billet, sheet: _Sheet, number: int) -> str:
    corners = section(billet)
    outline = "M" + "L".join(sheet.at(x, y) for x, y in corners) + "z"
    radial = "".join(
        f"M{sheet.at(*corners[i])}L{sheet.at(*corners[j])}" for i, j in _radial_faces(billet)
    )
    size = min(svg.FONT_PX, billet.side_mm * sheet.scale * 0.62)
    x = sheet.middle + billet.x_mm * sheet.scale
    y = sheet.middle - billet.y_mm * sheet.scale + size * 0.36
    text = (
        f'<text class="blank-number" x="{svg.number(x)}" y="{svg.number(y)}"'
        f' font-size="{svg.number(size)}" text-anchor="middle">{number}</text>'
        if size >= 6
        else ""
    )
    faces = f'<path class="radial" d="{radial}"/>' if radial else ""
    return f'<path class="blank" d="{outline}"/>{faces}{text}'


def _radial_faces(billet: Billet) -> tuple[tuple[int, int], ...]:
    """The two faces that lie along the rays, by their corners; none where the rings lie askew."""
    if hypot(billet.x_mm, billet.y_mm) == 0:
        return ()
    askew = billet.ring_deg % 90
    if min(askew, 90 - askew) > 15:
        return ()
    along = min(billet.ring_deg, 180 - billet.ring_deg) < 45
    return ((0, 1), (3, 2)) if along else ((0, 3), (1, 2))
