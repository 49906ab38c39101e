"""The pages of a set, asked for as a browser without scripts asks."""

from __future__ import annotations

import random
import re

import pytest

from benchside.job import sets, wood
from benchside.store import patterns, readings
from tests import shopfloor
from tests.job import fitted_bench
from tests.web.pages import form_fields, text_of

FORM = {
    "name": "Hall bench",
    "wanted": "9",
    "spares": "1",
    "unit": "mm",
    "habit": "piece",
    "tenon_mm": "0.1",
    "slender_mm": "0.4",
    "decorative_mm": "0.8",
    "position_mm": "0.8",
    "calipers": "3",
}


def test_the_first_visit_says_in_one_sentence_what_will_be_here(browser):
    page = browser.get("/").text
    assert "Your sets will stand here" in page
    assert 'href="/patterns/new"' in page


def test_a_set_is_started_from_a_pattern_with_our_own_figures_marked_as_ours(shop, browser):
    pattern_id = shopfloor.started(shop).pattern_id
    page = browser.get(f"/sets/new?pattern={pattern_id}").text
    assert "our own starting figures, change them" in text_of(page)
    for figure in ("0.1 mm", "0.4 mm", "0.8 mm"):
        assert f'value="{figure}"' in page
    reply = browser.post("/sets/new", data=FORM | {"pattern": pattern_id})
    assert reply.status_code == 303
    page = browser.get(reply.headers["location"]).text
    assert "0 of 9 done" in text_of(page)


@pytest.mark.parametrize(
    ("unit", "typed", "mm"),
    [("mm", "0,4", 0.4), ("in", "0.01", 0.254), ("in/64", "1/64", 0.396875), ("in", "0.4 mm", 0.4)],
)
def test_tolerances_are_typed_in_the_unit_of_the_set_unless_another_is_written(
    shop, browser, unit, typed, mm
):
    pattern_id = shopfloor.started(shop).pattern_id
    form = FORM | {name: typed for name in FORM if name.endswith("_mm")}
    reply = browser.post("/sets/new", data=form | {"pattern": pattern_id, "unit": unit})
    kept = sets.standing(shop, int(reply.headers["location"].split("/")[-1])).kept
    assert kept.choices.tolerances.slender_mm == pytest.approx(mm)  # 25.4 mm [@yard-pound-1959]


@pytest.mark.parametrize(
    "wrong",
    [
        {"wanted": "nine"},
        {"wanted": "0"},
        {"wanted": "1e9"},
        {"wanted": "-3"},
        {"spares": "🪵"},
        {"name": ""},
        {"name": "x" * 10_000},
        {"tenon_mm": "NaN"},
        {"tenon_mm": "-0.1"},
        {"slender_mm": ""},
        {"slender_mm": "1/0"},
        {"decorative_mm": "0"},
        {"position_mm": "1e9"},
        {"unit": "furlong"},
        {"habit": "never"},
        {"calipers": "27"},
    ],
)
def test_what_cannot_be_is_said_beside_its_field_with_what_was_typed_given_back(
    shop, browser, wrong
):
    kept = shopfloor.started(shop)
    ((field, typed),) = wrong.items()
    for address, more in (
        ("/sets/new", {"pattern": kept.pattern_id}),
        (f"/sets/{kept.id}/settings", {}),
    ):
        reply = browser.post(address, data=FORM | {"note": "oak from the yard"} | wrong | more)
        assert reply.status_code == 422
        assert f'id="{field}-problem"' in reply.text
        assert "oak from the yard" in reply.text
        if field not in ("unit", "habit"):
            assert f'aria-describedby="{field}-problem"' in reply.text
            assert typed in reply.text
    assert len(sets.listed(shop)) == 1
    assert shopfloor.set_again(shop, kept) == kept


def test_every_field_that_says_nothing_plain_is_told_at_once(shop, browser):
    kept = shopfloor.started(shop)
    wrong = {"wanted": "many", "tenon_mm": "thin", "calipers": ""}
    page = browser.post(f"/sets/{kept.id}/settings", data=FORM | wrong).text
    assert all(f'id="{field}-problem"' in page for field in wrong)


