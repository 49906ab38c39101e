"""Paper from a phone and from the laptop: looked at, taken home, and read again elsewhere."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
import zxingcpp
from playwright.sync_api import expect

from benchside.paper.page import FOOT_MM, MARGIN_MM
from tests import shopfloor
from tests.browser.bench import Bench, stretcher
from tests.browser.conftest import NewPhone
from tests.browser.hand import LAPTOP, PHONE, TABLET, beyond_px
from tests.paper import samples


@pytest.mark.parametrize("size", [PHONE, TABLET], ids=["phone", "tablet"])
def test_a_printer_is_measured_and_the_next_sheets_come_out_longer(
    bench: Bench, new_phone: NewPhone, size: dict[str, object]
) -> None:
    kept = bench.started(stretcher(), wanted=3)
    phone = new_phone(size=size)
    page = phone.page
    phone.open(f"/sets/{kept.id}")
    page.get_by_role("navigation", name="This set").get_by_role("link", name="Paper").click()
    pictures = page.locator("main img")
    for i in range(pictures.count()):
        pictures.nth(i).scroll_into_view_if_needed()
        expect(pictures.nth(i)).to_have_js_property("complete", True)
        assert pictures.nth(i).evaluate("img => img.naturalWidth") > 200
    assert beyond_px(page) <= 0

    phone.open("/paper")
    page.get_by_label("Letter").check()
    page.get_by_role("button", name="Keep the page").click()
    along = page.get_by_label("The long way measures")
    across = page.get_by_label("The short way measures")
    along.fill("248,5")
    across.fill("what?")
    page.get_by_role("button", name="Keep what I measured").click()
    expect(along).to_have_value("248,5")
    expect(across).to_have_attribute("aria-invalid", "true")
    across.fill("200")
    page.get_by_role("button", name="Keep what I measured").click()
    expect(page.get_by_text("Kept.")).to_be_visible()

    phone.open(f"/sets/{kept.id}/paper")
    file = downloaded(phone, "labels.pdf")
    foot = 215.9 - MARGIN_MM
    row = samples.seen(file, 10, within=(0, foot - 5.2, 279.4, foot - 4.2)).row()
    left = MARGIN_MM  # Letter has room for both scales in one corner only
    ends = [row.line_near(left + mm) for mm in (0.0, 250 * 250 / 248.5)]
    assert ends[1] - ends[0] == pytest.approx(250 * 250 / 248.5, abs=0.05)
    dots = samples.seen(file, 8, within=(0, 0, 279.4, 215.9 - FOOT_MM)).dots
    read = {code.text for code in zxingcpp.read_barcodes((255 * (1 - dots)).astype(np.uint8))}
    assert {address.rpartition("/")[2] for address in read} == {"1", "2", "3", "4"}
    for address in read:
        assert f"/sets/{kept.id}/pieces/" in address
    phone.open("/paper")
    page.get_by_role("button", name="Draw with no correction again").click()
    page.get_by_label("A4").check()
    page.get_by_role("button", name="Keep the page").click()


def downloaded(phone, name: str) -> bytes:
    with phone.page.expect_download() as waiting:
        phone.page.locator(f'a[href$="{name}"]').first.click()
    return Path(waiting.value.path()).read_bytes()


@pytest.mark.slow
def test_what_a_browser_prints_is_not_made_smaller_to_fit(
    bench: Bench, new_phone: NewPhone
) -> None:
    """A list in columns that is broken by the end of a page must not run off it to the side."""
    short = bench.started(stretcher(), wanted=2)
    long = bench.started(shopfloor.back_spindle(), wanted=11)
    page = new_phone().page
    for path in ("steps", "sheet"):
        sizes = []
        for kept in (short, long):
            page.goto(bench.url(f"/sets/{kept.id}/{path}"))
            file = page.pdf(format="A4", prefer_css_page_size=True)
            said = samples.text_of(file)
            assert "For the wall" not in said  # what only the screen needs
            assert "All of the set" not in said
            sizes.append(size_of(file, kept.name))
        assert sizes[0] == pytest.approx(sizes[1], rel=0.02)


@pytest.mark.slow
def test_no_page_ends_or_begins_with_less_than_three_lines_of_a_table(
    bench: Bench, new_phone: NewPhone
) -> None:
    kept = bench.started(shopfloor.back_spindle(), wanted=4)
    bench.turned(kept, 1, 2, 3)
    page = new_phone().page
    broken = 0
    for path, tables in (("sheet", (2, 3)), ("as-made", (0,))):
        page.goto(bench.url(f"/sets/{kept.id}/{path}"))
        found = [page.locator("table").nth(i).locator("tr").all_inner_texts() for i in tables]
        for height_mm in range(170, 300, 4):
            file = page.pdf(width="210mm", height=f"{height_mm}mm")
            opened = pypdfium2.PdfDocument(file)
            pages = [spaced(each.get_textpage().get_text_range()) for each in opened]
            opened.close()
            for head, *table in found:
                stood = [sum(spaced(row) in text for row in table) for text in pages]
                assert sum(stood) == len(table) > 9
                assert all(count == 0 or count >= 3 for count in stood), (path, height_mm, stood)
                assert [spaced(head) in text for text in pages] == [count > 0 for count in stood]
                broken += sum(count > 0 for count in stood) > 1
    assert broken > 5


def spaced(text: str) -> str:
    return " ".join(text.split())


def size_of(file: bytes, words: str) -> float:
    """The size of the letters of these words, where they first stand. [points]"""
    opened = pypdfium2.PdfDocument(file)
    texts = opened[0].get_textpage()
    found = texts.search(words).get_next()
    assert found is not None
    _, bottom, _, top = texts.get_charbox(found[0], loose=True)
    opened.close()
    return float(top - bottom)


def test_a_pattern_of_a_metre_as_a_browser_draws_its_svg_is_a_metre(
    bench: Bench, new_phone: NewPhone
) -> None:
    at = (0.0, 2.0, 31.7, 250.0, 333.3, 498.25, 702.0, 999.0, 1000.0)
    pattern = replace(samples.rod(*at), name="A rod of a metre")
    kept = bench.started(pattern, name="Rods", wanted=1)
    phone = new_phone(size=LAPTOP)
    phone.open(f"/sets/{kept.id}/paper")
    drawing = downloaded(phone, "/outline.svg").decode()
    phone.page.goto("about:blank")
    phone.page.set_content(drawing)
    middles = phone.page.locator("#station path").evaluate_all(
        "all => all.map(p => p.getBoundingClientRect()).map(b => (b.left + b.right) / 2)"
    )
    heights = phone.page.locator("#station path").evaluate_all(
        "all => all.map(p => p.getBBox().height)"  # in the drawing's units, millimetres
    )
    mm = [(x - min(middles)) / 96 * 25.4 for x in sorted(middles)]
    assert mm == pytest.approx(list(at), abs=0.1)
    assert sorted(heights) == pytest.approx(sorted(s.diameter_mm for s in pattern.stations))
