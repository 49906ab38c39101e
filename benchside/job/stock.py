"""Boards and logs: keeping them, what they give, and the stock of a set."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

from benchside.errors import BenchsideError, NotFound, OutOfRange, Refused
from benchside.job import sets as set_verbs
from benchside.job import wood_of
from benchside.job.board_table import KERF_MM, BoardTold, as_told, of_core, read
from benchside.lathe import now
from benchside.pattern import Pattern, places
from benchside.stock import blank as proposing
from benchside.stock import grain, mixed
from benchside.stock import log as logs
from benchside.stock.blank import Proposal
from benchside.stock.board import Blank, Layout, Pin, lay_out
from benchside.stock.grain import Left
from benchside.stock.log import Log, SplitPlan
from benchside.stock.mixed import Need
from benchside.store import patterns
from benchside.store import sets as kept_sets
from benchside.store import stock as store
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet
from benchside.store.stock import KeptBlank, KeptBoard, KeptLog, KeptNeed, SetStock
from benchside.wood.shrinkage import SizeNow

RESOLUTION_MM = 0.5
QUICK_S = 1.5  # judgement: while a finger waits for the drawing


@dataclass(frozen=True, slots=True)
class Wanted:
    """One size that is wanted and its name; the first is the set's own spindles."""

    name: str
    need: Need


@dataclass(frozen=True, slots=True)
class SetBlank:
    """The blank of a set: what is proposed, what was decided, and how many are wanted.

    ``grown`` is the largest size to turn now and its reasons, None while the wood is not said.
    """

    kept: SpindleSet
    choices: SetStock
    proposal: Proposal
    grown: SizeNow | None
    blank: Blank
    pieces: int
    wanted: int
    others: tuple[KeptNeed, ...]

    @property
    def all_wanted(self) -> tuple[Wanted, ...]:
        own = Wanted("", Need(self.blank, self.wanted, 1))
        return (
            own,
            *(
                Wanted(n.name, Need(Blank(n.length_mm, n.side_mm), n.wanted, n.priority))
                for n in self.others
            ),
        )


@dataclass(frozen=True, slots=True)
class BoardView:
    """A board and what it gives: a layout, or the problem that stands in its way.

    ``straight_left`` is the strength left if the blanks were laid along the edge instead of along
    its sloping grain. ``sawn`` are the sets whose pieces are numbered from it.
    """

    kept: KeptBoard
    wanted: tuple[Wanted, ...]
    layout: Layout | None
    plain: int
    problem: BenchsideError | None
    straight_left: Left | None
    sawn: tuple[int, ...] = ()

    @property
    def count(self) -> int:
        return self.layout.count if self.layout else 0


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


@dataclass(frozen=True, slots=True)
class SpareCall:
    """A spoiled piece and the spare that takes its place: a number, or a blank not numbered."""

    spoiled: int
    piece: int | None
    label: int | None


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


# ------------------------------------------------------------------ the blank of a set


def set_blank(shop: Shop, set_id: int) -> SetBlank:
    """The blank a set needs. Raises `NotFound`."""
    kept = kept_sets.found(shop, set_id)
    choices = store.set_stock(shop, set_id)
    pattern = patterns.found(shop, kept.pattern_id, kept.revision).pattern
    grown = _grown(shop, kept)
    proposal = proposing.propose(
        pattern.length_mm,
        grown.turn_mm if grown else _thickest_mm(pattern),
        choices.route,
        left_mm=grown.allowance_mm if grown else 0.0,
    )
    blank = Blank(
        choices.length_mm or proposal.blank.length_mm, choices.side_mm or proposal.blank.side_mm
    )
    return SetBlank(
        kept=kept,
        choices=choices,
        proposal=proposal,
        grown=grown,
        blank=blank,
        pieces=kept.choices.wanted,
        wanted=proposing.wanted(kept.choices.wanted, kept.choices.spares, choices.more_percent),
        others=tuple(store.needs(shop, set_id)),
    )


def _grown(shop: Shop, kept: SpindleSet) -> SizeNow | None:
    """The largest size to turn now, with its reasons; None while nobody said the set's wood."""
    said = wood_of.said(shop, kept.id)
    if said is None:
        return None
    pattern = patterns.found(shop, kept.pattern_id, kept.revision).pattern
    return max(now.sizes(pattern, said.turning).values(), key=lambda size: size.turn_mm)


def _thickest_mm(pattern: Pattern) -> float:
    return max(place.diameter_mm for place in places(pattern))


