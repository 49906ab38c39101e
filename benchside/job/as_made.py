"""How a set was made, to be made again: averages, order, calipers, hours, mistakes and cures."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass

import numpy as np

from benchside.consistency import pace
from benchside.consistency.spread import Spread, spread
from benchside.errors import NotUnderstood, OutOfRange
from benchside.job import dried, holes, judged, sets, wood_of
from benchside.job.calipers import Setting, settings
from benchside.job.holes import Hole
from benchside.job.keys import keyed
from benchside.job.sets import Standing
from benchside.job.work import Work
from benchside.lathe.calipers import CaliperUse
from benchside.pattern import Place
from benchside.store import fitting, judging, readings, review
from benchside.store.database import Shop
from benchside.store.fitting import Later
from benchside.store.judging import AsMade, Mistake
from benchside.store.originals import Original, of_pattern
from benchside.store.patterns import PatternRecord
from benchside.store.readings import Mark
from benchside.wood.learning import Shrinkage

LONGEST = 2000
TOLD = ("spoiled", "mend", "odd", "spare", "note")


@dataclass(frozen=True, slots=True)
class Average:
    """What one place came to over the pieces that count, beside what the pattern wants. [mm]

    ``position`` is where it lies, where that was read. None: not read.
    """

    place: Place
    size: Spread | None
    position: Spread | None


@dataclass(frozen=True, slots=True)
class Made:
    """Everything the page of a set as made holds. ``minutes`` is the time at the lathe in all.

    ``told`` are the maker's marks with a reason or a note; ``calipers`` the sizes each letter
    stood at; ``originals`` what the pattern was measured from; ``holes`` the test holes its parts
    were bored like. ``reckoned``: pieces were read before they dried, and stand in the averages as
    they will be dry. ``later`` is what was read again by piece, place, what (dry, sized) and axis,
    ``again`` its means over the pieces that count [mm]; ``learned`` what the dry sizes teach of the
    tree.
    """

    standing: Standing
    record: PatternRecord
    work: Work
    averages: tuple[Average, ...]
    pieces: int
    letters: Mapping[str, CaliperUse]
    calipers: tuple[tuple[str, tuple[Setting, ...]], ...]
    words: AsMade
    mistakes: tuple[Mistake, ...]
    told: tuple[Mark, ...]
    minutes: float
    minutes_each: float | None
    begun_at: str | None
    originals: tuple[Original, ...]
    holes: tuple[Hole, ...]
    reckoned: bool
    later: Mapping[tuple[int, str, str, str], float]
    again: Mapping[tuple[str, str, str], float]
    learned: Shrinkage | None


def as_made(shop: Shop, set_id: int) -> Made:
    """All that is known of how a set was made. Raises `NotFound`."""
    with shop.snapshot():
        found = judged.judge(shop, set_id)
        standing, doing = found.standing, found.doing
        kept = standing.kept
        taps = review.taps(shop, set_id)
        marks = readings.marks(shop, set_id)
        words = judging.as_made(shop, set_id)
        mistakes = judging.mistakes(shop, set_id)
        record = sets.held(shop, kept)
        originals = of_pattern(shop, kept.pattern_id)
        bored = {part.test_hole: None for part in fitting.parts(shop, set_id) if part.test_hole}
        later = _newest(fitting.later(shop, set_id))
        learned = dried.learned(shop, set_id)
        holds = wood_of.of_pieces(shop, set_id, {found.table.numbers[r] for r in _counted(found)})
    letters = found.letters
    spent = pace.minutes_by(taps)
    return Made(
        standing=standing,
        record=record,
        work=doing,
        averages=_averages(found),
        pieces=len(_counted(found)),
        letters=letters,
        calipers=tuple(settings(letters, doing).items()),
        words=words,
        mistakes=tuple(mistakes),
        told=tuple(m for m in marks if m.what in TOLD and m.text and not m.about),
        minutes=sum(spent.values()),
        minutes_each=pace.minutes_per_piece(taps, {p.number for p in standing.pieces if p.counts}),
        begun_at=min((p.begun_at for p in standing.pieces if p.begun_at), default=None),
        originals=tuple(originals),
        holes=tuple(holes.seen(shop, key) for key in bored),
        reckoned=any(said is not None and not said.turning.tries for said in holds.values()),
        later=later,
        again=_again(later, {found.table.numbers[row] for row in _counted(found)}),
        learned=learned if learned is not None and learned.radial.pieces else None,
    )


def keep_words(shop: Shop, set_id: int, words: AsMade) -> None:
    """Keep what is to be remembered. Raises `OutOfRange` for too long a text, `NotFound`."""
    sets.standing(shop, set_id)
    for field in ("wood", "bits", "finish", "note"):
        _short(getattr(words, field), field)
    with shop.transaction() as db:
        judging.keep_as_made(db, set_id, words)


def note_mistake(shop: Shop, set_id: int, what: str, cure: str, *, key: str, at: str) -> None:
    """Add a mistake and its cure to the log. The same key twice is one. Raises `NotUnderstood`."""
    sets.standing(shop, set_id)
    keyed(key)
    if not what.strip():
        raise NotUnderstood("What went wrong?", field="what", hint="A word or two.")
    _short(what, "what")
    _short(cure, "cure")
    with shop.transaction() as db:
        judging.add_mistake(db, set_id, Mistake(key, what.strip(), cure.strip(), at))


def _counted(found: judged.Judged) -> list[int]:
    """The rows of finished pieces that belong to the set and are not the odd one or to be mended.

    An average is to be made again; what came out odd is not.
    """
    return [
        row
        for row, number in enumerate(found.table.numbers)
        if (piece := found.standing.piece(number)).counts and piece.lot not in ("odd", "mend")
    ]


def _newest(later: Sequence[Later]) -> dict[tuple[int, str, str, str], float]:
    return {
        (r.spindle, r.station_id, r.what, r.axis): r.value_mm for r in later if r.struck_at is None
    }


def _again(
    later: Mapping[tuple[int, str, str, str], float], numbers: Set[int]
) -> dict[tuple[str, str, str], float]:
    each: dict[tuple[str, str, str], list[float]] = {}
    for (number, place_id, what, axis), mm in later.items():
        if number in numbers:
            each.setdefault((place_id, what, axis), []).append(mm)
    return {where: sum(sizes) / len(sizes) for where, sizes in each.items()}


def _averages(found: judged.Judged) -> tuple[Average, ...]:
    rows = _counted(found)
    table = found.table
    read: dict[tuple[str, str], Spread] = {}
    for column, (place, kind) in enumerate(table.keys):
        off_mm = table.off_mm[rows, column] + table.hole_mm[rows, column]
        if np.any(~np.isnan(off_mm)):
            wanted = found.doing.finished_places[place.id]
            target_mm = wanted.diameter_mm if kind == "diameter" else wanted.at_mm
            read[place.id, kind] = spread(off_mm + target_mm, table.steps_mm[column])
    return tuple(
        Average(place, read.get((place.id, "diameter")), read.get((place.id, "position")))
        for place in found.doing.finished_places.values()
    )


def _short(text: str, field: str) -> None:
    if len(text) > LONGEST:
        raise OutOfRange(
            f"There is room for {LONGEST} characters.", field=field, hint="Shorten it."
        )
    if re.search("[\ud800-\udfff\0]", text):
        raise NotUnderstood("A sign in this cannot be kept.", field=field, hint="Type it anew.")
