"""A set seen whole and one piece seen close: its readings, their history, what became of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from benchside.errors import Refused
from benchside.job import calipers, finals, progress, sets, tenon_aims, turning
from benchside.job.calipers import Caliper, Dealt
from benchside.job.progress import Piece
from benchside.job.sets import Standing
from benchside.job.turning import Answer
from benchside.job.work import Work, letters_of, told_finely, tolerance_mm, work_of
from benchside.lathe.calipers import CaliperUse
from benchside.lathe.steps import Step, next_step
from benchside.pattern import Pattern, Place, places
from benchside.pattern.change import revalued
from benchside.store import patterns, readings, review
from benchside.store import sets as kept_sets
from benchside.store.database import Shop
from benchside.store.originals import Original, of_pattern
from benchside.store.patterns import PatternRecord
from benchside.store.readings import Mark, Reading
from benchside.store.sets import SpindleSet

Fate = Literal["stands", "corrected", "withdrawn", "moved", "read_again"]
NOTHING_MM = 1e-6


@dataclass(frozen=True, slots=True)
class Overview:
    """A set seen whole. ``step_in_hand`` holds the next step of each piece that is begun;
    ``originals`` are what its pattern was measured from."""

    standing: Standing
    record: PatternRecord
    newest: int
    step_in_hand: Mapping[int, Step]
    work: Work
    calipers: tuple[Caliper, ...]
    dealt: Dealt
    originals: tuple[Original, ...]


@dataclass(frozen=True, slots=True)
class Entry:
    """One reading with what became of it; ``by`` is the reading that took its place."""

    reading: Reading
    place: Place | None
    fate: Fate
    by: Reading | None


@dataclass(frozen=True, slots=True)
class PieceView:
    """One piece: ``answers`` is what stands, along the spindle; ``entries`` all, as they came.

    Of readings of one place, one way across, the newest stands. ``drawn_mm`` is what is wanted
    where each of ``answers`` was taken, by key; at the lathe it may have been aimed off that. Of a
    tenon turned to its hole it is what that wanted, and ``before_hole_mm`` what is drawn.
    ``withdrawn`` are the keys of what no longer counts. ``steps`` are the pattern's.
    """

    standing: Standing
    piece: Piece
    extra: bool
    answers: tuple[Answer, ...]
    drawn_mm: Mapping[str, float]
    before_hole_mm: Mapping[str, float]
    entries: tuple[Entry, ...]
    marks: tuple[Mark, ...]
    withdrawn: frozenset[str]
    places: Mapping[str, Place]
    finished: Mapping[str, Place]
    steps: Mapping[str, Step]
    others: tuple[int, ...]
    can_become_pattern: bool

    @property
    def kept(self) -> SpindleSet:
        return self.standing.kept


@dataclass(frozen=True, slots=True)
class Change:
    """What letting a piece become the pattern does at one place: to its size or to where it lies.

    Lengths in mm.
    """

    place: Place
    kind: Literal["diameter", "position"]
    was_mm: float
    is_mm: float


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A place that was read, and why the pattern does not take its reading.

    ``between``: it follows from the stations about it; ``circle``: where a crown or root lies
    follows from its circle.
    """

    place: Place
    why: Literal["between", "circle"]


@dataclass(frozen=True, slots=True)
class Becoming:
    """What the pattern would be if it followed one piece. ``revision`` is the newest one now.

    ``pattern`` and ``changes`` leave the tenons as they are; ``tenon_changes`` is what would
    change in them. ``others_turned`` counts the pieces of the set that lie in it, begun and not
    spoiled, without this one and without practice.
    """

    kept: SpindleSet
    piece: Piece
    revision: int
    pattern: Pattern
    changes: tuple[Change, ...]
    tenon_changes: tuple[Change, ...]
    left_out: tuple[LeftOut, ...]
    unread: tuple[Place, ...]
    others_turned: int


@dataclass(frozen=True, slots=True)
class Line:
    """One place on the paper list, with the step that sizes it, if one does. [mm]"""

    place: Place
    stop_mm: float | None
    letter: str
    tolerance_mm: float
    position_tolerance_mm: float


