"""Strength: laws and edges."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchside.errors import OutOfRange
from benchside.wood.strength import at_moisture, density_kg_m3, gravity_at, hankinson

strength = st.floats(1.0, 200.0)
moisture = st.floats(0.0, 250.0)


@settings(max_examples=50)
@given(strength, st.floats(1.0, 3.0), moisture, moisture)
def test_wood_that_is_stronger_dry_never_weakens_as_it_dries(green, gain, a, b):
    low, high = sorted((a, b))
    assert at_moisture(green, green * gain, low) >= at_moisture(green, green * gain, high) * (
        1 - 1e-12
    )


@settings(max_examples=50)
@given(strength, st.floats(0.02, 1.0), st.floats(0.0, 90.0), st.floats(1.5, 2.5))
def test_at_an_angle_it_lies_between_along_and_across(along, share, angle, n):
    across = along * share
    found = hankinson(along, across, angle, n)
    # Below n = 2 the two sines do not make one, so it may pass the larger by a little.
    assert across * (1 - 1e-9) * 0.7 <= found <= along * 1.2


def test_with_the_exponent_of_two_it_never_leaves_the_two():
    for angle in range(91):
        assert 5.0 - 1e-9 <= hankinson(100.0, 5.0, float(angle)) <= 100.0


@settings(max_examples=50)
@given(st.floats(0.3, 0.85), moisture, moisture)  # denser, near dry, it swells faster
def test_wetter_wood_weighs_more(gravity, a, b):
    low, high = sorted((a, b))
    assert density_kg_m3(gravity, low) <= density_kg_m3(gravity, high) * (1 + 1e-12)
    assert gravity_at(gravity, 40.0) == gravity


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: at_moisture(0.0, 100.0, 12.0),
        lambda: at_moisture(60.0, -1.0, 12.0),
        lambda: at_moisture(60.0, 100.0, -1.0),
        lambda: at_moisture(60.0, 100.0, 12.0, 12.0),
        lambda: hankinson(100.0, 5.0, 91.0),
        lambda: hankinson(100.0, float("nan"), 10.0),
        lambda: hankinson(100.0, 5.0, 10.0, 0.5),
        lambda: gravity_at(0.0, 12.0),
        lambda: density_kg_m3(0.5, 300.0),
    ],
)
def test_figures_that_cannot_be_are_refused(wrong):
    with pytest.raises(OutOfRange) as refused:
        wrong()
    assert refused.value.field
    assert refused.value.hint
