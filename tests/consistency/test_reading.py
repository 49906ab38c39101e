"""What the error of one reading lets be said."""

from __future__ import annotations

from math import nan

import numpy as np
import pytest

from benchside.consistency.reading import differ, give_or_take_mm
from benchside.errors import OutOfRange


def test_nineteen_in_twenty_lie_within_one_point_nine_six_deviations() -> None:
    # NIST/SEMATECH e-Handbook, 1.3.6.7.1: the 0.975 point of the standard normal is 1.960.
    assert give_or_take_mm(1.0) == pytest.approx(1.960, abs=0.0005)


@pytest.mark.parametrize("things", [2, 3, 5, 9])
def test_things_that_are_alike_are_said_to_differ_at_most_one_time_in_twenty(things: int) -> None:
    read = np.random.default_rng(things).normal(20.0, 0.05, (20_000, things))
    said = np.mean([differ(r, things, 0.05) for r in np.ptp(read, axis=1)])
    assert 0.03 < said <= 0.05 + 3 * (0.05 * 0.95 / 20_000) ** 0.5


def test_what_differs_by_far_more_than_the_error_is_said_to() -> None:
    assert differ(0.3, 2, 0.05)
    assert not differ(0.1, 2, 0.05)
    assert not differ(0.0, 2, 0.0)
    assert differ(0.001, 2, 0.0)


@pytest.mark.parametrize(
    ("range_mm", "things", "error_mm"),
    [(0.1, 1, 0.05), (nan, 2, 0.05), (-0.1, 2, 0.05), (0.1, 2, nan), (0.1, 2, -1.0)],
)
def test_nonsense_is_refused(range_mm: float, things: int, error_mm: float) -> None:
    with pytest.raises(OutOfRange):
        differ(range_mm, things, error_mm)
