"""The air a piece will live in: indoors, winter and summer, and the moisture wood comes to there.

The climates of ``climates.csv`` are round figures to start from (judgement); the maker's own
thermometer and hygrometer go first. They agree with the averages of interior wood that the
handbook gives for most of North America, 8 %, its dry south-west, 6 %, and its damp south, 11 %
[@wood-handbook-2010, fig. 13-1, as quoted by others].
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from benchside.wood.moisture import emc_percent

# Percent of moisture where none is given. Air-dry and green: common practice, no source; kiln-dry:
# [@wood-handbook-2010, p. 13-6], 6 to 8 for furniture.
USUAL_MOISTURE = {"green": 60.0, "air-dry": 16.0, "kiln-dry": 8.0}


@dataclass(frozen=True, slots=True)
class Climate:
    """Indoor air in winter and in summer. [°C, %]"""

    id: str
    winter_c: float
    winter_rh: float
    summer_c: float
    summer_rh: float


@cache
def climates() -> tuple[Climate, ...]:
    """The climates to pick from."""
    path = Path(__file__).with_name("climates.csv")
    with path.open(encoding="utf-8", newline="") as file:
        return tuple(
            Climate(
                row["id"],
                *(float(row[name]) for name in ("winter_c", "winter_rh", "summer_c", "summer_rh")),
            )
            for row in csv.DictReader(file)
        )


def year_percent(climate: Climate) -> tuple[float, float]:
    """The driest and the dampest that wood becomes there, in balance with either season. [%]

    Raises `OutOfRange` as `emc_percent`.

    >>> driest, dampest = year_percent(climates()[0])
    >>> round(driest, 1), round(dampest, 1)
    (5.4, 9.2)
    """
    seasons = (
        emc_percent(climate.winter_c, climate.winter_rh),
        emc_percent(climate.summer_c, climate.summer_rh),
    )
    return min(seasons), max(seasons)
