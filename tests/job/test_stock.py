"""Boards, logs and the stock of a set: typed, planned, sawn into numbered pieces, spoiled."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

import pytest

from benchside.errors import NotFound, OutOfRange, PatternBroken, Refused
from benchside.job import boards, exchange, logs, origin, rack, set_blank, sets, stock, wood
from benchside.job.board_table import BoardTold, KnotRow, PinRow, as_told, quarters_mm, slope
from benchside.lathe.parts import ROUGH_OVER_MM
from benchside.store import readings
from benchside.store import stock as store
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet
from benchside.store.stock import KeptNeed, SetStock
from tests import shopfloor

AT = "2026-02-01T08:00:00.000Z"
TOLD = BoardTold(
    name="White ash",
    length="2400",
    width="180",
    thickness="30",
    kerf="3,2",
    knots=(KnotRow("knot", "one", "500", "60", "40", "25"),),
)


def keep(shop: Shop, told: BoardTold = TOLD, key: str = "a" * 32) -> int:
    return boards.keep_board(shop, None, told, key=key, at=AT)


def seen(shop: Shop, board_id: int) -> boards.BoardView:
    """A board as its page shows it."""
    return stock.on_board(shop, store.board(shop, board_id))[0]


def wrong(shop: Shop, **changes: Any) -> list[tuple[int, str]]:
    with pytest.raises(PatternBroken) as caught:
        keep(shop, replace(TOLD, **changes))
    return [(problem.row, problem.field) for problem in caught.value.problems]


# ------------------------------------------------------------------ what is typed


def test_a_board_is_kept_as_typed_and_shown_as_typed(shop):
    told = replace(TOLD, slope="1 in 20", slope_to="near", pins=(PinRow("70.5", "100"),))
    view = seen(shop, keep(shop, told))
    again = as_told(view.kept)
    assert again == replace(
        told,
        kerf="3.2",
        trim_left="0",
        trim_right="0",
        near="0",
        far="0",
    )


def test_the_same_form_sent_twice_is_one_board(shop):
    assert keep(shop) == keep(shop)
    assert len(store.boards(shop)) == 1


def test_inches_come_back_as_inches(shop):
    knot = KnotRow("knot", "two", "20 1/2", "1", "1 1/4", "3/4", "1/8")
    told = replace(
        TOLD, unit="in/64", length="96", width="7 1/8", thickness="1 1/4", kerf="1/8", knots=(knot,)
    )
    view = seen(shop, keep(shop, told))
    assert view.kept.width_mm == pytest.approx(7.125 * 25.4)
    assert as_told(view.kept).knots == (knot,)


def test_a_table_is_read_with_or_without_its_heading(shop):
    text = "across;at;width;length;face;kind\n60;500;25;40;1;\n110;980;4;140,5;both;check\n"
    view = seen(shop, keep(shop, replace(TOLD, knots=(), pasted=text)))
    assert [(k.at_mm, k.across_mm, k.length_mm, k.face, k.kind) for k in view.kept.knots] == [
        (500.0, 60.0, 40.0, "one", "knot"),
        (980.0, 110.0, 140.5, "both", "check"),
    ]
    plain = replace(TOLD, pasted="980, 110, 140, 4, both, 2.5, check")
    assert len(seen(shop, keep(shop, plain, "b" * 32)).kept.knots) == 2


@pytest.mark.parametrize("unit", ["in/64", "in", "mm"])
def test_a_board_is_told_as_the_yard_sells_it(shop, unit):
    told = replace(TOLD, unit=unit, length="7 ft", width="7 1/4 in", thickness="6/4", kerf="1/8 in")
    view = seen(shop, keep(shop, replace(told, knots=())))
    assert (view.kept.length_mm, view.kept.thickness_mm) == (2133.6, pytest.approx(38.1))


@pytest.mark.parametrize("typed", ["11/4", "3/4 in", "13/4", "6/8", "1 6/4", "6/4 mm"])
def test_only_what_a_yard_calls_so_is_quarters_of_an_inch(typed):
    assert quarters_mm(typed) is None


@pytest.mark.parametrize(
    ("changes", "where"),
    [
        ({"name": " "}, [(0, "name")]),
        ({"length": ""}, [(0, "length")]),
        ({"width": "wide", "thickness": "-3"}, [(0, "width"), (0, "thickness")]),
        ({"slope": "1 in 3"}, [(0, "slope")]),
        ({"slope": "a little"}, [(0, "slope")]),
        ({"pasted": "1, 2"}, [(0, "pasted")]),
        ({"pasted": "at, across, girth\n1, 2, 3, 4"}, [(0, "pasted"), (0, "pasted")]),
        ({"knots": (KnotRow(at="10", across="300"),)}, [(1, "across")]),
        ({"knots": (KnotRow(at="10"), KnotRow(at="x", across="3"))}, [(1, "across"), (2, "at")]),
        ({"near": "100", "far": "90"}, [(0, "near")]),
        ({"kerf": "0"}, [(0, "sure")]),
        ({"length": "96", "width": "8", "thickness": "1", "knots": ()}, [(0, "sure")]),
    ],
)
def test_everything_that_is_wrong_is_told_where_it_stands(shop, changes, where):
    assert wrong(shop, **changes) == where
    assert store.boards(shop) == []


def test_an_absurd_board_is_taken_when_the_maker_is_sure(shop):
    told = replace(TOLD, length="96", width="8", thickness="1", knots=(), sure="yes")
    assert seen(shop, keep(shop, told)).kept.length_mm == 96


def test_slope_of_grain_is_said_in_several_ways():
    assert slope("1 in 15", "far") == slope("15", "far") == slope("1:15", "far") == 1 / 15
    assert slope("4°", "near") == pytest.approx(-0.0699, abs=1e-4)
    assert slope("", "far") == slope("0", "near") == 0


# ------------------------------------------------------------------ what it gives


def test_the_blank_of_a_set_is_proposed_from_its_pattern(shop, kept):
    found = set_blank.set_blank(shop, kept.id)
    # 450 long, 22 through its swell and its bead: 450 + 9.5 + 6, up; 22 + 3.2, up.
    assert (found.blank.length_mm, found.blank.side_mm) == (466.0, 25.5)
    assert found.wanted == 12
    set_blank.keep_set_blank(shop, kept.id, SetStock("split", None, 26.0, 50.0), ())
    found = set_blank.set_blank(shop, kept.id)
    assert (found.blank.length_mm, found.blank.side_mm) == (542.0, 26.0)
    assert found.wanted == 14


@pytest.mark.parametrize(
    ("choices", "field"),
    [
        (SetStock("dry", 400.0), "length_mm"),
        (SetStock("dry", None, 1.0), "side_mm"),
        (SetStock("dry", None, None, -5.0), "more_percent"),
        (SetStock("steamed"), "route"),  # type: ignore[arg-type]  # no such route
    ],
)
def test_a_blank_that_cannot_be_is_refused(shop, kept, choices, field):
    with pytest.raises(OutOfRange) as caught:
        set_blank.keep_set_blank(shop, kept.id, choices, ())
    assert caught.value.field == field


def test_a_board_for_a_set_gives_the_sets_blanks(shop, kept):
    view = seen(shop, keep(shop, replace(TOLD, set_id=str(kept.id))))
    assert view.layout
    assert view.count >= view.plain > 0
    assert {(p.length_mm, p.side_mm) for p in view.layout.blanks} == {(466.0, 25.5)}


def test_a_knot_can_be_tried_without(shop, kept):
    told = replace(TOLD, set_id=str(kept.id))
    there = seen(shop, keep(shop, told)).count
    tried = replace(told, knots=(replace(told.knots[0], tried="yes"),))
    assert stock.drafted(shop, boards.drafted(shop, None, tried)).count > there


def test_a_thin_board_says_so_and_stays(shop, kept):
    view = seen(shop, keep(shop, replace(TOLD, thickness="20", set_id=str(kept.id))))
    assert view.layout is None
    assert view.problem
    assert view.problem.field == "thickness_mm"


def test_mixed_needs_are_planned_over_all_the_boards(shop, kept):
    told = replace(TOLD, set_id=str(kept.id), length="1500")
    for key in "ab":
        keep(shop, told, key * 32)
    legs = KeptNeed("Legs", 420.0, 29.0, 3, 2)
    set_blank.keep_set_blank(shop, kept.id, SetStock(), (legs,))
    view = stock.of_set(shop, kept.id)
    assert view.got == (12, 3)
    assert view.within == 0
    assert sum(p.need == 1 for b in view.boards if b.layout for p in b.layout.blanks) == 3


def test_the_fewest_boards_that_are_enough_are_named(shop, kept):
    small = replace(TOLD, set_id=str(kept.id), length="600")
    ids = [keep(shop, small, "a" * 32), keep(shop, replace(TOLD, set_id=str(kept.id)), "b" * 32)]
    assert stock.of_set(shop, kept.id).enough == (ids[1],)


def test_the_blank_follows_the_size_to_turn_now(shop, kept):
    dry = set_blank.set_blank(shop, kept.id)
    assert (dry.grown, dry.proposal.largest_mm, dry.blank.side_mm) == (None, 22.0, 25.5)
    green = wood.Given("white ash", "green", "green", "figure", lives_mc=8.0)
    wood.give(shop, kept.id, green, at=AT)
    found = set_blank.set_blank(shop, kept.id)
    # White ash shrinks 7.8 % along the rings, green to 0 % [@wood-handbook-2010, Table 4-3].
    now_mm = 22.0 / (1 - 0.078 * (30 - 8) / 30)
    assert found.proposal.largest_mm == found.grown.turn_mm == pytest.approx(now_mm)
    assert found.blank.side_mm == 27.0 >= now_mm + 3.2
    set_blank.keep_set_blank(shop, kept.id, SetStock("split_rough"), ())
    wood.give(shop, kept.id, replace(green, route="rough", rough_mm=3.0), at=AT)
    rough = set_blank.set_blank(shop, kept.id).proposal
    # What is left for turning it again is in the quarter inch that this route adds by habit.
    assert rough.largest_mm == pytest.approx(now_mm * 25 / 22)
    assert rough.over_mm == pytest.approx(6.4 - 3.0)
    wood.give(shop, kept.id, replace(green, route="rough", rough_mm=6.0), at=AT)
    assert set_blank.set_blank(shop, kept.id).proposal.over_mm == 3.2


def test_the_way_follows_the_wood_until_one_is_chosen(shop, kept):
    assert set_blank.route_of(shop, kept.id) == "dry"
    green = wood.Given("white ash", "green", "green", "figure", lives_mc=8.0)
    wood.give(shop, kept.id, green, at=AT)
    found = set_blank.set_blank(shop, kept.id)
    assert found.route == "sawn_green"
    assert found.blank.length_mm == 466 + 2 * 38  # its ends check while it dries
    assert found.proposal.over_mm == 3.2
    wood.give(shop, kept.id, replace(green, route="rough", rough_mm=3.0), at=AT)
    assert set_blank.route_of(shop, kept.id) == "sawn_rough"
    logs.keep_log(shop, log(kept))
    assert set_blank.route_of(shop, kept.id) == "split_rough"
    keep(shop, replace(TOLD, set_id=str(kept.id)))
    assert set_blank.route_of(shop, kept.id) == "sawn_rough"
    set_blank.keep_set_blank(shop, kept.id, SetStock("dry_close"), ())
    assert set_blank.route_of(shop, kept.id) == "dry_close"


# ------------------------------------------------------------------ sawn into pieces


def sawn(shop: Shop, kept: SpindleSet, **changes: Any) -> int:
    told = replace(TOLD, set_id=str(kept.id), **changes)
    board_id = keep(shop, told)
    stock.number_pieces(shop, kept.id, at=AT)
    return board_id


def test_blanks_become_the_pieces_in_the_order_of_the_plan(shop, kept):
    board_id = sawn(shop, kept)
    view = stock.of_set(shop, kept.id)
    layout = view.boards[0].layout
    assert layout
    assert [b.spindle for b in view.blanks[:10]] == list(range(1, 11))  # nine and a spare
    assert {b.spindle for b in view.blanks[10:]} == {None}
    for blank, placed in zip(view.blanks, layout.blanks, strict=True):
        assert (blank.at_mm, blank.across_mm) == (placed.at_mm, placed.across_mm)
        assert blank.board_id == board_id
    found = origin.origins(shop, kept.id)
    assert found[1].called == "1, White ash"
    assert 99 not in found
    with pytest.raises(Refused):
        stock.number_pieces(shop, kept.id, at=AT)


def test_a_board_that_was_sawn_stays_as_it_was_until_the_numbers_are_let_go(shop, kept):
    board_id = sawn(shop, kept)
    told = as_told(seen(shop, board_id).kept)
    with pytest.raises(Refused):
        boards.keep_board(shop, board_id, replace(told, knots=()), key="a" * 32, at=AT)
    boards.keep_board(shop, board_id, replace(told, note="By the door"), key="a" * 32, at=AT)
    stock.let_go(shop, kept.id)
    boards.keep_board(shop, board_id, replace(told, knots=()), key="a" * 32, at=AT)
    assert seen(shop, board_id).kept.knots == ()


def test_what_was_sawn_is_not_planned_by_other_sizes(shop, kept):
    keep(shop, replace(TOLD, set_id=str(kept.id)))
    stock.number_pieces(shop, kept.id, at=AT)
    rung = KeptNeed("Rung", 600.0, 20.0, 6, 9)
    for choices, others in (
        (SetStock(), [rung]),
        (SetStock(side_mm=60.0), []),
        (SetStock(route="split"), []),
    ):
        with pytest.raises(Refused):
            set_blank.keep_set_blank(shop, kept.id, choices, others)
    set_blank.keep_set_blank(shop, kept.id, SetStock(more_percent=50.0), [])
    stock.let_go(shop, kept.id)
    set_blank.keep_set_blank(shop, kept.id, SetStock(), [rung])


def test_a_spoiled_piece_asks_for_the_next_spare_and_says_what_is_left(shop, kept):
    sawn(shop, kept, length="1000", knots=())  # twelve blanks: ten pieces with the spare, two over
    view = stock.of_set(shop, kept.id)
    assert (len(view.blanks), view.sound, view.calls) == (12, 12, ())
    spoil(shop, kept, 4)
    (call,) = stock.of_set(shop, kept.id).calls
    assert (call.spoiled, call.piece, call.label, call.done) == (4, 10, None, False)
    shopfloor.turn(shop, kept, [10])
    assert stock.spares(shop, kept.id).calls == (replace(call, done=True),)
    spoil(shop, kept, 5)
    _, two = stock.of_set(shop, kept.id).calls
    assert (two.spoiled, two.piece, two.label) == (5, None, 11)
    assert stock.take_spare(shop, kept.id) == 11
    assert sets.standing(shop, kept.id).piece(11)
    view = stock.of_set(shop, kept.id)
    assert [c.piece for c in view.calls] == [10, 11]
    assert (view.sound, view.covered) == (10, True)
    for number in (6, 7):
        spoil(shop, kept, number)
    view = stock.of_set(shop, kept.id)
    assert (view.sound, view.covered) == (8, False)
    stock.take_spare(shop, kept.id)
    with pytest.raises(Refused):
        stock.take_spare(shop, kept.id)


def test_another_board_is_sawn_later_and_its_blanks_are_numbered_on(shop, kept):
    first = sawn(shop, kept, length="500", knots=())
    before = stock.of_set(shop, kept.id)
    n = len(before.blanks)
    assert (n, before.sound, before.covered, before.unsawn) == (6, 6, False, ())
    with pytest.raises(Refused):
        stock.add_blanks(shop, kept.id, at=AT)
    second = keep(shop, replace(TOLD, set_id=str(kept.id), length="500", knots=()), "c" * 32)
    log_id = logs.keep_log(shop, log(kept))
    view = stock.of_set(shop, kept.id)
    assert view.unsawn == ("White ash", "Butt")
    billets = view.logs[0].plan.count
    firsts = {("board", first): 1, ("board", second): 7, ("log", log_id): 13}
    assert view.firsts == firsts
    assert stock.add_blanks(shop, kept.id, at=AT) == 6 + billets
    view = stock.of_set(shop, kept.id)
    assert [b.label for b in view.blanks] == list(range(1, 13 + billets))
    assert [b.spindle for b in view.blanks[:10]] == list(range(1, 11))  # nine and a spare
    assert {b.spindle for b in view.blanks[10:]} == {None}
    assert (view.unsawn, view.covered, view.firsts) == ((), True, firsts)
    assert stock.take_spare(shop, kept.id) == 11


def test_a_blank_has_the_number_it_has_on_the_plan_also_among_other_sizes(shop, kept):
    legs = KeptNeed("Legs", 420.0, 29.0, 3, 1)
    set_blank.keep_set_blank(shop, kept.id, SetStock(), (legs,))
    board_id = sawn(shop, kept)
    view = stock.of_set(shop, kept.id)
    placed = view.boards[0].layout.blanks
    assert {p.need for p in placed} == {0, 1}
    for blank in view.blanks:
        assert (blank.at_mm, blank.across_mm) == (
            placed[blank.label - 1].at_mm,
            placed[blank.label - 1].across_mm,
        )
    assert len(view.blanks) == sum(not p.need for p in placed)
    assert view.firsts == {("board", board_id): 1}


def spoil(shop: Shop, kept: SpindleSet, number: int) -> None:
    chance = random.Random(number)
    with shop.transaction() as db:
        mark = shopfloor.mark(chance, kept, number, "spoiled", shopfloor.moment(number))
        readings.add_mark(db, mark)


def test_a_ring_angle_is_kept_with_its_piece(shop, kept):
    sawn(shop, kept)
    origin.keep_ring(shop, kept.id, 3, 42.0)
    blank = origin.origins(shop, kept.id)[3].blank
    assert blank.ring_deg == 42
    with pytest.raises(OutOfRange):
        origin.keep_ring(shop, kept.id, 3, 190.0)
    with pytest.raises(NotFound):
        origin.keep_ring(shop, kept.id, 99, 0.0)


def log(kept: SpindleSet | None = None):
    return replace(
        logs.bare_log("c" * 32, AT),
        name="Butt",
        set_id=kept and kept.id,
        length_mm=1200.0,
        large_mm=320.0,
        small_mm=300.0,
        bark_mm=10.0,
    )


def test_a_log_gives_the_sets_billets_with_their_rings(shop, kept):
    log_id = logs.keep_log(shop, log(kept))
    view = logs.log(shop, log_id)
    assert view.plan
    assert view.plan.side_mm == pytest.approx(25.5 + 3.2)
    set_blank.keep_set_blank(shop, kept.id, SetStock("split"), ())
    view = logs.log(shop, log_id)
    assert view.plan
    assert view.plan.side_mm == 27.0  # the route has what a split billet needs in it already
    stock.number_pieces(shop, kept.id, at=AT)
    blank = origin.origins(shop, kept.id)[1].blank
    assert (blank.log_id, blank.ring_deg) == (log_id, 0.0)
    with pytest.raises(Refused):
        logs.keep_log(shop, replace(logs.log(shop, log_id).kept, pith_mm=60.0))


def test_a_log_that_cannot_be_is_refused(shop):
    with pytest.raises(OutOfRange) as caught:
        logs.keep_log(shop, replace(log(), small_mm=400.0))
    assert caught.value.field == "small_mm"


def test_what_is_used_up_leaves_the_rack(shop):
    board_id = keep(shop)
    rack.put_away(shop, "board", board_id, AT)
    assert rack.rack(shop).boards == ()
    assert len(rack.rack(shop, archived=True).boards) == 1


# ------------------------------------------------------------------ from one bench to another


def test_all_of_it_goes_round_exactly(shop, kept, tmp_path):
    pins = (PinRow("1500", "100"),)
    set_blank.keep_set_blank(
        shop, kept.id, SetStock("split", 560.0), (KeptNeed("Legs", 420.0, 30.0, 4, 2),)
    )
    sawn(shop, kept, slope="1 in 30")
    keep(shop, replace(TOLD, pins=pins, blank_length="500", blank_side="25"), "b" * 32)
    logs.keep_log(shop, log())
    logs.keep_log(shop, replace(log(kept), key="d" * 32))
    origin.keep_ring(shop, kept.id, 2, 17.5)
    out = exchange.export_all(shop, now=AT)
    assert len(out["sets"][0]["blanks"]) > 10
    other = shopfloor.open_shop(tmp_path, "other.db")
    exchange.import_into(other, exchange.from_json(exchange.to_json(out)), now=AT)
    again = exchange.export_all(other, now=AT)
    assert {**again, "database_id": 0} == {**out, "database_id": 0}
    exchange.import_into(other, exchange.from_json(exchange.to_json(out)), now=AT)
    assert {**exchange.export_all(other, now=AT), "database_id": 0} == {**out, "database_id": 0}
    other.close()


@pytest.mark.usefixtures("kept")
def test_a_file_from_before_there_was_stock_is_read(shop):
    out = exchange.export_all(shop, now=AT)
    for name in ("stock", "needs", "boards", "logs", "blanks"):
        del out["sets"][0][name]
    assert out.keys().isdisjoint(("boards", "logs"))
    assert exchange.from_json(exchange.to_json(out)).sets[0].stock.boards == ()


def test_blanks_are_numbered_in_the_order_the_stock_was_described(shop, kept):
    log_id = logs.keep_log(shop, log(kept))
    view = stock.of_set(shop, kept.id)
    before, billets = view.firsts, view.billets
    told = replace(TOLD, set_id=str(kept.id), length="500", knots=())
    later = "2026-02-02T08:00:00.000Z"
    typed = boards.drafted(shop, None, replace(TOLD, set_id=str(kept.id)))
    assert stock.on_board(shop, typed)[1] == billets + 1  # as it will be
    board_id = boards.keep_board(shop, None, told, key="d" * 32, at=later)
    view = stock.of_set(shop, kept.id)
    assert view.firsts == {**before, ("board", board_id): billets + 1}
    assert stock.on_board(shop, store.board(shop, board_id))[1] == billets + 1
    stock.number_pieces(shop, kept.id, at=AT)
    assert {origin.origins(shop, kept.id)[n].blank.log_id for n in range(1, 11)} == {log_id}


def test_a_set_that_is_split_takes_its_log_first_also_when_a_board_was_described_before(shop, kept):
    board_id = keep(shop, replace(TOLD, set_id=str(kept.id), length="700", knots=()))
    log_id = logs.keep_log(shop, replace(log(kept), made_at="2026-02-02T08:00:00.000Z"))
    assert stock.of_set(shop, kept.id).firsts[("board", board_id)] == 1
    set_blank.keep_set_blank(shop, kept.id, SetStock("split"), ())
    view = stock.of_set(shop, kept.id)
    assert view.firsts == {("log", log_id): 1, ("board", board_id): view.billets + 1}
    stock.number_pieces(shop, kept.id, at=AT)
    assert origin.origins(shop, kept.id)[1].blank.log_id == log_id
    kept_blanks = stock.of_set(shop, kept.id).blanks
    assert [b.spindle for b in kept_blanks[:10]] == list(range(1, 11))


@pytest.mark.parametrize("unit", ["in", "in/16", "in/64"])
def test_in_inches_a_blank_is_proposed_in_whole_sixteenths_and_holds_the_rough_round(
    shop, kept, unit
):
    sets.settle(shop, kept.id, replace(kept.choices, unit=unit))
    green = wood.Given("northern red oak", "green", "green", "figure", lives_mc=8.0)
    wood.give(shop, kept.id, green, at=AT)
    found = set_blank.set_blank(shop, kept.id)
    rough_mm = found.grown.turn_mm + ROUGH_OVER_MM
    assert rough_mm <= found.blank.side_mm < rough_mm + 25.4 / 16 + 0.1
    for mm in (found.blank.side_mm, found.blank.length_mm):
        assert mm * 16 / 25.4 == pytest.approx(round(mm * 16 / 25.4), abs=1e-9)
    assert set_blank.begun_in(shop, kept.id) == ("in" if unit == "in" else "in/64")


def test_a_log_loses_nothing_at_its_ends_where_the_blanks_carry_their_own_waste(shop, kept):
    assert logs.new_log(shop, kept.id, "Log {n}", key="e" * 32, at=AT).end_mm == 75.0
    set_blank.keep_set_blank(shop, kept.id, SetStock("split"), ())
    assert logs.new_log(shop, kept.id, "Log {n}", key="e" * 32, at=AT).end_mm == 0.0
