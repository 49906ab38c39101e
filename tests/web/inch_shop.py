"""A shop that works in inches, made through its pages from the first pattern to a fitted tenon."""

from __future__ import annotations

import re
from dataclasses import replace

from starlette.testclient import TestClient

from benchside import units
from benchside.job import drafts, starting
from benchside.store import sets
from benchside.store.database import Shop
from benchside.units import Unit
from tests import shopfloor
from tests.job.fitted_bench import key
from tests.web.pattern_forms import typed

WOOD = {
    "species": "White Ash",
    "state": "green",
    "route": "green",
    "climate": "cold_winters",
    "moisture": "",
    "sizing_mm": "1/64",
    "rough_mm": "1/8",
}
BOARD = {
    "name": "White ash",
    "length": "94",
    "width": "7",
    "thickness": "2",
    "kerf": "1/8",
    "knot_kind": ["knot"],
    "knot_face": ["one"],
    "knot_at": ["20"],
    "knot_across": ["2 1/2"],
    "knot_length": ["1 1/2"],
    "knot_width": ["1"],
    "knot_depth": [""],
    "knot_tried": [""],
    "do": "save",
}
LOG = {
    "name": "Ash butt",
    "length_mm": "51",
    "large_mm": "14",
    "small_mm": "13",
    "bark_mm": "3/8",
    "end_mm": "3",
    "pith_mm": "1",
    "kerf_mm": "1/4",
    "over_mm": "1/8",
    "way": "grid",
    "blank_length_mm": "22",
    "blank_side_mm": "1",
}
ORIGINAL = {
    "title": "Old leg",
    "datum_end": "tail",
    "pieces": "1",
    "id": ["", "", ""],
    "at": ["0", "1 1/4", "12"],
    "name": ["Foot", "Ring", "Top"],
    "kind": ["tenon", "decorative", "decorative"],
    "form": ["shoulder", "straight", "taper"],
    "do": "save",
}
SEAT = {
    "name": "Seat",
    "species": "soft maple",
    "moisture": "9",
    "across": "radial",
    "test_hole": "",
    "school": "snug",
    "own_fit": "",
    "tenon_moisture": "6",
    "turning": "along",
}
SPINDLE = (
    ("0", "5/8", "tail tenon", "tenon", "shoulder", ""),
    ("1", "7/8", "tail shoulder", "decorative", "taper", ""),
    ("7", "1", "neck", "slender", "cove", "3/4"),
    ("7 3/4", "1", "first bead", "decorative", "bead", "1 3/8"),
    ("8 1/2", "1", "body", "decorative", "straight", ""),
    ("16 1/2", "1", "swell", "slender", "taper", ""),
    ("19", "3/4", "drive shoulder", "decorative", "shoulder", ""),
    ("20", "5/8", "drive tenon", "tenon", "straight", ""),
)


def key_of(page: str) -> str:
    found = re.search(r'name="key" value="([0-9a-f]{32})"', page)
    assert found
    return found[1]


def make(shop: Shop, maker: TestClient, unit: Unit) -> int:
    """Everything that a maker tells a shop, told in inches. ``maker`` goes where it is sent."""
    rows = tuple(
        drafts.Row("", at, thick, name, kind, "", "", form, through)
        for at, thick, name, kind, form, through in SPINDLE
    )
    draft = replace(starting.SHAPES["ends"]("in"), name="Back spindle", rows=rows)
    _sent(maker, "/patterns/new", typed(draft, do="save"))
    form = dict(
        re.findall(r'name="(\w+)"[^>]*value="([^"]*)"', _page(maker, "/sets/new?pattern=1"))
    )
    kept_form = {**form, "pattern": "1", "unit": unit, "habit": "piece", "headstock": "left"}
    _sent(maker, "/sets/new", {**kept_form, "wanted": "3", "spares": "1", "cuts": "ordinary"})
    _sent(maker, "/sets/1/wood", WOOD)
    kept = sets.found(shop, 1)
    _sent(maker, "/stock/boards/new", {**BOARD, "key": key(1), "unit": unit, "set_id": "1"})
    _sent(maker, "/stock/logs/new", {**LOG, "key": key(2), "unit": unit})
    maker.post("/sets/1/stock/number")
    turned(shop, kept, (1, 2))
    lathe = {
        "swing_mm": "12",
        "between_centres_mm": "39 3/8",
        "steps_rpm": "500, 900",
        "grip": "chuck",
    }
    _sent(maker, "/lathe", {**lathe, "steady": "string"})
    caliper = {"letter": "A", "kind": "spring", "least_mm": "0", "most_mm": "3", "name": "bow"}
    _sent(maker, "/calipers/owned", {**caliper, "was": ""})
    page = _sent(maker, "/calipers", {"step": "in/1000"})
    for figure in ("0.871", "0.632", "0.500", "0.872", "0.631", "0.500", "0.873", "0.631", "0.500"):
        asked = dict(re.findall(r'type="hidden" name="(place|turn)" value="(\d)"', page))
        page = _sent(maker, "/calipers/1", {**asked, "value": figure})
    _sent(
        maker,
        "/holes",
        {"key": key(3), "bit": "Spade", "named": "5/8", "unit": "in/64", "species": "soft maple"},
    )
    _sent(maker, f"/holes/{key(3)}", {"key": key(4), "a": "0.630", "b": "0.628"})
    _sent(maker, "/originals/new", {**ORIGINAL, "unit": unit})
    read = dict.fromkeys(("read s1 A", "read s1 B"), "5/8") | dict.fromkeys(
        ("read s2 A", "read s2 B", "read s3 A", "read s3 B"), "1"
    )
    _sent(maker, "/originals/1/pieces/1", {"key": key(5), **read})
    page = maker.get("/sets/1/dry/1").text
    _sent(
        maker,
        "/sets/1/dry/1",
        {"key": key_of(page), "moisture": "8", "read s1 A": "0.612", "read s1 B": "0.590"},
    )
    page = maker.get("/sets/1/fit/new").text
    seat = {**SEAT, "key": key_of(page), "tenon": "s1", "test_hole": key(3)}
    page = _sent(maker, "/sets/1/fit/new", seat)
    sized = re.findall(r'action="(/sets/1/fit/[0-9a-f]{32})/pieces/1"', page)[0]
    _sent(
        maker, f"{sized}/pieces/1", {"key": key_of(page), "a": "0.605", "b": "0.604", "sure": "1"}
    )
    return 1


def turned(shop: Shop, kept: sets.SpindleSet, numbers: tuple[int, ...]) -> None:
    """Pieces turned, with the readings of a maker who reads thousandths."""
    shopfloor.turn(shop, kept, numbers)
    with shop.transaction() as db:
        for row_id, mm in list(db.execute("SELECT id, value_mm FROM reading")):
            text = units.format_length(mm, kept.unit, fine=True)
            db.execute(
                "UPDATE reading SET typed = ?, unit = ? WHERE id = ?", [text, kept.unit, row_id]
            )


def _page(maker: TestClient, path: str) -> str:
    reply = maker.get(path)
    assert reply.status_code == 200, path
    return reply.text


def _sent(maker: TestClient, path: str, form: dict[str, object]) -> str:
    reply = maker.post(path, data=form)
    assert reply.status_code == 200, (path, re.findall(r'class="problem[^>]*>([^<]+)', reply.text))
    return reply.text
