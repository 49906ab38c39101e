"""The stock of a set: what its boards and logs give together, which blank becomes which piece."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from benchside.errors import BenchsideError, Refused
from benchside.job import sets as set_verbs
from benchside.job.board_table import of_core
from benchside.job.boards import RESOLUTION_MM, BoardView, view_of
from benchside.job.logs import LogView, view_log
from benchside.job.set_blank import SetBlank, set_blank
from benchside.stock import mixed
from benchside.stock.board import Pin
from benchside.store import sets as kept_sets
from benchside.store import stock as store
from benchside.store.database import Shop
from benchside.store.stock import KeptBlank


@dataclass(frozen=True, slots=True)
class SpareCall:
    """A spoiled piece and the spare that takes its place: a number, or a blank not numbered."""

    spoiled: int
    piece: int | None
    label: int | None
    done: bool = False


@dataclass(frozen=True, slots=True)
class Spares:
    """What takes the place of each spoiled piece; how many pieces and blanks are sound, how many
    the set wants."""

    calls: tuple[SpareCall, ...]
    sound: int
    wanted: int


@dataclass(frozen=True, slots=True)
class SetView:
    """The stock of a set.

    ``got`` and ``plain`` are by size wanted; ``within`` how many more there could be; ``enough``
    the least boards, in order of giving, that cover the set. Once blanks are numbered, ``spares``
    says what takes the place of each spoiled piece, and ``sound`` how many of the wanted pieces
    the stock still covers.
    """

    blank: SetBlank
    boards: tuple[BoardView, ...]
    logs: tuple[LogView, ...]
    got: tuple[int, ...]
    plain: tuple[int, ...]
    within: int
    on_grid: bool
    enough: tuple[int, ...]
    problem: BenchsideError | None
    blanks: tuple[KeptBlank, ...]
    calls: tuple[SpareCall, ...]
    sound: int

    @property
    def billets(self) -> int:
        return sum(view.plan.count for view in self.logs if view.plan)

    @property
    def covered(self) -> bool:
        return self.sound >= self.blank.pieces

    @property
    def unnumbered(self) -> tuple[KeptBlank, ...]:
        return tuple(blank for blank in self.blanks if blank.spindle is None)


def of_set(shop: Shop, set_id: int) -> SetView:
    """The stock of a set: its blank, its boards and logs, and the plan over all of them."""
    blank = set_blank(shop, set_id)
    wanted = blank.all_wanted
    kept = store.boards(shop, set_id=set_id)
    views = tuple(view_of(b, wanted[:1], ()) for b in kept)
    got: tuple[int, ...] = (sum(view.count for view in views),)
    plain: tuple[int, ...] = (sum(view.plain for view in views),)
    within, on_grid, problem = 0, False, None
    if len(wanted) > 1 and kept:
        try:
            plan = mixed.plan(
                [of_core(b) for b in kept],
                [w.need for w in wanted],
                [b.kerf_mm for b in kept],
                RESOLUTION_MM,
                pins=[[Pin(p.at_mm, p.across_mm, p.need) for p in b.pins] for b in kept],
            )
        except BenchsideError as caught:
            problem, got, plain = caught, (0,) * len(wanted), (0,) * len(wanted)
        else:
            got, plain, within, on_grid = plan.got, plan.plain, plan.within, plan.on_grid
            views = tuple(
                replace(view, wanted=wanted, layout=layout, problem=None)
                for view, layout in zip(views, plan.layouts, strict=True)
            )
    blanks = tuple(store.blanks(shop, set_id))
    called = spares(shop, set_id)
    return SetView(
        blank=blank,
        boards=views,
        logs=tuple(view_log(shop, log) for log in store.logs(shop, set_id=set_id)),
        got=got,
        plain=plain,
        within=within,
        on_grid=on_grid,
        enough=_enough(views, blank.wanted) if len(wanted) == 1 else (),
        problem=problem,
        blanks=blanks,
        calls=called.calls,
        sound=called.sound,
    )


def number_pieces(shop: Shop, set_id: int, *, at: str) -> int:
    """Take the blanks of the plan as sawn: numbered in order as the set's pieces.

    Those beyond the pieces stay as spare blanks. Returns how many there are. Raises `Refused`
    when there are blanks already, or none.
    """
    view = of_set(shop, set_id)
    if view.blanks:
        raise Refused("The blanks of this set are numbered already.", field="number")
    found = [
        *(blank for board in view.boards for blank in _of_board(board, at)),
        *(blank for log in view.logs for blank in _of_log(log, at)),
    ]
    if not found:
        raise Refused(
            "There is no blank to number yet.",
            field="number",
            hint="Put a board or a log to the set.",
        )
    standing = set_verbs.standing(shop, set_id)
    numbers = [piece.number for piece in standing.pieces if not piece.practice]
    numbered = [
        replace(blank, label=label, spindle=number)
        for label, (blank, number) in enumerate(
            zip(found, [*numbers, *[None] * len(found)], strict=False), 1
        )
    ]
    with shop.transaction() as db:
        store.keep_blanks(db, set_id, numbered)
    return len(numbered)


def let_go(shop: Shop, set_id: int) -> None:
    """Forget which blank each piece is from, so that the boards can be planned anew."""
    kept_sets.found(shop, set_id)
    with shop.transaction() as db:
        store.keep_blanks(db, set_id, ())


def take_spare(shop: Shop, set_id: int) -> int:
    """Number one more piece from the first spare blank; returns its number. Raises `Refused`."""
    blanks = store.blanks(shop, set_id)
    spare = next((blank for blank in blanks if blank.spindle is None), None)
    if spare is None:
        raise Refused(
            "There is no spare blank.", field="spare", hint="Put another board to the set."
        )
    kept = kept_sets.found(shop, set_id)
    choices = replace(kept.choices, spares=kept.choices.spares + 1)
    before = {piece.number for piece in set_verbs.standing(shop, set_id).pieces}
    set_verbs.settle(shop, set_id, choices)
    standing = set_verbs.standing(shop, set_id)
    number = next(p.number for p in standing.pieces if p.number not in before and not p.practice)
    with shop.transaction() as db:
        store.keep_blanks(
            db,
            set_id,
            [replace(b, spindle=number) if b.label == spare.label else b for b in blanks],
        )
    return number


def _of_board(view: BoardView, at: str) -> list[KeptBlank]:
    return [
        KeptBlank(
            label=1,
            spindle=None,
            board_id=view.kept.id,
            log_id=None,
            at_mm=placed.at_mm,
            across_mm=placed.across_mm,
            deep_mm=placed.depth_mm,
            length_mm=placed.length_mm,
            side_mm=placed.side_mm,
            turned_deg=0.0,
            ring_deg=None,
            sawn_at=at,
        )
        for placed in (view.layout.blanks if view.layout else ())
        if placed.need == 0
    ]


def _of_log(view: LogView, at: str) -> list[KeptBlank]:
    return [
        KeptBlank(
            label=1,
            spindle=None,
            board_id=None,
            log_id=view.kept.id,
            at_mm=bolt.from_mm,
            across_mm=billet.x_mm,
            deep_mm=billet.y_mm,
            length_mm=bolt.to_mm - bolt.from_mm,
            side_mm=billet.side_mm,
            turned_deg=billet.turned_deg,
            ring_deg=billet.ring_deg,
            sawn_at=at,
        )
        for bolt in (view.plan.bolts if view.plan else ())
        for billet in bolt.billets
    ]


def spares(shop: Shop, set_id: int) -> Spares:
    """For each spoiled piece the spare that takes its place; how many pieces stay covered."""
    standing = set_verbs.standing(shop, set_id)
    counted = [piece for piece in standing.pieces if not piece.practice]
    wanted = standing.kept.choices.wanted
    spoiled = [piece for piece in counted[:wanted] if piece.lot == "spoiled"]
    over = [piece for piece in counted[wanted:] if piece.lot != "spoiled"]
    labels = [blank.label for blank in store.blanks(shop, set_id) if blank.spindle is None]
    calls = []
    for i, piece in enumerate(spoiled):
        spare = over[i] if i < len(over) else None
        beyond = i - len(over)
        label = labels[beyond] if spare is None and beyond < len(labels) else None
        number, done = (spare.number, spare.done) if spare else (None, False)
        calls.append(SpareCall(piece.number, number, label, done))
    sound = sum(piece.lot != "spoiled" for piece in counted) + len(labels)
    return Spares(tuple(calls), sound, wanted)


def _enough(views: Sequence[BoardView], wanted: int) -> tuple[int, ...]:
    """The fewest boards that give so many, by id; none when all together do not."""
    found, total = [], 0
    for view in sorted(views, key=lambda v: (-v.count, v.kept.id)):
        if total >= wanted:
            break
        found.append(view.kept.id)
        total += view.count
    return tuple(found) if total >= wanted else ()
