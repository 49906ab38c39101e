"""What tenons measure dry, before they are brought to their last size."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from benchside.job import wood_of
from benchside.store import fitting as store
from benchside.store import readings
from benchside.store import wood as woods
from benchside.store.database import Shop
from benchside.store.fitting import Axis, Later
from benchside.store.wood import Wood
from benchside.wood.shrinkage import size_to_turn_mm


@dataclass(frozen=True, slots=True)
class DryTenon:
    """A tenon as it was read, at a moisture in percent; ``wide_mm`` None: one way only. [mm]"""

    wide_mm: float | None
    narrow_mm: float
    moisture: float
    taken_at: str


def measured(shop: Shop, set_id: int) -> Mapping[tuple[int, str], DryTenon]:
    """The newest by piece and place: read again when dry, or at the lathe of dry wood."""
    found: dict[tuple[int, str], DryTenon] = {}
    wide: dict[tuple[int, str], float] = {}
    dry = [r for r in store.later(shop, set_id) if r.what == "dry" and r.struck_at is None]
    for later in sorted(dry, key=lambda read: read.axis):
        where = (later.spindle, later.station_id)
        if later.axis == "A":
            wide[where] = later.value_mm
        else:
            tenon = DryTenon(wide.get(where), later.value_mm, later.moisture, later.taken_at)
            _newest(found, where, tenon)
    turned = at_lathe(shop, set_id)
    holds = wood_of.of_pieces(shop, set_id, {number for number, _ in turned})
    for where, ways in turned.items():
        said = holds[where[0]]
        narrow, wide_read = (
            pick(ways.values(), key=lambda read: read.value_mm) for pick in (min, max)
        )
        if said is not None and said.state == "dry":
            wide_mm = wide_read.value_mm if len(ways) > 1 else None
            tenon = DryTenon(wide_mm, narrow.value_mm, said.wood.moisture, narrow.taken_at)
            _newest(found, where, tenon)
    return found


def at_lathe(shop: Shop, set_id: int) -> dict[tuple[int, str], dict[str, readings.Reading]]:
    """The final sizes that were read at the lathe of dry wood, by piece and place, then by way;
    of a piece that was put on it again, those since."""
    found: dict[tuple[int, str], dict[str, readings.Reading]] = {}
    again = woods.mounted_again(shop, set_id)
    for read in readings.standing(shop, set_id):
        since = read.taken_at >= again.get(read.spindle, "")
        if since and (read.kind, read.phase, read.state) == ("diameter", "final", "dry"):
            found.setdefault((read.spindle, read.station_id), {})[read.axis] = read
    return found


def as_sized(read: readings.Reading, axis: Axis, moisture: float) -> Later:
    """A size read at the lathe, as a tenon brought to its size is kept. [%]"""
    return Later(
        key=read.key,
        spindle=read.spindle,
        station_id=read.station_id,
        what="sized",
        axis=axis,
        typed=read.typed,
        unit=read.unit,
        value_mm=read.value_mm,
        expected_mm=read.target_mm,
        moisture=moisture,
        taken_at=read.taken_at,
    )


def at_mm(tenon: DryTenon, wood: Wood, mc: float) -> tuple[float | None, float]:
    """What its wide way, along the rays, and its narrow one come to at another moisture. [mm, %]"""
    wide_mm, narrow_mm = (
        None
        if mm is None
        else size_to_turn_mm(
            mm, percent, mc, tenon.moisture, fiber_saturation=wood.saturation_percent
        )
        for mm, percent in (
            (tenon.wide_mm, wood.radial_percent),
            (tenon.narrow_mm, wood.tangential_percent),
        )
    )
    assert narrow_mm is not None
    return wide_mm, narrow_mm


def comes_dry_mm(drawn_mm: float, wood: Wood, mc: float) -> float:
    """The narrow way that a tenon drawn so is meant to come to its last cut with. [mm, %]"""
    turning = wood_of.turning_of(wood)
    return size_to_turn_mm(
        drawn_mm,
        wood.tangential_percent,
        mc,
        turning.to_mc,
        allowance_mm=turning.rough_mm if turning.roughing else turning.sizing_mm,
        fiber_saturation=wood.saturation_percent,
    )


def _newest(
    found: dict[tuple[int, str], DryTenon], where: tuple[int, str], tenon: DryTenon
) -> None:
    if where not in found or found[where].taken_at <= tenon.taken_at:
        found[where] = tenon
