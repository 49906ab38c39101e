"""How wood shrinks and swells across the grain, and what a round section becomes.

In a straight line from fibre saturation down to 0 % [@wood-handbook-2021, eq. 4-9]. Along the
grain wood moves so little (a tenth or two of a percent, from memory) that lengths are left alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, overload

import numpy.typing as npt

from benchside.wood.checked import Floats, checked, plain
from benchside.wood.moisture import checked_moisture
from benchside.wood.species import (
    FIBER_SATURATION,
    MOST_SHRINKAGE_PERCENT,
    Species,
    saturation,
    shrinkage,
)

HABIT = 1.10  # a tenth fat: common practice, no source


class Section(NamedTuple):
    """A section that was round: its size along the rays and along the rings. [mm]"""

    radial_mm: float
    tangential_mm: float


@dataclass(frozen=True, slots=True)
class SizeNow:
    """The size to turn now, and why. [mm]

    ``reckoned_mm`` is ``(final_mm + allowance_mm) / ratio``, with ``ratio`` of the direction that
    shrinks most (``worst_percent``), and ``turn_mm`` the same, unless the form leaves no room for
    it. ``even_mm`` would do if the wood shrank alike all round (the mean of both directions); the
    rest up to ``reckoned_mm`` is for going oval. ``dried`` is the section it becomes.
    ``habit_mm`` is a tenth over the final size and ``habit_left_mm`` what that would leave above
    it, on the narrow way; ``habit_short`` says that this is less than the allowance.
    """

    final_mm: float
    allowance_mm: float
    from_mc: float
    to_mc: float
    worst_percent: float
    ratio: float
    reckoned_mm: float
    turn_mm: float
    even_mm: float
    dried: Section
    habit_mm: float
    habit_left_mm: float

    @property
    def short_mm(self) -> float:
        """By how much it is turned under what was reckoned, for want of room; over: less than 0."""
        return self.reckoned_mm - self.turn_mm

    @property
    def short_dry_mm(self) -> float:
        """What ``short_mm`` comes to once it is dry, on the narrow way."""
        return self.short_mm * self.ratio

    @property
    def left_mm(self) -> float:
        """What stands over the final size once it is dry, on the narrow way."""
        return self.turn_mm * self.ratio - self.final_mm

    @property
    def for_oval_mm(self) -> float:
        return self.reckoned_mm - self.even_mm

    @property
    def habit_short(self) -> bool:
        return self.habit_left_mm < self.allowance_mm


@overload
def dimension_ratio(
    total_percent: float, from_mc: float, to_mc: float, fiber_saturation: float = ...
) -> float: ...
@overload
def dimension_ratio(
    total_percent: npt.ArrayLike,
    from_mc: npt.ArrayLike,
    to_mc: npt.ArrayLike,
    fiber_saturation: npt.ArrayLike = ...,
) -> float | Floats: ...
def dimension_ratio(
    total_percent: npt.ArrayLike,
    from_mc: npt.ArrayLike,
    to_mc: npt.ArrayLike,
    fiber_saturation: npt.ArrayLike = FIBER_SATURATION,
) -> float | Floats:
    """The size at ``to_mc`` over the size at ``from_mc``, across the grain. [% in]

    ``total_percent`` is the shrinkage from green to 0 %, in percent of the green size; above
    ``fiber_saturation`` the wood keeps its green size. Scalars or arrays that fit one another.

    Raises `OutOfRange` for a shrinkage outside 0 to 30 %, a moisture outside 0 to 250 % and a
    fibre saturation outside 10 to 50 %.

    >>> round(dimension_ratio(7.8, 45.0, 8.0), 4)
    0.9428
    """
    total = checked(
        total_percent,
        "total_percent",
        "The shrinkage",
        0.0,
        MOST_SHRINKAGE_PERCENT,
        hint="From green to 0 %, in percent: between 2 and 12 for most species.",
    )
    saturation = checked(
        fiber_saturation,
        "fiber_saturation",
        "Fibre saturation",
        10.0,
        50.0,
        hint="About 30 % for most species.",
    )
    before = _share(total, checked_moisture(from_mc, "from_mc"), saturation)
    after = _share(total, checked_moisture(to_mc, "to_mc"), saturation)
    return plain(after / before)


@overload
def size_to_turn_mm(
    final_mm: float,
    total_percent: float,
    from_mc: float,
    to_mc: float,
    *,
    allowance_mm: float = ...,
    fiber_saturation: float = ...,
) -> float: ...
@overload
def size_to_turn_mm(
    final_mm: npt.ArrayLike,
    total_percent: npt.ArrayLike,
    from_mc: npt.ArrayLike,
    to_mc: npt.ArrayLike,
    *,
    allowance_mm: npt.ArrayLike = ...,
    fiber_saturation: npt.ArrayLike = ...,
) -> float | Floats: ...
def size_to_turn_mm(
    final_mm: npt.ArrayLike,
    total_percent: npt.ArrayLike,
    from_mc: npt.ArrayLike,
    to_mc: npt.ArrayLike,
    *,
    allowance_mm: npt.ArrayLike = 0.0,
    fiber_saturation: npt.ArrayLike = FIBER_SATURATION,
) -> float | Floats:
    """The size at ``from_mc`` that is ``final_mm`` and the allowance over it at ``to_mc``. [mm, %]

    ``(final + allowance) / dimension_ratio``; give the shrinkage of the direction that shrinks
    most. Raises `OutOfRange` as `dimension_ratio`, and for sizes below 0 or over 10 m.

    >>> round(size_to_turn_mm(15.9, 7.8, 45.0, 8.0, allowance_mm=0.3), 2)
    17.18
    """
    final = _length(final_mm, "final_mm", "The size")
    more = _length(allowance_mm, "allowance_mm", "The allowance")
    ratio = dimension_ratio(total_percent, from_mc, to_mc, fiber_saturation)
    return plain((final + more) / ratio)


def dried_section_mm(
    diameter_mm: float,
    species: Species,
    from_mc: float,
    to_mc: float,
    fiber_saturation: float | None = None,
) -> Section:
    """What a round section becomes at another moisture: its two sizes at right angles. [mm, %]

    An oval, the long way along the rays, since wood shrinks about twice as much along the rings;
    below the species' own fibre saturation where none is given.
    Raises as `dimension_ratio`, and `NotUnderstood` for a species whose shrinkage is not known.

    >>> from benchside.wood.species import find
    >>> tuple(round(mm, 2) for mm in dried_section_mm(25.4, find("white ash"), 45.0, 8.0))
    (24.49, 23.95)
    """
    radial, tangential = shrinkage(species)
    below = saturation(species) if fiber_saturation is None else fiber_saturation
    return section_mm(diameter_mm, radial, tangential, from_mc, to_mc, below)


def section_mm(
    diameter_mm: float,
    radial_percent: float,
    tangential_percent: float,
    from_mc: float,
    to_mc: float,
    fiber_saturation: float = FIBER_SATURATION,
) -> Section:
    """As `dried_section_mm`, from two shrinkages, which may be learned ones. [mm, %]"""
    size = float(_length(diameter_mm, "diameter_mm", "The diameter"))
    return Section(
        size * dimension_ratio(radial_percent, from_mc, to_mc, fiber_saturation),
        size * dimension_ratio(tangential_percent, from_mc, to_mc, fiber_saturation),
    )


def size_now(
    final_mm: float,
    *,
    radial_percent: float,
    tangential_percent: float,
    from_mc: float,
    to_mc: float,
    allowance_mm: float = 0.0,
    fiber_saturation: float = FIBER_SATURATION,
) -> SizeNow:
    """The size to turn now so that the narrow way is right when dry, and its reasons. [mm, %]

    Raises as `dimension_ratio`.

    >>> now = size_now(
    ...     15.9, radial_percent=4.9, tangential_percent=7.8, from_mc=45, to_mc=8, allowance_mm=0.3
    ... )
    >>> round(now.turn_mm, 2), round(now.for_oval_mm, 2), round(now.habit_left_mm, 2)
    (17.18, 0.19, 0.59)
    """
    ways = (radial_percent, tangential_percent)
    ratios = [dimension_ratio(way, from_mc, to_mc, fiber_saturation) for way in ways]
    worst = min(ratios)
    turn = (final_mm + allowance_mm) / worst
    habit = final_mm * HABIT
    return SizeNow(
        final_mm=final_mm,
        allowance_mm=allowance_mm,
        from_mc=from_mc,
        to_mc=to_mc,
        worst_percent=ways[ratios.index(worst)],
        ratio=worst,
        reckoned_mm=turn,
        turn_mm=turn,
        even_mm=(final_mm + allowance_mm) / (sum(ratios) / 2),
        dried=section_mm(turn, *ways, from_mc, to_mc, fiber_saturation),
        habit_mm=habit,
        habit_left_mm=habit * worst - final_mm,
    )


def _share(total: Floats, moisture: Floats, saturation: Floats) -> Floats:
    """The size at that moisture over the green size."""
    below = (saturation - moisture).clip(min=0.0) / saturation
    return 1 - total / 100 * below


def _length(mm: npt.ArrayLike, field: str, what: str) -> Floats:
    return checked(mm, field, what, 0.0, 10_000.0, hint="In millimetres, such as 15.9.")
