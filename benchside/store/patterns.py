"""Every query about patterns and their revisions."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from functools import lru_cache

from sqlite_utils import Database

from benchside.errors import NotFound
from benchside.pattern import Pattern, Section, Station
from benchside.store import write
from benchside.store.database import Row, Shop


@dataclass(frozen=True, slots=True)
class PatternRecord:
    """A pattern as kept, with its newest revision."""

    id: int
    name: str
    note: str
    revision: int
    revised_at: str
    step_order: tuple[str, ...]
    speeds: dict[str, str]
    next_station: int
    made_at: str
    archived_at: str | None
    pattern: Pattern


@dataclass(frozen=True, slots=True)
class RevisionNote:
    """One revision of a pattern: its number, when it was made, and why if that was said."""

    revision: int
    made_at: str
    reason: str


def listed(shop: Shop, *, archived: bool = False) -> list[PatternRecord]:
    """All patterns, newest first."""
    rows = shop.rows(
        f"SELECT id FROM pattern WHERE archived_at IS {'NOT ' if archived else ''}NULL"
        " ORDER BY id DESC"
    )
    return [found(shop, row["id"]) for row in rows]


def found(shop: Shop, pattern_id: int, revision: int | None = None) -> PatternRecord:
    """One pattern at its newest revision, or at the revision asked for. Raises `NotFound`."""
    row = shop.row(
        """
        SELECT p.*, r.revision, r.datum_end, r.made_at AS revised_at
        FROM pattern p JOIN revision r ON r.pattern_id = p.id
        WHERE p.id = :pattern_id AND r.revision = coalesce(:revision,
            (SELECT max(revision) FROM revision WHERE pattern_id = :pattern_id))
        """,
        {"pattern_id": pattern_id, "revision": revision},
    )
    if row is None:
        raise NotFound("There is no such pattern.")
    return PatternRecord(
        id=row["id"],
        name=row["name"],
        note=row["note"],
        revision=row["revision"],
        revised_at=row["revised_at"],
        step_order=tuple(json.loads(row["step_order"])),
        speeds=json.loads(row["speeds"]),
        next_station=row["next_station"],
        made_at=row["made_at"],
        archived_at=row["archived_at"],
        pattern=_pattern_of(shop, row["id"], row["revision"], row["name"], row["datum_end"]),
    )


def revisions(shop: Shop, pattern_id: int) -> list[RevisionNote]:
    """Every revision of a pattern, newest first."""
    rows = shop.rows(
        "SELECT revision, made_at, reason FROM revision WHERE pattern_id = :id"
        " ORDER BY revision DESC",
        {"id": pattern_id},
    )
    return [RevisionNote(**row) for row in rows]


def station_ids(shop: Shop, pattern_id: int) -> set[str]:
    """The id of every station that any revision of a pattern has or had."""
    rows = shop.rows("SELECT DISTINCT id FROM station WHERE pattern_id = :id", {"id": pattern_id})
    return {row["id"] for row in rows}


def add(db: Database, pattern: Pattern, *, note: str, at: str) -> int:
    """A new pattern with its first revision; returns its id. Call inside a transaction."""
    pattern_id = write.row(db, "pattern", {"name": pattern.name, "note": note, "made_at": at})
    add_revision(db, pattern_id, pattern, at=at)
    return pattern_id


def add_revision(
    db: Database, pattern_id: int, pattern: Pattern, *, at: str, reason: str = ""
) -> int:
    """A new revision of a pattern; returns its number. Call inside a transaction."""
    (newest,) = db.execute(
        "SELECT coalesce(max(revision), 0) FROM revision WHERE pattern_id = ?", [pattern_id]
    ).fetchone()
    which = {"pattern_id": pattern_id, "revision": int(newest) + 1}
    said = {"datum_end": pattern.datum_end, "made_at": at, "reason": reason}
    write.row(db, "revision", {**which, **said})
    sections: list[Row] = [
        {"form": s.form, "through_mm": s.through_mm, "section_name": s.name}
        for s in pattern.sections
    ]
    after = [*sections, {"form": None, "through_mm": None, "section_name": ""}]
    write.rows(
        db,
        "station",
        [
            {**which, "row": row, **asdict(station), **section}
            for row, (station, section) in enumerate(zip(pattern.stations, after, strict=True), 1)
        ],
    )
    return which["revision"]


def change(db: Database, pattern_id: int, **columns: str | int | None) -> None:
    """Change columns of a pattern's own row (not of a revision). Call inside a transaction."""
    write.change(db, "pattern", columns, id=pattern_id)


def _pattern_of(shop: Shop, pattern_id: int, revision: int, name: str, datum_end: str) -> Pattern:
    """The pattern of one revision. A kept revision never changes, so it is read once."""
    # Inside a transaction it may still be rolled back, and its number given to another.
    read = _revision.__wrapped__ if shop.db.conn.in_transaction else _revision
    return read(shop, pattern_id, revision, name, datum_end)


@lru_cache(maxsize=64)
def _revision(shop: Shop, pattern_id: int, revision: int, name: str, datum_end: str) -> Pattern:
    rows = shop.rows(
        "SELECT * FROM station WHERE pattern_id = :id AND revision = :revision ORDER BY row",
        {"id": pattern_id, "revision": revision},
    )
    return _pattern(name, datum_end, rows)


def _pattern(name: str, datum_end: str, rows: list[Row]) -> Pattern:
    stations = tuple(
        Station(
            id=r["id"],
            at_mm=r["at_mm"],
            diameter_mm=r["diameter_mm"],
            name=r["name"],
            kind=r["kind"],
            tolerance_mm=r["tolerance_mm"],
            position_tolerance_mm=r["position_tolerance_mm"],
        )
        for r in rows
    )
    sections = tuple(Section(r["form"], r["through_mm"], r["section_name"]) for r in rows[:-1])
    return Pattern(name, stations, sections, "drive" if datum_end == "drive" else "tail")
