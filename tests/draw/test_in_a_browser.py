"""What a real browser makes of the drawings: its own geometry, its own letters."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from pathlib import Path
from shutil import which

import pytest
from playwright.sync_api import Page, sync_playwright

from benchside.draw import spindle
from benchside.draw.outline import Scale, outline
from benchside.draw.whole import whole
from tests.draw.samples import baluster, bench_spindle

CSS = (Path(__file__).parents[2] / "static" / "drawing.css").read_text()
NAMES = "paper card ink soft line wood rough edge do over under right"
THEME = ":root{" + "".join(f"--{name}:#888;" for name in NAMES.split()) + "}"


@pytest.fixture(scope="module")
def page() -> Iterator[Page]:
    with sync_playwright() as p:
        browser = p.chromium.launch(
            executable_path=which("chromium"), args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page(viewport={"width": 820, "height": 900})
        yield page
        browser.close()


def show(page: Page, body: str, width: int = 820) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.set_content(
        f"<!doctype html><meta charset=utf-8><style>{THEME}{CSS}"
        f"body{{margin:0;font-family:sans-serif}}</style>{body}"
    )


@pytest.mark.parametrize("flip", [True, False])
def test_the_browser_finds_crowns_and_roots_where_the_pattern_has_them(
    page: Page, flip: bool
) -> None:
    """Chromium's own path geometry is the judge, not ours."""
    pattern = bench_spindle()
    scale = Scale(3.0, 6.0, flip, 0.0 if flip else 1560.0, 100.0)
    bead, cove = (outline(pattern, i, i, scale) for i in (3, 4))
    show(page, f'<svg width="1600" height="300"><path d="{bead}"/><path d="{cove}"/></svg>')
    box = page.evaluate(
        "(({x,y,width,height})=>[x,y,width,height])(document.querySelector('path').getBBox())"
    )
    left = 238 * 3 if flip else 1560 - 252 * 3
    assert box == pytest.approx([left, 100 - 28 * 3, 14 * 3, 28 * 6], abs=0.05)
    upper = page.evaluate(
        """() => {
        const p = document.querySelectorAll('path')[1]; let least = 0;
        for (let s = 0; s < 71; s += .02) least = Math.max(least, p.getPointAtLength(s).y);
        return least }"""
    )
    assert upper == pytest.approx(100 - 13 * 3, abs=0.05)


@pytest.mark.parametrize("width", [358, 780])
def test_no_label_of_a_twenty_five_station_pattern_touches_another(page: Page, width: int) -> None:
    pattern = baluster()
    labels = [(s.at_mm, f"{s.name} {s.diameter_mm:g}") for s in pattern.stations]
    drawing = whole(pattern, width=width, labels=labels, length_text="720 mm")
    show(page, drawing, width)
    boxes = page.eval_on_selector_all(
        "text",
        "ts => ts.map(t => { const b = t.getBoundingClientRect();"
        " return [b.left, b.top, b.right, b.bottom] })",
    )
    assert len(boxes) == 26
    for a, b in combinations(boxes, 2):
        apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
        assert apart, (a, b)
    frame = page.eval_on_selector(
        "svg", "s => { const b = s.getBoundingClientRect(); return [b.width, b.height] }"
    )
    assert all(
        b[0] >= -1 and b[1] >= -1 and b[2] <= frame[0] + 1 and b[3] <= frame[1] + 1 for b in boxes
    )


def test_a_step_takes_its_wood_and_its_dashes_from_the_shared_symbols(page: Page) -> None:
    pattern = bench_spindle()
    seen = spindle.view(pattern)
    step = spindle.at_step(pattern, seen, done=[1], here_mm=190, label="x")
    show(page, spindle.symbols(pattern, seen) + step, 390)
    dashes = page.eval_on_selector("#ae", "e => getComputedStyle(e).strokeDasharray")
    assert dashes == "4px, 3px"
    boxes = page.eval_on_selector_all(
        "svg.spindle use",
        "us => us.map(u => u.getBoundingClientRect()).map(b => Math.max(b.width, b.height))",
    )
    assert min(boxes) > 0
    page_width = page.evaluate("document.documentElement.scrollWidth")
    assert page_width <= 390
    symbols = page.eval_on_selector("svg.symbols", "s => s.getBoundingClientRect().width")
    assert symbols == 0
