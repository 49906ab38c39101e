"""Boards: describing them, keeping them, what each gives."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Literal

from benchside.errors import BenchsideError
from benchside.job import sawn
from benchside.job.board_table import KERF_MM, BoardTold, of_core, read, with_sign
from benchside.job.origin import stays_as_sawn
from benchside.job.set_blank import Wanted, begun_in, wanted_of
from benchside.stock import grain, mixed
from benchside.stock.board import Layout, Pin, PinTrouble, lay_out
from benchside.stock.grain import Left
from benchside.store import sets as kept_sets
from benchside.store import stock as store
from benchside.store.database import Shop
from benchside.store.stock import KeptBlank, KeptBoard
from benchside.units import length_told

RESOLUTION_MM = 0.5
LATEST = "9999"  # after every moment: a board not kept yet is the last of its set
QUICK_S = 1.5  # judgement: while a finger waits for the drawing


@dataclass(frozen=True, slots=True)
class BoardView:
    """A board and what it gives: a layout, or the problem that stands in its way.

    ``straight_left`` is the strength left if the blanks were laid along the edge instead of along
    its sloping grain. ``sawn`` are the sets whose pieces are numbered from it.

    ``plan`` says whose layout it is: this board's ``own``; the plan ``shared`` with the other
    boards of its set; ``alone``, while its set takes nothing from it or has no plan; that for the
    ``first`` of several sizes; as it was ``sawn``.
    """

    kept: KeptBoard
    wanted: tuple[Wanted, ...]
    layout: Layout | None
    plain: int
    problem: BenchsideError | None
    straight_left: Left | None
    sawn: tuple[int, ...] = ()
    plan: Literal["own", "shared", "alone", "first", "sawn"] = "own"

    @property
    def count(self) -> int:
        return self.layout.count if self.layout else 0


def new_board(shop: Shop, set_id: int | None, name: str) -> BoardTold:
    """A board to fill in, in its set's unit, with the last board's saw cut. Raises `NotFound`.

    ``name`` is what it is called until its maker says otherwise, its number at ``{n}``.
    """
    last = next(iter(store.boards(shop)), None)
    number = len(store.boards(shop)) + len(store.boards(shop, archived=True)) + 1
    unit = last.unit if last and set_id is None else begun_in(shop, set_id)
    kerf = "3.2 mm" if unit == "mm" else "1/8 in"
    if last is not None:
        kerf = with_sign(last.kerf_mm, last.unit)
    return BoardTold(
        name=name.format(n=number),
        unit=unit,
        kerf=kerf,
        set_id="" if set_id is None else str(set_id),
    )


def drafted(shop: Shop, board_id: int | None, told: BoardTold) -> KeptBoard:
    """A board as it is typed, nothing kept. Raises `PatternBroken`."""
    return read(told, store.board(shop, board_id) if board_id else _bare_board("0" * 32, LATEST))


def keep_board(shop: Shop, board_id: int | None, told: BoardTold, *, key: str, at: str) -> int:
    """Keep a board as typed; the same key twice is one board.

    Raises `PatternBroken` with everything that is wrong, `Refused` when pieces are numbered from
    it.
    """
    with shop.transaction() as db:
        if board_id is None:
            twin = next((b for b in store.boards(shop) if b.key == key), None)
            board_id = twin.id if twin else None
        before = store.board(shop, board_id) if board_id else _bare_board(key, at)
        kept = read(told, before)
        if kept.set_id is not None:
            kept_sets.found(shop, kept.set_id)
        if before.id and store.sets_sawn_from(shop, "board", before.id):
            same = replace(kept, name=before.name, note=before.note)
            if replace(same, pins=before.pins) != before or kept.pins != before.pins:
                raise stays_as_sawn()
        return store.keep_board(db, kept)


def view_board(shop: Shop, kept: KeptBoard, *, first_only: bool = False) -> BoardView:
    """A board by itself: as it was sawn, else what it gives of what its set wants, or of the size
    typed with it; of the first size alone where that is asked."""
    wanted = wanted_of(shop, kept.set_id, kept.blank_length_mm, kept.blank_side_mm)
    rows = store.sawn_from(shop, "board", kept.id) if kept.id else []
    if sawn.all_there(rows, wanted):
        return as_it_was(shop, kept, wanted, rows)
    sets = tuple(store.sets_sawn_from(shop, "board", kept.id)) if rows else ()
    wanted = sawn.sizes(rows, wanted)
    return replace(view_first(kept, wanted) if first_only else view_of(kept, wanted), sawn=sets)


def as_it_was(
    shop: Shop, kept: KeptBoard, wanted: tuple[Wanted, ...], rows: Collection[KeptBlank]
) -> BoardView:
    """A board as it was sawn into these blanks."""
    return BoardView(
        kept=kept,
        wanted=sawn.sizes(rows, wanted),
        layout=sawn.layout(kept, rows),
        plain=0,
        problem=None,
        straight_left=_straight_left(kept),
        sawn=tuple(store.sets_sawn_from(shop, "board", kept.id)),
        plan="sawn",
    )


def as_planned(
    kept: KeptBoard, wanted: tuple[Wanted, ...], layout: Layout, plain: int | None
) -> BoardView:
    """A board as the plan of its set lays it out; ``plain`` None: shared with other boards."""
    whose: Literal["own", "shared"] = "shared" if plain is None else "own"
    return BoardView(kept, wanted, layout, plain or 0, None, _straight_left(kept), plan=whose)


def view_first(kept: KeptBoard, wanted: tuple[Wanted, ...]) -> BoardView:
    """A board laid out for the first of what is wanted; pins of the other sizes are left out."""
    others = range(1, len(wanted))
    of_first = replace(kept, pins=tuple(pin for pin in kept.pins if pin.need not in others))
    return replace(view_of(of_first, wanted[:1]), plan="first" if len(wanted) > 1 else "own")


def view_of(kept: KeptBoard, wanted: tuple[Wanted, ...]) -> BoardView:
    """A board laid out for what is wanted; what stands in the way is the view's problem."""
    core = of_core(kept)
    layout, plain = None, 0
    problem: BenchsideError | None = None
    pins = [Pin(pin.at_mm, pin.across_mm, pin.need) for pin in kept.pins]
    try:
        if len(wanted) == 1:
            layout = lay_out(core, wanted[0].need.blank, kept.kerf_mm, RESOLUTION_MM, pins=pins)
            plain = layout.plain_count
        elif wanted:
            plan = mixed.plan(
                [core],
                [w.need for w in wanted],
                [kept.kerf_mm],
                RESOLUTION_MM,
                pins=[pins],
                time_s=QUICK_S,
            )
            (layout,), plain = plan.layouts, sum(plan.plain)
    except PinTrouble as caught:
        problem = placed(caught, kept)
    except BenchsideError as caught:
        problem = caught
    return BoardView(kept, wanted, layout, plain, problem, _straight_left(kept))


def _straight_left(kept: KeptBoard) -> Left | None:
    return grain.strength_left(kept.grain_slope) if kept.grain_slope else None


def placed(trouble: PinTrouble, kept: KeptBoard) -> PinTrouble:
    """The same trouble with the place of its pin, in the unit of its board."""
    if len(trouble.pins) > 1:
        return trouble
    pin = kept.pins[trouble.pins[0]]
    at, across = (length_told(mm, kept.unit) for mm in (pin.at_mm, pin.across_mm))
    where = f"It lies {at} from the left end and {across} from the near edge of {kept.name}."
    return PinTrouble(trouble.message, trouble.pins, hint=f"{where} {trouble.hint}")


def _bare_board(key: str, at: str) -> KeptBoard:
    return KeptBoard(
        *(0, key, None, "Board", "", "mm", 1.0, 1.0, 1.0, KERF_MM, 0.0, 0.0, 0.0, 0.0, 0.0),
        *(True, None, None, at, None),
    )
