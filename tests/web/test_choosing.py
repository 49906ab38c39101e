"""The page that chooses and places, its pins, and the page of times."""

from __future__ import annotations

import re

import pytest

from benchside.store import judging, readings
from benchside.store.readings import Mark
from tests import shopfloor
from tests.web.pages import text_of


def test_before_two_are_turned_the_page_says_what_will_be_here(shop, browser):
    kept = shopfloor.started(shop)
    page = text_of(browser.get(f"/sets/{kept.id}/choose").text)
    assert "Here the pieces that go together best will stand" in page


def test_of_a_set_half_done_it_is_told_how_many_are_missing(shop, browser):
    kept = shopfloor.started(shop, wanted=5, spares=1)
    shopfloor.turn(shop, kept, [1, 2])
    page = text_of(browser.get(f"/sets/{kept.id}/choose").text)
    assert "Three of the five wanted are still missing: these are the two turned" in page


def test_the_best_are_drawn_in_their_order_with_a_list_behind(shop, browser):
    kept = shopfloor.started(shop, wanted=4, spares=2)
    shopfloor.turn(shop, kept, range(1, 7), off_mm={(2, "st7"): -0.9})
    html = browser.get(f"/sets/{kept.id}/choose").text
    page = text_of(html)
    assert "The best four of six" in page
    assert "The next best takes" in page
    assert html.count('class="drawing back"') >= 1
    assert re.search(r"Piece 2 ?: [01]\.\d mm thinner than the chosen at Neck", page)
    assert 'href="/sets/1/choose?of=5"' in html


def test_another_number_can_be_chosen_by_link_and_nonsense_is_refused(shop, browser):
    kept = shopfloor.started(shop, wanted=4, spares=2)
    shopfloor.turn(shop, kept, range(1, 7))
    assert "The best three of six" in text_of(browser.get(f"/sets/{kept.id}/choose?of=3").text)
    for nonsense in ("0", "-1", "many", "1e9", "½", "9" * 40):
        assert browser.get(f"/sets/{kept.id}/choose?of={nonsense}").status_code == 422


def test_a_pin_is_set_and_taken_out_by_plain_forms(shop, browser):
    kept = shopfloor.started(shop, wanted=4, spares=2)
    shopfloor.turn(shop, kept, range(1, 7))
    path = f"/sets/{kept.id}/choose/pins"
    reply = browser.post(path, data={"spindle": "2", "place": "1", "what": "pin", "of": ""})
    assert reply.headers["location"] == f"/sets/{kept.id}/choose#pins"
    assert "Piece 2 stands at place 1 from the left" in text_of(
        browser.get(f"/sets/{kept.id}/choose").text
    )
    browser.post(path, data={"spindle": "2", "what": "free"})
    assert judging.pins(shop, kept.id) == []


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"spindle": "", "place": ""}, "Which piece?"),
        ({"spindle": "99", "place": ""}, "has no piece 99"),
        ({"spindle": "1", "place": "40"}, "from the left, not 40"),
        ({"spindle": "1", "place": "<b>"}, "Which place?"),
    ],
)
def test_a_pin_that_cannot_be_is_said_beside_its_field_and_not_kept(shop, browser, typed, says):
    kept = shopfloor.started(shop, wanted=4, spares=2)
    shopfloor.turn(shop, kept, range(1, 7))
    reply = browser.post(f"/sets/{kept.id}/choose/pins", data=typed)
    assert reply.status_code in (404, 422)
    assert says in text_of(reply.text)
    assert 'aria-invalid="true"' in reply.text
    assert judging.pins(shop, kept.id) == []


def test_the_times_are_told_with_what_is_still_to_come(shop, browser):
    kept = shopfloor.started(shop)
    page = text_of(browser.get(f"/sets/{kept.id}/time").text)
    assert "Here the minutes of every piece will stand" in page
    shopfloor.turn(shop, kept, range(1, 6), minutes_each=14)
    page = text_of(browser.get(f"/sets/{kept.id}/time").text)
    assert "The four still to turn will take about" in page
    assert "Final readings" in page


def test_what_takes_less_than_a_minute_is_not_told_as_none(shop, browser):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 6), minutes_each=0.1)
    page = text_of(browser.get(f"/sets/{kept.id}/time").text)
    assert "The four still to turn will take less than a minute" in page
    assert "about 0 min" not in page


def test_a_slow_piece_is_named_with_what_it_makes_of_the_forecast(shop, browser):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 6), minutes_each=14)
    shopfloor.turn(shop, kept, [6], minutes_each=45, seed=8)
    for path in ("time", "review"):
        page = text_of(browser.get(f"/sets/{kept.id}/{path}").text)
        assert "At the usual 14 min each, the three still to turn take about 4" in page, path
        assert re.search(
            r"Piece 6 took 4\d min: if that can come again, nobody can say it closer than"
            r" \d+ min to [\d.]+ (min|hours)\. Breaks not counted",
            page,
        ), path


def test_three_pieces_with_a_slow_one_promise_nothing(shop, browser):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1, 2], minutes_each=14)
    shopfloor.turn(shop, kept, [3], minutes_each=45, seed=8)
    page = text_of(browser.get(f"/sets/{kept.id}/time").text)
    assert "if that can come again, nobody can say it yet. Breaks not counted" in page


def withdrawn(shop, kept, number, *places):
    """Take back what was read of a piece at some places."""
    gone = [r for r in readings.standing(shop, kept.id, number) if r.station_id in places]
    at = shopfloor.moment(600)
    with shop.transaction() as db:
        for r in gone:
            key = f"{int(r.key, 16) ^ 1:032x}"
            readings.add_mark(db, Mark(key, kept.id, number, "withdrawn", "", r.key, "", at, at))


def test_the_pieces_left_out_are_named_at_the_top_with_what_they_miss(shop, browser):
    kept = shopfloor.started(shop, wanted=6, spares=6)
    shopfloor.turn(shop, kept, range(1, 13))
    page = text_of(browser.get(f"/sets/{kept.id}/choose").text)
    assert "Not chosen from" not in page
    assert "is judged without" not in page
    withdrawn(shop, kept, 2, "st7", "st8")
    withdrawn(shop, kept, 7, "st7")
    withdrawn(shop, kept, 3, "st4", "st7")
    page = text_of(browser.get(f"/sets/{kept.id}/choose").text)
    top, rest = page.split("They differ most at")
    told = "read at two places or more: piece 2 , not at Neck and one more; piece 3 , not at Swell"
    assert f"{told} and one more." in top
    assert "Piece 7 is judged without Neck, not read on it." in top
    assert "Piece 3 : not at Swell and one more" in rest.split("Not measured at two")[1]
    for number in (4, 5, 6):
        withdrawn(shop, kept, number, "st7", "st8")
    top = text_of(browser.get(f"/sets/{kept.id}/choose").text).split("They differ most at")[0]
    assert "piece 5 , not at Neck and one more; and one more ." in top
    assert "piece 6" not in top


def test_choosing_all_there_are_says_what_the_review_says_of_them(shop, browser):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 7), off_mm={(5, "st7"): -0.9})
    assert "Six turned. Five go together well." in text_of(
        browser.get(f"/sets/{kept.id}/review").text
    )
    page = text_of(browser.get(f"/sets/{kept.id}/choose").text)
    assert "The six there are, in their places" in page
    assert "Five of them go together well; 5 stands here because there are no others." in page


def test_a_set_that_is_not_there_is_not_found(browser):
    for path in ("/sets/9/choose", "/sets/9/time"):
        assert browser.get(path).status_code == 404
