"""How a round tenon sits in a bored hole while both move with the moisture of the air.

Each direction moves by itself and linearly below fibre saturation (`wood.shrinkage`). A tenon that
was round when it was sized is an ellipse at any other moisture, its axes radial and tangential; a
hole is an ellipse along and across the grain of the part it is bored in. Sizes are those between
the parallel jaws of a caliper. Interference is the tenon less the hole: more than nothing is tight.
No crushing is reckoned with: what is tight here beyond what wood bears is crushed or splits.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isfinite
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from benchside.errors import OutOfRange
from benchside.wood.shrinkage import dimension_ratio
from benchside.wood.species import FIBER_SATURATION

Floats = npt.NDArray[np.float64]
Way = Literal["along", "across", "both"]
Lies = Literal["tangential", "radial", "between"]
Warn = Literal["wetter", "loose", "split when driven", "split"]

Month = Literal["", "driest", "dampest"]

MM_PER_INCH = 25.4
# The tightest that practice we know of drives home is 0.010 in over a 5/8 in hole (common practice,
# no source); more than that share of the hole across the grain is warned of (judgement).
SPLIT_SHARE = 0.010 / 0.625
SEEN_MM = 0.02  # judgement: by less, calipers do not tell two tenons apart
# From snug to loose is about 0.005 in (common practice, no source): what glue is trusted to fill.
GLUE_FILLS_MM = 0.005 * MM_PER_INCH
MONTHS = 12


@dataclass(frozen=True, slots=True)
class Tenon:
    """A tenon as it was sized: ``diameter_mm`` at ``sized_at_mc`` percent.

    ``radial_percent`` and ``tangential_percent`` are the whole shrinkage of its wood from green
    to oven-dry. ``ring_deg`` is from the grain of the mortised part to the tenon's radial
    direction. ``tangential_mm``: its size in the tangential direction where it is no round;
    ``diameter_mm`` is then the radial one. Below ``fiber_saturation`` it shrinks. [percent]
    """

    diameter_mm: float
    sized_at_mc: float
    radial_percent: float
    tangential_percent: float
    ring_deg: float = 0.0
    tangential_mm: float | None = None
    fiber_saturation: float = FIBER_SATURATION

    def __post_init__(self) -> None:
        _size(self.diameter_mm, "diameter_mm", "A tenon")
        if self.tangential_mm is not None:
            _size(self.tangential_mm, "tangential_mm", "A tenon")
        if not isfinite(self.ring_deg):
            raise OutOfRange("The turning of the tenon is no angle.", field="ring_deg")
        tenon_size_mm(self, 0.0)


@dataclass(frozen=True, slots=True)
class Mortise:
    """A hole as it was bored: round, ``bore_mm`` at ``bored_at_mc`` percent.

    ``across_percent`` is the whole shrinkage of the part across its grain in the plane of the
    hole's mouth, ``along_percent`` that along its grain, next to nothing in sound wood. Below
    ``fiber_saturation`` it shrinks. [percent]
    """

    bore_mm: float
    bored_at_mc: float
    across_percent: float
    along_percent: float = 0.0
    fiber_saturation: float = FIBER_SATURATION

    def __post_init__(self) -> None:
        _size(self.bore_mm, "bore_mm", "A hole")
        hole_size_mm(self, 0.0)


@dataclass(frozen=True, slots=True)
class Interference:
    """Tenon less hole, along and across the grain of the mortised part. [mm]

    Numbers for one pair of moistures, arrays for arrays.
    """

    along_mm: Any
    across_mm: Any


@dataclass(frozen=True, slots=True)
class Year:
    """Twelve months from the driest over the dampest and back, with both parts settled.

    ``moisture`` in percent, ``along_mm`` and ``across_mm`` the interference of each month.
    """

    moisture: Floats
    along_mm: Floats
    across_mm: Floats

    @property
    def driest(self) -> Interference:
        return self._at(int(np.argmin(self.moisture)))

    @property
    def dampest(self) -> Interference:
        return self._at(int(np.argmax(self.moisture)))

    def _at(self, month: int) -> Interference:
        return Interference(float(self.along_mm[month]), float(self.across_mm[month]))


@dataclass(frozen=True, slots=True)
class Moved:
    """By how much a tenon and its hole are larger than when they were made, each way. [mm]

    Along and across the grain of the mortised part; less than nothing is smaller.
    """

    tenon_along_mm: float
    tenon_across_mm: float
    hole_along_mm: float
    hole_across_mm: float


@dataclass(frozen=True, slots=True)
class Turning:
    """How to turn a tenon in its hole: ``ring_deg`` 0 has its rays along the part's grain.

    ``across_mm`` is the most it is tight across the part's grain in the year, ``other_across_mm``
    the same a quarter turn on; ``along_mm`` and ``other_along_mm`` the least along it.
    """

    ring_deg: float
    across_mm: float
    other_across_mm: float
    along_mm: float
    other_along_mm: float


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something to think about first: how much, and the most it should be. [mm, or percent]

    ``month`` is the one it is about, "" for when the tenon is driven.
    """

    what: Warn
    value: float
    limit: float
    month: Month = ""


