"""One set or everything as a file, and back again, exact."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from sqlite_utils import Database

from benchside.errors import KeyReused
from benchside.job.exchange_form import SETTINGS, Document, from_json, to_json, write
from benchside.store import exchange as store
from benchside.store.database import Shop
from benchside.store.exchange import KeptPattern, KeptSet
from benchside.store.readings import Mark, Reading

__all__ = [
    "Document",
    "Imported",
    "export_all",
    "export_set",
    "from_json",
    "import_into",
    "to_json",
]


@dataclass(frozen=True, slots=True)
class Imported:
    """What came in, and the names of the sets that were here already."""

    sets: int
    patterns: int
    readings: int
    set_ids: tuple[int, ...]
    already_here: tuple[str, ...]


def export_set(shop: Shop, set_id: int, *, now: str) -> dict[str, Any]:
    """One set with its pattern and everything recorded of it. Raises `NotFound`."""
    with shop.snapshot():
        whole = store.whole_set(shop, set_id)
        pattern = store.whole_pattern(shop, whole.kept.pattern_id)
        return _document(shop, [pattern], [whole], now)


def export_all(shop: Shop, *, now: str) -> dict[str, Any]:
    """Everything, archived things too; of devices only the names, and no secret."""
    with shop.snapshot():
        patterns = [store.whole_pattern(shop, i) for i in store.pattern_ids(shop)]
        sets = [store.whole_set(shop, i) for i in store.set_ids(shop)]
        kept = {name: shop.setting(name) for name in SETTINGS}
        settings = {name: float(text) for name, text in kept.items() if text is not None}
        return {**_document(shop, patterns, sets, now), "settings": settings}


def import_into(shop: Shop, brought_in: Document, *, now: str) -> Imported:
    """Bring everything in that is not here yet, all or nothing.

    A pattern with the same revisions is the same pattern; later revisions are added to it. A set
    whose every reading is here already is left as it is here. The shop's own settings stay.

    Raises `KeyReused` for a set of which only some readings are here.
    """
    with shop.transaction() as db:
        for name, value in brought_in.settings.items():
            store.take_setting(db, name, repr(value))
        device_ids = {
            i: store.device_named(db, name, at=now)
            for i, name in enumerate(brought_in.device_names)
        }
        here = [store.whole_pattern(shop, i) for i in store.pattern_ids(shop)]
        pattern_ids = [_bring_pattern(db, kept, here) for kept in brought_in.patterns]
        known = set(store.set_ids(shop))
        brought: list[int] = []
        already: list[str] = []
        readings = 0
        for whole in brought_in.sets:
            pattern_id = pattern_ids[whole.kept.pattern_id][0]
            same = _same_set(shop, whole, pattern_id, known)
            if same is not None:
                known.remove(same)
                already.append(whole.kept.name)
                continue
            _refuse_known_keys(db, whole)
            brought.append(store.add_set(db, pattern_id, whole, device_ids))
            readings += len(whole.readings)
    return Imported(
        sets=len(brought),
        patterns=sum(new for _, new in pattern_ids),
        readings=readings,
        set_ids=tuple(brought),
        already_here=tuple(already),
    )


def _document(
    shop: Shop, patterns: list[KeptPattern], sets: list[KeptSet], now: str
) -> dict[str, Any]:
    return write(shop.database_id, patterns, sets, store.device_names(shop), now=now)


def _bring_pattern(db: Database, kept: KeptPattern, here: list[KeptPattern]) -> tuple[int, bool]:
    """The id of a pattern in this database, and whether it is new. Its twin leaves ``here``."""
    twin = next((other for other in here if _same_pattern(kept, other)), None)
    if twin is None:
        return store.add_pattern(db, kept), True
    here.remove(twin)
    store.add_revisions(db, twin.id, kept.revisions[len(twin.revisions) :])
    store.keep_next_station(db, twin.id, kept.next_station)
    return twin.id, False


def _same_pattern(one: KeptPattern, other: KeptPattern) -> bool:
    """Whether one history begins with the whole of the other. Names may have changed."""
    both = zip(one.revisions, other.revisions, strict=False)
    return one.made_at == other.made_at and all(
        (a.made_at, a.reason, replace(a.pattern, name=""))
        == (b.made_at, b.reason, replace(b.pattern, name=""))
        for a, b in both
    )


def _same_set(shop: Shop, whole: KeptSet, pattern_id: int, known: Iterable[int]) -> int | None:
    """The set here that holds all that this one holds, if there is one."""
    made_at = whole.kept.made_at
    for set_id in store.sets_made(shop, pattern_id, made_at):
        if set_id in known and _holds(store.whole_set(shop, set_id), whole):
            return set_id
    return None


def _holds(here: KeptSet, whole: KeptSet) -> bool:
    if not (whole.readings or whole.marks):
        return here.kept.name == whole.kept.name
    return _bare(whole) <= _bare(here)


def _bare(whole: KeptSet) -> set[Reading | Mark]:
    """All rows of a set, without what differs from one database to another."""
    return {
        *(replace(row, set_id=0, device_id=None) for row in whole.readings),
        *(replace(row, set_id=0, device_id=None) for row in whole.marks),
    }


def _refuse_known_keys(db: Database, whole: KeptSet) -> None:
    name = store.set_with_reading(db, (row.key for row in whole.readings))
    name = name or store.set_with_mark(db, (row.key for row in whole.marks))
    if name is not None:
        raise KeyReused(
            f"Some readings of the set “{whole.kept.name}” are here already, in the set “{name}”,"
            " and some are not. Nothing was brought in.",
            field="file",
            hint="Bring the file into a database of its own: benchside import FILE --db OTHER.db",
        )
