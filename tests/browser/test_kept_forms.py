"""Forms beside the lathe while the laptop is away: nothing typed is lost, nothing counts twice."""

from __future__ import annotations

import urllib.request
from contextlib import closing
from dataclasses import replace

import pytest
from playwright.sync_api import Locator, Page, Route, expect

from benchside.job import fit_forms
from benchside.store import wood
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet
from benchside.web.words import words
from tests.browser.bench import Bench, stretcher
from tests.browser.hand import Phone, offline, online
from tests.job.fitted_bench import ASH, AT, a_seat, key
from tests.job.fitted_bench import SEAT as A_SEAT

SAYS = words()["keeping"]
SEAT = replace(A_SEAT, tenon="s1")


@pytest.fixture
def green(bench: Bench) -> SpindleSet:
    """Two pieces turned from green ash, and a seat that their tenons go into."""
    kept = bench.started(stretcher(), name="Kept stretchers", wanted=2, spares=0)
    with closing(Shop(bench.db)) as shop, shop.transaction() as db:
        wood.add_wood(db, kept.id, ASH)
    bench.turned(kept, 1, 2)
    return kept


def weights(bench: Bench, kept: SpindleSet) -> list[str]:
    return [
        row[0]
        for row in bench.rows("SELECT typed FROM weighing WHERE set_id = ? ORDER BY id", kept.id)
    ]


def said(page: Page) -> Locator:
    return page.get_by_role("alert").filter(visible=True)


def the_reply_is_lost(bench: Bench, page: Page, path: str) -> None:
    """What is sent there arrives; its answer does not come back."""

    def lose(route: Route) -> None:
        request = route.request
        sent = urllib.request.Request(
            request.url.replace("bench.lan", "127.0.0.1"),
            data=request.post_data_buffer,
            headers={**request.all_headers(), "host": f"bench.lan:{bench.port}"},
        )
        urllib.request.urlopen(sent).close()
        route.abort()

    page.route(f"**{path}", lose)


def test_a_weight_stays_typed_while_the_laptop_is_away(
    bench: Bench, phone: Phone, green: SpindleSet
) -> None:
    page = phone.page
    phone.open(f"/sets/{green.id}/drying")
    field = page.get_by_label("Weight", exact=True)
    field.fill("217,5")
    offline(phone)
    keep = page.get_by_role("button", name="Keep the weight")
    keep.tap()
    expect(said(page)).to_have_text(SAYS["away"])
    expect(field).to_have_value("217,5")
    online(phone)
    with page.expect_navigation():
        keep.tap()
    expect(page.locator("#verdict")).to_be_visible()
    expect(page.get_by_label("Weight", exact=True)).to_have_value("")
    assert weights(bench, green) == ["217,5"]


def test_a_weight_whose_answer_was_lost_is_sent_again_and_counts_once(
    bench: Bench, phone: Phone, green: SpindleSet
) -> None:
    page = phone.page
    phone.open(f"/sets/{green.id}/drying")
    the_reply_is_lost(bench, page, "/weigh")
    field = page.get_by_label("Weight", exact=True)
    keep = page.get_by_role("button", name="Keep the weight")
    field.fill("217,5")
    for _ in range(2):
        keep.tap()
        expect(said(page)).to_have_text(SAYS["away"])
        expect(page.locator("#weigh")).not_to_have_attribute("aria-busy", "true")
    assert weights(bench, green) == ["217,5"]
    # Another figure is another weight, and not a quarrel about the key of the first.
    field.fill("216")
    page.unroute("**/weigh")
    with page.expect_navigation():
        keep.tap()
    assert weights(bench, green) == ["217,5", "216"]


def test_dry_sizes_tapped_twice_are_kept_once_and_the_next_piece_opens(
    bench: Bench, phone: Phone, green: SpindleSet
) -> None:
    page = phone.page
    phone.open(f"/sets/{green.id}/dry/1")
    page.get_by_label("the wide way").first.fill("15.4")
    page.get_by_label("a quarter turn on").first.fill("15.1")
    keep = page.get_by_role("button", name="Keep, then the next piece")
    keep.dblclick()
    expect(page.get_by_role("heading", name="Piece 2, dry")).to_be_visible()
    rows = bench.rows("SELECT axis, typed FROM later_reading WHERE set_id = ?", green.id)
    assert rows == [("A", "15.4"), ("B", "15.1")]


