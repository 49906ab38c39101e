"""The stock of a set: what its boards and logs give together, which blank becomes which piece."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from benchside.errors import BenchsideError, Refused
from benchside.job import sets as set_verbs
from benchside.job.board_table import of_core
from benchside.job.boards import RESOLUTION_MM, BoardView, placed, view_first
from benchside.job.logs import LogView, view_log
from benchside.job.set_blank import SetBlank, set_blank
from benchside.stock import mixed
from benchside.stock.board import Pin, PinTrouble
from benchside.store import sets as kept_sets
from benchside.store import stock as store
from benchside.store.database import Shop
from benchside.store.stock import KeptBlank

Source = tuple[str, int]  # "board" or "log", and its id


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
        return sum(view.billets for view in self.logs)

    @property
    def covered(self) -> bool:
        return self.sound >= self.blank.pieces

    @property
    def firsts(self) -> dict[Source, int]:
        """The number of the first blank of each board and log: as it was numbered, else as it
        will be."""
        found: dict[Source, int] = {}
        for blank in self.blanks:
            source = _source(blank)
            found.setdefault(source, blank.label - self._before.get(source, 0))
        counts = self._counts
        ends = [first + counts.get(source, 0) for source, first in found.items()]
        free = max((*ends, *(blank.label + 1 for blank in self.blanks)), default=1)
        for source, count in counts.items():
            if source not in found:
                found[source], free = free, free + count
        return found

    @property
    def next_label(self) -> int:
        """The number after the last blank of all that is put to the set."""
        ends = [first + self._counts.get(source, 0) for source, first in self.firsts.items()]
        return max((*ends, *(blank.label + 1 for blank in self.blanks)), default=1)

    @property
    def unsawn(self) -> tuple[str, ...]:
        """The names of what was put to the set since its pieces were numbered, and gives blanks."""
        if not self.blanks:
            return ()
        sawn = {_source(blank) for blank in self.blanks}
        names: dict[Source, str] = {("board", v.kept.id): v.kept.name for v in self.boards}
        names |= {("log", v.kept.id): v.kept.name for v in self.logs}
        return tuple(names[s] for s, count in self._counts.items() if count and s not in sawn)

    @property
    def _counts(self) -> dict[Source, int]:
        """How many blanks each board and log gives, in the order they are numbered: as they were
        described, but a set that is split has its logs first."""
        split = self.blank.route in ("split", "split_rough")
        found = [
            *((split, v.kept.made_at, "board", v.kept.id, v.count) for v in self.boards),
            *((False, v.kept.made_at, "log", v.kept.id, v.billets) for v in self.logs),
        ]
        return {(kind, number): count for _, _, kind, number, count in sorted(found)}

    @property
    def _before(self) -> dict[Source, int]:
        """How many blanks of other sizes come before the first of the set's own on each board."""
        return {
            ("board", view.kept.id): next(
                (i for i, p in enumerate(view.layout.blanks if view.layout else ()) if not p.need),
                0,
            )
            for view in self.boards
        }

    @property
    def unnumbered(self) -> tuple[KeptBlank, ...]:
        return tuple(blank for blank in self.blanks if blank.spindle is None)


