"""Figures as people type them: what their characters mean, whatever the figure is of."""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from benchside.errors import BenchsideError, NotUnderstood

LONGEST_TEXT = 40  # judgement: no one length needs more characters
DENOMINATORS = (2, 4, 8, 16, 32, 64)  # the marks on an inch rule
DECIMAL = re.compile(r"[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+")
FRACTION = re.compile(r"(?:(?P<whole>[0-9]+)[ -])?(?P<top>[0-9]+) ?/ ?(?P<bottom>[0-9]+)")
WARMEST_BARE_C = 40.0  # judgement: no room is warmer, and in °F every room is
_DEGREES = re.compile(r"(?P<figure>[^°]*?) ?°? ?(?P<scale>[cCfF])")
_THOUSANDS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
_RPM = re.compile(r"\b(?:rpm|r/min|r\.p\.m\.|min-1)")
_RAISED_FRACTION = re.compile("([⁰¹²³⁴-⁹]+)[⁄/]([₀-₉]+)")
_ALIKE = str.maketrans(
    {
        **dict.fromkeys("′‘’ʹ", "'"),
        **dict.fromkeys("“”„ʺ", '"'),
        **dict.fromkeys("⁄∕", "/"),
        **dict.fromkeys("‐‑‒–−", "-"),
    }
)


def parse_figure(text: str, *, field: str = "value", signed: bool = False) -> float:
    """A bare figure, with a decimal point or comma; no unit. Less than nothing only if ``signed``.

    Raises `NotUnderstood` for what is no one figure, naming ``field``.

    >>> parse_figure("12,5"), parse_figure("−3", signed=True)
    (12.5, -3.0)
    """
    try:
        figure = plain(text)
        below = figure.startswith(("-", "−")) and DECIMAL.fullmatch(figure[1:].strip())
        if below and not signed:
            raise NotUnderstood(f"{shown(text)} is less than nothing.", hint="Without the minus.")
        if below:
            return -float(decimal(figure[1:].strip()))
        if DECIMAL.fullmatch(figure):
            return float(decimal(figure))
    except BenchsideError as error:
        error.field = field
        raise
    raise NotUnderstood(
        f"{shown(text)} is no figure." if figure else "Nothing was typed.",
        field=field,
        hint="Type a figure such as 12 or 0.5, without a unit.",
    )


def parse_temperature(text: str, *, field: str = "value") -> float:
    """The temperature that a person typed, rounded to a hundredth. [°C]

    Takes 21, 21 C, −3 °C, 68 F; °F are 32 + 1.8 °C. A bare figure is °C, but one too warm for a
    room may as well be °F: it is asked about. Raises `NotUnderstood`, naming ``field``.

    >>> parse_temperature("21"), parse_temperature("68 °F"), parse_temperature("120f")
    (21.0, 20.0, 48.89)
    """
    found = _DEGREES.fullmatch(text.strip())
    degrees = parse_figure(found["figure"] if found else text, field=field, signed=True)
    if found is None and degrees > WARMEST_BARE_C:
        raise NotUnderstood(
            f"{shown(text)}: is that °F or °C?",
            field=field,
            hint=f"Type {degrees:g} F, or {degrees:g} C.",
        )
    fahrenheit = found is not None and found["scale"] in "fF"
    return round((degrees - 32) / 1.8, 2) if fahrenheit else degrees


def format_temperature(celsius: float, unit: Literal["mm", "in"]) -> str:
    """A temperature with its sign, in °F for those who measure in inches.

    >>> format_temperature(20.0, "mm"), format_temperature(20.0, "in")
    ('20 °C', '68 °F')
    """
    return f"{celsius:.4g} °C" if unit == "mm" else f"{celsius * 1.8 + 32:.4g} °F"


def parse_speeds(text: str, *, field: str = "value") -> tuple[float, ...]:
    """The speeds that a person typed one after another, slowest first, none twice. [r/min]

    Speeds are whole numbers parted by spaces, commas or the like; an empty text has none.
    Raises `NotUnderstood` for anything else, naming ``field``.

    >>> parse_speeds("1000, 500; 750 rpm")
    (500.0, 750.0, 1000.0)
    """
    if len(text) > 10 * LONGEST_TEXT:
        raise NotUnderstood("That is too long.", field=field, hint="Type 500, 750, 1100.")
    words = [word for word in re.split(r"[\s,;]+", _RPM.sub(" ", text.lower())) if word]
    for word in words:
        if not (word.isascii() and word.isdecimal() and len(word) < 7):
            raise NotUnderstood(
                f"{shown(word)} is no speed.",
                field=field,
                hint="Type whole turns a minute one after another: 500, 750, 1100.",
            )
    return tuple(sorted({float(word) for word in words}))


def plain(text: str) -> str:
    """The text in lower-case ASCII as far as its characters have one plain meaning.

    Raises `NotUnderstood` for one that is too long.
    """
    if len(text) > 10 * LONGEST_TEXT or len(text := text.strip()) > LONGEST_TEXT:
        raise NotUnderstood(
            f"{shown(text)} is too long for one length.", hint="Type one figure, such as 15.9 mm."
        )
    if not text.isascii():
        # Before NFKC, which would join 1⅝ to 15/8.
        text = _RAISED_FRACTION.sub(
            lambda m: unicodedata.normalize("NFKC", f" {m[1]}/{m[2]} "), text
        )
        text = "".join(map(_spaced_fraction, text))
        text = unicodedata.normalize("NFKC", text).translate(_ALIKE)
    return " ".join(text.replace("''", '"').lower().split())


def _spaced_fraction(character: str) -> str:
    """⅝ with a space before it; direction marks fall away; other number signs stay no digits."""
    category = unicodedata.category(character)
    if category == "Cf":
        return ""
    if category != "No":
        return character
    is_fraction = unicodedata.decomposition(character).startswith("<fraction>")
    return f" {character}" if is_fraction else "\N{REPLACEMENT CHARACTER}"


def decimal(number: str) -> Fraction:
    """The exact value of a decimal, with a point or a comma.

    Raises `NotUnderstood` for 1,250, which can be read in two ways.
    """
    if _THOUSANDS.fullmatch(number):
        raise NotUnderstood(
            f"{number} can be read in two ways.",
            hint=f"Type {number.replace(',', '.')} or {number.replace(',', '')}, without a comma.",
        )
    return Fraction(Decimal(number.replace(",", ".")))


def shown(text: str) -> str:
    """The typed text in quotation marks, cut to what fits a line."""
    cut = " ".join(text[:60].split())
    return f"“{cut[:24]}…”" if len(cut) > 24 or len(text) > 60 else f"“{cut}”"
