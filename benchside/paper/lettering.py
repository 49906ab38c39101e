"""The letters on paper: what our font has, how wide words are, how they are made to fit.

The font is DejaVu Sans Condensed, with its licence, in ``fonts``.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache
from pathlib import Path

import uharfbuzz

FONTS = Path(__file__).with_name("fonts")
FAMILY = "DejaVu Sans Condensed"
FILES = {False: "DejaVuSansCondensed.ttf", True: "DejaVuSansCondensed-Bold.ttf"}
MISSING = "□"  # stands for a letter that the font does not have
CAP_EM = 0.73  # height of a capital over the baseline, in this font
MIDDLE_EM = CAP_EM / 2  # from the baseline up to the middle of a capital
_SHAPED = {"R", "AL", "RLE", "RLO", "RLI"}  # bidirectional classes that need more than a row
_ISOLATE, _ISOLATED = "\u2068", "\u2069"  # around a name of either direction
_INVISIBLE = re.compile("[\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff]")


def tidy(text: str) -> str:
    """One line that can be drawn: breaks become spaces, a letter the font lacks becomes □.

    The slash of a fraction is made for small figures and would lie over large ones.

    >>> tidy("Fuß\\n椅子 ⅝ 13⁄16")
    'Fuß □□ ⅝ 13/16'
    """
    known = _known()
    spaced = " ".join(text.replace("\u2044", "/").split())
    return "".join(
        c if ord(c) in known or _INVISIBLE.match(c) else MISSING
        for c in unicodedata.normalize("NFC", spaced)
        if unicodedata.category(c) not in ("Cc", "Cs")
    )


def apart(name: str) -> str:
    """A name to stand among other words: one that runs from the right turns nothing beside it.

    >>> apart("Swell"), len(apart("שלום"))
    ('Swell', 6)
    """
    return f"{_ISOLATE}{name}{_ISOLATED}" if _runs_from_the_right(name) else name


def _runs_from_the_right(text: str) -> bool:
    return any(unicodedata.bidirectional(c) in ("R", "AL") for c in text)


def needs_shaping(text: str) -> bool:
    """Whether letters join, stack or run from the right, so that a row of them will not do."""
    return any(
        unicodedata.bidirectional(c) in _SHAPED or unicodedata.combining(c) or ord(c) > 0x0900
        for c in text
        if not 0x2000 <= ord(c) < 0x2E80
    )


def width_mm(text: str, size_mm: float, *, bold: bool = False) -> float:
    """How wide a line of words is. [mm]"""
    return _width_em(text, bold) * size_mm


def shortened(text: str, room_mm: float, size_mm: float, *, bold: bool = False) -> str:
    """The words, cut with an ellipsis where they would be wider than ``room_mm``; "" for none."""
    text = tidy(text)
    if width_mm(text, size_mm, bold=bold) <= room_mm:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if width_mm(text[:middle].rstrip() + "…", size_mm, bold=bold) <= room_mm:
            low = middle
        else:
            high = middle - 1
    left = text[:low].rstrip() + "…" if low else ""
    return left + _ISOLATED * (left.count(_ISOLATE) - left.count(_ISOLATED))


def wrapped(
    text: str, room_mm: float, size_mm: float, lines: int, *, bold: bool = False
) -> tuple[str, ...]:
    """The words in at most so many lines, broken between words where that can be, the last one
    shortened where they do not fit."""
    rest = tidy(text)
    found: list[str] = []
    while rest and len(found) < lines - 1:
        if width_mm(rest, size_mm, bold=bold) <= room_mm:
            break
        first = _first_line(rest, room_mm, size_mm, bold)
        found.append(first)
        rest = rest[len(first) :].lstrip()
    return (*found, shortened(rest, room_mm, size_mm, bold=bold)) if rest else tuple(found)


def _first_line(text: str, room_mm: float, size_mm: float, bold: bool) -> str:
    fits = 1
    for end in range(1, len(text) + 1):
        if width_mm(text[:end], size_mm, bold=bold) > room_mm:
            break
        fits = end
    space = text.rfind(" ", 0, fits + 1)
    return text[:space] if space > fits // 3 else text[:fits]


@cache
def _known() -> frozenset[int]:
    return frozenset(_face(False).unicodes) & frozenset(_face(True).unicodes)


@cache
def _face(bold: bool) -> uharfbuzz.Face:
    return uharfbuzz.Face(uharfbuzz.Blob((FONTS / FILES[bold]).read_bytes()))


@cache
def _font(bold: bool) -> uharfbuzz.Font:
    return uharfbuzz.Font(_face(bold))


@cache
def _advance_em(letter: str, bold: bool) -> float:
    font = _font(bold)
    glyph = font.get_nominal_glyph(ord(letter)) or 0
    return float(font.get_glyph_h_advance(glyph)) / float(_face(bold).upem)


def _width_em(text: str, bold: bool) -> float:
    if not needs_shaping(text):
        return sum(_advance_em(letter, bold) for letter in text)
    buffer = uharfbuzz.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    uharfbuzz.shape(_font(bold), buffer)
    advances = sum(p.x_advance for p in buffer.glyph_positions or ())
    return float(advances) / float(_face(bold).upem)
