"""The climates to pick from."""

import pytest

from benchside.errors import OutOfRange
from benchside.wood.climate import Climate, climates, year_percent

# Averages of interior wood [@wood-handbook-2010, fig. 13-1, as quoted by others]; their ranges as
# remembered: 6 to 10, 4 to 9, 8 to 13 %.
AVERAGES = {
    "cold_winters": (8, 6, 10),
    "mild_winters": (8, 6, 10),
    "dry_country": (6, 4, 9),
    "warm_damp": (11, 8, 13),
}


@pytest.mark.parametrize("name", AVERAGES)
def test_a_climate_lies_about_the_average_of_such_a_country(name):
    average, low, high = AVERAGES[name]
    climate = next(c for c in climates() if c.id == name)
    driest, dampest = year_percent(climate)
    assert (driest + dampest) / 2 == pytest.approx(average, abs=1.5)
    assert low - 1 < driest <= dampest < high + 1.5


def test_every_climate_has_a_year():
    for climate in climates():
        driest, dampest = year_percent(climate)
        assert 3 < driest <= dampest < 16


def test_air_that_cannot_be_is_refused():
    with pytest.raises(OutOfRange):
        year_percent(Climate("own", 21.0, 120.0, 24.0, 50.0))
