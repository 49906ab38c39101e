"""Pages, their check scales, and a long drawing over many sheets."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from benchside.errors import OutOfRange
from benchside.paper import lettering, stick, stick_head
from benchside.paper import page as pages
from benchside.paper.check import ARM_MM
from benchside.paper.marks import Drawing, Stroke, Window, Words
from benchside.paper.pdf import pdf
from tests.paper import samples

SAY = samples.say()


def windows(sheets) -> list[Window]:
    return [next(m for m in s.marks if isinstance(m, Window)) for s in sheets]


@pytest.mark.parametrize(
    ("size", "short"),
    [
        (pages.NAMED["a4"], 195),
        (pages.NAMED["letter"], 200),
        (pages.NAMED["a3"], 250),
        (pages.NAMED["tabloid"], 250),
        ((275, 600), 250),
        ((274, 150), 135),
    ],
)
def test_check_scales_are_250_mm_and_as_much_as_a_printer_reaches_the_other_way(
    size, short
) -> None:
    found = pages.page(*size)
    assert pages.scales_mm(found) == (250, short)
    sheet = pages.check_sheet(found, samples.HEADING, SAY)
    for each in (sheet, *pages.sheets(Drawing(40.0, 40.0, ()), found, samples.HEADING, SAY)):
        said = [m.text for m in each.marks if isinstance(m, Words) and m.layer == "check"]
        assert any(text.startswith("Check: 250 mm this way between") for text in said)
        assert f"Check: {short} mm this way between the two outer marks." in said
    file = pdf([sheet], title="Check", made_at=samples.DAY)
    foot = found.short_mm - pages.MARGIN_MM
    row = samples.seen(file, 10, within=(0, foot - 5.2, found.long_mm, foot - 4.2)).row()
    left = pages.MARGIN_MM + pages.scale_from_mm(found)
    assert left + 250 <= found.long_mm - pages.MARGIN_MM  # where any printer prints
    ends = [row.line_near(left + mm) for mm in (0, 250)]
    assert ends[1] - ends[0] == pytest.approx(250, abs=0.05)
    side = pages.MARGIN_MM + 5.5
    column = samples.seen(file, 10, within=(side, 0, side + 1, found.short_mm)).column()
    below = pages.MARGIN_MM + pages.scale_foot_mm(found)
    assert below - short >= pages.PRINTS_TO_MM
    assert below <= found.short_mm - pages.PRINTS_TO_MM
    ends = [column.line_near(below - mm) for mm in (0, short)]
    assert ends[0] - ends[1] == pytest.approx(short, abs=0.05)


def test_a_scale_drawn_longer_for_a_printer_stays_within_its_reach() -> None:
    for across in (pages.LEAST_CORRECTION, 1.0, 1.02, pages.MOST_CORRECTION):
        found = pages.page(*pages.NAMED["a4"], across=across)
        below, short = pages.scale_foot_mm(found), pages.scales_mm(found)[1]
        drawn = [pages.MARGIN_MM + mm * across for mm in (below - short, below)]
        assert drawn[0] >= pages.PRINTS_TO_MM - 1e-9
        assert drawn[1] <= 210 - pages.PRINTS_TO_MM + 1e-9
        assert pages.scales_mm(pages.uncorrected(found)) == (250, 195)


@pytest.mark.parametrize(
    "across", [pages.LEAST_CORRECTION, 0.995, 1.0, 1.01, pages.MOST_CORRECTION]
)
@pytest.mark.parametrize("along", [pages.LEAST_CORRECTION, 1.0, pages.MOST_CORRECTION])
@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize(
    "size",
    [*pages.NAMED.values(), (274, 150), (300, 180), (300, 300), (482.6, 330.2), (594, 420)],
)
def test_crosses_stand_where_a_printer_reaches_and_off_the_drawing(
    size, unit, along: float, across: float
) -> None:
    on = pages.page(*size, along=along, across=across)
    found = pages.corners_mm(on, unit)
    xs = [pages.MARGIN_MM + x * along for x in (found.x, found.x + found.along_mm)]
    ys = [pages.MARGIN_MM + y * across for y in (found.y, found.y + found.down_mm)]
    for low, high, whole in ((*xs, on.long_mm), (*ys, on.short_mm)):
        assert low - ARM_MM >= pages.PRINTS_TO_MM
        assert high + ARM_MM <= whole - pages.PRINTS_TO_MM + 1e-9
    left, top = pages.MARGIN_MM + pages.SIDE_MM * along, pages.MARGIN_MM
    drawn = top + (pages.TOP_MM + pages.room(on)[1]) * across
    assert xs[0] + ARM_MM < left
    assert ys[0] + ARM_MM < top  # over the heading
    assert ys[1] - ARM_MM > drawn
    assert ys[1] + ARM_MM < on.short_mm - pages.MARGIN_MM - 2.0 * across  # over the scale
    # A round figure, to read off a rule; the two diagonals of a rectangle are one length.
    step = 10.0 if unit == "mm" else 12.7
    assert found.across_mm / step == pytest.approx(round(found.across_mm / step), abs=1e-9)


@pytest.mark.parametrize("short", [150.0, 160.0, 170.0, 175.0, 180.0, 190.0, 200.0, 215.9, 297.0])
@pytest.mark.parametrize("unit", ["mm", "in/64"])
@pytest.mark.parametrize("across", [pages.LEAST_CORRECTION, 1.0, pages.MOST_CORRECTION])
def test_the_words_up_the_side_of_a_sheet_keep_clear_of_each_other_and_of_the_crosses(
    short: float, unit, across: float
) -> None:
    on = pages.page(300.0, short, across=across)
    heading = replace(samples.HEADING, unit=unit)
    (sheet,) = pages.sheets(Drawing(40.0, 40.0, ()), on, heading, SAY)
    told = [m for m in sheet.marks if isinstance(m, Words) and m.upright and len(m.text) > 3]
    corners = pages.corners_mm(on, unit)
    spans = [(corners.y + side - ARM_MM, corners.y + side + ARM_MM) for side in (0, corners[3])]
    for mark in told:
        wide = lettering.width_mm(mark.text, mark.size_mm)
        low = mark.y if mark.align == "right" else mark.y - wide
        spans.append((low, low + wide))
    assert len(spans) == 4
    for above, below in pairwise(sorted(spans)):
        assert below[0] - above[1] > 0.9


@pytest.mark.parametrize(
    ("size", "unit", "told"),
    [
        ("a4", "mm", "300 mm"),
        ("letter", "mm", "300 mm"),
        ("a4", "in/64", "12 in"),
        ("letter", "in/16", "12 in"),
        ("a3", "mm", "440 mm"),
        ("tabloid", "in", "16 in"),
    ],
)
def test_every_sheet_says_what_it_measures_corner_to_corner(size, unit, told: str) -> None:
    on = pages.page(*pages.NAMED[size])
    heading = replace(samples.HEADING, unit=unit)
    found = pages.corners_mm(on, unit)
    if size in ("a4", "letter"):
        assert (found.along_mm, found.down_mm) == pytest.approx(
            (found.across_mm * 4 / 5, found.across_mm * 3 / 5)
        )
    drawn = pages.sheets(Drawing(700.0, 40.0, ()), on, heading, SAY)
    for sheet in (*drawn, pages.check_sheet(on, heading, SAY)):
        said = [m.text for m in sheet.marks if isinstance(m, Words)]
        assert f"Cross to cross, corner to corner: {told} both ways." in said
    assert any(text.endswith(f"both ways: {told}.") for text in said)


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
    long_mm = [part.right - part.left for part in seen]
    assert min(long_mm) > 0.6 * max(long_mm)  # no stub to glue at the end


@pytest.mark.parametrize("drawn", [stick.slip, stick.half_pattern, stick.trace])
@pytest.mark.parametrize("datum_left", [True, False])
def test_every_part_of_a_stick_says_whose_it_is_and_what_is_next_each_way(
    drawn, datum_left: bool
) -> None:
    at = {0.0: "Foot", 250.0: "Knee", 1500.0: "Hip", 3000.0: "Top"}
    rod = samples.rod(*at)
    named = tuple(replace(s, name=at[s.at_mm]) for s in rod.stations)
    found = samples.stick(replace(rod, stations=named), datum_left=datum_left)
    drawing = drawn(found, SAY)
    sheets = pages.sheets(drawing, pages.page(297, 210), samples.HEADING, SAY)
    head = stick_head.HEAD_MM
    parts = windows(sheets)
    for number, (sheet, part) in enumerate(zip(sheets, parts, strict=True), 1):
        top = part.y - part.top
        said = [m for m in sheet.marks if isinstance(m, Words) and top < m.y < top + 12]
        told = next(m for m in said if m.bold)
        assert told.text.startswith(f"Sheet {number} of {len(sheets)} · 19 Mar 2026 · revision 3 ·")
        last = number == len(sheets)
        low, high = part.left, part.right - (0.0 if last else pages.OVERLAP_MM)
        zero = stick.END_MM if datum_left else head + stick.END_MM + 3000.0
        x = {name: zero + (mm if datum_left else -mm) for mm, name in at.items()}
        before = (
            max((x[n], n) for n in x if x[n] < low)[1]
            if number > 1 and min(x.values()) < low
            else ""
        )
        after = min((x[n], n) for n in x if x[n] > high)[1] if max(x.values()) > high else ""
        ends = [m.text for m in said if not m.bold and m.text]
        wanted = [f"← {before} at"] * bool(before) + [f"{after} at"] * bool(after)
        assert len(ends) == len(wanted)
        assert all(text.startswith(start) for text, start in zip(ends, wanted, strict=True))
        for words in said:  # on the part that is cut out, not on the tab or the head
            wide = lettering.width_mm(words.text, words.size_mm, bold=words.bold)
            back = {"left": 0.0, "middle": wide / 2, "right": wide}[words.align]
            left = words.x - back - part.x + part.left
            assert low - 1e-6 <= left
            assert left + wide <= high + 1e-6


def test_words_that_no_join_should_run_through_cost_no_sheet_more() -> None:
    on = pages.page(297, 210)
    window = pages.room(on)[0]
    two = 2 * window - pages.OVERLAP_MM  # what just fits two sheets
    middle = window - pages.OVERLAP_MM
    for names in ((), (middle,)):
        drawing = Drawing(two, 40.0, (), names=names)
        assert len(pages.sheets(drawing, on, samples.HEADING, SAY)) == 2
    shorter = Drawing(two - 40.0, 40.0, (), names=(middle - 20.0,))
    join = windows(pages.sheets(shorter, on, samples.HEADING, SAY))[1].left
    assert abs(join - (middle - 20.0)) >= pages.CLEAR_MM


@pytest.mark.parametrize("spare", [0.0, 2.0, 4.0, 40.0])
def test_what_is_told_at_a_join_lies_neither_on_its_marks_nor_on_the_drawing(spare: float) -> None:
    on = pages.page(297, 210)
    high = pages.room(on)[1] - spare
    sheets = pages.sheets(Drawing(600.0, high, ()), on, samples.HEADING, SAY)
    assert len(sheets) == 3
    for sheet in sheets:
        rings = [m for m in sheet.marks if isinstance(m, Stroke) and m.closed and m.points[0].bulge]
        said = [m for m in sheet.marks if isinstance(m, Words)]
        told = [m for m in said if m.text.startswith(("Cut along", "Glue sheet"))]
        numbers = [m for m in said if m.size_mm == 2.6 and m.bold]
        assert len(rings) == len(numbers) == 2 * len(told) > 0
        for words in told:
            wide = lettering.width_mm(words.text, words.size_mm)
            left = words.x - (wide if words.align == "right" else 0.0)
            assert left > pages.SIDE_MM
            foot = pages.TOP_MM + spare / 2 + high
            assert words.y - words.size_mm * lettering.CAP_EM > foot + 0.3
            for ring in rings:  # and its number beside it
                x, y = ring.points[0].x + 1.6, ring.points[0].y
                apart = left > x + 5.6 or left + wide < x - 3.0
                assert apart or words.y - words.size_mm * lettering.CAP_EM > y + 1.6


def test_what_would_be_cut_by_the_end_of_a_sheet_stands_on_the_next_one_only() -> None:
    found = samples.stick(samples.rod(*(30.0 * i for i in range(40))))
    drawing = stick.slip(found, SAY)
    sheets = pages.sheets(drawing, pages.page(297, 210), samples.HEADING, SAY)
    for sheet, part in list(zip(sheets, windows(sheets), strict=True))[:-1]:
        join = part.right - pages.OVERLAP_MM
        assert not [m.text for m in part.marks if isinstance(m, Words) and m.upright and m.x > join]
        assert sheet.page.short_mm == 210
    words = [m.text for part in windows(sheets) for m in part.marks if isinstance(m, Words)]
    names = {m.text for m in drawing.marks if isinstance(m, Words)}
    assert names == set(words)


@pytest.mark.parametrize("count", [1, 3])
def test_drawings_that_fill_a_sheet_each_are_numbered_where_there_are_several(count: int) -> None:
    on = pages.page(297, 210)
    made = pages.sheet_each([Drawing(*pages.room(on), ())] * count, on, samples.HEADING, SAY)
    assert len(made) == count
    said = [[m.text for m in s.marks if isinstance(m, Words) and "Sheet" in m.text] for s in made]
    assert said == ([[]] if count == 1 else [[f"Sheet {n} of 3"] for n in (1, 2, 3)])


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
