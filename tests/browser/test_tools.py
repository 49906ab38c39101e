"""The lathe described, calipers listed, and what the turn page then says of tools by itself."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing

import pytest
from playwright.sync_api import expect

from benchside.job import calipers, edges, patterns
from benchside.job import shop as shops
from benchside.lathe.edges import TOOLS
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet
from tests.browser.bench import Bench, stretcher
from tests.browser.hand import Phone, beyond_px


@pytest.fixture
def kept(bench: Bench) -> Iterator[SpindleSet]:
    """A set with one piece done; afterwards the shop is as it was before."""
    kept = bench.started(stretcher(), name="Tools at hand", wanted=9)
    bench.turned(kept, 1)
    with closing(Shop(bench.db)) as shop:
        patterns.set_speeds(shop, kept.pattern_id, {"rough": "700"})
    yield kept
    with closing(Shop(bench.db)) as shop:
        patterns.set_speeds(shop, kept.pattern_id, {})
        for caliper in calipers.owned(shop):
            calipers.strike(shop, caliper.letter)
        shops.keep_lathe(shop, shops.Lathe())
        edges.keep_limits(shop, edges.Limits(dict.fromkeys(TOOLS, 600.0), 0.5))


def test_described_once_it_is_said_at_every_piece(
    bench: Bench, kept: SpindleSet, phone: Phone
) -> None:
    page = phone.page

    phone.open("/lathe")
    page.get_by_label("In steps, turns a minute").fill("2000, 500; 900")
    page.get_by_label("The slowest").fill("400")
    page.get_by_role("button", name="Keep").tap()
    problem = page.locator("#steps_rpm-problem")
    expect(problem).to_contain_text("not both")  # and what was typed is given back
    expect(page.get_by_label("In steps, turns a minute")).to_have_value("2000, 500; 900")
    page.get_by_label("The slowest").fill("")
    page.get_by_label("Chuck and live centre").tap()
    page.get_by_role("button", name="Keep").tap()
    expect(page.get_by_role("status").first).to_have_text("Kept.")
    expect(page.get_by_label("In steps, turns a minute")).to_have_value("500, 900, 2000")

    phone.open("/calipers")
    for letter, kind, size in (("A", "spring caliper", "75"), ("G", "fixed gauge, one size", "16")):
        adding = page.locator("details", has=page.get_by_label("Its letter"))
        if adding.get_attribute("open") is None:
            adding.locator("summary").tap()
        page.get_by_label("Its letter").fill(letter)
        page.get_by_label("What it is").select_option(kind)
        page.get_by_label("It opens to, or a gauge’s one size").fill(size)
        page.get_by_role("button", name="Put it on the list").tap()
        expect(page.locator(".owned li").filter(has_text=f"{size} mm")).to_be_visible()
    assert beyond_px(page) <= 0

    # The piece begins with both: the one that opens is to be checked, the gauge is only taken.
    phone.turns(kept, 2, "mount")
    page.evaluate("window.neverLoadedAgain = true")
    line = page.locator("#mount [data-line]")
    expect(line).to_contain_text("Check on a rule or gauge:")
    expect(line).to_contain_text("G 16.00")
    page.get_by_role("button", name="Calipers checked").tap()
    expect(line).not_to_contain_text("Check on a rule or gauge:")
    expect(line).to_contain_text("G 16.00")
    expect(page.locator("#mount [data-drift] + [data-line]")).to_have_count(1)  # in its old place

    # Speeds: that it is not round yet, and why slow.
    phone.goes_to("rough")
    why = phone.step.get_by_role("link", name="Not round yet")
    expect(why).to_be_visible()
    assert page.evaluate("window.neverLoadedAgain") is True
    why.tap()
    expect(page.get_by_role("heading", name="Speeds and their ceilings")).to_be_visible()
    assert beyond_px(page) <= 0

    # With a limit of a few metres the gouge is due before the next piece is rough; tapped as
    # touched up it falls silent there and then.
    phone.open("/edges")
    page.get_by_text("Your own limits").tap()
    page.get_by_label("Roughing gouge, metres").fill("5")
    page.get_by_role("button", name="Keep").tap()
    expect(page.get_by_text("touch up now").first).to_be_visible()
    assert beyond_px(page) <= 0
    phone.turns(kept, 2, "rough")
    due = page.locator("#rough [data-line]")
    expect(due).to_contain_text("Touch up first")
    phone.step.get_by_role("button", name="Touch up, then tap").tap()
    expect(due).to_have_count(0)
    marks = bench.rows("SELECT what, step_id FROM mark WHERE set_id = ? ORDER BY id", kept.id)
    assert marks[-1] == ("touched_up", "rough")