@dataclass(frozen=True, slots=True)
class Sheet:
    """The list of steps for the day the phone dies, and columns for the readings.

    ``read`` holds the final readings there are, by piece, place and kind. [mm] Of the pieces
    ``numbers``, ``spoiled`` are to be read no more.
    """

    kept: SpindleSet
    record: PatternRecord
    work: Work
    letters: Mapping[str, CaliperUse]
    lines: tuple[Line, ...]
    numbers: tuple[int, ...]
    spoiled: frozenset[int]
    read: Mapping[tuple[int, str, str], float]


def overview(shop: Shop, set_id: int) -> Overview:
    """One set seen whole. Raises `NotFound`."""
    standing = sets.standing_by_steps(shop, set_id)
    kept = standing.kept
    doing = work_of(shop, kept)
    in_hand = {}
    for piece in standing.pieces:
        if piece.begun and piece.to_turn:
            step = next_step(doing.steps, progress.passed(piece, doing.steps))
            if step is not None:
                in_hand[piece.number] = step
    return Overview(
        standing=replace(standing, kept=told_finely(kept, doing)),
        record=sets.held(shop, kept),
        newest=patterns.found(shop, kept.pattern_id).revision,
        step_in_hand=in_hand,
        work=doing,
        calipers=calipers.of_set(shop, kept, doing),
        dealt=calipers.dealt(shop, kept, doing),
        originals=tuple(of_pattern(shop, kept.pattern_id)),
    )


def piece(shop: Shop, set_id: int, number: int) -> PieceView:
    """One piece. Raises `NotFound`."""
    standing = sets.standing(shop, set_id)
    kept = standing.kept
    found = standing.piece(number)
    doing = work_of(shop, kept, number)
    history = review.history(shop, set_id, number)
    marks = readings.marks(shop, set_id, number)
    stands = readings.standing(shop, set_id, number)
    newest = {_reads(reading): reading for reading in stands if reading.station_id in doing.places}
    at_lathe = doing
    if any(r.revision != doing.revision for r in newest.values()):
        aims = tenon_aims.at_holes(shop, set_id, number, doing)
        at_lathe = replace(doing, steps=tenon_aims.aimed(doing.steps, aims))
    held = [turning.held_to(at_lathe, r) if r.phase == "final" else r for r in newest.values()]
    answers = [turning.answer(kept, doing, r) for r in held]
    ids = list(doing.places)
    answers.sort(key=lambda a: (ids.index(a.place.id), a.reading.kind, a.reading.phase))
    return PieceView(
        standing=replace(standing, kept=told_finely(kept, doing)),
        piece=found,
        extra=number in standing.spares,
        answers=tuple(answers),
        drawn_mm={
            r.key: r.target_mm if _has_a_hole(r, doing) else _drawn_mm(r, doing) for r in held
        },
        before_hole_mm={
            r.key: doing.finished_places[r.station_id].diameter_mm
            for r in held
            if _has_a_hole(r, doing) and abs(_drawn_mm(r, doing) - r.target_mm) > NOTHING_MM
        },
        entries=tuple(_entries(number, history, marks, doing, newest)),
        marks=tuple(mark for mark in marks if mark.what != "withdrawn"),
        withdrawn=frozenset(mark.about for mark in marks if mark.what == "withdrawn"),
        places=doing.places,
        finished=doing.finished_places,
        steps={step.id: step for step in doing.steps},
        others=tuple(other.number for other in standing.pieces if other.number != number),
        can_become_pattern=any(_is_final_size(answer.reading) for answer in answers),
    )


def becoming(shop: Shop, set_id: int, number: int) -> Becoming:
    """What the pattern would be if it followed the final readings of a piece.

    Raises `Refused` when there are none, and `PatternBroken` when they make no spindle.
    """
    view = piece(shop, set_id, number)
    record = sets.held(shop, view.kept)
    if not view.can_become_pattern:
        raise Refused(
            f"Piece {number} has no final readings yet.",
            hint="Read it from end to end first, then let it become the pattern.",
        )
    sizes, lies = _measured(view)
    new = revalued(record.pattern, *(_without_tenons(view, read) for read in (sizes, lies)))
    drawn = [
        place for place in view.finished.values() if place.role in ("station", "crown", "root")
    ]
    return Becoming(
        kept=view.kept,
        piece=view.piece,
        revision=patterns.found(shop, record.id).revision,
        pattern=new,
        changes=tuple(_changes(drawn, new)),
        tenon_changes=tuple(_tenon_changes(drawn, sizes, lies)),
        left_out=tuple(_left_out(view, sizes, lies)),
        unread=tuple(place for place in drawn if place.id not in sizes),
        others_turned=sum(
            p.begun and not p.practice and p.lot != "spoiled" and p.number != number
            for p in view.standing.pieces
        ),
    )