def test_what_cannot_be_is_said_beside_its_field_as_without_a_script(
    phone: Phone, green: SpindleSet
) -> None:
    page = phone.page
    phone.open(f"/sets/{green.id}/dry/1")
    page.get_by_label("the wide way").first.fill("17.5")
    page.get_by_role("button", name="Keep", exact=True).tap()
    expect(page.get_by_label("the wide way").first).to_have_attribute("aria-invalid", "true")
    expect(page.get_by_label("the wide way").first).to_have_value("17.5")
    page.get_by_label("The figures asked about are meant").check()
    page.get_by_role("button", name="Keep", exact=True).tap()
    expect(page.get_by_role("heading", name="Measured again when dry")).to_be_visible()
    assert phone.own_troubles == []


def test_a_tenon_and_its_hole_outlive_a_killed_laptop(
    bench: Bench, phone: Phone, green: SpindleSet
) -> None:
    page = phone.page
    with closing(Shop(bench.db)) as shop:
        a_seat(shop, green.id, told=SEAT)
    phone.open(f"/sets/{green.id}/fit/{key(800)}")
    joint = page.locator("#piece-1")
    expect(joint.get_by_text("Hole 1: not measured")).to_be_visible()
    joint.get_by_label("along grain").fill("16.1")
    bench.kill()
    keep = joint.locator("#hole-1").get_by_role("button", name="Keep")
    keep.tap()
    expect(joint.get_by_text(SAYS["away"])).to_be_visible()
    bench.start()
    keep.tap()
    expect(joint.get_by_text("Hole 1: 16.10 mm, measured")).to_be_visible()
    joint.get_by_label("at the dot").fill("16.15")
    joint.get_by_role("button", name="Keep", exact=True).first.tap()
    expect(joint.get_by_text("Sized 16.15")).to_be_visible()
    kept_here = "SELECT typed FROM mortise_reading WHERE part = ?"
    assert bench.rows(kept_here, key(800)) == [("16.1",)]


def test_a_tenon_is_sized_with_one_hand_though_the_laptop_was_away(
    bench: Bench, phone: Phone, green: SpindleSet
) -> None:
    page = phone.page
    with closing(Shop(bench.db)) as shop:
        a_seat(shop, green.id, SEAT, n=810)
        holes: dict[fit_forms.Axis, str] = {"A": "16.1"}
        for hole in (1, 2):
            fit_forms.read_hole(
                shop, green.id, key(810), hole, holes, key=key(810 + hole), sure=True, at=AT
            )
    phone.open(f"/sets/{green.id}/fit")
    page.get_by_role("link", name="Size the tenons at the lathe").tap()
    expect(page.get_by_role("heading", name="Piece 1, foot tenon")).to_be_visible()
    small = page.evaluate(
        """() => [...document.querySelectorAll('.at-lathe :is(input, a, button, label)')]
          .filter(e => e.checkVisibility() && e.type !== 'hidden')
          .filter(e => e.matches('label')
            ? parseFloat(getComputedStyle(e).fontSize) < 30
            : e.getBoundingClientRect().height < 72)
          .map(e => e.outerHTML)"""
    )
    assert small == []
    assert (
        page.locator(".bring-to b").evaluate("e => parseFloat(getComputedStyle(e).fontSize)") >= 88
    )
    bottom = page.get_by_role("button", name="Keep").evaluate(
        "e => e.getBoundingClientRect().bottom"
    )
    assert bottom <= 844
    page.get_by_label("at the dot").fill("16.12")
    page.get_by_label("quarter turn").fill("16.08")
    bench.kill()
    keep = page.get_by_role("button", name="Keep")
    keep.tap()
    expect(page.get_by_text(SAYS["away"])).to_be_visible()
    bench.start()
    keep.tap()
    expect(page.get_by_role("heading", name="Piece 2, foot tenon")).to_be_visible()
    expect(page.get_by_role("status").first).to_contain_text("16.12 × 16.08, right")
    rows = bench.rows("SELECT axis, typed FROM later_reading WHERE set_id = ?", green.id)
    assert rows == [("A", "16.12"), ("B", "16.08")]
