"""The plan as a maker reads it before the wood is mounted, and its steady at the lathe."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from typing import Any

import pytest
from playwright.sync_api import expect

from benchside.job import shop as shops
from benchside.pattern import Pattern, Section, Station
from benchside.store.database import Shop
from tests.browser.bench import Bench
from tests.browser.conftest import NewPhone
from tests.browser.hand import PHONE, TABLET, beyond_px, boxes

INK = "svg => [...svg.querySelectorAll('path')].filter(p => p.getBBox().height > 0).length"


def whippy() -> Pattern:
    """A long spindle whose last taper gives too much without a steady."""
    return Pattern(
        "Whippy",
        (
            Station("s1", 0.0, 12.0, "Tip", "tenon"),
            Station("s2", 30.0, 12.0, "Throat", "slender"),
            Station("s3", 380.0, 20.0, "Swell"),
            Station("s4", 480.0, 14.0, "Foot", "slender"),
        ),
        (Section("straight"), Section("taper"), Section("taper")),
    )


@pytest.fixture
def with_steady(bench: Bench) -> Iterator[Bench]:
    """The maker has a steady on rollers, and has none again after."""
    with closing(Shop(bench.db)) as shop:
        shops.keep_lathe(shop, shops.Lathe(steady="rollers"))
    yield bench
    with closing(Shop(bench.db)) as shop:
        shops.keep_lathe(shop, shops.Lathe())


@pytest.mark.parametrize("size", [PHONE, TABLET], ids=["phone", "tablet"])
def test_a_plan_is_read_a_steady_tried_and_then_fitted_at_the_lathe(
    with_steady: Bench, new_phone: NewPhone, size: Any
) -> None:
    phone = new_phone(size=size)
    kept = with_steady.started(whippy(), name="Whippy spindles")
    page = phone.page
    phone.open(f"/sets/{kept.id}")
    page.get_by_role("link", name="Plan").tap()

    # The worst cut first, drawn over its give, with the steady in it.
    expect(page.locator(".lead")).to_contain_text("It gives most at")
    worst = page.locator("h2#seen").inner_text()
    drawn, chart = page.locator(".course svg.spindle"), page.locator(".course svg.give")
    upper, lower = boxes(drawn, chart)
    assert upper["x"] == pytest.approx(lower["x"], abs=1)
    assert upper["width"] == pytest.approx(lower["width"], abs=1)
    assert upper["y"] + upper["height"] <= lower["y"] + 1
    assert chart.evaluate(INK) >= 3
    steady_line = page.locator(".cuts .steady-line").first
    expect(steady_line).to_contain_text("Fit the steady at")
    at = steady_line.inner_text().split(" at ")[1].split()[0]
    assert beyond_px(phone.page) == 0

    # Cut by cut.
    page.get_by_role("link", name="Cut before").tap()
    expect(page.locator("h2#seen")).not_to_have_text(worst)
    page.get_by_role("link", name="Next cut").tap()
    expect(page.locator("h2#seen")).to_have_text(worst)

    # A steady where none can stand is refused with what was typed; elsewhere it is drawn.
    page.get_by_text("try the steady elsewhere").tap()
    field = page.get_by_label("Steady at, from the datum end")
    field.fill("9999")
    page.get_by_role("button", name="Show it there").tap()
    expect(page.locator("#steady-problem")).to_contain_text("off the work")
    expect(page.get_by_label("Steady at, from the datum end")).to_have_value("9999")
    page.get_by_label("Steady at, from the datum end").fill("440")
    page.get_by_role("button", name="Show it there").tap()
    expect(page.get_by_role("status").filter(has_text="440 mm")).to_contain_text("it leaves")
    assert beyond_px(phone.page) == 0

    # The maker's own force halves the give, and half of it needs no steady.
    page.get_by_label("Side force, N").fill("0,5")
    page.get_by_role("button", name="Keep", exact=True).tap()
    expect(page.get_by_label("Side force, N")).to_have_value("0.5")
    expect(page.locator(".cuts .steady-line")).to_have_count(0)
    page.get_by_label("Side force, N").fill("")
    page.get_by_role("button", name="Keep", exact=True).tap()
    expect(page.locator(".cuts .steady-line").first).to_contain_text(f"at {at} mm")

    # At the lathe it has its own step, drawn where it goes, before the cut that needs it.
    step = next(s.id for s in with_steady.work(kept).steps if s.tool == "steady")
    phone.turns(kept, 1, step)
    expect(phone.step.locator("h1")).to_have_text("Steady")
    expect(phone.step).to_contain_text(f"{at} mm")
    assert phone.step.locator(".wheel").count() == 1
    phone.step.locator("[data-go]").tap()
    expect(phone.page.locator(f'section.step[id="{step.removeprefix("steady:")}"]')).to_be_visible()
    assert phone.step.locator(".wheel").count() == 1
    assert beyond_px(phone.page) == 0
