"""Every query about the phones and tablets that have been paired. Rows are never deleted."""

from __future__ import annotations

from dataclasses import dataclass

from sqlite_utils import Database

from benchside.errors import NotFound
from benchside.store import write
from benchside.store.database import Row, Shop


@dataclass(frozen=True, slots=True)
class Device:
    """A device that was let in once. ``shut_out_at`` is None while it still may come in."""

    id: int
    name: str
    paired_at: str
    last_seen_at: str
    shut_out_at: str | None


def listed(shop: Shop, *, shut_out: bool = False) -> list[Device]:
    """The devices that may come in, or those shut out, in the order they were paired.

    Raises `DatabaseTrouble`.
    """
    rows = shop.rows(
        f"SELECT * FROM device WHERE shut_out_at IS {'NOT ' if shut_out else ''}NULL ORDER BY id"
    )
    return [_device(row) for row in rows]


def found(shop: Shop, device_id: int) -> Device:
    """One device, shut out or not. Raises `NotFound` and `DatabaseTrouble`."""
    row = shop.row("SELECT * FROM device WHERE id = :id", {"id": device_id})
    if row is None:
        raise NotFound("There is no such phone.")
    return _device(row)


def by_secret(shop: Shop, secret_hash: str) -> Device | None:
    """The device that holds the secret with this SHA-256 (hex), unless it was shut out.

    Raises `DatabaseTrouble`.
    """
    row = shop.row(
        "SELECT * FROM device WHERE secret_hash = :hash AND shut_out_at IS NULL",
        {"hash": secret_hash},
    )
    return None if row is None else _device(row)


def add(db: Database, name: str, secret_hash: str, *, at: str) -> int:
    """A device just paired; returns its id. Call inside a transaction."""
    values = {"name": name, "secret_hash": secret_hash, "paired_at": at, "last_seen_at": at}
    return write.row(db, "device", values)


def seen(shop: Shop, device_id: int, *, at: str, unless_since: str) -> None:
    """Note that a device came by, unless that was noted after ``unless_since`` already.

    Raises `DatabaseTrouble`.
    """
    with shop.transaction() as db:
        db.execute(
            "UPDATE device SET last_seen_at = :at WHERE id = :id AND last_seen_at <= :since",
            {"id": device_id, "at": at, "since": unless_since},
        )


def shut_out(db: Database, device_id: int, *, at: str) -> None:
    """Let a device in no more; the first time stands. Call inside a transaction."""
    db.execute(
        "UPDATE device SET shut_out_at = ? WHERE id = ? AND shut_out_at IS NULL", [at, device_id]
    )


def _device(row: Row) -> Device:
    return Device(row["id"], row["name"], row["paired_at"], row["last_seen_at"], row["shut_out_at"])
