"""How far each piece of a set has come, from its marks and readings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from benchside.job import wood_of
from benchside.lathe.steps import Stage, Step, behind
from benchside.store import readings, review, sets, wood
from benchside.store.database import Shop
from benchside.store.readings import Mark, Reading

Lot = Literal["sound", "spoiled", "mend", "odd", "spare"]
LOTS: tuple[Lot, ...] = ("sound", "spoiled", "mend", "odd", "spare")


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece as it stands. ``lot`` is what has become of it, ``ticked`` the steps behind it.

    ``rest_skipped`` is the key of the mark that left out all readings not taken, or empty.
    ``roughed``: it has left the lathe to dry, and is to be turned again.
    """

    number: int
    practice: bool
    lot: Lot
    lot_reason: str
    done: bool
    roughed: bool
    ticked: frozenset[str]
    rest_skipped: str
    begun_at: str | None
    last_at: str | None

    @property
    def begun(self) -> bool:
        return self.begun_at is not None

    @property
    def to_turn(self) -> bool:
        """Whether there is still something to do on it at the lathe."""
        return not self.done and not self.roughed and self.lot != "spoiled"

    @property
    def counts(self) -> bool:
        """Whether it is done and belongs to the set."""
        return self.done and not self.practice and self.lot != "spoiled"


def pieces(shop: Shop, set_id: int) -> dict[int, Piece]:
    """Every piece that a set has room for, by number. Raises `NotFound`."""
    marks: dict[int, list[Mark]] = {}
    for mark in readings.marks(shop, set_id):
        if mark.spindle is not None:
            marks.setdefault(mark.spindle, []).append(mark)
    taken: dict[int, list[Reading]] = {}
    for reading in readings.standing(shop, set_id):
        taken.setdefault(reading.spindle, []).append(reading)
    again = wood.mounted_again(shop, set_id)
    found = {
        spindle.number: _piece(
            spindle,
            marks.get(spindle.number, []),
            taken.get(spindle.number, []),
            again.get(spindle.number, ""),
        )
        for spindle in sets.in_play(shop, sets.found(shop, set_id))
    }
    return _told_roughed(shop, set_id, found)


def in_brief(shop: Shop, set_id: int) -> dict[int, Piece]:
    """The same without the steps behind each piece (``ticked`` is empty): quick for large sets."""
    marks: dict[int, list[Mark]] = {}
    for mark in review.fates(shop, set_id):
        if mark.spindle is not None:
            marks.setdefault(mark.spindle, []).append(mark)
    worked = review.worked(shop, set_id)
    again = wood.mounted_again(shop, set_id)
    found = {}
    for spindle in sets.in_play(shop, sets.found(shop, set_id)):
        begun_at, last_at = worked.get(spindle.number, (None, None))
        since = again.get(spindle.number, "")
        piece = _piece(spindle, marks.get(spindle.number, []), [], since)
        found[spindle.number] = replace(
            piece, ticked=frozenset(), begun_at=begun_at, last_at=last_at
        )
    return _told_roughed(shop, set_id, found)


def _told_roughed(shop: Shop, set_id: int, found: dict[int, Piece]) -> dict[int, Piece]:
    """The same, each piece that is done with but only roughed told so."""
    done = [number for number, piece in found.items() if piece.done]
    for number, holds in wood_of.of_pieces(shop, set_id, done).items():
        if holds is not None and holds.turning.roughing:
            found[number] = replace(found[number], done=False, roughed=True)
    return found


def passed(piece: Piece, steps: Iterable[Step]) -> frozenset[str]:
    """The steps of these that lie behind a piece: ticked one by one, or left out with the rest."""
    listed = tuple(steps)
    left_out = {s.id for s in listed if piece.rest_skipped and is_final_reading(s)}
    return behind(listed, piece.ticked | left_out) & {s.id for s in listed}


def is_final_reading(step: Step) -> bool:
    """Whether nothing is done at a step but reading."""
    return step.phase == "final" and step.reads is not None


def next_piece(found: Mapping[int, Piece], after: int = 0) -> Piece | None:
    """The piece to turn next: one in hand before one not begun, the lowest number first."""
    open_ = [p for p in found.values() if p.to_turn and not p.practice and p.number > after]
    return min(open_, key=lambda p: (not p.begun, p.number), default=None)


def next_stage(
    found: Mapping[int, Piece], steps: Iterable[Step], after: int = 0
) -> tuple[Stage, Piece] | None:
    """The earliest stage that some piece has not behind it, and the first such piece."""
    by_stage: dict[Stage, set[str]] = {}
    listed = tuple(steps)
    for step in listed:
        by_stage.setdefault(step.stage, set()).add(step.id)
    open_ = sorted((p for p in found.values() if p.to_turn and not p.practice), key=_number)
    for stage, ids in by_stage.items():
        waiting = [p for p in open_ if ids - passed(p, listed)]
        if waiting:
            return stage, next((p for p in waiting if p.number > after), waiting[0])
    return None


def _number(piece: Piece) -> int:
    return piece.number


def _piece(spindle: sets.Spindle, marks: list[Mark], taken: list[Reading], since: str) -> Piece:
    """``since`` is when it was put on the lathe again with other sizes: steps begin anew there."""
    lots = [m for m in marks if m.what in LOTS]
    ends = [m for m in marks if m.what in ("done", "reopened") and m.taken_at >= since]
    moments = sorted([m.taken_at for m in marks] + [r.taken_at for r in taken])
    lot: Lot = next((lot for lot in LOTS if lots and lot == lots[-1].what), "sound")
    return Piece(
        number=spindle.number,
        practice=spindle.practice,
        lot=lot,
        lot_reason=lots[-1].text if lots else "",
        done=bool(ends) and ends[-1].what == "done",
        roughed=False,
        ticked=frozenset(_ticked(marks, taken, since)),
        rest_skipped=_rest_skipped([m for m in marks if m.taken_at >= since]),
        begun_at=moments[0] if moments else None,
        last_at=moments[-1] if moments else None,
    )


def _rest_skipped(marks: list[Mark]) -> str:
    """The mark that stands for leaving out all readings not taken."""
    withdrawn = {m.about for m in marks if m.what == "withdrawn"}
    said = [m.key for m in marks if m.what == "skip" and m.step_id == "final"]
    return next((key for key in reversed(said) if key not in withdrawn), "")


def _ticked(marks: list[Mark], taken: list[Reading], since: str) -> Iterable[str]:
    """Steps marked done or skipped, and those whose final reading stands."""
    for mark in (m for m in marks if m.taken_at >= since):
        if mark.what in ("step", "skip"):
            yield mark.step_id
        elif mark.what == "done":
            yield "done"
    for reading in taken:
        if reading.phase == "final" and reading.taken_at >= since:
            step = "final" if reading.kind == "diameter" else "position"
            yield f"{step}:{reading.station_id}"
