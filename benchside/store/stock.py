"""Every query about boards, logs, the blank a set needs, and where each piece came from."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, fields
from typing import Literal

from sqlite_utils import Database

from benchside.errors import NotFound
from benchside.stock.blank import Route
from benchside.stock.log import Way
from benchside.stock.shapes import Face
from benchside.store import write
from benchside.store.database import Row, Shop
from benchside.units import Unit

KnotKind = Literal["knot", "check"]


@dataclass(frozen=True, slots=True)
class Knot:
    """A knot or check of a board; one that is ``tried`` is left out of the planning."""

    kind: KnotKind
    face: Face
    at_mm: float
    across_mm: float
    length_mm: float
    width_mm: float
    depth_mm: float | None = None
    tried: bool = False


@dataclass(frozen=True, slots=True)
class BoardPin:
    """A blank pinned to its place on a board."""

    at_mm: float
    across_mm: float
    need: int = 0


@dataclass(frozen=True, slots=True)
class KeptBoard:
    """A board on the rack, or put to a set. ``blank_…`` is the size tried without a set."""

    id: int
    key: str
    set_id: int | None
    name: str
    note: str
    unit: Unit
    length_mm: float
    width_mm: float
    thickness_mm: float
    kerf_mm: float
    trim_left_mm: float
    trim_right_mm: float
    near_mm: float
    far_mm: float
    grain_slope: float
    resawn: bool
    blank_length_mm: float | None
    blank_side_mm: float | None
    made_at: str
    archived_at: str | None
    knots: tuple[Knot, ...] = ()
    pins: tuple[BoardPin, ...] = ()


@dataclass(frozen=True, slots=True)
class KeptLog:
    """A log in the yard, or put to a set."""

    id: int
    key: str
    set_id: int | None
    name: str
    note: str
    unit: Unit
    length_mm: float
    large_mm: float
    small_mm: float
    bark_mm: float
    sapwood_mm: float
    keep_sapwood: bool
    pith_mm: float
    end_mm: float
    kerf_mm: float
    over_mm: float
    way: Way
    blank_length_mm: float | None
    blank_side_mm: float | None
    made_at: str
    archived_at: str | None


@dataclass(frozen=True, slots=True)
class SetStock:
    """What was decided of a set's blank; None is as proposed."""

    route: Route | None = None
    length_mm: float | None = None
    side_mm: float | None = None
    more_percent: float = 30.0


@dataclass(frozen=True, slots=True)
class KeptNeed:
    """Another size wanted from the set's boards."""

    name: str
    length_mm: float
    side_mm: float
    wanted: int
    priority: int


@dataclass(frozen=True, slots=True)
class KeptBlank:
    """A blank as sawn or split, by the label it got; ``spindle`` None: no piece yet.

    On a board ``at_mm``, ``across_mm`` and ``deep_mm`` are its corner; in a log where its bolt
    begins, and the middle of its section on the end grain. ``route`` is how it was come by, None
    where that was never kept; ``need`` above 0 is another size sawn with them, counted from 1.
    """

    label: int
    spindle: int | None
    board_id: int | None
    log_id: int | None
    at_mm: float
    across_mm: float
    deep_mm: float
    length_mm: float
    side_mm: float
    turned_deg: float
    ring_deg: float | None
    sawn_at: str
    route: Route | None = None
    need: int = 0


_BOARD = tuple(f.name for f in fields(KeptBoard) if f.name not in ("id", "knots", "pins"))
_LOG = tuple(f.name for f in fields(KeptLog) if f.name != "id")
_KNOT = tuple(f.name for f in fields(Knot))
_PIN = tuple(f.name for f in fields(BoardPin))
_NEED = tuple(f.name for f in fields(KeptNeed))
_BLANK = tuple(f.name for f in fields(KeptBlank))


def boards(shop: Shop, *, set_id: int | None = None, archived: bool = False) -> list[KeptBoard]:
    """The boards, newest first; with a set only those put to it, oldest first."""
    rows = _stock_rows(shop, "board", set_id, archived)
    return [_board(shop, row) for row in rows]


def board(shop: Shop, board_id: int) -> KeptBoard:
    """One board. Raises `NotFound`."""
    row = shop.row("SELECT * FROM board WHERE id = :id", {"id": board_id})
    if row is None:
        raise NotFound("There is no such board.")
    return _board(shop, row)


def logs(shop: Shop, *, set_id: int | None = None, archived: bool = False) -> list[KeptLog]:
    """The logs, newest first; with a set only those put to it, oldest first."""
    return [_log(row) for row in _stock_rows(shop, "log", set_id, archived)]


def log(shop: Shop, log_id: int) -> KeptLog:
    """One log. Raises `NotFound`."""
    row = shop.row("SELECT * FROM log WHERE id = :id", {"id": log_id})
    if row is None:
        raise NotFound("There is no such log.")
    return _log(row)


def every_board(shop: Shop, set_id: int | None) -> list[KeptBoard]:
    """The boards put to a set, or to none, used up ones too, oldest first."""
    rows = shop.rows("SELECT * FROM board WHERE set_id IS :id ORDER BY id", {"id": set_id})
    return [_board(shop, row) for row in rows]


def every_log(shop: Shop, set_id: int | None) -> list[KeptLog]:
    """The logs put to a set, or to none, used up ones too, oldest first."""
    rows = shop.rows("SELECT * FROM log WHERE set_id IS :id ORDER BY id", {"id": set_id})
    return [_log(row) for row in rows]


