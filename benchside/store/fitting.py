"""Every query about what comes after turning: sizes read again when dry and when a tenon is sized,
the shop's test holes, the parts of a set with their holes, and what goes into which.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any, Literal

from sqlite_utils import Database

from benchside.errors import NotFound
from benchside.store import write
from benchside.store.database import Row, Shop
from benchside.units import Unit

Axis = Literal["A", "B"]
Across = Literal["tangential", "radial", "between"]
Turned = Literal["along", "across"]


@dataclass(frozen=True, slots=True)
class Later:
    """One reading after turning: of a piece dried, or of a tenon brought to its fit.

    ``axis`` A is the wide way, along the rays; B a quarter turn on. ``expected_mm`` is what was
    expected there, where anything was; ``moisture`` what the piece is said to be at. [percent]
    """

    key: str
    spindle: int
    station_id: str
    what: Literal["dry", "sized"]
    axis: Axis
    typed: str
    unit: Unit
    value_mm: float
    expected_mm: float | None
    moisture: float
    taken_at: str
    struck_at: str | None = None


@dataclass(frozen=True, slots=True)
class TestHole:
    """A hole bored to try tenons in. ``named_mm`` is the size on the bit, ``named_typed`` as it was
    typed; empty where that is not known."""

    __test__ = False

    key: str
    bit: str
    named_mm: float
    species: str
    depth_mm: float | None
    unit: Unit
    note: str
    uses: int
    bored_at: str
    worn_at: str | None
    named_typed: str = ""


@dataclass(frozen=True, slots=True)
class HoleReading:
    """One size of a hole. ``hole`` is its number in a part; 0 for a test hole."""

    key: str
    hole: int
    axis: Axis
    typed: str
    unit: Unit
    value_mm: float
    taken_at: str
    struck_at: str | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """A part with mortises: a seat, a rail, a post.

    ``moisture`` is the part's when it is bored; ``across`` the way its wood lies across the grain
    at the mouths of its holes; ``tenon`` the station of the tenon that goes in. ``school`` names
    the way of fitting, "own" with ``own_fit_mm``; ``tenon_moisture`` is the tenon's when it is
    sized, ``turning`` how its rays lie to the part's grain.
    """

    key: str
    name: str
    species: str
    moisture: float
    across: Across
    tenon: str
    test_hole: str | None
    school: str
    own_fit_mm: float | None
    tenon_moisture: float
    turning: Turned
    made_at: str


@dataclass(frozen=True, slots=True)
class Fitted:
    """A tenon that went home."""

    spindle: int
    tenon: str
    at: str


def names(kind: type[Any], *without: str) -> list[str]:
    """The columns of a kind of row."""
    return [f.name for f in fields(kind) if f.name not in without]


# ------------------------------------------------------------------ read again


def later(shop: Shop, set_id: int) -> list[Later]:
    """Every reading after turning, in the order kept, those struck out included."""
    columns = ", ".join(names(Later))
    sql = f"SELECT {columns} FROM later_reading WHERE set_id = :id ORDER BY id"
    return [Later(**row) for row in shop.rows(sql, {"id": set_id})]


def add_later(db: Database, set_id: int, reading: Later) -> None:
    """Keep a reading; the same key twice is one row. Call inside a transaction.

    Raises `KeyReused` when the key was kept with something else in it.
    """
    _add(db, "later_reading", {"set_id": set_id, **_values(reading)}, "moisture", "expected_mm")


def strike_later(db: Database, set_id: int, key: str, at: str | None) -> None:
    """Strike a reading out, or with None let it count again. Raises `NotFound`."""
    _strike(db, "later_reading", "set_id", set_id, key, at)


def log(shop: Shop, set_id: int) -> str:
    """The log a set's wood is from; empty where that was not said."""
    row = shop.row("SELECT log FROM log_of WHERE set_id = :id", {"id": set_id})
    return "" if row is None else str(row["log"])


def keep_log(db: Database, set_id: int, said: str) -> None:
    """Keep it anew, or with nothing let it be unsaid. Call inside a transaction."""
    db.execute("DELETE FROM log_of WHERE set_id = ?", [set_id])
    if said:
        db.execute("INSERT INTO log_of (set_id, log) VALUES (?, ?)", [set_id, said])


def sets_of_log(shop: Shop, said: str) -> list[int]:
    """The sets whose wood is from that log, whatever the case of its letters, oldest first."""
    rows = shop.rows("SELECT set_id, log FROM log_of ORDER BY set_id")
    return [row["set_id"] for row in rows if row["log"].casefold() == said.casefold()]


# ------------------------------------------------------------------ test holes


