from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchside.errors import BenchsideError, NotUnderstood, OutOfRange
from benchside.units import (
    UNITS,
    as_fraction_text,
    difference_mm,
    format_length,
    format_temperature,
    fraction_parts,
    in_other_unit,
    least_told,
    length_told,
    mass_step_g,
    most_told,
    parse_figure,
    parse_length,
    parse_mass,
    parse_speeds,
    parse_temperature,
    step_mm,
    unit_sign,
)

units = st.sampled_from(UNITS)
lengths_mm = st.floats(0, 9_999)


@pytest.mark.parametrize(
    ("typed", "unit", "mm"),
    [
        ("15.9", "mm", 15.9),
        ("15,9", "mm", 15.9),
        ("15,9 mm", "in", 15.9),
        (".5", "mm", 0.5),
        (",5", "mm", 0.5),
        ("16.", "mm", 16.0),
        ("0", "mm", 0.0),
        ("0", "in/64", 0.0),
        ("0,625", "in", 15.875),
        ("0.625in", "mm", 15.875),
        ("5/8", "in", 15.875),
        ("5/8", "in/16", 15.875),
        ("5 / 8", "in/64", 15.875),
        ("1 1/4", "in/64", 31.75),
        ("1-1/4", "in/64", 31.75),
        ('1-1/4"', "mm", 31.75),
        ("1‑1/4″", "mm", 31.75),
        ("⅝", "in/64", 15.875),
        ("1⅝", "in/64", 41.275),
        ("1 ⅝", "in/64", 41.275),
        ("5⁄8", "in/64", 15.875),
        ("1⁵⁄₈", "in/64", 41.275),
        ("5/8″", "mm", 15.875),
        ("5/8”", "mm", 15.875),
        ("5/8''", "mm", 15.875),
        ("5/8′′", "mm", 15.875),
        ("5/8 inches", "mm", 15.875),
        ("1 inch", "mm", 25.4),
        ("1 IN.", "mm", 25.4),
        ("2,5 cm", "in", 25.0),
        ("0.4 m", "in", 400.0),
        ("400 millimetres", "in", 400.0),
        ("15.9\u202fmm", "in", 15.9),
        ("15.9\u00a0mm", "in", 15.9),
        ("  15.9  ", "mm", 15.9),
        ("１５．９ｍｍ", "in", 15.9),
        ("15.9㎜", "in", 15.9),
        ("\u200f15.9\u200e", "mm", 15.9),
        ("10 m", "mm", 10_000.0),
        ("2 ft 3 in", "in", 685.8),
        ("2' 3\"", "mm", 685.8),
        ("2’ 3″", "mm", 685.8),
        ("2'3", "in/16", 685.8),
        ("2' 3''", "in", 685.8),
        ("2ft. 3in.", "in", 685.8),
        ("2'-3\"", "in", 685.8),
        ("2 feet 3 inches", "in", 685.8),
        ("2’", "mm", 609.6),
        ("7 ft", "in/64", 2133.6),
        ("1 foot", "mm", 304.8),
        ("2.5 ft", "in", 762.0),
        ("7 ft 3 1/2 in", "in/16", 2222.5),
        ("7' 1/2\"", "in/16", 2146.3),
    ],
)
def test_lengths_are_taken_as_makers_write_them(typed, unit, mm):
    assert parse_length(typed, unit) == mm


