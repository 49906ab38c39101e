"""A file with faults in it: each told, nothing taken unless told to."""

from __future__ import annotations

import json
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from benchside.errors import NotUnderstood
from benchside.job.exchange import export_all, import_into, to_json
from benchside.job.exchange.csv_tables import to_tables
from benchside.job.exchange.taking_in import look_through
from benchside.store import readings
from tests.full_bench import fill
from tests.shopfloor import open_shop

NOW = "2026-03-02T16:00:00.000Z"


@pytest.fixture
def document(tmp_path: Path) -> dict[str, Any]:
    with closing(open_shop(tmp_path)) as shop:
        fill(shop)
        found: dict[str, Any] = json.loads(to_json(export_all(shop, now=NOW)))
    return found


def spoilt(document: dict[str, Any]) -> dict[str, Any]:
    """Three rows that cannot be: a size, a moment, a spindle the set has not."""
    first = document["sets"][0]
    first["readings"][-1]["value_mm"] = -3
    first["readings"][-2]["taken_at"] = "yesterday"
    first["marks"][0]["spindle"] = 77
    return document


def test_a_sound_file_has_no_faults(document: dict[str, Any]) -> None:
    looked = look_through(to_json(document))
    assert looked.document is not None
    assert looked.faults == ()
    assert look_through(to_tables(document)).document == looked.document


def test_every_row_that_cannot_be_taken_is_told_by_its_place_in_the_file(
    document: dict[str, Any],
) -> None:
    last = len(document["sets"][0]["readings"]) - 1
    looked = look_through(to_json(spoilt(document)))
    assert {fault.where for fault in looked.faults} == {
        f"sets[0].readings[{last}].value_mm",
        f"sets[0].readings[{last - 1}].taken_at",
        "sets[0].marks[0].spindle",
    }
    assert all(fault.message for fault in looked.faults)


def test_of_tables_the_place_is_a_file_a_row_and_a_column(document: dict[str, Any]) -> None:
    count = len(document["sets"][0]["readings"])
    looked = look_through(to_tables(spoilt(document)))
    told = [fault.where for fault in looked.faults]
    assert f"sets-readings.csv, row {count + 1}, column value_mm" in told
    assert "sets-marks.csv, row 2, column spindle" in told


def test_the_rest_comes_in_when_told_to(document: dict[str, Any], tmp_path: Path) -> None:
    count = len(document["sets"][0]["readings"])
    looked = look_through(to_json(spoilt(document)))
    assert looked.document is not None
    with closing(open_shop(tmp_path, "other.db")) as other:
        brought = import_into(other, looked.document, now=NOW)
        kept = readings.every(other, brought.set_ids[0])
    assert len(kept) == count - 2


def test_two_rows_at_fault_one_above_the_other_are_counted_as_the_file_stands(
    document: dict[str, Any],
) -> None:
    for row in document["sets"][0]["readings"][1:3]:
        row["unit"] = "furlong"
    looked = look_through(to_json(document))
    told = [fault.where for fault in looked.faults]
    assert told[:2] == ["sets[0].readings[1].unit", "sets[0].readings[2].unit"]


def test_a_correction_of_a_row_left_out_is_told_too(document: dict[str, Any]) -> None:
    rows = document["sets"][0]["readings"]
    corrected = next(row["supersedes"] for row in rows if row["supersedes"])
    next(row for row in rows if row["key"] == corrected)["value_mm"] = "thick"
    looked = look_through(to_json(document))
    assert any(fault.where.endswith("supersedes") for fault in looked.faults[1:])


def test_what_the_rest_stands_on_cannot_be_left_out(document: dict[str, Any]) -> None:
    document["patterns"][0]["revisions"][0]["stations"][0]["diameter_mm"] = -1
    looked = look_through(to_json(document))
    assert looked.document is None
    assert len(looked.faults) == 1


def test_what_is_no_export_is_refused_whole() -> None:
    for given in ("{", '{"benchside": ', b"PK\x03\x04 and no more", b"\xff\xfe"):
        with pytest.raises(NotUnderstood):
            look_through(given)
