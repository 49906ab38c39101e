"""What a species' listed stiffness, strength and weight become at a moisture."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from benchside.wood.species import OWN, Source, Species
from benchside.wood.strength import INTERSECTION_PERCENT, at_moisture, density_kg_m3

Holds = Literal["here", "dry", "green"]


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure and how it was seen. It ``holds`` at the moisture asked for, or only one figure is
    listed and stands as it is, that at 12 % (dry) or that of green wood."""

    value: float
    holds: Holds
    source: Source


@dataclass(frozen=True, slots=True)
class Properties:
    """A species at a moisture ``mc``. None is a figure that is not listed.

    ``modulus_gpa`` is the modulus of elasticity in bending, ``rupture_mpa`` the bending strength of
    clear straight wood, ``density_kg_m3`` its weight with its water.
    """

    species: str
    mc: float
    modulus_gpa: Figure | None
    rupture_mpa: Figure | None
    density_kg_m3: Figure | None


@lru_cache(maxsize=64)
def at(species: Species, mc: float) -> Properties:
    """The properties of a species at moisture ``mc``. [%]

    Between green and 12 % by `strength.at_moisture` [@wood-handbook-2021, eq. 5-3], the weight by
    `strength.density_kg_m3`. Raises `OutOfRange` for a moisture outside 0 to 250 %.

    >>> from benchside.wood.species import find
    >>> found = at(find("white ash"), 45.0)
    >>> [round(f.value, 1) for f in (found.modulus_gpa, found.rupture_mpa, found.density_kg_m3)]
    [9.9, 66.0, 797.5]
    """
    weight = None
    if species.gravity_green is not None:
        weight = Figure(
            density_kg_m3(species.gravity_green, mc), "here", _source(species, "gravity_green")
        )
    return Properties(
        species=species.common_name,
        mc=mc,
        modulus_gpa=_between(species, "modulus_green_gpa", "modulus_12_gpa", mc),
        rupture_mpa=_between(species, "rupture_green_mpa", "rupture_12_mpa", mc),
        density_kg_m3=weight,
    )


def _between(species: Species, green: str, dry: str, mc: float) -> Figure | None:
    wet: float | None = getattr(species, green)
    at_12: float | None = getattr(species, dry)
    if at_12 is None:
        return None if wet is None else Figure(wet, "green", _source(species, green))
    if wet is None:
        return Figure(at_12, "dry", _source(species, dry))
    value = at_moisture(wet, at_12, mc, species.intersection_percent or INTERSECTION_PERCENT)
    return Figure(value, "here", _source(species, dry))


def _source(species: Species, figure: str) -> Source:
    return species.source_of(figure) or OWN
