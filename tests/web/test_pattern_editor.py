"""The table on its page: saved with script or without, drawn as it is typed."""

from __future__ import annotations

import re
from typing import Any

import pytest
from starlette.testclient import TestClient

from benchside.job import patterns, starting
from benchside.store.database import Shop
from tests.web.pattern_forms import opened, typed, values, with_cell

# ------------------------------------------------------------------ saving, script or no script


def test_a_new_pattern_is_kept_and_shown(laptop: TestClient, shop: Shop) -> None:
    form = typed(starting.SHAPES["rung"]("mm"), do="save")
    form["name_of_pattern"] = "Plain rung"
    reply = laptop.post("/patterns/new", data=form)
    assert reply.status_code == 303
    assert patterns.shown(shop, 1).kept.name == "Plain rung"
    assert "Plain rung" in laptop.get(reply.headers["location"]).text


def test_every_mistake_is_told_at_once_and_what_was_typed_is_given_back(
    laptop: TestClient, shop: Shop, bench: int
) -> None:
    form = with_cell(opened(shop, bench), 2, at="banana")
    form = with_cell(form, 4, through="99")
    form = with_cell(form, 6, diameter="NaN")
    reply = laptop.post(f"/patterns/{bench}/edit", data={**form, "do": "save"})
    assert reply.status_code == 422
    assert values(reply.text, "at")[1] == "banana"
    assert values(reply.text, "diameter")[5] == "NaN"
    for row in (2, 4, 6):
        assert f"Row {row}:" in reply.text
    assert reply.text.count('aria-invalid="true"') == 3
    assert patterns.shown(shop, bench).newest == 1


def test_saving_makes_a_revision_once(laptop: TestClient, shop: Shop, bench: int) -> None:
    form = with_cell(opened(shop, bench), 3, diameter="18.5")
    assert laptop.post(f"/patterns/{bench}/edit", data={**form, "do": "save"}).status_code == 303
    assert patterns.shown(shop, bench).newest == 2
    # The same form again, as the browser's Back and a second press would send it.
    again = laptop.post(f"/patterns/{bench}/edit", data={**form, "do": "save"})
    assert patterns.shown(shop, bench).newest == 2
    assert again.status_code == 409


def test_two_tabs_lose_nothing(laptop: TestClient, shop: Shop, bench: int) -> None:
    first = with_cell(opened(shop, bench), 3, diameter="18.5")
    second = with_cell(opened(shop, bench), 3, diameter="17.5")
    laptop.post(f"/patterns/{bench}/edit", data={**first, "do": "save"})
    late = laptop.post(f"/patterns/{bench}/edit", data={**second, "do": "save"})
    assert late.status_code == 409
    assert values(late.text, "diameter")[2] == "17.5"
    assert values(late.text, "newest") == ["2"]
    kept = laptop.post(
        f"/patterns/{bench}/edit", data={**second, "do": "save_anyway", "newest": "2"}
    )
    assert kept.status_code == 303
    assert patterns.shown(shop, bench).pattern.stations[2].diameter_mm == 17.5
    assert patterns.shown(shop, bench, 2).pattern.stations[2].diameter_mm == 18.5


def test_a_late_table_can_be_kept_as_its_own_pattern(
    laptop: TestClient, shop: Shop, bench: int
) -> None:
    form = {**with_cell(opened(shop, bench), 3, diameter="17"), "do": "save_apart"}
    reply = laptop.post(f"/patterns/{bench}/edit", data=form)
    assert reply.headers["location"] == "/patterns/2"


@pytest.mark.parametrize(
    ("button", "rows"),
    [("add:2", 9), ("copy:2", 9), ("delete:2", 7), ("up:2", 8), ("down:2", 8), ("mirror", 8)],
)
def test_without_script_each_button_gives_the_table_back_changed_and_unsaved(
    laptop: TestClient, shop: Shop, bench: int, button: str, rows: int
) -> None:
    page = laptop.post(f"/patterns/{bench}/edit", data={**opened(shop, bench), "do": button})
    assert page.status_code == 200
    assert len(values(page.text, "at")) == rows
    assert patterns.shown(shop, bench).newest == 1


def test_without_script_undo_goes_back_step_by_step(
    laptop: TestClient, shop: Shop, bench: int
) -> None:
    def press(form: dict[str, Any], button: str, before: str) -> str:
        data = {**form, "do": button, "before": before}
        return laptop.post(f"/patterns/{bench}/edit", data=data).text

    form = opened(shop, bench)
    once = press(form, "delete:2", "")
    twice = press(with_rows(form, once), "delete:2", values(once, "before")[0])
    assert len(values(twice, "at")) == 6
    back = press(with_rows(form, twice), "undo", values(twice, "before")[0])
    assert values(back, "at") == values(once, "at")
    first = press(with_rows(form, back), "undo", values(back, "before")[0])
    assert values(first, "at") == form["at"]