@pytest.mark.parametrize(
    ("typed", "unit", "says", "shows"),
    [
        ("1,250", "mm", "two ways", "1.250 or 1250"),
        ("12,500 mm", "in", "two ways", "12.500 or 12500"),
        ("1,250.5", "mm", "two ways", "1250.5"),
        ("1 250", "mm", "two ways", "1250"),
        ("11/4", "in/64", "more than a whole", "2 3/4 or 1 1/4"),
        ("11/4 in", "mm", "more than a whole", "2 3/4 or 1 1/4"),
        ("9/8", "in/64", "more than a whole", "1 1/8"),
        ("1 9/8", "in/64", "more than a whole", "2 1/8"),
        ("8/8", "in/64", "more than a whole", "Type 1."),
        ("1/3", "in/64", "sixty-fourths", "0.333 in"),
        ("113/128", "in/64", "sixty-fourths", "0.883 in"),
        ("6/10", "in", "sixty-fourths", "0.600 in"),
        ("5/0", "in/64", "nothing under the slash", "5/8"),
        ("5/8", "mm", "Is 5/8 inches?", "5/8 in (15.9 mm)"),
        ("⅝", "mm", "Is 5/8 inches?", "5/8 in (15.9 mm)"),
        ("1-1/4", "mm", "Is 1 1/4 inches?", "1 1/4 in (31.8 mm)"),
        ("5/8 mm", "in", "mm has no fractions", "5/8 in (15.9 mm)"),
        ("2 ft 13 in", "in", "feet", "27 in"),
        ("2 ft 12", "in", "feet", "27 in"),
        ("2.5 ft 3 in", "in", "feet", "27 in"),
        ("2 ft 3 mm", "in", "feet", "27 in"),
        ("2' 3'", "in", "feet", "27 in"),
        ("2 ft x 3", "in", "feet", "27 in"),
        ("2 ft 9/8", "in", "more than a whole", "1 1/8"),
        ("1,250 ft", "in", "two ways", "1.250 or 1250"),
        ("5 8", "in/64", "two figures", "5/8"),
        ("15-16", "mm", "two figures", "15.9"),
        ("1 - 1/4", "in", "two figures", "1 1/4"),
        ("1 1/4 1/8", "in", "two figures", "1 1/4"),
        ("", "mm", "Nothing was typed", "15.9"),
        (" \t\n", "in/64", "Nothing was typed", "5/8"),
        ("mm", "mm", "no figure", "15.9"),
        ("nan", "mm", "not a length", "15.9"),
        ("inf", "mm", "not a length", "15.9"),
        ("1e9", "mm", "not a length", "15.9"),
        ("0x10", "mm", "two figures", "15.9"),
        ("5²", "mm", "not a length", "15.9"),
        ("1①", "mm", "not a length", "15.9"),
        ("🙂", "mm", "not a length", "15.9"),
        ("15.9 kg", "mm", "not a length", "15.9"),
        ("<script>", "mm", "not a length", "15.9"),
    ],
)
def test_what_says_no_one_plain_thing_is_refused_and_shown_how(typed, unit, says, shows):
    with pytest.raises(NotUnderstood) as refused:
        parse_length(typed, unit)
    assert says in refused.value.message
    assert shows in refused.value.hint
    assert refused.value.field == "value"


@pytest.mark.parametrize("typed", ["-5", "−5 mm", "-1/4 in", "-0", "–3"])
def test_no_length_is_negative(typed):
    with pytest.raises(OutOfRange, match="negative"):
        parse_length(typed, "mm", field="at_mm")


@pytest.mark.parametrize("typed", ["10.001 m", "10000.1", "999999999 in", "9" * 40])
def test_nothing_is_longer_than_ten_metres(typed):
    with pytest.raises(OutOfRange, match="more than 10 m"):
        parse_length(typed, "mm")


def test_ten_thousand_characters_are_not_sent_back():
    with pytest.raises(NotUnderstood) as refused:
        parse_length("9" * 10_000, "mm")
    assert len(str(refused.value)) < 120


def test_an_error_names_the_field_it_was_typed_in():
    with pytest.raises(NotUnderstood) as refused:
        parse_length("thick", "mm", field="diameter_mm")
    assert refused.value.field == "diameter_mm"


def test_there_are_four_units_and_no_more():
    for act in (lambda: parse_length("1", "furlong"), lambda: format_length(1.0, "")):
        with pytest.raises(NotUnderstood, match="units") as refused:
            act()
        assert refused.value.field == "unit"


@given(st.text(max_size=60), units)
def test_whatever_is_typed_is_a_length_or_a_short_refusal(typed, unit):
    check_a_length_or_a_short_refusal(typed, unit)


@given(st.text(alphabet="0123456789/.,-' \"inm⅝½″", max_size=12), units)
def test_near_lengths_are_lengths_or_short_refusals(typed, unit):
    check_a_length_or_a_short_refusal(typed, unit)


def check_a_length_or_a_short_refusal(typed, unit):
    refused = None
    try:
        mm = parse_length(typed, unit)
    except BenchsideError as error:
        refused = error
    if refused:
        assert refused.hint
        assert len(str(refused)) < 200
    else:
        assert 0 <= mm <= 10_000


