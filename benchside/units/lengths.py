"""Lengths as people write them, and millimetres.

One inch is exactly 25.4 mm [@yard-pound-1959]. Inside, lengths are exact fractions made from the
decimal text or from the shortest decimal that names the float, so that what is formatted reads
back to the same step, and a tie is the tie a person sees.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor, isfinite
from typing import Literal, NamedTuple, get_args

from benchside.errors import BenchsideError, NotUnderstood, OutOfRange
from benchside.units.typed import DECIMAL, DENOMINATORS, FRACTION, decimal, plain, shown

Unit = Literal["mm", "in", "in/16", "in/64"]
UNITS: tuple[Unit, ...] = get_args(Unit)

MM_PER_INCH = Fraction(254, 10)  # [@yard-pound-1959]
LONGEST_MM = 10_000  # judgement: a guard against slips, far over any lathe bed

_STEPS: dict[Unit, Fraction] = {
    "mm": Fraction(1, 10),
    "in": MM_PER_INCH / 1000,
    "in/16": MM_PER_INCH / 16,
    "in/64": MM_PER_INCH / 64,
}
_FINE_MM = Fraction(1, 100)
_FINE_INCH = MM_PER_INCH / 1000

_SIGNS = {"mm": Fraction(1), "cm": Fraction(10), "m": Fraction(1000), "in": MM_PER_INCH}
_SIGN = re.compile(
    r"\s*(?:(?P<mm>mm|millimet(?:er|re)s?)|(?P<cm>cm|centimet(?:er|re)s?)"
    r"|(?P<m>m|met(?:er|re)s?)|(?P<in>inch(?:es)?|in|\"))\.?$"
)
_TWO_NUMBERS = re.compile(r"[0-9]\s*(?:\s|[-x*+;:]|to|and)\s*[.,]?[0-9]")
_FEET = re.compile(
    r"(?P<feet>[0-9]+(?:[.,][0-9]+)?) ?(?:'|ft\b\.?|feet\b|foot\b)(?: ?-? ?(?P<inches>[^ ].*))?"
)
INCHES_PER_FOOT = 12  # [@yard-pound-1959]


class FractionParts(NamedTuple):
    """The parts of 1 5/8 in: whole 1, numerator 5, denominator 8. No fraction: 0 and 1."""

    negative: bool
    whole: int
    numerator: int
    denominator: int


def parse_length(text: str, unit: Unit, *, field: str = "value") -> float:
    """The length that a person typed. [mm]

    Takes 15.9, 15,9 mm, .5, 0.625in, 5/8, 1 1/4, 1-1/4", ⅝, 2,5 cm, 2 ft 3 in; ``unit`` is used
    where none is written. Zero is a length: the datum end stands there.

    Raises `NotUnderstood` for what says no one plain thing and `OutOfRange` for a negative length
    or one over 10 m, both with a hint that shows what would be right, and both naming ``field``.

    >>> parse_length('1-1/4"', "mm")
    31.75
    >>> parse_length("15,9", "mm")
    15.9
    """
    _check_unit(unit)
    try:
        return _length_mm(text, unit)
    except BenchsideError as error:
        error.field = field
        raise


def format_length(mm: float, unit: Unit, *, fine: bool = False) -> str:
    """The length as a bare number in ``unit``, rounded to the step of `step_mm`. [mm in]

    Fractions are in lowest terms with an ASCII slash. Rounds half away from zero, once, from the
    shortest decimal that names the float [@iso-80000-1, Annex B, rule B].

    Raises `OutOfRange` for NaN and infinities.

    >>> format_length(15.875, "in/16"), format_length(31.75, "in/64"), format_length(12.25, "mm")
    ('5/8', '1 1/4', '12.3')
    """
    parts = None if fine else fraction_parts(mm, unit)
    if parts is None:
        places = 3 if unit != "mm" else 2 if fine else 1
        return f"{Decimal(_steps(mm, _step(unit, fine))).scaleb(-places):f}"
    sign = "-" if parts.negative else ""
    whole = str(parts.whole) if parts.whole or not parts.numerator else ""
    part = f"{parts.numerator}/{parts.denominator}" if parts.numerator else ""
    return sign + f"{whole} {part}".strip()


def fraction_parts(mm: float, unit: Unit) -> FractionParts | None:
    """The parts of the length as an inch fraction to the nearest step; None in decimal units.

    Raises `OutOfRange` for NaN and infinities.

    >>> fraction_parts(31.75, "in/16")
    FractionParts(negative=False, whole=1, numerator=1, denominator=4)
    """
    _check_unit(unit)
    if unit not in ("in/16", "in/64"):
        return None
    steps = _steps(mm, _STEPS[unit])
    whole, rest = divmod(abs(steps), int(unit[3:]))
    part = Fraction(rest, int(unit[3:]))
    return FractionParts(steps < 0, whole, part.numerator, part.denominator)


def as_fraction_text(number: str) -> str:
    """A formatted length with the fraction slash (U+2044), for screens that set fractions.

    >>> as_fraction_text("1 5/8")
    '1 5⁄8'
    """
    return number.replace("/", "⁄")


def step_mm(unit: Unit, *, fine: bool = False) -> float:
    """The step that ``unit`` is shown in: 0.1 mm, 0.001 in, 1/16 in or 1/64 in. [mm]

    ``fine``, for tenons, is 0.01 mm or 0.001 in.
    """
    return float(_step(unit, fine))


def unit_sign(unit: Unit) -> Literal["mm", "in"]:
    """What stands after a figure in this unit.

    >>> unit_sign("in/64")
    'in'
    """
    _check_unit(unit)
    return "mm" if unit == "mm" else "in"


def in_other_unit(mm: float, unit: Unit, *, fine: bool = False) -> str:
    """The length in the other system, with its sign: the small line under a figure. [mm in]

    A millimetre set shows the nearest 1/64 in, an inch set 0.1 mm; ``fine`` shows 0.001 in and
    0.01 mm. Raises `OutOfRange` for NaN and infinities.

    >>> in_other_unit(15.9, "mm"), in_other_unit(15.875, "in/16", fine=True)
    ('5⁄8 in', '15.88 mm')
    """
    _check_unit(unit)
    other: Unit = "in/64" if unit == "mm" else "mm"
    return f"{as_fraction_text(format_length(mm, other, fine=fine))} {unit_sign(other)}"


def length_told(mm: float, unit: Unit | None = None) -> str:
    """The length with its sign, for a sentence; in both systems where no unit is known. [mm in]

    An inch and more is told to the nearest 64th, less to a thousandth.

    >>> length_told(50.0, "mm"), length_told(50.8, "in/16"), length_told(0.2), length_told(0, "in")
    ('50 mm', '2 in', '0.2 mm (0.008 in)', '0 in')
    """
    if not isfinite(mm):
        return f"{mm:g}"
    if mm == 0 and unit is not None:
        return f"0 {unit_sign(unit)}"
    if unit is None:
        return f"{length_told(mm, 'mm')} ({length_told(mm, 'in/64')})"
    if unit == "mm":
        return f"{round(mm, 2) + 0.0:.2f}".rstrip("0").rstrip(".") + " mm"
    coarse: Unit = "in" if unit == "in" or abs(mm) < MM_PER_INCH else "in/64"
    return f"{as_fraction_text(format_length(mm, coarse))} in"


def most_told(mm: float, unit: Unit | None = None) -> str:
    """A greatest length as `length_told`, rounded down: what is told is itself taken. [mm in]

    >>> most_told(1000.0), most_told(10.0, "in")
    ('1000 mm (39 23⁄64 in)', '0.393 in')
    """
    return _limit_told(mm, unit, floor)


def least_told(mm: float, unit: Unit | None = None) -> str:
    """A least length as `length_told`, rounded up. [mm in]"""
    return _limit_told(mm, unit, ceil)


def _limit_told(mm: float, unit: Unit | None, inward: Callable[[float], int]) -> str:
    if unit is None:
        return f"{_limit_told(mm, 'mm', inward)} ({_limit_told(mm, 'in/64', inward)})"
    fine = unit == "in" or mm < MM_PER_INCH
    step_mm = 0.01 if unit == "mm" else float(MM_PER_INCH) / (1000 if fine else 64)
    steps = round(mm / step_mm, 6)  # a limit on a step stays there
    return length_told(inward(steps) * step_mm, unit)


def difference_mm(a_mm: float, b_mm: float) -> float:
    """``a_mm - b_mm`` as decimals are subtracted on paper: 15.95 - 15.9 is 0.05. [mm]

    Binary subtraction leaves 0.0499…, which then rounds the wrong way.
    """
    return float(Decimal(repr(float(a_mm))) - Decimal(repr(float(b_mm))))


def _check_unit(unit: str) -> None:
    if unit not in UNITS:
        raise NotUnderstood(
            f"{shown(str(unit))} is not one of the units.",
            field="unit",
            hint=f"Choose {', '.join(UNITS[:-1])} or {UNITS[-1]}.",
        )


def _step(unit: Unit, fine: bool) -> Fraction:
    _check_unit(unit)
    if not fine:
        return _STEPS[unit]
    return _FINE_MM if unit == "mm" else _FINE_INCH


def _steps(mm: float, step: Fraction) -> int:
    """How many whole steps are nearest to a length; halves go away from zero."""
    number = float(mm)
    if not isfinite(number):
        raise OutOfRange(f"{number} is not a length.", field="value")
    exact = Fraction(Decimal(repr(number))) / step
    nearest = (2 * abs(exact.numerator) + exact.denominator) // (2 * exact.denominator)
    return nearest if exact >= 0 else -nearest


def _length_mm(text: str, unit: Unit) -> float:
    said = plain(text)
    if not said:
        raise NotUnderstood("Nothing was typed.", hint=_example(unit))
    feet = _FEET.fullmatch(said)
    sign = None if feet else _SIGN.search(said)
    number = said[: sign.start()] if sign else said
    written = sign.lastgroup if sign else None
    if number.startswith("-") and any(c.isdigit() for c in number):
        raise OutOfRange(
            "A length cannot be negative.", hint="Lengths count from 0 up: leave out the minus."
        )
    if feet:
        length = _feet(feet, text) * INCHES_PER_FOOT * MM_PER_INCH
    elif DECIMAL.fullmatch(number):
        length = decimal(number) * _SIGNS[written or unit_sign(unit)]
    elif parts := FRACTION.fullmatch(number):
        length = _inches(parts, text, unit, written) * MM_PER_INCH
    else:
        raise _not_understood(text, number, unit)
    if length > LONGEST_MM:
        raise OutOfRange(
            f"{shown(text)} is more than 10 m.", hint=f"Is the unit right? {_example(unit)}"
        )
    return float(length)


def _feet(found: re.Match[str], text: str) -> Fraction:
    """The value of 7 ft, 7.5 ft, or whole feet and inches: 7 ft 3 1/2 in, 7' 3"."""
    feet, rest = decimal(found["feet"]), found["inches"]
    if rest is None:
        return feet
    sign = _SIGN.search(rest)
    number = rest[: sign.start()] if sign else rest
    inches = Fraction(INCHES_PER_FOOT)
    if DECIMAL.fullmatch(number):
        inches = decimal(number)
    elif parts := FRACTION.fullmatch(number):
        inches = _inches(parts, text, "in", "in")
    if inches >= INCHES_PER_FOOT or feet.denominator > 1 or (sign and sign.lastgroup != "in"):
        raise NotUnderstood(
            f"{shown(text)} is not a length in feet and inches.",
            hint="Type 2 ft 3 in, or 27 in.",
        )
    return feet + inches / INCHES_PER_FOOT


