"""A copy of the whole database to keep elsewhere, and such a copy put back."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from tempfile import TemporaryDirectory

from benchside.errors import DatabaseTrouble
from benchside.store.database import Shop, check, copy_whole, opened_to_read, telling_trouble

LAST_BACKUP = "last_backup_at"


def backup(shop: Shop, path: Path, *, now: str, replace: bool = False) -> Path:
    """Copy the open database, also while it is being served; returns the file made.

    ``path`` is a file, or a folder to make ``benchside-YYYYMMDD-HHMMSS.db`` in. The file appears
    whole and checked, or not at all.

    Raises `DatabaseTrouble` when there is a file already (unless ``replace``), and when the copy
    cannot be made.
    """
    path = path / f"benchside-{stamp(now)}.db" if path.is_dir() else path
    if path.exists() and path.samefile(shop.path):
        raise DatabaseTrouble(
            f"{path.name} is the data file itself.", hint="Give the backup another name."
        )
    if path.exists() and not replace:
        raise DatabaseTrouble(
            f"There is a file {path} already.", hint="Give another name, or add --force."
        )
    part = path.with_name(f".{path.name}.part")
    part.unlink(missing_ok=True)
    try:
        shop.copy_to(part)
        check(part)
        _put_in_place(part, path)
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
    shop.keep_setting(LAST_BACKUP, now)
    return path


def restore(path: Path, backup_file: Path, *, now: str) -> Path | None:
    """Put a backup in the place of the data file; returns what the replaced file is called now.

    The backup is checked before anything is touched. None when there was no file to replace.

    Raises `DatabaseTrouble` for a backup that is not sound, and while benchside serves the file.
    """
    if path.exists() and backup_file.exists() and path.samefile(backup_file):
        raise DatabaseTrouble(f"{backup_file} is the data file itself.", hint="Name a backup.")
    with held(path):
        try:
            check(backup_file)
        except DatabaseTrouble as trouble:
            raise DatabaseTrouble(
                trouble.message, hint="Nothing was replaced. Try another backup."
            ) from trouble
        part = path.with_name(f".{path.name}.restoring")
        part.unlink(missing_ok=True)
        try:
            with opened_to_read(backup_file) as source:
                copy_whole(source, part)
            kept = _keep_replaced(path, now) if path.exists() else None
            for end in ("-wal", "-shm"):
                path.with_name(path.name + end).unlink(missing_ok=True)
            _put_in_place(part, path)
        except OSError as trouble:
            raise _told(trouble, path) from trouble
        finally:
            with suppress(OSError):
                part.unlink(missing_ok=True)
        return kept


@contextmanager
def on_a_copy(shop: Shop) -> Iterator[Shop]:
    """The same data in a copy to try something on; it is gone afterwards."""
    with TemporaryDirectory(prefix="benchside-try-") as folder:
        path = Path(folder) / "copy.db"
        copy_whole(shop.db.conn, path)
        with closing(Shop(path)) as copy:
            copy.db.execute("PRAGMA synchronous = OFF")  # nothing here is to outlive the trial
            yield copy


@contextmanager
def held(path: Path) -> Iterator[None]:
    """Hold a data file as its one server, or to replace it. The system lets go when we die.

    The lock is one of SQLite's own on an empty file beside it, so that it works alike everywhere.

    Raises `DatabaseTrouble` while another benchside holds it.
    """
    lock_path = path.with_name(path.name + ".serving")
    with telling_trouble(lock_path):
        lock = sqlite3.connect(lock_path, timeout=0)
    with closing(lock):
        with telling_trouble(lock_path):
            _take(lock, path)
        yield


def _take(lock: sqlite3.Connection, path: Path) -> None:
    try:
        lock.execute("PRAGMA journal_mode = OFF")  # or it would lay a second file beside
        lock.execute("BEGIN EXCLUSIVE")
    except sqlite3.OperationalError as trouble:
        if trouble.sqlite_errorcode != sqlite3.SQLITE_BUSY:
            raise
        raise DatabaseTrouble(
            f"{path} is being served by another benchside.",
            hint="Stop that one first (Ctrl-C in its window).",
        ) from trouble


def stamp(now: str) -> str:
    """``2026-01-31T10:15:00.000Z`` as ``20260131-101500``, for the name of a file."""
    return now[:19].replace("-", "").replace(":", "").replace("T", "-")


def _keep_replaced(path: Path, now: str) -> Path:
    """Copy the file about to be replaced beside itself, with what its -wal may hold."""
    with suppress(sqlite3.Error), closing(sqlite3.connect(path)) as conn:
        conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    kept = _free_name(path.with_name(f"{path.stem}.replaced-{stamp(now)}.db"))
    for end in ("", "-wal"):
        part = path.with_name(path.name + end)
        if part.exists():
            copy = kept.with_name(kept.name + end)
            shutil.copyfile(part, copy)
            _to_disk(copy)
    return kept


def _free_name(path: Path) -> Path:
    count = 1
    free = path
    while free.exists():
        count += 1
        free = path.with_name(f"{path.stem}-{count}{path.suffix}")
    return free


def _put_in_place(part: Path, path: Path) -> None:
    """Give a finished file its name at one stroke, and see that the name is on the disk."""
    try:
        _to_disk(part)
        part.replace(path)
        _to_disk(path.parent)
    except OSError as trouble:
        raise _told(trouble, path) from trouble


def _to_disk(path: Path) -> None:
    if path.is_dir() and os.name != "posix":  # only there can a folder be opened to sync it
        return
    descriptor = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _told(trouble: OSError, path: Path) -> DatabaseTrouble:
    return DatabaseTrouble(f"{path} cannot be written: {trouble.strerror}.")
