"""One place over a set as a strip: its tolerance, every piece, and where the next ones will lie."""

from __future__ import annotations

from collections.abc import Sequence

from benchside.draw import svg

WIDTH_PX, HEIGHT_PX = 132.0, 26.0
REACH = 1.75  # judgement: in tolerances to either side; what lies beyond is drawn at the edge
DOTS_PX, NEXT_PX = 9.0, 20.0
EDGE_PX = 5.0


def strip(shares: Sequence[float], coming: tuple[float, float] | None) -> str:
    """A strip for the eye alone; the words stand beside it.

    ``shares`` are the pieces' differences from what they are judged against, in tolerances (NaN:
    not read); ``coming`` is from where to where nearly all pieces to come will lie. A piece beyond
    the tolerance is a triangle that points outward. [tolerances in, px out]
    """
    left, right = _x(-1.0), _x(1.0)
    dots, beyond = _pieces(shares)
    return (
        f'<svg class="drawing strip" viewBox="0 0 {svg.number(WIDTH_PX)} {svg.number(HEIGHT_PX)}"'
        ' aria-hidden="true" focusable="false">'
        f'<path class="band" d="M{left} 1H{right}v24H{left}z"/>'
        f'<path class="middle" d="M{_x(0.0)} 1v24"/>'
        + (f'<path class="coming" d="{_line(coming)}"/>' if coming else "")
        + (f'<path class="dots" d="{dots}"/>' if dots else "")
        + (f'<path class="beyond" d="{beyond}"/>' if beyond else "")
        + "</svg>"
    )


def _x(share: float) -> int:
    """Whole pixels: finer is not seen, and pieces at one place are drawn once."""
    within = max(-REACH, min(REACH, share))
    return round(EDGE_PX + (within / REACH + 1) / 2 * (WIDTH_PX - 2 * EDGE_PX))


def _pieces(shares: Sequence[float]) -> tuple[str, str]:
    read = [share for share in shares if share == share]
    inside = sorted({_x(share) for share in read if abs(share) <= 1 + 1e-9})
    outside = sorted(
        {(_x(share), 1 if share > 0 else -1) for share in read if abs(share) > 1 + 1e-9}
    )
    dots = "".join(f"M{x} {svg.number(DOTS_PX)}h0" for x in inside)
    points = "".join(
        f"M{x + 4 * side} {svg.number(DOTS_PX)}l{-8 * side}-6v12z" for x, side in outside
    )
    return dots, points


def _line(coming: tuple[float, float]) -> str:
    """From the one to the other, with a foot at each end that is not beyond the edge."""
    path = f"M{_x(coming[0])} {svg.number(NEXT_PX)}H{_x(coming[1])}"
    for share in coming:
        if abs(share) < REACH:
            path += f"M{_x(share)} {svg.number(NEXT_PX - 3)}v6"
    return path
