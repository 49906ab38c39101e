"""One set or everything as a file, and back again, exact."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from sqlite_utils import Database

from benchside.errors import KeyReused
from benchside.job.exchange.form import (
    Document,
    write,
    write_calipers,
    write_free_stock,
    write_tests,
)
from benchside.job.exchange.shop import SETTINGS
from benchside.store import exchange as store
from benchside.store import fitting, stock, tools, wood
from benchside.store.database import Shop
from benchside.store.exchange import KeptOriginal, KeptPattern, KeptSet, KeptTest
from benchside.store.fitting import HoleReading, KeptHole, Later
from benchside.store.judging import Mistake
from benchside.store.readings import Mark, Reading
from benchside.store.wood import OwnSpecies, Weighing


@dataclass(frozen=True, slots=True)
class Imported:
    """What came in, and the names of the sets that were here already."""

    sets: int
    patterns: int
    readings: int
    set_ids: tuple[int, ...]
    already_here: tuple[str, ...]


def export_set(shop: Shop, set_id: int, *, now: str) -> dict[str, Any]:
    """One set with its pattern and everything recorded of both. Raises `NotFound`."""
    with shop.snapshot():
        whole = store.whole_set(shop, set_id)
        pattern = store.whole_pattern(shop, whole.kept.pattern_id)
        bored = {kept_part.kept.test_hole for kept_part in whole.fit.parts}
        holes = [hole for hole in fitting.whole_holes(shop) if hole.kept.key in bored]
        originals = store.whole_originals(shop, pattern.id)
        named = {said.species for said in whole.wood.woods} | {
            kept_part.kept.species for kept_part in whole.fit.parts
        }
        own = [species for species in wood.own_species(shop) if species.name in named]
        return _document(shop, [pattern], [whole], originals, holes, own, now)


def export_all(shop: Shop, *, now: str) -> dict[str, Any]:
    """Everything, archived things too; of devices only the names, and no secret."""
    with shop.snapshot():
        patterns = [store.whole_pattern(shop, i) for i in store.pattern_ids(shop)]
        sets = [store.whole_set(shop, i) for i in store.set_ids(shop)]
        kept = {name: shop.setting(name) for name in SETTINGS}
        settings = {name: json.loads(text) for name, text in kept.items() if text is not None}
        return {
            **_document(
                shop,
                patterns,
                sets,
                store.whole_originals(shop),
                fitting.whole_holes(shop),
                wood.own_species(shop),
                now,
            ),
            "settings": settings,
            "repeat_tests": write_tests(store.whole_tests(shop)),
            "calipers": write_calipers(tools.calipers(shop)),
            **write_free_stock(stock.every_board(shop, None), stock.every_log(shop, None)),
        }


def import_into(shop: Shop, brought_in: Document, *, now: str) -> Imported:
    """Bring everything in that is not here yet, all or nothing.

    A pattern with the same revisions is the same pattern; later revisions are added to it. A set
    whose every reading is here already is left as it is here, and so is an original. The shop's
    own settings and calipers stay.

    Raises `KeyReused` for a set or an original of which only some readings are here.
    """
    with shop.transaction() as db:
        own_lathe = bool(shop.settings("lathe_"))
        for name, value in brought_in.settings.items():
            if not (own_lathe and name.startswith("lathe_")):
                store.take_setting(db, name, json.dumps(value))
        if not tools.calipers(shop):
            for caliper in brought_in.calipers:
                tools.keep_caliper(db, caliper)
        device_ids = {
            i: store.device_named(db, name, at=now)
            for i, name in enumerate(brought_in.device_names)
        }
        here = [store.whole_pattern(shop, i) for i in store.pattern_ids(shop)]
        pattern_ids = [_bring_pattern(db, kept, here) for kept in brought_in.patterns]
        _bring_holes(shop, db, brought_in.test_holes)
        here_too = {own.name.casefold() for own in wood.own_species(shop)}
        for own in brought_in.own_species:
            if own.name.casefold() not in here_too:
                wood.keep_own_species(db, own)
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
        _bring_originals(shop, db, brought_in.originals, [i for i, _ in pattern_ids])
        _bring_tests(shop, db, brought_in.repeat_tests)
        store.add_free_stock(db, brought_in.boards, brought_in.logs)
    return Imported(
        sets=len(brought),
        patterns=sum(new for _, new in pattern_ids),
        readings=readings,
        set_ids=tuple(brought),
        already_here=tuple(already),
    )


def _document(
    shop: Shop,
    patterns: list[KeptPattern],
    sets: list[KeptSet],
    originals: list[KeptOriginal],
    holes: list[KeptHole],
    own: list[OwnSpecies],
    now: str,
) -> dict[str, Any]:
    devices = store.device_names(shop)
    return write(shop.database_id, patterns, sets, devices, originals, holes, own, now=now)


def _bring_holes(shop: Shop, db: Database, brought: Iterable[KeptHole]) -> None:
    """The test holes that are not here yet, and what was read since of those that are."""
    here = {kept.key for kept in fitting.test_holes(shop)}
    for whole in brought:
        if whole.kept.key not in here:
            fitting.add_test_hole(db, whole.kept)
        for reading in whole.readings:
            fitting.add_test_hole_reading(db, whole.kept.key, reading)


def _bring_originals(
    shop: Shop, db: Database, brought: Iterable[KeptOriginal], pattern_ids: list[int]
) -> None:
    """Those that are not here yet. Their patterns are places in ``pattern_ids``."""
    here = store.whole_originals(shop)
    for whole in brought:
        place = whole.kept.pattern_id
        pattern_id = None if place is None else pattern_ids[place]
        twin = next((other for other in here if _same_original(other, whole)), None)
        if twin is not None:
            here.remove(twin)
            continue
        known = store.original_with_reading(db, (reading.key for reading in whole.readings))
        if known is not None:
            raise _some_are_here("original", whole.kept.name, known)
        store.add_original(db, whole, pattern_id)


def _same_original(here: KeptOriginal, whole: KeptOriginal) -> bool:
    """Whether this one holds all that was read of the other."""
    if here.kept.made_at != whole.kept.made_at:
        return False
    if not whole.readings:
        return here.kept.name == whole.kept.name
    bare = {replace(reading, struck_at=None) for reading in here.readings}
    return all(replace(reading, struck_at=None) in bare for reading in whole.readings)


def _bring_tests(shop: Shop, db: Database, brought: Iterable[KeptTest]) -> None:
    """The tests of the calipers that are not here yet."""
    here = [(replace(test.kept, id=0), test.readings) for test in store.whole_tests(shop)]
    for whole in brought:
        if (whole.kept, whole.readings) in here:
            here.remove((whole.kept, whole.readings))
        else:
            store.add_test(db, whole)


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
    if not _bare(whole):
        return here.kept.name == whole.kept.name
    return _bare(whole) <= _bare(here)


def _bare(whole: KeptSet) -> set[Reading | Mark | Mistake | Later | HoleReading | Weighing]:
    """All rows of a set, without what differs from one database to another."""
    return {
        *(replace(row, set_id=0, device_id=None) for row in whole.readings),
        *(replace(row, set_id=0, device_id=None) for row in whole.marks),
        *whole.mistakes,
        *(replace(row, struck_at=None) for row in whole.fit.later),
        *(replace(row, struck_at=None) for part in whole.fit.parts for row in part.readings),
        *(replace(row, struck_at=None) for row in whole.wood.weighings),
    }


def _refuse_known_keys(db: Database, whole: KeptSet) -> None:
    name = store.set_with_reading(db, (row.key for row in whole.readings))
    name = name or store.set_with_mark(db, (row.key for row in whole.marks))
    name = name or store.set_with_mistake(db, (row.key for row in whole.mistakes))
    name = name or fitting.set_with(db, whole.fit)
    name = name or wood.set_with(db, whole.wood)
    if name is not None:
        raise _some_are_here("set", whole.kept.name, name)
    boards, logs = (b.key for b in whole.stock.boards), (b.key for b in whole.stock.logs)
    name = store.stock_known(db, boards, logs)
    if name is not None:
        raise KeyReused(
            f"“{name}”, a board or log of the set “{whole.kept.name}”, is here already, and the"
            " set is not. Nothing was brought in.",
            field="file",
            hint="Bring the file into a database of its own: benchside import FILE --db OTHER.db",
        )


def _some_are_here(what: str, name: str, known: str) -> KeyReused:
    return KeyReused(
        f"Some readings of the {what} “{name}” are here already, in the {what} “{known}”,"
        " and some are not. Nothing was brought in.",
        field="file",
        hint="Bring the file into a database of its own: benchside import FILE --db OTHER.db",
    )