def tenon_size_mm(tenon: Tenon, mc: npt.ArrayLike) -> tuple[Any, Any]:
    """The tenon's (radial, tangential) size at a moisture in percent. [mm]

    Arrays in, arrays out. Raises `OutOfRange` for a moisture that cannot be.
    """
    sized_at, below = tenon.sized_at_mc, tenon.fiber_saturation
    radial = dimension_ratio(tenon.radial_percent, sized_at, mc, below)
    tangential = dimension_ratio(tenon.tangential_percent, sized_at, mc, below)
    second_mm = tenon.diameter_mm if tenon.tangential_mm is None else tenon.tangential_mm
    return tenon.diameter_mm * radial, second_mm * tangential


def hole_size_mm(mortise: Mortise, mc: npt.ArrayLike) -> tuple[Any, Any]:
    """The hole's size (along, across) the grain of its part at a moisture in percent. [mm]

    Arrays in, arrays out. Raises `OutOfRange` for a moisture that cannot be.
    """
    bored_at, below = mortise.bored_at_mc, mortise.fiber_saturation
    along = dimension_ratio(mortise.along_percent, bored_at, mc, below)
    across = dimension_ratio(mortise.across_percent, bored_at, mc, below)
    return mortise.bore_mm * along, mortise.bore_mm * across


def width_mm(radial_mm: Any, tangential_mm: Any, from_radial_deg: float) -> Any:
    """What a caliper reads across an ellipse at an angle from its radial axis. [mm]

    The distance of the two tangents that are square to that direction:
    sqrt((r cos a)^2 + (t sin a)^2). Arrays in, arrays out.
    """
    angle = np.deg2rad(from_radial_deg)
    return np.hypot(radial_mm * np.cos(angle), tangential_mm * np.sin(angle))


def interference_mm(
    tenon: Tenon, mortise: Mortise, tenon_mc: npt.ArrayLike, mortise_mc: npt.ArrayLike
) -> Interference:
    """How much larger the tenon is than its hole, along and across the part's grain. [mm]

    Both at their own moisture in percent; arrays of moistures give arrays. Less than nothing is
    slack. Raises `OutOfRange` for a moisture that cannot be.
    """
    radial_mm, tangential_mm = tenon_size_mm(tenon, tenon_mc)
    along_mm, across_mm = hole_size_mm(mortise, mortise_mc)
    along = width_mm(radial_mm, tangential_mm, tenon.ring_deg) - along_mm
    across = width_mm(radial_mm, tangential_mm, 90.0 - tenon.ring_deg) - across_mm
    if np.ndim(along) == 0:
        return Interference(float(along), float(across))
    return Interference(along, across)


