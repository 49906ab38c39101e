"""Whether the last pieces drift: one look for the turn page and the review alike."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from benchside.consistency import alike, drift
from benchside.consistency.drift import Alarm, How
from benchside.job import finals
from benchside.job.finals import Floats, Key, Kind, Table
from benchside.job.judged import Judged, judge, two_lots
from benchside.job.work import Work
from benchside.lathe.calipers import CaliperUse
from benchside.pattern import Place
from benchside.store import review as rows
from benchside.store.database import Shop

WORTH = 0.25  # judgement: of the limit at a place; less is not worth stopping for
FEWEST_TO_JOIN = 3  # judgement: two are no set yet that a third could join
AIM_WORTH = 0.5  # judgement: of the limit; a smaller difference is not worth aiming off for
STANDS_FOR = 3  # judgement: so many pieces that are still off keep up what was told before them
MOST_LOOKED_BACK = 60  # judgement: when it could first be known is told of a set no larger
STICK, EYE = "stick", "eye"  # what a place that no caliper is set for goes by


@dataclass(frozen=True, slots=True)
class Watch:
    """The surest drift of a set: at ``place`` most, and at all ``places`` that go by the same.

    ``letter`` is the caliper they are sized with; "" for what no caliper is set for. It began
    with piece ``since``, ``pieces`` before the last it was seen on, ``upto`` (both counted), and
    could first be known after piece ``known_after`` (None: not looked back so far). ``moved_mm``
    is how far off piece ``upto`` is, within ``low_mm`` to ``high_mm``; ``slope_mm`` how much a
    piece, 0 where it jumped.
    ``aim_mm`` is the size (or position) to aim for on the next piece so that the set ends alike,
    ``target_mm`` what the pattern wants.
    """

    place: Place
    kind: Kind
    letter: str
    places: tuple[Place, ...]
    how: How
    since: int
    upto: int
    pieces: int
    known_after: int | None
    slope_mm: float
    moved_mm: float
    low_mm: float
    high_mm: float
    target_mm: float
    aim_mm: float


@dataclass(frozen=True, slots=True)
class Aim:
    """What to aim for on the next pieces at one place, so that they join those that stand. [mm]

    ``off_mm`` is how far that lies from what the pattern wants, ``target_mm``.
    """

    place: Place
    kind: Kind
    target_mm: float
    off_mm: float


def told(shop: Shop, set_id: int, work: Work) -> tuple[Watch | None, tuple[Aim, ...]]:
    """What is to be told at the lathe: what drifts, and what to aim for, in the sizes of the
    ``work`` in hand, which may be of another wood than the set is now. Raises `NotFound`."""
    judged = judge(shop, set_id)
    found = look(shop, judged)
    here = [
        replace(aim, target_mm=finals.target_mm(work.places[aim.place.id], aim.kind))
        for aim in aims(judged, found)
        if aim.place.id in work.places
    ]
    return found and _in_sizes_of(work, found), tuple(here)


def aims(judged: Judged, drifting: Watch | None) -> tuple[Aim, ...]:
    """Where the next pieces are best aimed off the pattern, what drifts first.

    A reading that stands out is none to join, and does not count. Nothing is told of two sets
    mixed, but for what drifts.
    """
    first: tuple[Aim, ...] = ()
    if drifting is not None:
        off_mm = drifting.aim_mm - drifting.target_mm
        first = (Aim(drifting.place, drifting.kind, drifting.target_mm, off_mm),)
    if two_lots(judged) is not None:
        return first
    table = judged.table
    usual = table.off_mm.copy()
    shares = alike.apart(usual, alike.middles_mm(usual, table.tenons), judged.limits_mm)
    usual[alike.beyond(shares)] = np.nan
    found = []
    for i, (place, kind) in enumerate(table.keys):
        in_order = usual[list(table.orders[i]), i]
        off_mm = drift.aim_off_mm(in_order, to_the_target=bool(table.tenons[i]))
        drifts = first and (place.id, kind) == (first[0].place.id, first[0].kind)
        few = np.count_nonzero(~np.isnan(in_order)) < FEWEST_TO_JOIN
        if abs(off_mm) > AIM_WORTH * judged.limits_mm[i] and not (few or drifts):
            found.append(Aim(place, kind, finals.target_mm(place, kind), off_mm))
    return (*first, *found)


def _in_sizes_of(work: Work, found: Watch) -> Watch:
    if found.place.id not in work.places:
        return found
    target_mm = finals.target_mm(work.places[found.place.id], found.kind)
    return replace(found, target_mm=target_mm, aim_mm=target_mm + found.aim_mm - found.target_mm)


def look(shop: Shop, judged: Judged, *, back: bool = False) -> Watch | None:
    """The surest drift in what is judged; with ``back``, also when it could first be known.

    What was told stands while the pieces since are still off, also where they alone would not
    have been enough to tell it: until the caliper was checked, or a piece comes out as aimed.
    """
    table, kept = judged.table, judged.standing.kept
    used = judged.letters
    by_place = {s.place_id: used[s.id] for s in judged.doing.steps if s.place_id and s.id in used}
    groups = [group(key, by_place) for key in table.keys]
    noted = rows.calipers_noted(shop, kept.id)
    off_mm = _fit_to_judge(judged, _set_anew_at(table.keys, by_place, noted))
    off_mm = off_mm[list(table.in_turn)]
    from_aim_mm = off_mm - table.aim_mm[list(table.in_turn)]
    pieces = kept.choices.wanted + kept.choices.spares
    if not groups:
        return None
    for newer in range(min(STANDS_FOR, len(off_mm) - 1) + 1):
        seen = off_mm[: len(off_mm) - newer]
        for alarm in drift.watch(seen, groups, pieces, step_mm=table.steps_mm):
            worth_mm = WORTH * judged.limits_mm[alarm.most]
            still = _still_off(from_aim_mm[len(seen) :, alarm.most], alarm.moved_mm, worth_mm)
            if abs(alarm.moved_mm) >= worth_mm and still:
                steps_mm = table.steps_mm
                known = _known_after(seen, groups, pieces, steps_mm, alarm) if back else None
                return _told(table, alarm, by_place, known, len(seen) - 1)
    return None


def _still_off(newer_mm: Floats, moved_mm: float, worth_mm: float) -> bool:
    """Whether pieces since an alarm are as they would be if it still drifted: off the same way.

    One that came out where it was aimed ends it; one not read there says nothing.
    """
    read = newer_mm[~np.isnan(newer_mm)] * np.sign(moved_mm)
    return bool(np.all(read >= worth_mm))


def group(key: Key, by_place: Mapping[str, CaliperUse]) -> str:
    """What a place goes by: one caliper at one setting, the marked stick, or the eye.

    A caliper that is set anew for every piece stands at each of its sizes by a setting of its own,
    so only places at one setting move together.
    """
    place, kind = key
    if kind == "position":
        return STICK
    use = by_place.get(place.id)
    return EYE if use is None else f"{use.letter} {use.setting_mm:.3f}"


def _fit_to_judge(judged: Judged, anew_at: Mapping[int, str]) -> Floats:
    """What is looked at: the odd readings of pieces marked so are left out, and what was read
    before a caliper was set anew."""
    table = judged.table
    off_mm = table.off_mm.copy()
    marked = [judged.standing.piece(number).lot in ("odd", "mend") for number in table.numbers]
    far = alike.apart(off_mm, alike.middles_mm(off_mm, table.tenons), judged.limits_mm) > 1
    off_mm[np.array(marked, dtype=bool)[:, None] & far] = np.nan
    for column, at in anew_at.items():
        off_mm[[last_at < at for last_at in table.last_at], column] = np.nan
    return off_mm


def _set_anew_at(
    keys: tuple[Key, ...], by_place: Mapping[str, CaliperUse], noted: Mapping[str, str]
) -> dict[int, str]:
    """Since when each column's caliper stands as it does, where that was ever noted.

    What names no letter was noted of them all.
    """
    every = noted.get("", "")
    since = {
        column: max(noted.get(by_place[place.id].letter, ""), every)
        for column, (place, kind) in enumerate(keys)
        if kind == "diameter" and place.id in by_place
    }
    return {column: at for column, at in since.items() if at}


def _known_after(
    off_mm: Floats, groups: list[str], pieces: int, steps_mm: tuple[float, ...], alarm: Alarm
) -> int | None:
    """The row after which the alarm of this group was first given."""
    if len(off_mm) > MOST_LOOKED_BACK:
        return None
    told = drift.history(off_mm, groups, pieces, step_mm=steps_mm)
    return next((row for row, first in told if first.group == alarm.group), None)


def _told(
    table: Table, alarm: Alarm, by_place: Mapping[str, CaliperUse], known: int | None, last: int
) -> Watch:
    place, kind = table.keys[alarm.most]
    in_turn = [table.numbers[row] for row in table.in_turn]
    off_mm = table.off_mm[list(table.in_turn), alarm.most]
    target_mm = finals.target_mm(place, kind)
    aim_off_mm = drift.aim_off_mm(off_mm, to_the_target=bool(table.tenons[alarm.most]))
    use = by_place.get(place.id) if kind == "diameter" else None
    return Watch(
        place=place,
        kind=kind,
        letter=use.letter if use else "",
        places=tuple(table.keys[column][0] for column in alarm.columns),
        how=alarm.how,
        since=in_turn[alarm.since],
        upto=in_turn[last],
        pieces=alarm.pieces,
        known_after=None if known is None else in_turn[known],
        slope_mm=alarm.slope_mm_per_piece,
        moved_mm=alarm.moved_mm,
        low_mm=alarm.low_mm,
        high_mm=alarm.high_mm,
        target_mm=target_mm,
        aim_mm=target_mm + aim_off_mm,
    )
