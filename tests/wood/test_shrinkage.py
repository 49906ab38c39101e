"""Shrinkage: the laws that hold whatever the wood."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchside.errors import OutOfRange
from benchside.wood.shrinkage import (
    dimension_ratio,
    section_mm,
    size_now,
    size_to_turn_mm,
)

total = st.floats(0.0, 30.0)
moisture = st.floats(0.0, 250.0)
size = st.floats(3.0, 200.0)


@settings(max_examples=50)
@given(total, moisture, moisture, moisture)
def test_from_a_to_b_to_c_is_from_a_to_c(s, a, b, c):
    by_way_of_b = dimension_ratio(s, a, b) * dimension_ratio(s, b, c)
    assert by_way_of_b == pytest.approx(dimension_ratio(s, a, c), rel=1e-12)


@settings(max_examples=50)
@given(total, moisture, moisture, moisture)
def test_drier_is_never_larger(s, start, a, b):
    low, high = sorted((a, b))
    assert dimension_ratio(s, start, low) <= dimension_ratio(s, start, high)


@settings(max_examples=50)
@given(size, total, total, moisture, moisture)
def test_the_oval_of_drying_never_exceeds_the_round(diameter, radial, tangential, a, b):
    dry, wet = sorted((a, b))
    oval = section_mm(diameter, radial, tangential, wet, dry)
    assert max(oval) <= diameter * (1 + 1e-12)


@settings(max_examples=50)
@given(size, total, total, moisture, moisture, st.floats(0.0, 3.0))
def test_turned_to_that_size_the_narrow_way_dries_to_the_final_and_its_allowance(
    final, radial, tangential, a, b, more
):
    dry, wet = sorted((a, b))
    now = size_now(
        final,
        radial_percent=radial,
        tangential_percent=tangential,
        from_mc=wet,
        to_mc=dry,
        allowance_mm=more,
    )
    assert min(now.dried) == pytest.approx(final + more)
    assert now.turn_mm >= now.even_mm * (1 - 1e-12)
    assert now.habit_left_mm == pytest.approx(1.1 * final * now.ratio - final)
    assert now.habit_short == (now.habit_left_mm < more)
    assert now.left_mm == pytest.approx(more)
    under = replace(now, turn_mm=now.turn_mm - 0.5)  # what the form left no room for
    assert under.short_dry_mm == pytest.approx(0.5 * now.ratio)
    assert under.left_mm + under.short_dry_mm == pytest.approx(more)
    worst = max(radial, tangential)
    assert now.turn_mm == size_to_turn_mm(final, worst, wet, dry, allowance_mm=more)


def test_wood_above_saturation_keeps_its_size():
    assert dimension_ratio(8.0, 120.0, 31.0) == 1.0
    assert dimension_ratio(8.0, 25.0, 120.0, fiber_saturation=25.0) == 1.0


def test_going_damp_the_smaller_movement_decides():
    # Turned dry for a damper room: the part swells, and the way that swells least must be right.
    now = size_now(20.0, radial_percent=4.9, tangential_percent=7.8, from_mc=6.0, to_mc=12.0)
    assert now.worst_percent == 4.9
    assert now.turn_mm < 20.0
    assert min(now.dried) == pytest.approx(20.0)


def test_arrays_in_arrays_out():
    many = size_to_turn_mm([10.0, 20.0], 7.8, 45.0, np.array([[8.0], [12.0]]))
    assert many.shape == (2, 2)
    assert many[0, 1] == size_to_turn_mm(20.0, 7.8, 45.0, 8.0)
    assert isinstance(dimension_ratio(7.8, 45, 8), float)


@pytest.mark.parametrize(
    ("args", "field"),
    [
        ((-1.0, 45.0, 8.0), "total_percent"),
        ((31.0, 45.0, 8.0), "total_percent"),
        ((7.8, -1.0, 8.0), "from_mc"),
        ((7.8, 251.0, 8.0), "from_mc"),
        ((7.8, 45.0, float("nan")), "to_mc"),
        ((7.8, 45.0, 8.0, 5.0), "fiber_saturation"),
    ],
)
def test_figures_that_cannot_be_are_refused(args, field):
    with pytest.raises(OutOfRange) as refused:
        dimension_ratio(*args)
    assert refused.value.field == field


def test_sizes_that_cannot_be_are_refused():
    for final, more in ((-1.0, 0.0), (10.0, -0.1), (float("nan"), 0.0)):
        with pytest.raises(OutOfRange):
            size_to_turn_mm(final, 7.8, 45.0, 8.0, allowance_mm=more)
