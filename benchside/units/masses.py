"""Weights as people write them, and grams."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Literal

from benchside.errors import BenchsideError, NotUnderstood, OutOfRange
from benchside.units.typed import DENOMINATORS, decimal, plain, shown

GRAMS = {
    "g": Fraction(1),
    "kg": Fraction(1000),
    "oz": Fraction(45359237, 1_600_000),
}  # [@yard-pound-1959]
HEAVIEST_G = 50_000  # judgement: a guard against slips
_MASS = re.compile(
    r"(?:(?P<number>[0-9]{1,9}(?:[.,][0-9]{0,6})?|[.,][0-9]{1,6})"
    r"|(?:(?P<whole>[0-9]{1,4})[ -])?(?P<top>[0-9]{1,3}) ?/ ?(?P<bottom>[0-9]{1,2})"
    r") ?(?P<sign>g|oz|kg)?"
)


def parse_mass(text: str, unit: Literal["g", "oz"], *, field: str = "mass") -> float:
    """The weight that a person typed. [g]

    Takes 153, 153,4 g, 5.41 oz, 8 1/2 oz, 0.2 kg; ``unit`` is used where none is written. An
    ounce is exactly 28.349523125 g [@yard-pound-1959].

    Raises `NotUnderstood` and `OutOfRange`, both naming ``field``.

    >>> parse_mass("153,4", "g"), round(parse_mass("5.41", "oz"), 2)
    (153.4, 153.37)
    >>> round(parse_mass("8 1/2", "oz"), 2)
    240.97
    """
    try:
        grams = _mass_g(text, unit)[0]
    except BenchsideError as error:
        error.field = field
        raise
    if not 0 < grams < HEAVIEST_G:
        raise OutOfRange(
            "A weight is more than nothing, and no more than a person lifts.",
            field=field,
            hint="In grams or ounces, as the scales say.",
        )
    return grams


def mass_step_g(text: str, unit: Literal["g", "oz"]) -> float:
    """What the scales round to, by the figures of a weight as it was typed. [g]

    Raises as `parse_mass`.

    >>> mass_step_g("153.40", "g"), round(mass_step_g("8 1/2", "oz"), 2)
    (0.01, 14.17)
    """
    return _mass_g(text, unit)[1]


def _mass_g(text: str, unit: Literal["g", "oz"]) -> tuple[float, float]:
    """A weight as typed, and the step of its last figure. [g]"""
    found = _MASS.fullmatch(plain(text))
    if found is None:
        raise NotUnderstood(
            f"{shown(text)} is no weight." if text.strip() else "No weight is given.",
            hint="Type 153.4, say." if unit == "g" else "Type 5.41 or 8 1/2, say.",
        )
    sign = found["sign"] or unit
    if found["bottom"] is None:
        places = len(found["number"].replace(",", ".").partition(".")[2])
        count, step = decimal(found["number"]), Fraction(1, 10**places)
    else:
        count, step = _ounces(found, text, sign), Fraction(1, int(found["bottom"]))
    return float(count * GRAMS[sign]), float(step * GRAMS[sign])


def _ounces(parts: re.Match[str], text: str, sign: str) -> Fraction:
    """The value of 1/2 or 8 1/2, which are ounces or nothing."""
    whole, top, bottom = (int(part or 0) for part in parts.group("whole", "top", "bottom"))
    if bottom not in DENOMINATORS or top >= bottom:
        raise NotUnderstood(
            f"{shown(text)} is no weight as scales show it.",
            hint="Type 8 1/2 with a space between, or a decimal.",
        )
    if sign != "oz":
        raise NotUnderstood(
            f"{shown(text)} looks like ounces.",
            hint="Write oz behind it, or choose oz; grams take a decimal.",
        )
    return whole + Fraction(top, bottom)
