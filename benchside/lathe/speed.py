"""Speeds: how fast the rim runs, and the ceilings a speed is set beside. Never a speed to run at.

Published speeds for one and the same work differ by more than three to one, so the maker's own
stands; what is computed here only says where it lies.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from math import isfinite, pi, sqrt
from typing import Literal

from benchside.errors import OutOfRange

# Diameter times speed, 6000 to 9000 in inches and turns a minute, roughing to finishing
# [@lathe-speed-sheet, phase 1]; in millimetres.
HABIT_ROUGHING = 6000 * 25.4
HABIT_FINISHING = 9000 * 25.4
# The first whirling speed should be at least twice the one that is run [@shigley-2011, 7-6].
WHIRL_SHARE = 0.5
CORNERS = sqrt(2.0)  # across the corners of a square, over its side
LEAST_KEPT_RPM = 50.0  # judgement: a smaller number in a note is a pulley's, no speed

Reason = Literal["habit", "whirl", "lathe"]
Heed = Literal[
    "over_habit", "over_whirl", "over_lathe", "under_lathe", "square", "remounted", "none_slow"
]

_THOUSAND = re.compile(r"(?<=\d)[,’' ](?=\d{3}\b)")
_NUMBER = re.compile(r"\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class Ceiling:
    """A speed that something speaks against going beyond. [r/min]"""

    reason: Reason
    rpm: float


@dataclass(frozen=True, slots=True)
class Published:
    """What one source runs work up to so thick at. ``source`` is its key, "" for common practice
    without one; ``stage`` "" where it names none. [mm, r/min]"""

    upto_mm: float
    least_rpm: float
    most_rpm: float
    stage: Literal["", "rough", "shape", "sand"]
    source: str


# Common practice has no source but for the school text [@milton-wohlers-1919, ch. II].
PUBLISHED = (
    Published(50.8, 950.0, 950.0, "rough", ""),
    Published(50.8, 1300.0, 1300.0, "shape", ""),
    Published(50.8, 2050.0, 2050.0, "sand", ""),
    Published(101.6, 850.0, 850.0, "rough", ""),
    Published(101.6, 1150.0, 1150.0, "shape", ""),
    Published(101.6, 1900.0, 1900.0, "sand", ""),
    Published(50.8, 1500.0, 3000.0, "", ""),
    Published(76.2, 2400.0, 3000.0, "", "milton-wohlers-1919"),
    Published(101.6, 3500.0, 3500.0, "", ""),
)


def rim_speed_m_s(diameter_mm: float, speed_rpm: float) -> float:
    """How fast the surface runs past the edge: pi d n. [mm, r/min in, m/s out]

    Raises `OutOfRange` for a diameter or a speed that is not more than 0.
    """
    _check(diameter_mm=diameter_mm, speed_rpm=speed_rpm)
    return pi * diameter_mm / 1000 * speed_rpm / 60


def habit_rpm(diameter_mm: float, *, finishing: bool = False) -> float:
    """The trade's diameter-times-speed figure, for work so thick. [mm in, r/min out]

    6000 (roughing) or 9000 (finishing) over the diameter in inches [@lathe-speed-sheet, phase 1].
    For thin work far above what spindles are turned at: a ceiling, no aim. Raises `OutOfRange`.
    """
    _check(diameter_mm=diameter_mm)
    return (HABIT_FINISHING if finishing else HABIT_ROUGHING) / diameter_mm


def ceilings(
    diameter_mm: float,
    *,
    finishing: bool = False,
    whirl_rpm: float | None = None,
    lathe_rpm: float | None = None,
) -> tuple[Ceiling, ...]:
    """Every ceiling that is known, the least first. [mm, r/min]

    ``diameter_mm`` is the thickest place (of square work, across its corners), ``whirl_rpm`` the
    first whirling speed, of which half counts [@shigley-2011, 7-6], ``lathe_rpm`` the fastest the
    lathe turns. Raises `OutOfRange`.
    """
    found = [Ceiling("habit", habit_rpm(diameter_mm, finishing=finishing))]
    if whirl_rpm is not None:
        _check(whirl_rpm=whirl_rpm)
        found.append(Ceiling("whirl", WHIRL_SHARE * whirl_rpm))
    if lathe_rpm is not None:
        _check(lathe_rpm=lathe_rpm)
        found.append(Ceiling("lathe", lathe_rpm))
    return tuple(sorted(found, key=lambda ceiling: ceiling.rpm))


def ceiling_rpm(
    diameter_mm: float,
    *,
    finishing: bool = False,
    whirl_rpm: float | None = None,
    lathe_rpm: float | None = None,
) -> float:
    """The least of `ceilings`: what nothing known speaks against. A ceiling, never advice.

    [mm, r/min]
    """
    return ceilings(diameter_mm, finishing=finishing, whirl_rpm=whirl_rpm, lathe_rpm=lathe_rpm)[
        0
    ].rpm


def below(steps_rpm: Iterable[float], ceiling: float) -> tuple[float, ...]:
    """Those of the lathe's steps that lie at or under a ceiling, slowest first. [r/min]"""
    return tuple(sorted(rpm for rpm in steps_rpm if rpm <= ceiling))


