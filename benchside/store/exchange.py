"""Whole patterns and whole sets, out of the database and into it, with all their history."""

from __future__ import annotations

import json
import secrets
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field, replace

from sqlite_utils import Database

from benchside.pattern import Pattern
from benchside.store import (
    devices,
    fitting,
    judging,
    originals,
    patterns,
    readings,
    sets,
    stock,
    wood,
    write,
)
from benchside.store.database import Shop
from benchside.store.fitting import FitOfSet
from benchside.store.judging import AsMade, Mistake, Pin, Repeat, RepeatTest
from benchside.store.originals import Original, OriginalReading, OriginalStation
from benchside.store.readings import Mark, Reading
from benchside.store.stock import KeptBlank, KeptBoard, KeptLog, KeptNeed, SetStock
from benchside.store.wood import WoodOfSet


@dataclass(frozen=True, slots=True)
class KeptRevision:
    """One revision of a pattern, and why it was made."""

    revision: int
    made_at: str
    reason: str
    pattern: Pattern


@dataclass(frozen=True, slots=True)
class KeptPattern:
    """A pattern with all its revisions, oldest first."""

    id: int
    name: str
    note: str
    step_order: tuple[str, ...]
    speeds: dict[str, str]
    next_station: int
    made_at: str
    archived_at: str | None
    revisions: tuple[KeptRevision, ...]


@dataclass(frozen=True, slots=True)
class KeptStock:
    """The stock of a set: its blank, the boards and logs put to it, where its pieces came from."""

    choices: SetStock = SetStock()  # noqa: RUF009, it is frozen
    needs: tuple[KeptNeed, ...] = ()
    boards: tuple[KeptBoard, ...] = ()
    logs: tuple[KeptLog, ...] = ()
    blanks: tuple[KeptBlank, ...] = ()


@dataclass(frozen=True, slots=True)
class KeptSet:
    """A set with all that was ever recorded of it, in the order of arrival."""

    kept: sets.SpindleSet
    spindles: tuple[sets.Spindle, ...]
    readings: tuple[Reading, ...]
    marks: tuple[Mark, ...]
    pinned: tuple[Pin, ...]
    as_made: AsMade
    mistakes: tuple[Mistake, ...]
    fit: FitOfSet = field(default_factory=FitOfSet)
    stock: KeptStock = KeptStock()
    wood: WoodOfSet = field(default_factory=WoodOfSet)


@dataclass(frozen=True, slots=True)
class KeptOriginal:
    """An original with its stations and all that was read of it, in the order of arrival."""

    kept: Original
    stations: tuple[OriginalStation, ...]
    readings: tuple[OriginalReading, ...]


@dataclass(frozen=True, slots=True)
class KeptTest:
    """A test of the calipers with all its readings, corrected ones too."""

    kept: RepeatTest
    readings: tuple[Repeat, ...]


def pattern_ids(shop: Shop) -> list[int]:
    """The ids of all patterns, archived ones too, oldest first."""
    return [row["id"] for row in shop.rows("SELECT id FROM pattern ORDER BY id")]


def set_ids(shop: Shop) -> list[int]:
    """The ids of all sets, archived ones too, oldest first."""
    return [row["id"] for row in shop.rows("SELECT id FROM spindle_set ORDER BY id")]


def sets_made(shop: Shop, pattern_id: int, made_at: str) -> list[int]:
    """The ids of the sets of a pattern that were made at that moment."""
    rows = shop.rows(
        "SELECT id FROM spindle_set WHERE pattern_id = :pattern_id AND made_at = :made_at"
        " ORDER BY id",
        {"pattern_id": pattern_id, "made_at": made_at},
    )
    return [row["id"] for row in rows]


def whole_pattern(shop: Shop, pattern_id: int) -> KeptPattern:
    """One pattern with its history. Raises `NotFound`."""
    newest = patterns.found(shop, pattern_id)
    rows = shop.rows(
        "SELECT revision, made_at, reason FROM revision WHERE pattern_id = :id ORDER BY revision",
        {"id": pattern_id},
    )
    return KeptPattern(
        id=pattern_id,
        name=newest.name,
        note=newest.note,
        step_order=newest.step_order,
        speeds=newest.speeds,
        next_station=newest.next_station,
        made_at=newest.made_at,
        archived_at=newest.archived_at,
        revisions=tuple(
            KeptRevision(
                revision=row["revision"],
                made_at=row["made_at"],
                reason=row["reason"],
                pattern=patterns.found(shop, pattern_id, row["revision"]).pattern,
            )
            for row in rows
        ),
    )


