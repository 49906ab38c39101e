"""A piece is spoiled: the next is called, its spare is named, and its blank with it."""

from __future__ import annotations

from contextlib import closing
from uuid import uuid4

import pytest
from playwright.sync_api import expect

from benchside.job.board_table import BoardTold
from benchside.job.boards import keep_board
from benchside.store import stock
from benchside.store.database import Shop
from tests.browser.bench import Bench, peg
from tests.browser.hand import Phone, offline

AT = "2026-02-01T08:00:00.000Z"
TELLS_NO_BLANKS = """
const parsed = JSON.parse;
JSON.parse = (text) => {
  const found = parsed(text);
  if (found?.blanks) found.blanks = { [found.piece]: found.blanks[found.piece] };
  return found;
};
"""


def test_a_spoiled_piece_gives_way_to_the_next_and_says_why(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "rough")
    spoils(phone)
    assert phone.piece == "Piece 2 of 3"
    phone.waits(lambda: bench.marks(kept) == [("spoiled", "")])
    assert bench.rows("SELECT text FROM mark WHERE set_id = ?", kept.id) == [("A catch",)]


def test_a_spoiled_piece_calls_its_spare_and_says_whether_the_stock_covers_the_set(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg(), wanted=2, spares=1)
    phone.turns(kept, 1, "mount")
    spoils(phone)
    assert phone.piece == "Piece 2 of 2"
    covers = (
        "Piece 1 is spoiled: spare piece 3 takes its place. "
        "2 sound for 2 wanted: the stock still covers the set."
    )
    expect(phone.step.get_by_text(covers)).to_be_in_viewport(ratio=1)
    for caution in phone.step.locator(".checks li").all()[:3]:
        expect(caution).to_be_in_viewport(ratio=1)
    spoils(phone)
    assert phone.piece == "Spare piece 3"
    short = (
        "Piece 2 is spoiled, and there is no spare left for it. "
        "1 sound for 2 wanted: the stock no longer covers the set."
    )
    expect(phone.step.get_by_text(short)).to_be_visible()
    phone.turns(kept, 3, "mount")
    expect(phone.step.get_by_text(short)).to_be_in_viewport(ratio=1)


@pytest.mark.parametrize("known", ["by the page", "by the laptop"])
def test_each_piece_is_named_with_its_blank_also_when_the_page_turns_to_it(
    bench: Bench, phone: Phone, known: str
) -> None:
    kept = bench.started(peg())
    board = BoardTold(name="Oak", length="1500", width="150", thickness="34", kerf="3.2")
    with closing(Shop(bench.db)) as shop:
        board_id = keep_board(shop, None, board, key=uuid4().hex, at=AT)
        with shop.transaction() as db:
            stock.keep_blanks(db, kept.id, [blank(number, board_id) for number in (1, 2)])
    if known == "by the laptop":
        phone.page.add_init_script(TELLS_NO_BLANKS)
    phone.turns(kept, 1, "mount")
    named = phone.step.locator("[data-blank]")
    expect(named).to_have_text("From blank 1, Oak, 1 mm from the left end.")
    if known == "by the page":
        offline(phone)
    spoils(phone)
    assert phone.piece == "Piece 2 of 3"
    expect(named).to_have_text("From blank 2, Oak, 2 mm from the left end.")


def spoils(phone: Phone) -> None:
    phone.opens_more()
    phone.step.get_by_text("It is spoiled").tap()
    phone.step.locator("#why-spoiled").select_option("A catch")
    phone.step.get_by_role("button", name="Spoiled: leave it, next piece").tap()
    phone.shows("mount")


def blank(number: int, board_id: int) -> stock.KeptBlank:
    return stock.KeptBlank(
        label=number,
        spindle=number,
        board_id=board_id,
        log_id=None,
        at_mm=float(number),
        across_mm=0.0,
        deep_mm=0.0,
        length_mm=300.0,
        side_mm=30.0,
        turned_deg=0.0,
        ring_deg=None,
        sawn_at=AT,
    )