def keep_board(db: Database, kept: KeptBoard) -> int:
    """Keep a board with its knots and pins; id 0 is a new one. Call inside a transaction."""
    board_id = _keep(db, "board", _BOARD, kept.id, kept)
    on_it: dict[str, Sequence[Knot | BoardPin]] = {"knot": kept.knots, "board_pin": kept.pins}
    for table, those in on_it.items():
        db.execute(f"DELETE FROM {table} WHERE board_id = ?", [board_id])
        write.rows(
            db,
            table,
            [{"board_id": board_id, "row": i, **asdict(one)} for i, one in enumerate(those, 1)],
        )
    return board_id


def keep_log(db: Database, kept: KeptLog) -> int:
    """Keep a log; id 0 is a new one. Call inside a transaction."""
    return _keep(db, "log", _LOG, kept.id, kept)


def archive(db: Database, table: Literal["board", "log"], row_id: int, at: str | None) -> None:
    """Put a board or log away as used up, or take it out again. Call inside a transaction."""
    db.execute(f"UPDATE {table} SET archived_at = ? WHERE id = ?", [at, row_id])


def set_stock(shop: Shop, set_id: int) -> SetStock:
    """What was decided of the blank of a set."""
    row = shop.row("SELECT * FROM set_stock WHERE set_id = :id", {"id": set_id})
    if row is None:
        return SetStock()
    del row["set_id"]
    return SetStock(**row)


def keep_set_stock(db: Database, set_id: int, kept: SetStock) -> None:
    """Keep what was decided of the blank of a set. Call inside a transaction."""
    db.execute("DELETE FROM set_stock WHERE set_id = ?", [set_id])
    write.row(db, "set_stock", {"set_id": set_id, **asdict(kept)})


def needs(shop: Shop, set_id: int) -> list[KeptNeed]:
    """The other sizes wanted from a set's boards."""
    rows = shop.rows(
        f"SELECT {', '.join(_NEED)} FROM need WHERE set_id = :id ORDER BY row", {"id": set_id}
    )
    return [KeptNeed(**row) for row in rows]


def keep_needs(db: Database, set_id: int, kept: Iterable[KeptNeed]) -> None:
    """The other sizes from now on. Call inside a transaction."""
    db.execute("DELETE FROM need WHERE set_id = ?", [set_id])
    write.rows(
        db, "need", [{"set_id": set_id, "row": i, **asdict(need)} for i, need in enumerate(kept, 1)]
    )


def blanks(shop: Shop, set_id: int) -> list[KeptBlank]:
    """The blanks of a set and of the other sizes sawn with them, by label."""
    return _blanks(shop, "set_id", set_id)


def sawn_from(shop: Shop, table: Literal["board", "log"], row_id: int) -> list[KeptBlank]:
    """The blanks of every size that were sawn or split from a board or log, by label."""
    return _blanks(shop, f"{table}_id", row_id)


def keep_blanks(db: Database, set_id: int, kept: Iterable[KeptBlank]) -> None:
    """The blanks of a set from now on. Call inside a transaction."""
    db.execute("DELETE FROM blank WHERE set_id = ?", [set_id])
    write.rows(db, "blank", [{"set_id": set_id, **asdict(blank)} for blank in kept])


def sets_sawn_from(shop: Shop, table: Literal["board", "log"], row_id: int) -> list[int]:
    """The sets that have blanks from a board or log."""
    rows = shop.rows(
        f"SELECT DISTINCT set_id FROM blank WHERE {table}_id = :id ORDER BY set_id", {"id": row_id}
    )
    return [row["set_id"] for row in rows]


def _blanks(shop: Shop, column: str, row_id: int) -> list[KeptBlank]:
    names = ", ".join(_BLANK)
    sql = f"SELECT {names} FROM blank WHERE {column} = :id ORDER BY set_id, label"
    return [KeptBlank(**row) for row in shop.rows(sql, {"id": row_id})]


def _stock_rows(
    shop: Shop, table: Literal["board", "log"], set_id: int | None, archived: bool
) -> list[Row]:
    if set_id is not None:
        return shop.rows(
            f"SELECT * FROM {table} WHERE set_id = :id AND archived_at IS NULL ORDER BY id",
            {"id": set_id},
        )
    return shop.rows(
        f"SELECT * FROM {table} WHERE archived_at IS {'NOT ' if archived else ''}NULL"
        " ORDER BY id DESC"
    )


def _board(shop: Shop, row: Row) -> KeptBoard:
    values = {"id": row["id"]}
    knots = shop.rows(
        f"SELECT {', '.join(_KNOT)} FROM knot WHERE board_id = :id ORDER BY row", values
    )
    pins = shop.rows(
        f"SELECT {', '.join(_PIN)} FROM board_pin WHERE board_id = :id ORDER BY row", values
    )
    return KeptBoard(
        **{**row, "resawn": bool(row["resawn"])},
        knots=tuple(Knot(**{**knot, "tried": bool(knot["tried"])}) for knot in knots),
        pins=tuple(BoardPin(**pin) for pin in pins),
    )


def _log(row: Row) -> KeptLog:
    return KeptLog(**{**row, "keep_sapwood": bool(row["keep_sapwood"])})


def _keep(
    db: Database, table: str, names: tuple[str, ...], row_id: int, kept: KeptBoard | KeptLog
) -> int:
    values = {name: getattr(kept, name) for name in names}
    if not row_id:
        return write.row(db, table, values)
    write.change(db, table, values, id=row_id)
    return row_id
