"""Lengths against published definitions and printed conversions."""

from decimal import Decimal
from fractions import Fraction

import pytest

from benchside.units import MM_PER_INCH, format_length, parse_length

HALF = Decimal("0.5")


def test_an_inch_is_exactly_25_4_mm():
    # [@yard-pound-1959]: 1 yd = 0.9144 m exactly.
    assert Fraction(9144, 10) == MM_PER_INCH * 36
    assert parse_length("1 in", "mm") == 25.4
    assert parse_length("36 in", "mm") == 914.4


@pytest.mark.parametrize(
    ("inches", "mm"),
    # From the 1959 definition; finite decimals, so the equality is exact. The decimal column is
    # arithmetic, as in any drill or tap table.
    [
        ("1/64", "0.396875"),
        ("1/32", "0.79375"),
        ("1/16", "1.5875"),
        ("3/8", "9.525"),
        ("7/16", "11.1125"),
        ("5/8", "15.875"),
        ("7/8", "22.225"),
        ("1 1/8", "28.575"),
        ("2 5/8", "66.675"),
    ],
)
def test_fractions_of_the_inch_rule_are_exact(inches, mm):
    assert parse_length(inches, "in/64") == float(mm)
    assert format_length(float(mm), "in/64") == inches


@pytest.mark.parametrize(
    ("inches", "mm"),
    # [@milton-wohlers-1919] and the trade write these inch sizes; the
    # millimetres are ours from 25.4, rounded to the 0.1 mm a screen shows.
    [("3/16", "4.8"), ("1/8", "3.2"), ("1/16", "1.6"), ("1/32", "0.8"), ("3/4", "19.1")],
)
def test_the_small_sizes_of_the_trade_in_tenths_of_a_millimetre(inches, mm):
    assert format_length(parse_length(inches, "in/64"), "mm") == mm


@pytest.mark.parametrize(
    ("value", "rounded"),
    # [@iso-80000-1, Annex B], rule B (the greater of two equally near multiples), from memory.
    # The first three are its examples without a tie, to a rounding range of 0.1.
    [
        ("12.223", "12.2"),
        ("12.251", "12.3"),
        ("12.275", "12.3"),
        ("12.25", "12.3"),
        ("12.35", "12.4"),
        ("60.25132", "60.3"),
    ],
)
def test_ties_round_as_rule_b_of_iso_80000_1(value, rounded):
    assert format_length(float(value), "mm") == rounded
    assert format_length(-float(value), "mm") == f"-{rounded}"  # ours: away from zero both ways


@pytest.mark.parametrize(
    ("value", "rounded"),
    # The same rule to 0.01: 1.655 and 123.455 are ties as written, though their floats are not.
    [("1.655", "1.66"), ("123.455", "123.46"), ("60.25132", "60.25"), ("0.005", "0.01")],
)
def test_ties_of_tenons_round_as_written_not_as_stored(value, rounded):
    assert format_length(float(value), "mm", fine=True) == rounded


def test_rounding_is_done_once():
    # [@iso-80000-1, Annex B]: rounding in stages is an error, 12.251 -> 12.25 -> 12.2 (memory).
    assert format_length(12.2499999, "mm") == "12.2"
    assert format_length(12.2500001, "mm") == "12.3"


def test_half_a_sixty_fourth_goes_up():
    # Rule B on the 1/64 in grid: an odd number of 128ths is a tie.
    for sixty_fourths in range(400):
        tie_mm, up_mm = (Decimal("0.396875") * (sixty_fourths + share) for share in (HALF, 1))
        assert parse_length(format_length(float(tie_mm), "in/64"), "in/64") == float(up_mm)