def test_settings_shown_and_sent_back_unchanged_change_nothing(shop, browser):
    kept = shopfloor.started(shop, unit="in/64")
    page = browser.get(f"/sets/{kept.id}/settings").text
    typed = dict(re.findall(r'name="(\w+)"[^>]* value="([^"]*)"', page))
    typed |= dict(re.findall(r'name="(\w+)" value="([^"]*)" checked', page))
    assert browser.post(f"/sets/{kept.id}/settings", data=typed).status_code == 303
    assert shopfloor.set_again(shop, kept) == kept


def test_what_a_person_typed_is_shown_and_never_run(shop, browser):
    kept = shopfloor.started(shop, name="<script>alert(1)</script>", note='"><img src=x>')
    shopfloor.turn(shop, kept, [1])
    for path in ("/", *(f"/sets/{kept.id}{p}" for p in ("", "/settings", "/steps", "/pieces/1"))):
        page = browser.get(path).text
        assert "<script>alert" not in page
        assert "<img" not in page


def test_no_page_of_a_set_holds_a_style_or_a_script_of_its_own(shop, browser):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1, 2, 3])
    paths = ("", "/settings", "/steps", "/pieces/1", "/pieces/1/pattern", "/review")
    for path in paths:
        page = browser.get(f"/sets/{kept.id}{path}").text
        assert not re.search(r'\sstyle="|\son\w+="|<style', page)
        assert not re.search(r"<script(?! type=\"module\" src=)", page)


def test_the_overview_says_how_each_piece_stands(shop, browser):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1, 2])
    rng = random.Random(1)
    with shop.transaction() as db:
        at = shopfloor.moment(300)
        readings.add_mark(db, shopfloor.mark(rng, kept, 2, "spoiled", at, text="a catch"))
        readings.add_mark(db, shopfloor.mark(rng, kept, 3, "step", at, step_id="mount"))
    page = text_of(browser.get(f"/sets/{kept.id}").text)
    assert "1 of 9 done, 1 in hand, 1 spoiled" in page
    assert "2 spoiled a catch" in page
    assert re.search(r">2 <small>spoiled</small></th>", browser.get(f"/sets/{kept.id}/steps").text)
    with shop.transaction() as db:
        readings.add_mark(db, shopfloor.mark(rng, kept, 1, "odd", at))
    page = text_of(browser.get(f"/sets/{kept.id}").text)
    assert "1 of 9 done, 1 of them odd, 1 in hand, 1 spoiled" in page
    assert "Piece 2 is spoiled. The next spare, and whether the stock still covers the set" in page
    assert "3 in hand: rough" in page
    assert "10 to do, spare" in page
    assert "Turn piece 3" in page


def test_a_practice_piece_goes_to_the_lathe_at_once(shop, browser):
    kept = shopfloor.started(shop)
    reply = browser.post(f"/sets/{kept.id}/practice")
    assert reply.headers["location"] == f"/sets/{kept.id}/turn/11"
    assert "11 to do, practice" in text_of(browser.get(f"/sets/{kept.id}").text)


def test_a_newer_revision_is_offered_and_after_turning_asked_about(shop, browser):
    kept = shopfloor.started(shop)
    record = patterns.found(shop, kept.pattern_id)
    with shop.transaction() as db:
        patterns.add_revision(db, record.id, record.pattern, at=shopfloor.moment(10))
    assert "it can follow freely" in browser.get(f"/sets/{kept.id}").text
    shopfloor.turn(shop, kept, [1])
    assert "begun to revision 1" in text_of(browser.get(f"/sets/{kept.id}").text)
    reply = browser.post(f"/sets/{kept.id}/hold", data={"revision": "2"})
    assert reply.status_code == 403
    assert 'id="sure-problem"' in reply.text
    reply = browser.post(f"/sets/{kept.id}/hold", data={"revision": "2", "sure": "yes"})
    assert reply.status_code == 303
    assert shopfloor.set_again(shop, kept).revision == 2


def test_a_dropped_caliper_names_the_pieces_sized_with_it(shop, browser):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1, 2])
    fields = form_fields(browser.get(f"/sets/{kept.id}").text, f"/sets/{kept.id}/calipers")[0]
    for _ in range(2):  # sent twice, kept once
        browser.post(f"/sets/{kept.id}/calipers", data=fields | {"what": "caliper_dropped"})
    page = text_of(browser.get(f"/sets/{kept.id}").text)
    assert "Sized with it since it was last checked: pieces 1 , 2" in page
    assert [m.what for m in readings.marks(shop, kept.id)].count("caliper_dropped") == 1