def with_rows(form: dict[str, Any], page: str) -> dict[str, Any]:
    """The form as the page came back."""
    body = re.sub(r"<template.*?</template>", "", page, flags=re.DOTALL)
    names = ("id", "at", "diameter", "name", "tolerance", "position_tolerance", "through", "called")
    chosen = {
        name: re.findall(
            r'value="(\w+)" selected',
            "".join(re.findall(rf'<select[^>]*name="{name}".*?</select>', body, re.DOTALL)),
        )
        for name in ("kind", "form")
    }
    return {**form, **{name: values(page, name) for name in names}, **chosen}


@pytest.mark.parametrize("before", ["{", "[1]", "[[]]", "9" * 5000, "[" * 100_000, '[["a","b"]]'])
def test_a_memory_of_steps_that_was_tampered_with_is_forgotten(
    laptop: TestClient, shop: Shop, bench: int, before: str
) -> None:
    data = {**opened(shop, bench), "do": "undo", "before": before}
    reply = laptop.post(f"/patterns/{bench}/edit", data=data)
    assert reply.status_code == 200
    assert values(reply.text, "at") == opened(shop, bench)["at"]


@pytest.mark.parametrize(
    "cells",
    [
        {"at": "1e9"},
        {"diameter": "🙂" * 10},
        {"name": "x" * 10_000},
        {"diameter": "7" * 10_000},
        {"kind": "hexagon"},
        {"form": "spiral"},
        {"tolerance": "-0.4"},
        {"through": "NaN", "form": "bead"},
    ],
)
def test_absurd_cells_are_refused_and_nothing_is_saved(
    laptop: TestClient, shop: Shop, bench: int, cells: dict[str, str]
) -> None:
    form = with_cell(opened(shop, bench), 3, **cells)
    reply = laptop.post(f"/patterns/{bench}/edit", data={**form, "do": "save"})
    assert reply.status_code == 422
    assert "Row 3:" in reply.text
    assert patterns.shown(shop, bench).newest == 1


def test_thousands_of_rows_are_refused_with_a_sentence(laptop: TestClient, shop: Shop) -> None:
    form = {
        name: column * 2500
        for name, column in typed(starting.SHAPES["ends"]("mm")).items()
        if isinstance(column, list)
    }
    reply = laptop.post("/patterns/new", data={**form, "name_of_pattern": "Long", "do": "save"})
    assert reply.status_code == 422
    assert "5000 rows" in reply.text
    assert patterns.listed(shop) == ()


def test_a_form_that_did_not_arrive_whole_is_refused(
    laptop: TestClient, shop: Shop, bench: int
) -> None:
    form = opened(shop, bench)
    for broken in (
        {},
        {**form, "at": form["at"][:-1]},
        {**form, "base": "x"},
        {**form, "base": str(2**70)},
        {**form, "base": "9"},
    ):
        reply = laptop.post(f"/patterns/{bench}/edit", data={**broken, "do": "save"})
        assert reply.status_code in (404, 422)
    assert patterns.shown(shop, bench).newest == 1


# ------------------------------------------------------------------ the live half


def draw(laptop: TestClient, form: dict[str, Any]) -> Any:
    reply = laptop.post("/patterns/draw", data=form, headers={"Accept": "application/json"})
    assert reply.status_code == 200
    return reply.json()


def test_the_live_drawing_tells_what_follows_from_the_table(
    laptop: TestClient, shop: Shop, bench: int
) -> None:
    found = draw(laptop, opened(shop, bench))
    assert found["problems"] == []
    assert "<svg" in found["drawing"]
    assert "Half way, at 102.65 mm: 20.5 mm thick" in found["after"][1]  # the mean of 22 and 19
    assert "Check it too at" in found["after"][4]
    assert found["rows"] is None


def test_the_live_drawing_waits_while_a_cell_makes_no_sense(
    laptop: TestClient, shop: Shop, bench: int
) -> None:
    found = draw(laptop, with_cell(opened(shop, bench), 3, at="bana"))
    assert found["drawing"] is None
    assert [(p["row"], p["field"]) for p in found["problems"]] == [(3, "at")]


def test_a_row_button_is_answered_with_the_rows(laptop: TestClient, shop: Shop, bench: int) -> None:
    found = draw(laptop, {**opened(shop, bench), "do": "add:1"})
    assert len(found["rows"]) == 9
    assert patterns.shown(shop, bench).newest == 1


def test_turning_inches_on_shows_fractions_where_they_are_exact(
    laptop: TestClient, shop: Shop, bench: int
) -> None:
    found = draw(laptop, {**opened(shop, bench), "do": "unit:in"})
    assert found["unit"] == "in"
    assert found["rows"][0]["diameter"] == "5/8"


def test_a_refused_button_is_answered_in_json(laptop: TestClient, shop: Shop, bench: int) -> None:
    reply = laptop.post(
        "/patterns/draw",
        data={**opened(shop, bench), "do": "burn:1"},
        headers={"Accept": "application/json"},
    )
    assert reply.status_code == 422
    assert set(reply.json()) == {"field", "message", "hint"}
