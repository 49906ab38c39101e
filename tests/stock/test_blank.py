"""The blank a set needs, and slope of grain in words."""

from __future__ import annotations

import pytest

from benchside.errors import OutOfRange
from benchside.stock.blank import ALLOWANCES, propose, wanted
from benchside.stock.grain import steep, strength_left
from benchside.stock.shapes import Blank


def test_a_blank_is_the_sum_of_its_parts_rounded_up():
    found = propose(520.0, 27.0, "dry")
    assert found.blank == Blank(536.0, 30.5)  # 520 + 9.5 + 6 = 535.5; 27 + 3.2 = 30.2
    split = propose(520.0, 27.0, "split")
    assert split.blank == Blank(612.0, 32.0)  # two ends of 38 more; 27 + 4.8 = 31.8
    assert propose(520.0, 27.0, "sawn_green").blank == Blank(612.0, 30.5)
    assert propose(520.0, 30.0, "sawn_rough", left_mm=3.0).over_mm == pytest.approx(3.4)


def test_what_the_maker_says_goes_before_the_route():
    found = propose(500.0, 20.0, "split", drive_mm=0.0, tail_mm=0.0, ends_mm=0.0, over_mm=1.0)
    assert found.blank == Blank(500.0, 21.0)


def test_every_route_begins_between_its_own_ends():
    for allowance in ALLOWANCES.values():
        assert allowance.least_mm <= allowance.begin_mm <= allowance.most_mm


def test_more_wood_than_the_list_but_never_fewer_than_planned():
    assert wanted(9, 2, 30) == 12
    assert wanted(9, 2, 50) == 14
    assert wanted(10, 2, 30) == 13
    assert wanted(9, 5, 30) == 14
    assert wanted(9, 2, 0) == 11


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"over_mm": -1.0}, "over_mm"),
        ({"ends_mm": float("nan")}, "ends_mm"),
        ({"drive_mm": 500.0}, "drive_mm"),
    ],
)
def test_a_part_that_cannot_be_is_refused(changes, field):
    with pytest.raises(OutOfRange) as caught:
        propose(500.0, 20.0, **changes)
    assert caught.value.field == field


def test_grain_is_steep_from_one_in_fifteen():
    assert steep(1 / 14)
    assert not steep(-1 / 15)


def test_steeper_grain_never_leaves_more_strength():
    slopes = [i / 200 for i in range(41)]
    left = [strength_left(s) for s in slopes]
    for name in ("bending", "impact", "compression"):
        values = [getattr(one, name) for one in left]
        assert values == sorted(values, reverse=True)
        assert values[0] == 1
    with pytest.raises(OutOfRange):
        strength_left(0.21)
