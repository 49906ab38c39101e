"""Every query about the tools of the shop: the calipers owned, and what was tapped of edges."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Literal

from sqlite_utils import Database

from benchside.store.database import Shop


@dataclass(frozen=True, slots=True)
class OwnedCaliper:
    """A caliper the maker owns. A fixed one has one size, which is both ends of its range."""

    letter: str
    kind: Literal["spring", "firm", "sliding", "fixed"]
    least_mm: float
    most_mm: float
    name: str = ""


@dataclass(frozen=True, slots=True)
class Tapped:
    """A tap of some set: its moment in seconds from one zero, and what it says was just done.

    Of a mark its step, of a reading its place, kind and phase; "" for what it has not.
    """

    moment_s: float
    set_id: int
    step_id: str
    place_id: str
    kind: str
    phase: str


_COLUMNS = ", ".join(field.name for field in fields(OwnedCaliper))


def calipers(shop: Shop) -> list[OwnedCaliper]:
    """The calipers owned, by letter."""
    rows = shop.rows(f"SELECT {_COLUMNS} FROM caliper ORDER BY letter")
    return [OwnedCaliper(**row) for row in rows]


def keep_caliper(db: Database, caliper: OwnedCaliper) -> None:
    """Keep a caliper; one of the same letter is changed to it. Call inside a transaction."""
    db.execute(
        f"INSERT INTO caliper ({_COLUMNS}) VALUES (?, ?, ?, ?, ?)"
        " ON CONFLICT (letter) DO UPDATE SET kind = excluded.kind, least_mm = excluded.least_mm,"
        " most_mm = excluded.most_mm, name = excluded.name",
        [caliper.letter, caliper.kind, caliper.least_mm, caliper.most_mm, caliper.name],
    )


def strike_caliper(db: Database, letter: str) -> None:
    """Take a caliper off the list. Call inside a transaction."""
    db.execute("DELETE FROM caliper WHERE letter = ?", [letter])


def touched_up(shop: Shop) -> list[tuple[str, int, str, str]]:
    """The newest touch-up of each kind: what it names, the set and the step it was tapped at."""
    found: list[tuple[str, int, str, str]] = shop.db.execute(
        """
        SELECT about, set_id, step_id, max(taken_at) FROM mark WHERE what = 'touched_up'
        GROUP BY about, set_id, step_id
        """
    ).fetchall()
    return found


def taps_since(shop: Shop, at: str) -> list[Tapped]:
    """Every tap at a piece of any set from a moment on, in turn."""
    found = shop.db.execute(
        """
        SELECT julianday(taken_at) * 86400, set_id, '', station_id, kind, phase FROM reading
        WHERE taken_at >= :at
        UNION ALL
        SELECT julianday(taken_at) * 86400, set_id, step_id, '', '', '' FROM mark
        WHERE taken_at >= :at AND spindle IS NOT NULL
        ORDER BY 1
        """,
        {"at": at},
    ).fetchall()
    return [Tapped(*row) for row in found]


def moment_s(shop: Shop, at: str) -> float:
    """A moment in seconds from the zero that `taps_since` counts from."""
    row = shop.row("SELECT julianday(:at) * 86400 AS moment_s", {"at": at})
    assert row is not None
    return float(row["moment_s"])
