"""Rows put into a table, changed there, and kept once, by the names of their columns.

Everything here is called inside a transaction.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from sqlite_utils import Database

from benchside.errors import KeyReused
from benchside.store.database import Row

Values = Mapping[str, Any]


def row(db: Database, table: str, values: Values) -> int:
    """A new row; returns its id."""
    row_id = db.execute(_insert(table, values), dict(values)).lastrowid
    assert row_id is not None
    return row_id


def rows(db: Database, table: str, those: Sequence[Values]) -> None:
    """New rows, all of the same columns."""
    if those:
        db.conn.executemany(_insert(table, those[0]), [dict(one) for one in those])


def change(db: Database, table: str, values: Values, **which: int | str) -> None:
    """Change columns of the row that is meant: ``id=3``."""
    said = ", ".join(f"{name} = :{name}" for name in values)
    meant = " AND ".join(f"{name} = :{name}" for name in which)
    db.execute(f"UPDATE {table} SET {said} WHERE {meant}", {**values, **which})


def once(
    db: Database,
    table: str,
    values: Values,
    *,
    each_sending: Collection[str] = (),
    hint: str = "Open the page again and type it anew.",
) -> Row:
    """Keep a row under its ``key`` and return what is kept; the same key twice is one row.

    Raises `KeyReused` when the key was kept with something else in it, but for the columns that
    may differ at ``each_sending``.
    """
    names = list(values)
    db.execute(f"{_insert(table, names)} ON CONFLICT (key) DO NOTHING", dict(values))
    found = db.execute(
        f"SELECT {', '.join(names)} FROM {table} WHERE key = ?", [values["key"]]
    ).fetchone()
    kept = dict(zip(names, found, strict=True))
    if any(kept[name] != values[name] for name in names if name not in each_sending):
        raise KeyReused("This was already saved with something else in it.", field="key", hint=hint)
    return kept


def _insert(table: str, names: Collection[str]) -> str:
    marks = ", ".join(f":{name}" for name in names)
    return f"INSERT INTO {table} ({', '.join(names)}) VALUES ({marks})"
