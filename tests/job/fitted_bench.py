"""A set turned green, to be dried and fitted: what tests of drying and fitting start from."""

from __future__ import annotations

import random
from dataclasses import replace

from benchside.job import fit_forms, fitting, holes, logs
from benchside.job.fit_forms import Told
from benchside.store import sets, wood
from benchside.store import stock as stocked
from benchside.store.database import Shop
from benchside.store.readings import add
from benchside.store.stock import KeptBlank
from benchside.store.wood import Wood
from tests import shopfloor

AT, LATER = "2026-03-01T10:00:00.000Z", "2026-03-03T10:00:00.000Z"
LOWER, UPPER = "st1", "st10"
ASH = Wood(
    species="white ash",
    radial_percent=4.9,
    tangential_percent=7.8,
    learned=False,
    state="green",
    moisture=45.0,
    route="green",
    climate="own",
    winter_c=20.0,
    winter_rh=30.0,
    summer_c=22.0,
    summer_rh=60.0,
    driest_mc=6.0,
    dampest_mc=11.0,
    dry_mc=8.0,
    sizing_mm=0.3,
    rough_mm=2.0,
    given_at=AT,
)


def key(n: int) -> str:
    return f"{n:032x}"


def a_set(shop: Shop, *, pieces: int = 3, said: Wood | None = ASH, **changed: object) -> int:
    """A set of which so many pieces were read when they were turned, 1 mm over on each size."""
    kept = shopfloor.started(shop, wanted=4, spares=1, **changed)
    with shop.transaction() as db:
        if said is not None:
            wood.add_wood(db, kept.id, said)
    read(shop, kept, range(1, pieces + 1))
    return kept.id


def read(shop: Shop, kept: sets.SpindleSet, numbers: range) -> None:
    """Both tenons (two ways) and the swell of these pieces, as turned."""
    rng = random.Random(kept.id)
    with shop.transaction() as db:
        for number in numbers:
            for place, mm, axes in ((LOWER, 13.5, "AB"), (UPPER, 12.0, "AB"), ("st4", 23.0, "")):
                for axis in axes or ("none",):
                    add(db, shopfloor.reading(rng, kept, number, place, mm, AT, axis=axis))


def a_test_hole(shop: Shop, mm: tuple[str, str] = ("12.80", "12.76"), n: int = 900) -> str:
    holes.add(shop, holes.Told("Lip and spur", "12.7", unit="mm"), key=key(n), at=AT)
    both: dict[holes.Axis, str] = {"A": mm[0], "B": mm[1]}
    holes.read(shop, key(n), both, key=key(n + 1), sure=False, at=AT)
    return key(n)


SEAT = Told("Seat", "Soft Maple", "9", "tangential", LOWER, "", "snug", "", "6", "across")


def a_seat(shop: Shop, set_id: int, told: Told = SEAT, n: int = 800) -> fitting.PartFit:
    fit_forms.keep_part(shop, set_id, told, key=key(n), at=AT)
    return fitting.fitting(shop, set_id, now=AT).part(key(n))


def billets(shop: Shop, set_id: int, ring_deg: dict[int, float | None]) -> None:
    """Pieces that are billets of one log, the rings of each lying so."""
    told = replace(logs.bare_log(key(700), AT), set_id=set_id, name="Lane ash", unit="mm")
    log_id = logs.keep_log(shop, replace(told, length_mm=900.0, large_mm=400.0, small_mm=380.0))
    bare = KeptBlank(0, None, None, log_id, 0.0, 0.0, 0.0, 500.0, 30.0, 0.0, None, AT)
    blanks = [
        replace(bare, label=label, spindle=number, ring_deg=deg)
        for label, (number, deg) in enumerate(ring_deg.items(), 1)
    ]
    with shop.transaction() as db:
        stocked.keep_blanks(db, set_id, blanks)
