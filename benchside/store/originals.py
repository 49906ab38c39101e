"""Every query about originals: parts measured so that new ones can be made to match."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass, fields
from typing import Literal

from sqlite_utils import Database

from benchside.errors import NotFound
from benchside.pattern import DatumEnd, Form, Kind
from benchside.store import write
from benchside.store.database import Shop
from benchside.units import Unit


@dataclass(frozen=True, slots=True)
class Original:
    """One part, or several that were alike once: ``pieces`` of them are at hand.

    ``pattern_id`` is the pattern made from it, if one was.
    """

    id: int
    name: str
    note: str
    unit: Unit
    datum_end: DatumEnd
    pieces: int
    next_station: int
    pattern_id: int | None
    made_at: str


@dataclass(frozen=True, slots=True)
class OriginalStation:
    """One place along it and the form that leads to the next. The id is given once."""

    id: str
    at_mm: float
    name: str
    kind: Kind
    form: Form


@dataclass(frozen=True, slots=True)
class OriginalReading:
    """One reading of one piece; ``axis`` B is a quarter turn on from A.

    ``place_id`` is a station's id, or that of a crown or root as in a pattern (``crown:ID``).
    ``struck_at`` is when it was struck out, if it was.
    """

    key: str
    piece: int
    place_id: str
    axis: Literal["A", "B"]
    typed: str
    unit: Unit
    value_mm: float
    taken_at: str
    struck_at: str | None = None


_STATION = tuple(field.name for field in fields(OriginalStation))
_READING = tuple(field.name for field in fields(OriginalReading))


def listed(shop: Shop) -> list[Original]:
    """All originals, newest first."""
    return [Original(**row) for row in shop.rows("SELECT * FROM original ORDER BY id DESC")]


def found(shop: Shop, original_id: int) -> Original:
    """One original. Raises `NotFound`."""
    row = shop.row("SELECT * FROM original WHERE id = :id", {"id": original_id})
    if row is None:
        raise NotFound("There is no such original.")
    return Original(**row)


def of_pattern(shop: Shop, pattern_id: int) -> list[Original]:
    """The originals a pattern was made from, oldest first."""
    rows = shop.rows(
        "SELECT * FROM original WHERE pattern_id = :id ORDER BY id", {"id": pattern_id}
    )
    return [Original(**row) for row in rows]


def stations(shop: Shop, original_id: int) -> list[OriginalStation]:
    """Its stations, from the datum end."""
    rows = shop.rows(
        f"SELECT {', '.join(_STATION)} FROM original_station WHERE original_id = :id"
        " ORDER BY at_mm, id",
        {"id": original_id},
    )
    return [OriginalStation(**row) for row in rows]


def every_reading(shop: Shop, original_id: int) -> list[OriginalReading]:
    """All its readings as they came, those struck out included."""
    rows = shop.rows(
        f"SELECT {', '.join(_READING)} FROM original_reading WHERE original_id = :id ORDER BY id",
        {"id": original_id},
    )
    return [OriginalReading(**row) for row in rows]


def add(db: Database, original: Original) -> int:
    """A new original, whatever its id; returns the id it gets. Call inside a transaction."""
    return write.row(
        db,
        "original",
        {f.name: getattr(original, f.name) for f in fields(original) if f.name != "id"},
    )


def change(db: Database, original_id: int, **columns: str | int | None) -> None:
    """Change columns of its own row. Call inside a transaction."""
    write.change(db, "original", columns, id=original_id)


def keep_stations(db: Database, original_id: int, kept: Iterable[OriginalStation]) -> None:
    """Its stations from now on; what was read at others stays. Call inside a transaction."""
    db.execute("DELETE FROM original_station WHERE original_id = ?", [original_id])
    write.rows(
        db, "original_station", [{"original_id": original_id, **asdict(one)} for one in kept]
    )


def add_reading(db: Database, original_id: int, reading: OriginalReading) -> None:
    """Keep a reading; the same key twice is one row. Call inside a transaction.

    Raises `KeyReused` when the key was kept with something else in it.
    """
    values = {"original_id": original_id, **asdict(reading)}
    write.once(
        db, "original_reading", values, each_sending=("typed", "unit", "taken_at", "struck_at")
    )


def strike(db: Database, original_id: int, key: str, at: str | None) -> None:
    """Strike a reading out, or with None let it count again. Call inside a transaction."""
    db.execute(
        "UPDATE original_reading SET struck_at = ? WHERE original_id = ? AND key = ?",
        [at, original_id, key],
    )
