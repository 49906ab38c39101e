"""The turn page as it travels, and what a browser without script sends from it."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
from starlette.testclient import TestClient

from benchside.job import boards, origin, sets
from benchside.job.board_table import BoardTold
from benchside.job.demo import load_demo
from benchside.resources import seed_dir
from benchside.store import readings, stock
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet
from benchside.web.turn import NAMED_AHEAD
from tests import shopfloor
from tests.web.pages import browsing, text_of
from tests.web.test_wood import FORM

AT = "2026-01-05T08:00:00.000Z"
MOST_BYTES = 14 * 1024  # a later page, headers included
HEADERS_BYTES = 500  # about what a reply's headers weigh
MOST_READ_BYTES = MOST_BYTES + HEADERS_BYTES  # a piece opened again with every reading taken


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    opened = shopfloor.open_shop(tmp_path_factory.mktemp("turn"))
    load_demo(opened, seed_dir(), "2026-01-31T08:00:00.000Z")
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def browser(shop: Shop) -> Iterator[TestClient]:
    yield from browsing(shop)


def weight(browser: TestClient, path: str) -> int:
    """What a page weighs on its way to a phone."""
    reply = browser.get(path, headers={"Accept-Encoding": "gzip"})
    assert reply.status_code == 200
    assert reply.headers["content-encoding"] == "gzip"
    return int(reply.headers["content-length"]) + HEADERS_BYTES


@pytest.mark.parametrize("path", ["/sets/1/turn/7", "/sets/2/turn/1"])
def test_the_demos_pieces_leave_room_on_the_page(browser: TestClient, path: str) -> None:
    assert weight(browser, path) < MOST_BYTES - 1500


def test_the_piece_on_the_lathe_is_named_with_its_blank(shop: Shop, browser: TestClient) -> None:
    said = re.findall(r"<p[^>]* data-blank( hidden)?>(.*?)</p>", browser.get("/sets/1/turn/7").text)
    assert said == [("", "From blank 7, White ash board, 1500 mm from the left end.")]
    found = origin.origins(shop, 1).get(7)
    assert found is not None
    assert found.blank.label == 7


def blanked(shop: Shop, kept: SpindleSet) -> None:
    """Every piece of a set from a blank, all over two boards."""
    clear = BoardTold(length="2500", width="200", thickness="40", kerf="3.2")
    ids = [
        boards.keep_board(shop, None, replace(clear, name=name), key=key, at=AT)
        for name, key in (("White oak", "1" * 32), ("Second oak", "2" * 32))
    ]
    sawn = [
        stock.KeptBlank(
            label=number,
            spindle=number,
            board_id=ids[number % 2],
            log_id=None,
            at_mm=53.7 * number,
            across_mm=0.0,
            deep_mm=0.0,
            length_mm=900.0,
            side_mm=45.0,
            turned_deg=0.0,
            ring_deg=None,
            sawn_at=AT,
        )
        for number in range(1, 41)
    ]
    with shop.transaction() as db:
        stock.keep_blanks(db, kept.id, sawn)


@pytest.mark.parametrize("unit", ["mm", "in/64"])
def test_a_piece_of_twenty_five_stations_in_a_set_of_forty_is_light(
    shop: Shop, browser: TestClient, unit: str
) -> None:
    pattern = shopfloor.landing_baluster()
    assert len(pattern.stations) == 25
    kept = shopfloor.started(shop, pattern, name=f"In {unit}", wanted=38, spares=2, unit=unit)
    blanked(shop, kept)
    shopfloor.turn(shop, kept, [1, 2])
    page = browser.get(f"/sets/{kept.id}/turn/3").text
    assert page.count('<section class="step') > 30, "too light to be true"
    read = browser.get(f"/sets/{kept.id}/turn/2").text
    assert read.count('class="verdict"') >= 60, "too light to be true"
    assert weight(browser, f"/sets/{kept.id}/turn/3") < MOST_BYTES
    assert weight(browser, f"/sets/{kept.id}/turn/2") < MOST_READ_BYTES
    assert page.count("from the left end") == 1 + NAMED_AHEAD
    later = browser.get(f"/sets/{kept.id}/turn/39", headers={"Accept": "application/json"}).json()
    assert later["blank"].startswith("39, Second oak, ")


def keys_of(page: str) -> set[str]:
    return set(re.findall(r'name="key" value="([0-9a-f]{32})"', page))


def test_a_correction_names_its_reading_by_the_handle_on_the_page(
    shop: Shop, browser: TestClient
) -> None:
    kept = shopfloor.started(shop)
    where = {"station_id": "st4", "kind": "diameter", "phase": "final"}
    first, later, right = ("0123456789abcdef" * 2, "0fedcba987654321" * 2, "ab" * 16)
    for key, value in ((first, "22.1"), (later, "22.3")):
        sent = browser.post(
            f"/sets/{kept.id}/pieces/1/reading", data={**where, "key": key, "value": value}
        )
        assert sent.status_code == 303
    page = browser.get(f"/sets/{kept.id}/turn/1").text
    assert f'data-readings="{later[:4]}"' in page  # the one that stands
    for _ in range(2):
        browser.post(
            f"/sets/{kept.id}/pieces/1/reading",
            data={**where, "key": right, "value": "22", "supersedes": first[:4]},
        )
    assert {r.key: r.supersedes for r in readings.every(shop, kept.id)} == {
        first: None,
        later: None,
        right: first,
    }


def test_the_list_of_all_steps_ticks_the_final_readings_without_script(
    shop: Shop, browser: TestClient
) -> None:
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])

    def tick(number: int) -> str:
        page = browser.get(f"/sets/{kept.id}/turn/{number}").text
        found = re.search(r"<li data-finals>.*?data-tick>(.)</span><span>Final", page)
        assert found
        return found[1]

    assert (tick(1), tick(2)) == ("✓", "·")


def test_skipping_the_rest_says_what_needs_those_readings(shop: Shop, browser: TestClient) -> None:
    kept = shopfloor.started(shop)
    page = browser.get(f"/sets/{kept.id}/turn/1").text
    asked = page[page.index('id="skip-rest"') :]
    assert "is not chosen from" in asked
    assert "dry sizes" not in asked
    browser.post(f"/sets/{kept.id}/wood", data=FORM)
    page = browser.get(f"/sets/{kept.id}/turn/1").text
    assert "Its dry sizes" in page[page.index('id="skip-rest"') :]


def test_a_list_sent_twice_is_kept_once(shop: Shop, browser: TestClient) -> None:
    kept = shopfloor.started(shop)
    (key,) = keys_of(browser.get(f"/sets/{kept.id}/turn/1").text)
    form = {
        "key": key,
        "stage": "",
        "final:st4": "22.1",
        "final:st1": "12.7",
        "final:st1/B": "12,8",
    }
    for _ in range(2):
        reply = browser.post(f"/sets/{kept.id}/pieces/1/readings", data=form)
        assert (reply.status_code, reply.headers["location"]) == (
            303,
            f"/sets/{kept.id}/turn/1#readings",
        )
    taken = {(r.station_id, r.axis, r.typed) for r in readings.every(shop, kept.id)}
    assert taken == {("st4", "none", "22.1"), ("st1", "A", "12.7"), ("st1", "B", "12,8")}
    assert len(readings.every(shop, kept.id)) == 3


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("1e9", "not a length"),
        ("", None),
        ("🪵", "not a length"),
        ("9" * 10_000, ""),
        ("-3", ""),
        ("0", ""),
    ],
)
def test_what_cannot_be_a_reading_is_given_back_in_the_list(
    shop: Shop, browser: TestClient, typed: str, said: str | None
) -> None:
    kept = shopfloor.started(shop)
    (key,) = keys_of(browser.get(f"/sets/{kept.id}/turn/1").text)
    reply = browser.post(
        f"/sets/{kept.id}/pieces/1/readings", data={"key": key, "final:st4": typed}
    )
    assert readings.every(shop, kept.id) == []
    if said is None:
        assert reply.status_code == 303
        return
    assert 400 <= reply.status_code < 500
    row = reply.text[reply.text.index('name="final:st4"') :].partition("</li>")[0]
    assert 'aria-invalid="true"' in row
    assert 'class="problem"' in row
    assert said in row


def test_a_list_without_its_key_is_not_kept(shop: Shop, browser: TestClient) -> None:
    kept = shopfloor.started(shop)
    reply = browser.post(f"/sets/{kept.id}/pieces/1/readings", data={"final:st4": "22"})
    assert reply.status_code == 422
    assert readings.every(shop, kept.id) == []


@pytest.mark.parametrize(
    ("go", "stage", "leads_to"),
    [
        ("step mount", "", "/turn/1#rough"),
        ("touched_up mount", "", "/turn/1#mount"),
        ("touched_up ", "", "/turn/1#more"),
        ("caliper_dropped B", "", "/turn/1#more"),
        ("caliper_checked ", "", "/turn/1#"),  # all of them, at the start of the piece
        ("step form:st5", "", "/turn/1#run:st3"),
        ("skip final", "", "/turn/1#done"),
        ("withdrawn 0123456789abcdef0123456789abcdef", "", "/turn/1#readings"),
        ("step final:st1", "", "/turn/1#readings"),
        ("step rough", "rough", "/turn/1?stage=rough#rough"),
        ("done done", "", "/turn?after=1"),
    ],
)
def test_a_big_button_leads_to_the_next_step(
    shop: Shop, browser: TestClient, go: str, stage: str, leads_to: str
) -> None:
    kept = shopfloor.started(shop)
    (key,) = keys_of(browser.get(f"/sets/{kept.id}/turn/1").text)
    data = {"key": key, "stage": stage, "go": go}
    reply = browser.post(f"/sets/{kept.id}/pieces/1/mark", data=data)
    assert reply.headers["location"] == f"/sets/{kept.id}{leads_to}"
    (mark,) = readings.marks(shop, kept.id)
    what, _, where = go.partition(" ")
    whole, about = what.startswith("caliper"), what.startswith(("caliper", "withdrawn"))
    said = ("", where) if about else (where, "")
    assert (mark.what, mark.step_id, mark.about) == (what, *said)
    assert mark.spindle == (None if whole else 1)


@pytest.mark.parametrize(("end", "far"), [("tail", "the tail"), ("drive", "the drive")])
def test_a_distance_is_called_by_the_end_it_is_measured_from_wherever_it_is_read(
    shop: Shop, browser: TestClient, end: str, far: str
) -> None:
    pattern = replace(shopfloor.back_spindle(), name=f"From {end}", datum_end=end)
    kept = shopfloor.started(shop, pattern)
    place = shopfloor.reading(
        random.Random(end), kept, 1, "st5", 200.3, shopfloor.moment(1), kind="position"
    )
    with shop.transaction() as db:
        readings.add(db, place)
    page = browser.get(f"/sets/{kept.id}/turn/1").text
    other = {"tail": "drive", "drive": "tail"}[end]
    assert f"First bead, distance from {far}" in text_of(page.split("data-latest")[1])
    assert f"First bead, distance from {far}" in text_of(page.split('id="readings"')[1])
    assert f"distance from the {other}" not in page


def test_setting_out_says_where_line_0_lies_on_a_longer_blank(shop, browser):
    kept = shopfloor.started(shop)
    page = text_of(browser.get(f"/sets/{kept.id}/turn/1").text)
    assert "Line 0 first, 6 mm from the blank's tail end: waste beyond it." in page


def test_a_set_that_grew_after_a_practice_piece_has_no_spare_among_those_wanted(shop, browser):
    kept = shopfloor.started(shop, wanted=3, spares=1)
    assert sets.practice_piece(shop, kept.id) == 5
    sets.settle(shop, kept.id, replace(kept.choices, wanted=5))
    for number, called in ((1, "Piece 1 of 6"), (6, "Piece 6 of 6"), (7, "Spare piece 7")):
        assert called in text_of(browser.get(f"/sets/{kept.id}/turn/{number}").text)
        on_its_page = called.partition(" of")[0]
        assert f" {on_its_page} " in text_of(browser.get(f"/sets/{kept.id}/pieces/{number}").text)
