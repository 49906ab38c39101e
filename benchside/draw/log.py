"""The end of a log with its billets, bark, pith and splits."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, hypot, pi, sin

from benchside.draw import svg
from benchside.stock.log import Billet, Bolt, Log, Way, section

SIDE_PX = 14.0  # room round the log
RINGS = 9
LEAST_NUMBER_PX = 6.0

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class NumberedBillet:
    """A billet's number, its four corners and its middle.

    ``radial`` are the faces that lie along the rays, each by two of the corners.
    """

    number: int
    corners: tuple[Point, ...]
    middle: Point
    side_mm: float
    radial: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class End:
    """The smaller end of a bolt, in millimetres about its pith, up the page: radii of what is
    over the bark, under it, usable, about the pith; the splits that come first; the billets."""

    bark_mm: float
    wood_mm: float
    usable_mm: float
    pith_mm: float
    splits: tuple[tuple[Point, Point], ...]
    billets: tuple[NumberedBillet, ...]

    @property
    def rings_mm(self) -> tuple[float, ...]:
        """Radii of rings for the eye: no log's own."""
        return tuple(self.usable_mm * (i + 0.5) / RINGS for i in range(RINGS))


def end_of(log: Log, bolt: Bolt, way: Way, first: int = 1) -> End:
    """The geometry of a bolt's smaller end. Billets are numbered from ``first``."""
    return End(
        bark_mm=bolt.bark_radius_mm,
        wood_mm=max(0.0, bolt.bark_radius_mm - log.bark_mm),
        usable_mm=max(0.0, bolt.radius_mm),
        pith_mm=log.pith_mm / 2,
        splits=_splits(bolt, way),
        billets=tuple(
            NumberedBillet(
                number, section(billet), (billet.x_mm, billet.y_mm), billet.side_mm, _radial(billet)
            )
            for number, billet in enumerate(bolt.billets, first)
        ),
    )


def end_grain(end: End, *, width: float, label: str) -> str:
    """The end, true to scale, as wide as there is room. Faces that lie along the rays are drawn
    double. [px]"""
    middle = width / 2
    sheet = _Sheet((width - 2 * SIDE_PX) / (2 * end.bark_mm), middle)
    return (
        svg.opening("log", width, width, label)
        + sheet.round("bark", end.bark_mm)
        + sheet.round("left-out", end.wood_mm)
        + sheet.round("usable", end.usable_mm)
        + "".join(sheet.round("ring", radius) for radius in end.rings_mm)
        + f'<path class="split" d="{"".join(sheet.line(a, b) for a, b in end.splits)}"/>'
        + "".join(_billet(billet, sheet) for billet in end.billets)
        + sheet.round("pith", end.pith_mm)
        + "</svg>"
    )


class _Sheet:
    """From millimetres about the pith, up the page, to pixels."""

    def __init__(self, scale: float, middle: float) -> None:
        self.scale, self.middle = scale, middle

    def at(self, point: Point) -> str:
        x, y = point
        return svg.point(self.middle + x * self.scale, self.middle - y * self.scale)

    def line(self, start: Point, end: Point) -> str:
        return f"M{self.at(start)}L{self.at(end)}"

    def round(self, classes: str, radius_mm: float) -> str:
        at, radius = svg.number(self.middle), svg.number(radius_mm * self.scale)
        return f'<circle class="{classes}" cx="{at}" cy="{at}" r="{radius}"/>'


def _splits(bolt: Bolt, way: Way) -> tuple[tuple[Point, Point], ...]:
    """The splits that come first: through the pith, and in sectors the finest that all share."""
    reach = bolt.bark_radius_mm
    angles = [pi * k / 2 for k in range(2)] if way == "sectors" else [0.0]
    if way == "sectors" and bolt.parts:
        half = max(2, bolt.parts[-1]) // 2
        angles = [pi * k / half for k in range(half)]
    ends = ((reach * cos(a), reach * sin(a)) for a in angles)
    return tuple(((-x, -y), (x, y)) for x, y in ends)


def _billet(billet: NumberedBillet, sheet: _Sheet) -> str:
    outline = "M" + "L".join(sheet.at(corner) for corner in billet.corners) + "z"
    radial = "".join(sheet.line(billet.corners[i], billet.corners[j]) for i, j in billet.radial)
    size = min(svg.FONT_PX, billet.side_mm * sheet.scale * 0.62)
    x = sheet.middle + billet.middle[0] * sheet.scale
    y = sheet.middle - billet.middle[1] * sheet.scale + size * 0.36
    text = (
        f'<text class="blank-number" x="{svg.number(x)}" y="{svg.number(y)}"'
        f' font-size="{svg.number(size)}" text-anchor="middle">{billet.number}</text>'
        if size >= LEAST_NUMBER_PX
        else ""
    )
    faces = f'<path class="radial" d="{radial}"/>' if radial else ""
    return f'<path class="blank" d="{outline}"/>{faces}{text}'


def _radial(billet: Billet) -> tuple[tuple[int, int], ...]:
    """The two faces that lie along the rays, by their corners; none where the rings lie askew."""
    if hypot(billet.x_mm, billet.y_mm) == 0:
        return ()
    askew = billet.ring_deg % 90
    if min(askew, 90 - askew) > 15:
        return ()
    along = min(billet.ring_deg, 180 - billet.ring_deg) < 45
    return ((0, 1), (3, 2)) if along else ((0, 3), (1, 2))