def keep_set_blank(shop: Shop, set_id: int, choices: SetStock, others: Sequence[KeptNeed]) -> None:
    """Keep what was decided of a set's blank. Raises `OutOfRange`."""
    kept = kept_sets.found(shop, set_id)
    if choices.route not in proposing.ROUTES:
        raise OutOfRange("Choose one of the routes.", field="route")
    proposing.wanted(kept.choices.wanted, kept.choices.spares, choices.more_percent)
    for field, least, most in (("length_mm", 20.0, 5000.0), ("side_mm", 5.0, 500.0)):
        value = getattr(choices, field)
        if value is not None and not least <= value <= most:
            raise OutOfRange(f"A blank of {value:g} mm cannot be.", field=field)
    if choices.length_mm is not None and choices.length_mm < _length_mm(shop, kept):
        raise OutOfRange(
            f"The piece alone is {_length_mm(shop, kept):.0f} mm long.",
            field="length_mm",
            hint="The blank needs waste at both centres besides.",
        )
    if len(others) > mixed.MOST_NEEDS - 1:
        raise OutOfRange(f"Up to {mixed.MOST_NEEDS - 1} other sizes.", field="needs")
    with shop.transaction() as db:
        store.keep_set_stock(db, set_id, choices)
        store.keep_needs(db, set_id, others)


# ------------------------------------------------------------------ boards


def new_board(shop: Shop, set_id: int | None) -> BoardTold:
    """A board to fill in, with the last board's saw cut and unit."""
    last = next(iter(store.boards(shop)), None)
    number = len(store.boards(shop)) + len(store.boards(shop, archived=True)) + 1
    told = BoardTold(name=f"Board {number}", kerf="" if last else "3.2 mm")
    if last is not None:
        told = replace(told, unit=last.unit, kerf=as_told(last).kerf)
    return replace(told, set_id="" if set_id is None else str(set_id))


def drafted(shop: Shop, board_id: int | None, told: BoardTold) -> BoardView:
    """What a board gives as it is typed, nothing kept. Raises `PatternBroken`."""
    kept = read(told, store.board(shop, board_id) if board_id else _bare_board("0" * 32, ""))
    return view_board(shop, kept)


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
                raise _sawn()
        return store.keep_board(db, kept)


def put_away(shop: Shop, kind: str, row_id: int, at: str | None) -> None:
    """Put a board or log away as used up, or with None take it out again."""
    with shop.transaction() as db:
        if kind == "board":
            store.board(shop, row_id)
            store.archive(db, "board", row_id, at)
        else:
            store.log(shop, row_id)
            store.archive(db, "log", row_id, at)


def view_board(shop: Shop, kept: KeptBoard) -> BoardView:
    """A board and what it gives of what its set wants, or of the size typed with it."""
    wanted = _wanted(shop, kept.set_id, kept.blank_length_mm, kept.blank_side_mm)
    return _view(
        kept, wanted, tuple(store.sets_sawn_from(shop, "board", kept.id)) if kept.id else ()
    )


def board(shop: Shop, board_id: int) -> BoardView:
    """One board and what it gives. Raises `NotFound`."""
    return view_board(shop, store.board(shop, board_id))


def _view(kept: KeptBoard, wanted: tuple[Wanted, ...], sawn: tuple[int, ...]) -> BoardView:
    core = of_core(kept)
    layout, plain, problem = None, 0, None
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
    except BenchsideError as caught:
        problem = caught
    left = grain.strength_left(kept.grain_slope) if kept.grain_slope else None
    return BoardView(kept, wanted, layout, plain, problem, left, sawn)


def _wanted(
    shop: Shop, set_id: int | None, length_mm: float | None, side_mm: float | None
) -> tuple[Wanted, ...]:
    if set_id is not None:
        return set_blank(shop, set_id).all_wanted
    if length_mm and side_mm:
        return (Wanted("", Need(Blank(length_mm, side_mm), 10_000, 1)),)
    return ()


def _bare_board(key: str, at: str) -> KeptBoard:
    return KeptBoard(
        *(0, key, None, "Board", "", "mm", 1.0, 1.0, 1.0, KERF_MM, 0.0, 0.0, 0.0, 0.0, 0.0),
        *(True, None, None, at, None),
    )


# ------------------------------------------------------------------ logs


