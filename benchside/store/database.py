"""The one file that holds everything: opening it, its safety copy, one transaction at a time."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from benchside.errors import DatabaseTrouble
from benchside.store.migrations import migrations

Row = dict[str, Any]
BUSY_S = 10.0  # judgement: so long another writer is waited for


class Shop:
    """An open database. Each thread gets a connection of its own, kept until `close`.

    Raises `DatabaseTrouble` for a file that is no database, is damaged, was written by a newer
    benchside, or cannot be read or written.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._here = threading.local()
        self._opened: list[Database] = []
        self._opening = threading.Lock()
        try:
            self.migrated_from = _bring_up_to_date(path)
            self.database_id = str(self.setting("database_id"))
        except BaseException:
            self.close()
            raise

    @property
    def db(self) -> Database:
        """This thread's connection."""
        found: Database | None = getattr(self._here, "db", None)
        if found is None:
            found = _connect(self.path)
            with self._opening:
                self._opened.append(found)
            self._here.db = found
        return found

    @contextmanager
    def transaction(self) -> Iterator[Database]:
        """All or nothing; the write lock is taken at once, so what is read inside stays true."""
        db = self.db
        with telling_trouble(self.path):
            db.execute("BEGIN IMMEDIATE")
            try:
                yield db
                db.execute("COMMIT")
            except BaseException:
                if db.conn.in_transaction:
                    db.execute("ROLLBACK")
                raise

    @contextmanager
    def snapshot(self) -> Iterator[None]:
        """Every query inside sees the same moment, whatever is written meanwhile."""
        db = self.db
        with telling_trouble(self.path):
            db.execute("BEGIN")
            try:
                yield
            finally:
                if db.conn.in_transaction:
                    db.execute("ROLLBACK")

    def rows(self, sql: str, values: Row | None = None) -> list[Row]:
        """The rows of a query, as dictionaries; none where it asks for a number beyond all ids."""
        db = self.db
        with telling_trouble(self.path):
            try:
                cursor = db.execute(sql, values or {})
            except OverflowError:
                return []
            names = [column[0] for column in cursor.description]
            return [dict(zip(names, row, strict=True)) for row in cursor]

    def row(self, sql: str, values: Row | None = None) -> Row | None:
        """The first row of a query, or None."""
        found = self.rows(sql, values)
        return found[0] if found else None

    def setting(self, name: str, default: str | None = None) -> str | None:
        """One setting of the shop."""
        found = self.row("SELECT value FROM setting WHERE name = :name", {"name": name})
        return default if found is None else str(found["value"])

    def settings(self, prefix: str) -> dict[str, str]:
        """The settings whose names begin with ``prefix``."""
        rows = self.rows("SELECT name, value FROM setting")
        return {r["name"]: r["value"] for r in rows if r["name"].startswith(prefix)}

    def keep_setting(self, name: str, value: str) -> None:
        """Set one setting of the shop."""
        self.keep_settings({name: value})

    def keep_settings(self, values: Mapping[str, str | None]) -> None:
        """Set several settings of the shop at once; None forgets one."""
        with self.transaction() as db:
            for name, value in values.items():
                if value is None:
                    db.execute("DELETE FROM setting WHERE name = ?", [name])
                else:
                    db.execute(
                        "INSERT INTO setting (name, value) VALUES (?, ?)"
                        " ON CONFLICT (name) DO UPDATE SET value = excluded.value",
                        [name, value],
                    )

    def copy_to(self, path: Path) -> None:
        """Copy the whole database into a new file, also while it is being written to.

        The copy is one file, whole by itself: nothing of it stands in a -wal beside it.
        """
        copy_whole(self.db.conn, path)

    def close(self) -> None:
        """Close every connection."""
        with self._opening:
            while self._opened:
                self._opened.pop().conn.close()
        self._here = threading.local()


@contextmanager
def telling_trouble(path: Path) -> Iterator[None]:
    """Raise what SQLite says of a file as `DatabaseTrouble`, in a sentence for the maker.

    Only what can be wrong with a file or a disk: a mistake in a query stays what it is.
    """
    try:
        yield
    except sqlite3.DatabaseError as trouble:
        sentence = _sentence(trouble, path)
        if sentence is None:
            raise
        message, hint = sentence
        raise DatabaseTrouble(message, hint=hint) from trouble


