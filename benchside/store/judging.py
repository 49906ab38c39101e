"""Every query about what a set is judged by besides its readings: the calipers tested, the pieces
pinned to a place, how it was made, and the mistakes with their cures.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields

from sqlite_utils import Database

from benchside.errors import NotFound
from benchside.store import write
from benchside.store.database import Shop
from benchside.units import Unit


@dataclass(frozen=True, slots=True)
class RepeatTest:
    """One test of calipers and hand; ``step_mm`` is what the calipers show."""

    id: int
    unit: Unit
    step_mm: float
    begun_at: str


@dataclass(frozen=True, slots=True)
class Repeat:
    """One reading of a test: at which place (from 1), the how-manieth time (from 1)."""

    place: int
    turn: int
    typed: str
    value_mm: float
    taken_at: str


@dataclass(frozen=True, slots=True)
class Pin:
    """A spindle that is wanted in the set, and at which place in it (from 1), if that was said."""

    spindle: int
    place: int | None


@dataclass(frozen=True, slots=True)
class AsMade:
    """What is to be remembered of how a set was made, in the maker's words."""

    wood: str = ""
    bits: str = ""
    finish: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Mistake:
    """What went wrong with a set, and what cured it."""

    key: str
    what: str
    cure: str
    noted_at: str


# ------------------------------------------------------------------ calipers


def add_test(db: Database, unit: Unit, step_mm: float, *, at: str) -> int:
    """A new test with nothing read; returns its id. Call inside a transaction."""
    return write.row(db, "repeat_test", {"unit": unit, "step_mm": step_mm, "begun_at": at})


def add_repeat(db: Database, test_id: int, repeat: Repeat) -> None:
    """One more reading; at the same place and turn it corrects. Call inside a transaction."""
    write.row(db, "repeat_reading", {"test_id": test_id, **asdict(repeat)})


def repeat_tests(shop: Shop) -> list[RepeatTest]:
    """Every test, newest first."""
    return [RepeatTest(**row) for row in shop.rows("SELECT * FROM repeat_test ORDER BY id DESC")]


def repeat_test(shop: Shop, test_id: int) -> RepeatTest:
    """One test. Raises `NotFound`."""
    row = shop.row("SELECT * FROM repeat_test WHERE id = :id", {"id": test_id})
    if row is None:
        raise NotFound("There is no such test of the calipers.")
    return RepeatTest(**row)


def every_repeat(shop: Shop, test_id: int) -> list[Repeat]:
    """All readings of a test as they came, corrected ones included."""
    rows = shop.rows(
        "SELECT place, turn, typed, value_mm, taken_at FROM repeat_reading"
        " WHERE test_id = :id ORDER BY id",
        {"id": test_id},
    )
    return [Repeat(**row) for row in rows]


# ------------------------------------------------------------------ pinned


def pins(shop: Shop, set_id: int) -> list[Pin]:
    """The pinned spindles of a set, by number."""
    rows = shop.rows(
        "SELECT spindle, place FROM pinned WHERE set_id = :id ORDER BY spindle", {"id": set_id}
    )
    return [Pin(**row) for row in rows]


def pin(db: Database, set_id: int, spindle: int, place: int | None) -> None:
    """Pin a spindle; whichever held that place loses it. Call inside a transaction."""
    if place is not None:
        db.execute("DELETE FROM pinned WHERE set_id = ? AND place = ?", [set_id, place])
    db.execute(
        "INSERT INTO pinned (set_id, spindle, place) VALUES (?, ?, ?)"
        " ON CONFLICT (set_id, spindle) DO UPDATE SET place = excluded.place",
        [set_id, spindle, place],
    )


def unpin(db: Database, set_id: int, spindle: int) -> None:
    """Let a spindle go where it fits best. Call inside a transaction."""
    db.execute("DELETE FROM pinned WHERE set_id = ? AND spindle = ?", [set_id, spindle])


# ------------------------------------------------------------------ as made


def as_made(shop: Shop, set_id: int) -> AsMade:
    """What was written of how a set was made; empty if nothing was."""
    row = shop.row(
        "SELECT wood, bits, finish, note FROM as_made WHERE set_id = :id", {"id": set_id}
    )
    return AsMade() if row is None else AsMade(**row)


def keep_as_made(db: Database, set_id: int, words: AsMade) -> None:
    """Write it anew. Call inside a transaction."""
    db.execute(
        "INSERT INTO as_made (set_id, wood, bits, finish, note) VALUES (?, ?, ?, ?, ?)"
        " ON CONFLICT (set_id) DO UPDATE SET wood = excluded.wood, bits = excluded.bits,"
        " finish = excluded.finish, note = excluded.note",
        [set_id, words.wood, words.bits, words.finish, words.note],
    )


def mistakes(shop: Shop, set_id: int) -> list[Mistake]:
    """The mistakes of a set in the order noted."""
    names = ", ".join(field.name for field in fields(Mistake))
    rows = shop.rows(
        f"SELECT {names} FROM mistake WHERE set_id = :id ORDER BY noted_at, id", {"id": set_id}
    )
    return [Mistake(**row) for row in rows]


def add_mistake(db: Database, set_id: int, mistake: Mistake) -> None:
    """Keep one; the same key twice is one row. Call inside a transaction.

    Raises `KeyReused` when the key was kept with something else in it.
    """
    values = {"set_id": set_id, **asdict(mistake)}
    write.once(db, "mistake", values, each_sending=("noted_at",))