def kept_rpm(text: str) -> float | None:
    """The speed in a maker's own note, the largest number in it; None for "pulley 3". [r/min]

    >>> kept_rpm("900 to 1,100"), kept_rpm("pulley 3")
    (1100.0, None)
    """
    numbers = [float(n) for n in _NUMBER.findall(_THOUSAND.sub("", text))]
    speeds = [rpm for rpm in numbers if rpm >= LEAST_KEPT_RPM and isfinite(rpm)]
    return max(speeds, default=None)


def to_heed(
    speed_rpm: float | None,
    found: Iterable[Ceiling],
    *,
    slowest_rpm: float | None = None,
    square: bool = False,
    remounted: bool = False,
) -> tuple[Heed, ...]:
    """What is to be said of a kept speed, gravest first; without one, of the lathe alone.

    ``none_slow``: even the lathe's slowest lies above a ceiling that is not its own.
    ``over_habit``, ``over_whirl``, ``over_lathe``: the kept speed lies above that ceiling, by more
    than a rounding. ``under_lathe``: the lathe does not turn so slowly. ``square``: the work has
    its corners still, so it is out of balance, and the kept speed is not the slowest there is.
    ``remounted``: the same for a piece that went back between the centres and may run out of true.
    Begin slow until it runs true (common practice, no source).
    """
    said: list[Heed] = []
    every = tuple(found)
    own = [c for c in every if c.reason != "lathe"]
    if slowest_rpm is not None and any(slowest_rpm > c.rpm for c in own):
        said.append("none_slow")
    if speed_rpm is None:
        return tuple(said)
    _check(speed_rpm=speed_rpm)
    over: dict[Reason, Heed] = {"habit": "over_habit", "whirl": "over_whirl", "lathe": "over_lathe"}
    said += [over[c.reason] for c in every if round(speed_rpm) > round(c.rpm)]
    if slowest_rpm is not None and speed_rpm < slowest_rpm:
        said.append("under_lathe")
    if (square or remounted) and (slowest_rpm is None or speed_rpm > slowest_rpm):
        said.append("square" if square else "remounted")
    return tuple(said)


def published(diameter_mm: float) -> tuple[Published, ...]:
    """What sources run work of this thickness at: the nearest band of each. [mm]"""
    _check(diameter_mm=diameter_mm)
    fitting = [row for row in PUBLISHED if diameter_mm <= row.upto_mm]
    nearest: dict[tuple[str, str, bool], Published] = {}
    for row in fitting:
        nearest.setdefault((row.source, row.stage, row.least_rpm == row.most_rpm), row)
    return tuple(nearest.values())


def _check(**figures: float) -> None:
    for field, value in figures.items():
        if not (isfinite(value) and value > 0):
            raise OutOfRange(
                f"{value:g} cannot be.", field=field, hint="It is a number, more than 0."
            )
