"""Sets of matching spindles: starting one, changing its mind, seeing where it stands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from benchside.errors import BenchsideError, NotFound, OutOfRange, Refused
from benchside.job import progress
from benchside.job.forms import LONGEST_NAME, LONGEST_NOTE
from benchside.job.progress import Piece
from benchside.store import patterns, review, sets
from benchside.store.database import Shop
from benchside.store.patterns import PatternRecord
from benchside.store.sets import Choices, SpindleSet, Tolerances
from benchside.units import most_told

# Our own starting figures: no published tolerance between mating spindles is known to us.
DEFAULT_TOLERANCES = Tolerances(  # judgement
    tenon_mm=0.1, slender_mm=0.4, decorative_mm=0.8, position_mm=0.8
)
DEFAULT_CALIPERS = 3  # common practice, no source: two or three settings serve most patterns
# The least and the most there can be.
WANTED = (1, 400)
SPARES = (0, 100)
CALIPERS = (1, 26)
WIDEST_MM = 10.0  # judgement: a wider tolerance is a slip of the unit


@dataclass(frozen=True, slots=True)
class Standing:
    """A set and where it stands. ``spares`` are the numbers it was planned to have over,
    ``last_at`` is when something was last done with it, at the lathe or after."""

    kept: SpindleSet
    pieces: tuple[Piece, ...]
    spares: frozenset[int]
    done: int
    next: Piece | None
    last_at: str | None

    @property
    def roughed(self) -> tuple[int, ...]:
        """The pieces that dry before they are turned again."""
        return tuple(p.number for p in self.pieces if p.roughed and p.lot != "spoiled")

    @property
    def begun(self) -> bool:
        return any(piece.begun for piece in self.pieces)

    def piece(self, number: int) -> Piece:
        """One piece. Raises `NotFound`."""
        for piece in self.pieces:
            if piece.number == number:
                return piece
        raise NotFound(f"{self.kept.name} has no piece {number}.")


def start(
    shop: Shop, pattern_id: int, choices: Choices, *, at: str, revision: int | None = None
) -> SpindleSet:
    """A new set held to the newest revision of a pattern, or to the revision asked for.

    Raises `OutOfRange` for choices that cannot be, `NotFound` for no such pattern.
    """
    check(choices)
    record = patterns.found(shop, pattern_id, revision)
    with shop.transaction() as db:
        set_id = sets.add(db, record.id, record.revision, choices, at=at)
    return sets.found(shop, set_id)


def settle(shop: Shop, set_id: int, choices: Choices) -> SpindleSet:
    """Change what was decided of a set. Nothing turned is ever lost by it.

    More pieces are numbered on; fewer are refused when one that would go has been begun.
    Raises `OutOfRange`.
    """
    check(choices)
    with shop.transaction() as db:
        pieces = progress.in_brief(shop, set_id)
        counted = [piece for _, piece in sorted(pieces.items()) if not piece.practice]
        room = choices.wanted + choices.spares
        least = max((i for i, piece in enumerate(counted, 1) if piece.begun), default=1)
        if room < least:
            raise OutOfRange(
                f"Piece {counted[least - 1].number} has been begun, so the set cannot do without.",
                field="wanted",
                hint=f"Keep at least {least} pieces, spares included.",
            )
        there = sum(not spindle.practice for spindle in sets.spindles(shop, set_id))
        sets.change(db, set_id, choices)
        sets.add_spindles(db, set_id, max(0, room - there))
    return sets.found(shop, set_id)


def duplicate(shop: Shop, set_id: int, name: str, *, at: str) -> SpindleSet:
    """The same choices again with nothing turned, held to the same revision."""
    kept = sets.found(shop, set_id)
    choices = replace(kept.choices, name=name)
    return start(shop, kept.pattern_id, choices, at=at, revision=kept.revision)


def put_away(shop: Shop, set_id: int, at: str | None) -> None:
    """Archive a set, or with None take it out again."""
    sets.found(shop, set_id)
    with shop.transaction() as db:
        sets.archive(db, set_id, at)


def practice_piece(shop: Shop, set_id: int) -> int:
    """Number one more spindle that does not count; one that was never begun is used first."""
    sets.found(shop, set_id)
    with shop.transaction() as db:
        for number, piece in sorted(progress.in_brief(shop, set_id).items()):
            if piece.practice and not piece.begun:
                return number
        return sets.add_spindles(db, set_id, 1, practice=True)[0]


def hold_to(shop: Shop, set_id: int, revision: int, *, sure: bool) -> SpindleSet:
    """Hold a set to another revision of its pattern.

    Freely while nothing is begun; later only when the maker is ``sure``, since every difference
    is then counted from the other sizes. Raises `Refused`.
    """
    found = standing(shop, set_id)
    patterns.found(shop, found.kept.pattern_id, revision)
    if found.begun and not sure:
        raise Refused(
            "Pieces of this set have been turned to the sizes it is held to now.",
            field="sure",
            hint="Tick the box if their differences shall be counted from the new sizes.",
        )
    with shop.transaction() as db:
        sets.hold_to(db, set_id, revision)
    return sets.found(shop, set_id)


def listed(shop: Shop, *, archived: bool = False) -> tuple[Standing, ...]:
    """Every set and where it stands: one with a piece to turn first, the last worked at first."""
    found = [
        _standing(shop, kept, progress.in_brief(shop, kept.id))
        for kept in sets.listed(shop, archived=archived)
    ]
    return tuple(sorted(found, key=_worked_at, reverse=True))


def standing(shop: Shop, set_id: int) -> Standing:
    """One set and where it stands, the steps behind each piece aside. Raises `NotFound`."""
    kept = sets.found(shop, set_id)
    return _standing(shop, kept, progress.in_brief(shop, set_id))


def standing_by_steps(shop: Shop, set_id: int) -> Standing:
    """The same with the steps behind each piece. Raises `NotFound`."""
    kept = sets.found(shop, set_id)
    return _standing(shop, kept, progress.pieces(shop, set_id))


def held(shop: Shop, kept: SpindleSet) -> PatternRecord:
    """The pattern at the revision the set is held to."""
    return patterns.found(shop, kept.pattern_id, kept.revision)


def check(choices: Choices) -> None:
    """Raise the first of `faults`."""
    for fault in faults(choices):
        raise fault


def faults(choices: Choices) -> tuple[BenchsideError, ...]:
    """Everything that cannot be in the choices of a set, each naming its field."""
    counts = (("wanted", *WANTED), ("spares", *SPARES), ("calipers", *CALIPERS))
    return (
        *_misnamed(choices),
        *(
            OutOfRange(f"It can be {least} to {most}, not {value}.", field=field)
            for field, least, most in counts
            if not least <= (value := getattr(choices, field)) <= most
        ),
        *(
            OutOfRange(
                "A tolerance is more than 0 and at most"
                f" {most_told(WIDEST_MM, choices.unit)} to either side.",
                field=field,
            )
            for field in ("tenon_mm", "slender_mm", "decorative_mm", "position_mm")
            if not 0 < getattr(choices.tolerances, field) <= WIDEST_MM
        ),
    )


def _misnamed(choices: Choices) -> Iterator[BenchsideError]:
    if not choices.name.strip():
        yield BenchsideError(
            "A set needs a name.", field="name", hint="What the pieces are for, say."
        )
    if len(choices.name) > LONGEST_NAME:
        yield OutOfRange(
            f"A name has room for {LONGEST_NAME} letters; this has {len(choices.name):,}.",
            field="name",
            hint="Shorten it.",
        )
    if len(choices.note) > LONGEST_NOTE:
        yield OutOfRange(
            f"A note has room for {LONGEST_NOTE:,} characters; this has {len(choices.note):,}.",
            field="note",
            hint="Nothing was cut: shorten it here.",
        )


def _worked_at(found: Standing) -> tuple[bool, str]:
    return found.next is not None, found.last_at or found.kept.made_at


def _standing(shop: Shop, kept: SpindleSet, every: Mapping[int, Piece]) -> Standing:
    pieces = tuple(every.values())
    counted = [piece.number for piece in pieces if not piece.practice]
    moments = (review.after_turning(shop, kept.id), *(piece.last_at for piece in pieces))
    return Standing(
        kept=kept,
        pieces=pieces,
        spares=frozenset(counted[kept.choices.wanted :]),
        done=sum(piece.counts for piece in pieces),
        next=progress.next_piece({piece.number: piece for piece in pieces}),
        last_at=max(filter(None, moments), default=None),
    )