def whole_set(shop: Shop, set_id: int) -> KeptSet:
    """One set with all that was recorded of it. Raises `NotFound`."""
    arrived = shop.rows("SELECT key FROM mark WHERE set_id = :id ORDER BY id", {"id": set_id})
    marks = {mark.key: mark for mark in readings.marks(shop, set_id)}
    return KeptSet(
        kept=sets.found(shop, set_id),
        spindles=tuple(sets.spindles(shop, set_id)),
        readings=tuple(readings.every(shop, set_id)),
        marks=tuple(marks[row["key"]] for row in arrived),
        pinned=tuple(judging.pins(shop, set_id)),
        as_made=judging.as_made(shop, set_id),
        mistakes=tuple(judging.mistakes(shop, set_id)),
        fit=fitting.whole(shop, set_id),
        stock=KeptStock(
            choices=stock.set_stock(shop, set_id),
            needs=tuple(stock.needs(shop, set_id)),
            boards=tuple(stock.every_board(shop, set_id)),
            logs=tuple(stock.every_log(shop, set_id)),
            blanks=tuple(stock.blanks(shop, set_id)),
        ),
        wood=wood.whole(shop, set_id),
    )


def whole_originals(shop: Shop, pattern_id: int | None = None) -> list[KeptOriginal]:
    """The originals, oldest first: those of one pattern, or all."""
    return [
        KeptOriginal(
            kept,
            tuple(originals.stations(shop, kept.id)),
            tuple(originals.every_reading(shop, kept.id)),
        )
        for kept in reversed(originals.listed(shop))
        if pattern_id is None or kept.pattern_id == pattern_id
    ]


def whole_tests(shop: Shop) -> list[KeptTest]:
    """The tests of the calipers, oldest first."""
    return [
        KeptTest(kept, tuple(judging.every_repeat(shop, kept.id)))
        for kept in reversed(judging.repeat_tests(shop))
    ]


def device_names(shop: Shop) -> dict[int, str]:
    """What each device is called."""
    return {row["id"]: row["name"] for row in shop.rows("SELECT id, name FROM device")}


def set_with_reading(db: Database, keys: Iterable[str]) -> str | None:
    """The name of the first set that holds a reading with one of these keys."""
    return _set_with(db, "reading", keys)


def set_with_mark(db: Database, keys: Iterable[str]) -> str | None:
    """The name of the first set that holds a mark with one of these keys."""
    return _set_with(db, "mark", keys)


def set_with_mistake(db: Database, keys: Iterable[str]) -> str | None:
    """The name of the first set that holds a mistake with one of these keys."""
    return _set_with(db, "mistake", keys)


def original_with_reading(db: Database, keys: Iterable[str]) -> str | None:
    """The name of the first original that holds a reading with one of these keys."""
    for key in keys:
        row = db.execute(
            "SELECT o.name FROM original o JOIN original_reading r ON r.original_id = o.id"
            " WHERE r.key = ?",
            [key],
        ).fetchone()
        if row is not None:
            return str(row[0])
    return None


def add_pattern(db: Database, kept: KeptPattern) -> int:
    """A pattern with its history; returns its id. Call inside a transaction."""
    pattern_id = write.row(
        db,
        "pattern",
        {
            "name": kept.name,
            "note": kept.note,
            "step_order": json.dumps(kept.step_order),
            "speeds": json.dumps(kept.speeds),
            "next_station": kept.next_station,
            "made_at": kept.made_at,
            "archived_at": kept.archived_at,
        },
    )
    add_revisions(db, pattern_id, kept.revisions)
    return pattern_id


def add_revisions(db: Database, pattern_id: int, revisions: Iterable[KeptRevision]) -> None:
    """More revisions of a pattern, numbered as they follow. Call inside a transaction."""
    for kept in revisions:
        patterns.add_revision(db, pattern_id, kept.pattern, at=kept.made_at, reason=kept.reason)


def keep_next_station(db: Database, pattern_id: int, at_least: int) -> None:
    """See that no station id is given twice. Call inside a transaction."""
    db.execute(
        "UPDATE pattern SET next_station = max(next_station, ?) WHERE id = ?",
        [at_least, pattern_id],
    )


