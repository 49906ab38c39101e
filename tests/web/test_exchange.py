from __future__ import annotations

import json
import re
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from benchside.job.exchange import export_all, to_json
from benchside.store import readings, sets
from benchside.store.database import Shop, check
from benchside.web.app import create_app
from benchside.web.door import Door
from tests.full_bench import fill, reading

NOW = "2026-03-09T12:00:00.000Z"


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Shop]:
    with closing(Shop(tmp_path / "other.db")) as opened:
        yield opened


def browser_of(shop: Shop) -> TestClient:
    app = create_app(shop, Door(shop, hosts=frozenset({"127.0.0.1"})))
    return TestClient(app, base_url="http://127.0.0.1:8000", headers={"Accept": "text/html"})


@pytest.fixture
def browser(shop: Shop) -> Iterator[TestClient]:
    with browser_of(shop) as client:
        yield client


def test_a_set_is_saved_as_a_file_that_a_browser_keeps(shop: Shop, browser: TestClient) -> None:
    fill(shop)
    reply = browser.get("/sets/1/export.json")
    assert reply.status_code == 200
    assert reply.headers["content-type"] == "application/json"
    assert re.fullmatch(
        r'attachment; filename="benchside-set-1-\d{8}-\d{6}\.json"',
        reply.headers["content-disposition"],
    )
    assert reply.headers["cache-control"] == "no-store"
    assert [s["name"] for s in reply.json()["sets"]] == ["Hall bench"]


def test_everything_saved_and_brought_in_elsewhere_is_the_same(
    shop: Shop, other: Shop, browser: TestClient
) -> None:
    fill(shop)
    file = browser.get("/export.json").content
    with browser_of(other) as there:
        page = there.post("/import", files={"file": ("all.json", file, "application/json")})
    assert page.status_code == 200
    assert "3 sets, 2 patterns, 7 readings" in page.text
    for bench in (shop, other):
        assert len(readings.every(bench, 1)) == 6
    theirs = export_all(other, now=NOW)
    assert theirs["sets"] == json.loads(file)["sets"]
    assert theirs["patterns"] == json.loads(file)["patterns"]


def test_one_set_brought_in_is_shown_at_once(shop: Shop, other: Shop, browser: TestClient) -> None:
    fill(shop)
    text = browser.get("/sets/1/export.json").text
    with browser_of(other) as there:
        reply = there.post("/import", data={"text": text}, follow_redirects=False)
        assert reply.status_code == 303
        assert reply.headers["location"].startswith("/sets/1?brought=")
        page = there.get(reply.headers["location"]).text
        assert "Hall bench" in page
        assert "Brought in, with 6 readings." in page


def test_a_file_brought_in_twice_says_that_it_is_here_already(
    shop: Shop, browser: TestClient
) -> None:
    fill(shop)
    text = browser.get("/sets/1/export.json").text
    page = browser.post("/import", data={"text": text})
    assert "1 set was here already" in page.text
    assert len(sets.listed(shop)) == 2


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "nothing was pasted"),
        ("   ", "nothing was pasted"),
        ("Station,Diameter", "no whole JSON"),
        ("[" * 100_000, "nested too deeply"),
        ('{"benchside": 1, "<b>": 2}', "exported_at: this is missing"),
    ],
)
def test_what_is_no_export_is_told_beside_the_form_and_given_back(
    shop: Shop, browser: TestClient, text: str, said: str
) -> None:
    page = browser.post("/import", data={"text": text})
    assert page.status_code == 422
    assert said in page.text
    assert 'aria-invalid="true"' in page.text
    assert text.replace('"', "&#34;").replace("<", "&lt;").replace(">", "&gt;") in page.text
    assert export_all(shop, now=NOW)["sets"] == []


def test_the_place_that_is_wrong_is_named_and_nothing_is_brought_in(
    shop: Shop, other: Shop
) -> None:
    fill(shop)
    wrong = export_all(shop, now=NOW)
    wrong["sets"][2]["wanted"] = "<script>nine</script>"
    with browser_of(other) as there:
        page = there.post("/import", data={"text": json.dumps(wrong)})
        told = there.post(
            "/import", data={"text": json.dumps(wrong)}, headers={"Accept": "application/json"}
        )
    assert page.status_code == told.status_code == 422
    assert "sets[2].wanted" in page.text
    assert "<script>nine" not in page.text
    assert told.json()["field"] == "sets[2].wanted"
    assert export_all(other, now=NOW)["patterns"] == []


def test_a_file_that_is_no_text_is_told(browser: TestClient) -> None:
    page = browser.post("/import", files={"file": ("a.db", b"SQLite format 3\0\xff\xfe")})
    assert page.status_code == 422
    assert "The file is no text" in page.text


