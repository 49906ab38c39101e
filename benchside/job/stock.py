"""The stock of a set: what its boards and logs give together, which blank becomes which piece."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from benchside.errors import BenchsideError, Refused
from benchside.job import sawn
from benchside.job import sets as set_verbs
from benchside.job.boards import QUICK_S, BoardView, view_board
from benchside.job.logs import LogView, view_log
from benchside.job.sawn import Sawn
from benchside.job.set_blank import SetBlank, set_blank
from benchside.job.set_plan import planned
from benchside.stock import mixed
from benchside.store import sets as kept_sets
from benchside.store import stock as store
from benchside.store.database import Shop
from benchside.store.stock import KeptBlank, KeptBoard, KeptLog

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
    the least boards, in order of giving, that cover the set. Once blanks are numbered, ``rows``
    are all that were sawn and ``sawn`` what the set's own were sawn to, ``calls`` says what takes
    the place of each spoiled piece, and ``sound`` how many of the wanted pieces the stock still
    covers.
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
    rows: tuple[KeptBlank, ...]
    sawn: tuple[Sawn, ...]
    calls: tuple[SpareCall, ...]
    sound: int

    @property
    def blanks(self) -> tuple[KeptBlank, ...]:
        """The set's own blanks, once they are numbered."""
        return sawn.own(self.rows)

    @property
    def billets(self) -> int:
        return sum(view.billets for view in self.logs)

    @property
    def covered(self) -> bool:
        return self.sound >= self.blank.pieces

    @property
    def wanting(self) -> bool:
        """Whether blanks of it cannot hold what is still to be turned."""
        return any(each.room and each.room.wanting for each in self.sawn)

    @property
    def firsts(self) -> dict[Source, int]:
        """The number of the first blank of each board and log: as it was numbered, else as it
        will be."""
        found: dict[Source, int] = {}
        for row in self.rows:
            source = _source(row)
            found.setdefault(source, row.label - self._before.get(source, 0))
        counts = self._counts
        ends = [first + counts.get(source, 0) for source, first in found.items()]
        free = max((*ends, *(row.label + 1 for row in self.rows)), default=1)
        for source, count in counts.items():
            if source not in found:
                found[source], free = free, free + count
        return found

    @property
    def next_label(self) -> int:
        """The number after the last blank of all that is put to the set."""
        ends = [first + self._counts.get(source, 0) for source, first in self.firsts.items()]
        return max((*ends, *(row.label + 1 for row in self.rows)), default=1)

    @property
    def unsawn(self) -> tuple[str, ...]:
        """The names of what was put to the set since its pieces were numbered, and gives blanks."""
        if not self.rows:
            return ()
        done = {_source(row) for row in self.rows}
        names: dict[Source, str] = {("board", v.kept.id): v.kept.name for v in self.boards}
        names |= {("log", v.kept.id): v.kept.name for v in self.logs}
        return tuple(names[s] for s, count in self._counts.items() if count and s not in done)

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
        """How many blanks of other sizes, never kept, come before the first of the set's own."""
        whole = {_source(row) for row in self.rows if row.route}
        return {
            ("board", view.kept.id): next(
                (i for i, p in enumerate(view.layout.blanks if view.layout else ()) if not p.need),
                0,
            )
            for view in self.boards
            if ("board", view.kept.id) not in whole
        }

    @property
    def unnumbered(self) -> tuple[KeptBlank, ...]:
        return tuple(blank for blank in self.blanks if blank.spindle is None)


def of_set(
    shop: Shop, set_id: int, *, draft: KeptBoard | None = None, time_s: float = mixed.TIME_S
) -> SetView:
    """The stock of a set: its blank, its boards and logs, and the plan over all of them.

    What was sawn stays as it was; the rest is planned for what is still wanted. ``draft`` is a
    board that stands in for the one kept of the same id, or is one more. Raises `NotFound`.
    """
    blank = set_blank(shop, set_id)
    rows = tuple(store.blanks(shop, set_id))
    called = spares(shop, set_id)
    kept = _boards(shop, set_id, rows, draft)
    wanted = blank.all_wanted
    there = sawn.all_there(rows, wanted)
    if not there:
        wanted = sawn.sizes(rows, wanted)
    whole = rows if there else ()
    older = bool(rows) and not there  # of which only the set's own blanks were kept
    found = planned(shop, kept, wanted, whole, called.sound, time_s, to_edge=not older)
    return SetView(
        blank=blank,
        boards=found.views,
        logs=tuple(view_log(shop, log) for log in _logs(shop, set_id, rows)),
        got=found.got,
        plain=found.plain,
        within=found.within,
        on_grid=found.on_grid,
        enough=_enough(found.views, blank.wanted) if len(wanted) == 1 else (),
        problem=found.problem,
        rows=rows,
        sawn=sawn.told(rows, blank, set_verbs.standing(shop, set_id).pieces),
        calls=called.calls,
        sound=called.sound,
    )