def add_set(db: Database, pattern_id: int, whole: KeptSet, device_ids: dict[int, int]) -> int:
    """A set with all that was recorded of it; returns its id. Call inside a transaction.

    ``device_ids`` gives for each device id in ``whole`` the one in this database.
    """
    kept = whole.kept
    set_id = sets.add(db, pattern_id, kept.revision, kept.choices, at=kept.made_at)
    sets.archive(db, set_id, kept.archived_at)
    db.execute("DELETE FROM spindle WHERE set_id = ?", [set_id])
    write.rows(
        db,
        "spindle",
        [{"set_id": set_id, "number": s.number, "practice": s.practice} for s in whole.spindles],
    )
    for table, rows in (("reading", whole.readings), ("mark", whole.marks)):
        write.rows(
            db,
            table,
            [
                {
                    **asdict(row),
                    "set_id": set_id,
                    "device_id": None if row.device_id is None else device_ids[row.device_id],
                }
                for row in rows
            ],
        )
    for table, kept_rows in (("pinned", whole.pinned), ("mistake", whole.mistakes)):
        write.rows(db, table, [{"set_id": set_id, **asdict(row)} for row in kept_rows])
    if whole.as_made != AsMade():
        judging.keep_as_made(db, set_id, whole.as_made)
    fitting.add_whole(db, set_id, whole.fit)
    _add_stock(db, set_id, whole.stock)
    wood.add_whole(db, set_id, whole.wood)
    return set_id


def _add_stock(db: Database, set_id: int, whole: KeptStock) -> None:
    """The stock of a set that is new here."""
    boards = {b.id: stock.keep_board(db, replace(b, id=0, set_id=set_id)) for b in whole.boards}
    logs = {b.id: stock.keep_log(db, replace(b, id=0, set_id=set_id)) for b in whole.logs}
    if whole.choices != SetStock():
        stock.keep_set_stock(db, set_id, whole.choices)
    stock.keep_needs(db, set_id, whole.needs)
    stock.keep_blanks(
        db,
        set_id,
        [
            replace(
                blank,
                board_id=None if blank.board_id is None else boards[blank.board_id],
                log_id=None if blank.log_id is None else logs[blank.log_id],
            )
            for blank in whole.blanks
        ],
    )


def stock_known(db: Database, boards: Iterable[str], logs: Iterable[str]) -> str | None:
    """The name of the first board or log here that has one of these keys."""
    for table, keys in (("board", boards), ("log", logs)):
        for key in keys:
            row = db.execute(f"SELECT name FROM {table} WHERE key = ?", [key]).fetchone()
            if row is not None:
                return str(row[0])
    return None


def add_free_stock(db: Database, boards: Iterable[KeptBoard], logs: Iterable[KeptLog]) -> None:
    """Boards and logs of no set that are not here yet. Call inside a transaction."""
    for board in boards:
        if stock_known(db, [board.key], ()) is None:
            stock.keep_board(db, replace(board, id=0, set_id=None))
    for log in logs:
        if stock_known(db, (), [log.key]) is None:
            stock.keep_log(db, replace(log, id=0, set_id=None))


def add_original(db: Database, whole: KeptOriginal, pattern_id: int | None) -> int:
    """An original with all that was read of it; returns its id. Call inside a transaction."""
    original_id = originals.add(db, replace(whole.kept, pattern_id=pattern_id))
    originals.keep_stations(db, original_id, whole.stations)
    rows = [{"original_id": original_id, **asdict(row)} for row in whole.readings]
    write.rows(db, "original_reading", rows)
    return original_id


def add_test(db: Database, whole: KeptTest) -> None:
    """A test of the calipers with its readings. Call inside a transaction."""
    kept = whole.kept
    test_id = judging.add_test(db, kept.unit, kept.step_mm, at=kept.begun_at)
    for repeat in whole.readings:
        judging.add_repeat(db, test_id, repeat)


def device_named(db: Database, name: str, *, at: str) -> int:
    """The id of a device of that name; a new one is shut out from the start, for nobody holds it.

    Call inside a transaction.
    """
    row = db.execute("SELECT id FROM device WHERE name = ? ORDER BY id", [name]).fetchone()
    if row is not None:
        return int(row[0])
    device_id = devices.add(db, name, secrets.token_hex(32), at=at)
    devices.shut_out(db, device_id, at=at)
    return device_id


def take_setting(db: Database, name: str, value: str) -> None:
    """Keep a setting of another bench where this one has none. Call inside a transaction."""
    sql = "INSERT INTO setting (name, value) VALUES (?, ?) ON CONFLICT (name) DO NOTHING"
    db.execute(sql, [name, value])


def _set_with(db: Database, table: str, keys: Iterable[str]) -> str | None:
    sql = f"SELECT s.name FROM spindle_set s JOIN {table} r ON r.set_id = s.id WHERE r.key = ?"
    for key in keys:
        row = db.execute(sql, [key]).fetchone()
        if row is not None:
            return str(row[0])
    return None