def test_holes(shop: Shop) -> list[TestHole]:
    """All of them, the newest first."""
    return [
        TestHole(**row) for row in shop.rows("SELECT * FROM test_hole ORDER BY bored_at DESC, key")
    ]


def test_hole(shop: Shop, key: str) -> TestHole:
    """One of them. Raises `NotFound`."""
    row = shop.row("SELECT * FROM test_hole WHERE key = :key", {"key": key})
    if row is None:
        raise NotFound("There is no such test hole.")
    return TestHole(**row)


def add_test_hole(db: Database, hole: TestHole) -> None:
    """A new one; the same key twice is one. Call inside a transaction."""
    _add(db, "test_hole", _values(hole), "uses", "bored_at", "worn_at", "named_typed")


def change_test_hole(db: Database, key: str, **columns: str | int | None) -> None:
    """Change columns of its own row. Call inside a transaction."""
    write.change(db, "test_hole", columns, key=key)


def test_hole_readings(shop: Shop, key: str) -> list[HoleReading]:
    """What was read of a test hole, in the order kept, those struck out included."""
    columns = ", ".join(names(HoleReading, "hole"))
    sql = f"SELECT {columns} FROM hole_reading WHERE hole = :key ORDER BY id"
    return [HoleReading(hole=0, **row) for row in shop.rows(sql, {"key": key})]


def add_test_hole_reading(db: Database, hole: str, reading: HoleReading) -> None:
    """Keep a reading; the same key twice is one row. Call inside a transaction."""
    _add(db, "hole_reading", {**_values(reading), "hole": hole})


def strike_test_hole_reading(db: Database, hole: str, key: str, at: str | None) -> None:
    """Strike a reading out, or with None let it count again. Raises `NotFound`."""
    _strike(db, "hole_reading", "hole", hole, key, at)


# ------------------------------------------------------------------ parts


def parts(shop: Shop, set_id: int) -> list[Part]:
    """The parts of a set with mortises, in the order made."""
    columns = ", ".join(names(Part))
    sql = f"SELECT {columns} FROM part WHERE set_id = :id ORDER BY made_at, key"
    return [Part(**row) for row in shop.rows(sql, {"id": set_id})]


def part(shop: Shop, set_id: int, key: str) -> Part:
    """One of them. Raises `NotFound`."""
    for found in parts(shop, set_id):
        if found.key == key:
            return found
    raise NotFound("This set has no such part.")


def keep_part(db: Database, set_id: int, kept: Part) -> None:
    """Add a part, or keep it anew under its key. Call inside a transaction."""
    values = {"set_id": set_id, **_values(kept)}
    columns = ", ".join(values)
    places = ", ".join(f":{name}" for name in values)
    anew = ", ".join(
        f"{name} = excluded.{name}" for name in values if name not in ("set_id", "key", "made_at")
    )
    db.execute(
        f"INSERT INTO part ({columns}) VALUES ({places}) ON CONFLICT (key) DO UPDATE SET {anew}",
        values,
    )


def mortises(shop: Shop, set_id: int) -> dict[str, list[HoleReading]]:
    """What was read of the holes of a set's parts, by the part's key, in the order kept."""
    columns = ", ".join(f"r.{name}" for name in names(HoleReading))
    found: dict[str, list[HoleReading]] = {}
    for row in shop.rows(
        f"SELECT r.part, {columns} FROM mortise_reading r JOIN part p ON p.key = r.part"
        " WHERE p.set_id = :id ORDER BY r.id",
        {"id": set_id},
    ):
        found.setdefault(row.pop("part"), []).append(HoleReading(**row))
    return found


def add_mortise(db: Database, part_key: str, reading: HoleReading) -> None:
    """Keep a reading; the same key twice is one row. Call inside a transaction."""
    _add(db, "mortise_reading", {**_values(reading), "part": part_key})


def strike_mortise(db: Database, part_key: str, key: str, at: str | None) -> None:
    """Strike a reading out, or with None let it count again. Raises `NotFound`."""
    _strike(db, "mortise_reading", "part", part_key, key, at)


# ------------------------------------------------------------------ what goes where


def holes_of(shop: Shop, set_id: int) -> dict[int, int]:
    """The number of the hole that each spindle goes into, by spindle."""
    rows = shop.rows(
        "SELECT spindle, hole FROM hole_of WHERE set_id = :id ORDER BY hole", {"id": set_id}
    )
    return {row["spindle"]: row["hole"] for row in rows}


def keep_holes_of(db: Database, set_id: int, holes: dict[int, int]) -> None:
    """Keep anew which spindle goes into which hole. Call inside a transaction."""
    db.execute("DELETE FROM hole_of WHERE set_id = ?", [set_id])
    for spindle, hole in holes.items():
        db.execute(
            "INSERT INTO hole_of (set_id, spindle, hole) VALUES (?, ?, ?)", [set_id, spindle, hole]
        )


