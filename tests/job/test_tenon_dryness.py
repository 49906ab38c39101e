"""What says how dry a piece is: the newest of its weight, a moisture given, and a note."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchside.job import dried, drying, fitting, tenon_dryness, turning
from benchside.job.holds import By
from benchside.job.tenon_dryness import Wait
from benchside.job.turning import Marked
from benchside.store import wood
from benchside.store.database import Shop
from benchside.store.wood import DryingMark
from tests import shopfloor
from tests.job.fitted_bench import ASH, AT, LOWER, SEAT, a_seat, a_set, a_test_hole, key

# 145 g at 45 % hold 100 g of wood. Ash (dry at 8 %) into a joint that wants 5 to 7 %.
GREEN, WET, DRY = "145", "120", "107"


def on(day: int) -> str:
    return f"2026-03-{day:02d}T10:00:00.000Z"


def weigh(shop: Shop, day: int, grams: str) -> None:
    drying.weigh(shop, 1, 1, grams, "g", key=key(day), at=on(day), sure=True)


def read_dry(shop: Shop, day: int, moisture: str) -> None:
    cells = {(LOWER, "A"): "13.1", (LOWER, "B"): "12.9"}
    dried.take(shop, 1, 1, cells, moisture=moisture, key=key(100 + day), sure=True, at=on(day))


def note(shop: Shop, day: int) -> None:
    drying.note(shop, 1, 1, "dried", key=key(200 + day), at=on(day))


def waits(shop: Shop) -> tuple[Wait, By | None, float | None]:
    row = fitting.fitting(shop, 1, now=AT).part(key(800)).rows[0]
    by = row.evidence
    return row.wait, by and by.by, by.moisture if by else None


@pytest.fixture
def seat(shop: Shop) -> None:
    a_set(shop)
    a_seat(shop, 1, replace(SEAT, test_hole=a_test_hole(shop)))


@pytest.mark.usefixtures("seat")
def test_the_newest_says_how_dry_a_piece_is_whichever_kind_it_is(shop: Shop) -> None:
    assert waits(shop) == ("unweighed", None, None)
    weigh(shop, 1, GREEN)
    weigh(shop, 5, WET)
    assert waits(shop) == ("wet", "weight", pytest.approx(20.0))
    read_dry(shop, 6, "7")
    assert waits(shop) == ("", "said", 7.0)
    read_dry(shop, 7, "12")
    assert waits(shop) == ("wet", "said", 12.0)
    weigh(shop, 8, DRY)
    assert waits(shop) == ("", "weight", pytest.approx(7.0))
    weigh(shop, 9, "108.4")  # dry, but over what the way wants and more than is known
    assert waits(shop) == ("damper", "weight", pytest.approx(8.4))


@pytest.mark.usefixtures("seat")
def test_a_note_counts_while_nothing_newer_says_otherwise(shop: Shop) -> None:
    weigh(shop, 1, GREEN)
    weigh(shop, 5, WET)
    note(shop, 6)
    assert waits(shop) == ("", "noted", None)  # the 20 % of the day before is no figure of it
    read_dry(shop, 7, "11")
    assert waits(shop) == ("wet", "said", 11.0)
    weigh(shop, 8, "108.4")
    note(shop, 9)
    assert waits(shop) == ("damper", "noted", pytest.approx(8.4))


def test_a_note_of_the_whole_set_says_nothing_of_a_piece_turned_since(shop: Shop) -> None:
    """Such a note is of a file from before each piece had its own."""
    kept = shopfloor.started(shop)
    with shop.transaction() as db:
        wood.add_wood(db, kept.id, ASH)
        wood.add_drying_mark(db, kept.id, DryingMark(key(1), None, "dried", on(6)))
    for number, day in ((1, 2), (2, 7)):
        done = Marked(key(10 + number), "done", "done")
        turning.mark(shop, kept.id, number, done, device_id=None, received_at=on(day))
    assert set(tenon_dryness.evidence(shop, kept.id)) == {1}


@pytest.mark.usefixtures("seat")
def test_a_moisture_struck_out_says_nothing(shop: Shop) -> None:
    read_dry(shop, 6, "7")
    read_dry(shop, 7, "12")
    for reading in dried.dried(shop, 1).every:
        if reading.moisture == 12.0:
            dried.strike(shop, 1, reading.key, on(8))
    assert waits(shop) == ("", "said", 7.0)


def test_wood_told_dry_says_so_itself(shop: Shop) -> None:
    a_set(shop, said=replace(ASH, state="air-dry", moisture=13.0))
    a_seat(shop, 1, replace(SEAT, test_hole=a_test_hole(shop)))
    assert waits(shop) == ("damper", "told", 13.0)


def test_a_set_of_no_told_wood_has_no_piece_that_waits(shop: Shop) -> None:
    a_set(shop, said=None)
    a_seat(shop, 1, replace(SEAT, test_hole=a_test_hole(shop)))
    assert waits(shop) == ("", None, None)
    assert tenon_dryness.evidence(shop, 1) == {}
