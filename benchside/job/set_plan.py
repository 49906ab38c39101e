"""The plan of a set's boards: those sawn as they were, the others for what is still wanted."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from benchside.errors import BenchsideError
from benchside.job import sawn
from benchside.job.board_table import of_core
from benchside.job.boards import (
    RESOLUTION_MM,
    BoardView,
    as_it_was,
    as_planned,
    placed,
    view_first,
)
from benchside.job.set_blank import Wanted
from benchside.stock import mixed
from benchside.stock.board import Pin, PinTrouble
from benchside.store.database import Shop
from benchside.store.stock import KeptBlank, KeptBoard


@dataclass(frozen=True, slots=True)
class Planned:
    """The boards of a set in their order, each with its layout, and how good the plan is."""

    views: tuple[BoardView, ...]
    got: tuple[int, ...]
    plain: tuple[int, ...]
    within: int = 0
    on_grid: bool = False
    problem: BenchsideError | None = None


def planned(
    shop: Shop,
    kept: Sequence[KeptBoard],
    wanted: tuple[Wanted, ...],
    rows: Collection[KeptBlank],
    sound: int,
    time_s: float,
    *,
    to_edge: bool,
) -> Planned:
    """The boards with their layouts: those with blanks among ``rows`` as they were sawn, the
    others for what is still wanted while ``sound`` of the set's own are there. Without ``to_edge``
    strips lie where they did before they were put towards the near edge."""
    of_board = {b.id: [row for row in rows if row.board_id == b.id] for b in kept}
    done = {b.id: as_it_was(shop, b, wanted, of_board[b.id]) for b in kept if of_board[b.id]}
    free = [b for b in kept if b.id not in done]
    left = sawn.still_wanted([w.need for w in wanted], rows, sound)
    found = (
        _together(free, wanted, left, time_s, to_edge=to_edge)
        if len(wanted) > 1 and free
        else _alone([view_first(b, wanted) for b in free])
    )
    views = done | {view.kept.id: view for view in found.views}
    return replace(found, views=tuple(views[b.id] for b in kept))


def _alone(views: Sequence[BoardView]) -> Planned:
    got, plain = sum(view.count for view in views), sum(view.plain for view in views)
    return Planned(tuple(views), (got,), (plain,))


def _together(
    kept: Sequence[KeptBoard],
    wanted: tuple[Wanted, ...],
    left: Sequence[int],
    time_s: float,
    *,
    to_edge: bool,
) -> Planned:
    """Boards planned together for so many of each size, and for what is pinned on them."""
    pinned = [sum(pin.need == n for b in kept for pin in b.pins) for n in range(len(wanted))]
    try:
        plan = mixed.plan(
            [of_core(b) for b in kept],
            [
                replace(w.need, wanted=max(many, least))
                for w, many, least in zip(wanted, left, pinned, strict=True)
            ],
            [b.kerf_mm for b in kept],
            RESOLUTION_MM,
            pins=[[Pin(p.at_mm, p.across_mm, p.need) for p in b.pins] for b in kept],
            time_s=time_s,
            to_edge=to_edge,
        )
    except BenchsideError as caught:
        views = tuple(view_first(b, wanted) for b in kept)
        none = (0,) * len(wanted)
        if isinstance(caught, PinTrouble):
            caught = placed(caught, kept[caught.board])
        return Planned(views, none, none, problem=caught)
    plain = sum(plan.plain) if len(kept) == 1 else None
    views = tuple(
        as_planned(board, wanted, layout, plain)
        for board, layout in zip(kept, plan.layouts, strict=True)
    )
    return Planned(views, plan.got, plan.plain, plan.within, plan.on_grid)
