from math import inf, nan

import pytest

from benchside.errors import OutOfRange
from benchside.lathe.outfit import steady_n_per_mm


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
