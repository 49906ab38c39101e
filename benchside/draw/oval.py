"""What a round becomes when it dries: the circle as turned, the oval inside it, to one scale."""

from __future__ import annotations

from math import cos, isfinite, radians, sin

from benchside.draw import svg
from benchside.errors import OutOfRange

SIDE_PX, FOOT_PX = 100.0, 30.0  # room for the words beside and under the section
DOT_IN_PX = 14.0
RINGS = 4  # growth rings hinted at


def oval(
    turned_mm: float,
    radial_mm: float,
    tangential_mm: float,
    *,
    across: str,
    along: str,
    width: float,
    label: str,
    ring_deg: float = 90.0,
    dot: bool = False,
) -> str:
    """The section as turned (dashed) and as it will be (filled), both to one scale. [mm, px]

    ``ring_deg`` is the direction of the rays, counter-clockwise from the dot that lies at the right
    (drawn with ``dot``): upright unless said. ``across`` and ``along`` are the words for the size
    along the rings and along the rays, each at an end of its own axis. Raises `OutOfRange` for what
    is no size.
    """
    if not all(isfinite(mm) and mm > 0 for mm in (turned_mm, radial_mm, tangential_mm)):
        raise OutOfRange("A section is more than 0 mm across.", field="diameter_mm")
    most = max(turned_mm, radial_mm, tangential_mm)
    round_px = width - 2 * SIDE_PX
    scale = round_px / most
    height = round_px + 2 * FOOT_PX
    cx, cy = width / 2, FOOT_PX + round_px / 2
    rx, ry = tangential_mm * scale / 2, radial_mm * scale / 2
    turn = 90.0 - ring_deg
    return (
        svg.opening("oval", width, height, label)
        + f'<g transform="rotate({svg.number(turn)} {svg.point(cx, cy)})">'
        + f'<ellipse class="dried" cx="{svg.number(cx)}" cy="{svg.number(cy)}"'
        + f' rx="{svg.number(rx)}" ry="{svg.number(ry)}"/>'
        + _rings(cx, cy, rx, ry)
        + f'<path class="ray" d="M{svg.point(cx, cy - ry)}V{svg.number(cy + ry)}'
        + f'M{svg.point(cx - rx, cy)}H{svg.number(cx + rx)}"/></g>'
        + f'<circle class="todo" cx="{svg.number(cx)}" cy="{svg.number(cy)}"'
        + f' r="{svg.number(turned_mm * scale / 2)}"/>'
        + (_dot(cx + rx - DOT_IN_PX, cy) if dot else "")
        + f'<g class="label" font-size="{svg.number(svg.FONT_PX)}">'
        + _word(cx, cy, rx, ring_deg - 90, across)
        + _word(cx, cy, ry, ring_deg + 180, along)
        + "</g></svg>"
    )


def _rings(cx: float, cy: float, rx: float, ry: float) -> str:
    """Arcs across the rays, as the rings of a stick far from the pith."""
    arcs = []
    for i in range(1, RINGS + 1):
        share = -1 + 2 * i / (RINGS + 1)
        y, half = cy + share * ry, rx * (1 - share**2) ** 0.5
        arcs.append(
            f"M{svg.point(cx - half, y)}Q{svg.point(cx, y - ry / 8)} {svg.point(cx + half, y)}"
        )
    return f'<path class="grain" d="{"".join(arcs)}"/>'


def _dot(x: float, y: float) -> str:
    return f'<circle class="tenon-dot" r="6" cx="{svg.number(x)}" cy="{svg.number(y)}"/>'


def _word(cx: float, cy: float, radius: float, at_deg: float, text: str) -> str:
    """A word just off the section, at that angle from the right, counter-clockwise."""
    right, up = cos(radians(at_deg)), sin(radians(at_deg))
    anchor = "middle" if abs(right) < 0.4 else "start" if right > 0 else "end"
    x, y = cx + (radius + 8) * right, cy - (radius + 14) * up + svg.FONT_PX / 3
    return (
        f'<text x="{svg.number(x)}" y="{svg.number(y)}" text-anchor="{anchor}">'
        f"{svg.words(text)}</text>"
    )
