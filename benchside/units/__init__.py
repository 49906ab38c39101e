"""What people write and what is reckoned with: mm, g, °C, bare figures."""

from benchside.units.lengths import (
    INCHES_PER_FOOT,
    MM_PER_INCH,
    UNITS,
    FractionParts,
    Unit,
    as_fraction_text,
    difference_mm,
    format_length,
    fraction_parts,
    in_other_unit,
    least_told,
    length_told,
    most_told,
    parse_length,
    step_mm,
    unit_sign,
)
from benchside.units.masses import GRAMS, mass_step_g, parse_mass
from benchside.units.typed import (
    format_temperature,
    parse_figure,
    parse_speeds,
    parse_temperature,
)

__all__ = [
    "GRAMS",
    "INCHES_PER_FOOT",
    "MM_PER_INCH",
    "UNITS",
    "FractionParts",
    "Unit",
    "as_fraction_text",
    "difference_mm",
    "format_length",
    "format_temperature",
    "fraction_parts",
    "in_other_unit",
    "least_told",
    "length_told",
    "mass_step_g",
    "most_told",
    "parse_figure",
    "parse_length",
    "parse_mass",
    "parse_speeds",
    "parse_temperature",
    "step_mm",
    "unit_sign",
]
