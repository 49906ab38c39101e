"""Parts of an export: what a set is made of and how it dried, and the maker's own species."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from benchside.job.exchange.document import Part
from benchside.job.exchange.parts import maybe, names, new_key, number_of
from benchside.store.wood import (
    MASS_UNITS,
    MOMENTS,
    ROUTES,
    STATES,
    DryingMark,
    OwnSpecies,
    Room,
    Slice,
    Weighing,
    Wood,
    WoodOfSet,
)
from benchside.wood.moisture import COLDEST_C, HOTTEST_C, MOST_PERCENT
from benchside.wood.species import FIBER_SATURATION, MOST_SHRINKAGE_PERCENT

HEAVIEST_G = 999_999.0  # judgement: a guard against nonsense, as in the database


def wood_out(found: WoodOfSet) -> dict[str, Any]:
    """All that is known of a set's wood."""
    return {
        "said": [asdict(wood) for wood in found.woods],
        "mounted": [{"spindle": s, "nth": nth, "at": at} for s, nth, at in found.mounted],
        "room": [] if found.room is None else [asdict(found.room)],
        "slices": [asdict(row) for row in found.slices],
        "weighings": [asdict(row) for row in found.weighings],
        "drying_marks": [asdict(row) for row in found.drying_marks],
    }


def wood_in(part: Part, numbers: set[int], keys: set[str]) -> WoodOfSet:
    """The same of a set that has spindles with these numbers; no key may stand twice."""
    p = part.named("said", "mounted", "room", "slices", "weighings", "drying_marks")
    said = tuple(_said(row) for row in p["said"].each())
    rooms = [_room(row) for row in p["room"].each()]
    if len(rooms) > 1:
        raise p["room"].wrong("a set dries in one room at a time.")
    return WoodOfSet(
        woods=said,
        mounted=tuple(_mounted(row, numbers, len(said)) for row in p["mounted"].each()),
        room=rooms[0] if rooms else None,
        slices=tuple(_slice(row, keys) for row in p["slices"].each()),
        weighings=tuple(_weighing(row, numbers, keys) for row in p["weighings"].each()),
        drying_marks=tuple(_mark(row, numbers, keys) for row in p["drying_marks"].each()),
    )


def species_in(part: Part) -> OwnSpecies:
    """A species of the maker's own."""
    p = part.named(*names(OwnSpecies))
    return OwnSpecies(
        name=p["name"].text(),
        botanical_name=p["botanical_name"].text(empty=True),
        radial_percent=p["radial_percent"].number(1e-9, MOST_SHRINKAGE_PERCENT),
        tangential_percent=p["tangential_percent"].number(1e-9, MOST_SHRINKAGE_PERCENT),
        gravity_green=maybe(p["gravity_green"], lambda found: found.number(1e-9, 1.5)),
        green_percent=maybe(p["green_percent"], lambda found: found.number(1e-9, MOST_PERCENT)),
        made_at=p["made_at"].moment(),
    )


def _said(part: Part) -> Wood:
    p = part.named(*names(Wood, "saturation_percent"), maybe=["saturation_percent"])
    below = p.get("saturation_percent")
    return Wood(
        species=p["species"].text(),
        radial_percent=p["radial_percent"].number(0, MOST_SHRINKAGE_PERCENT),
        tangential_percent=p["tangential_percent"].number(0, MOST_SHRINKAGE_PERCENT),
        learned=p["learned"].flag(),
        state=p["state"].one_of(STATES),
        moisture=_moisture(p["moisture"]),
        route=p["route"].one_of(ROUTES),
        climate=p["climate"].text(),
        winter_c=maybe(p["winter_c"], _celsius),
        winter_rh=maybe(p["winter_rh"], _humidity),
        summer_c=maybe(p["summer_c"], _celsius),
        summer_rh=maybe(p["summer_rh"], _humidity),
        driest_mc=_moisture(p["driest_mc"]),
        dampest_mc=_moisture(p["dampest_mc"]),
        dry_mc=_moisture(p["dry_mc"]),
        sizing_mm=p["sizing_mm"].number(0, 10),
        rough_mm=p["rough_mm"].number(0, 50),
        given_at=p["given_at"].moment(),
        saturation_percent=below.number(10, 50) if below else FIBER_SATURATION,
    )


def _mounted(part: Part, numbers: set[int], sayings: int) -> tuple[int, int, str]:
    p = part.named("spindle", "nth", "at")
    return (
        number_of(p["spindle"], numbers),
        p["nth"].whole(0, sayings),
        p["at"].moment(),
    )


def _room(part: Part) -> Room:
    p = part.named(*names(Room))
    return Room(
        temperature_c=_celsius(p["temperature_c"]),
        rh_percent=_humidity(p["rh_percent"]),
        diffusion_m2_s=maybe(p["diffusion_m2_s"], lambda found: found.number(1e-15, 1e-5)),
    )


def _slice(part: Part, keys: set[str]) -> Slice:
    p = part.named(*names(Slice))
    wet_g = p["wet_g"].number(1e-6, HEAVIEST_G)
    return Slice(
        key=new_key(p["key"], keys),
        unit=p["unit"].one_of(MASS_UNITS),
        wet_g=wet_g,
        dry_g=maybe(p["dry_g"], lambda found: found.number(1e-6, wet_g)),
        cut_at=p["cut_at"].moment(),
        struck_at=maybe(p["struck_at"], Part.moment),
    )


def _weighing(part: Part, numbers: set[int], keys: set[str]) -> Weighing:
    p = part.named(*names(Weighing))
    return Weighing(
        key=new_key(p["key"], keys),
        spindle=number_of(p["spindle"], numbers),
        typed=p["typed"].text(),
        unit=p["unit"].one_of(MASS_UNITS),
        mass_g=p["mass_g"].number(1e-6, HEAVIEST_G),
        taken_at=p["taken_at"].moment(),
        struck_at=maybe(p["struck_at"], Part.moment),
    )


def _mark(part: Part, numbers: set[int], keys: set[str]) -> DryingMark:
    p = part.named(*names(DryingMark))
    return DryingMark(
        key=new_key(p["key"], keys),
        spindle=None if p["spindle"].is_none else number_of(p["spindle"], numbers),
        what=p["what"].one_of(MOMENTS),
        at=p["at"].moment(),
    )


def _moisture(part: Part) -> float:
    return part.number(0, MOST_PERCENT)


def _celsius(part: Part) -> float:
    return part.number(COLDEST_C, HOTTEST_C)


def _humidity(part: Part) -> float:
    return part.number(0, 99.999)
