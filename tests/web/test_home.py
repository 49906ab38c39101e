"""The first page, the shop, the screen and what is said once for all."""

from __future__ import annotations

import html
import re

import pytest

from benchside.job import shop as job_shop
from benchside.sources import sources
from benchside.store.backup import LAST_BACKUP
from tests import shopfloor


def test_a_backup_is_due_a_week_after_the_last_or_after_the_first_thing_was_made(shop):
    assert not job_shop.backup(shop, now=shopfloor.moment(0)).due
    shopfloor.started(shop)
    week = 7 * 24 * 60
    assert not job_shop.backup(shop, now=shopfloor.moment(week)).due
    assert job_shop.backup(shop, now=shopfloor.moment(week + 1)).due
    shop.keep_setting(LAST_BACKUP, shopfloor.moment(week))
    assert not job_shop.backup(shop, now=shopfloor.moment(2 * week)).due
    assert job_shop.backup(shop, now=shopfloor.moment(2 * week + 1)).due


def test_the_first_page_reminds_quietly_when_nothing_was_ever_copied(shop, browser):
    shopfloor.started(shop)
    assert "Nothing here has been backed up yet" in browser.get("/").text
    shop.keep_setting(LAST_BACKUP, "2999-01-01T00:00:00.000Z")
    assert "backed up" not in browser.get("/").text


def test_a_measured_bar_sizes_this_screen_and_no_other(browser):
    reply = browser.post("/phone-size", data={"measured": "38.16"})
    assert reply.status_code == 303
    # 240 px that measure 38.16 mm make 0.159 mm to a pixel.
    assert "benchside_scale=0.15900" in reply.headers["set-cookie"]
    assert "draws the bar 38.2 mm long" in browser.get("/phone-size").text
    browser.post("/phone-size", data={"forget": "yes"})
    assert "Not measured yet" in browser.get("/phone-size").text


@pytest.mark.parametrize("measured", ["", "3", "5 in", "2000", "-38", "long", "NaN"])
def test_a_bar_no_screen_could_draw_is_asked_about(browser, measured):
    reply = browser.post("/phone-size", data={"measured": measured})
    assert reply.status_code == (303 if measured == "5 in" else 422)
    if reply.status_code == 422:
        assert 'id="measured-problem"' in reply.text
        assert "set-cookie" not in reply.headers


@pytest.mark.parametrize(
    ("back", "goes"),
    [
        ("/sets/1", "/sets/1"),
        ("/sets/1/review/crown:st5", "/sets/1/review/crown:st5"),
        ("https://elsewhere.example/", "/"),
        ("//elsewhere.example/", "/"),
        ("/\\elsewhere.example", "/"),
        ("", "/"),
        ("/a\r\nSet-Cookie: x=1", "/"),
    ],
)
def test_day_and_dim_lead_back_to_a_page_of_ours_and_nowhere_else(browser, back, goes):
    reply = browser.post("/look", data={"theme": "dim", "back": back})
    assert (reply.status_code, reply.headers["location"]) == (303, goes)
    assert "benchside_look=dim" in reply.headers["set-cookie"]


def test_the_screen_follows_the_choice(browser):
    browser.post("/look", data={"theme": "dim", "back": "/"})
    assert 'data-theme="dim"' in browser.get("/").text
    browser.post("/look", data={"theme": "", "back": "/"})
    assert "data-theme" not in browser.get("/").text
    browser.post("/look", data={"theme": "neon", "back": "/"})
    assert "data-theme" not in browser.get("/").text


def test_every_source_stands_on_its_page_with_what_it_is_used_for(browser):
    page = html.unescape(browser.get("/sources").text)
    assert all(source.used_for in page for source in sources())
    assert "Quoted from memory" in page


def test_the_cautions_defer_to_the_lathes_manual(browser):
    page = browser.get("/cautions").text
    assert "own manual" in page
    assert "Face shield" in page


@pytest.mark.parametrize("page", ["/", "/patterns", "/originals", "/stock"])
def test_a_page_with_nothing_on_it_yet_offers_one_thing_before_all_others(browser, page):
    assert len(re.findall(r'class="button do\b', browser.get(page).text)) == 1