def moved(tenon: Tenon, mortise: Mortise, mc: float) -> Moved:
    """How the tenon moved since it was sized, and its hole since it was bored, to a moisture.

    Both at ``mc`` percent. Raises `OutOfRange` for a moisture that cannot be.
    """
    made = interference_mm(tenon, mortise, tenon.sized_at_mc, mortise.bored_at_mc)
    tenon_only = interference_mm(tenon, mortise, mc, mortise.bored_at_mc)
    along_mm, across_mm = hole_size_mm(mortise, mc)
    return Moved(
        tenon_along_mm=tenon_only.along_mm - made.along_mm,
        tenon_across_mm=tenon_only.across_mm - made.across_mm,
        hole_along_mm=float(along_mm) - mortise.bore_mm,
        hole_across_mm=float(across_mm) - mortise.bore_mm,
    )


def across_percent(radial_percent: float, tangential_percent: float, way: Lies) -> float:
    """How a part shrinks across its grain in the plane of its holes' mouths. [percent]

    ``way``: the mouths are on a face where the rings lie flat (tangential), on a quartered face
    (radial), or on one between, where the mean of both is taken: an element of wood turned half
    a right angle from its rays moves by their mean.
    """
    if way == "between":
        return (radial_percent + tangential_percent) / 2
    return tangential_percent if way == "tangential" else radial_percent


def least_mm(tenon: Tenon) -> float:
    """The narrowest a tenon could ever be by drying: its narrow way at no moisture at all. [mm]"""
    return float(min(tenon_size_mm(tenon, 0.0)))


def size_for_mm(
    wanted_mm: float,
    tenon: Tenon,
    mortise: Mortise,
    tenon_mc: float,
    mortise_mc: float,
    way: Way = "along",
) -> float:
    """The size to bring a round tenon to, so that it is ``wanted_mm`` larger than its hole. [mm]

    The size is the one when the tenon is sized, at its ``sized_at_mc``; its own ``diameter_mm`` is
    not asked. ``tenon_mc`` and ``mortise_mc`` are the moistures at which the interference is
    wanted, ``way`` whether along or across the part's grain, or the mean of both.

    Raises `OutOfRange` when nothing would be left of the tenon, or for a moisture that cannot be.
    """
    if not isfinite(wanted_mm):
        raise OutOfRange("How tight is no number.", field="fit")
    unit = replace(tenon, diameter_mm=1.0, tangential_mm=None)
    radial, tangential = tenon_size_mm(unit, tenon_mc)
    widths = (
        float(width_mm(radial, tangential, tenon.ring_deg)),
        float(width_mm(radial, tangential, 90.0 - tenon.ring_deg)),
    )
    holes = tuple(float(size) for size in hole_size_mm(mortise, mortise_mc))
    share = {"along": (1.0, 0.0), "across": (0.0, 1.0), "both": (0.5, 0.5)}[way]
    hole = share[0] * holes[0] + share[1] * holes[1]
    size_mm = (hole + wanted_mm) / (share[0] * widths[0] + share[1] * widths[1])
    if size_mm <= 0:
        raise OutOfRange(
            "So loose a fit leaves nothing of the tenon.",
            field="fit",
            hint="Loose is a little less than nothing: −0.1 mm, say.",
        )
    return size_mm


def months_mc(driest_mc: float, dampest_mc: float) -> Floats:
    """The moisture of each of twelve months from the driest over the dampest and back. [percent]

    Between the two it goes as a cosine (judgement). Raises `OutOfRange` if the driest month is
    damper than the dampest.
    """
    if not driest_mc <= dampest_mc:
        raise OutOfRange(
            "The driest month is damper than the dampest.",
            field="driest",
            hint="Give the moisture of the driest month first.",
        )
    turn = np.cos(2 * np.pi * np.arange(MONTHS) / MONTHS)
    return driest_mc + (dampest_mc - driest_mc) * (1 - turn) / 2


