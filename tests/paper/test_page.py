"""Pages, their check scales, and a long drawing over many sheets."""

from __future__ import annotations

from itertools import pairwise

import pytest

from benchside.errors import OutOfRange
from benchside.paper import page as pages
from benchside.paper import stick
from benchside.paper.marks import Drawing, Window, Words
from benchside.paper.pdf import pdf
from tests.paper import samples

SAY = samples.say()


def windows(sheets) -> list[Window]:
    return [next(m for m in s.marks if isinstance(m, Window)) for s in sheets]


@pytest.mark.parametrize(
    ("size", "short"),
    [
        (pages.NAMED["a4"], 180),
        (pages.NAMED["letter"], 190),
        (pages.NAMED["a3"], 250),
        (pages.NAMED["tabloid"], 250),
        ((275, 600), 250),
        ((274, 150), 120),
    ],
)
def test_check_scales_are_250_mm_and_as_much_as_the_other_way_holds(size, short) -> None:
    found = pages.page(*size)
    assert pages.scales_mm(found) == (250, short)
    sheet = pages.check_sheet(found, samples.HEADING, SAY)
    for each in (sheet, *pages.sheets(Drawing(40.0, 40.0, ()), found, samples.HEADING, SAY)):
        said = [m.text for m in each.marks if isinstance(m, Words) and m.layer == "check"]
        assert any(text.startswith("Check: 250 mm this way between") for text in said)
        assert f"Check: {short} mm this way between the two outer marks." in said
    file = pdf([sheet], title="Check", made_at=samples.DAY)
    foot = found.short_mm - pages.MARGIN_MM
    row = samples.seen(file, 10, within=(0, foot - 6.5, found.long_mm, foot - 5.5)).row()
    left = pages.MARGIN_MM + pages.scale_from_mm(found)
    assert left + 250 <= found.long_mm - pages.MARGIN_MM  # where any printer prints
    ends = [row.line_near(left + mm) for mm in (0, 250)]
    assert ends[1] - ends[0] == pytest.approx(250, abs=0.05)
    side = pages.MARGIN_MM + 5.5
    column = samples.seen(file, 10, within=(side, 0, side + 1, found.short_mm)).column()
    ends = [column.line_near(foot - mm) for mm in (0, short)]
    assert ends[0] - ends[1] == pytest.approx(short, abs=0.05)


@pytest.mark.parametrize(
    "size", [(100, 150), (273, 200), (297, 149), (1700, 2000), (9000, 210), (float("nan"), 210)]
)
def test_a_page_without_room_is_refused(size) -> None:
    with pytest.raises(OutOfRange) as caught:
        pages.page(*size)
    assert caught.value.field == "page"


def test_a_correction_is_what_the_scale_should_be_over_what_it_measures() -> None:
    assert pages.correction(250, 248.75, "long") == pytest.approx(1.005025, abs=1e-6)
    for wrong in (235.0, 0.0, -1.0, float("nan"), float("inf")):
        with pytest.raises(OutOfRange) as caught:
            pages.correction(250, wrong, "long")
        assert caught.value.field == "long"
    with pytest.raises(OutOfRange, match="told to fit"):
        pages.page(297, 210, along=1.2)


@pytest.mark.parametrize("size", [(297, 210), (279.4, 215.9), (420, 297), (330, 200)])
def test_sheets_cover_a_stick_of_three_metres_with_overlaps_clear_of_its_lines(size) -> None:
    found = samples.stick(samples.rod(*(60.0 * i for i in range(51))))
    drawing = stick.slip(found, SAY)
    sheets = pages.sheets(drawing, pages.page(*size), samples.HEADING, SAY)
    seen = windows(sheets)
    assert seen[0].left <= 0
    assert seen[-1].right >= drawing.width_mm
    room = pages.room(sheets[0].page)[0]
    for before, after in pairwise(seen):
        assert before.right - after.left == pytest.approx(pages.OVERLAP_MM)
        assert before.right - before.left <= room + pages.EDGE_MM + 1e-6
        assert min(abs(after.left - at) for at in drawing.quiet) >= pages.CLEAR_MM - 1e-6
    said = [{m.text for m in s.marks if isinstance(m, Words)} for s in sheets]
    for number, texts in enumerate(said, 1):
        assert {"19 Mar 2026", "revision 3", f"Sheet {number} of {len(sheets)}"} <= texts


def test_what_fits_one_page_is_one_page() -> None:
    short = samples.stick(samples.rod(0.0, 90.0, 160.0))
    sheets = pages.sheets(stick.slip(short, SAY), pages.page(297, 210), samples.HEADING, SAY)
    assert len(sheets) == 1
    assert not any("Sheet" in m.text for m in sheets[0].marks if isinstance(m, Words))


def test_one_long_page_is_as_long_as_it_needs_and_refused_when_no_page_can_be() -> None:
    drawing = stick.slip(samples.stick(samples.rod(0.0, 1500.0, 3000.0)), SAY)
    endless = pages.page(297, 210, endless=True)
    (sheet,) = pages.sheets(drawing, endless, samples.HEADING, SAY)
    assert 3000 < sheet.page.long_mm < 3200
    longer = Drawing(5000.0, 60.0, ())
    with pytest.raises(OutOfRange, match="no page can be longer"):
        pages.sheets(longer, endless, samples.HEADING, SAY)


def test_a_thick_piece_is_refused_with_the_width_that_would_do() -> None:
    thick = samples.stick(samples.shop_post(160.0))
    drawing = stick.half_pattern(thick, SAY)
    with pytest.raises(OutOfRange, match="high; the page has room") as caught:
        pages.sheets(drawing, pages.page(297, 210), samples.HEADING, SAY)
    least = float(caught.value.hint.partition(" mm (")[0].split()[-1])
    assert pages.sheets(drawing, pages.page(420, least + 1), samples.HEADING, SAY)