@given(lengths_mm, units, st.booleans())
def test_what_is_formatted_reads_back_within_half_a_step(mm, unit, fine):
    read = parse_length(format_length(mm, unit, fine=fine), unit)
    assert abs(read - mm) <= step_mm(unit, fine=fine) / 2 + 1e-11  # a float's own crumbs at 10 m


@given(lengths_mm, units, st.booleans())
def test_formatting_what_was_read_back_changes_nothing(mm, unit, fine):
    text = format_length(mm, unit, fine=fine)
    assert format_length(parse_length(text, unit), unit, fine=fine) == text


@given(lengths_mm, units)
def test_the_fraction_on_the_screen_can_be_typed_back(mm, unit):
    text = format_length(mm, unit)
    assert parse_length(as_fraction_text(text), unit) == parse_length(text, unit)


@given(lengths_mm, units)
def test_the_small_line_says_the_same_length_with_its_own_sign(mm, unit):
    other_step = step_mm("in/64" if unit == "mm" else "mm")
    assert abs(parse_length(in_other_unit(mm, unit), unit) - mm) <= other_step / 2 + 1e-11


@given(st.integers(0, 64 * 390))
def test_every_sixty_fourth_is_exact(steps):
    text = format_length(steps * 25.4 / 64, "in/64")
    assert parse_length(text, "in/64") == float(Fraction(steps) * Fraction(254, 640))


@given(lengths_mm, units, st.booleans())
def test_a_length_under_zero_is_written_like_its_opposite(mm, unit, fine):
    over, under = (format_length(x, unit, fine=fine) for x in (mm, -mm))
    assert under == (f"-{over}" if any(c in over for c in "123456789") else over)


@pytest.mark.parametrize(
    ("mm", "unit", "fine", "text"),
    [
        (0, "mm", False, "0.0"),
        (0, "in/64", False, "0"),
        (16, "mm", False, "16.0"),
        (15.875, "mm", True, "15.88"),
        (15.875, "in", False, "0.625"),
        (15.875, "in/16", False, "5/8"),
        (15.875, "in/16", True, "0.625"),
        (31.75, "in/64", False, "1 1/4"),
        (25.4, "in/64", False, "1"),
        (25.2, "in/64", False, "63/64"),
        (25.3, "in/64", False, "1"),
        (1234.5, "mm", False, "1234.5"),
    ],
)
def test_lengths_are_shown_in_the_makers_unit(mm, unit, fine, text):
    assert format_length(mm, unit, fine=fine) == text


@pytest.mark.parametrize("mm", [float("nan"), float("inf"), float("-inf")])
def test_no_screen_shows_a_length_that_is_no_number(mm):
    with pytest.raises(OutOfRange):
        format_length(mm, "mm")


def test_a_fraction_comes_in_parts():
    assert fraction_parts(-31.75, "in/64") == (True, 1, 1, 4)
    assert fraction_parts(25.4, "in/16") == (False, 1, 0, 1)
    assert fraction_parts(31.75, "in") is None


def test_steps_are_what_the_rule_and_the_caliper_show():
    assert [step_mm(unit) for unit in UNITS] == [0.1, 0.0254, 1.5875, 0.396875]
    assert [step_mm(unit, fine=True) for unit in UNITS] == [0.01, 0.0254, 0.0254, 0.0254]
    assert [unit_sign(unit) for unit in UNITS] == ["mm", "in", "in", "in"]


def test_a_difference_is_that_of_the_decimals_a_person_sees():
    assert difference_mm(15.95, 15.9) == 0.05
    assert format_length(difference_mm(15.95, 15.9), "mm") == "0.1"


def test_speeds_are_whole_turns_parted_by_anything_plain():
    assert parse_speeds("") == ()
    assert parse_speeds(" 1100 rpm, 500; 750\n500 ") == (500.0, 750.0, 1100.0)
    assert parse_figure(" 12,5 ") == parse_figure("12.5") == 12.5


@pytest.mark.parametrize("typed", ["fast", "7.5", "-500", "5e2", "1234567", "½", "9" * 500])
def test_what_is_no_speed_is_given_back_with_its_field(typed):
    with pytest.raises(NotUnderstood) as refused:
        parse_speeds(typed, field="steps")
    assert refused.value.field == "steps"


