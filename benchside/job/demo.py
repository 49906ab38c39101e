"""What the demo starts from: a half-turned set whose last tap was a few minutes ago."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import TypeVar

from benchside.errors import NotFound
from benchside.job.exchange import Document, Imported, from_json, import_into
from benchside.moments import as_text
from benchside.store import exchange as store
from benchside.store.database import Shop
from benchside.store.exchange import KeptOriginal, KeptPattern, KeptSet, KeptTest
from benchside.store.fitting import FitOfSet, HoleReading, KeptHole, KeptPart, Later
from benchside.store.readings import Mark, Reading
from benchside.store.stock import KeptBoard, KeptLog
from benchside.store.wood import Weighing, WoodOfSet

SINCE_THE_LAST_TAP = timedelta(minutes=5)

Shift = Callable[[str], str]
Kept = TypeVar("Kept", Later, HoleReading, Weighing)
Timber = TypeVar("Timber", KeptBoard, KeptLog)


def load_demo(shop: Shop, seed_dir: Path, now: str) -> tuple[Imported, ...]:
    """Bring in the demo's files, every moment later by so much that the last is just gone.

    A bench that has a pattern already is left as it is, and nothing comes back. Raises
    `NotFound` where the files are missing.
    """
    documents = [from_json(path.read_bytes()) for path in sorted(seed_dir.glob("*.json"))]
    if not documents:
        raise NotFound(f"The demo's data are missing from {seed_dir}.", hint="Install again.")
    if store.pattern_ids(shop):
        return ()
    shift = _shift(documents, now)
    return tuple(import_into(shop, _shifted(found, shift), now=now) for found in documents)


def _shift(documents: Sequence[Document], now: str) -> Shift:
    last = max(_moment(at) for document in documents for at in _moments(document))
    by = _moment(now) - SINCE_THE_LAST_TAP - last

    def shift(at: str) -> str:
        return as_text(_moment(at) + by)

    return shift


def _moments(document: Document) -> Iterator[str]:
    """When everything in an export was made, tapped and heard of."""
    for pattern in document.patterns:
        yield pattern.made_at
        yield from (revision.made_at for revision in pattern.revisions)
    for whole in document.sets:
        yield whole.kept.made_at
        rows: tuple[Reading | Mark, ...] = (*whole.readings, *whole.marks)
        for row in rows:
            yield row.taken_at
            yield row.received_at
        yield from (mistake.noted_at for mistake in whole.mistakes)
        yield from (reading.taken_at for reading in whole.fit.later)
        yield from (home.at for home in whole.fit.fitted)
        yield from (board.made_at for board in whole.stock.boards)
        yield from (log.made_at for log in whole.stock.logs)
        yield from (blank.sawn_at for blank in whole.stock.blanks)
        yield from (weighing.taken_at for weighing in whole.wood.weighings)
        yield from (mark.at for mark in whole.wood.drying_marks)
    for original in document.originals:
        yield original.kept.made_at
        yield from (reading.taken_at for reading in original.readings)
    for test in document.repeat_tests:
        yield test.kept.begun_at
        yield from (reading.taken_at for reading in test.readings)
    yield from (board.made_at for board in document.boards)
    yield from (log.made_at for log in document.logs)


def _shifted(document: Document, shift: Shift) -> Document:
    return replace(
        document,
        exported_at=shift(document.exported_at),
        patterns=tuple(_pattern(kept, shift) for kept in document.patterns),
        sets=tuple(_set(whole, shift) for whole in document.sets),
        originals=tuple(_original(whole, shift) for whole in document.originals),
        repeat_tests=tuple(_test(whole, shift) for whole in document.repeat_tests),
        test_holes=tuple(_hole(whole, shift) for whole in document.test_holes),
        boards=_stood(document.boards, shift),
        logs=_stood(document.logs, shift),
    )


def _pattern(kept: KeptPattern, shift: Shift) -> KeptPattern:
    return replace(
        kept,
        made_at=shift(kept.made_at),
        archived_at=kept.archived_at and shift(kept.archived_at),
        revisions=tuple(replace(r, made_at=shift(r.made_at)) for r in kept.revisions),
    )


def _set(whole: KeptSet, shift: Shift) -> KeptSet:
    return replace(
        whole,
        kept=replace(
            whole.kept,
            made_at=shift(whole.kept.made_at),
            archived_at=whole.kept.archived_at and shift(whole.kept.archived_at),
        ),
        readings=tuple(
            replace(r, taken_at=shift(r.taken_at), received_at=shift(r.received_at))
            for r in whole.readings
        ),
        marks=tuple(
            replace(m, taken_at=shift(m.taken_at), received_at=shift(m.received_at))
            for m in whole.marks
        ),
        mistakes=tuple(replace(m, noted_at=shift(m.noted_at)) for m in whole.mistakes),
        fit=_fit(whole.fit, shift),
        stock=replace(
            whole.stock,
            boards=_stood(whole.stock.boards, shift),
            logs=_stood(whole.stock.logs, shift),
            blanks=tuple(replace(b, sawn_at=shift(b.sawn_at)) for b in whole.stock.blanks),
        ),
        wood=_wood(whole.wood, shift),
    )


def _wood(found: WoodOfSet, shift: Shift) -> WoodOfSet:
    return replace(
        found,
        woods=tuple(replace(said, given_at=shift(said.given_at)) for said in found.woods),
        mounted=tuple((spindle, nth, shift(at)) for spindle, nth, at in found.mounted),
        slices=tuple(
            replace(s, cut_at=shift(s.cut_at), struck_at=s.struck_at and shift(s.struck_at))
            for s in found.slices
        ),
        weighings=tuple(_read(weighing, shift) for weighing in found.weighings),
        drying_marks=tuple(replace(mark, at=shift(mark.at)) for mark in found.drying_marks),
    )


def _stood(kept: tuple[Timber, ...], shift: Shift) -> tuple[Timber, ...]:
    """Boards or logs, when they came and when they were used up."""
    return tuple(
        replace(
            one,
            made_at=shift(one.made_at),
            archived_at=one.archived_at and shift(one.archived_at),
        )
        for one in kept
    )


def _fit(found: FitOfSet, shift: Shift) -> FitOfSet:
    return replace(
        found,
        later=tuple(_read(reading, shift) for reading in found.later),
        parts=tuple(
            KeptPart(
                replace(whole.kept, made_at=shift(whole.kept.made_at)),
                tuple(_read(reading, shift) for reading in whole.readings),
            )
            for whole in found.parts
        ),
        fitted=tuple(replace(home, at=shift(home.at)) for home in found.fitted),
    )


def _hole(whole: KeptHole, shift: Shift) -> KeptHole:
    kept = whole.kept
    return KeptHole(
        replace(kept, bored_at=shift(kept.bored_at), worn_at=kept.worn_at and shift(kept.worn_at)),
        tuple(_read(reading, shift) for reading in whole.readings),
    )


def _read(reading: Kept, shift: Shift) -> Kept:
    struck_at = reading.struck_at and shift(reading.struck_at)
    return replace(reading, taken_at=shift(reading.taken_at), struck_at=struck_at)


def _original(whole: KeptOriginal, shift: Shift) -> KeptOriginal:
    return replace(
        whole,
        kept=replace(whole.kept, made_at=shift(whole.kept.made_at)),
        readings=tuple(
            replace(r, taken_at=shift(r.taken_at), struck_at=r.struck_at and shift(r.struck_at))
            for r in whole.readings
        ),
    )


def _test(whole: KeptTest, shift: Shift) -> KeptTest:
    return KeptTest(
        replace(whole.kept, begun_at=shift(whole.kept.begun_at)),
        tuple(replace(r, taken_at=shift(r.taken_at)) for r in whole.readings),
    )


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text)
