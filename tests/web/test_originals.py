"""An original from its first station to the new part beside it, without scripts."""

from __future__ import annotations

import random
import re

import pytest
from starlette.testclient import TestClient

from benchside.job import sets
from benchside.store import originals, readings
from benchside.store.database import Shop
from tests import shopfloor
from tests.web.pages import text_of

TABLE = {
    "title": "Old leg",
    "note": "from the attic",
    "unit": "mm",
    "datum_end": "tail",
    "pieces": "2",
    "id": ["", "", "", "", ""],
    "at": ["0", "30", "45", "300", ""],
    "name": ["Foot", "Ring", "Belly", "Top", ""],
    "kind": ["tenon", "decorative", "decorative", "decorative", "decorative"],
    "form": ["shoulder", "bead", "taper", "straight", "taper"],
    "do": "save",
}
SIZES = {"s1": "16.0", "s2": "24.0", "crown:s2": "32.0", "s3": "24.0", "s4": "18.0"}


def key_of(page: str) -> str:
    found = re.search(r'name="key" value="([0-9a-f]{32})"', page)
    assert found
    return found[1]


def read(visitor: TestClient, piece: int, **changed: str) -> str:
    path = f"/originals/1/pieces/{piece}"
    figures = {
        f"read {place} {axis}": changed.get(place.replace(":", "_") + axis, size)
        for place, size in SIZES.items()
        for axis in "AB"
    }
    more = {"sure": "1"} if "sure" in changed else {}
    reply = visitor.post(path, data={"key": key_of(visitor.get(path).text), **figures, **more})
    return reply.text


def test_the_first_visit_says_what_will_be_here_and_how_to_begin(visitor: TestClient) -> None:
    page = visitor.get("/originals").text
    assert "worn, bowed and oval" in text_of(page)
    assert 'href="/originals/new"' in page
    assert 'href="/originals/new"' in visitor.get("/patterns/new").text
    assert "If it is bowed, bend a strip of card along it" in visitor.get("/originals/new").text


def test_from_the_stations_by_the_readings_to_a_pattern_and_a_set(
    shop: Shop, visitor: TestClient
) -> None:
    page = visitor.post("/originals/new", data=TABLE).text
    assert "Measure piece 1" in page
    assert "As soon as every station is read" in text_of(page)
    page = read(visitor, 1, s4A="18.6", s4B="17.4")
    said = text_of(page)
    assert "oval by 1.2 mm" in said
    assert "read one way only" not in said
    assert "±0.040 mm" in said
    reply = visitor.post("/originals/1/pattern")
    assert reply.url.path == "/patterns/1"
    assert "Measured from" in text_of(reply.text)
    assert 'href="/originals/1"' in reply.text
    page = visitor.get("/originals/1").text
    assert 'href="/sets/new?pattern=1"' in page
    sets.start(shop, 1, shopfloor.choices(name="New legs"), at=shopfloor.moment(0))
    assert "Made to match" in text_of(visitor.get("/sets/1").text)
    assert "New legs" in visitor.get("/originals/1").text


def test_how_near_the_new_one_came_stands_beside_the_original(
    shop: Shop, visitor: TestClient
) -> None:
    visitor.post("/originals/new", data=TABLE)
    read(visitor, 1)
    visitor.post("/originals/1/pattern")
    kept = sets.start(shop, 1, shopfloor.choices(name="New legs"), at=shopfloor.moment(0))
    rng = random.Random(1)
    with shop.transaction() as db:
        for number, crown in ((1, 35.0), (2, 32.0)):
            for place, size in {**SIZES, "crown:s2": str(crown)}.items():
                at = shopfloor.moment(number)
                readings.add(db, shopfloor.reading(rng, kept, number, place, float(size), at))
            readings.add_mark(db, shopfloor.mark(rng, kept, number, "done", shopfloor.moment(9)))
    page = visitor.get("/originals/1?set=1&piece=1").text
    said = text_of(page)
    assert "off at 1" in said
    assert "Piece 1 of New legs, beside the original" in said
    assert "+3.00 ±0.069 mm ▲ off" in said
    said = text_of(visitor.get("/originals/1?set=1&piece=2").text)
    assert "Piece 2 of New legs, beside the original" in said
    assert "as near as can be seen" in said


