"""At the lathe: what is in hand, taking a reading, and every other mark a maker taps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import nan
from typing import TypeVar, get_args

from benchside import units
from benchside.errors import BenchsideError, NotFound, NotUnderstood, WrongDatabase
from benchside.job import progress, tenon_aims, wood_of
from benchside.job.keys import key_for, keyed
from benchside.job.possible import check_possible
from benchside.job.tenon_aims import TenonAim
from benchside.job.work import Work, letters_of, told_finely, tolerance_mm, work_of
from benchside.lathe import calipers, now, sizes
from benchside.lathe.steps import Stage, Step
from benchside.moments import put_right
from benchside.pattern import Place
from benchside.store import readings, sets
from benchside.store import wood as woods
from benchside.store.database import Shop
from benchside.store.readings import Mark, Reading, What

LONGEST_TEXT = 2000
MOUNTS = ("step", "skip", "done")  # marks that are made with the piece on the lathe
Choice = TypeVar("Choice", bound=str)


class Surprising(BenchsideError):
    """A figure far from its target: asked about before it is taken."""


@dataclass(frozen=True, slots=True)
class Taken:
    """A reading as the phone sends it: text as typed, the phone's own clock.

    ``wood`` is the saying of the set's wood that the sizes shown were reckoned from; ``target_mm``
    the size shown where that was another than the pattern's ("": the pattern's).
    """

    key: str
    station_id: str
    typed: str
    unit: str
    kind: str = "diameter"
    axis: str = "none"
    phase: str = "final"
    revision: int | None = None
    taken_at: str = ""
    sent_at: str = ""
    supersedes: str = ""
    note: str = ""
    sure: bool = False
    database: str = ""
    wood: int | None = None
    target_mm: str = ""


@dataclass(frozen=True, slots=True)
class Marked:
    """A mark as the phone sends it."""

    key: str
    what: str
    step_id: str = ""
    about: str = ""
    text: str = ""
    taken_at: str = ""
    sent_at: str = ""
    database: str = ""
    wood: int | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """What a reading means, from the row that was kept.

    ``other`` is what stands the other way across, with its word.
    """

    reading: Reading
    place: Place
    verdict: sizes.Verdict
    earlier: Reading | None = None
    other: Reading | None = None
    other_word: sizes.Word = "within"


@dataclass(frozen=True, slots=True)
class Sitting:
    """Everything one turn page holds: a set, its steps, the piece in hand, where the others are.

    ``stage`` is None piece by piece; then the steps are all of them, else those of the stage.
    ``answers`` holds what stands for the piece in hand, by step id; ``alike`` are the pieces that
    are turned to the same sizes, so that one page serves them all. ``aims`` are, by place, the
    sizes that its tenons are brought to for their holes; the steps and calipers are of these.
    """

    spindle_set: sets.SpindleSet
    work: Work
    steps: tuple[Step, ...]
    stage: Stage | None
    number: int
    pieces: Mapping[int, progress.Piece]
    alike: frozenset[int]
    letters: Mapping[str, calipers.CaliperUse]
    answers: Mapping[str, Answer]
    latest: tuple[Reading, ...]
    notes: tuple[Mark, ...]
    aims: Mapping[str, TenonAim]

    @property
    def unit(self) -> units.Unit:
        """The unit its sizes are told in."""
        return told_finely(self.spindle_set, self.work).unit


def sitting(shop: Shop, set_id: int, number: int, stage: str | None = None) -> Sitting:
    """What the turn page of one piece needs. Raises `NotFound`."""
    found = sets.found(shop, set_id)
    known = progress.pieces(shop, set_id)
    if number not in known:
        raise NotFound(f"The set {found.name} has no piece {number}.")
    goals = tenon_aims.goals(shop, set_id, known)
    aims = tenon_aims.at_places(drawn := work_of(shop, found, number), goals[number])
    doing = replace(drawn, steps=tenon_aims.aimed(drawn.steps, aims))
    steps = tuple(s for s in doing.steps if stage is None or s.stage == stage)
    if not steps:
        raise NotFound("This pattern has no such stage.")
    alike = wood_of.of_pieces(shop, set_id, known)
    since = woods.mounted_again(shop, set_id).get(number, "")
    standing = [r for r in readings.standing(shop, set_id, number) if r.taken_at >= since]
    return Sitting(
        spindle_set=found,
        work=doing,
        steps=steps,
        stage=steps[0].stage if stage else None,
        number=number,
        pieces=known,
        alike=frozenset(
            n for n, holds in alike.items() if (holds, goals[n]) == (doing.wood, goals[number])
        ),
        letters=letters_of(shop, found, doing),
        answers=_answers(found, doing, standing),
        latest=tuple(reversed(standing[-6:])),
        notes=tuple(m for m in readings.marks(shop, set_id, number) if m.what == "note" and m.text),
        aims=aims,
    )


def where_next(shop: Shop, set_id: int, after: int = 0) -> tuple[int, Stage | None] | None:
    """The piece to turn next, and stage by stage also the stage; None when all is turned."""
    found = sets.found(shop, set_id)
    known = progress.pieces(shop, set_id)
    if found.choices.habit == "piece":
        piece = progress.next_piece(known)
        return None if piece is None else (piece.number, None)
    doing = work_of(shop, found)
    staged = progress.next_stage(known, doing.steps, after)
    return None if staged is None else (staged[1].number, staged[0])


def take(
    shop: Shop,
    set_id: int,
    number: int,
    taken: Taken,
    *,
    device_id: int | None,
    received_at: str,
) -> Answer:
    """Keep one reading and say what it means. The same key twice is one reading.

    Raises `WrongDatabase`, `NotFound`, `NotUnderstood`, `KeyReused`, `OutOfRange` for what the
    piece cannot have been, and `Surprising` for a figure far from its target that was not said to
    be meant.
    """
    _check(shop, taken.key, taken.database)
    found = sets.found(shop, set_id)
    sizing = taken.phase == "sizing"  # its target is the step's; a final one's is the place's
    nth = taken.wood
    if nth is None and taken.supersedes:
        nth = woods.mounted_for(shop, set_id, taken.supersedes)
    doing = work_of(shop, found, number, revision=taken.revision, nth=nth, steps_too=sizing)
    place = _place(doing, taken.station_id)
    unit = _one_of(taken.unit or told_finely(found, doing).unit, get_args(units.Unit), "unit")
    kind: sizes.Reads = _one_of(taken.kind, get_args(sizes.Reads), "kind")
    phase: sizes.Phase = _one_of(taken.phase, get_args(sizes.Phase), "phase")
    value_mm = units.parse_length(taken.typed, unit, field="value")
    target_mm = _shown_mm(taken.target_mm, _target_mm(doing, place, kind, phase), place)
    reading = Reading(
        key=taken.key,
        set_id=set_id,
        spindle=number,
        station_id=place.id,
        revision=doing.revision,
        kind=kind,
        axis=_one_of(taken.axis or "none", ("none", "A", "B"), "axis"),
        phase=phase,
        state=doing.wood.state if doing.wood else "dry",
        typed=taken.typed,
        unit=unit,
        value_mm=value_mm,
        target_mm=target_mm,
        taken_at=put_right(taken.taken_at, taken.sent_at, received_at),
        received_at=received_at,
        device_id=device_id,
        supersedes=taken.supersedes or None,
        note=_short(taken.note),
    )
    check_possible(shop, doing, reading.kind, reading.value_mm, reading.unit)
    if sizes.surprising(value_mm, target_mm, reads=kind) and not taken.sure:
        raise _question(answer(found, doing, reading), taken.typed)
    with shop.transaction() as db:
        _piece_exists(shop, set_id, number)
        reading = readings.named(db, reading)
        if not taken.target_mm:
            reading = _as_shown(reading, readings.corrected(db, reading))
        before = readings.before(shop, reading)
        kept = readings.add(db, readings.head(db, reading))
        wood_of.mount(shop, db, set_id, number, doing.wood, at=reading.taken_at)
    found_other = readings.other_way(shop, kept)
    if before is not None and before.taken_at > kept.taken_at:
        before = None  # what was read since stands
    return replace(answer(found, doing, kept, found_other), earlier=before)


def answer(
    spindle_set: sets.SpindleSet, doing: Work, reading: Reading, other: Reading | None = None
) -> Answer:
    """What a kept reading means; the second way across beside the first, what stands the ``other``
    way. Raises `OutOfRange` for what is no size at all."""
    first_mm = other.value_mm if other and reading.axis == "B" else None
    verdict = _judged(spindle_set, doing, reading, first_mm)
    place = _place(doing, reading.station_id)
    if other is None:
        return Answer(reading, place, verdict)
    other_word = _judged(spindle_set, doing, other).word
    return Answer(reading, place, verdict, other=other, other_word=other_word)


def _judged(
    spindle_set: sets.SpindleSet, doing: Work, reading: Reading, first_mm: float | None = None
) -> sizes.Verdict:
    place = _place(doing, reading.station_id)
    return sizes.verdict(
        reading.value_mm,
        reading.target_mm,
        tolerance_mm=tolerance_mm(spindle_set, place, reading.kind),
        finish_mm=_finish_mm(doing, place, reading) if reading.phase == "sizing" else None,
        kind=place.kind,
        reads=reading.kind,
        phase=reading.phase,
        first_mm=first_mm,
        tried=doing.wood is None or doing.wood.turning.tries,
        blends=place.role not in ("crown", "root"),
    )


def _finish_mm(doing: Work, place: Place, reading: Reading) -> float:
    step = _step_of(doing, reading.station_id, reading.kind, "sizing")
    if step is not None and step.stop_mm == step.finish_mm:
        return reading.target_mm
    if doing.wood is None:
        return place.diameter_mm
    return now.finish_mm(place.diameter_mm, doing.wood.turning)


def mark(
    shop: Shop,
    set_id: int,
    number: int | None,
    marked: Marked,
    *,
    device_id: int | None,
    received_at: str,
) -> Mark:
    """Keep anything else that was tapped. The same key twice is one mark. Raises as `take`."""
    _check(shop, marked.key, marked.database)
    what = _one_of(marked.what, get_args(What), "what")
    if what in ("step", "skip") and not marked.step_id:
        raise NotUnderstood("Which step?", field="step_id")
    if what == "note" and not marked.text.strip():
        raise NotUnderstood("The note is empty.", field="text", hint="Write a word or two.")
    said = Mark(
        key=marked.key,
        set_id=set_id,
        spindle=number,
        what=what,
        step_id=_short(marked.step_id),
        about=_short(marked.about),
        text=_short(marked.text.strip()),
        taken_at=put_right(marked.taken_at, marked.sent_at, received_at),
        received_at=received_at,
        device_id=device_id,
    )
    with shop.transaction() as db:
        _piece_exists(shop, set_id, number)
        if number is not None and what in MOUNTS:
            holds = wood_of.said(shop, set_id, number, marked.wood)
            wood_of.mount(shop, db, set_id, number, holds, at=said.taken_at)
        return readings.add_mark(db, said)


def move(
    shop: Shop,
    set_id: int,
    number: int,
    *,
    count: int,
    to: int,
    key: str,
    database: str = "",
    device_id: int | None,
    received_at: str,
) -> int:
    """Say that the last ``count`` readings of a piece belong to another; returns how many moved.

    Each is superseded by the same reading on the other piece. Sent twice, it is done once.
    """
    _check(shop, key, database)
    if to == number:
        raise NotUnderstood("They are on that piece already.", field="to")
    if count < 1:
        raise NotUnderstood("How many readings? At least one.", field="count")
    with shop.transaction() as db:
        _piece_exists(shop, set_id, number)
        _piece_exists(shop, set_id, to)
        said = Mark(key, set_id, number, "note", "", "moved", f"{count} → {to}", "", received_at)
        if readings.is_kept(db, key):
            readings.add_mark(db, said)  # the same again: refused only if it says something else
            return count
        last = readings.standing(shop, set_id, number)[-count:]
        if len(last) < count:
            there = f"{len(last) or 'no'} reading{'' if len(last) == 1 else 's'}"
            raise NotUnderstood(f"Piece {number} has {there}.", field="count")
        for reading in last:
            moved = key_for(key, reading.key)
            readings.add(
                db,
                replace(
                    reading,
                    key=moved,
                    spindle=to,
                    supersedes=reading.key,
                    received_at=received_at,
                    device_id=device_id,
                ),
            )
        readings.add_mark(db, replace(said, taken_at=received_at, device_id=device_id))
        return count


def change_habit(shop: Shop, set_id: int, habit: str) -> None:
    """Turn piece by piece or stage by stage from here on."""
    found = sets.found(shop, set_id)
    chosen = _one_of(habit, get_args(sets.Habit), "habit")
    with shop.transaction() as db:
        sets.change(db, set_id, replace(found.choices, habit=chosen))


def _place(doing: Work, place_id: str) -> Place:
    if place_id not in doing.places:
        raise NotFound("The pattern has no such station.", field="station_id")
    return doing.places[place_id]


def _as_shown(reading: Reading, corrected: Reading | None) -> Reading:
    """A correction is of the size that was shown when what it corrects was read."""
    if corrected is None or _what_of(reading) != _what_of(corrected):
        return reading
    return replace(reading, target_mm=corrected.target_mm)


def _what_of(reading: Reading) -> tuple[str | int, ...]:
    """What a reading is of: those that agree in this were shown one size."""
    r = reading
    return r.set_id, r.spindle, r.station_id, r.kind, r.phase, r.revision, r.state


def _target_mm(doing: Work, place: Place, kind: str, phase: str) -> float:
    """The size that was to be stopped at, as the phone showed it."""
    if kind == "position":
        return place.at_mm
    step = _step_of(doing, place.id, kind, phase)
    return place.diameter_mm if step is None or not step.stop_mm else step.stop_mm


def held_to(doing: Work, reading: Reading) -> Reading:
    """A reading of another revision as one against what is drawn now; any other as it is, by what
    was shown when it was taken."""
    now_dry = doing.wood is None or reading.state == doing.wood.state
    if reading.revision == doing.revision or not now_dry:
        return reading
    place = _place(doing, reading.station_id)
    target_mm = _target_mm(doing, place, reading.kind, reading.phase)
    return replace(reading, target_mm=target_mm, revision=doing.revision)


def _step_of(doing: Work, place_id: str, kind: str, phase: str) -> Step | None:
    """The step at which a place is read while it is sized, or at the end."""
    sought = (place_id, kind, phase)
    return next((s for s in doing.steps if (s.place_id, s.reads, s.phase) == sought), None)


def _shown_mm(shown: str, drawn_mm: float, place: Place) -> float:
    """The size that a phone showed: aimed off the drawn one, or that. Raises `NotUnderstood`.

    That of a tenon goes by its hole, so it may lie far off.
    """
    if not shown:
        return drawn_mm
    try:
        shown_mm = float(shown)
    except ValueError:
        shown_mm = nan
    reach_mm = drawn_mm if place.kind == "tenon" else sizes.SURPRISING_MM
    if not (abs(shown_mm - drawn_mm) <= reach_mm and shown_mm >= 0):
        raise NotUnderstood("That form did not arrive whole.", field="target_mm")
    return shown_mm


def _answers(found: sets.SpindleSet, doing: Work, standing: list[Reading]) -> Mapping[str, Answer]:
    """The newest standing reading of each step."""
    newest: dict[tuple[str, str, str], dict[str, Reading]] = {}
    for r in standing:
        ways = newest.setdefault((r.station_id, r.kind, r.phase), {})
        ways.pop(r.axis, None)  # so that the newest way is the last
        ways[r.axis] = r
    answered = {}
    for step in doing.steps:
        if step.reads is None or step.place_id is None:
            continue
        ways = newest.get((step.place_id, step.reads, step.phase), {})
        if ways:
            reading = list(ways.values())[-1]
            other = ways.get({"A": "B", "B": "A"}.get(reading.axis, ""))
            answered[step.id] = answer(
                found, doing, held_to(doing, reading), other and held_to(doing, other)
            )
    return answered


def _question(answered: Answer, typed: str) -> Surprising:
    reading = answered.reading
    more = "over" if reading.value_mm > reading.target_mm else "under"
    off = units.format_length(abs(answered.verdict.off_mm), reading.unit)
    sign = units.unit_sign(reading.unit)
    return Surprising(
        f"{_short(typed)[:20]} is {off} {sign} {more} what it should be.",
        field="value",
        hint="Take it all the same, or measure again.",
    )


def _check(shop: Shop, key: str, database: str) -> None:
    keyed(key)
    if database and database != shop.database_id:
        raise WrongDatabase(
            "It belongs to another book of the bench than the one open on the laptop now.",
            field="database",
            hint="Open that one again and it goes over; or put it aside.",
        )


def _piece_exists(shop: Shop, set_id: int, number: int | None) -> None:
    if not sets.has(shop, set_id, number):
        raise NotFound(
            "There is no such set." if number is None else f"The set has no piece {number}.",
            field="spindle",
        )


def _one_of(value: str, allowed: tuple[Choice, ...], field: str) -> Choice:
    for choice in allowed:
        if choice == value:
            return choice
    raise NotUnderstood(f"This {field} is not one benchside knows.", field=field)


def _short(text: str) -> str:
    if len(text) > LONGEST_TEXT:
        raise NotUnderstood(
            f"That is {len(text):,} characters long.",
            field="text",
            hint=f"Keep it under {LONGEST_TEXT:,}.",
        )
    return text
