from math import inf, nan

import pytest

from benchside.errors import OutOfRange
from benchside.lathe.outfit import misfits, steady_n_per_mm


def test_a_steady_is_as_stiff_as_measured_or_as_its_word_says():
    assert steady_n_per_mm("none", 50.0) is None
    assert steady_n_per_mm("ring") == inf
    assert steady_n_per_mm("rollers", 32.5) == 32.5
    soft, stiff = steady_n_per_mm("string"), steady_n_per_mm("rollers")
    assert soft is not None
    assert stiff is not None
    assert 0 < soft < stiff < inf


@pytest.mark.parametrize("measured", [0.0, -3.0, inf, nan])
def test_no_stiffness_at_all_is_refused(measured):
    with pytest.raises(OutOfRange):
        steady_n_per_mm("string", measured)


@pytest.mark.parametrize(
    ("length_mm", "stock_mm", "found"),
    [
        (400.0, 200.0, ()),  # 282.8 mm across the corners
        (400.1, 200.0, ("too_long",)),
        (400.0, 212.2, ("too_square",)),  # 300.1 mm
        (400.0, 300.1, ("too_thick",)),
        (500.0, 250.0, ("too_long", "too_square")),
    ],
)
def test_a_piece_goes_on_the_lathe_by_its_length_its_round_and_its_corners(
    length_mm: float, stock_mm: float, found: tuple[str, ...]
) -> None:
    assert misfits(length_mm, stock_mm, swing_mm=300.0, between_centres_mm=400.0) == found
