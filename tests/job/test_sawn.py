"""What was sawn stays as it was, whatever is said or put to the set later."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchside.errors import NotUnderstood
from benchside.job import boards, exchange, logs, rack, sawn, set_blank, sets, stock, wood
from benchside.job.board_table import BoardTold, KnotRow, as_told
from benchside.stock import mixed
from benchside.store import stock as store
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet
from benchside.store.stock import KeptNeed, SetStock
from tests import shopfloor

AT = "2026-02-01T08:00:00.000Z"
GREEN = wood.Given("white ash", "green", "green", "figure", lives_mc=8.0)
LEGS = KeptNeed("Legs", 420.0, 29.0, 3, 1)
TOLD = BoardTold(
    name="White ash",
    length="2400",
    width="180",
    thickness="30",
    kerf="3,2",
    knots=(KnotRow("knot", "one", "500", "60", "40", "25"),),
)


def keep(shop: Shop, kept: SpindleSet, key: str = "a" * 32, **changes: str) -> int:
    told = replace(TOLD, set_id=str(kept.id), **changes)
    return boards.keep_board(shop, None, told, key=key, at=AT)


def layouts(shop: Shop, kept: SpindleSet) -> dict[int, object]:
    """Of every board of the set where its blanks lie and the cuts that free them."""
    return {
        view.kept.id: (view.layout.blanks, view.layout.rips, view.layout.crosscuts)
        for view in stock.of_set(shop, kept.id).boards
        if view.layout
    }


def seen(shop: Shop, board_id: int) -> boards.BoardView:
    return stock.on_board(shop, store.board(shop, board_id))[0]


def match(shop: Shop, kept: SpindleSet) -> None:
    """Every number kept stands where the drawing has it."""
    view = stock.of_set(shop, kept.id)
    for board in view.boards:
        first = view.firsts["board", board.kept.id]
        rows = store.sawn_from(shop, "board", board.kept.id)
        placed = board.layout.blanks if board.layout else ()
        assert {row.label: (row.at_mm, row.across_mm, row.side_mm, row.need) for row in rows} == {
            first + i: (p.at_mm, p.across_mm, p.side_mm, p.need) for i, p in enumerate(placed)
        }


@pytest.mark.parametrize("slope", ["", "1 in 30"])
def test_what_was_sawn_dry_is_drawn_as_it_was_when_the_wood_is_said_to_be_green(shop, kept, slope):
    board_id = keep(shop, kept, slope=slope)
    planned = layouts(shop, kept)
    stock.number_pieces(shop, kept.id, at=AT)
    wood.give(shop, kept.id, GREEN, at=AT)
    assert set_blank.set_blank(shop, kept.id).blank.side_mm == 27.0
    match(shop, kept)
    ((blanks, rips, crosscuts),) = layouts(shop, kept).values()
    ((before, rips_before, crosscuts_before),) = planned.values()
    assert blanks == before
    assert [(r.frees, r.strip) for r in rips] == [(r.frees, r.strip) for r in rips_before]
    for cut, as_planned in zip(rips + crosscuts, rips_before + crosscuts_before, strict=True):
        assert cut.from_mm == pytest.approx(as_planned.from_mm)
        assert cut.to_mm == pytest.approx(as_planned.to_mm)
    (view,) = rack.rack(shop).boards
    assert view.layout.blanks == seen(shop, board_id).layout.blanks == before
    assert view.plan == "sawn"


def test_what_the_set_would_ask_for_today_is_said_with_what_it_means(shop, kept):
    keep(shop, kept)
    stock.number_pieces(shop, kept.id, at=AT)
    (found,) = stock.of_set(shop, kept.id).sawn
    assert (found.blank.length_mm, found.blank.side_mm, found.route) == (466.0, 25.5, "dry")
    assert found.room is None
    wood.give(shop, kept.id, GREEN, at=AT)
    (found,) = stock.of_set(shop, kept.id).sawn
    assert (found.blank.side_mm, found.route, found.room.says) == (25.5, "dry", "close")
    # White ash shrinks 7.8 % along the rings, green to 0 % [@wood-handbook-2010, Table 4-3].
    now_mm = 22.0 / (1 - 0.078 * (30 - 8) / 30)
    assert found.room.over_mm == pytest.approx(25.5 - now_mm)
    wood.give(shop, kept.id, replace(GREEN, route="rough", rough_mm=3.0), at=AT)
    (found,) = stock.of_set(shop, kept.id).sawn
    assert found.room.says == "thin"
    assert found.room.over_mm == pytest.approx(25.5 - now_mm * 25 / 22)
    shopfloor.turn(shop, kept, range(1, 11))
    with shop.transaction() as db:  # of the others nothing is over
        rows = store.blanks(shop, kept.id)
        store.keep_blanks(db, kept.id, [row for row in rows if row.spindle])
    assert stock.of_set(shop, kept.id).sawn[0].room is None  # nothing is still to be turned


def test_a_board_sawn_later_is_planned_for_todays_size_and_keeps_it(shop, kept):
    first = keep(shop, kept, length="500", knots=())
    stock.number_pieces(shop, kept.id, at=AT)
    wood.give(shop, kept.id, GREEN, at=AT)
    second = keep(shop, kept, "b" * 32, knots=())
    sides = {i: {p.side_mm for p in found[0]} for i, found in layouts(shop, kept).items()}
    assert sides == {first: {25.5}, second: {27.0}}
    stock.add_blanks(shop, kept.id, at=AT)
    match(shop, kept)
    assert [(s.blank.side_mm, s.route) for s in stock.of_set(shop, kept.id).sawn] == [
        (25.5, "dry"),
        (27.0, "sawn_green"),
    ]


def test_other_sizes_among_the_pieces_stay_where_they_were_sawn(shop, kept):
    set_blank.keep_set_blank(shop, kept.id, SetStock(), (LEGS,))
    first = keep(shop, kept)
    stock.number_pieces(shop, kept.id, at=AT)
    before = layouts(shop, kept)
    assert {p.need for p in before[first][0]} == {0, 1}
    keep(shop, kept, "b" * 32, length="1200", knots=())
    sets.settle(shop, kept.id, replace(kept.choices, wanted=20))
    assert layouts(shop, kept)[first] == before[first]
    legs = [p for p in seen(shop, first + 1).layout.blanks if p.need == 1]
    assert legs == []  # all three came off the first board
    assert stock.add_blanks(shop, kept.id, at=AT) > 0
    match(shop, kept)
    assert {row.spindle for row in store.blanks(shop, kept.id) if row.need} == {None}
    assert all(row.need == 0 for row in stock.of_set(shop, kept.id).unnumbered)


def test_the_waste_at_the_ends_is_that_of_the_blanks_that_were_sawn(shop, kept):
    keep(shop, kept)
    wood.give(shop, kept.id, GREEN, at=AT)
    asked = set_blank.set_blank(shop, kept.id)
    assert sawn.shortest(shop, asked) == (542.0, 38.0)  # as they are to be
    wood.give(shop, kept.id, replace(GREEN, state="air-dry", moisture=12.0, route="dry"), at=AT)
    stock.number_pieces(shop, kept.id, at=AT)
    wood.give(shop, kept.id, GREEN, at=AT)
    assert sawn.shortest(shop, set_blank.set_blank(shop, kept.id)) == (466.0, 0.0)


def test_a_board_that_is_used_up_is_still_drawn_where_its_pieces_came_from(shop, kept):
    board_id = keep(shop, kept)
    stock.number_pieces(shop, kept.id, at=AT)
    before = layouts(shop, kept)
    rack.put_away(shop, "board", board_id, AT)
    assert layouts(shop, kept) == before
    stock.let_go(shop, kept.id)
    assert layouts(shop, kept) == {}


def test_a_log_is_drawn_as_it_was_split(shop, kept):
    log = replace(
        logs.bare_log("c" * 32, AT),
        set_id=kept.id,
        length_mm=1200.0,
        large_mm=320.0,
        small_mm=300.0,
    )
    log_id = logs.keep_log(shop, log)
    before = logs.log(shop, log_id).plan
    stock.number_pieces(shop, kept.id, at=AT)
    wood.give(shop, kept.id, GREEN, at=AT)
    view = logs.log(shop, log_id)
    assert [plan.way for plan in view.plans] == [log.way]
    assert view.plan == before
    (split,) = stock.of_set(shop, kept.id).sawn
    assert (split.split, split.route, split.blank.side_mm) == (True, "dry", before.side_mm)
    assert stock.of_set(shop, kept.id).logs[0].plan == before


def test_numbers_from_before_the_way_was_kept_still_fit_their_drawing(shop, kept):
    board_id = keep(shop, kept)
    stock.number_pieces(shop, kept.id, at=AT)
    before = layouts(shop, kept)
    forget(shop, kept)
    wood.give(shop, kept.id, GREEN, at=AT)
    assert layouts(shop, kept) == before
    assert seen(shop, board_id).plan == "sawn"
    (found,) = stock.of_set(shop, kept.id).sawn
    assert (found.blank.side_mm, found.route, found.room.says) == (25.5, None, "close")


def test_numbers_among_other_sizes_from_before_those_were_kept_are_planned_by_their_own_size(
    shop, kept, monkeypatch
):
    set_blank.keep_set_blank(shop, kept.id, SetStock(), (LEGS,))
    board_id = keep(shop, kept)
    number_as_before(shop, kept, monkeypatch)
    before = layouts(shop, kept)
    forget(shop, kept)
    wood.give(shop, kept.id, GREEN, at=AT)
    assert layouts(shop, kept)[board_id][0] == before[board_id][0]
    assert stock.of_set(shop, kept.id).firsts == {("board", board_id): 1}


@pytest.mark.parametrize("at", ["900", "300"])
def test_strips_of_before_they_lay_towards_the_edge_stay_under_their_numbers(
    shop, kept, monkeypatch, at
):
    set_blank.keep_set_blank(shop, kept.id, SetStock(), (replace(LEGS, wanted=9),))
    knots = (KnotRow("knot", "one", at, "40", "40", "25"),)
    boards.keep_board(
        shop, None, replace(TOLD, set_id=str(kept.id), knots=knots), key="a" * 32, at=AT
    )
    number_as_before(shop, kept, monkeypatch)
    rows = {row.label: (row.at_mm, row.across_mm) for row in store.blanks(shop, kept.id)}
    forget(shop, kept)
    (view,) = stock.of_set(shop, kept.id).boards
    assert {i: (p.at_mm, p.across_mm) for i, p in enumerate(view.layout.blanks, 1)} == rows


def test_a_board_sawn_since_among_such_numbers_has_its_own(shop, kept):
    legs = replace(LEGS, side_mm=24.0, wanted=20)
    set_blank.keep_set_blank(shop, kept.id, SetStock(), (legs,))
    keep(shop, kept)
    stock.number_pieces(shop, kept.id, at=AT)
    forget(shop, kept)
    later = keep(shop, kept, "b" * 32)
    stock.add_blanks(shop, kept.id, at=AT)
    first = stock.of_set(shop, kept.id).firsts["board", later]
    rows = store.sawn_from(shop, "board", later)
    placed = seen(shop, later).layout.blanks
    assert [row.label for row in rows] == list(range(first, first + len(placed)))
    assert [row.need for row in rows] == [p.need for p in placed]
    assert (rows[0].need, {row.need for row in rows}) == (1, {0, 1})  # some stand before its own


def number_as_before(shop: Shop, kept: SpindleSet, monkeypatch: pytest.MonkeyPatch) -> None:
    """As pieces were numbered while strips were not put towards the near edge yet."""
    with monkeypatch.context() as before:
        before.setattr(mixed._Model, "towards_edge", lambda _, chosen: chosen)
        stock.number_pieces(shop, kept.id, at=AT)


def forget(shop: Shop, kept: SpindleSet) -> None:
    """As a file was in which neither the way nor the other sizes were kept."""
    with shop.transaction() as db:
        rows = [replace(row, route=None) for row in store.blanks(shop, kept.id) if not row.need]
        store.keep_blanks(db, kept.id, rows)


def test_what_was_sawn_goes_round_and_a_file_from_before_is_read(shop, kept, tmp_path):
    set_blank.keep_set_blank(shop, kept.id, SetStock(), (LEGS,))
    keep(shop, kept)
    stock.number_pieces(shop, kept.id, at=AT)
    out = exchange.export_all(shop, now=AT)
    blanks = out["sets"][0]["blanks"]
    assert {row["need"] for row in blanks} == {0, 1}
    assert {row["route"] for row in blanks} == {"dry"}
    other = shopfloor.open_shop(tmp_path, "other.db")
    exchange.import_into(other, exchange.from_json(exchange.to_json(out)), now=AT)
    assert exchange.export_all(other, now=AT)["sets"] == out["sets"]
    other.close()
    for row in blanks:
        del row["route"], row["need"]
    read = exchange.from_json(exchange.to_json(out)).sets[0].stock.blanks
    assert {(row.route, row.need) for row in read} == {(None, 0)}


@pytest.mark.parametrize(
    ("changes", "what"),
    [
        ({"need": 2, "spindle": None}, "does not ask for"),
        ({"need": 1}, "no spindle"),
        ({"route": "felled"}, "should be one of"),
    ],
)
def test_a_sawn_blank_that_cannot_be_is_refused_where_it_stands(shop, kept, changes, what):
    set_blank.keep_set_blank(shop, kept.id, SetStock(), (LEGS,))
    keep(shop, kept)
    stock.number_pieces(shop, kept.id, at=AT)
    out = exchange.export_all(shop, now=AT)
    row = next(row for row in out["sets"][0]["blanks"] if not row["need"])
    row.update(changes)
    with pytest.raises(NotUnderstood, match=what):
        exchange.from_json(exchange.to_json(out))


# ------------------------------------------------------- a board's page and its set's


def test_a_board_is_planned_on_its_own_page_as_its_set_plans_it(shop, kept):
    set_blank.keep_set_blank(shop, kept.id, SetStock(), (LEGS,))
    ids = [keep(shop, kept, key * 32, length="1000", knots=()) for key in "ab"]
    for view in stock.of_set(shop, kept.id).boards:
        mine = seen(shop, view.kept.id)
        assert (mine.layout, mine.plan) == (view.layout, "shared")
        typed = boards.drafted(shop, view.kept.id, as_told(view.kept))
        assert stock.drafted(shop, typed).layout == view.layout
    # Alone, they would give four legs, and the set wants three.
    alone = [boards.view_board(shop, store.board(shop, i)).layout.blanks for i in ids]
    assert [sum(p.need == 1 for p in found) for found in alone] == [2, 2]
    both = [p for i in ids for p in seen(shop, i).layout.blanks]
    assert sum(p.need == 1 for p in both) == 3


def test_a_board_that_is_put_away_is_planned_by_itself_and_says_so(shop, kept):
    board_id = keep(shop, kept)
    assert seen(shop, board_id).plan == "own"
    rack.put_away(shop, "board", board_id, AT)
    assert seen(shop, board_id).plan == "alone"
