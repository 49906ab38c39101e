"""Beads and shoulders across a set: one line for each, that runs level where they line up."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import NamedTuple

from benchside.draw import svg
from benchside.errors import OutOfRange

ROW_PX, GAP_PX, FOOT_PX = 46.0, 24.0, 22.0
SIDE_PX = 14.0
REACH = 1.5  # judgement: in tolerances to either side of the middle
FEWEST_PX = 17.0  # between two numbers that can still be told apart


class Across(NamedTuple):
    """One bead or shoulder: its name, and each piece's distance from the middle of them all, in
    tolerances (NaN: not read), plus away from the datum end."""

    name: str
    shares: Sequence[float]


def lined_up(rows: Sequence[Across], numbers: Sequence[int], *, width: float, label: str) -> str:
    """The pieces from left to right, a level band for each bead or shoulder. [tolerances, px]

    Up is away from the datum end. A piece beyond the band is a triangle that points its way.
    Raises `OutOfRange` for an endless distance.
    """
    if any(not isfinite(s) and s == s for row in rows for s in row.shares):
        raise OutOfRange("One of these is no length.", field="shares")
    height = len(rows) * (ROW_PX + GAP_PX) + FOOT_PX
    pitch = (width - 2 * SIDE_PX) / max(len(numbers), 1)
    xs = [SIDE_PX + (i + 0.5) * pitch for i in range(len(numbers))]
    drawn = "".join(_row(row, i * (ROW_PX + GAP_PX), xs, width) for i, row in enumerate(rows))
    every = max(1, round(FEWEST_PX / pitch + 0.5)) if pitch < FEWEST_PX else 1
    foot = "".join(
        f'<text x="{svg.number(x)}">{number}</text>'
        for i, (x, number) in enumerate(zip(xs, numbers, strict=True))
        if i % every == 0
    )
    size, at = svg.number(svg.FONT_PX), svg.number(height - 4)
    return (
        svg.opening("lines", width, height, label)
        + drawn
        + f'<g class="numbers" font-size="{size}" text-anchor="middle"'
        + f' transform="translate(0 {at})">{foot}</g></svg>'
    )


def _row(row: Across, top: float, xs: Sequence[float], width: float) -> str:
    """Its name above, its band, and the line from piece to piece."""
    name = svg.shortened(row.name, width - 2 * SIDE_PX)
    middle = top + GAP_PX + ROW_PX / 2
    half = ROW_PX / 2 / REACH
    placed = [
        (x, middle - max(-REACH, min(REACH, share)) * half, share)
        for x, share in zip(xs, row.shares, strict=True)
        if share == share
    ]
    trace = "L".join(svg.point(x, y) for x, y, _ in placed)
    dots = "".join(f"M{svg.point(x, y)}h0" for x, y, share in placed if abs(share) <= 1 + 1e-9)
    out = "".join(
        f"M{svg.point(x, y - 6 * (1 if share > 0 else -1))}l6 {11 if share > 0 else -11}h-12z"
        for x, y, share in placed
        if abs(share) > 1 + 1e-9
    )
    left, right = svg.number(SIDE_PX / 2), svg.number(width - SIDE_PX / 2)
    upper, lower = svg.number(middle - half), svg.number(middle + half)
    return (
        f'<text class="name" x="{left}" y="{svg.number(top + GAP_PX - 8)}"'
        f' font-size="{svg.number(svg.FONT_PX)}">{svg.words(name)}</text>'
        f'<path class="band" d="M{left} {upper}H{right}V{lower}H{left}z"/>'
        f'<path class="middle" d="M{left} {svg.number(middle)}H{right}"/>'
        + (f'<path class="trace" d="M{trace}"/>' if trace else "")
        + (f'<path class="dots" d="{dots}"/>' if dots else "")
        + (f'<path class="beyond" d="{out}"/>' if out else "")
    )
