"""Drawings of boards and logs: to scale, the right way up, every blank numbered."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from benchside.draw.board import face, px_per_mm, ruler, saw_plan, whole, with_pins
from benchside.draw.log import end_grain, end_of
from benchside.stock.board import Blank, Board, Defect, Pin, lay_out
from benchside.stock.log import WAYS, Log, split

BOARD = Board(2400.0, 180.0, 55.0, (Defect(500.0, 20.0, 40.0, 30.0, "one"),), trim_left_mm=50.0)
LAYOUT = lay_out(BOARD, Blank(560.0, 25.0), 3.2)
PLAN = saw_plan(BOARD, LAYOUT, tried=(Defect(900.0, 10.0, 20.0, 20.0),))


def shapes(drawing: str, name: str) -> list[dict[str, str]]:
    """The attributes of everything drawn whose classes begin with a name."""
    root = ElementTree.fromstring(drawing)
    return [e.attrib for e in root.iter() if e.attrib.get("class", "").split(" ")[0] == name]


def points(path: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path)]


def test_every_blank_is_drawn_where_it_lies_and_as_large_as_it_is():
    drawing = face(PLAN, "one", 0.5, "Face one")
    drawn = shapes(drawing, "blank")
    assert len(drawn) * 2 == LAYOUT.count  # two lie over one another
    first = LAYOUT.blanks[0]
    (x0, y0), (x1, _), (_, y2), _ = points(drawn[0]["d"])
    assert (x0, y0) == pytest.approx((first.at_mm / 2, (180 - first.across_mm) / 2))
    assert (x1 - x0, y0 - y2) == pytest.approx((280, 12.5))
    assert "1–2" in drawing


def test_a_pin_that_cannot_be_is_hatched_where_it_was_put():
    bare, blank = saw_plan(BOARD, None), Blank(560.0, 25.0)
    pins = [(Pin(50.0, 100.0), blank), (Pin(300.0, 15.0), blank)]
    right, wrong = shapes(face(with_pins(bare, pins, (1,)), "one", 0.5, "Face one"), "blank")
    assert (right["class"], wrong["class"]) == ("blank pinned", "blank pinned wrong")
    assert len(points(right["d"])) == 4
    drawn = points(wrong["d"])
    assert drawn[0] == pytest.approx((150, 82.5))
    assert len(drawn) > 20
    assert all(150 <= x <= 430 and 70 <= y <= 82.5 for x, y in drawn)


def test_face_two_is_the_board_turned_over_its_long_edge():
    one, two = (shapes(face(PLAN, side, 1.0, side), "knot")[0] for side in ("one", "two"))
    assert float(one["cx"]) == float(two["cx"]) == 520
    assert float(one["cy"]) == 180 - 35
    assert float(two["cy"]) == 35
    assert one["class"] == "knot"
    assert two["class"] == "knot behind"


@pytest.mark.parametrize(
    ("unit", "figures"),
    [
        ("mm", "0 mm 100 200 300 400 500 600 700 800 950 mm"),
        ("in", "0 in 3 6 9 12 15 18 21 24 27 30 37.402 in"),
        ("in/64", "0 in 3 6 9 12 15 18 21 24 27 30 37 13⁄32 in"),
    ],
)
def test_the_ruler_has_the_scale_of_the_face_and_ends_with_its_length(unit, figures):
    root = ElementTree.fromstring(ruler(950.0, 0.8, unit))
    texts = [e for e in root.iter() if e.tag.endswith("text")]
    assert " ".join(str(e.text) for e in texts) == figures
    mm = 1.0 if unit == "mm" else 25.4
    for one in texts[1:-1]:
        assert float(one.attrib["x"]) == pytest.approx(float(str(one.text)) * mm * 0.8, abs=0.06)
    assert float(texts[-1].attrib["x"]) == float(root.attrib["width"]) == 760


def test_what_is_tried_without_is_marked():
    assert shapes(face(PLAN, "one", 1.0, "x"), "knot")[1]["class"] == "knot tried"


def test_a_face_is_tall_enough_for_a_finger_and_its_strips_for_a_number():
    assert px_per_mm(180.0, 25.0) * 180 >= 150
    assert px_per_mm(400.0, 25.0) * 25 >= 15
    assert px_per_mm(20.0, 5.0) == 1.5


def test_a_name_that_is_code_is_only_words():
    assert "<script>" not in whole(PLAN, 700.0, '"><script>')


@pytest.mark.parametrize("way", WAYS)
def test_every_billet_is_drawn_inside_the_bark(way):
    log = Log(700.0, 300.0, 290.0, bark_mm=10.0, end_mm=20.0)
    (bolt,) = split(log, Blank(600.0, 28.0), way).bolts
    drawing = end_grain(end_of(log, bolt, way, first=5), width=400.0, label="End")
    billets = shapes(drawing, "blank")
    assert len(billets) == len(bolt.billets) > 20
    (bark,) = shapes(drawing, "bark")
    for billet in billets:
        for x, y in points(billet["d"]):
            assert (x - 200) ** 2 + (y - 200) ** 2 < float(bark["r"]) ** 2
    assert ">5<" in drawing
    assert len(shapes(drawing, "radial")) == (
        len(billets) if way == "sectors" else pytest.approx(len(billets) / 2, abs=len(billets) / 2)
    )
