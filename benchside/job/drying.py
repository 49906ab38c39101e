"""Drying: offcuts and weighings of a set, what they say, and how long dry pieces have lain."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise
from math import inf, isinf
from typing import Literal

from benchside import units
from benchside.errors import BenchsideError, NotFound, NotUnderstood, OutOfRange
from benchside.job import sets, wood_of
from benchside.job.forms import of_day
from benchside.job.keys import cell_key, keyed
from benchside.job.progress import Piece
from benchside.job.scales import DAY_S, SAFE_ROOM, Dries, seconds, so_far, start_of, step_of_g
from benchside.job.sets import Standing
from benchside.job.tenon_dryness import evidence, turned
from benchside.job.turning import Surprising
from benchside.job.wood_of import Said
from benchside.job.work import work_of
from benchside.store import readings
from benchside.store import wood as kept_wood
from benchside.store.database import Shop
from benchside.store.wood import DryingMark, MassUnit, Moment, Room, Slice, Weighing
from benchside.wood import drying
from benchside.wood.drying import Verdict
from benchside.wood.moisture import emc_percent, moisture_percent

LIES_WELL_DAYS = 2.0  # judgement: a dried tenon is sized and fitted within this, or weighed again
RISE_ASKED = 1.005  # judgement: a weight this much over the last one is asked about

StartBy = Literal["slices", "figure"]


@dataclass(frozen=True, slots=True)
class Lies:
    """What has come out dry and is not fitted yet, ``days`` ago; ``stale`` after two days."""

    numbers: tuple[int, ...]
    dried_at: str
    sized_at: str | None
    days: float
    stale: bool


@dataclass(frozen=True, slots=True)
class View:
    """How a set dries. ``air_mc`` is the balance with the room, ``start_mc`` what it began with.

    ``estimate_days`` is by diffusion and stands only while no piece can be forecast;
    ``learned_m2_s`` the pace the weighings show. ``verdict`` is that of the slowest piece.
    ``to_weigh`` are the pieces that dry. ``ready`` are the roughed ones that are dry by the newest
    that says so, ``ready_mc`` what they hold.
    """

    standing: Standing
    said: Said | None
    room: Room | None
    air_mc: float
    start_mc: float
    start_by: StartBy
    start_spread: float
    slices: tuple[Slice, ...]
    pieces: tuple[Dries, ...]
    verdict: Verdict | None
    slowest: Dries | None
    thickest_mm: float
    estimate_days: float | None
    learned_m2_s: float | None
    lies: tuple[Lies, ...]
    to_weigh: tuple[int, ...]
    ready: frozenset[int]
    ready_mc: float
    struck: tuple[Weighing, ...]
    now: str


def view(shop: Shop, set_id: int, *, now: str) -> View:
    """How a set dries. Raises `NotFound`."""
    standing = sets.standing(shop, set_id)
    said = wood_of.said(shop, set_id)
    room = kept_wood.room(shop, set_id)
    kept = room or Room(*SAFE_ROOM, None)
    air = emc_percent(kept.temperature_c, kept.rh_percent)
    slices = tuple(s for s in kept_wood.slices(shop, set_id) if s.struck_at is None)
    start, spread = start_of(shop, set_id)
    every = kept_wood.weighings(shop, set_id)
    target = said.wood.dry_mc if said else 0.0
    pieces = tuple(_each(every, start, air, target)) if said else ()
    slowest = max(pieces, key=_slowness, default=None)
    thickest = max(p.diameter_mm for p in work_of(shop, standing.kept).places.values())
    learned = _learned(slowest, thickest, air)
    marks = kept_wood.drying_marks(shop, set_id)
    lies = tuple(_lies(standing, marks, _turned_at(shop, set_id), now))
    says = evidence(shop, set_id)
    ready = frozenset(n for n in standing.roughed if (one := says.get(n)) and one.dry)
    return View(
        standing=standing,
        said=said,
        room=room,
        air_mc=air,
        start_mc=start,
        start_by="slices" if any(s.dry_g for s in slices) else "figure",
        start_spread=spread,
        slices=slices,
        pieces=pieces,
        verdict=slowest.verdict if slowest else None,
        slowest=slowest,
        thickest_mm=thickest,
        estimate_days=_estimate(slowest, start, target, air, thickest, kept, learned),
        learned_m2_s=learned,
        lies=lies,
        to_weigh=_to_weigh(standing, pieces, marks),
        ready=ready,
        ready_mc=_mean([says[n].moisture for n in ready], target),
        struck=tuple(w for w in every if w.struck_at is not None),
        now=now,
    )


def next_to_weigh(view: View, day: str, after: int) -> int:
    """The piece to weigh after another on a day (YYYY-MM-DD; "": today): of those off the lathe
    that were not weighed that day one that was weighed before, else any; 0 where none is."""
    asked = day or f"{datetime.fromisoformat(view.now).astimezone():%Y-%m-%d}"
    last = {p.number: p.weighings[-1].taken_at for p in view.pieces}
    that_day = {
        n
        for n, at in last.items()
        if f"{datetime.fromisoformat(at).astimezone():%Y-%m-%d}" == asked
    }

    def turn(n: int) -> tuple[bool, bool, bool, int]:
        return n in that_day, n not in last, n <= after, n

    return min(view.to_weigh, key=turn, default=0)


def keep_room(
    shop: Shop,
    set_id: int,
    temperature_c: float,
    rh_percent: float,
    diffusion_m2_s: float | None = None,
) -> None:
    """Say what air a set dries in. Raises `OutOfRange`."""
    sets.standing(shop, set_id)
    emc_percent(temperature_c, rh_percent)
    if diffusion_m2_s is not None and not 1e-13 <= diffusion_m2_s <= 1e-7:
        raise OutOfRange(
            "No wood dries at that pace.",
            field="diffusion",
            hint="In units of 1e-10 m²/s; leave it empty and let the weighings show it.",
        )
    with shop.transaction() as db:
        kept_wood.keep_room(db, set_id, Room(temperature_c, rh_percent, diffusion_m2_s))


def weigh_slice(
    shop: Shop, set_id: int, wet: str, dry: str, unit: MassUnit, *, key: str, at: str
) -> Slice:
    """Keep an offcut: what it weighs wet and, once out of the oven, dry.

    The same key again gives it its dry weight. Raises `NotUnderstood` and `OutOfRange`.
    """
    sets.standing(shop, set_id)
    keyed(key)
    before = next((s for s in kept_wood.slices(shop, set_id) if s.key == key), None)
    wet_g = before.wet_g if before and not wet.strip() else _mass(wet, unit, "wet")
    dry_g = _mass(dry, unit, "dry") if dry.strip() else None
    if dry_g is not None:
        if dry_g > wet_g:
            raise OutOfRange(
                "Out of the oven it would weigh more than wet.",
                field="dry",
                hint="It loses its water there: are the two the wrong way round?",
            )
        try:
            moisture_percent(wet_g, dry_g)
        except OutOfRange as fault:
            fault.field = "dry"
            raise
    found = Slice(key, unit, wet_g, dry_g, before.cut_at if before else at, None)
    with shop.transaction() as db:
        kept_wood.keep_slice(db, set_id, found)
    return found


def strike_slice(shop: Shop, set_id: int, key: str, *, at: str) -> None:
    """Strike an offcut out; it stays. Raises `NotFound`."""
    for found in kept_wood.slices(shop, set_id):
        if found.key == key:
            with shop.transaction() as db:
                kept_wood.keep_slice(db, set_id, replace(found, struck_at=at))
            return
    raise NotFound("There is no such offcut.")


def weigh(
    shop: Shop,
    set_id: int,
    number: int,
    typed: str,
    unit: MassUnit,
    *,
    key: str,
    at: str,
    sure: bool = False,
) -> Weighing:
    """Keep the weight of a piece as it was at a moment.

    Raises `NotFound`, `NotUnderstood`, `OutOfRange`, and, unless it is meant, `Surprising` for a
    weight over an earlier one or under a later one, and for the first of a piece still to be
    turned.
    """
    piece = sets.standing(shop, set_id).piece(number)
    keyed(key)
    found = Weighing(key, number, typed.strip(), unit, _mass(typed, unit, "mass"), at, None)
    others = [
        w
        for w in kept_wood.weighings(shop, set_id)
        if w.spindle == number and w.struck_at is None and w.key != key
    ]
    if any(w.taken_at == at or of_day(at, w.taken_at) for w in others):
        raise OutOfRange(
            f"Piece {number} has a weight of that day already.",
            field="day",
            hint="Strike that out first, or give another day.",
        )
    if not sure:
        if not others:
            _ask_if_notturned(piece)
        _ask_if_it_gained(found, others)
    with shop.transaction() as db:
        kept_wood.add_weighing(db, set_id, found)
    return found


def _ask_if_notturned(piece: Piece) -> None:
    if piece.to_turn and not piece.begun:
        raise Surprising(
            f"Piece {piece.number} is still to be turned: its shavings would pass for water.",
            field="number",
            hint="Weigh it from the day it is off the lathe.",
        )


def _ask_if_it_gained(found: Weighing, others: Sequence[Weighing]) -> None:
    """Asks where a weight is over the one before it, or under the one after it."""
    ordered = sorted([*others, found], key=lambda w: w.taken_at)
    here = ordered.index(found)
    for before, after in pairwise(ordered[max(0, here - 1) : here + 2]):
        if after.mass_g > before.mass_g * RISE_ASKED:
            raise Surprising(
                f"Piece {found.spindle} weighed {shown(before)} and then {shown(after)}:"
                " it would have gained.",
                field="mass",
                hint="Is it the same piece, and the pan empty? It may have lain in damper air.",
            )


def shown(weighing: Weighing) -> str:
    """A weight as it was typed, with its unit."""
    typed = weighing.typed
    return typed if typed[-1:].isalpha() else f"{typed} {weighing.unit}"


def strike(shop: Shop, set_id: int, key: str, *, at: str) -> None:
    """Strike a weighing out; it stays, and no longer counts."""
    with shop.transaction() as db:
        kept_wood.strike_weighing(db, set_id, key, at=at)


def note(shop: Shop, set_id: int, number: int | None, what: Moment, *, key: str, at: str) -> None:
    """Note that a piece came out dry, was sized, or was fitted; with None all it can be true of.

    Those are the turned ones that come out dry, and of these the ones that are sized or fitted.
    Raises `NotFound`, `NotUnderstood`, and `OutOfRange` where it is true of none.
    """
    standing = sets.standing(shop, set_id)
    keyed(key)
    if what not in kept_wood.MOMENTS:
        raise NotUnderstood("Dried, sized or fitted?", field="what")
    if number is not None:
        meant = {standing.piece(number).number}
    elif what == "dried":
        meant = turned(standing)
    else:
        marks = kept_wood.drying_marks(shop, set_id)
        lies = _lies(standing, marks, _turned_at(shop, set_id), at)
        meant = {n for found in lies for n in found.numbers}
    if not meant:
        raise OutOfRange(
            "No piece is off the lathe yet."
            if what == "dried"
            else "Nothing was noted as come out dry yet.",
            field="number",
            hint="Choose the piece.",
        )
    with shop.transaction() as db:
        for each in sorted(meant):
            mark = DryingMark(cell_key(key, each), each, what, at)
            kept_wood.add_drying_mark(db, set_id, mark)


def _to_weigh(
    standing: Standing, pieces: Sequence[Dries], marks: Sequence[DryingMark]
) -> tuple[int, ...]:
    """Those off the lathe, or on the scales already, that are neither spoiled nor fitted."""
    off = turned(standing) or {p.number for p in standing.pieces if p.begun}
    gone = {p.number for p in standing.pieces if p.lot == "spoiled"}
    gone |= {mark.spindle for mark in marks if mark.what == "fitted" and mark.spindle is not None}
    return tuple(sorted((off | {p.number for p in pieces}) - gone))


def _each(every: Sequence[Weighing], start: float, air: float, target: float) -> list[Dries]:
    numbers = sorted({w.spindle for w in every if w.struck_at is None})
    return [
        _one(
            number,
            [w for w in every if w.spindle == number and w.struck_at is None],
            start,
            air,
            target,
        )
        for number in numbers
    ]


def _one(number: int, found: list[Weighing], start: float, air: float, target: float) -> Dries:
    dries = so_far(number, found, start, air, target)
    masses, days = [w.mass_g for w in found], dries.days
    since = _last_rise(masses)
    if dries.verdict in (None, "rising") or len(masses) - since < drying.FEWEST:
        return dries
    step_g = max(step_of_g(w) for w in found)
    try:
        told = drying.forecast(
            days[since:], masses[since:], dries.ovendry_g, air, target, step_g=step_g
        )
    except BenchsideError as trouble:
        return replace(dries, trouble=trouble)
    return replace(dries, forecast=told)


def _last_rise(masses: Sequence[float]) -> int:
    """From which weighing on the weights only fall."""
    ups = [i for i in range(1, len(masses)) if masses[i] > masses[i - 1] * RISE_ASKED]
    return ups[-1] if ups else 0


def _slowness(piece: Dries) -> tuple[int, float, float]:
    order = ("dry", "not yet", "stopped", "too damp", "rising")
    rank = -1 if piece.verdict is None else order.index(piece.verdict)
    return rank, _dry_at(piece), piece.moisture_now or 0.0


def _dry_at(piece: Dries) -> float:
    """The moment it will be dry: each piece counts its days from its own first weighing. [s]"""
    if piece.forecast is None:
        return inf
    return seconds(piece.weighings[0].taken_at) + piece.forecast.day * DAY_S


def _learned(slowest: Dries | None, thickest_mm: float, air: float) -> float | None:
    if slowest is None or slowest.trouble is not None:
        return None
    try:
        return drying.diffusion_from(thickest_mm, slowest.days, slowest.moistures, air)
    except BenchsideError:
        return None


def _estimate(
    slowest: Dries | None,
    start: float,
    target: float,
    air: float,
    thickest_mm: float,
    room: Room,
    learned: float | None,
) -> float | None:
    if slowest is not None and slowest.forecast is not None:
        return None
    pace = learned or room.diffusion_m2_s
    if pace is None or target <= 0:
        return None
    found = drying.estimated_days(thickest_mm, start, target, air, pace)
    return None if isinf(found) else found


def _mean(moistures: Sequence[float | None], else_mc: float) -> float:
    """The mean of those that are known, else another figure. [%]"""
    known = [mc for mc in moistures if mc is not None]
    return sum(known) / len(known) if known else else_mc


def _turned_at(shop: Shop, set_id: int) -> dict[int, str]:
    """When each piece was done with at the lathe last."""
    done = (mark for mark in readings.marks(shop, set_id) if mark.what == "done")
    return {mark.spindle: mark.taken_at for mark in done if mark.spindle is not None}


def _lies(
    standing: Standing, marks: Sequence[DryingMark], turned_at: Mapping[int, str], now: str
) -> list[Lies]:
    """A mark of the whole set (without a number) is one of each of its turned pieces.

    One that was turned to the end since it came out dry has its tenons cut to size.
    """
    lying: dict[tuple[str, str | None], list[int]] = {}
    of_all = turned(standing) or {p.number for p in standing.pieces}
    for number in sorted(of_all | {m.spindle for m in marks if m.spindle is not None}):
        own = [m for m in marks if m.spindle == number or (m.spindle is None and number in of_all)]
        dried = [m for m in own if m.what == "dried"]
        if not dried or any(m.what == "fitted" and m.at >= dried[-1].at for m in own):
            continue
        cut = [m.at for m in own if m.what == "sized"] + [turned_at.get(number, "")]
        sized = sorted(at for at in cut if at >= dried[-1].at)
        lying.setdefault((dried[-1].at, sized[-1] if sized else None), []).append(number)
    found = []
    for (dried_at, sized_at), numbers in lying.items():
        days = (seconds(now) - seconds(dried_at)) / DAY_S
        found.append(Lies(tuple(numbers), dried_at, sized_at, days, days > LIES_WELL_DAYS))
    return found


def _mass(text: str, unit: MassUnit, field: str) -> float:
    return units.parse_mass(text, unit, field=field)
