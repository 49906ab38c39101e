"""What a set is judged by: its final readings, without those that must be asked about first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from benchside.consistency import alike, odd
from benchside.job import finals, sets, tenon_aims, wood_of
from benchside.job.finals import Floats, Kind, Table
from benchside.job.sets import Standing
from benchside.job.work import Work, letters_of, told_finely, tolerance_mm, work_of, work_on
from benchside.lathe.calipers import CaliperUse
from benchside.pattern import Place
from benchside.store import review as rows
from benchside.store import wood as woods
from benchside.store.database import Shop
from benchside.store.review import Final

Unlike = dict[tuple[int, int], tuple[float, float]]  # by row and column: statistic, critical

ODD_LOOKED_AT = 8  # judgement: more odd ones than that at one place are no odd ones
FAR = 0.25  # judgement: of the size, from where a slip of the unit is thought of


@dataclass(frozen=True, slots=True)
class Asked:
    """A reading that was probably meant in the other unit, ``meant``. It is not counted. [mm]"""

    number: int
    place: Place
    kind: Kind
    value_mm: float
    target_mm: float
    meant: Literal["in", "mm"]


@dataclass(frozen=True, slots=True)
class TwoLots:
    """Pieces, by number, that read like two sets mixed, at ``places`` of ``told``."""

    fewer: tuple[int, ...]
    more: tuple[int, ...]
    places: int
    told: int


@dataclass(frozen=True, slots=True)
class Judged:
    """A set's readings laid out, doubtful ones aside: what review and choice both begin with.

    ``letters`` are the calipers it is sized with, by step.
    """

    standing: Standing
    doing: Work
    table: Table
    limits_mm: Floats
    asked: tuple[Asked, ...]
    letters: Mapping[str, CaliperUse]


def judge(shop: Shop, set_id: int) -> Judged:
    """The readings that count, and those that are asked about first. Raises `NotFound`."""
    standing = sets.standing(shop, set_id)
    kept = standing.kept
    doing = work_of(shop, kept)
    standing = replace(standing, kept=told_finely(kept, doing))
    table, asked = _believed(readings_of(shop, standing, doing))
    limits_mm = np.array([tolerance_mm(kept, *key) for key in table.keys])
    return Judged(standing, doing, table, limits_mm, asked, letters_of(shop, kept, doing))


def two_lots(judged: Judged) -> TwoLots | None:
    """Whether it must be asked if all pieces are of this set."""
    found = alike.two_lots(judged.table.off_mm, judged.limits_mm)
    if found is None:
        return None
    numbers = judged.table.numbers
    fewer, more = (tuple(numbers[row] for row in lot) for lot in (found.fewer, found.more))
    return TwoLots(fewer, more, len(found.columns), found.told)


def unlike_ones(off_mm: Floats, limits_mm: Floats, shares: Floats) -> Unlike:
    """The readings beyond their limit that do not belong with the rest, with the test's figures."""
    found: Unlike = {}
    for i in np.flatnonzero(np.any(alike.beyond(shares), axis=0)).tolist():
        most = max(1, min(len(off_mm) // odd.ONE_IN, ODD_LOOKED_AT))
        tried = odd.odd_ones(off_mm[:, i], most, least_mm=float(limits_mm[i]))
        for row, statistic, critical in zip(
            tried.taken, tried.statistic, tried.critical, strict=True
        ):
            if row in tried.at:
                found[row, i] = statistic, critical
    return found


def counted_pieces(standing: Standing) -> frozenset[int]:
    """The pieces that are judged: no practice, nothing spoiled."""
    return frozenset(p.number for p in standing.pieces if not p.practice and p.lot != "spoiled")


def readings_of(shop: Shop, standing: Standing, doing: Work) -> Table:
    """The final readings of the pieces that are judged, each as far off as it was off its own size.

    Where the set's wood was said anew, pieces stand on the lathe to different sizes. A tenon that
    was turned to what its hole wanted is off that (`finals.laid_out`); one read of another revision
    is off what it wants now, as at the lathe.
    """
    kept = standing.kept
    found = _held_to_holes(shop, standing, rows.finals(shop, kept.id))
    if doing.wood is not None:
        found = _to_one_size(shop, standing, doing, found)
    return finals.laid_out(found, counted_pieces(standing), doing.places, kept.unit)


def _held_to_holes(shop: Shop, standing: Standing, found: list[Final]) -> list[Final]:
    """The readings; those of which is not known what was shown, of a tenon with what it goes into
    wants."""
    kept = standing.kept
    untold = {spindle for spindle, *_, shown_mm in found if shown_mm is None}
    goals = tenon_aims.goals(shop, kept.id, untold) if untold else {}
    wants_mm = {
        (number, place_id, "diameter"): aim.to_mm
        for number, wanted in goals.items()
        if wanted
        for place_id, aim in tenon_aims.at_places(
            work_of(shop, kept, number, steps_too=False), wanted
        ).items()
    }
    held: list[Final] = []
    for spindle, place_id, kind, axis, value_mm, at, shown_mm in found:
        if shown_mm is None:
            shown_mm = wants_mm.get((spindle, place_id, kind))
        held.append((spindle, place_id, kind, axis, value_mm, at, shown_mm))
    return held


def _to_one_size(shop: Shop, standing: Standing, doing: Work, found: list[Final]) -> list[Final]:
    """Readings of pieces mounted to other sizes, moved by what those sizes differ."""
    kept = standing.kept
    holds = wood_of.of_pieces(shop, kept.id, {final[0] for final in found})
    again = woods.mounted_again(shop, kept.id)
    works = {
        wood: work_on(shop, kept.pattern_id, kept.revision, wood) for wood in set(holds.values())
    }
    moved = []
    for spindle, place_id, kind, axis, value_mm, at, shown_mm in found:
        if at < again.get(spindle, "") or place_id not in doing.places:
            continue
        if kind == "diameter":
            own = works[holds[spindle]].places[place_id]
            by_mm = doing.places[place_id].diameter_mm - own.diameter_mm
            value_mm += by_mm
            shown_mm = None if shown_mm is None else shown_mm + by_mm
        moved.append((spindle, place_id, kind, axis, value_mm, at, shown_mm))
    return moved


def _believed(table: Table) -> tuple[Table, tuple[Asked, ...]]:
    """The table without the readings that were probably typed in the other unit."""
    targets_mm = np.array([finals.target_mm(*key) for key in table.keys])
    off_mm = table.off_mm.copy()
    asked = []
    for row, column in np.argwhere(np.abs(off_mm) > FAR * targets_mm):
        place, kind = table.keys[column]
        target_mm = float(targets_mm[column])
        value_mm = target_mm + float(off_mm[row, column])
        if value_mm <= 0 or target_mm <= 0:
            continue
        meant = odd.other_unit(value_mm, target_mm)
        if meant is not None:
            asked.append(Asked(table.numbers[row], place, kind, value_mm, target_mm, meant))
            off_mm[row, column] = np.nan
    if not asked:
        return table, ()
    some = ~np.all(np.isnan(off_mm), axis=0)
    return finals.without(replace(table, off_mm=off_mm), some), tuple(asked)