def year(tenon: Tenon, mortise: Mortise, driest_mc: float, dampest_mc: float) -> Year:
    """The interference of every month, both parts settled at the moisture of the month.

    A joint follows the air by days to weeks and never quite reaches the extremes, so this is the
    most that can come. Raises `OutOfRange` as `months_mc` and `interference_mm`.
    """
    moisture = months_mc(driest_mc, dampest_mc)
    found = interference_mm(tenon, mortise, moisture, moisture)
    return Year(moisture, found.along_mm, found.across_mm)


def dot_deg(turned_deg: float, ring_deg: float) -> float:
    """Where the dot on a tenon's end has to lie, from the grain of the part. [degrees]

    ``turned_deg`` is from that grain to the tenon's rays as they are wanted, ``ring_deg`` from the
    dot to the rays, both counter-clockwise. From -90 up to 90: half a turn on it is the same joint.

    >>> dot_deg(90.0, 35.0), dot_deg(0.0, 35.0), dot_deg(0.0, 171.0)
    (55.0, -35.0, 9.0)
    """
    return (turned_deg - ring_deg + 90.0) % 180.0 - 90.0


def kindest_turning(tenon: Tenon, mortise: Mortise, driest_mc: float, dampest_mc: float) -> Turning:
    """The turning at which the tenon presses least across the part's grain in the year.

    That is what splits the part. The two turnings that can be seen on a tenon's end are compared:
    rays along the part's grain (0) or across it (90). Across it is kinder for a tenon made round
    when dry, because then the smaller, radial swelling lies across; along it for one left with
    the oval it dried to, whose narrow side then lies across. With nothing between the two it is 0.
    Raises `OutOfRange` as `year`.
    """
    years = {
        turn: year(replace(tenon, ring_deg=turn), mortise, driest_mc, dampest_mc)
        for turn in (0.0, 90.0)
    }
    most = {turn: float(np.max(found.across_mm)) for turn, found in years.items()}
    least = {turn: float(np.min(found.along_mm)) for turn, found in years.items()}
    best = 0.0 if most[0.0] <= most[90.0] else 90.0
    other = 90.0 - best
    return Turning(best, most[best], most[other], least[best], least[other])


def warnings(
    driven: Interference,
    through: Year,
    bore_mm: float,
    tenon_mc: float,
    mortise_mc: float,
    *,
    glued: bool,
) -> tuple[Doubt, ...]:
    """What speaks against a fit, gravest last.

    ``driven`` is the interference when it goes home, at ``tenon_mc`` and ``mortise_mc``. A tenon
    wetter than its mortise shrinks away from it. Loose is less along the grain, in any month, than
    nothing, or than what glue fills where it is glued; tight enough to split is more across the
    grain than `SPLIT_SHARE` of the hole, when it is driven or in any month; each by more than
    calipers show.
    """
    found: list[Doubt] = []
    slack = -GLUE_FILLS_MM if glued else 0.0
    tight = SPLIT_SHARE * bore_mm
    least = float(np.min(through.along_mm))
    most = float(np.max(through.across_mm))
    if tenon_mc > mortise_mc:
        found.append(Doubt("wetter", tenon_mc, mortise_mc))
    if least < slack - SEEN_MM:
        found.append(Doubt("loose", least, slack, _month(through, through.along_mm, least)))
    if driven.across_mm > tight + SEEN_MM:
        found.append(Doubt("split when driven", float(driven.across_mm), tight))
    if most > tight + SEEN_MM:
        found.append(Doubt("split", most, tight, _month(through, through.across_mm, most)))
    return tuple(found)


def _month(through: Year, course_mm: Floats, value_mm: float) -> Month:
    """The end of the year that an extreme lies at: with one cause, it is one of the two."""
    return "driest" if course_mm[int(np.argmin(through.moisture))] == value_mm else "dampest"


def _size(value_mm: float, field: str, what: str) -> None:
    if not (isfinite(value_mm) and value_mm > 0):
        raise OutOfRange(f"{what} must be more than 0 mm across.", field=field)
