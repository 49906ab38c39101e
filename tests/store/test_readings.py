from __future__ import annotations

import sqlite3
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from benchside.errors import KeyReused, NotFound
from benchside.store import patterns, readings, sets
from benchside.store.database import Shop
from tests.full_bench import CHOICES, SPINDLE, at, begin, fill, key, mark, reading


@pytest.fixture
def set_id(shop: Shop) -> int:
    return begin(shop)


def keep(shop: Shop, row: readings.Reading) -> readings.Reading:
    with shop.transaction() as db:
        return readings.add(db, row)


def keep_mark(shop: Shop, row: readings.Mark) -> readings.Mark:
    with shop.transaction() as db:
        return readings.add_mark(db, row)


def test_a_reading_is_kept_as_it_was_taken(shop: Shop, set_id: int) -> None:
    taken = reading(1, set_id, note="held loosely")
    assert keep(shop, taken) == taken
    assert readings.standing(shop, set_id) == [taken]


def test_a_reading_sent_twice_is_one_row_and_both_answers_are_the_row_first_kept(
    shop: Shop, set_id: int
) -> None:
    first = keep(shop, reading(1, set_id))
    again = keep(shop, reading(1, set_id, received_at=at(90), taken_at=at(89)))
    assert again == first
    assert readings.every(shop, set_id) == [first]


def test_a_reading_sent_from_ten_sides_at_once_is_one_row(shop: Shop, set_id: int) -> None:
    with ThreadPoolExecutor(10) as pool:
        kept = list(pool.map(lambda _: keep(shop, reading(1, set_id)), range(40)))
    assert set(kept) == {reading(1, set_id)}
    assert len(readings.every(shop, set_id)) == 1


@pytest.mark.parametrize(
    "other",
    [
        {"value_mm": 24.3},
        {"typed": "31/32"},
        {"spindle": 2},
        {"station_id": "s4"},
        {"axis": "A"},
        {"kind": "position"},
        {"phase": "sizing"},
        {"state": "dry"},
        {"note": "no"},
    ],
)
def test_a_key_that_comes_back_with_another_measurement_is_refused(
    shop: Shop, set_id: int, other: dict[str, Any]
) -> None:
    first = keep(shop, reading(1, set_id))
    with pytest.raises(KeyReused, match="already saved with something else"):
        keep(shop, reading(1, set_id, **other))
    assert readings.every(shop, set_id) == [first]


def test_a_reading_sent_again_after_the_pattern_was_revised_is_still_the_same(
    shop: Shop, set_id: int
) -> None:
    first = keep(shop, reading(1, set_id))
    assert keep(shop, reading(1, set_id, revision=2, target_mm=25.0)) == first


def test_a_correction_takes_the_place_of_what_it_corrects_and_the_old_row_stays(
    shop: Shop, set_id: int
) -> None:
    wrong, right = reading(1, set_id), reading(2, set_id, supersedes=key(1), value_mm=24.3)
    keep(shop, wrong)
    keep(shop, right)
    assert readings.standing(shop, set_id) == [right]
    assert readings.every(shop, set_id) == [wrong, right]


def test_a_correction_of_a_correction_leaves_the_last(shop: Shop, set_id: int) -> None:
    keep(shop, reading(1, set_id))
    keep(shop, reading(2, set_id, supersedes=key(1)))
    last = keep(shop, reading(3, set_id, supersedes=key(2)))
    assert readings.standing(shop, set_id) == [last]


def test_a_correction_can_move_a_reading_to_another_piece(shop: Shop, set_id: int) -> None:
    keep(shop, reading(1, set_id))
    moved = keep(shop, reading(2, set_id, spindle=3, supersedes=key(1)))
    assert readings.standing(shop, set_id, 1) == []
    assert readings.standing(shop, set_id, 3) == [moved]


def test_a_correction_of_nothing_or_of_another_sets_reading_is_refused(
    shop: Shop, set_id: int
) -> None:
    with pytest.raises(NotFound, match="not in this set"):
        keep(shop, reading(2, set_id, supersedes=key(1)))
    with shop.transaction() as db:
        other = sets.add(db, 1, 1, CHOICES, at=at(0))
    keep(shop, reading(1, set_id))
    with pytest.raises(NotFound, match="not in this set"):
        keep(shop, reading(2, other, supersedes=key(1)))
    assert len(readings.every(shop, set_id)) == 1
    assert readings.every(shop, other) == []


def test_a_withdrawn_reading_counts_no_more_but_stays_on_record(shop: Shop, set_id: int) -> None:
    keep(shop, reading(1, set_id))
    second = keep(shop, reading(2, set_id))
    keep_mark(shop, mark(9, set_id, what="withdrawn", about=key(1)))
    assert readings.standing(shop, set_id) == [second]
    assert len(readings.every(shop, set_id)) == 2


