"""The Paper pages: previews, downloads, the printer put right."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
from collections.abc import Iterator

import ezdxf
import pytest
from starlette.testclient import TestClient

from benchside.job import paper
from benchside.store import patterns
from benchside.store.database import Shop
from tests import shopfloor
from tests.job import fitted_bench
from tests.paper import samples
from tests.web.pages import browsing, text_of

NAME = 'Hall "bench", <half>; עמוד'


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    opened = shopfloor.open_shop(tmp_path_factory.mktemp("paper"))
    shopfloor.started(opened, name=NAME)
    fitted_bench.a_set(opened, pieces=0, name="Green bench")
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def browser(shop: Shop) -> Iterator[TestClient]:
    yield from browsing(shop, follow_redirects=True)


def test_the_page_of_a_set_offers_everything_and_is_led_to(browser: TestClient) -> None:
    assert 'href="/sets/1/paper"' in browser.get("/sets/1").text
    page = browser.get("/sets/1/paper").text
    for what in paper.WHAT:
        assert f'href="/sets/1/paper/{what}.pdf"' in page
        picture = browser.get(f"/sets/1/paper/{what}.svg")
        assert picture.headers["content-type"] == "image/svg+xml"
        ET.fromstring(picture.text)
    assert "open to this laptop alone" in text_of(page)
    assert "<half>" not in page
    assert browser.get("/sets/9/paper").status_code == 404
    assert browser.get("/sets/1/paper/everything.pdf").status_code == 404
    assert browser.get("/sets/1/paper/gauges.svg?sheet=40").status_code == 404


def test_gauges_of_green_wood_can_be_had_of_the_finished_sizes(browser: TestClient) -> None:
    page = browser.get("/sets/2/paper").text
    assert "To turn now, green or Finished, dry" in text_of(page)
    assert "Finished, dry" not in text_of(browser.get("/sets/1/paper").text)
    page = browser.get("/sets/2/paper?sizes=finished").text
    assert "/sets/2/paper/gauges.pdf?sizes=finished" in page
    finished = browser.get("/sets/2/paper/gauges.pdf?sizes=finished")
    assert "gauges-finished" in finished.headers["content-disposition"]
    assert "GO 12.80" in samples.text_of(finished.content)
    now = browser.get("/sets/2/paper/gauges.pdf")
    assert "gauges-r1" in now.headers["content-disposition"]
    assert "GO 12.80" not in samples.text_of(now.content)


def test_the_page_of_a_pattern_keeps_to_the_revision_it_shows(browser: TestClient) -> None:
    assert 'href="/patterns/1/paper"' in browser.get("/patterns/1").text
    page = browser.get("/patterns/1/paper?revision=1").text
    assert 'href="/patterns/1/paper/stick.pdf?revision=1"' in page
    assert "labels" not in page.lower()
    assert browser.get("/patterns/1/paper/labels.pdf").status_code == 404
    assert browser.get("/patterns/1/paper?revision=7").status_code == 404


def test_downloads_are_files_that_say_what_they_are(browser: TestClient) -> None:
    reply = browser.get("/sets/1/paper/half-pattern.pdf?long=1")
    assert reply.headers["content-type"] == "application/pdf"
    assert reply.headers["cache-control"] == "no-store"
    assert (
        reply.headers["content-disposition"]
        == 'attachment; filename="benchside-set-1-half-pattern-r1.pdf"'
    )
    assert "Long straight" in samples.text_of(reply.content)
    gauges = browser.get("/sets/1/paper/gauges-cut.dxf?shape=half-round")
    read = ezdxf.read(io.StringIO(gauges.text))
    assert len(read.modelspace().query('LWPOLYLINE[layer=="cut"]')) == len(
        {(s.size_mm, s.tolerance_mm) for s in _sizes(browser)}
    )
    outline = browser.get("/patterns/1/paper/half-outline.svg")
    assert ET.fromstring(outline.text).get("width") == "460mm"


def _sizes(browser: TestClient):
    from benchside.web.paper import language

    return paper.of_set(browser.app.state.shop, 1, language()).sizes


def test_the_printer_is_put_right_by_what_a_check_sheet_measures(browser: TestClient) -> None:
    shop = browser.app.state.shop
    assert browser.get("/paper/check.pdf").content.startswith(b"%PDF")
    page = browser.post("/paper/printer", data={"along": "248,5", "across": "ask"}).text
    assert 'value="248,5"' in page
    assert "is not a length" in text_of(page)
    reply = browser.post("/paper/printer", data={"along": "150", "across": "195"})
    assert reply.status_code == 422
    assert "more than a printer errs by" in text_of(reply.text)
    page = browser.post("/paper/printer", data={"along": "248.5", "across": "195.4"}).text
    assert "Kept." in page
    assert "+0.60 % along" in text_of(page)
    assert paper.printer(shop).page.along == pytest.approx(250 / 248.5)
    assert "put right for your printer" in text_of(browser.get("/sets/1/paper").text)
    browser.post("/paper/printer", data={"forget": "yes"})
    assert not paper.printer(shop).corrected


def test_a_page_of_ones_own_is_kept_or_refused_with_the_figures_given_back(
    browser: TestClient,
) -> None:
    reply = browser.post("/paper/page", data={"size": "own", "width_mm": "100", "height_mm": "200"})
    assert reply.status_code == 422
    assert 'value="100"' in reply.text
    assert "check scale of 250 mm" in text_of(reply.text)
    reply = browser.post("/paper/page", data={"size": "own", "width_mm": "13 in", "height_mm": ""})
    assert reply.status_code == 422
    browser.post("/paper/page", data={"size": "own", "width_mm": "13 in", "height_mm": "19 in"})
    assert "330.2 × 482.6 mm" in text_of(browser.get("/sets/1/paper").text)
    browser.post("/paper/page", data={"size": "a4"})
    assert "A4," in text_of(browser.get("/sets/1/paper").text)
    assert browser.post("/paper/kerf", data={"kerf": "9"}).status_code == 422
    browser.post("/paper/kerf", data={"kerf": "0.2"})
    assert "a cut 0.20 mm wide" in text_of(browser.get("/sets/1/paper").text)


def test_what_cannot_be_printed_says_why_and_the_rest_is_offered(browser: TestClient) -> None:
    shop = browser.app.state.shop
    with shop.transaction() as db:
        post = patterns.add(db, samples.shop_post(160.0), note="", at=samples.DAY)
    page = text_of(browser.get(f"/patterns/{post}/paper").text)
    assert "in) high; the page has room for" in page
    assert "Pattern stick" in page
    reply = browser.get(f"/patterns/{post}/paper/half-pattern.pdf")
    assert reply.status_code == 422


@pytest.mark.parametrize(
    ("size", "short"), [("a4", 195), ("letter", 200), ("a3", 250), ("tabloid", 250)]
)
def test_each_way_is_put_right_by_what_its_own_scale_measures(
    browser: TestClient, shop: Shop, size: str, short: int
) -> None:
    page = text_of(browser.post("/paper/page", data={"size": size}).text)
    assert "The long way measures drawn 250 mm" in " ".join(page.split())
    assert f"The short way measures drawn {short} mm" in " ".join(page.split())
    told = f"The short way of this page holds {short} mm of scale"
    for said in (page, text_of(browser.get("/sets/1/paper").text)):
        assert (told in " ".join(said.split())) == (short < 250)
    across = {"a4": 300, "letter": 300, "a3": 440, "tabloid": 410}[size]
    assert f"from cross to cross, the check sheet measures {across} mm both ways" in " ".join(
        page.split()
    )
    check = " ".join(samples.text_of(browser.get("/paper/check.pdf").content).split())
    assert f"from cross to cross, both ways: {across} mm." in check
    sent = {"along": f"{250 * 0.996:.2f}", "across": f"{short * 1.005:.2f}"}
    assert browser.post("/paper/printer", data=sent).status_code == 200
    # Measured anew, the check sheet has no correction in it, and neither has what is asked.
    again = " ".join(text_of(browser.get("/paper").text).split())
    assert f"The short way measures drawn {short} mm" in again
    found = paper.printer(shop).page
    # A figure read to a quarter of a millimetre is out by so much of what is drawn, at the most.
    assert found.along == pytest.approx(1 / 0.996, abs=0.25 / 250)
    assert found.across == pytest.approx(1 / 1.005, abs=0.25 / short)
    browser.post("/paper/printer", data={"forget": "yes"})
