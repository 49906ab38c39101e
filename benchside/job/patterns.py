"""Patterns: making them, changing them by revisions, and all that is remembered with them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from sqlite_utils import Database

from benchside.errors import BenchsideError, NotFound, OutOfRange, PatternBroken
from benchside.job import drafts
from benchside.job.drafts import Draft, TypingUnit
from benchside.job.forms import LONGEST_NAME, LONGEST_NOTE, plain
from benchside.job.shop import bench, lathe
from benchside.lathe import parts, plan
from benchside.lathe.course import Bench
from benchside.lathe.parts import Slenderness
from benchside.lathe.steps import STAGES, Step
from benchside.pattern import Pattern, Place, change, places, table
from benchside.store import patterns, sets
from benchside.store.database import Shop
from benchside.store.originals import Original, of_pattern
from benchside.store.patterns import PatternRecord, RevisionNote
from benchside.store.sets import SpindleSet

LONGEST_SPEED = 20  # judgement: "about 1800" fits
LONGEST_TABLE = table.LONGEST_TEXT
_CUTS = ("size", "tenon", "run", "form", "thin")


class Stale(BenchsideError):
    """The pattern was revised elsewhere since this table was opened."""

    status = 409

    def __init__(self, base: int, newest: int) -> None:
        super().__init__(
            f"This pattern was changed elsewhere: it is at revision {newest} now,"
            f" and what you see was made from revision {base}.",
            field="base",
            hint="Nothing is lost. Save yours as the newest revision after all, keep it as a"
            " pattern of its own, or look at the other first.",
        )
        self.newest = newest


@dataclass(frozen=True, slots=True)
class Listed:
    """A pattern and the sets that are turned to it."""

    kept: PatternRecord
    used_by: tuple[SpindleSet, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """A pattern at one revision, and what is to be known of it. ``newest`` is its last revision."""

    kept: PatternRecord
    newest: int
    revisions: tuple[RevisionNote, ...]
    used_by: tuple[SpindleSet, ...]
    places: tuple[Place, ...]
    slender: Slenderness
    originals: tuple[Original, ...]

    @property
    def pattern(self) -> Pattern:
        return self.kept.pattern


@dataclass(frozen=True, slots=True)
class Advice:
    """An order that is allowed but rarely meant: ``step`` comes before ``after``, which it needs.

    ``what`` is ``rough_late``, ``set_out_late`` or ``read_early``.
    """

    what: Literal["rough_late", "set_out_late", "read_early"]
    step: Step
    after: Step


@dataclass(frozen=True, slots=True)
class Steps:
    """The steps of a pattern in order, the places they name, and what is odd in the order."""

    kept: PatternRecord
    steps: tuple[Step, ...]
    places: dict[str, Place]
    advice: tuple[Advice, ...]


@dataclass(frozen=True, slots=True)
class Mirrored:
    """A pattern and itself end for end, not kept, with the places that can be read in each."""

    kept: PatternRecord
    pattern: Pattern
    places: tuple[Place, ...]


@dataclass(frozen=True, slots=True)
class Scaled:
    """A pattern at another length, and what scaling did to it."""

    kept: PatternRecord
    pattern: Pattern
    warnings: tuple[change.TenonChange, ...]


def listed(shop: Shop, *, archived: bool = False) -> tuple[Listed, ...]:
    """All patterns, newest first, each with the sets turned to it."""
    every = [*sets.listed(shop), *sets.listed(shop, archived=True)]
    return tuple(
        Listed(kept, tuple(s for s in every if s.pattern_id == kept.id))
        for kept in patterns.listed(shop, archived=archived)
    )


def shown(shop: Shop, pattern_id: int, revision: int | None = None) -> Shown:
    """One pattern at its newest revision or the one asked for. Raises `NotFound`."""
    with shop.snapshot():
        kept = patterns.found(shop, pattern_id, revision)
        notes = patterns.revisions(shop, pattern_id)
        every = [*sets.listed(shop), *sets.listed(shop, archived=True)]
    return Shown(
        kept=kept,
        newest=notes[0].revision,
        revisions=tuple(notes),
        used_by=tuple(s for s in every if s.pattern_id == pattern_id),
        places=places(kept.pattern),
        slender=parts.slenderness(kept.pattern),
        originals=tuple(of_pattern(shop, pattern_id)),
    )


def create(shop: Shop, draft: Draft, *, at: str) -> int:
    """Keep a draft as a new pattern; returns its id.

    Raises `PatternBroken` with everything that is wrong, `OutOfRange` for too long a note.
    """
    pattern = _sound(shop, draft, None)
    _check_note(draft.note)
    with shop.transaction() as db:
        return _add(db, pattern, note=draft.note.strip(), at=at)


def read_table(shop: Shop, text: str, *, name: str = "", unit: TypingUnit = "mm", at: str) -> int:
    """Keep the pattern that a table of stations holds; returns its id.

    ``name``, if given, is taken instead of the table's own; ``unit`` is that of bare figures.
    Raises `PatternBroken` with every row
    that is wrong, `BenchsideError` for what is no table.
    """
    ours = lathe(shop)
    pattern = table.read_pattern(
        text,
        unit=unit,
        name=plain(name),
        swing_mm=ours.swing_mm,
        between_centres_mm=ours.between_centres_mm,
    )
    # Judged as if it had been typed, so that a table is held to the same rules.
    judged = drafts.judge(drafts.draft_of(pattern, unit), base=pattern, lathe=ours)
    if judged.problems:
        raise PatternBroken(judged.problems)
    with shop.transaction() as db:
        return _add(db, change.all_named(pattern), note="", at=at)


def save_revision(
    shop: Shop, pattern_id: int, draft: Draft, *, base: int, at: str, over: int | None = None
) -> int:
    """Keep a draft as the newest revision and return its number; the old ones stay.

    ``base`` is the revision the draft was made from. When nothing differs from the newest, that
    one's number is returned and nothing is written. Raises `PatternBroken`, and `Stale` when the
    pattern was revised since, unless the maker has seen that newest one and says so (``over``).
    """
    with shop.transaction() as db:
        made_from = patterns.found(shop, pattern_id, base)
        pattern = _sound(shop, draft, made_from.pattern)
        return _revise(shop, db, pattern_id, pattern, base=over or base, at=at)


def scaled(
    shop: Shop,
    pattern_id: int,
    length_mm: float,
    *,
    diameters: bool = False,
    tenons: bool = False,
    unit: TypingUnit = "mm",
) -> Scaled:
    """A pattern at another length, not kept: only positions scale unless said otherwise. [mm]

    What stands in its way is told in ``unit``. Raises `PatternBroken` where the scaled spindle
    breaks a rule or does not fit the lathe.
    """
    kept = patterns.found(shop, pattern_id)
    found = change.scaled(kept.pattern, length_mm, diameters=diameters, tenon_lengths=tenons)
    judged = drafts.judge(
        drafts.draft_of(found.pattern, unit), base=found.pattern, lathe=lathe(shop)
    )
    if judged.problems:
        raise PatternBroken(judged.problems)
    return Scaled(kept, found.pattern, found.warnings)


def possible_mm(
    shop: Shop, pattern_id: int, step_mm: float, *, diameters: bool = False, tenons: bool = False
) -> tuple[float, float] | None:
    """The shortest and the longest a pattern can be scaled to, in whole steps; None where it does
    not go on the lathe as it is. [mm]"""

    def fits(length_mm: float) -> bool:
        try:
            scaled(shop, pattern_id, length_mm, diameters=diameters, tenons=tenons)
        except BenchsideError:
            return False
        return True

    now_mm = patterns.found(shop, pattern_id).pattern.length_mm
    return change.possible_mm(now_mm, step_mm, fits) if fits(now_mm) else None


def keep_scaled(shop: Shop, new: Scaled, *, base: int, at: str) -> int:
    """Keep a scaled pattern as its newest revision; returns the number.

    ``base`` is the revision the maker saw. Raises `Stale`.
    """
    if base != new.kept.revision:
        raise Stale(base, new.kept.revision)
    with shop.transaction() as db:
        return _revise(shop, db, new.kept.id, new.pattern, base=base, at=at, reason="scaled")


def mirrored(shop: Shop, pattern_id: int) -> Mirrored:
    """A pattern end for end, to be looked at; nothing is kept."""
    kept = patterns.found(shop, pattern_id)
    turned = change.mirrored(kept.pattern)
    return Mirrored(kept, turned, places(turned))


def mirror(shop: Shop, pattern_id: int, *, base: int, at: str) -> int:
    """Turn a pattern end for end: a new revision, its number returned. Raises `Stale`."""
    with shop.transaction() as db:
        kept = patterns.found(shop, pattern_id)
        turned = change.mirrored(kept.pattern)
        return _revise(shop, db, pattern_id, turned, base=base, at=at, reason="turned")


def go_back_to(shop: Shop, pattern_id: int, revision: int, *, at: str) -> int:
    """Make an older revision the newest again; returns the number it gets."""
    with shop.transaction() as db:
        old = patterns.found(shop, pattern_id, revision)
        newest = patterns.found(shop, pattern_id)
        return _revise(
            shop, db, pattern_id, old.pattern, base=newest.revision, at=at, reason=f"as {revision}"
        )


def duplicate(
    shop: Shop, pattern_id: int, name: str, *, at: str, pattern: Pattern | None = None
) -> int:
    """A pattern of its own with the same stations, order and speeds; returns its id.

    ``pattern`` takes the place of the stations that are kept now.
    """
    with shop.transaction() as db:
        kept = patterns.found(shop, pattern_id)
        new = replace(pattern or kept.pattern, name=_checked_name(name))
        new_id = patterns.add(db, new, note=kept.note, at=at)
        patterns.change(
            db,
            new_id,
            step_order=json.dumps(kept.step_order),
            speeds=json.dumps(kept.speeds),
            next_station=kept.next_station,
        )
        return new_id


def save_apart(shop: Shop, pattern_id: int, draft: Draft, *, base: int, at: str) -> int:
    """Keep a draft made from a pattern as a pattern of its own; returns its id."""
    made_from = patterns.found(shop, pattern_id, base)
    pattern = _sound(shop, draft, made_from.pattern)
    with shop.transaction() as db:
        return _add(db, pattern, note=made_from.note, at=at)


def rename(shop: Shop, pattern_id: int, name: str, note: str) -> None:
    """Change the name and the note. Raises `OutOfRange` for one too long, or an empty name."""
    new_name = _checked_name(name)
    _check_note(note)
    patterns.found(shop, pattern_id)
    with shop.transaction() as db:
        patterns.change(db, pattern_id, name=new_name, note=note.strip())


def archive(shop: Shop, pattern_id: int, at: str | None) -> None:
    """Put a pattern away, or with None take it out again. Its sets are not touched."""
    patterns.found(shop, pattern_id)
    with shop.transaction() as db:
        patterns.change(db, pattern_id, archived_at=at)


def steps(shop: Shop, pattern_id: int) -> Steps:
    """The steps of a pattern in the order the maker wants them."""
    kept = patterns.found(shop, pattern_id)
    in_order = plan.plan(kept.pattern, kept.step_order, bench(shop))
    known = {place.id: place for place in places(kept.pattern)}
    return Steps(
        kept=kept, steps=in_order, places=known, advice=_advice(kept.pattern, in_order, known)
    )


def move_step(shop: Shop, pattern_id: int, step_id: str, *, later: bool) -> None:
    """Do one step before the one that stands before it, or after the one after it.

    Mounting stays first and done last. Raises `NotFound` for a step the pattern has not.
    """
    with shop.transaction() as db:
        kept = patterns.found(shop, pattern_id)
        order = [step.id for step in plan.plan(kept.pattern, kept.step_order, bench(shop))]
        if step_id not in order:
            raise NotFound("This pattern has no such step.", field="step_id")
        here = order.index(step_id)
        there = here + (1 if later else -1)
        last = len(order) - 1
        if 0 < here < last and 0 < there < last:
            order[here], order[there] = order[there], order[here]
            _keep_order(db, kept, tuple(order), bench(shop))


def set_order(shop: Shop, pattern_id: int, order: tuple[str, ...]) -> None:
    """Remember an order of steps with the pattern; an empty one is benchside's own.

    Steps the pattern has not are left out; those not named stay where benchside would have them.
    """
    with shop.transaction() as db:
        _keep_order(db, patterns.found(shop, pattern_id), order, bench(shop))


def _advice(
    pattern: Pattern, in_order: tuple[Step, ...], known: Mapping[str, Place]
) -> tuple[Advice, ...]:
    """What in an order is rarely meant, each kind told once, at its first step."""
    found: dict[str, Advice] = {}
    needs: tuple[tuple[Literal["rough_late", "set_out_late"], str, tuple[str, ...]], ...] = (
        ("rough_late", "rough", ("set_out", *_CUTS)),
        ("set_out_late", "set_out", _CUTS),
    )
    for what, first, later in needs:
        needed = next(i for i, step in enumerate(in_order) if step.stage == first)
        early = next((step for step in in_order[:needed] if step.stage in later), None)
        if early:
            found[what] = Advice(what, early, in_order[needed])
    for i, step in enumerate(in_order):
        if step.stage != "final" or step.place_id is None:
            continue
        cut = next((s for s in in_order[i:] if _cuts_at(pattern, s, known[step.place_id])), None)
        if cut:
            found.setdefault("read_early", Advice("read_early", step, cut))
    return tuple(found.values())


def _cuts_at(pattern: Pattern, step: Step, place: Place) -> bool:
    """Whether a step still takes wood off at a place: its own, or one its sections reach."""
    if step.stage not in _CUTS:
        return False
    ends = {s.id for i in step.forms for s in pattern.stations[i : i + 2]}
    return place.id == step.place_id or place.section in step.forms or place.id in ends


def _keep_order(db: Database, kept: PatternRecord, order: tuple[str, ...], with_: Bench) -> None:
    ours = [step.id for step in plan.plan(kept.pattern, (), with_)]
    theirs = [step.id for step in plan.plan(kept.pattern, order, with_)]
    patterns.change(db, kept.id, step_order=json.dumps([] if ours == theirs else theirs))


def set_speeds(shop: Shop, pattern_id: int, speeds: Mapping[str, str]) -> None:
    """Remember the maker's own speed for each stage. Raises `OutOfRange` for one too long."""
    kept = {stage: " ".join(speeds.get(stage, "").split()) for stage in STAGES}
    for stage, text in kept.items():
        if len(text) > LONGEST_SPEED:
            raise OutOfRange(
                f"A speed has room for {LONGEST_SPEED} characters.",
                field=f"speed-{stage}",
                hint="A figure such as 1200, or “slow”.",
            )
    patterns.found(shop, pattern_id)
    with shop.transaction() as db:
        patterns.change(
            db, pattern_id, speeds=json.dumps({s: text for s, text in kept.items() if text})
        )