def bare_log(key: str, at: str) -> KeptLog:
    """A log to fill in."""
    return KeptLog(
        *(0, key, None, "Log", "", "mm", 1.0, 10.0, 10.0, 0.0, 0.0, True),
        *(logs.PITH_MM, logs.END_MM, logs.KERF_MM, logs.SPLIT_OVER_MM, "sectors"),
        *(None, None, at, None),
    )


def keep_log(shop: Shop, kept: KeptLog) -> int:
    """Keep a log; the same key twice is one log. Raises `OutOfRange`, `Refused`."""
    if not kept.name.strip():
        raise BenchsideError("It needs a name.", field="name")
    logs.check(of_log(kept), Blank(1.0, 1.0), kept.over_mm, kept.way)
    with shop.transaction() as db:
        twin = next((log for log in store.logs(shop) if log.key == kept.key), None)
        if kept.id == 0 and twin is not None:
            kept = replace(kept, id=twin.id, made_at=twin.made_at)
        if kept.id and store.sets_sawn_from(shop, "log", kept.id):
            before = store.log(shop, kept.id)
            if replace(kept, name=before.name, note=before.note) != before:
                raise _sawn()
        return store.keep_log(db, kept)


def view_log(shop: Shop, kept: KeptLog) -> LogView:
    """A log and what it gives, in both ways of splitting."""
    wanted = _wanted(shop, kept.set_id, kept.blank_length_mm, kept.blank_side_mm)
    blank = wanted[0].need.blank if wanted else None
    plans: tuple[SplitPlan, ...] = ()
    problem = None
    if blank is not None:
        over = 0.0 if kept.set_id is not None and _split_route(shop, kept.set_id) else kept.over_mm
        try:
            plans = tuple(logs.split(of_log(kept), blank, w, over_mm=over) for w in logs.WAYS)
        except BenchsideError as caught:
            problem = caught
    sawn = tuple(store.sets_sawn_from(shop, "log", kept.id)) if kept.id else ()
    return LogView(kept, blank, plans, problem, sawn)


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
    return store.set_stock(shop, set_id).route in ("split", "split_rough")


# ------------------------------------------------------------------ the stock of a set


def of_set(shop: Shop, set_id: int) -> SetView:
    """The stock of a set: its blank, its boards and logs, and the plan over all of them."""
    blank = set_blank(shop, set_id)
    wanted = blank.all_wanted
    kept = store.boards(shop, set_id=set_id)
    views = tuple(_view(b, wanted[:1], ()) for b in kept)
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
    calls, sound = _calls(shop, set_id, blanks)
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
        calls=calls,
        sound=sound,
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


def keep_ring(shop: Shop, set_id: int, number: int, ring_deg: float | None) -> None:
    """Keep the ring angle of a piece's blank. Raises `NotFound`, `OutOfRange`."""
    if ring_deg is not None and not 0 <= ring_deg <= 180:
        raise OutOfRange("A ring angle is 0 to 180 degrees.", field="ring")
    blanks = store.blanks(shop, set_id)
    if number not in {blank.spindle for blank in blanks}:
        raise NotFound(f"No blank is known for piece {number}.")
    with shop.transaction() as db:
        store.keep_blanks(
            db,
            set_id,
            [replace(b, ring_deg=ring_deg) if b.spindle == number else b for b in blanks],
        )


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a piece came from: its blank, and the name of the board or log."""

    blank: KeptBlank
    name: str


def origin(shop: Shop, set_id: int, number: int) -> Origin | None:
    """Where a piece came from, if that is known."""
    blank = store.blank_of(shop, set_id, number)
    return None if blank is None else Origin(blank, _name_of(shop, blank))


@dataclass(frozen=True, slots=True)
class Rings:
    """How the rings of a piece lie, by its blank: from the dot on its datum end counter-clockwise
    to the rays. [degrees]"""

    deg: float
    blank: int
    of: str


def rings(shop: Shop, set_id: int) -> dict[int, Rings]:
    """How the rings of each piece lie, where its blank tells: by its place in a log, or as said."""
    known = [b for b in store.blanks(shop, set_id) if b.ring_deg is not None]
    names = names_of(shop, known)
    return {
        b.spindle: Rings(b.ring_deg, b.label, names[b.label])
        for b in known
        if b.spindle is not None and b.ring_deg is not None
    }


def blank_names(shop: Shop, set_id: int) -> dict[int, str]:
    """What each piece's blank is called, where it is known: its label and its board or log."""
    numbered = [b for b in store.blanks(shop, set_id) if b.spindle is not None]
    names = names_of(shop, numbered)
    return {
        b.spindle: ", ".join(filter(None, (str(b.label), names[b.label])))
        for b in numbered
        if b.spindle is not None
    }


