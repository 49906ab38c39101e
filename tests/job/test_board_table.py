"""A board as it is shown is read again as it was kept, so that what fitted it fits it still."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchside.job import boards, stock
from benchside.job.board_table import BoardTold, KnotRow, PinRow, as_told
from benchside.store import stock as store
from benchside.store.database import Shop

AT = "2026-02-01T08:00:00.000Z"
INCHES = BoardTold(
    name="Walnut",
    unit="in/64",
    length="87",
    width="7 1/4",
    thickness="8/4",
    kerf="1/8",
    blank_length="18",
    blank_side="1 1/8",
    knots=(KnotRow(at="13.91", across="2.06", length="1.18", width="0.79"),),  # as a finger put it
)


def kept(shop: Shop, told: BoardTold) -> store.KeptBoard:
    return store.board(shop, boards.keep_board(shop, None, told, key="a" * 32, at=AT))


@pytest.mark.parametrize("unit", ["in/64", "in", "mm"])
@pytest.mark.parametrize("slope", ["", "1 in 15.5", "4°", "1 in 7.123456"])
def test_a_board_opened_and_kept_again_is_the_same_board(shop, unit, slope):
    told = replace(INCHES, unit=unit, slope=slope, kerf="2.9 mm", length="7 ft 3 in")
    told = replace(told, width="7.25 in", blank_side="1.125 in", blank_length="18 in")
    rows = tuple(
        replace(row, at=f"{row.at} in", across=f"{row.across} in", length="1.18 in", width="20 mm")
        for row in told.knots
    )
    before = kept(shop, replace(told, knots=rows, pins=(PinRow("0 mm", "81.3456789 mm"),)))
    again = boards.drafted(shop, before.id, as_told(before))
    for name in ("length_mm", "width_mm", "kerf_mm", "grain_slope"):
        assert getattr(again, name) == pytest.approx(getattr(before, name), abs=1e-9)
    assert again.pins[0].across_mm == pytest.approx(81.3456789, abs=1e-9)
    for one, other in zip(again.knots, before.knots, strict=True):
        assert one.across_mm == pytest.approx(other.across_mm, abs=1e-9)
        assert one.width_mm == pytest.approx(other.width_mm, abs=1e-9)


@pytest.mark.parametrize("slope", ["", "1 in 30"])
def test_a_blank_pinned_hard_by_a_knot_is_still_clear_of_it_when_the_board_is_opened(shop, slope):
    before = kept(shop, replace(INCHES, slope=slope))
    view, _ = stock.on_board(shop, before)
    pins = tuple(
        PinRow(*(f"{max(0.0, mm):.6f} mm" for mm in (p.at_mm, p.across_mm)))  # as a finger does
        for p in view.layout.blanks
    )
    pinned = replace(as_told(before), pins=pins)
    pinned = store.board(shop, boards.keep_board(shop, before.id, pinned, key="", at=AT))
    opened = boards.drafted(shop, pinned.id, as_told(pinned))
    assert stock.drafted(shop, opened).problem is None


def test_the_next_board_has_the_last_saw_cut_in_whatever_unit_it_was_typed(shop):
    kept(shop, replace(INCHES, kerf="2.9 mm"))
    assert boards.new_board(shop, None, "Board {n}").kerf == "2.9 mm"