def fitted(shop: Shop, set_id: int) -> list[Fitted]:
    """The tenons that went home, in the order they did."""
    rows = shop.rows(
        "SELECT spindle, tenon, at FROM fitted WHERE set_id = :id ORDER BY at, spindle, tenon",
        {"id": set_id},
    )
    return [Fitted(**row) for row in rows]


def keep_fitted(db: Database, set_id: int, kept: Fitted) -> None:
    """Note that a tenon went home; the first time stays. Call inside a transaction."""
    db.execute(
        "INSERT INTO fitted (set_id, spindle, tenon, at) VALUES (?, ?, ?, ?)"
        " ON CONFLICT DO NOTHING",
        [set_id, kept.spindle, kept.tenon, kept.at],
    )


def take_out(db: Database, set_id: int, spindle: int, tenon: str) -> None:
    """Note that it came out again. Call inside a transaction."""
    db.execute(
        "DELETE FROM fitted WHERE set_id = ? AND spindle = ? AND tenon = ?",
        [set_id, spindle, tenon],
    )


# ------------------------------------------------------------------ whole, for an export


@dataclass(frozen=True, slots=True)
class KeptHole:
    """A test hole with all that was read of it."""

    kept: TestHole
    readings: tuple[HoleReading, ...]


@dataclass(frozen=True, slots=True)
class KeptPart:
    """A part of a set with all that was read of its holes."""

    kept: Part
    readings: tuple[HoleReading, ...]


@dataclass(frozen=True, slots=True)
class FitOfSet:
    """All that is known of a set after turning, for carrying it elsewhere."""

    later: tuple[Later, ...] = ()
    log: str = ""
    parts: tuple[KeptPart, ...] = ()
    holes_of: tuple[tuple[int, int], ...] = ()
    fitted: tuple[Fitted, ...] = ()


def whole_holes(shop: Shop) -> list[KeptHole]:
    """Every test hole, the oldest first."""
    return [
        KeptHole(kept, tuple(test_hole_readings(shop, kept.key)))
        for kept in reversed(test_holes(shop))
    ]


def whole(shop: Shop, set_id: int) -> FitOfSet:
    """All that is known of a set after turning."""
    read = mortises(shop, set_id)
    return FitOfSet(
        later=tuple(later(shop, set_id)),
        log=log(shop, set_id),
        parts=tuple(KeptPart(kept, tuple(read.get(kept.key, ()))) for kept in parts(shop, set_id)),
        holes_of=tuple(holes_of(shop, set_id).items()),
        fitted=tuple(fitted(shop, set_id)),
    )


def add_whole(db: Database, set_id: int, found: FitOfSet) -> None:
    """All of that into a set that has none of it yet. Call inside a transaction."""
    for reading in found.later:
        add_later(db, set_id, reading)
    keep_log(db, set_id, found.log)
    for part_of in found.parts:
        keep_part(db, set_id, part_of.kept)
        for read in part_of.readings:
            add_mortise(db, part_of.kept.key, read)
    keep_holes_of(db, set_id, dict(found.holes_of))
    for home in found.fitted:
        keep_fitted(db, set_id, home)


def set_with(db: Database, found: FitOfSet) -> str | None:
    """The name of the first set that holds one of these readings or parts."""
    for key in (reading.key for reading in found.later):
        if name := _set_with(db, "later_reading", key):
            return name
    for key in (part_of.kept.key for part_of in found.parts):
        if name := _set_with(db, "part", key):
            return name
    return None


def _set_with(db: Database, table: str, key: str) -> str | None:
    row = db.execute(
        f"SELECT s.name FROM spindle_set s JOIN {table} r ON r.set_id = s.id WHERE r.key = ?",
        [key],
    ).fetchone()
    return None if row is None else str(row[0])


# ------------------------------------------------------------------ rows


def _values(kept: Later | HoleReading | TestHole | Part) -> Row:
    return {f.name: getattr(kept, f.name) for f in fields(kept)}


def _add(db: Database, table: str, values: Row, *each_sending: str) -> None:
    write.once(db, table, values, each_sending=("taken_at", "struck_at", *each_sending))


def _strike(
    db: Database, table: str, owner: str, whose: int | str, key: str, at: str | None
) -> None:
    struck = db.execute(
        f"UPDATE {table} SET struck_at = ? WHERE {owner} = ? AND key = ?", [at, whose, key]
    )
    if struck.rowcount == 0:
        raise NotFound("There is no such reading.")
