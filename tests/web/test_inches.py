"""Who works in inches reads inches: every page that a link leads to in a shop that turns in them,
its fractions set as fractions.

1 in is 25.4 mm [@yard-pound-1959].
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape

import pytest
from starlette.testclient import TestClient

from benchside.store.database import Shop
from tests import shopfloor
from tests.web import inch_shop
from tests.web.pages import browsing, text_of

# Where a figure in millimetres is right: a page of their names or of others' words, the paper's
# own scale, the steps that other calipers show, the small second figure at the lathe.
RIGHT = {
    "/paper": r"210 × 297 mm|297 × 420 mm|(?:195|250) mm|and told in mm",
    "/sets/N/paper": r"(?:195|250) mm",
    "/patterns/N/paper": r"(?:195|250) mm",
    "/calipers": r"\] 0\.\d+ mm",
    "/sources": r"25\.4 mm",
    "/patterns/N/edit": r"5/8 in , 16 mm",
    "/patterns/new": r"5/8 in , 16 mm",
    "/sets/N/stock/sheet": r"100 mm on paper",
    "/stock/boards/N/sheet": r"100 mm on paper",
}
BOTH = re.compile(r"[\d.]+ mm \([^)]* in\)|in \([\d.]+ mm\)")
IN_MM = re.compile(r"[^ ]+ mm\b")
UNSET = re.compile(r"\d+⁄\d+")
SCRIPT = re.compile(r"<script\b.*?</script>", re.DOTALL)
FILES = re.compile(r"/(?:backup|static|look)|[^?]*\.(?:json|csv|zip|pdf|svg|dxf)(?:\?|$)")


@pytest.fixture(scope="module", params=["in/16", "in"])
def maker(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[TestClient]:
    shop: Shop = shopfloor.open_shop(tmp_path_factory.mktemp("inches"))
    for browser in browsing(shop, follow_redirects=True):
        inch_shop.make(shop, browser, request.param)
        yield browser
    shop.close()


def shown(page: str) -> str:
    """What a person reads of a page, with what stands in its fields."""
    page = re.sub(r"<(script|style|template)\b.*?</\1>", " ", page, flags=re.S)
    page = re.sub(r'<input type="hidden"[^>]*>', " ", page)
    page = re.sub(r'<span class="other">.*?</span>', " ", page)
    page = re.sub(r'<input[^>]*?value="([^"]*)"[^>]*>', r" [\1] ", page)
    labels = re.findall(r'(?:aria-label|placeholder|title)="([^"]*)"', page)
    return text_of(page) + " " + unescape(" ".join(labels))


def test_no_page_in_inches_tells_millimetres_or_a_fraction_unset(maker: TestClient) -> None:
    waiting = ["/", "/shop", "/phone-size", "/sets/1", "/sets/1/turn/3", "/sets/1/pieces/1"]
    seen, found = {"/patterns/1?unit=mm"}, []
    while waiting:
        path = waiting.pop().partition("#")[0]
        kind = re.sub(r"(?<=/)\d+(?=/|$)|(?<=cut=).*|[0-9a-f]{32}", "N", path)
        if kind in seen or FILES.match(path):
            continue
        seen.add(kind)
        reply = maker.get(path)
        assert reply.status_code == 200, path
        waiting += [
            unescape(href if href.startswith("/") else path.partition("?")[0] + href)
            for href in re.findall(r'href="([/?][^"]*)"', reply.text)
        ]
        right = RIGHT.get(kind.partition("?")[0], "(?!)")
        told = BOTH.sub(" ", re.sub(right, " ", shown(reply.text)))
        found += [f"{path}: {hit}" for hit in IN_MM.findall(told)]
        found += [f"{path}: {hit} not set" for hit in UNSET.findall(SCRIPT.sub("", reply.text))]
    assert len(seen) > 60, sorted(seen)
    assert not found, "\n".join(found)


def test_figures_of_the_shop_come_back_as_they_were_typed(maker: TestClient) -> None:
    lathe = maker.get("/lathe").text
    assert 'value="12"' in lathe
    assert 'value="39 3/8"' in lathe
    assert "39 3⁄8 in between the centres" in text_of(maker.get("/shop").text)
    assert "up to 3 in" in text_of(maker.get("/calipers").text)
    maker.post("/paper/kerf", data={"kerf": "1/64"})
    assert 'value="1/64"' in maker.get("/paper").text
    maker.post("/sets/1/plan/force", data={"force": "5", "limit": "1/64"})
    assert 'value="1/64"' in maker.get("/sets/1/plan").text
    wood = maker.get("/sets/1/wood").text
    assert 'value="1/64"' in wood
    assert 'value="1/8"' in wood


def test_what_begins_in_a_shop_in_inches_begins_in_inches(maker: TestClient) -> None:
    assert 'value="15 3/4"' in maker.get("/patterns/new?start=rung").text
    assert 'value="3 in"' in maker.get("/stock/logs/new").text
    assert re.search(r'value="in"[^>]* checked', maker.get("/holes").text)
    assert re.search(r'value="in" selected', maker.get("/originals/new").text)
    assert "0.004, or −0.002" in maker.get("/sets/1/fit/new").text


def test_a_length_that_cannot_be_is_told_in_inches(maker: TestClient) -> None:
    form = {"unit": "in", "base": "1", "do": "preview", "length": "60"}
    said = text_of(maker.post("/patterns/1/scale", data=form).text)
    assert "to 39 3⁄8 in is possible" in said
    assert "60 in is longer than the 39.375 in between the lathe's centres" in said


def test_the_next_set_is_offered_in_the_unit_of_the_last(maker: TestClient) -> None:
    offered = re.findall(
        r'name="unit" value="([^"]+)" checked', maker.get("/sets/new?pattern=1").text
    )
    kept = re.findall(r'name="unit" value="([^"]+)" checked', maker.get("/sets/1/settings").text)
    assert offered == kept
