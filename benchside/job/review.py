"""How alike a set came out: what its final readings say, and what they cannot.

Only final readings that still stand count. Practice and spoiled pieces are left out and named.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from benchside.consistency import alike
from benchside.consistency.alike import Run
from benchside.consistency.pace import minutes_per_piece
from benchside.consistency.spread import NOTHING_MM, EndToEnd, Spread, end_to_end, spread
from benchside.errors import NotFound
from benchside.job import sets, turning
from benchside.job.progress import Piece
from benchside.job.sets import Standing
from benchside.pattern import Pattern, Place
from benchside.store import review as rows
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet

Kind = Literal["diameter", "position"]
KINDS: tuple[Kind, ...] = ("diameter", "position")
Floats = npt.NDArray[np.float64]
FEWEST_ALONG = 3  # judgement: two ends alone say nothing of the middle
POSITION = "at:"  # begins the id of a column of positions


@dataclass(frozen=True, slots=True)
class Column:
    """One thing that was read on every piece: the size of a place, or where it lies. [mm]

    ``order`` are rows of the review in the order of turning at this place; ``middle_mm`` is what
    the pieces are judged against, as a difference from the target.
    """

    id: str
    place: Place
    kind: Kind
    target_mm: float
    limit_mm: float
    letter: str
    spread: Spread
    middle_mm: float
    order: tuple[int, ...]
    run: Run | None


@dataclass(frozen=True, slots=True)
class Standout:
    """One reading that lies apart: ``off_mm`` from the target, ``from_others_mm`` from the set."""

    number: int
    column: Column
    off_mm: float
    from_others_mm: float
    limits: float


@dataclass(frozen=True, slots=True)
class Straight:
    """One long straight over the set: how many pieces are ``even``, and the ``worst`` piece.

    ``worst_is`` tells how that one differs along its length. [mm]
    """

    first: Place
    last: Place
    limit_mm: float
    measured: int
    even: int
    worst: int
    worst_is: EndToEnd


@dataclass(frozen=True, slots=True)
class Review:
    """What the final readings of a set say.

    ``off_mm`` has a row for each of ``numbers`` and a column for each of ``columns``: the
    difference from the target, NaN where nothing was read.
    """

    standing: Standing
    pattern: Pattern
    places: Mapping[str, Place]
    columns: tuple[Column, ...]
    numbers: tuple[int, ...]
    off_mm: Floats
    together: tuple[int, ...]
    standouts: tuple[Standout, ...]
    straights: tuple[Straight, ...]
    left_out: tuple[Piece, ...]
    minutes_each: float | None

    @property
    def kept(self) -> SpindleSet:
        return self.standing.kept

    def column(self, column_id: str) -> int:
        """Which column. Raises `NotFound`."""
        for i, column in enumerate(self.columns):
            if column.id == column_id:
                return i
        raise NotFound("Nothing was read there yet.", hint="Choose one of the stations listed.")

    def sizes_mm(self, row: int) -> dict[str, float]:
        """What a piece measures, by place."""
        off = self.off_mm[row]
        return {
            column.place.id: column.target_mm + float(off[i])
            for i, column in enumerate(self.columns)
            if column.kind == "diameter" and not np.isnan(off[i])
        }


def review(shop: Shop, set_id: int) -> Review:
    """Everything the review says of a set. Raises `NotFound`."""
    standing = sets.standing(shop, set_id)
    kept = standing.kept
    doing = turning.work(shop, kept.pattern_id, kept.revision)
    counted = {p.number for p in standing.pieces if not p.practice and p.lot != "spoiled"}
    table = _table(rows.finals(shop, set_id), counted, doing.places)
    by_step = turning.letters(kept, doing)
    letters = {
        step.place_id: by_step[step.id].letter
        for step in doing.steps
        if step.place_id and step.id in by_step
    }
    columns = _columns(table, kept, letters)
    shares = _shares(table.off_mm, columns)
    return Review(
        standing=standing,
        pattern=doing.pattern,
        places=doing.places,
        columns=columns,
        numbers=table.numbers,
        off_mm=table.off_mm,
        together=tuple(
            n for n, fits in zip(table.numbers, alike.go_together(shares), strict=True) if fits
        ),
        standouts=_standouts(table, columns, shares),
        straights=_straights(table, columns, doing.pattern),
        left_out=tuple(p for p in standing.pieces if p.begun and p.number not in counted),
        minutes_each=minutes_per_piece(
            rows.taps(shop, set_id), {p.number for p in standing.pieces if p.counts}
        ),
    )


@dataclass(frozen=True, slots=True)
class _Table:
    """Readings laid out: a row for each piece, a column for each (place, kind)."""

    numbers: tuple[int, ...]
    keys: tuple[tuple[Place, Kind], ...]
    off_mm: Floats
    orders: tuple[tuple[int, ...], ...]


def _table(finals: list[rows.Final], counted: set[int], places: Mapping[str, Place]) -> _Table:
    """The newest reading on each axis counts; two axes give their mean."""
    newest: dict[tuple[str, str], dict[int, dict[str, float]]] = defaultdict(dict)
    for spindle, place_id, kind, axis, value_mm, _ in finals:
        if spindle in counted and place_id in places:
            # Taken out and put back, so that the order is that of the newest reading.
            axes = newest[place_id, kind].pop(spindle, {})
            axes[axis] = value_mm
            newest[place_id, kind][spindle] = axes
    keys: list[tuple[Place, Kind]] = [
        (place, kind) for place in places.values() for kind in KINDS if (place.id, kind) in newest
    ]
    numbers = sorted({spindle for read in newest.values() for spindle in read})
    row_of = {number: row for row, number in enumerate(numbers)}
    off_mm = np.full((len(numbers), len(keys)), np.nan)
    orders = []
    for i, (place, kind) in enumerate(keys):
        read = newest[place.id, kind]
        order = [row_of[spindle] for spindle in read]
        values = [sum(axes.values()) / len(axes) for axes in read.values()]
        off_mm[order, i] = np.array(values) - _target_mm(place, kind)
        orders.append(tuple(order))
    return _Table(tuple(numbers), tuple(keys), off_mm, tuple(orders))


def _target_mm(place: Place, kind: str) -> float:
    return place.diameter_mm if kind == "diameter" else place.at_mm


def _columns(table: _Table, kept: SpindleSet, letters: Mapping[str, str]) -> tuple[Column, ...]:
    to_the_target = np.array([place.kind == "tenon" for place, _ in table.keys], dtype=bool)
    middles = alike.middles_mm(table.off_mm, to_the_target)
    found = []
    for i, (place, kind) in enumerate(table.keys):
        limit_mm = turning.tolerance_mm(kept, place, kind)
        target_mm = _target_mm(place, kind)
        order = table.orders[i]
        in_order = table.off_mm[list(order), i]
        found.append(
            Column(
                id=place.id if kind == "diameter" else POSITION + place.id,
                place=place,
                kind=kind,
                target_mm=target_mm,
                limit_mm=limit_mm,
                letter=letters.get(place.id, "") if kind == "diameter" else "",
                spread=spread(in_order + target_mm),
                middle_mm=float(middles[i]),
                order=order,
                run=alike.run(in_order, limit_mm),
            )
        )
    return tuple(found)


def _shares(off_mm: Floats, columns: tuple[Column, ...]) -> Floats:
    middles = np.array([column.middle_mm for column in columns])
    limits = np.array([column.limit_mm for column in columns])
    return alike.apart(off_mm, middles, limits)


def _standouts(table: _Table, columns: tuple[Column, ...], shares: Floats) -> tuple[Standout, ...]:
    """For each piece that stands out, where it does so most; the farthest first."""
    found = []
    for row, number in enumerate(table.numbers):
        if np.nanmax(shares[row], initial=0.0) > 1 + 1e-9:
            i = int(np.nanargmax(shares[row]))
            off_mm = float(table.off_mm[row, i])
            found.append(
                Standout(
                    number=number,
                    column=columns[i],
                    off_mm=off_mm,
                    from_others_mm=off_mm - columns[i].middle_mm,
                    limits=float(shares[row, i]),
                )
            )
    return tuple(sorted(found, key=lambda standout: -standout.limits))


def _straights(
    table: _Table, columns: tuple[Column, ...], pattern: Pattern
) -> tuple[Straight, ...]:
    """Straights with places along them, on the pieces measured at three places or more."""
    found = []
    for section, form in enumerate(pattern.sections):
        ends = {pattern.stations[section].id, pattern.stations[section + 1].id}
        along = [
            i
            for i, column in enumerate(columns)
            if column.kind == "diameter"
            and (column.place.section == section or column.place.id in ends)
        ]
        if form.form == "straight" and len(along) >= FEWEST_ALONG:
            straight = _straight(table, [columns[i] for i in along], table.off_mm[:, along])
            found += [straight] if straight else []
    return tuple(found)


def _straight(table: _Table, along: list[Column], off_mm: Floats) -> Straight | None:
    at_mm = [column.place.at_mm for column in along]
    read = {
        number: end_to_end(at_mm, values)
        for number, values in zip(table.numbers, off_mm.tolist(), strict=True)
        if sum(value == value for value in values) >= FEWEST_ALONG
    }
    if not read:
        return None
    limit_mm = min(column.limit_mm for column in along)
    worst = max(read, key=lambda number: read[number].range_mm)
    return Straight(
        first=along[0].place,
        last=along[-1].place,
        limit_mm=limit_mm,
        measured=len(read),
        even=sum(ends.range_mm <= limit_mm + NOTHING_MM for ends in read.values()),
        worst=worst,
        worst_is=read[worst],
    )