def test_several_originals_are_told_apart_where_one_is_worn(visitor: TestClient) -> None:
    visitor.post("/originals/new", data=TABLE)
    read(visitor, 1)
    said = text_of(read(visitor, 2, s3A="22.9", s3B="22.9", sure="1"))
    assert "they differ by 1.1 mm: worn?" in said
    assert "4 readings on 2" in said


def test_a_table_with_something_wrong_is_given_back_as_typed(visitor: TestClient) -> None:
    wrong = {**TABLE, "at": ["0", "thirty", "45", "300", ""], "title": ""}
    reply = visitor.post("/originals/new", data=wrong)
    assert reply.status_code == 422
    assert 'value="thirty"' in reply.text
    said = text_of(reply.text)
    assert "It needs a name" in said
    assert "Row 2:" in said
    assert reply.text.count('aria-invalid="true"') == 2
    more = visitor.post("/originals/new", data={**TABLE, "do": "more"}).text
    assert more.count('name="at"') > reply.text.count('name="at"')
    assert 'value="Belly"' in more


def test_readings_that_cannot_be_are_given_back_beside_their_fields(
    shop: Shop, visitor: TestClient
) -> None:
    visitor.post("/originals/new", data=TABLE)
    read(visitor, 1)
    page = read(visitor, 1, s4A="1.8", s3B="thick")
    assert page.count('aria-invalid="true"') == 2
    assert 'value="thick"' in page
    assert 'value="1.8"' in page
    assert "2 figures to look at; none is kept yet" in text_of(page)
    assert len(originals.every_reading(shop, 1)) == 10


def test_a_slip_is_struck_out_and_taken_back(shop: Shop, visitor: TestClient) -> None:
    visitor.post("/originals/new", data=TABLE)
    read(visitor, 1)
    key = originals.every_reading(shop, 1)[0].key
    page = visitor.post("/originals/1/strike?piece=1", data={"key": key}).text
    assert "<s>16.0</s>" in page
    page = visitor.post("/originals/1/strike?piece=1", data={"key": key, "back": "1"}).text
    assert "<s>" not in page


def test_its_stations_can_be_changed_later(visitor: TestClient) -> None:
    visitor.post("/originals/new", data=TABLE)
    page = visitor.get("/originals/1/edit").text
    assert re.findall(r'name="id" value="(s\d)"', page) == ["s1", "s2", "s3", "s4"]
    changed = {**TABLE, "id": ["s1", "s2", "s3", "s4", ""], "at": ["0", "30", "45", "300", "150"]}
    changed["name"] = ["Foot", "Ring", "Belly", "Top", "Waist"]
    assert "Waist" in visitor.post("/originals/1/edit", data=changed).text
    reply = visitor.post("/originals/1/edit", data={**changed, "pieces": "0"})
    assert reply.status_code == 422


def test_a_pattern_cannot_be_made_before_all_is_read(visitor: TestClient) -> None:
    visitor.post("/originals/new", data=TABLE)
    reply = visitor.post("/originals/1/pattern")
    assert reply.status_code == 422
    assert "Foot has not been read yet" in text_of(reply.text)


@pytest.mark.parametrize(
    "path", ["/originals/9", "/originals/9/edit", "/originals/9/pieces/1", "/originals/1/pieces/3"]
)
def test_what_is_not_there_is_said_to_be_not_there(visitor: TestClient, path: str) -> None:
    visitor.post("/originals/new", data=TABLE)
    assert visitor.get(path).status_code == 404
    assert visitor.post("/originals/9/pattern").status_code == 404