def names_of(shop: Shop, blanks: Sequence[KeptBlank]) -> dict[int, str]:
    """The names of the boards and logs that blanks are from, by label."""
    return {blank.label: _name_of(shop, blank) for blank in blanks}


def _name_of(shop: Shop, blank: KeptBlank) -> str:
    if blank.board_id is not None:
        return store.board(shop, blank.board_id).name
    return "" if blank.log_id is None else store.log(shop, blank.log_id).name


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


def _calls(
    shop: Shop, set_id: int, blanks: Sequence[KeptBlank]
) -> tuple[tuple[SpareCall, ...], int]:
    """For each spoiled piece the spare that takes its place; how many pieces stay covered."""
    standing = set_verbs.standing(shop, set_id)
    counted = [piece for piece in standing.pieces if not piece.practice]
    wanted = standing.kept.choices.wanted
    spoiled = [piece for piece in counted[:wanted] if piece.lot == "spoiled"]
    spares = [piece.number for piece in counted[wanted:] if piece.lot != "spoiled"]
    labels = [blank.label for blank in blanks if blank.spindle is None]
    calls = []
    for i, piece in enumerate(spoiled):
        number = spares[i] if i < len(spares) else None
        beyond = i - len(spares)
        label = labels[beyond] if number is None and beyond < len(labels) else None
        calls.append(SpareCall(piece.number, number, label))
    sound = sum(piece.lot != "spoiled" for piece in counted) + len(labels)
    return tuple(calls), sound


def _enough(views: Sequence[BoardView], wanted: int) -> tuple[int, ...]:
    """The fewest boards that give so many, by id; none when all together do not."""
    found, total = [], 0
    for view in sorted(views, key=lambda v: (-v.count, v.kept.id)):
        if total >= wanted:
            break
        found.append(view.kept.id)
        total += view.count
    return tuple(found) if total >= wanted else ()


def _length_mm(shop: Shop, kept: SpindleSet) -> float:
    return ceil(patterns.found(shop, kept.pattern_id, kept.revision).pattern.length_mm)


def _sawn() -> Refused:
    return Refused(
        "Pieces of a set are numbered from it, so it stays as it was sawn.",
        field="name",
        hint="Let the numbers go on the set's page of stock to plan it anew.",
    )


@dataclass(frozen=True, slots=True)
class Rack:
    """Everything there is, newest first."""

    boards: tuple[BoardView, ...]
    logs: tuple[LogView, ...]


def rack(shop: Shop, *, archived: bool = False) -> Rack:
    """Every board and log and what each gives; or those that are used up."""
    return Rack(
        tuple(_view_alone(shop, kept) for kept in store.boards(shop, archived=archived)),
        tuple(view_log(shop, kept) for kept in store.logs(shop, archived=archived)),
    )


def free_stock(shop: Shop) -> tuple[tuple[KeptBoard, ...], tuple[KeptLog, ...]]:
    """The boards and logs that are put to no set."""
    return (
        tuple(kept for kept in store.boards(shop) if kept.set_id is None),
        tuple(kept for kept in store.logs(shop) if kept.set_id is None),
    )


def unchanged_as_proposed(before: SetBlank, choices: SetStock) -> SetStock:
    """What was typed as it stood before and came from a proposal stays a proposal."""
    same_route = before.choices.route == choices.route
    length, side = choices.length_mm, choices.side_mm
    if before.choices.length_mm is None and _shown_as(length, before.blank.length_mm):
        length = None
    if before.choices.side_mm is None and _shown_as(side, before.blank.side_mm):
        side = None
    if not same_route:
        length = None if _shown_as(length, before.blank.length_mm) else length
        side = None if _shown_as(side, before.blank.side_mm) else side
    return replace(choices, length_mm=length, side_mm=side)


def _shown_as(mm: float | None, shown_mm: float) -> bool:
    """Whether a figure is the one that was shown, to the 64th of an inch it may be shown in."""
    return mm is None or abs(mm - shown_mm) < 0.21


def _view_alone(shop: Shop, kept: KeptBoard) -> BoardView:
    wanted = _wanted(shop, kept.set_id, kept.blank_length_mm, kept.blank_side_mm)
    return _view(kept, wanted[:1], tuple(store.sets_sawn_from(shop, "board", kept.id)))
