"""What was sawn and split, as it was; and what it means where another size is proposed today."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from benchside.job.board_table import of_core
from benchside.job.progress import Piece
from benchside.job.set_blank import SetBlank, Wanted
from benchside.stock import blank as proposing
from benchside.stock.blank import Room, Route
from benchside.stock.board import Blank, Layout, Placed, as_sawn
from benchside.stock.mixed import Need
from benchside.store import stock as store
from benchside.store.database import Shop
from benchside.store.stock import KeptBlank, KeptBoard


@dataclass(frozen=True, slots=True)
class Sawn:
    """Blanks of a set that were sawn, or ``split`` of a log, alike, by their labels; ``route`` None
    where that was not kept.

    ``room`` is what they have over for what is proposed today, None where that is what they are
    or no piece of them is still to be turned.
    """

    blank: Blank
    route: Route | None
    split: bool
    labels: tuple[int, ...]
    room: Room | None


def own(rows: Collection[KeptBlank]) -> tuple[KeptBlank, ...]:
    """The blanks of the set's own size."""
    return tuple(row for row in rows if not row.need)


def told(rows: Collection[KeptBlank], asked: SetBlank, pieces: Sequence[Piece]) -> tuple[Sawn, ...]:
    """What a set's pieces were sawn to, blanks alike together in the order of their numbers."""
    waiting = {piece.number for piece in pieces if piece.to_turn and not piece.begun}
    found = []
    for (blank, route, split), alike in groupby(own(rows), _how):
        those = list(alike)
        still = any(row.spindle is None or row.spindle in waiting for row in those)
        room = _room(blank, asked) if still else None
        if room and room.says == "roomy" and split:
            room = None  # a billet is split larger than the blank in it
        found.append(Sawn(blank, route, split, tuple(row.label for row in those), room))
    return tuple(found)


def _how(row: KeptBlank) -> tuple[Blank, Route | None, bool]:
    return size_of(row), row.route, row.log_id is not None


def _room(blank: Blank, asked: SetBlank) -> Room | None:
    room = proposing.room(blank, asked.proposal)
    return room if room.wanting or not _alike(blank, asked.blank) else None


def _alike(one: Blank, other: Blank) -> bool:
    return (
        abs(one.length_mm - other.length_mm) < proposing.SAME_MM
        and abs(one.side_mm - other.side_mm) < proposing.SAME_MM
    )


def shortest(shop: Shop, asked: SetBlank) -> tuple[float, float]:
    """How long the shortest blank of a set's pieces is, and what of each end is lost to checks: as
    they were sawn, else as they are to be. [mm]"""
    pieces = [row for row in store.blanks(shop, asked.kept.id) if row.spindle is not None]
    if not pieces:
        return asked.blank.length_mm, asked.proposal.ends_mm
    least = min(pieces, key=lambda row: row.length_mm)
    return least.length_mm, proposing.ALLOWANCES[least.route or asked.route].ends_mm


def size_of(row: KeptBlank) -> Blank:
    """The size a blank was sawn to."""
    return Blank(round(row.length_mm, 6), row.side_mm)


def all_there(rows: Collection[KeptBlank], wanted: Sequence[Wanted]) -> bool:
    """Whether these are all the blanks that were sawn with them: where several sizes were, those
    of the others were not always kept."""
    return bool(rows) and (len(wanted) < 2 or all(row.route is not None for row in rows))


def sizes(rows: Collection[KeptBlank], wanted: Sequence[Wanted]) -> tuple[Wanted, ...]:
    """What a board or log was sawn for: what its set wants, its own blanks as they were sawn."""
    mine = own(rows)
    if not (mine and wanted):
        return tuple(wanted)
    need = wanted[0].need
    return (replace(wanted[0], need=replace(need, blank=size_of(mine[0]))), *wanted[1:])


def layout(kept: KeptBoard, rows: Collection[KeptBlank]) -> Layout:
    """The layout that a board was sawn by."""
    return as_sawn(
        of_core(kept),
        kept.kerf_mm,
        [
            Placed(
                at_mm=row.at_mm,
                across_mm=row.across_mm,
                length_mm=row.length_mm,
                side_mm=row.side_mm,
                depth_mm=row.deep_mm,
                strip=0,
                need=row.need,
                pinned=any(_at(row.at_mm, row.across_mm, p.at_mm, p.across_mm) for p in kept.pins),
            )
            for row in rows
        ],
    )


def _at(x: float, y: float, at_mm: float, across_mm: float) -> bool:
    return abs(x - at_mm) < 1e-3 and abs(y - across_mm) < 1e-3


def still_wanted(needs: Sequence[Need], rows: Collection[KeptBlank], sound: int) -> list[int]:
    """How many of each size are still to be sawn where these were: ``sound`` of the set's own."""
    sawn = [sum(row.need == n for row in rows) for n in range(len(needs))]
    if rows:
        sawn[0] = sound
    return [max(0, need.wanted - n) for need, n in zip(needs, sawn, strict=True)]
