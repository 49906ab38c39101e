"""Every query about wood: own species, what a set is made of, and its weights while drying."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass, fields
from functools import cache
from typing import Any, Literal, get_args

from sqlite_utils import Database

from benchside.errors import KeyReused
from benchside.store import write
from benchside.store.database import Shop
from benchside.wood.species import FIBER_SATURATION

State = Literal["green", "air-dry", "kiln-dry", "figure"]
Route = Literal["green", "rough", "dry"]
MassUnit = Literal["g", "oz"]
Moment = Literal["dried", "sized", "fitted"]
STATES: tuple[State, ...] = get_args(State)
ROUTES: tuple[Route, ...] = get_args(Route)
MASS_UNITS: tuple[MassUnit, ...] = get_args(MassUnit)
MOMENTS: tuple[Moment, ...] = get_args(Moment)


@dataclass(frozen=True, slots=True)
class OwnSpecies:
    """A species with the maker's own figures. [% of the green size, % of the dry weight]"""

    name: str
    botanical_name: str
    radial_percent: float
    tangential_percent: float
    gravity_green: float | None
    green_percent: float | None
    made_at: str


@dataclass(frozen=True, slots=True)
class Wood:
    """What a set is made of, as said at one moment; rows are only added and the newest counts.

    ``radial_percent`` and ``tangential_percent`` are what is reckoned with: the book's, or what
    was ``learned``. ``moisture`` is that of now, ``dry_mc`` what counts as dry, ``driest_mc`` and
    ``dampest_mc`` the year it will live through; with a climate these come of its four figures.
    ``sizing_mm`` is left on tenons for the last cut, ``rough_mm`` on everything by a route that
    roughs first. Below ``saturation_percent`` it shrinks.
    """

    species: str
    radial_percent: float
    tangential_percent: float
    learned: bool
    state: State
    moisture: float
    route: Route
    climate: str
    winter_c: float | None
    winter_rh: float | None
    summer_c: float | None
    summer_rh: float | None
    driest_mc: float
    dampest_mc: float
    dry_mc: float
    sizing_mm: float
    rough_mm: float
    given_at: str
    saturation_percent: float = FIBER_SATURATION


@dataclass(frozen=True, slots=True)
class Room:
    """The air that a set dries in, and what is known of its pace. [°C, %, m²/s]"""

    temperature_c: float
    rh_percent: float
    diffusion_m2_s: float | None


@dataclass(frozen=True, slots=True)
class Slice:
    """An offcut weighed wet, and once it is out of the oven, dry. [g]"""

    key: str
    unit: MassUnit
    wet_g: float
    dry_g: float | None
    cut_at: str
    struck_at: str | None


@dataclass(frozen=True, slots=True)
class Weighing:
    """One piece on the scales; one that was wrong is struck out and stays. [g]"""

    key: str
    spindle: int
    typed: str
    unit: MassUnit
    mass_g: float
    taken_at: str
    struck_at: str | None


@dataclass(frozen=True, slots=True)
class DryingMark:
    """When a piece (None: all of the set) came out dry, was sized, was fitted."""

    key: str
    spindle: int | None
    what: Moment
    at: str


# ------------------------------------------------------------------ species


def own_species(shop: Shop) -> list[OwnSpecies]:
    """The maker's own species, by name."""
    return [
        OwnSpecies(**row)
        for row in shop.rows(f"SELECT {_names(OwnSpecies)} FROM own_species ORDER BY name")
    ]


def keep_own_species(db: Database, own: OwnSpecies) -> None:
    """Keep a species; one of the same name is replaced. Call inside a transaction."""
    db.execute("DELETE FROM own_species WHERE name = ?", [own.name])
    write.row(db, "own_species", asdict(own))


# ------------------------------------------------------------------ what a set is made of


def woods(shop: Shop, set_id: int) -> list[Wood]:
    """All that was ever said of a set's wood, oldest first."""
    rows = shop.rows(
        f"SELECT {_names(Wood)} FROM set_wood WHERE set_id = :set_id ORDER BY nth",
        {"set_id": set_id},
    )
    return [Wood(**{**row, "learned": bool(row["learned"])}) for row in rows]