def test_a_set_is_put_away_and_taken_out_again(shop, browser):
    kept = shopfloor.started(shop)
    browser.post(f"/sets/{kept.id}/archive", data={"away": "yes"})
    assert "Hall bench" not in browser.get("/").text
    assert "Hall bench" in browser.get("/sets/archived").text
    browser.post(f"/sets/{kept.id}/archive", data={"away": ""})
    assert "Hall bench" in browser.get("/").text


def test_another_set_like_it_needs_a_name(shop, browser):
    kept = shopfloor.started(shop)
    reply = browser.post(f"/sets/{kept.id}/duplicate", data={"name": " "})
    assert reply.status_code == 422
    assert 'id="name-problem"' in reply.text
    reply = browser.post(f"/sets/{kept.id}/duplicate", data={"name": "For the landing"})
    assert "For the landing" in browser.get(reply.headers["location"]).text


def test_every_field_that_cannot_be_is_named_in_one_pass(shop, browser):
    pattern_id = shopfloor.started(shop).pattern_id
    wrong = {
        "name": "",
        "spares": "-1",
        "wanted": "a few",
        "tenon_mm": "thin",
        "headstock": "above",
        "cuts": "nails",
        "note": "n" * 10_000,
    }
    reply = browser.post("/sets/new", data=FORM | wrong | {"pattern": pattern_id})
    assert reply.status_code == 422
    for field in wrong:
        assert f'id="{field}-problem"' in reply.text
    said = text_of(reply.text)
    assert "It can be 0 to 100, not -1." in said
    assert "Type a whole number, 1 or more" in said
    assert "A note has room for 2,000 characters; this has 10,000." in said
    assert "n" * 10_000 in reply.text
    assert "maxlength" not in reply.text


def test_an_inch_maker_is_offered_our_tolerances_in_inches(shop, browser):
    pattern_id = shopfloor.started(shop).pattern_id
    browser.cookies.set("benchside_typing_unit", "in")
    page = browser.get(f"/sets/new?pattern={pattern_id}").text
    # 0.1, 0.4 and 0.8 mm over 25.4 mm to the inch, to the thousandth.
    for figure in ("0.004 in", "0.016 in", "0.031 in"):
        assert f'value="{figure}"' in page
    assert "our own starting figures, change them" in text_of(page)


def test_tolerances_shown_in_inches_and_kept_unread_stay_exactly_what_they_were(shop, browser):
    kept = shopfloor.started(shop, unit="in/64")
    path = f"/sets/{kept.id}/settings"
    page = browser.get(path).text
    fields = dict(re.findall(r'name="(\w+_mm)" [^>]*?value="([^"]*)"', page))
    assert fields["decorative_mm"] == "0.0315 in"
    browser.post(path, data=FORM | fields | {"unit": "in/64", "tenon_mm": "1/64"})
    now = shopfloor.set_again(shop, kept).choices.tolerances
    assert (now.slender_mm, now.decorative_mm, now.position_mm) == (0.4, 0.8, 0.8)
    assert now.tenon_mm == 0.396875
    assert 'value="1/64 in"' in browser.get(path).text


def test_a_long_note_does_not_push_the_set_down_its_page(shop, browser):
    short = browser.get(f"/sets/{shopfloor.started(shop, note='ash').id}").text
    long = browser.get(f"/sets/{shopfloor.started(shop, note='ash ' * 400).id}").text
    assert '<p class="written soft">ash</p>' in short
    assert re.search(r"<details><summary>Note</summary><p[^>]*>ash ash", long)


@pytest.mark.parametrize("path", ["/sets", "/sets/"])
def test_the_address_of_all_sets_leads_home(browser, path):
    assert browser.get(path).headers["location"] == "/"


def test_a_book_without_a_pattern_sends_nobody_to_choose_one(browser):
    page = browser.get("/").text
    assert "Make a pattern" in page
    assert "choose=1" not in page


