"""Readings of a set that come as a table."""

from __future__ import annotations

import pytest

from benchside.errors import NotFound, NotUnderstood
from benchside.job.exchange import readings_file
from benchside.store import readings
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet

NOW = "2026-03-02T16:00:00.000Z"


def tried(shop: Shop, kept: SpindleSet, text: str) -> readings_file.Tried:
    return readings_file.try_out(shop, kept.id, text, now=NOW)


def test_rows_are_looked_at_before_any_is_kept(shop: Shop, kept: SpindleSet) -> None:
    found = tried(shop, kept, "spindle,station,value_mm\n1,Swell,22.1\n2,swell,21.9\n")
    assert len(found.good) == 2
    assert readings.every(shop, kept.id) == []
    assert readings_file.take(shop, kept.id, found, asked_too=False, now=NOW) == 2
    assert [(r.spindle, r.station_id, r.value_mm) for r in readings.every(shop, kept.id)] == [
        (1, "st4", 22.1),
        (2, "st4", 21.9),
    ]


def test_the_same_table_twice_is_kept_once(shop: Shop, kept: SpindleSet) -> None:
    for _ in range(2):
        found = tried(shop, kept, "spindle,station_id,value_mm\n1,st4,22.1\n1,st4,22.1\n")
        readings_file.take(shop, kept.id, found, asked_too=False, now=NOW)
    assert len(readings.every(shop, kept.id)) == 2


def test_each_row_that_cannot_be_taken_is_told_by_its_number(shop: Shop, kept: SpindleSet) -> None:
    text = (
        "piece;station;value;colour\n"
        "1;Swell;22,1;red\n"
        "99;Swell;22;\n"
        "one;Swell;22;\n"
        "1;Nowhere;22;\n"
        "1;Swell;thick;\n"
        "1;Swell;;\n"
    )
    found = tried(shop, kept, text)
    assert [candidate.taken.typed for candidate in found.good] == ["22,1"]
    assert [fault.where.partition(",")[0] for fault in found.faults] == [
        f"row {n}" for n in range(3, 8)
    ]
    assert found.unknown == ("colour",)


def test_a_surprising_figure_is_asked_about_and_kept_when_it_is_meant(
    shop: Shop, kept: SpindleSet
) -> None:
    found = tried(shop, kept, "spindle,station,value_in\n1,Swell,0.5\n")
    assert found.good == ()
    assert len(found.asked) == 1
    assert readings_file.take(shop, kept.id, found, asked_too=False, now=NOW) == 0
    assert readings_file.take(shop, kept.id, found, asked_too=True, now=NOW) == 1
    assert readings.every(shop, kept.id)[0].value_mm == pytest.approx(12.7)


def test_what_is_no_table_of_readings_is_refused(shop: Shop, kept: SpindleSet) -> None:
    for text in ("", "spindle,value_mm\n1,22\n", "a,b\n1,2\n", "spindle,station\n1,Swell\n"):
        with pytest.raises(NotUnderstood):
            tried(shop, kept, text)
    with pytest.raises(NotFound):
        readings_file.try_out(shop, 999, "spindle,station,value_mm\n", now=NOW)