def _inches(parts: re.Match[str], text: str, unit: Unit, written: str | None) -> Fraction:
    """The value of 5/8 or 1 1/4, which are inches or nothing."""
    whole, top, bottom = (int(part or 0) for part in parts.group("whole", "top", "bottom"))
    if bottom == 0:
        raise NotUnderstood(f"{shown(text)} has nothing under the slash.", hint=_example("in/64"))
    value = whole + Fraction(top, bottom)
    if bottom not in DENOMINATORS:
        raise NotUnderstood(
            f"{shown(text)} is no fraction of an inch rule, which has halves to sixty-fourths.",
            hint=f"Type a decimal: {format_length(float(value * MM_PER_INCH), 'in')} in.",
        )
    if top >= bottom:
        raise NotUnderstood(
            f"{shown(text)} is more than a whole written as a fraction.",
            hint=_ways(whole, top, bottom),
        )
    if written in ("mm", "cm", "m") or (written is None and unit == "mm"):
        inches = str(parts.group()).replace("-", " ")
        mm = format_length(float(value * MM_PER_INCH), "mm")
        question = f"Is {inches} inches?" if written is None else f"{written} has no fractions."
        raise NotUnderstood(question, hint=f"Type {inches} in ({mm} mm).")
    return value


def _ways(whole: int, top: int, bottom: int) -> str:
    """What 11/4 can have been meant for: 2 3/4, or 1 1/4 with its space lost."""
    full = whole + Fraction(top, bottom)
    digits = str(top)
    ways = [format_length(float(full * MM_PER_INCH), "in/64")]
    for cut in range(1, len(digits)):
        first, rest = int(digits[:cut]), int(digits[cut:])
        if not whole and 0 < rest < bottom and digits[cut] != "0":
            ways.append(f"{first} {rest}/{bottom}")
    return f"Type {' or '.join(ways[:2])}."


def _not_understood(text: str, number: str, unit: Unit) -> NotUnderstood:
    if not number.strip():
        return NotUnderstood(f"There is no figure in {shown(text)}.", hint=_example(unit))
    if re.fullmatch(r"[0-9]{1,3}(?:[ ,.][0-9]{3})+(?:[.,][0-9]+)?", number):
        return NotUnderstood(
            f"{shown(text)} can be read in two ways.",
            hint="Type thousands without a space or comma: 1250 or 1250.5.",
        )
    if _TWO_NUMBERS.search(number):
        return NotUnderstood(
            f"{shown(text)} looks like two figures.", hint=f"Type one length. {_example(unit)}"
        )
    return NotUnderstood(f"{shown(text)} is not a length.", hint=_example(unit))


def _example(unit: Unit) -> str:
    if unit == "mm":
        return "Type a figure such as 15.9, or 5/8 in."
    return "Type a figure such as 5/8, 1 1/4 or 0.625."