def add_wood(db: Database, set_id: int, wood: Wood) -> int:
    """Say what a set is made of; returns how manieth saying it is. Call inside a transaction."""
    nth = 1 + int(
        db.execute("SELECT count(*) FROM set_wood WHERE set_id = ?", [set_id]).fetchone()[0]
    )
    write.row(db, "set_wood", {"set_id": set_id, "nth": nth, **asdict(wood)})
    return nth


def mounted(shop: Shop, set_id: int) -> dict[int, int]:
    """The saying (from 1; 0: none yet) that each piece was mounted by, the newest of each."""
    rows = shop.rows(
        "SELECT spindle, coalesce(nth, 0) AS nth FROM spindle_wood"
        " WHERE set_id = :set_id ORDER BY id",
        {"set_id": set_id},
    )
    return {row["spindle"]: row["nth"] for row in rows}


def mounted_for(shop: Shop, set_id: int, key: str) -> int | None:
    """The saying that a piece stood on the lathe by when a reading, by its key, was taken.

    What was read before any was noted of its piece goes by the first, noted as wood was told.
    """
    row = shop.row(
        """
        SELECT coalesce(w.nth, 0) AS nth FROM spindle_wood w JOIN reading r
            ON r.set_id = w.set_id AND r.spindle = w.spindle
        WHERE r.set_id = :set_id AND r.key = :key
        ORDER BY CASE WHEN r.taken_at >= w.at THEN w.id ELSE -w.id END DESC LIMIT 1
        """,
        {"set_id": set_id, "key": key},
    )
    return None if row is None else int(row["nth"])


def mount(db: Database, set_id: int, spindle: int, nth: int, *, at: str) -> None:
    """Freeze the sizes of a piece to a saying (0: the finished ones). Call inside a transaction."""
    write.row(
        db, "spindle_wood", {"set_id": set_id, "spindle": spindle, "nth": nth or None, "at": at}
    )


def mounted_again(shop: Shop, set_id: int) -> dict[int, str]:
    """When a piece was last put on the lathe again with other sizes, by piece."""
    rows = shop.rows(
        "SELECT spindle, max(at) AS at FROM spindle_wood WHERE set_id = :set_id"
        " GROUP BY spindle HAVING count(*) > 1",
        {"set_id": set_id},
    )
    return {row["spindle"]: row["at"] for row in rows}


def mountings(shop: Shop, set_id: int) -> list[tuple[int, int, str]]:
    """Every mounting: piece, saying, moment; in the order made."""
    rows = shop.rows(
        "SELECT spindle, coalesce(nth, 0) AS nth, at FROM spindle_wood"
        " WHERE set_id = :set_id ORDER BY id",
        {"set_id": set_id},
    )
    return [(row["spindle"], row["nth"], row["at"]) for row in rows]


# ------------------------------------------------------------------ drying


def room(shop: Shop, set_id: int) -> Room | None:
    """The air a set dries in, if that was said."""
    row = shop.row(
        f"SELECT {_names(Room)} FROM drying_room WHERE set_id = :set_id", {"set_id": set_id}
    )
    return None if row is None else Room(**row)


def keep_room(db: Database, set_id: int, said: Room) -> None:
    """Say what air a set dries in. Call inside a transaction."""
    db.execute("DELETE FROM drying_room WHERE set_id = ?", [set_id])
    write.row(db, "drying_room", {"set_id": set_id, **asdict(said)})


def slices(shop: Shop, set_id: int) -> list[Slice]:
    """The offcuts of a set, in the order cut, struck ones too."""
    rows = shop.rows(
        f"SELECT {_names(Slice)} FROM oven_slice WHERE set_id = :set_id ORDER BY cut_at, key",
        {"set_id": set_id},
    )
    return [Slice(**row) for row in rows]


def keep_slice(db: Database, set_id: int, found: Slice) -> None:
    """Keep an offcut, or what it weighs now that it is dry. Call inside a transaction."""
    db.execute("DELETE FROM oven_slice WHERE key = ? AND set_id = ?", [found.key, set_id])
    write.row(db, "oven_slice", {"set_id": set_id, **asdict(found)})


