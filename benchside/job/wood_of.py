"""What a set is made of, for every other part of the job to ask."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Literal

from sqlite_utils import Database

from benchside.errors import NotFound, NotUnderstood
from benchside.lathe import now
from benchside.store import wood as kept
from benchside.store.database import Shop
from benchside.store.wood import Wood
from benchside.wood import properties as bearing
from benchside.wood import species as listed
from benchside.wood.learning import dried_enough
from benchside.wood.properties import Properties
from benchside.wood.species import Species

WET = 25.0  # judgement: above this a reading is one of green wood


@dataclass(frozen=True, slots=True)
class Known:
    """A set's wood: its book shrinkage, the moisture it is turned at, dried to and will live at,
    and the one below which it shrinks. ``own``: the figures are the maker's, from no book."""

    species: str
    radial_percent: float
    tangential_percent: float
    turned_mc: float
    dry_mc: float
    driest_mc: float
    dampest_mc: float
    saturation: float
    own: bool


@dataclass(frozen=True, slots=True)
class Said:
    """What was said of a set's wood, and as the how-manieth saying (from 1)."""

    nth: int
    wood: Wood

    @property
    def turning(self) -> now.Turning:
        """What the wood does between the lathe and the chair."""
        return turning_of(self.wood)

    @property
    def last_pass(self) -> bool:
        """Whether a tenon turned of it goes into its hole as it leaves the lathe."""
        return self.turning.tries and not self.turning.roughing

    @property
    def state(self) -> Literal["green", "dry"]:
        """What a reading is one of."""
        return "green" if self.wood.moisture > WET else "dry"


def known(shop: Shop, set_id: int) -> Known | None:
    """A set's wood as it was turned; None while nobody said. The shrinkage is the book's."""
    said = kept.woods(shop, set_id)
    if not said:
        return None
    wood = said[-1]
    wettest = max(said, key=lambda w: w.moisture)
    kind = species(wood.species, shop)
    book = listed.shrinkage(kind)
    return Known(
        species=wood.species,
        radial_percent=book.radial_percent,
        tangential_percent=book.tangential_percent,
        turned_mc=wettest.moisture,
        dry_mc=wood.dry_mc,
        driest_mc=wood.driest_mc,
        dampest_mc=wood.dampest_mc,
        saturation=wood.saturation_percent,
        own=listed.shrinkage_source(kind) == listed.OWN,
    )


def species(name: str, shop: Shop | None = None) -> Species:
    """A species by its name, the maker's own first. Raises `NotUnderstood`."""
    return listed.find(name, own(shop) if shop else ())


def properties(shop: Shop, wood: Wood, mc: float) -> Properties:
    """How stiff, strong and heavy a wood is at a moisture; of a species unknown here, nothing."""
    return _properties(wood.species, own(shop), mc)


@lru_cache(maxsize=64)
def _properties(name: str, own: tuple[Species, ...], mc: float) -> Properties:
    try:
        return bearing.at(listed.find(name, own), mc)
    except NotUnderstood:
        return Properties(name, mc, None, None, None)


def own(shop: Shop) -> tuple[Species, ...]:
    """The maker's own species."""
    return tuple(
        listed.own_species(
            found.name,
            found.radial_percent,
            found.tangential_percent,
            botanical_name=found.botanical_name,
            gravity_green=found.gravity_green,
            green_percent=found.green_percent,
        )
        for found in kept.own_species(shop)
    )


def said(shop: Shop, set_id: int, number: int | None = None, nth: int | None = None) -> Said | None:
    """What holds for a set now, or for one of its pieces; None: its finished sizes hold.

    A piece keeps what it was mounted by, and before that follows the set. ``nth`` is the saying
    that a phone showed. Raises `NotFound` for a saying that there never was.
    """
    every = kept.woods(shop, set_id)
    if not every:
        return None
    if nth is None and number is not None:
        nth = kept.mounted(shop, set_id).get(number, len(every))
    nth = len(every) if nth is None else nth
    if not 0 <= nth <= len(every):
        raise NotFound("This set's wood was never said so.", field="wood")
    return Said(nth, every[nth - 1]) if nth else None


def of_pieces(shop: Shop, set_id: int, numbers: Collection[int]) -> dict[int, Said | None]:
    """What holds for each piece."""
    every = kept.woods(shop, set_id)
    if not every:
        return dict.fromkeys(numbers)
    mounted = kept.mounted(shop, set_id)
    at = {number: mounted.get(number, len(every)) for number in numbers}
    return {number: Said(nth, every[nth - 1]) if nth else None for number, nth in at.items()}


def turned_wet(
    shop: Shop, set_id: int, numbers: Collection[int]
) -> dict[int, tuple[Said | None, str | None]]:
    """By which saying each piece was turned before it dried, and when it went on the lathe again.

    That moment is None for a piece that was not turned again since, at a moisture so much lower
    that it has shrunk.
    """
    every = kept.woods(shop, set_id)
    found = {number: (holds, None) for number, holds in of_pieces(shop, set_id, numbers).items()}
    mounted: dict[int, list[tuple[int, str]]] = {}
    for number, nth, at in kept.mountings(shop, set_id):
        mounted.setdefault(number, []).append((nth, at))
    again: dict[int, tuple[Said | None, str | None]] = {}
    for number in found:
        for (nth, _), (later, at) in pairwise(mounted.get(number, ())):
            if nth and later and _dried(every[nth - 1], every[later - 1]):
                again.setdefault(number, (Said(nth, every[nth - 1]), at))
    return {**found, **again}


def begun_with(shop: Shop, set_id: int) -> Said | None:
    """What a set's wood was as it began to dry: the newest said, but not what was said of it since
    for pieces that went on the lathe again dry."""
    every = kept.woods(shop, set_id)
    numbers = {number for number, _, _ in kept.mountings(shop, set_id)}
    wet = [by for by, again in turned_wet(shop, set_id, numbers).values() if by and again]
    newest = max(wet, key=lambda by: by.nth, default=None)
    for nth in range(len(every), 0, -1):
        if newest is None or not _dried(newest.wood, every[nth - 1]):
            return Said(nth, every[nth - 1])
    return newest


def is_round(shop: Shop, set_id: int, number: int) -> bool:
    """Whether a piece was turned before it dried: it goes on the lathe again round."""
    return turned_wet(shop, set_id, [number])[number][1] is not None


def _dried(wet: Wood, dry: Wood) -> bool:
    return dried_enough(wet.moisture, dry.moisture, wet.saturation_percent)


def mount(
    shop: Shop, db: Database, set_id: int, number: int, holds: Said | None, *, at: str
) -> None:
    """Freeze a piece's sizes, at the first thing done to it. Call inside a transaction.

    Of a set whose wood nobody told there is nothing to freeze.
    """
    if (holds or kept.woods(shop, set_id)) and number not in kept.mounted(shop, set_id):
        kept.mount(db, set_id, number, holds.nth if holds else 0, at=at)


def turning_of(wood: Wood) -> now.Turning:
    """What the wood does between the lathe and the chair."""
    wet = wood.moisture > WET
    return now.Turning(
        radial_percent=wood.radial_percent,
        tangential_percent=wood.tangential_percent,
        from_mc=wood.moisture,
        to_mc=(wood.driest_mc + wood.dampest_mc) / 2,
        sizing_mm=wood.sizing_mm if wood.route == "green" and wet else 0.0,
        rough_mm=wood.rough_mm,
        roughing=wood.route == "rough" and wet,
        fiber_saturation=wood.saturation_percent,
    )
