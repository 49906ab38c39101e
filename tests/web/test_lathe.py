"""The lathe's page: described once, given back with what was typed when it cannot be."""

from __future__ import annotations

import re

import pytest

from benchside.job import planning
from benchside.job import shop as job_shop
from tests import shopfloor
from tests.web.pages import text_of

OURS = {
    "swing_mm": "305",
    "between_centres_mm": "915",
    "steps_rpm": "",
    "least_rpm": "",
    "most_rpm": "",
    "steady": "none",
    "steady_n_per_mm": "",
    "grip": "unknown",
}


def test_the_lathe_is_kept_in_millimetres_however_it_was_typed(shop, browser):
    assert job_shop.lathe(shop) == job_shop.Lathe()
    reply = browser.post("/lathe", data=OURS | {"swing_mm": "14 in", "between_centres_mm": "1000"})
    assert reply.status_code == 303
    # 25.4 mm to the inch [@yard-pound-1959].
    assert job_shop.lathe(shop) == job_shop.Lathe(355.6, 1000.0)
    assert 'value="355.6"' in browser.get("/lathe").text
    assert "355.6 mm over the bed" in text_of(browser.get("/shop").text)


def test_sizes_that_nobody_said_are_ours_and_say_so(shop, browser):
    assert "Not described yet: we take 305 mm over the bed, 915 mm between the centres" in text_of(
        browser.get("/shop").text
    )
    assert "305, our own guess" in text_of(browser.get("/lathe").text)
    empty = OURS | {"swing_mm": "", "between_centres_mm": "", "grip": "chuck"}
    assert browser.post("/lathe", data=empty).status_code == 303
    assert job_shop.lathe(shop).ours == job_shop.SIZES
    assert "Not described yet" in browser.get("/shop").text
    browser.post("/lathe", data=empty | {"swing_mm": "305", "between_centres_mm": "1000"})
    assert job_shop.lathe(shop).ours == frozenset()
    assert "Not described yet" not in browser.get("/shop").text


def test_the_force_of_a_cut_said_first_leaves_the_sizes_unsaid(shop):
    planning.keep_force(shop, 12.0, None)
    assert job_shop.lathe(shop).ours == job_shop.SIZES


def test_a_size_in_inches_stays_exactly_what_it_was_when_the_form_is_sent_again(shop, browser):
    browser.post("/lathe", data=OURS | {"between_centres_mm": "1000"})
    shopfloor.started(shop, unit="in/16")
    page = browser.get("/lathe").text
    shown = re.findall(r'name="(swing_mm|between_centres_mm)"[^>]*value="([^"]*)"', page)
    assert dict(shown)["between_centres_mm"] == "39.3701"  # 1000 / 25.4
    browser.post("/lathe", data=OURS | dict(shown))
    assert job_shop.lathe(shop).between_centres_mm == 1000.0


def test_all_of_it_is_kept_and_comes_back_as_typed(shop, browser):
    said = OURS | {
        "steps_rpm": "1100; 500 750",
        "steady": "rollers",
        "steady_n_per_mm": "32,5",
        "grip": "chuck",
    }
    assert browser.post("/lathe", data=said).status_code == 303
    found = job_shop.lathe(shop)
    assert found.steps_rpm == (500.0, 750.0, 1100.0)
    assert (found.steady, found.steady_stiffness_n_per_mm, found.grip) == ("rollers", 32.5, "chuck")
    page = browser.get("/lathe?kept=1").text
    assert 'value="500, 750, 1100"' in page
    assert 'value="rollers" checked' in page
    assert "Kept." in page
    assert "500 to 1100 turns a minute" in text_of(browser.get("/shop").text)
    ranged = OURS | {"least_rpm": "400 rpm", "most_rpm": "3000"}
    assert browser.post("/lathe", data=ranged).status_code == 303
    found = job_shop.lathe(shop)
    assert (found.steps_rpm, found.slowest_rpm, found.fastest_rpm) == ((), 400.0, 3000.0)
    assert found.steady_stiffness_n_per_mm is None


def test_what_others_keep_of_the_lathe_stays_when_the_form_is_sent(shop, browser):
    job_shop.keep_lathe(shop, job_shop.Lathe(cut_force_n=15.0, give_limit_mm=0.3))
    assert browser.post("/lathe", data=OURS).status_code == 303
    found = job_shop.lathe(shop)
    assert (found.cut_force_n, found.give_limit_mm) == (15.0, 0.3)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        *(({"swing_mm": t}, "swing_mm") for t in ("0", "-5", "NaN", "1e9", "🪵", "9" * 9000)),
        ({"steps_rpm": "slow, fast"}, "steps_rpm"),
        ({"steps_rpm": "1,200"}, "steps_rpm"),
        ({"steps_rpm": " ".join(str(n) for n in range(100, 141))}, "steps_rpm"),
        ({"steps_rpm": "500 900", "least_rpm": "400", "most_rpm": "900"}, "steps_rpm"),
        ({"least_rpm": "400"}, "most_rpm"),
        ({"most_rpm": "4000"}, "least_rpm"),
        ({"least_rpm": "2000", "most_rpm": "900"}, "most_rpm"),
        ({"least_rpm": "500 600", "most_rpm": "900"}, "least_rpm"),
        ({"steady": "glued"}, "steady"),
        ({"grip": "teeth"}, "grip"),
        ({"steady": "string", "steady_n_per_mm": "0"}, "steady_n_per_mm"),
        ({"steady": "string", "steady_n_per_mm": "stiff"}, "steady_n_per_mm"),
    ],
)
def test_a_lathe_that_cannot_be_is_refused_beside_its_field(shop, browser, wrong, field):
    reply = browser.post("/lathe", data=OURS | {"between_centres_mm": "900"} | wrong)
    assert reply.status_code == 422
    assert f'id="{field}-problem"' in reply.text
    assert 'value="900"' in reply.text
    assert job_shop.lathe(shop) == job_shop.Lathe()


def test_our_own_sizes_are_told_to_the_inch_in_a_shop_that_works_in_them(shop, browser):
    shopfloor.started(shop, unit="in")
    assert "we take 12 in over the bed, 36 in between the centres" in text_of(
        browser.get("/shop").text
    )
    assert "empty: 36, our own guess" in text_of(browser.get("/lathe").text)
