"""A board and a log's ends on paper: to scale, every blank numbered, in the page and the PDF."""

from __future__ import annotations

from dataclasses import replace
from math import hypot

import pytest

from benchside.draw.board import saw_plan
from benchside.draw.log import end_of
from benchside.paper.marks import Drawing, Mark, Paint, Stroke, Window, Words, box
from benchside.paper.page import MARGIN_MM, Sheet, page
from benchside.paper.pdf import pdf
from benchside.paper.saw_plan import end_rows, ends_scale, scale_of, stretches
from benchside.paper.svg import inline_svg
from benchside.stock.board import Blank, Board, Defect, lay_out
from benchside.stock.log import WAYS, Log, split
from tests.paper import samples

KNOTS = (Defect(500.0, 20.0, 40.0, 30.0, "one"), Defect(900.0, 90.0, 20.0, 20.0, "two"))
BOARD = Board(2400.0, 180.0, 30.0, KNOTS, trim_left_mm=50.0)
LAYOUT = lay_out(BOARD, Blank(560.0, 25.0), 3.2)
PLAN = saw_plan(BOARD, LAYOUT, first=4, tried=(Defect(900.0, 10.0, 20.0, 20.0),))
ROOM_MM = 186.0


def drawn(drawing: Drawing) -> tuple[Mark, ...]:
    (window,) = drawing.marks
    assert isinstance(window, Window)
    return window.marks


def painted(marks: tuple[Mark, ...], paint: Paint) -> list[Stroke]:
    return [m for m in marks if isinstance(m, Stroke) and m.filled and m.paint == paint]


def test_a_board_is_drawn_as_small_as_its_strips_can_be_read() -> None:
    assert scale_of(PLAN) == 5  # 25 mm is 5 mm high; at 1 : 10 it would be 2.5
    narrow = saw_plan(BOARD, lay_out(BOARD, Blank(560.0, 12.0), 3.2))
    assert scale_of(narrow) == 2
    assert scale_of(saw_plan(replace(BOARD, width_mm=700.0), None)) == 20
    assert scale_of(saw_plan(replace(BOARD, width_mm=20_000.0), None)) == 50


@pytest.mark.parametrize("slope", [0.0, 0.08])
def test_stretches_lie_end_to_end_and_every_blank_is_where_it_will_be_sawn(slope: float) -> None:
    board = replace(BOARD, grain_slope=slope)
    layout = lay_out(board, Blank(560.0, 25.0), 3.2)
    found = stretches(saw_plan(board, layout, first=4), ROOM_MM)
    assert [(each.from_mm, each.to_mm) for each in found] == [
        (0.0, 930.0),
        (930.0, 1860.0),
        (1860.0, 2400.0),
    ]
    for each in found:
        assert each.drawing.width_mm == pytest.approx((each.to_mm - each.from_mm) / 5)
        assert each.drawing.height_mm == 36.0
        (window,) = each.drawing.marks
        # What lies at the stretch's beginning comes to its left edge.
        assert window.x - window.left == pytest.approx(-each.from_mm / 5)
        blanks = painted(window.marks, "blank")
        assert len(blanks) == layout.count
        for placed, outline in zip(layout.blanks, blanks, strict=True):
            corner = outline.points[0]
            assert (corner.x, corner.y) == pytest.approx(
                (placed.at_mm / 5, (180.0 - placed.across_mm) / 5)
            )
            along = hypot(outline.points[1].x - corner.x, outline.points[1].y - corner.y)
            assert along == pytest.approx(560.0 / 5)


def test_each_blank_has_its_number_in_every_stretch_it_can_be_read_in() -> None:
    for each in stretches(PLAN, ROOM_MM):
        at = {m.text: m.x for m in drawn(each.drawing) if isinstance(m, Words)}
        for number, placed in enumerate(LAYOUT.blanks, 4):
            low = max(placed.at_mm, each.from_mm)
            high = min(placed.at_mm + 560.0, each.to_mm)
            assert (str(number) in at) == (high - low >= 45.0), number
            if str(number) in at:
                assert at[str(number)] == pytest.approx((low + high) / 2 / 5)


def test_knots_that_are_not_on_this_face_or_not_there_are_broken() -> None:
    marks = drawn(stretches(PLAN, ROOM_MM)[0].drawing)
    (solid,) = painted(marks, "knot")
    xs, ys = [p.x for p in solid.points], [p.y for p in solid.points]
    assert (min(xs), max(xs)) == pytest.approx((100.0, 108.0))
    assert (min(ys), max(ys)) == pytest.approx(((180 - 50) / 5, (180 - 20) / 5))
    assert sum(isinstance(m, Stroke) and m.dashed for m in marks) == 4  # two ovals, two boxes


def test_in_a_pdf_the_board_measures_what_it_says() -> None:
    drawing = stretches(replace(PLAN, faults=()), ROOM_MM)[-1].drawing
    file = pdf([Sheet(page(210, 297), drawing.marks, upright=True)], title="x", made_at=samples.DAY)
    right = MARGIN_MM + (2400 - 1860) / 5
    row = samples.seen(file, 20, within=(right - 3, MARGIN_MM + 0.5, right + 3, MARGIN_MM + 3))
    assert row.row().line_near(right, 0.8, 0.5) == pytest.approx(right, abs=0.05)
    column = samples.seen(file, 20, within=(right - 3, 0, right - 1, 60)).column()
    edges = [column.line_near(MARGIN_MM + mm, 0.8, 0.5) for mm in (0, 36)]
    assert edges[1] - edges[0] == pytest.approx(36, abs=0.05)


@pytest.mark.parametrize("way", WAYS)
def test_the_ends_of_a_log_are_drawn_in_rows_with_every_billet_inside_the_bark(way) -> None:
    log = Log(1900.0, 330.0, 300.0, bark_mm=12.0, end_mm=20.0)
    bolts = split(log, Blank(600.0, 28.0), way).bolts
    assert len(bolts) == 3
    ends = [end_of(log, bolt, way, first=1 + 100 * i) for i, bolt in enumerate(bolts)]
    assert ends_scale(ends, ROOM_MM) == 5
    rows = end_rows(ends, ["Bolt 1", "Bolt 2", "Bolt 3"], ROOM_MM)
    said = [{m.text for m in row.marks if isinstance(m, Words)} for row in rows]
    assert len(rows) == 2
    assert {"Bolt 1", "Bolt 2", "1", "101"} <= said[0]
    assert {"Bolt 3", "201"} <= said[1]
    bark = painted(rows[1].marks, "grain")[0]
    radius = (bark.points[1].x - bark.points[0].x) / 2
    assert radius == pytest.approx(bolts[2].bark_radius_mm / 5)
    middle, y = bark.points[0].x + radius, bark.points[0].y
    # The disc under the bark is painted as a billet is.
    billets = [each for each in painted(rows[1].marks, "blank") if len(each.points) == 4]
    assert len(billets) == len(bolts[2].billets) > 15
    for each in billets:
        assert all(hypot(p.x - middle, p.y - y) < radius for p in each.points)
        a, b = each.points[:2]
        assert hypot(a.x - b.x, a.y - b.y) == pytest.approx(31.2 / 5)


def test_a_picture_in_a_page_has_no_ids_and_its_name_is_only_words() -> None:
    drawing = Drawing(10.0, 5.0, (box(0, 0, 10, 5), Words("A & <b>", 1, 2)))
    found = inline_svg(drawing, '"><script>')
    assert 'role="img"' in found
    assert " id=" not in found
    assert "<script>" not in found
    assert "A &amp; &lt;b&gt;" in found
