"""Every query about sets and their numbered spindles."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Literal

from sqlite_utils import Database

from benchside.errors import NotFound
from benchside.store import write
from benchside.store.database import Row, Shop
from benchside.units import Unit

Habit = Literal["piece", "stage"]
Cuts = Literal["ordinary", "hard", "abrasive"]


@dataclass(frozen=True, slots=True)
class Tolerances:
    """Half-widths by kind, for places that have none of their own. [mm]"""

    tenon_mm: float
    slender_mm: float
    decorative_mm: float
    position_mm: float


@dataclass(frozen=True, slots=True)
class Choices:
    """What a maker decides of a set and may change at any time. ``cuts`` is how the wood wears the
    edges."""

    name: str
    note: str
    wanted: int
    spares: int
    unit: Unit
    habit: Habit
    tolerances: Tolerances
    calipers: int
    headstock: Literal["left", "right"] = "left"
    cuts: Cuts = "ordinary"


@dataclass(frozen=True, slots=True)
class SpindleSet:
    """A set of matching spindles, held to one revision of its pattern."""

    id: int
    pattern_id: int
    revision: int
    choices: Choices
    made_at: str
    archived_at: str | None

    @property
    def name(self) -> str:
        return self.choices.name

    @property
    def unit(self) -> Unit:
        return self.choices.unit


@dataclass(frozen=True, slots=True)
class Spindle:
    """One numbered piece of a set. A practice piece does not count."""

    set_id: int
    number: int
    practice: bool


def listed(shop: Shop, *, archived: bool = False) -> list[SpindleSet]:
    """All sets, newest first."""
    rows = shop.rows(
        f"SELECT * FROM spindle_set WHERE archived_at IS {'NOT ' if archived else ''}NULL"
        " ORDER BY id DESC"
    )
    return [_set(row) for row in rows]


def found(shop: Shop, set_id: int) -> SpindleSet:
    """One set. Raises `NotFound`."""
    row = shop.row("SELECT * FROM spindle_set WHERE id = :id", {"id": set_id})
    if row is None:
        raise NotFound("There is no such set.")
    return _set(row)


def add(db: Database, pattern_id: int, revision: int, choices: Choices, *, at: str) -> int:
    """A new set with its numbered spindles; returns its id. Call inside a transaction."""
    columns = {**_columns(choices), "pattern_id": pattern_id, "revision": revision, "made_at": at}
    set_id = write.row(db, "spindle_set", columns)
    add_spindles(db, set_id, choices.wanted + choices.spares)
    return set_id


def change(db: Database, set_id: int, choices: Choices) -> None:
    """Keep new choices. Call inside a transaction; add spindles with `add_spindles`."""
    write.change(db, "spindle_set", _columns(choices), id=set_id)


def hold_to(db: Database, set_id: int, revision: int) -> None:
    """Hold a set to another revision of its pattern. Call inside a transaction."""
    db.execute("UPDATE spindle_set SET revision = ? WHERE id = ?", [revision, set_id])


def archive(db: Database, set_id: int, at: str | None) -> None:
    """Put a set away, or with None take it out again. Call inside a transaction."""
    db.execute("UPDATE spindle_set SET archived_at = ? WHERE id = ?", [at, set_id])


def add_spindles(db: Database, set_id: int, count: int, *, practice: bool = False) -> list[int]:
    """Number ``count`` more spindles; returns their numbers. Call inside a transaction."""
    (last,) = db.execute(
        "SELECT coalesce(max(number), 0) FROM spindle WHERE set_id = ?", [set_id]
    ).fetchone()
    numbers = list(range(last + 1, last + 1 + count))
    write.rows(
        db,
        "spindle",
        [{"set_id": set_id, "number": number, "practice": practice} for number in numbers],
    )
    return numbers


def spindles(shop: Shop, set_id: int) -> list[Spindle]:
    """The spindles of a set, by number."""
    rows = shop.rows("SELECT * FROM spindle WHERE set_id = :id ORDER BY number", {"id": set_id})
    return [Spindle(r["set_id"], r["number"], bool(r["practice"])) for r in rows]


def has(shop: Shop, set_id: int, number: int | None) -> bool:
    """Whether there is such a set, and with a number such a spindle in it."""
    table, values = ("spindle_set WHERE id = :id", {"id": set_id})
    if number is not None:
        table, values = (
            "spindle WHERE set_id = :id AND number = :number",
            {"id": set_id, "number": number},
        )
    return shop.row(f"SELECT 1 FROM {table}", values) is not None


def in_play(shop: Shop, found: SpindleSet) -> list[Spindle]:
    """The spindles a set has room for as it is now, by number, and its practice pieces.

    Numbers beyond stay reserved in case the set grows again.
    """
    every = spindles(shop, found.id)
    room = found.choices.wanted + found.choices.spares
    counted = [spindle for spindle in every if not spindle.practice][:room]
    kept = {spindle.number for spindle in counted}
    return [spindle for spindle in every if spindle.practice or spindle.number in kept]


def _columns(choices: Choices) -> Row:
    flat = asdict(choices)
    return {**flat.pop("tolerances"), **flat}


def _set(row: Row) -> SpindleSet:
    return SpindleSet(
        id=row["id"],
        pattern_id=row["pattern_id"],
        revision=row["revision"],
        choices=Choices(
            name=row["name"],
            note=row["note"],
            wanted=row["wanted"],
            spares=row["spares"],
            unit=row["unit"],
            habit=row["habit"],
            tolerances=Tolerances(
                row["tenon_mm"], row["slender_mm"], row["decorative_mm"], row["position_mm"]
            ),
            calipers=row["calipers"],
            headstock=row["headstock"],
            cuts=row["cuts"],
        ),
        made_at=row["made_at"],
        archived_at=row["archived_at"],
    )