def test_readings_stand_in_the_order_taken_and_every_in_the_order_of_arrival(
    shop: Shop, set_id: int
) -> None:
    late = keep(shop, reading(1, set_id, taken_at=at(50)))
    early = keep(shop, reading(2, set_id, taken_at=at(10)))
    tied = keep(shop, reading(3, set_id, taken_at=at(50)))
    assert readings.standing(shop, set_id) == [early, late, tied]
    assert readings.every(shop, set_id) == [late, early, tied]


def test_a_mark_sent_twice_is_one_row_and_another_under_its_key_is_refused(
    shop: Shop, set_id: int
) -> None:
    first = keep_mark(shop, mark(1, set_id))
    assert keep_mark(shop, mark(1, set_id, received_at=at(70))) == first
    with pytest.raises(KeyReused):
        keep_mark(shop, mark(1, set_id, text="no knot"))
    assert readings.marks(shop, set_id) == [first]


def test_a_spindles_marks_leave_out_those_of_the_whole_set(shop: Shop, set_id: int) -> None:
    mine = keep_mark(shop, mark(1, set_id))
    all_of_us = keep_mark(
        shop, mark(2, set_id, spindle=None, what="caliper_dropped", about="B", text="")
    )
    assert readings.marks(shop, set_id, 1) == [mine]
    assert readings.marks(shop, set_id) == [mine, all_of_us]


@pytest.mark.parametrize(
    "nonsense",
    [
        {"key": "short"},
        {"key": "G" * 32},
        {"set_id": 99},
        {"spindle": 99},
        {"station_id": ""},
        {"kind": "weight"},
        {"axis": "C"},
        {"phase": "late"},
        {"state": "wet"},
        {"unit": "furlong"},
        {"value_mm": -1.0},
        {"value_mm": float("nan")},
        {"value_mm": float("inf")},
        {"value_mm": 1e9},
        {"value_mm": "thick"},
        {"target_mm": float("inf")},
        {"device_id": 99},
        {"taken_at": None},
    ],
)
def test_the_database_itself_refuses_a_reading_that_is_nonsense(
    shop: Shop, set_id: int, nonsense: dict[str, Any]
) -> None:
    with pytest.raises(sqlite3.IntegrityError):
        keep(shop, reading(1, **{"set_id": set_id, **nonsense}))
    assert readings.every(shop, set_id) == []


@pytest.mark.parametrize(
    ("table", "column", "nonsense"),
    [
        ("spindle_set", "wanted", 0),
        ("spindle_set", "wanted", "nine"),
        ("spindle_set", "spares", -1),
        ("spindle_set", "name", ""),
        ("spindle_set", "unit", "cm"),
        ("spindle_set", "habit", "random"),
        ("spindle_set", "tenon_mm", 0),
        ("spindle_set", "calipers", 27),
        ("spindle_set", "revision", 7),
        ("spindle_set", "headstock", "up"),
        ("station", "at_mm", -1),
        ("station", "diameter_mm", 0),
        ("station", "diameter_mm", "thick"),
        ("station", "kind", "leg"),
        ("station", "form", "ogee"),
        ("station", "tolerance_mm", 0),
        ("revision", "datum_end", "middle"),
        ("pattern", "step_order", "[unfinished"),
        ("pattern", "next_station", 0),
        ("spindle", "practice", 2),
        ("mark", "what", "sung to"),
        ("mark", "set_id", 99),
        ("device", "secret_hash", "short"),
        ("device", "name", ""),
    ],
)
def test_the_database_itself_refuses_nonsense_in_any_table(
    shop: Shop, table: str, column: str, nonsense: object
) -> None:
    fill(shop)
    before = shop.rows(f"SELECT * FROM {table}")
    assert before
    with pytest.raises(sqlite3.IntegrityError), shop.transaction() as db:
        db.execute(f"UPDATE {table} SET {column} = ?", [nonsense])
    assert shop.rows(f"SELECT * FROM {table}") == before


def test_what_is_still_pointed_to_cannot_be_deleted(shop: Shop) -> None:
    fill(shop)
    for table in ("pattern", "revision", "spindle_set", "spindle", "device"):
        with pytest.raises(sqlite3.IntegrityError), shop.transaction() as db:
            db.execute(f"DELETE FROM {table}")


def test_a_pattern_comes_back_from_the_database_exactly(shop: Shop) -> None:
    begin(shop)
    assert patterns.found(shop, 1).pattern == SPINDLE


def test_piece_numbers_go_on_from_the_last(shop: Shop, set_id: int) -> None:
    with shop.transaction() as db:
        assert sets.add_spindles(db, set_id, 2, practice=True) == [6, 7]
    assert [s.number for s in sets.spindles(shop, set_id)] == [1, 2, 3, 4, 5, 6, 7]
    assert [s.number for s in sets.spindles(shop, set_id) if s.practice] == [6, 7]