def test_a_long_export_can_be_pasted_whole(shop: Shop, other: Shop) -> None:
    fill(shop)
    with shop.transaction() as db:
        for number in range(1000, 4000):
            readings.add(db, reading(number, taken_at=NOW, received_at=NOW))
    text = to_json(export_all(shop, now=NOW))
    assert len(text) > 1024 * 1024
    with browser_of(other) as there:
        page = there.post("/import", files={"text": (None, text)})
    assert "3007 readings" in page.text


def test_a_script_is_answered_in_json(shop: Shop, browser: TestClient) -> None:
    fill(shop)
    text = browser.get("/export.json").text
    reply = browser.post("/import", data={"text": text}, headers={"Accept": "application/json"})
    assert reply.json() == {
        "sets": 0,
        "patterns": 0,
        "readings": 0,
        "set_ids": [],
        "already_here": ["Hall bench", "Second bench", "Balusters"],
    }


def test_a_backup_downloaded_is_a_sound_database_and_is_remembered(
    shop: Shop, browser: TestClient, tmp_path: Path
) -> None:
    fill(shop)
    assert shop.setting("last_backup_at") is None
    reply = browser.get("/backup")
    assert reply.status_code == 200
    assert re.search(r'filename="benchside-\d{8}-\d{6}\.db"', reply.headers["content-disposition"])
    saved = tmp_path / "saved.db"
    saved.write_bytes(reply.content)
    check(saved)
    assert shop.setting("last_backup_at") is not None
    with closing(Shop(saved)) as copy:
        assert readings.every(copy, 1) == readings.every(shop, 1)


def test_an_unknown_set_has_no_file(browser: TestClient) -> None:
    assert browser.get("/sets/99/export.json").status_code == 404


def test_the_import_page_is_a_plain_form(browser: TestClient) -> None:
    page = browser.get("/import").text
    assert '<form class="card stack" method="post" action="/import"' in page
    assert 'enctype="multipart/form-data"' in page


def test_everything_as_tables_comes_in_elsewhere(
    shop: Shop, other: Shop, browser: TestClient
) -> None:
    fill(shop)
    zipped = browser.get("/export.zip")
    assert zipped.headers["content-type"] == "application/zip"
    with browser_of(other) as there:
        page = there.post("/import", files={"file": ("all.zip", zipped.content)})
    assert page.status_code == 200
    assert len(export_all(other, now=NOW)["sets"]) == len(export_all(shop, now=NOW)["sets"])


def test_rows_that_cannot_be_taken_are_told_and_the_rest_comes_in_when_said_so(
    shop: Shop, other: Shop
) -> None:
    fill(shop)
    wrong = json.loads(to_json(export_all(shop, now=NOW)))
    wrong["sets"][0]["readings"][0]["value_mm"] = -7
    rows = len(wrong["sets"][0]["readings"])
    with browser_of(other) as there:
        page = there.post("/import", data={"text": json.dumps(wrong)})
        assert page.status_code == 422
        assert "sets[0].readings[0].value_mm: -7 does not lie between" in page.text
        assert export_all(other, now=NOW)["sets"] == []
        there.post("/import", data={"text": json.dumps(wrong), "leave_out": "yes"})
    brought = export_all(other, now=NOW)["sets"]
    assert len(brought) == len(wrong["sets"])
    assert len(brought[0]["readings"]) < rows


def test_readings_on_paper_are_looked_at_and_then_taken(shop: Shop, browser: TestClient) -> None:
    fill(shop)
    before = len(readings.every(shop, 1))
    table = "spindle,station,value_mm\n1,swell,24.2\n1,<b>,24.2\n1,swell,3\n"
    looked = browser.post("/sets/1/files", data={"text": table})
    assert "1 row can be taken" in looked.text
    assert "row 3, station:" in looked.text
    assert "&lt;b&gt;" in looked.text
    assert "row 4" in looked.text
    assert len(readings.every(shop, 1)) == before
    taken = browser.post("/sets/1/files", data={"text": table, "take": "good"})
    assert "1 reading was taken" in taken.text
    assert len(readings.every(shop, 1)) == before + 1


def test_a_table_without_the_columns_is_told_and_given_back(
    shop: Shop, browser: TestClient
) -> None:
    fill(shop)
    page = browser.post("/sets/1/files", data={"text": "a,b\n1,2\n"})
    assert page.status_code == 422
    assert "no column spindle" in page.text
    assert "a,b\n1,2" in page.text


def test_the_readings_table_of_a_set_can_be_taken_home_and_comes_back_as_the_same_rows(
    shop: Shop, browser: TestClient
) -> None:
    fill(shop)
    table = browser.get("/sets/1/readings.csv").text
    before = readings.every(shop, 1)
    browser.post("/sets/1/files", data={"text": table, "take": "all"})
    assert readings.every(shop, 1) == before