def _boards(
    shop: Shop, set_id: int, rows: Collection[KeptBlank], draft: KeptBoard | None
) -> list[KeptBoard]:
    """The boards put to a set and those it is sawn from, oldest first."""
    found = {b.id: b for b in store.boards(shop, set_id=set_id)}
    found |= {i: store.board(shop, i) for i in {row.board_id for row in rows} if i}
    if draft is not None and draft.id:
        found[draft.id] = draft
    boards = [found[i] for i in sorted(found)]
    return [*boards, draft] if draft is not None and not draft.id else boards


def _logs(shop: Shop, set_id: int, rows: Collection[KeptBlank]) -> list[KeptLog]:
    """The logs put to a set and those it is split from, oldest first."""
    found = {log.id: log for log in store.logs(shop, set_id=set_id)}
    found |= {i: store.log(shop, i) for i in {row.log_id for row in rows} if i}
    return [found[i] for i in sorted(found)]


def on_board(shop: Shop, kept: KeptBoard, *, time_s: float = mixed.TIME_S) -> tuple[BoardView, int]:
    """A board as every page of its set shows it, and the number of its first blank; one not kept
    yet as its set would plan it. Raises `NotFound`."""
    if kept.set_id is None:
        return view_board(shop, kept), 1
    used_up = bool(kept.archived_at) and not store.sawn_from(shop, "board", kept.id)
    view = of_set(shop, kept.set_id, draft=None if used_up else kept, time_s=time_s)
    first = view.firsts.get(("board", kept.id), view.next_label)
    mine = next((v for v in view.boards if v.kept.id == kept.id), None)
    if mine is None or mine.plan == "first":
        mine = replace(view_board(shop, kept), plan="alone")
    return mine, first


def drafted(shop: Shop, kept: KeptBoard) -> BoardView:
    """A board as it is being typed, as its set would plan it, in the time a finger waits."""
    done = kept.id and store.sawn_from(shop, "board", kept.id)
    if kept.set_id is None or done or len(set_blank(shop, kept.set_id).all_wanted) < 2:
        return view_board(shop, kept)
    same = bool(kept.id) and kept == store.board(shop, kept.id)
    return on_board(shop, kept, time_s=mixed.TIME_S if same else QUICK_S)[0]


def first_of_log(shop: Shop, set_id: int | None, log_id: int) -> int:
    """The number of the first billet of a log, as all pages of its set tell it; of one not kept
    yet, the number it will be. 1 without a set. Raises `NotFound`."""
    if set_id is None:
        return 1
    view = of_set(shop, set_id)
    return view.firsts.get(("log", log_id), view.next_label)


def number_pieces(shop: Shop, set_id: int, *, at: str) -> int:
    """Take the blanks of the plan as sawn: numbered in order as the set's pieces.

    Those beyond the pieces stay as spare blanks. Returns how many there are. Raises `Refused`
    when there are blanks already, or none.
    """
    view = of_set(shop, set_id)
    if view.rows:
        raise Refused("The blanks of this set are numbered already.", field="number")
    found = _of_view(view, at)
    if not sawn.own(found):
        raise Refused(
            "There is no blank to number yet.",
            field="number",
            hint="Put a board or a log to the set.",
        )
    with shop.transaction() as db:
        store.keep_blanks(db, set_id, _numbered(shop, set_id, found))
    return len(sawn.own(found))


def add_blanks(shop: Shop, set_id: int, *, at: str) -> int:
    """Take what was put to the set since as sawn too: its blanks go to the pieces that have none,
    the rest are spares. Returns how many there are. Raises `Refused` when there are none."""
    view = of_set(shop, set_id)
    done = {_source(row) for row in view.rows}
    found = [blank for blank in _of_view(view, at) if _source(blank) not in done]
    if not (done and found):
        raise Refused("There is no blank to add.", field="spare", hint="Put a board to the set.")
    with shop.transaction() as db:
        store.keep_blanks(db, set_id, [*view.rows, *_numbered(shop, set_id, found, view.rows)])
    return len(sawn.own(found))


def let_go(shop: Shop, set_id: int) -> None:
    """Forget which blank each piece is from, so that the boards can be planned anew."""
    kept_sets.found(shop, set_id)
    with shop.transaction() as db:
        store.keep_blanks(db, set_id, ())


def take_spare(shop: Shop, set_id: int) -> int:
    """Number one more piece from the first spare blank; returns its number. Raises `Refused`."""
    blanks = store.blanks(shop, set_id)
    spare = next((blank for blank in sawn.own(blanks) if blank.spindle is None), None)
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
    free = iter(numbers)
    return [blank if blank.need else replace(blank, spindle=next(free, None)) for blank in found]


def _of_view(view: SetView, at: str) -> list[KeptBlank]:
    """Every blank, of every size, labelled as it is numbered in the plan."""
    firsts, route = view.firsts, view.blank.route
    found = [
        *(b for board in view.boards for b in _of_board(board, firsts["board", board.kept.id], at)),
        *(b for log in view.logs for b in _of_log(log, firsts["log", log.kept.id], at)),
    ]
    return [replace(blank, route=route) for blank in sorted(found, key=lambda b: b.label)]


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
            need=placed.need,
        )
        for label, placed in enumerate(view.layout.blanks if view.layout else (), first)
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
    labels = [blank.label for blank in sawn.own(blanks) if blank.spindle is None]
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
