"""What the scales say of each piece: its moisture by its weights, and whether that is dry."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime

from benchside import units
from benchside.errors import BenchsideError, OutOfRange
from benchside.job import wood_of
from benchside.store import wood as kept_wood
from benchside.store.database import Shop
from benchside.store.wood import Room, Weighing
from benchside.wood import drying
from benchside.wood.drying import Forecast, Verdict
from benchside.wood.moisture import emc_percent, moisture_percent, of_slices, ovendry_mass_g

DAY_S = 86_400.0
SAFE_ROOM = (22.0, 30.0)  # judgement: a heated shop in winter, until the maker says


@dataclass(frozen=True, slots=True)
class Dries:
    """One piece on the scales. ``days`` count from its first weighing; moistures in percent.

    ``forecast`` is None while there are too few weighings or none is possible; ``trouble`` says
    what is wrong with its weights.
    """

    number: int
    weighings: tuple[Weighing, ...]
    days: tuple[float, ...]
    moistures: tuple[float, ...]
    ovendry_g: float
    verdict: Verdict | None
    moisture_now: float | None
    forecast: Forecast | None
    trouble: BenchsideError | None


def verdicts(shop: Shop, set_id: int) -> dict[int, Dries]:
    """What the scales say of each piece that was weighed, without a forecast."""
    said = wood_of.said(shop, set_id)
    if said is None:
        return {}
    room = kept_wood.room(shop, set_id) or Room(*SAFE_ROOM, None)
    air = emc_percent(room.temperature_c, room.rh_percent)
    start, _ = start_of(shop, set_id)
    found: dict[int, list[Weighing]] = {}
    for weighing in kept_wood.weighings(shop, set_id):
        if weighing.struck_at is None:
            found.setdefault(weighing.spindle, []).append(weighing)
    return {n: so_far(n, each, start, air, said.wood.dry_mc) for n, each in found.items()}


def last_weighed(shop: Shop, set_id: int) -> dict[int, tuple[str, float]]:
    """When each piece was last weighed and what it holds by that, where that can be. [%]"""
    start, _ = start_of(shop, set_id)
    ends: dict[int, tuple[float, Weighing]] = {}
    for w in kept_wood.weighings(shop, set_id) if wood_of.said(shop, set_id) else ():
        if w.struck_at is None:
            ends[w.spindle] = (ends.get(w.spindle, (w.mass_g, w))[0], w)
    found = {}
    for number, (first_g, last) in ends.items():
        with suppress(OutOfRange):  # its scales' own page says what is wrong
            mc = moisture_percent(last.mass_g, ovendry_mass_g(first_g, start))
            found[number] = (last.taken_at, mc)
    return found


def start_of(shop: Shop, set_id: int) -> tuple[float, float]:
    """The moisture it began with, and how far the offcuts disagree. [%]"""
    slices = [s for s in kept_wood.slices(shop, set_id) if s.struck_at is None]
    weights_g = [(s.wet_g, s.dry_g) for s in slices if s.dry_g is not None]
    if weights_g:
        return of_slices(weights_g)
    begun = wood_of.begun_with(shop, set_id)
    return (begun.wood.moisture if begun else 0.0), 0.0


def so_far(number: int, found: list[Weighing], start: float, air: float, target: float) -> Dries:
    """What the weights of one piece say: begun at a moisture, in an air, to be dry at. [%]"""
    begun = seconds(found[0].taken_at)
    days = tuple((seconds(w.taken_at) - begun) / DAY_S for w in found)
    masses = [w.mass_g for w in found]
    ovendry = ovendry_mass_g(masses[0], start)
    moistures = tuple(100 * (mass / ovendry - 1) for mass in masses)
    step_g = max(step_of_g(w) for w in found)
    dries = Dries(number, tuple(found), days, moistures, ovendry, None, None, None, None)
    try:
        verdict, moisture = drying.standing(days, masses, ovendry, air, target, step_g=step_g)
    except OutOfRange as trouble:
        return replace(dries, trouble=trouble)
    return replace(dries, verdict=verdict, moisture_now=moisture)


def step_of_g(weighing: Weighing) -> float:
    """What the scales round to; of a text brought in that is no weight, a tenth of its unit. [g]"""
    try:
        return units.mass_step_g(weighing.typed, weighing.unit)
    except BenchsideError:
        return float(units.GRAMS[weighing.unit]) / 10


def seconds(moment: str) -> float:
    """A moment in seconds, to reckon days with."""
    return datetime.fromisoformat(moment).timestamp()
