"""A log without a script: how it is split, and what stands in the way."""

from __future__ import annotations

import re

from benchside.store import stock as store
from tests.web.pages import text_of

LOG = {
    "key": "b" * 32,
    "name": "Ash butt",
    "unit": "mm",
    "length_mm": "1300",
    "large_mm": "340",
    "small_mm": "320",
    "bark_mm": "10",
    "end_mm": "75",
    "pith_mm": "25",
    "kerf_mm": "6",
    "over_mm": "3,2",
    "way": "grid",
    "blank_length_mm": "560",
    "blank_side_mm": "25",
}


def test_a_log_gives_both_ways_of_splitting(visitor, shop):
    page = visitor.post("/stock/logs/new", data={**LOG, "length_mm": "48", "end_mm": "0"})
    assert "That is small for a log: were those inches?" in text_of(page.text)
    page = visitor.post("/stock/logs/new", data=LOG)
    assert page.url.path == "/stock/logs/1"
    assert len(re.findall(r"\d+ billets 28\.2 mm square", text_of(page.text))) == 2
    assert page.text.count('class="drawing log') == 2 + 1  # both bolts of the one, one of the other
    page = visitor.post("/stock/logs/1", data={**LOG, "small_mm": "400"})
    assert page.status_code == 422
    assert "The small end is larger" in text_of(page.text)
    assert 'value="400"' in page.text
    assert store.log(shop, 1).small_mm == 320
    page = visitor.post("/stock/logs/1", data={**LOG, "end_mm": "1800"})
    (said,) = re.findall(r'<p class="problem[^>]*id="end_mm-problem"[^>]*>(.*?)</p>', page.text)
    assert said.startswith("1800 mm off each end leaves nothing of a log 1300 mm long.")


def test_what_is_neither_board_nor_log_is_put_away_nowhere(visitor, shop):
    visitor.post("/stock/logs/new", data=LOG)
    assert visitor.post("/stock/planks/1/away", data={"away": "yes"}).status_code == 404
    assert store.log(shop, 1).archived_at is None
    visitor.post("/stock/logs/1/away", data={"away": "yes"})
    assert store.log(shop, 1).archived_at is not None


def test_a_log_told_in_inches_keeps_the_usual_figures_that_stood_there(visitor, shop):
    page = visitor.get("/stock/logs/new").text
    usual = dict(re.findall(r'name="(\w+_mm)"[^>]*value="([^"]+)"', page))
    assert usual["end_mm"] == "75 mm"
    told = {
        **LOG,
        **usual,
        "unit": "in/16",
        "blank_length_mm": "22",
        "blank_side_mm": "1",
        "length_mm": "60",
        "large_mm": "14",
        "small_mm": "13",
    }
    page = visitor.post("/stock/logs/new", data={**told, "key": "9" * 32})
    assert page.status_code == 200, text_of(page.text)
    kept = store.log(shop, int(page.url.path.rsplit("/", 1)[1]))
    assert kept.end_mm == 75
    assert kept.length_mm == 1524


def test_what_a_log_lacks_stands_under_its_name_and_not_beside_it(visitor, kept):
    visitor.post("/stock/logs/new", data={**LOG, "set_id": str(kept.id), "length_mm": "420"})
    page = visitor.get(f"/sets/{kept.id}/stock").text
    (card,) = re.findall(r'<article class="card log-card">(.*?)</article>', page, re.S)
    assert "long, and the log 420 mm" in text_of(card)
    assert "long, and the log" in card.partition("</div>")[0]
