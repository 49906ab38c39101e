"""Small helpers for SVG written as text: numbers, and words that a person typed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import escape
from itertools import pairwise

FONT_PX = 15.0  # of the words in a drawing
GLYPH_EM = 0.6  # judgement: width of a letter, so that words can be kept apart unmeasured

_NOT_IN_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_PREFIX = re.compile("[a-z][a-z0-9]*")


def number(value: float) -> str:
    """A coordinate to a tenth of a pixel, in as few letters as that takes.

    >>> number(12.0), number(0.126), number(-0.01)
    ('12', '.1', '0')
    """
    text = f"{value:.1f}".rstrip("0").rstrip(".")
    if text in ("-0", "0", ""):
        return "0"
    return text.replace("0.", ".", 1) if text.startswith(("0.", "-0.")) else text


def point(x: float, y: float) -> str:
    """Two coordinates as path data."""
    return f"{number(x)} {number(y)}"


def words(text: str) -> str:
    """What a person typed, safe between tags and in a quoted attribute.

    Letters that may not stand in XML at all (control characters, lone surrogates) are left out.

    >>> words('</svg><script>')
    '&lt;/svg&gt;&lt;script&gt;'
    """
    return escape(_NOT_IN_XML.sub("", text), quote=True)


def prefix(text: str) -> str:
    """The same text if it can begin an id: a letter a to z, then letters and digits.

    Raises `ValueError`: a prefix comes from our own code, never from a person.
    """
    if not _PREFIX.fullmatch(text):
        raise ValueError(f"not a prefix for ids: {text!r}")
    return text


def opening(classes: str, width: float, height: float, label: str) -> str:
    """The start tag of a drawing that a screen reader hears as one picture named ``label``.

    Without one it is passed over: what it shows is said beside it.
    """
    named = f'role="img" aria-label="{words(label)}"' if label else 'aria-hidden="true"'
    return f'<svg class="drawing {classes}" viewBox="0 0 {number(width)} {number(height)}" {named}>'


def word_width_px(text: str, font_px: float = FONT_PX) -> float:
    """About how wide a line of words will be. [px]"""
    return len(text) * GLYPH_EM * font_px


def shortened(text: str, room_px: float, font_px: float = FONT_PX) -> str:
    """The text, cut with an ellipsis where it would be wider than ``room_px``."""
    most = max(int(room_px / (GLYPH_EM * font_px)), 1)
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def spread(
    wanted_px: Sequence[float], widths_px: Sequence[float], low_px: float, high_px: float
) -> list[float]:
    """Centres for labels side by side, none overlapping, each as near as can be to its wanted one.

    ``wanted_px`` must rise. Least squares under the order of the labels, by pooling neighbours
    that press on each other (isotonic regression, from memory), then kept between ``low_px`` and
    ``high_px``. Raises `ValueError` when there is no room.
    """
    if not wanted_px:
        return []
    if sum(widths_px) > high_px - low_px + 1e-9:
        raise ValueError("no room for the labels")
    offsets = [0.0]
    for before, after in pairwise(widths_px):
        offsets.append(offsets[-1] + (before + after) / 2)
    pools: list[tuple[float, int]] = []
    for wish, offset in zip(wanted_px, offsets, strict=True):
        mean, count = wish - offset, 1
        while pools and pools[-1][0] > mean:
            other, others = pools.pop()
            mean, count = (mean * count + other * others) / (count + others), count + others
        pools.append((mean, count))
    least = low_px + widths_px[0] / 2
    most = high_px - offsets[-1] - widths_px[-1] / 2
    placed = [min(max(mean, least), most) for mean, count in pools for _ in range(count)]
    return [at + offset for at, offset in zip(placed, offsets, strict=True)]