def weighings(shop: Shop, set_id: int) -> list[Weighing]:
    """Every weighing of a set in order of time, struck ones too."""
    rows = shop.rows(
        f"SELECT {_names(Weighing)} FROM weighing WHERE set_id = :set_id ORDER BY taken_at, id",
        {"set_id": set_id},
    )
    return [Weighing(**row) for row in rows]


def add_weighing(db: Database, set_id: int, found: Weighing) -> None:
    """Keep a weighing; the same key twice is one. Call inside a transaction.

    Raises `KeyReused` when the key was kept with another weight.
    """
    row = db.execute("SELECT mass_g, spindle FROM weighing WHERE key = ?", [found.key]).fetchone()
    if row is None:
        write.row(db, "weighing", {"set_id": set_id, **asdict(found)})
    elif row != (found.mass_g, found.spindle):
        raise KeyReused("This was already saved with another weight in it.", field="mass")


def strike_weighing(db: Database, set_id: int, key: str, *, at: str) -> None:
    """Strike one weighing out; it stays. Call inside a transaction."""
    db.execute(
        "UPDATE weighing SET struck_at = ? WHERE key = ? AND set_id = ? AND struck_at IS NULL",
        [at, key, set_id],
    )


def drying_marks(shop: Shop, set_id: int) -> list[DryingMark]:
    """When pieces came out dry, were sized and fitted; in order of time."""
    rows = shop.rows(
        f"SELECT {_names(DryingMark)} FROM drying_mark WHERE set_id = :set_id ORDER BY at, id",
        {"set_id": set_id},
    )
    return [DryingMark(**row) for row in rows]


def add_drying_mark(db: Database, set_id: int, mark: DryingMark) -> None:
    """Keep such a moment; the same key twice is one. Call inside a transaction."""
    if db.execute("SELECT 1 FROM drying_mark WHERE key = ?", [mark.key]).fetchone() is None:
        write.row(db, "drying_mark", {"set_id": set_id, **asdict(mark)})


# ------------------------------------------------------------------ whole, for an export


@dataclass(frozen=True, slots=True)
class WoodOfSet:
    """All that is known of a set's wood, for carrying it elsewhere."""

    woods: tuple[Wood, ...] = ()
    mounted: tuple[tuple[int, int, str], ...] = ()
    room: Room | None = None
    slices: tuple[Slice, ...] = ()
    weighings: tuple[Weighing, ...] = ()
    drying_marks: tuple[DryingMark, ...] = ()


def whole(shop: Shop, set_id: int) -> WoodOfSet:
    """All that is known of a set's wood."""
    return WoodOfSet(
        woods=tuple(woods(shop, set_id)),
        mounted=tuple(mountings(shop, set_id)),
        room=room(shop, set_id),
        slices=tuple(slices(shop, set_id)),
        weighings=tuple(weighings(shop, set_id)),
        drying_marks=tuple(drying_marks(shop, set_id)),
    )


def add_whole(db: Database, set_id: int, found: WoodOfSet) -> None:
    """All of that into a set that has none of it yet. Call inside a transaction."""
    for wood in found.woods:
        add_wood(db, set_id, wood)
    for spindle, nth, at in found.mounted:
        mount(db, set_id, spindle, nth, at=at)
    if found.room is not None:
        keep_room(db, set_id, found.room)
    rows: Iterable[tuple[str, Iterable[Any]]] = (
        ("oven_slice", found.slices),
        ("weighing", found.weighings),
        ("drying_mark", found.drying_marks),
    )
    for table, kept in rows:
        for row in kept:
            write.row(db, table, {"set_id": set_id, **asdict(row)})


def set_with(db: Database, found: WoodOfSet) -> str | None:
    """The name of the first set that holds one of these weighings, offcuts or moments."""
    rows = (
        *(("weighing", row.key) for row in found.weighings),
        *(("oven_slice", row.key) for row in found.slices),
        *(("drying_mark", row.key) for row in found.drying_marks),
    )
    for table, key in rows:
        row = db.execute(
            f"SELECT s.name FROM spindle_set s JOIN {table} r ON r.set_id = s.id WHERE r.key = ?",
            [key],
        ).fetchone()
        if row is not None:
            return str(row[0])
    return None


@cache
def _names(kind: type[Any]) -> str:
    return ", ".join(field.name for field in fields(kind))