def test_starting_a_set_asks_for_the_pattern_first(shop, browser):
    shopfloor.started(shop)
    assert 'href="/patterns?choose=1"' in browser.get("/").text
    assert "Choose the pattern to turn." in browser.get("/patterns?choose=1").text
    assert browser.get("/sets/new").headers["location"] == "/patterns?choose=1"


def test_the_paper_list_has_the_date_the_revision_and_a_column_for_every_piece(shop, browser):
    kept = shopfloor.started(shop, wanted=40, spares=0)
    page = browser.get(f"/sets/{kept.id}/steps").text
    assert "revision 1" in text_of(page)
    assert all(f'class="box">{n}</th>' in page for n in range(1, 41))
    assert "stop at 23.6 mm, caliper" in text_of(page)


def test_the_paper_list_tells_what_the_lathe_tells_where_work_can_go_wrong(shop, browser):
    kept = shopfloor.started(shop)
    said = text_of(browser.get(f"/sets/{kept.id}/steps").text)
    at_the_lathe = text_of(browser.get(f"/sets/{kept.id}/turn/1").text)
    tries = re.findall(r"try at ([\d.]+)", said)
    assert tries
    assert tries == re.findall(r"try at ([\d.]+)", at_the_lathe)
    mount = "Mount . Touch up first. Mallet, both centres."
    assert mount in said
    assert said.count("Touch up first.") == len(
        re.findall(r"Touch up .{5,20}, then tap", at_the_lathe)
    )
    assert "Parting tool. Part down at the line." in said
    assert "Face shield and glasses whenever it runs." in said[: said.index(mount)]


def test_the_paper_list_of_green_wood_says_that_its_sizes_are_those_to_turn_now(shop, browser):
    said = text_of(browser.get(f"/sets/{fitted_bench.a_set(shop, pieces=0)}/steps").text)
    # Finished 22.0; from 45 to 8.5 % at 7.8 % from 30 % on, the wood keeps 94.4 % of its size.
    assert "Swell 130.0 24.9 A 23.3 ±0.80" in said
    assert "GREEN: sizes to turn now." in said
    assert "Finished" not in said
    said = text_of(browser.get(f"/sets/{shopfloor.started(shop).id}/steps").text)
    assert "Finished" in said
    assert "turn now" not in said.lower()


def test_the_paper_list_holds_limits_and_what_was_read(shop, browser):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1], off_mm={(1, "st4"): 0.3}, scatter=0)
    page = browser.get(f"/sets/{kept.id}/steps").text
    assert '<td class="box fraction">22.3</td>' in page
    assert "22.0 ±0.80" in text_of(page)
    assert re.search(r"<button [^>]*data-print hidden>", page)


@pytest.mark.parametrize(
    "path",
    ["/sets/99", "/sets/x", "/sets/1/pieces/99", "/sets/99/steps", "/sets/new?pattern=99"],
)
def test_what_is_not_there_is_said_plainly(shop, browser, path):
    shopfloor.started(shop)
    reply = browser.get(path)
    assert reply.status_code == 404
    assert "There is no such" in reply.text or "has no piece" in reply.text


def test_more_done_than_wanted_are_to_spare(shop, browser):
    kept = shopfloor.started(shop, wanted=1, spares=1)
    shopfloor.turn(shop, kept, range(1, 3))
    assert "1 of 1 done, 1 to spare" in browser.get(f"/sets/{kept.id}").text


def test_a_new_set_offers_to_say_its_wood_first_and_turns_all_the_same(shop, browser, kept):
    page = browser.get(f"/sets/{kept.id}").text
    assert page.index("Say what wood it is") < page.index("Turn piece 1")
    wood.give(
        shop,
        kept.id,
        wood.Given("white ash", "green", "green", "cold_winters"),
        at=shopfloor.moment(0),
    )
    assert "Say what wood it is" not in browser.get(f"/sets/{kept.id}").text


@pytest.mark.parametrize(
    "page", ["", "/stock", "/stock/sheet", "/wood", "/drying", "/plan", "/files"]
)
def test_the_pages_of_a_set_are_marked_as_part_of_the_sets_in_hand(browser, kept, page):
    head = browser.get(f"/sets/{kept.id}{page}").text.partition("</nav>")[0]
    assert 'href="/" aria-current="page"' in head
