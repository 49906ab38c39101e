"""The review's pages: what they say, that they hold forty pieces, and how much they weigh."""

from __future__ import annotations

import gzip
import random
import re

import pytest

from benchside.job import measuring
from benchside.pattern import places
from benchside.store import readings
from tests import shopfloor
from tests.web.pages import text_of

MOST_BYTES = 14 * 1024  # of a later page for a set of up to forty pieces: ours


def test_a_set_never_read_says_what_will_be_here(shop, browser):
    kept = shopfloor.started(shop)
    page = browser.get(f"/sets/{kept.id}/review").text
    assert "Here the pieces will stand side by side" in page
    assert "Turn piece 1" in page
    assert "The final readings of every piece will stand here" in text_of(
        browser.get(f"/sets/{kept.id}/review/table").text
    )


def test_the_headline_and_what_stands_out_are_said_in_words(shop, browser):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 7), off_mm={(5, "st7"): -0.7})
    page = text_of(browser.get(f"/sets/{kept.id}/review").text)
    assert "Six turned. Five go together well." in page
    assert re.search(r"Piece 5 is the odd one at Neck: 0\.\d mm under the rest", page)
    assert "6 of 9 done, about 14 min each" in page
    assert "the curves between the stations" in page


@pytest.mark.parametrize(
    ("pieces", "says"),
    [(1, "One turned. It lies within its limits."), (2, "Two turned. Both go together well.")],
)
def test_few_pieces_are_spoken_of_as_few(shop, browser, pieces, says):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, pieces + 1))
    page = text_of(browser.get(f"/sets/{kept.id}/review").text)
    assert says in page
    assert "With so few pieces that says little yet" in page


def test_a_set_alike_but_not_what_was_drawn_is_told_so(shop, browser):
    kept = shopfloor.started(shop)
    full = {(n, "st4"): 1.5 for n in range(1, 6)}
    shopfloor.turn(shop, kept, range(1, 6), scatter=0.02, off_mm=full)
    page = text_of(browser.get(f"/sets/{kept.id}/review").text)
    assert "All go together well" in page
    assert "The whole set is 1.5 mm over the pattern at Swell" in page


def test_a_creeping_station_names_the_caliper_and_stands_first_as_a_chart(shop, browser):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 7), scatter=0.02, drift_mm={"crown:st5": 0.2})
    page = text_of(browser.get(f"/sets/{kept.id}/review").text)
    assert re.search(r"First bead, crown creeps up: 0\.2\d mm a piece since piece [23]", page)
    assert re.search(
        r"Check caliper [A-C] on its gauge, then the edge\. Then aim for 22\.\d mm", page
    )
    assert "of twenty sets in which nothing moves, one is told this without cause" in page
    assert "First bead, crown, in order of turning" in page


def test_the_chart_names_the_pieces_that_do_not_keep_with_the_others(shop, browser):
    kept = shopfloor.started(shop, wanted=9, spares=0)
    shopfloor.turn(shop, kept, range(1, 10), scatter=0.05, off_mm={(4, "st7"): 1.5})
    page = text_of(browser.get(f"/sets/{kept.id}/review/st7").text)
    assert "dotted lines; 4 does not. Luck alone does that on 2 in 100 such charts. Spread" in page
    page = text_of(browser.get(f"/sets/{kept.id}/review/st4").text)
    assert "dotted lines. Spread" in page


def test_a_chart_of_which_one_half_lies_high_says_so(shop, browser):
    kept = shopfloor.started(shop, wanted=20, spares=0)
    high = {(n, "st7"): 0.5 for n in range(11, 21)}
    shopfloor.turn(shop, kept, range(1, 21), scatter=0.2, off_mm=high)
    page = text_of(browser.get(f"/sets/{kept.id}/review/st7").text)
    assert re.search(r"dotted lines; (\d+, )*\d+ and \d+ do not\. Eight or more in a row", page)
    assert "Luck alone does that on 6 in 100 such charts." in page
    high = {(n, "st7"): 1.2 for n in range(11, 21)}
    wide = shopfloor.started(shop, wanted=20, spares=0)
    shopfloor.turn(shop, wide, range(1, 21), scatter=0.05, off_mm=high)
    page = text_of(browser.get(f"/sets/{wide.id}/review/st7").text)
    assert "dotted lines; 20 of these do not." in page


def test_one_chart_at_a_time_chosen_by_link(shop, browser):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 5))
    page = browser.get(f"/sets/{kept.id}/review").text
    links = re.findall(rf'href="(/sets/{kept.id}/review/[^"#]+)#chart"', page)
    assert len(links) == 19
    for link in links:
        page = browser.get(link).text
        assert page.count('class="drawing chart"') == 1
        assert 'aria-current="true"' in page
    assert browser.get(f"/sets/{kept.id}/review/nowhere").status_code == 404


def test_differences_are_told_over_and_under_by_shape_and_sign(shop, browser):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1, 2, 3], scatter=0.02, off_mm={(1, "st7"): 0.6, (2, "st7"): -0.6})
    page = browser.get(f"/sets/{kept.id}/review").text
    assert re.search(r'<td class="over">▲ \+0\.\d</td><td class="under">▼ −0\.\d</td>', page)