@pytest.mark.parametrize("typed", ["", "  ", "12 N", "1/2", "-3", "1,200", "NaN", "9" * 500])
def test_what_is_no_bare_figure_is_given_back_with_its_field(typed):
    with pytest.raises(NotUnderstood) as refused:
        parse_figure(typed, field="force")
    assert refused.value.field == "force"


@pytest.mark.parametrize("text", ["-3", "−3", "- 3"])
def test_a_figure_less_than_nothing_is_said_so_but_where_it_can_be(text):
    with pytest.raises(NotUnderstood) as refused:
        parse_figure(text, field="moisture")
    assert refused.value.field == "moisture"
    assert "less than nothing" in refused.value.message
    assert parse_figure(text, signed=True) == -3.0


@pytest.mark.parametrize(
    ("typed", "celsius"),
    [
        *(("21", 21.0), ("20,5 °C", 20.5), ("-3", -3.0), ("−3 C", -3.0), ("40", 40.0)),
        # 32 °F is 0 °C and 212 °F is 100 °C, from memory; a Fahrenheit degree is 5/9 of the other.
        *(("32 F", 0.0), ("212°f", 100.0), ("68 °F", 20.0), ("98.6F", 37.0), ("-40 F", -40.0)),
        *(("49 C", 49.0), ("120 f", 48.89)),
    ],
)
def test_a_temperature_is_taken_in_either_scale(typed, celsius):
    assert parse_temperature(typed) == pytest.approx(celsius)


@pytest.mark.parametrize("typed", ["68", "70", "41", "120"])
def test_a_bare_temperature_too_warm_for_a_room_is_asked_about(typed):
    with pytest.raises(NotUnderstood, match="is that °F or °C") as refused:
        parse_temperature(typed, field="winter_c")
    assert refused.value.field == "winter_c"
    assert f"{typed} F" in refused.value.hint


@pytest.mark.parametrize("typed", ["", "warm", "20 K", "F", "°C", "20 F C", "1/2 F"])
def test_what_is_no_temperature_is_given_back_with_its_field(typed):
    with pytest.raises(NotUnderstood) as refused:
        parse_temperature(typed, field="winter_c")
    assert refused.value.field == "winter_c"


@given(st.integers(-400, 990).map(lambda tenths: tenths / 10), st.sampled_from(["mm", "in"]))
def test_a_temperature_shown_is_taken_back_as_it_was(celsius, unit):
    assert parse_temperature(format_temperature(celsius, unit)) == pytest.approx(celsius, abs=0.03)


@pytest.mark.parametrize(
    ("typed", "unit", "ounces", "step"),
    [
        ("8 1/2", "oz", 8.5, 1 / 2),
        ("8½ oz", "g", 8.5, 1 / 2),
        ("8-1/2", "oz", 8.5, 1 / 2),
        ("3/4", "oz", 0.75, 1 / 4),
        ("5.41", "oz", 5.41, 0.01),
    ],
)
def test_ounces_are_taken_as_scales_show_them(typed, unit, ounces, step):
    ounce_g = 28.349523125  # exactly: a pound is 453.59237 g [@yard-pound-1959]
    assert parse_mass(typed, unit) == pytest.approx(ounces * ounce_g)
    assert mass_step_g(typed, unit) == pytest.approx(step * ounce_g)


@pytest.mark.parametrize("typed", ["81/2", "8 1/3", "8 1/2 g", "8 1/2", "1/0", "8 1"])
def test_a_fraction_that_is_no_plain_weight_is_refused_at_its_field(typed):
    with pytest.raises(BenchsideError) as refused:
        parse_mass(typed, "g")
    assert refused.value.field == "mass"


@pytest.mark.parametrize("unit", ["mm", "in", "in/64", "in/16"])
@given(mm=st.floats(0.05, 9000))
def test_a_limit_told_is_itself_within_it(mm, unit):
    told = [parse_length(tell(mm, unit), unit) for tell in (least_told, most_told)]
    assert told[0] >= mm - 1e-6
    assert told[1] <= mm + 1e-6
    assert told[0] - told[1] <= 25.4 / 64 + 1e-6


def test_less_than_nothing_to_be_told_has_no_sign():
    assert length_told(-0.001, "mm") == "0 mm"