def write_table(shop: Shop, pattern_id: int, revision: int | None = None) -> tuple[str, str]:
    """The name of a pattern and its table as text that `read_table` takes back exactly."""
    kept = patterns.found(shop, pattern_id, revision)
    return kept.name, table.write_pattern(kept.pattern)


def _sound(shop: Shop, draft: Draft, base: Pattern | None) -> Pattern:
    """The pattern a draft makes, when nothing at all stands in its way."""
    judged = drafts.judge(draft, base=base, lathe=lathe(shop))
    if judged.problems or judged.pattern is None:
        raise PatternBroken(judged.problems)
    return change.all_named(judged.pattern)


def _add(db: Database, pattern: Pattern, *, note: str, at: str) -> int:
    """A new pattern, its stations numbered afresh."""
    stations = tuple(replace(s, id=f"s{i}") for i, s in enumerate(pattern.stations, 1))
    pattern_id = patterns.add(db, replace(pattern, stations=stations), note=note, at=at)
    patterns.change(db, pattern_id, next_station=len(stations) + 1)
    return pattern_id


def _revise(
    shop: Shop,
    db: Database,
    pattern_id: int,
    pattern: Pattern,
    *,
    base: int,
    at: str,
    reason: str = "",
) -> int:
    """A new revision where something differs. Call inside a transaction."""
    newest = patterns.found(shop, pattern_id)
    if base != newest.revision:
        raise Stale(base, newest.revision)
    if newest.name != pattern.name:
        patterns.change(db, pattern_id, name=pattern.name)
    if replace(pattern, name=newest.name) == newest.pattern:
        return newest.revision
    marked = _with_ids(shop, db, newest, pattern)
    return patterns.add_revision(db, pattern_id, marked, at=at, reason=reason)


def _with_ids(shop: Shop, db: Database, newest: PatternRecord, pattern: Pattern) -> Pattern:
    """Known stations keep their ids; the others get the next ones, which are never used again."""
    known = patterns.station_ids(shop, newest.id)
    following = newest.next_station
    stations = []
    for station in pattern.stations:
        if station.id not in known:
            while f"s{following}" in known:
                following += 1
            station = replace(station, id=f"s{following}")
            following += 1
        stations.append(station)
    if following != newest.next_station:
        patterns.change(db, newest.id, next_station=following)
    return replace(pattern, stations=tuple(stations))


def _checked_name(name: str) -> str:
    said = plain(name)
    if not said:
        raise OutOfRange("The pattern has no name.", field="name", hint="Something to know it by.")
    if len(said) > LONGEST_NAME:
        raise OutOfRange(
            f"A name has room for {LONGEST_NAME} characters.", field="name", hint="Shorten it."
        )
    return said


def _check_note(note: str) -> None:
    if len(note) > LONGEST_NOTE:
        raise OutOfRange(
            f"A note has room for {LONGEST_NOTE:,} characters; this has {len(note):,}.",
            field="note",
            hint="Nothing was cut: shorten it here.",
        )
