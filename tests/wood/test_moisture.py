"""Moisture: laws and edges."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchside.errors import NotUnderstood, OutOfRange
from benchside.wood.moisture import emc_percent, moisture_percent, of_slices, ovendry_mass_g

celsius = st.floats(-1.2, 99.0)
humidity = st.floats(0.0, 99.0)


@settings(max_examples=50)
@given(celsius, humidity, humidity)
def test_damper_air_never_means_drier_wood(t, a, b):
    low, high = sorted((a, b))
    assert emc_percent(t, low) <= emc_percent(t, high)


def test_floats_in_a_float_out_and_arrays_in_an_array_of_the_same_values():
    one = emc_percent(20.0, 45.0)
    assert isinstance(one, float)
    both = emc_percent([20.0, 25.0], np.array([[45.0], [60.0]]))
    assert both.shape == (2, 2)
    assert both[0, 0] == one
    assert emc_percent(20, 0) == 0.0


@pytest.mark.parametrize(
    ("t", "rh", "field"),
    [
        (20.0, 100.0, "rh_percent"),
        (20.0, -0.1, "rh_percent"),
        (20.0, float("nan"), "rh_percent"),
        (-5.0, 50.0, "temperature_c"),
        (120.0, 50.0, "temperature_c"),
        (float("inf"), 50.0, "temperature_c"),
        ([20.0, 200.0], 50.0, "temperature_c"),
        ("warm", 50.0, "temperature_c"),
    ],
)
def test_outside_the_formula_s_range_is_refused(t, rh, field):
    with pytest.raises(OutOfRange) as refused:
        emc_percent(t, rh)
    assert refused.value.field == field
    assert refused.value.hint


@settings(max_examples=50)
@given(st.floats(0.1, 5000.0), st.floats(0.0, 249.0))
def test_weight_and_moisture_go_back_and_forth(mass_g, percent):
    dry = ovendry_mass_g(mass_g, percent)
    assert moisture_percent(mass_g, dry) == pytest.approx(percent, abs=1e-9)


@pytest.mark.parametrize(
    ("mass", "dry"), [(90.0, 100.0), (0.0, 1.0), (10.0, 0.0), (-5.0, 1.0), (360.0, 100.0)]
)
def test_weights_that_cannot_be_are_refused(mass, dry):
    with pytest.raises(OutOfRange):
        moisture_percent(mass, dry)


@pytest.mark.parametrize("percent", [-1.0, 251.0, float("nan")])
def test_moistures_that_cannot_be_are_refused(percent):
    with pytest.raises(OutOfRange) as refused:
        ovendry_mass_g(100.0, percent)
    assert refused.value.field == "moisture_percent"


def test_no_slice_says_nothing():
    with pytest.raises(NotUnderstood):
        of_slices([])