def become_pattern(
    shop: Shop, set_id: int, number: int, *, seen: int, at: str, tenons: bool = False
) -> int:
    """Make a new revision from a piece and hold its set to it; returns the revision.

    ``seen`` is the newest revision the maker was shown; the tenons follow only with ``tenons``.
    Raises as `becoming`, and `Refused` when the pattern was revised meanwhile.
    """
    with shop.transaction() as db:
        found = becoming(shop, set_id, number)
        if found.revision != seen:
            raise Refused(
                "The pattern has been revised since this was shown.",
                hint="Look at what would change now, then decide.",
            )
        new = found.pattern
        if tenons:
            kept_pattern = sets.held(shop, found.kept).pattern
            new = revalued(kept_pattern, *_measured(piece(shop, set_id, number)))
        reason = f"follows piece {number} of {found.kept.name}"
        revision = patterns.add_revision(db, found.kept.pattern_id, new, at=at, reason=reason)
        kept_sets.hold_to(db, set_id, revision)
    return revision


def sheet(shop: Shop, set_id: int) -> Sheet:
    """Everything the paper list holds. Raises `NotFound`."""
    standing = sets.standing(shop, set_id)
    kept = standing.kept
    doing = work_of(shop, kept)
    letters = letters_of(shop, kept, doing)
    # Backwards, so that of two steps at one place the first to stop there is told.
    sizing = {step.place_id: step for step in reversed(doing.steps) if step.id in letters}
    lines = []
    for place in doing.places.values():
        step = sizing.get(place.id)
        lines.append(
            Line(
                place,
                step.stop_mm if step else None,
                letters[step.id].letter if step else "",
                tolerance_mm(kept, place, "diameter"),
                tolerance_mm(kept, place, "position"),
            )
        )
    return Sheet(
        kept=told_finely(kept, doing),
        record=sets.held(shop, kept),
        work=doing,
        letters=letters,
        lines=tuple(lines),
        numbers=tuple(p.number for p in standing.pieces if not p.practice),
        spoiled=frozenset(p.number for p in standing.pieces if p.lot == "spoiled"),
        read=_finals(readings.standing(shop, set_id)),
    )


def _finals(standing: list[Reading]) -> dict[tuple[int, str, str], float]:
    """The newest final readings, of two ways across the mean. [mm]"""
    newest: dict[tuple[int, str, str], dict[str, float]] = {}
    for reading in standing:
        if reading.phase == "final":
            where = (reading.spindle, reading.station_id, reading.kind)
            newest.setdefault(where, {})[reading.axis] = reading.value_mm
    return {where: sum(axes.values()) / len(axes) for where, axes in newest.items()}


def _measured(view: PieceView) -> tuple[dict[str, float], dict[str, float]]:
    """The final sizes and positions of a piece, by place. [mm]

    Of wood turned to other sizes than the finished ones, as far off the finished one as it was
    off what it was turned to.
    """
    sizes = _mean_of_axes([a for a in view.answers if _is_final_size(a.reading)])
    sizes = {
        place: round(mm + view.finished[place].diameter_mm - view.places[place].diameter_mm, 6)
        for place, mm in sizes.items()
    }
    lies = _mean_of_axes(
        [a for a in view.answers if a.reading.phase == "final" and a.reading.kind == "position"]
    )
    return sizes, lies


def _without_tenons(view: PieceView, read: dict[str, float]) -> dict[str, float]:
    return {place: mm for place, mm in read.items() if not _is_tenon(view.places[place])}


def _is_tenon(place: Place) -> bool:
    return place.role == "station" and place.kind == "tenon"


