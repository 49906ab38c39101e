"""What drifts reaches a phone that goes from piece to piece on one page."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from benchside.store.sets import SpindleSet
from tests.browser.bench import Bench, stretcher
from tests.browser.hand import Phone

CROWN = "crown:s3"


@pytest.fixture
def about_to_drift(bench: Bench) -> SpindleSet:
    """Four pieces done, of which the last two have begun to creep: too few to tell."""
    kept = bench.started(stretcher(), name="Creeping stretchers", wanted=9)
    bench.turned(kept, 1, 2, 3, scatter=0.02)
    bench.turned(kept, 4, seed=9, scatter=0.02, off_mm={(4, CROWN): 0.5})
    bench.turned(kept, 5, seed=10, scatter=0.02, off_mm={(5, CROWN): 1.0})
    return kept


def test_the_next_piece_begins_with_it_though_the_page_was_never_loaded_again(
    bench: Bench, about_to_drift: SpindleSet, phone: Phone
) -> None:
    kept = about_to_drift
    phone.turns(kept, 6, "done")
    drift = phone.page.locator("[data-drift]")
    expect(drift.first).to_be_hidden()
    phone.page.evaluate("window.neverLoadedAgain = true")
    bench.turned(kept, 6, seed=11, scatter=0.02, off_mm={(6, CROWN): 1.5}, done=False)
    phone.big_button.tap()
    expect(phone.page).to_have_url(bench.url(f"/sets/{kept.id}/turn/7#mount"))
    line = phone.page.locator("#mount [data-drift]")
    expect(line).to_be_visible()
    expect(line).to_contain_text("First bead, crown creeps up")
    phone.page.goto(bench.url(f"/sets/{kept.id}/turn/7#size:{CROWN}"))
    expect(phone.page.locator(f"[id='size:{CROWN}'] [data-instead]")).to_contain_text("drawn 28.0")
    assert phone.page.evaluate("window.neverLoadedAgain") is True
