"""The demo's board with knots on both faces gives its blanks by touch alone."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from benchside.job.demo import load_demo
from benchside.resources import seed_dir
from benchside.stock.shapes import Defect, Placed
from benchside.store import stock as store
from benchside.store.database import Shop
from benchside.store.stock import KeptBoard, Knot
from tests.browser import chromium
from tests.browser.bench import Bench, now
from tests.browser.hand import PHONE, TABLET, Phone, boxes
from tests.browser.test_stock import count, finger, middle, rests
from tests.stock.faults import touches

BALUSTER = 2


@pytest.fixture
def demo(tmp_path: Path) -> Iterator[Bench]:
    """The demo, on a data file of its own."""
    chromium.where()
    bench = Bench(tmp_path)
    with closing(Shop(bench.db)) as shop:
        load_demo(shop, seed_dir(), now())
    bench.start()
    try:
        yield bench
    finally:
        bench.kill()


def plank(bench: Bench) -> KeptBoard:
    with closing(Shop(bench.db)) as shop:
        (found,) = store.boards(shop, set_id=BALUSTER)
    return found


def puts(phone: Phone, page: Page, knot: Knot, board: KeptBoard) -> None:
    """A knot tapped where it shows on its own face, and drawn to its size."""
    face = page.locator(f"[data-face={knot.face}] [data-wood]")
    face.scroll_into_view_if_needed()
    (box,) = boxes(face)
    k = box["width"] / board.length_mm
    across = knot.across_mm + knot.width_mm / 2
    down = board.width_mm - across if knot.face == "one" else across
    x, y = (knot.at_mm + knot.length_mm / 2) * k, down * k
    page.locator(".faces").evaluate("(box, x) => box.scrollTo(x - box.clientWidth / 2, 0)", x)
    rests(phone)  # a finger put down while it rolls only stops it
    face.tap(position={"x": x, "y": y})
    expect(page.locator("[data-sizer]")).to_have_count(1)
    row = page.locator("[data-knot].chosen")
    expect(row.locator("[name=knot_face]")).to_have_value(knot.face)
    finger(phone, middle(page.locator("[data-sizer]")), (6 * k, 3 * k))


@pytest.mark.parametrize("size", [PHONE, TABLET], ids=["phone", "tablet"])
def test_its_knots_are_taken_away_put_back_and_its_blanks_numbered(
    demo: Bench, browser: Browser, size: dict[str, object]
) -> None:
    phone = Phone(demo, browser.new_context(**size), "Phone", has_script=True)
    phone.is_let_in()
    page = phone.page
    before = plank(demo)
    assert {knot.face for knot in before.knots} == {"one", "two"}
    phone.open(f"/sets/{BALUSTER}/stock")
    page.get_by_role("link", name=before.name).tap()
    around = count(phone)
    for left in range(len(before.knots) - 1, -1, -1):
        page.locator("[data-list] button").first.tap()
        page.locator("[data-knot].chosen").get_by_role("button", name="Take it away").tap()
        expect(page.locator("[data-list] button")).to_have_count(left)
    clear = count(phone)
    assert clear > around
    for knot in before.knots:
        puts(phone, page, knot, before)
    given = count(phone)
    assert given <= clear
    page.get_by_role("button", name="Keep the board").tap()
    expect(page.get_by_text("Kept. Go on to")).to_be_visible()

    kept = plank(demo)
    for was, is_now in zip(before.knots, kept.knots, strict=True):
        assert is_now.face == was.face
        assert is_now.at_mm + is_now.length_mm / 2 == pytest.approx(
            was.at_mm + was.length_mm / 2, abs=8
        )
    page.get_by_role("link", name="the stock of its set").tap()
    page.get_by_role("button", name="They are sawn").tap()
    expect(page.get_by_text("Which piece is from where")).to_be_visible()
    with closing(Shop(demo.db)) as shop:
        blanks = store.blanks(shop, BALUSTER)
    assert len(blanks) == given
    for blank in blanks:
        size = (blank.length_mm, blank.side_mm)
        lies = Placed(blank.at_mm, blank.across_mm, *size, blank.deep_mm, 0)
        for knot in kept.knots:
            fault = Defect(knot.at_mm, knot.across_mm, knot.length_mm, knot.width_mm)
            assert not touches(lies, fault, kept.grain_slope, kept.thickness_mm)
    assert phone.own_troubles == []
    phone.context.close()