def _sentence(trouble: sqlite3.DatabaseError, path: Path) -> tuple[str, str] | None:
    code = getattr(trouble, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF
    if code == sqlite3.SQLITE_FULL:
        return (
            "The disk that holds the data is full; nothing was saved.",
            "Free some space, then send it again: the phone keeps what it has.",
        )
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return (
            "Something else is holding the data file; nothing was saved.",
            "Close the other program that has it open.",
        )
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_CANTOPEN):
        return (
            f"The file {path} cannot be opened and written to; nothing was saved.",
            "Check that its folder is there, and that you may write in it.",
        )
    if code in (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT):
        return (
            f"{path.name} is no sound database: {trouble}.",
            "Put a backup in its place with: benchside restore FILE",
        )
    if code == sqlite3.SQLITE_IOERR:
        return (
            f"The disk did not take or give back {path.name}: {trouble}; nothing was saved.",
            "Check that the disk is not full and is still there.",
        )
    return None


def check(path: Path) -> None:
    """Raise `DatabaseTrouble` unless the file is a sound database this benchside can read."""
    with opened_to_read(path) as conn:
        found = conn.execute("PRAGMA integrity_check").fetchone()[0]
        if found == "ok" and conn.execute("PRAGMA foreign_key_check").fetchone() is not None:
            found = "rows point to others that are not there"
        if found != "ok":
            raise DatabaseTrouble(f"{path.name} is damaged: {found}.")
        db = Database(conn)
        _refuse_newer(db, path)
        if not migrations.applied(db):
            raise DatabaseTrouble(f"{path.name} is a database, but not one of benchside's.")


@contextmanager
def opened_to_read(path: Path) -> Iterator[sqlite3.Connection]:
    """A file opened for reading alone, also in a folder that cannot be written to.

    Raises `DatabaseTrouble` where there is none, or nothing in it.
    """
    if not path.is_file():
        raise DatabaseTrouble(f"There is no file {path}.")
    if path.stat().st_size == 0:
        raise DatabaseTrouble(f"{path.name} is empty: 0 bytes.")
    beside = any(path.with_name(path.name + end).exists() for end in ("-wal", "-journal"))
    how = "mode=ro" if beside else "mode=ro&immutable=1"
    with (
        telling_trouble(path),
        closing(sqlite3.connect(f"{path.absolute().as_uri()}?{how}", uri=True)) as conn,
    ):
        yield conn


def copy_whole(source: sqlite3.Connection, path: Path) -> None:
    """Copy an open database into a new file, whole by itself; none is left if that fails."""
    try:
        with telling_trouble(path), closing(sqlite3.connect(path)) as copy:
            source.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
    except BaseException:
        path.unlink(missing_ok=True)
        raise


def _connect(path: Path) -> Database:
    with telling_trouble(path):
        conn = sqlite3.connect(path, timeout=BUSY_S, isolation_level=None, check_same_thread=False)
        try:
            conn.execute("PRAGMA journal_mode = WAL")
            conn.execute("PRAGMA synchronous = FULL")
            conn.execute("PRAGMA foreign_keys = ON")
        except BaseException:
            conn.close()
            raise
        return Database(conn)


def _bring_up_to_date(path: Path) -> Path | None:
    """Apply what is pending, after a copy of a file that already holds something."""
    if path.is_file():
        _refuse_strangers(path)
    db = _connect(path)
    try:
        with telling_trouble(path):
            pending = migrations.pending(db)
            copy = _safety_copy(db, path, pending[0].name) if pending and db.table_names() else None
            migrations.apply(db)
            return copy
    finally:
        db.conn.close()


def _refuse_strangers(path: Path) -> None:
    """Leave a file alone that is empty, newer, or somebody else's database."""
    if path.stat().st_size == 0:
        raise DatabaseTrouble(
            f"{path.name} is empty: 0 bytes, where the data should be.",
            hint="Put a backup in its place with: benchside restore FILE."
            " Or, if there never was anything in it, delete it.",
        )
    with opened_to_read(path) as conn:
        db = Database(conn)
        _refuse_newer(db, path)
        if set(db.table_names()) - {migrations.migrations_table} and not migrations.applied(db):
            raise DatabaseTrouble(
                f"{path.name} is a database, but not one of benchside's.",
                hint="Open another file with --db.",
            )


def _refuse_newer(db: Database, path: Path) -> None:
    ours = {m.name for m in migrations._migrations}
    if not {m.name for m in migrations.applied(db)} <= ours:
        raise DatabaseTrouble(
            f"{path.name} was written by a newer benchside than this one.",
            hint="Update benchside, or open another file with --db.",
        )


def _safety_copy(db: Database, path: Path, before: str) -> Path:
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%SZ")
    copy = path.with_name(f"{path.stem}.before-{before}-{stamp}.db")
    copy_whole(db.conn, copy)
    return copy
