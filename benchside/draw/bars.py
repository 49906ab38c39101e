"""Minutes a piece, in the order made, with the line that practice draws through them."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

from benchside.draw import svg
from benchside.errors import OutOfRange

TOP_PX, FOOT_PX, SIDE_PX = 22.0, 24.0, 6.0
WIDEST_PX = 56.0  # of one bar


def bars(
    minutes: Sequence[float | None],
    numbers: Sequence[int],
    curve: Sequence[float],
    *,
    width: float,
    height: float,
    label: str,
) -> str:
    """A bar for each piece (None: its time was not taken), its minutes on top while they fit.

    ``curve`` is the time by practice for each piece, and goes on over pieces still to come, that
    have no bar. [minutes, px] Raises `OutOfRange` for a time that is none.
    """
    known = [m for m in minutes if m is not None]
    if not all(isfinite(m) and m >= 0 for m in [*known, *curve]):
        raise OutOfRange("A piece takes more than 0 minutes.", field="minutes")
    most = max([*known, *curve], default=0.0) or 1.0
    places = max(len(minutes), len(curve), 1)
    pitch = min((width - 2 * SIDE_PX) / places, WIDEST_PX)
    foot = height - FOOT_PX
    tall = (foot - TOP_PX) / most
    xs = [SIDE_PX + (i + 0.5) * pitch for i in range(places)]
    half = pitch * 0.36
    drawn = "".join(
        f"M{svg.point(x - half, foot)}V{svg.number(foot - m * tall)}h{svg.number(2 * half)}"
        f"V{svg.number(foot)}z"
        for x, m in zip(xs, minutes, strict=False)
        if m is not None
    )
    line = "L".join(svg.point(x, foot - m * tall) for x, m in zip(xs, curve, strict=False))
    told = pitch >= 1.7 * svg.FONT_PX
    tops = "".join(
        f'<text x="{svg.number(x)}" y="{svg.number(foot - m * tall - 5)}">{round(m)}</text>'
        for x, m in zip(xs, minutes, strict=False)
        if m is not None and told
    )
    every = 1 if told else 5
    feet = "".join(
        f'<text x="{svg.number(x)}" y="{svg.number(height - 5)}">{number}</text>'
        for i, (x, number) in enumerate(zip(xs, numbers, strict=False))
        if i % every == 0
    )
    return (
        svg.opening("bars", width, height, label)
        + (f'<path class="minutes" d="{drawn}"/>' if drawn else "")
        + f'<path class="foot-line" d="M0 {svg.number(foot)}H{svg.number(width)}"/>'
        + (f'<path class="practice" d="M{line}"/>' if line else "")
        + f'<g font-size="{svg.number(svg.FONT_PX)}" text-anchor="middle">{tops}'
        + f'<g class="numbers">{feet}</g></g></svg>'
    )