def of_set(shop: Shop, set_id: int) -> SetView:
    """The stock of a set: its blank, its boards and logs, and the plan over all of them."""
    blank = set_blank(shop, set_id)
    wanted = blank.all_wanted
    kept = store.boards(shop, set_id=set_id)
    views = tuple(view_first(b, wanted, ()) for b in kept)
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
            if isinstance(caught, PinTrouble):
                problem = placed(caught, kept[caught.board])
        else:
            got, plain, within, on_grid = plan.got, plan.plain, plan.within, plan.on_grid
            views = tuple(
                replace(view, kept=board, wanted=wanted, layout=layout, problem=None)
                for view, board, layout in zip(views, kept, plan.layouts, strict=True)
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


def first_of(shop: Shop, set_id: int | None, kind: Literal["board", "log"], stock_id: int) -> int:
    """The number of the first blank of a board or log, as all pages of its set tell it; of one not
    kept yet, the number it will be. 1 without a set. Raises `NotFound`."""
    if set_id is None:
        return 1
    view = of_set(shop, set_id)
    return view.firsts.get((kind, stock_id), view.next_label)


def number_pieces(shop: Shop, set_id: int, *, at: str) -> int:
    """Take the blanks of the plan as sawn: numbered in order as the set's pieces.

    Those beyond the pieces stay as spare blanks. Returns how many there are. Raises `Refused`
    when there are blanks already, or none.
    """
    view = of_set(shop, set_id)
    if view.blanks:
        raise Refused("The blanks of this set are numbered already.", field="number")
    found = _of_view(view, at)
    if not found:
        raise Refused(
            "There is no blank to number yet.",
            field="number",
            hint="Put a board or a log to the set.",
        )
    with shop.transaction() as db:
        store.keep_blanks(db, set_id, _numbered(shop, set_id, found))
    return len(found)


def add_blanks(shop: Shop, set_id: int, *, at: str) -> int:
    """Take what was put to the set since as sawn too: its blanks go to the pieces that have none,
    the rest are spares. Returns how many there are. Raises `Refused` when there are none."""
    view = of_set(shop, set_id)
    sawn = {_source(blank) for blank in view.blanks}
    found = [blank for blank in _of_view(view, at) if _source(blank) not in sawn]
    if not (sawn and found):
        raise Refused("There is no blank to add.", field="spare", hint="Put a board to the set.")
    with shop.transaction() as db:
        store.keep_blanks(db, set_id, [*view.blanks, *_numbered(shop, set_id, found, view.blanks)])
    return len(found)


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


def _numbered(
    shop: Shop, set_id: int, found: Sequence[KeptBlank], before: Sequence[KeptBlank] = ()
) -> list[KeptBlank]:
    """These blanks in order as the pieces that have none yet; those beyond stay spare."""
    have = {blank.spindle for blank in before}
    standing = set_verbs.standing(shop, set_id)
    numbers = [
        piece.number
        for piece in standing.pieces
        if not piece.practice and piece.number not in have and (not before or piece.to_turn)
    ]
    return [
        replace(blank, spindle=number)
        for blank, number in zip(found, [*numbers, *[None] * len(found)], strict=False)
    ]


def _of_view(view: SetView, at: str) -> list[KeptBlank]:
    """Every blank of the set's own size, labelled as it is numbered in the plan."""
    firsts = view.firsts
    found = [
        *(b for board in view.boards for b in _of_board(board, firsts["board", board.kept.id], at)),
        *(b for log in view.logs for b in _of_log(log, firsts["log", log.kept.id], at)),
    ]
    return sorted(found, key=lambda blank: blank.label)


def _source(blank: KeptBlank) -> Source:
    """The board or log that a blank is from."""
    return ("board", blank.board_id) if blank.board_id else ("log", blank.log_id or 0)


def _of_board(view: BoardView, first: int, at: str) -> list[KeptBlank]:
    return [
        KeptBlank(
            label=label,
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
        for label, placed in enumerate(view.layout.blanks if view.layout else (), first)
        if placed.need == 0
    ]


def _of_log(view: LogView, first: int, at: str) -> list[KeptBlank]:
    billets = [(bolt, b) for bolt in (view.plan.bolts if view.plan else ()) for b in bolt.billets]
    return [
        KeptBlank(
            label=label,
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
        for label, (bolt, billet) in enumerate(billets, first)
    ]


def spares(shop: Shop, set_id: int) -> Spares:
    """For each spoiled piece the spare that takes its place; how many pieces stay covered.

    Once blanks are numbered, a piece that has none and is not begun is no piece yet.
    """
    standing = set_verbs.standing(shop, set_id)
    counted = [piece for piece in standing.pieces if not piece.practice]
    wanted = standing.kept.choices.wanted
    spoiled = [piece for piece in counted[:wanted] if piece.lot == "spoiled"]
    blanks = store.blanks(shop, set_id)
    have = {blank.spindle for blank in blanks}
    there = [
        piece
        for piece in counted
        if piece.lot != "spoiled" and (not blanks or piece.number in have or piece.begun)
    ]
    over = [piece for piece in counted[wanted:] if piece in there]
    labels = [blank.label for blank in blanks if blank.spindle is None]
    calls = []
    for i, piece in enumerate(spoiled):
        spare = over[i] if i < len(over) else None
        beyond = i - len(over)
        label = labels[beyond] if spare is None and beyond < len(labels) else None
        number, done = (spare.number, spare.done) if spare else (None, False)
        calls.append(SpareCall(piece.number, number, label, done))
    return Spares(tuple(calls), len(there) + len(labels), wanted)


def _enough(views: Sequence[BoardView], wanted: int) -> tuple[int, ...]:
    """The fewest boards that give so many, by id; none when all together do not."""
    found, total = [], 0
    for view in sorted(views, key=lambda v: (-v.count, v.kept.id)):
        if total >= wanted:
            break
        found.append(view.kept.id)
        total += view.count
    return tuple(found) if total >= wanted else ()
