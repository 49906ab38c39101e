"""The page of a set as it was made."""

from __future__ import annotations

from dataclasses import replace

from starlette.testclient import TestClient

from benchside.job import turning, wood
from benchside.job.turning import Marked, Taken
from benchside.job.work import work_of
from benchside.store.database import Shop
from tests import shopfloor
from tests.job import fitted_bench
from tests.web.pages import form_fields, text_of

AT = "2026-02-01T08:00:00.000Z"


def test_before_anything_is_turned_it_says_what_will_stand_here(
    shop: Shop, visitor: TestClient
) -> None:
    shopfloor.started(shop)
    assert 'href="/sets/1/as-made"' in visitor.get("/sets/1").text
    said = text_of(visitor.get("/sets/1/as-made").text)
    assert "When the first piece is done and read" in said
    assert visitor.get("/sets/9/as-made").status_code == 404


def test_averages_order_calipers_and_hours_stand_on_one_page(
    shop: Shop, visitor: TestClient
) -> None:
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, (1, 2), scatter=0.0, off_mm={(1, "st7"): 0.2, (2, "st7"): 0.4})
    said = text_of(visitor.get("/sets/1/as-made").text)
    assert "Averages of the 2 pieces done" in said
    assert "Neck at 226 14.0 14.3 0.2 apart +0.3" in said
    assert "28 minutes in all, 14 minutes a piece" in said
    assert "In this order" in said
    assert "caliper A" in said


def test_words_and_mistakes_are_kept_with_the_set(shop: Shop, visitor: TestClient) -> None:
    shopfloor.started(shop)
    page = visitor.post(
        "/sets/1/as-made",
        data={"wood": "white  ash", "bits": "16 mm", "finish": "", "note": "bore first"},
    ).text
    assert "Wood white ash" in text_of(page)
    (fields,) = form_fields(page, "/sets/1/as-made/mistakes")
    mistake = {**fields, "what": "C slipped <b>", "cure": "a spot of wax"}
    for _ in range(2):
        page = visitor.post("/sets/1/as-made/mistakes", data=mistake).text
    assert text_of(page).count("C slipped") == 1
    assert "C slipped &lt;b&gt;" in page
    assert "Cure: a spot of wax" in text_of(page)


def test_what_cannot_be_kept_is_given_back(shop: Shop, visitor: TestClient) -> None:
    shopfloor.started(shop)
    reply = visitor.post("/sets/1/as-made/mistakes", data={"key": "a" * 32, "cure": "wax"})
    assert reply.status_code == 422
    assert "What went wrong?" in text_of(reply.text)
    assert 'value="wax"' in reply.text
    reply = visitor.post("/sets/1/as-made", data={"wood": "x" * 2001})
    assert reply.status_code == 422
    assert "room for 2000" in text_of(reply.text)
    assert visitor.post("/sets/9/as-made", data={"wood": "ash"}).status_code == 404
    assert visitor.post("/sets/9/as-made/mistakes", data={"what": "a"}).status_code == 404


def test_species_and_what_was_learned_of_its_tree_stand_there_if_said(
    shop: Shop, visitor: TestClient
) -> None:
    shopfloor.started(shop)
    assert "Species" not in text_of(visitor.get("/sets/1/as-made").text)
    learned = replace(fitted_bench.ASH, radial_percent=4.6, learned=True)
    for said in (fitted_bench.ASH, learned):
        set_id = fitted_bench.a_set(shop, pieces=0, said=said)
        told = text_of(visitor.get(f"/sets/{set_id}/as-made").text)
        assert "White ash, green at 45 %" in told
        assert f"{said.radial_percent} % along the rays" in told
        assert ("learned of this tree, from" in told) == said.learned


def test_a_set_read_green_says_that_its_averages_are_reckoned_to_dry(
    shop: Shop, visitor: TestClient
) -> None:
    kept = shopfloor.started(shop)
    wood.give(shop, kept.id, wood.Given("white ash", "green", "green", "cold_winters"), at=AT)
    swell = work_of(shop, kept).places["st4"].diameter_mm
    sent = Taken("1" * 32, "st4", f"{swell + 0.3:.2f}", "mm")
    turning.take(shop, kept.id, 1, sent, device_id=None, received_at=AT)
    done = Marked("2" * 32, "done", "done")
    turning.mark(shop, kept.id, 1, done, device_id=None, received_at=AT)
    said = text_of(visitor.get(f"/sets/{kept.id}/as-made").text)
    assert "They were read before they dried" in said
    assert "Of tenons the 0.30 mm for the last cut is taken off." in said
    assert "Swell at 130 22.0 22.3 +0.3" in said


def test_the_bit_of_a_registered_hole_stands_with_the_set(shop: Shop, visitor: TestClient) -> None:
    set_id = fitted_bench.a_set(shop)
    hole = fitted_bench.a_test_hole(shop)
    fitted_bench.a_seat(shop, set_id, replace(fitted_bench.SEAT, test_hole=hole))
    said = text_of(visitor.get(f"/sets/{set_id}/as-made").text)
    assert "Bits the holes were bored with Lip and spur, 12.7 mm: cuts 12.78 mm" in said