def _left_out(
    view: PieceView, sizes: Mapping[str, float], lies: Mapping[str, float]
) -> Iterator[LeftOut]:
    for place in view.places.values():
        if place.role in ("middle", "along") and place.id in sizes:
            yield LeftOut(place, "between")
        elif place.role in ("crown", "root") and place.id in lies:
            yield LeftOut(place, "circle")


def _reads(reading: Reading) -> tuple[str, str, str, str]:
    """What is read: two readings that agree in this are one thing read twice."""
    return reading.station_id, reading.kind, reading.phase, reading.axis


def _is_final_size(reading: Reading) -> bool:
    return reading.phase == "final" and reading.kind == "diameter"


def _changes(drawn: list[Place], new: Pattern) -> Iterator[Change]:
    """What the stations, crowns and roots become; what lies between them follows."""
    after = {place.id: place for place in places(new)}
    for place in drawn:
        is_now = after[place.id]
        if abs(is_now.diameter_mm - place.diameter_mm) > NOTHING_MM:
            yield Change(place, "diameter", place.diameter_mm, is_now.diameter_mm)
        if place.role == "station" and abs(is_now.at_mm - place.at_mm) > NOTHING_MM:
            yield Change(place, "position", place.at_mm, is_now.at_mm)


def _tenon_changes(
    drawn: list[Place], sizes: Mapping[str, float], lies: Mapping[str, float]
) -> Iterator[Change]:
    """What the tenons would become if they followed as well."""
    for place in filter(_is_tenon, drawn):
        if abs(sizes.get(place.id, place.diameter_mm) - place.diameter_mm) > NOTHING_MM:
            yield Change(place, "diameter", place.diameter_mm, sizes[place.id])
        if abs(lies.get(place.id, place.at_mm) - place.at_mm) > NOTHING_MM:
            yield Change(place, "position", place.at_mm, lies[place.id])


def _mean_of_axes(answers: list[Answer]) -> dict[str, float]:
    """The newest reading on each axis, and of two axes the mean, by place. [mm]"""
    newest: dict[str, dict[str, float]] = {}
    for answer in answers:
        newest.setdefault(answer.place.id, {})[answer.reading.axis] = answer.reading.value_mm
    return {place: sum(axes.values()) / len(axes) for place, axes in newest.items()}


def _is_drawn_now(reading: Reading, doing: Work) -> bool:
    """Whether the size wanted of a reading is the one that is drawn now: no step's own, and not
    that of wood in another state."""
    return reading.phase == "final" and (not doing.wood or reading.state == doing.wood.state)


def _drawn_mm(reading: Reading, doing: Work) -> float:
    """What is wanted where a reading was taken, whatever it was aimed at. [mm]"""
    if not _is_drawn_now(reading, doing):
        return reading.target_mm
    return finals.target_mm(_place(reading, doing), reading.kind)


def _has_a_hole(reading: Reading, doing: Work) -> bool:
    """Whether it is the size of a tenon at its end, of the drawing that the set is held to."""
    at_end = (reading.kind, reading.phase, reading.revision) == (
        "diameter",
        "final",
        doing.revision,
    )
    return at_end and _place(reading, doing).kind == "tenon"


def _place(reading: Reading, doing: Work) -> Place:
    return doing.places[reading.station_id]


def _entries(
    number: int,
    history: list[Reading],
    marks: list[Mark],
    doing: Work,
    newest: Mapping[tuple[str, str, str, str], Reading],
) -> list[Entry]:
    withdrawn = {mark.about for mark in marks if mark.what == "withdrawn"}
    followed = {reading.supersedes: reading for reading in history if reading.supersedes}
    entries = []
    for reading in history:
        if reading.spindle != number:
            continue
        by = followed.get(reading.key)
        fate: Fate = "stands"
        if by is not None:
            fate = "corrected" if by.spindle == number else "moved"
        elif reading.key in withdrawn:
            fate = "withdrawn"
        elif (after := newest.get(_reads(reading), reading)).key != reading.key:
            fate, by = "read_again", after
        entries.append(Entry(reading, doing.places.get(reading.station_id), fate, by))
    return entries