@pytest.mark.parametrize("unit", ["in", "in/16", "in/64"])
def test_an_inch_set_shows_differences_in_thousandths_for_a_sixteenth_would_hide_them(
    shop, browser, unit
):
    kept = shopfloor.started(shop, unit=unit)
    shopfloor.turn(shop, kept, [1, 2, 3], scatter=0.02, off_mm={(2, "st7"): -0.6})
    page = browser.get(f"/sets/{kept.id}/review").text
    # 0.6 mm is 0.0236 in [@yard-pound-1959].
    assert re.search(r"▼ −0\.02\d</td>", page)


def test_practice_and_spoiled_pieces_are_named_apart(shop, browser):
    kept = shopfloor.started(shop, wanted=2, spares=0)
    browser.post(f"/sets/{kept.id}/practice")
    shopfloor.turn(shop, kept, [1, 3])
    page = text_of(browser.get(f"/sets/{kept.id}/review").text)
    assert "One turned." in page
    assert "Not counted here: piece 3 (practice)" in page


@pytest.mark.slow
def test_every_page_of_a_set_of_forty_stays_light(shop, browser):
    kept = shopfloor.started(shop, wanted=40, spares=0)
    shopfloor.turn(shop, kept, range(1, 41), scatter=0.5)
    paths = (
        "",
        "/review",
        "/review/table",
        "/review/st7",
        "/choose",
        "/time",
        "/pieces/7",
        "/steps",
        "/settings",
    )
    weights = {
        path: len(gzip.compress(browser.get(f"/sets/{kept.id}{path}").content, 6)) for path in paths
    }
    assert {path: weight for path, weight in weights.items() if weight > MOST_BYTES} == {}


def test_a_set_of_forty_has_every_reading_on_a_page_of_its_own(shop, browser):
    kept = shopfloor.started(shop, wanted=40, spares=0)
    shopfloor.turn(shop, kept, range(1, 41))
    assert "Every reading in one table" in browser.get(f"/sets/{kept.id}/review").text
    page = browser.get(f"/sets/{kept.id}/review/table").text
    assert page.count('<th scope="row">') == 40


@pytest.mark.slow
def test_a_set_of_hundreds_draws_those_that_stand_out_and_the_newest(shop, browser):
    kept = shopfloor.started(shop, shopfloor.many_stations(4), wanted=200, spares=0)
    shopfloor.turn(shop, kept, range(1, 201), off_mm={(17, "st2"): 1.5})
    page = browser.get(f"/sets/{kept.id}/review").text
    assert page.count('class="drawing row"') == 60
    assert ">17</text>" in page
    assert ">200</text>" in page
    assert ">18</text>" not in page


def test_two_sets_mixed_are_asked_about_first_and_nothing_else_is_claimed_of_single_pieces(
    shop, browser
):
    kept = shopfloor.started(shop)
    other = {(n, place.id): 1.5 for n in (2, 3, 6) for place in places(shopfloor.back_spindle())}
    shopfloor.turn(shop, kept, range(1, 8), off_mm=other)
    page = text_of(browser.get(f"/sets/{kept.id}/review").text)
    assert "Are they all of this set? Pieces 2, 3 and 6 and pieces 1, 4, 5 and 7 lie in two" in page
    assert "stands out" not in page
    assert "odd one" not in page
    assert "Is it of this set?" not in page
    page = text_of(browser.get(f"/sets/{kept.id}/choose").text)
    assert "Pieces 2, 3 and 6 read as if they were of another set than pieces 1, 4, 5 and 7" in page


def test_how_much_is_the_calipers_is_told_at_least_and_after_a_test_with_its_limits(shop, browser):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 7))
    page = text_of(browser.get(f"/sets/{kept.id}/review").text)
    assert "Read without any step, the sizes would still scatter by" in page
    assert "the step makes less than 1 % over all sizes" in page
    assert "not tested yet" in page
    test_id = measuring.begin(shop, "mm/100", at=shopfloor.moment(500))
    for turn, by in enumerate((0.0, 0.01, -0.01), 1):
        for place in (1, 2, 3):
            typed = f"{10 * place + by:.2f}"
            at = shopfloor.moment(501)
            measuring.take(shop, test_id, place, turn, typed, sure=False, at=at)
    page = text_of(browser.get(f"/sets/{kept.id}/review").text)
    assert re.search(r"Calipers and hand, reading one place again 0\.010 mm", page)
    assert "Measured without any error, the sizes would still scatter by 0." in page
    assert re.search(r"measuring makes \d+ % over all sizes; most at .* it could be \d+ % to", page)


def test_a_place_not_read_on_every_piece_is_not_said_to_be_measured_everywhere(shop, browser):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 7))
    assert "not all were read" not in text_of(browser.get(f"/sets/{kept.id}/review").text)
    with shop.transaction() as db:
        row = shopfloor.reading(random.Random(1), kept, 7, "st7", 14.0, shopfloor.moment(900))
        readings.add(db, row)
    page = text_of(browser.get(f"/sets/{kept.id}/review").text)
    assert re.search(r"At \d+ places not all were read, and those read are judged\.", page)


def test_what_is_said_of_the_next_leaves_the_odd_one_aside_and_says_so(shop, browser):
    """One piece far off: these are not alike there, yet those made like the others will be."""
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 10), scatter=0.05, off_mm={(5, "st4"): 3.0})
    page = text_of(browser.get(f"/sets/{kept.id}/review").text)
    assert re.search(r"Swell ±0\.8 mm .*?not alike will be, odd one aside", page)
