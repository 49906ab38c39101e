"""Every query about readings and marks. Rows are only ever added."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Literal

from sqlite_utils import Database

from benchside.errors import NotFound
from benchside.store import write
from benchside.store.database import Row, Shop
from benchside.units import Unit

What = Literal[
    "step",
    "skip",
    "note",
    "spoiled",
    "mend",
    "odd",
    "spare",
    "sound",
    "done",
    "reopened",
    "touched_up",
    "caliper_checked",
    "caliper_dropped",
    "withdrawn",
]

# When the same thing comes twice, these may differ: each sending has its own, and the pattern may
# have been revised between two sendings.
_EACH_SENDING = {"taken_at", "received_at", "device_id", "revision", "target_mm"}


@dataclass(frozen=True, slots=True)
class Reading:
    """One caliper measurement, as typed and in millimetres.

    ``station_id`` is the id of the place read (a station, or one found between stations).
    """

    key: str
    set_id: int
    spindle: int
    station_id: str
    revision: int
    kind: Literal["diameter", "position"]
    axis: Literal["none", "A", "B"]
    phase: Literal["sizing", "final"]
    state: Literal["green", "dry"]
    typed: str
    unit: Unit
    value_mm: float
    target_mm: float
    taken_at: str
    received_at: str
    device_id: int | None = None
    supersedes: str | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Mark:
    """Anything else tapped: a step done or skipped, a note, what became of a piece.

    ``spindle`` is None for what concerns the whole set (a caliper checked). ``about`` is a
    caliper's letter, or the key of the reading that is withdrawn.
    """

    key: str
    set_id: int
    spindle: int | None
    what: What
    step_id: str
    about: str
    text: str
    taken_at: str
    received_at: str
    device_id: int | None = None


def add(db: Database, reading: Reading) -> Reading:
    """Keep a reading and return the row kept; the same key twice is one row.

    Call inside a transaction. Raises `KeyReused` when the key was kept with something else in it,
    and `NotFound` for a correction of a reading that is not there, or not of this set.
    """
    if reading.supersedes is not None:
        corrected = _kept(db, "reading", reading.supersedes)
        if corrected is None or corrected["set_id"] != reading.set_id:
            raise NotFound("The reading to correct is not in this set.", field="supersedes")
    return Reading(**_keep(db, "reading", _values(reading)))


def add_mark(db: Database, mark: Mark) -> Mark:
    """Keep a mark and return the row kept; the same key twice is one row. As `add`."""
    return Mark(**_keep(db, "mark", _values(mark)))


def is_kept(db: Database, key: str) -> bool:
    """Whether a mark with this key is there already."""
    return _kept(db, "mark", key) is not None


def standing(shop: Shop, set_id: int, spindle: int | None = None) -> list[Reading]:
    """The readings that count, in the order taken: neither superseded nor withdrawn."""
    rows = shop.rows(
        f"""
        SELECT {_COLUMNS} FROM reading r
        WHERE {_of(spindle)}
          AND NOT EXISTS (SELECT 1 FROM reading s WHERE s.supersedes = r.key)
          AND key NOT IN (SELECT about FROM mark WHERE set_id = :set_id AND what = 'withdrawn')
        ORDER BY taken_at, id
        """,
        {"set_id": set_id, "spindle": spindle},
    )
    return [Reading(**row) for row in rows]


def before(shop: Shop, reading: Reading) -> Reading | None:
    """The reading that stood in the same place of the same piece, another than this one's own.

    Of a piece that was put on the lathe again with other sizes, one taken since.
    """
    row = shop.row(
        f"""
        SELECT {_COLUMNS} FROM reading r
        WHERE set_id = :set_id AND spindle = :spindle AND station_id = :station_id
          AND kind = :kind AND phase = :phase AND axis = :axis
          AND key NOT IN (:key, coalesce(:supersedes, ''))
          AND NOT EXISTS (SELECT 1 FROM reading s WHERE s.supersedes = r.key)
          AND NOT EXISTS (SELECT 1 FROM mark m
                          WHERE m.set_id = r.set_id AND m.what = 'withdrawn' AND m.about = r.key)
          AND taken_at >= coalesce((SELECT max(at) FROM spindle_wood w
                                    WHERE w.set_id = r.set_id AND w.spindle = r.spindle
                                    GROUP BY w.spindle HAVING count(*) > 1), '')
        ORDER BY taken_at DESC, id DESC LIMIT 1
        """,
        _values(reading),
    )
    return None if row is None else Reading(**row)


def other_way(shop: Shop, reading: Reading) -> Reading | None:
    """What stands a quarter turn from a reading of two ways across, if it was read."""
    if reading.axis == "none":
        return None
    return before(shop, replace(reading, axis="A" if reading.axis == "B" else "B"))


def head(db: Database, reading: Reading) -> Reading:
    """The reading as it has to be kept: a correction of one that was corrected already supersedes
    the last correction, so that of two sent for the same reading only the later counts.

    It tells of the same moment as what it corrects, so that no piece changes its place in the
    order of turning. One that is kept already stays as it was kept.
    """
    if reading.supersedes is None:
        return reading
    known = _kept(db, "reading", reading.key)
    if known is not None:
        return replace(reading, supersedes=known["supersedes"])
    corrected = _kept(db, "reading", reading.supersedes)
    if corrected is not None:
        reading = replace(reading, taken_at=corrected["taken_at"])
    last = reading.supersedes
    while last is not None:
        row = db.execute(
            "SELECT key FROM reading WHERE supersedes = ? ORDER BY id DESC LIMIT 1", [last]
        ).fetchone()
        if row is None:
            break
        last = str(row[0])
    return replace(reading, supersedes=last)


def named(db: Database, reading: Reading) -> Reading:
    """The reading with the whole key of what it corrects, where a page named that by its first
    digits: the newest of the same place of the same piece. What is not found stays as sent."""
    handle = reading.supersedes
    if handle is None or len(handle) != HANDLE_DIGITS:
        return reading
    row = db.execute(
        """
        SELECT key FROM reading WHERE set_id = :set_id AND spindle = :spindle
          AND station_id = :station_id AND kind = :kind AND phase = :phase
          AND substr(key, 1, length(:supersedes)) = :supersedes ORDER BY id DESC LIMIT 1
        """,
        _values(reading),
    ).fetchone()
    return reading if row is None else replace(reading, supersedes=str(row[0]))


def corrected(db: Database, reading: Reading) -> Reading | None:
    """The reading that this one corrects, if it does."""
    row = _kept(db, "reading", reading.supersedes) if reading.supersedes else None
    return None if row is None else Reading(**row)


def every(shop: Shop, set_id: int, spindle: int | None = None) -> list[Reading]:
    """Every reading ever kept, in the order of arrival, corrected ones included."""
    rows = shop.rows(
        f"SELECT {_COLUMNS} FROM reading WHERE {_of(spindle)} ORDER BY id",
        {"set_id": set_id, "spindle": spindle},
    )
    return [Reading(**row) for row in rows]


def marks(shop: Shop, set_id: int, spindle: int | None = None) -> list[Mark]:
    """The marks of a set (or of one spindle), in the order made."""
    rows = shop.rows(
        f"SELECT {_MARK_COLUMNS} FROM mark WHERE {_of(spindle)} ORDER BY taken_at, id",
        {"set_id": set_id, "spindle": spindle},
    )
    return [Mark(**row) for row in rows]


def _values(kept: Reading | Mark) -> Row:
    columns = _COLUMNS if isinstance(kept, Reading) else _MARK_COLUMNS
    return {name: getattr(kept, name) for name in columns.split(", ")}


def _of(spindle: int | None) -> str:
    return "set_id = :set_id" + ("" if spindle is None else " AND spindle = :spindle")


def _keep(db: Database, table: str, values: Row) -> Row:
    hint = "Measure again and take it as a new reading."
    return write.once(db, table, values, each_sending=_EACH_SENDING, hint=hint)


def _kept(db: Database, table: str, key: str) -> Row | None:
    columns = _COLUMNS if table == "reading" else _MARK_COLUMNS
    row = db.execute(f"SELECT {columns} FROM {table} WHERE key = ?", [key]).fetchone()
    return None if row is None else dict(zip(columns.split(", "), row, strict=True))


HANDLE_DIGITS = 4  # of a key, enough among the readings of one place of one piece
_COLUMNS = ", ".join(f.name for f in fields(Reading))
_MARK_COLUMNS = ", ".join(f.name for f in fields(Mark))
