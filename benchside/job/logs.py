"""Logs: keeping them, what each gives split one way and the other."""

from __future__ import annotations

from dataclasses import dataclass, replace

from benchside.errors import BenchsideError
from benchside.job import sawn
from benchside.job.origin import stays_as_sawn
from benchside.job.set_blank import begun_in, route_of, set_blank, wanted_of
from benchside.stock.board import Blank
from benchside.stock.log import (
    END_MM,
    KERF_MM,
    PITH_MM,
    SPLIT_OVER_MM,
    WAYS,
    Log,
    SplitPlan,
    Way,
    check,
    check_unit,
    split,
)
from benchside.store import sets as kept_sets
from benchside.store import stock as store
from benchside.store.database import Shop
from benchside.store.stock import KeptLog


@dataclass(frozen=True, slots=True)
class LogView:
    """A log and its two splitting plans, or the problem that stands in their way."""

    kept: KeptLog
    blank: Blank | None
    plans: tuple[SplitPlan, ...]
    problem: BenchsideError | None
    sawn: tuple[int, ...] = ()

    @property
    def plan(self) -> SplitPlan | None:
        """The one chosen."""
        return next((plan for plan in self.plans if plan.way == self.kept.way), None)

    @property
    def billets(self) -> int:
        return self.plan.count if self.plan else 0


def bare_log(key: str, at: str) -> KeptLog:
    """A log to fill in."""
    return KeptLog(
        *(0, key, None, "Log", "", "mm", 1.0, 10.0, 10.0, 0.0, 0.0, True),
        *(
            PITH_MM,
            END_MM,
            KERF_MM,
            SPLIT_OVER_MM,
            "sectors",
        ),
        *(None, None, at, None),
    )


def new_log(shop: Shop, set_id: int | None, name: str, *, key: str, at: str) -> KeptLog:
    """A log to fill in, in its set's unit; nothing off its ends where the set's blanks have the
    waste for their checks already. Raises `NotFound`.

    ``name`` is what it is called until its maker says otherwise, its number at ``{n}``.
    """
    number = len(store.logs(shop)) + len(store.logs(shop, archived=True)) + 1
    unit = begun_in(shop, set_id)
    in_blank = set_id is not None and set_blank(shop, set_id).proposal.ends_mm > 0
    return replace(
        bare_log(key, at),
        name=name.format(n=number),
        set_id=set_id,
        unit=unit,
        end_mm=0.0 if in_blank else END_MM,
    )


def keep_log(shop: Shop, kept: KeptLog) -> int:
    """Keep a log; the same key twice is one log. Raises `OutOfRange`, `Refused`."""
    if not kept.name.strip():
        raise BenchsideError("It needs a name.", field="name")
    check(of_log(kept), Blank(1.0, 1.0), kept.over_mm, kept.way, kept.unit)
    check_unit(of_log(kept))
    with shop.transaction() as db:
        if kept.set_id is not None:
            kept_sets.found(shop, kept.set_id)
        twin = next((log for log in store.logs(shop) if log.key == kept.key), None)
        if kept.id == 0 and twin is not None:
            kept = replace(kept, id=twin.id, made_at=twin.made_at)
        if kept.id and store.sets_sawn_from(shop, "log", kept.id):
            before = store.log(shop, kept.id)
            if replace(kept, name=before.name, note=before.note) != before:
                raise stays_as_sawn()
        return store.keep_log(db, kept)


def view_log(shop: Shop, kept: KeptLog) -> LogView:
    """A log and what it gives in both ways of splitting, or as it was split."""
    wanted = wanted_of(shop, kept.set_id, kept.blank_length_mm, kept.blank_side_mm)
    blank = wanted[0].need.blank if wanted else None
    over = 0.0 if kept.set_id is not None and _split_route(shop, kept.set_id) else kept.over_mm
    ways: tuple[Way, ...] = WAYS
    if rows := store.sawn_from(shop, "log", kept.id) if kept.id else ():
        blank, over, ways = sawn.size_of(rows[0]), 0.0, (kept.way,)
    plans: tuple[SplitPlan, ...] = ()
    problem = None
    if blank is not None:
        try:
            plans = tuple(split(of_log(kept), blank, w, over_mm=over, unit=kept.unit) for w in ways)
        except BenchsideError as caught:
            problem = caught
    sets = tuple(store.sets_sawn_from(shop, "log", kept.id)) if rows else ()
    return LogView(kept, blank, plans, problem, sets)


def log(shop: Shop, log_id: int) -> LogView:
    """One log and what it gives. Raises `NotFound`."""
    return view_log(shop, store.log(shop, log_id))


def of_log(kept: KeptLog) -> Log:
    """The log as the core splits it."""
    return Log(
        length_mm=kept.length_mm,
        large_mm=kept.large_mm,
        small_mm=kept.small_mm,
        bark_mm=kept.bark_mm,
        sapwood_mm=kept.sapwood_mm,
        keep_sapwood=kept.keep_sapwood,
        pith_mm=kept.pith_mm,
        end_mm=kept.end_mm,
        kerf_mm=kept.kerf_mm,
    )


def _split_route(shop: Shop, set_id: int) -> bool:
    """Whether the set's blank already has what a split billet needs more."""
    return route_of(shop, set_id) in ("split", "split_rough")
