"""A report on upright pages: all of it is there, within the page, none of it on top of another."""

from __future__ import annotations

from itertools import pairwise

import pytest

from benchside.paper import lettering
from benchside.paper.marks import Stroke, Words
from benchside.paper.page import MARGIN_MM, Page, page
from benchside.paper.pdf import pdf
from benchside.paper.report import (
    Facts,
    Picture,
    Report,
    Section,
    Steps,
    Table,
    Text,
    report_sheets,
    spindle_picture,
    text_width_mm,
)
from tests.paper import samples

SAY = samples.say()
A4 = page(210, 297)


def report(rows: int = 70, on: Page = A4) -> Report:
    table = Table(
        "Readings",
        ("Place", *(f"Piece {i}" for i in range(1, 11)), "Why"),
        (False, *(True,) * 10, False),
        tuple(
            (f"Place {i} of a long name", *("123.45",) * 10, f"reason {i} " * 6)
            for i in range(rows)
        ),
    )
    pattern = samples.stick().pattern
    picture = spindle_picture(pattern, text_width_mm(on), datum_left=False)
    return Report(
        samples.HEADING,
        (
            Section("The pattern", (Picture(picture, "A spindle"), Text("A word. " * 60))),
            Section("Facts", (Facts((("Wood", "ash " * 80), ("Empty", ""))),)),
            Section("Nothing here", ()),
            Section("In order", (Steps(tuple(f"step {i} of many " * 4 for i in range(1, 42))),)),
            Section("Readings", (table,)),
        ),
    )


@pytest.mark.parametrize("on", [A4, page(215.9, 279.4), page(160, 300)])
def test_everything_stands_within_the_page(on: Page) -> None:
    sheets = report_sheets(report(on=on), on, SAY)
    width, height = text_width_mm(on), on.long_mm - 2 * MARGIN_MM
    assert len(sheets) > 1
    for sheet in sheets:
        assert sheet.upright
        for mark in sheet.marks:
            if isinstance(mark, Words):
                wide = lettering.width_mm(mark.text, mark.size_mm, bold=mark.bold)
                left = mark.x - {"left": 0.0, "middle": wide / 2, "right": wide}[mark.align]
                assert left > -0.01
                assert left + wide < width + 0.6, mark.text
                assert 0 < mark.y < height
            elif isinstance(mark, Stroke):
                assert all(-0.01 < p.x < width + 0.01 and p.y < height for p in mark.points)


def test_no_row_is_lost_and_heads_are_repeated() -> None:
    sheets = report_sheets(report(), A4, SAY)
    said = [[m.text for m in s.marks if isinstance(m, Words)] for s in sheets]
    every = [text for texts in said for text in texts]
    for i in range(70):
        assert any(text.startswith(f"Place {i} of") for text in every)
    for texts in said:
        if any(text.startswith("Place ") for text in texts if text != "Place"):
            assert "Piece" in " ".join(texts)
            assert "Why" in texts
    assert "Nothing here" not in every
    assert said[-1][0] == "Bench back spindle"
    assert f"Sheet {len(sheets)} of {len(sheets)}" in said[-1]


def test_rows_of_a_table_do_not_cover_one_another() -> None:
    for sheet in report_sheets(report(), A4, SAY):
        places = [
            (m.x, m.y) for m in sheet.marks if isinstance(m, Words) and m.align == "right" and m.x
        ]
        columns: dict[float, list[float]] = {}
        for x, y in places:
            columns.setdefault(round(x, 3), []).append(y)
        for ys in columns.values():
            ys.sort()
            assert all(b - a > 3.0 for a, b in pairwise(ys))


def test_the_picture_keeps_its_stations_in_place_and_their_numbers_apart() -> None:
    found = samples.stick(samples.rod(0.0, 2.0, 4.0, 6.0, 300.0, 598.0, 600.0)).pattern
    for datum_left in (True, False):
        drawing = spindle_picture(found, 186.0, datum_left=datum_left)
        lines = [m for m in drawing.marks if isinstance(m, Stroke) and m.layer == "station"]
        scale = (186.0 - 8.0) / 600.0
        at = sorted(m.points[0].x for m in lines)
        expected = sorted(
            4.0 + scale * (s.at_mm if datum_left else 600.0 - s.at_mm) for s in found.stations
        )
        assert at == pytest.approx(expected)
        rings = sorted(m.x for m in drawing.marks if isinstance(m, Words))
        assert all(b - a > 3.5 for a, b in pairwise(rings))
        assert rings[-1] < 186.0


def test_it_comes_out_upright() -> None:
    file = pdf(report_sheets(report(3), A4, SAY), title="A set", made_at=samples.DAY)
    dots = samples.seen(file, 2).dots
    assert dots.shape == pytest.approx((594, 420), abs=1.5)
    assert "Wood" in samples.text_of(file)


def test_steps_are_numbered_down_two_columns_and_none_is_lost() -> None:
    (sheet,) = report_sheets(
        Report(samples.HEADING, (Section("", (Steps(tuple("abcde")),)),)), A4, SAY
    )
    at = {m.text: (m.x, m.y) for m in sheet.marks if isinstance(m, Words)}
    assert set("abcde12345") <= set(at)
    left, right = at["a"][0], at["d"][0]
    assert left < right
    assert [at[c][0] for c in "abcde"] == [left] * 3 + [right] * 2
    assert [at[c][1] for c in "abc"] == sorted(at[c][1] for c in "abc")
    assert all(
        at[c][1] == at[n][1] and at[n][0] < at[c][0] for c, n in zip("abcde", "12345", strict=True)
    )


def test_a_list_in_two_columns_is_kept_on_one_page() -> None:
    steps = Steps(tuple(f"step {i}" for i in range(1, 31)))
    for rows in range(20, 60):
        before = Table("Before", ("Place",), (False,), tuple((f"row {i}",) for i in range(rows)))
        sections = (Section("Before", (before,)), Section("In order", (steps,)))
        sheets = report_sheets(Report(samples.HEADING, sections), A4, SAY)
        said = [{m.text for m in s.marks if isinstance(m, Words)} for s in sheets]
        assert sum("step 1" in texts for texts in said) == 1
        assert all(("step 1" in texts) == ("step 30" in texts) for texts in said)


def test_a_short_list_of_facts_is_kept_on_one_page() -> None:
    facts = Facts(tuple((f"fact {i}", "told") for i in range(1, 4)))
    for rows in range(30, 60):
        before = Table("Before", ("Place",), (False,), tuple((f"row {i}",) for i in range(rows)))
        sections = (Section("Before", (before,)), Section("Time", (facts,)))
        sheets = report_sheets(Report(samples.HEADING, sections), A4, SAY)
        said = [{m.text for m in s.marks if isinstance(m, Words)} for s in sheets]
        assert all(len({"Time", "fact 1", "fact 3"} & texts) in (0, 3) for texts in said)


def test_parts_stand_closer_where_that_saves_a_page_and_never_on_one_another() -> None:
    gaps = {}
    for count in range(8, 20):
        sections = tuple(Section(f"Part {i}", (Facts((("fact", "told"),)),)) for i in range(count))
        first, *more = report_sheets(Report(samples.HEADING, sections), A4, SAY)
        at = sorted(m.y for m in first.marks if isinstance(m, Words) and m.text.startswith("Part"))
        gaps[count] = at[1] - at[0]
        if more:
            break
    wide, last = gaps[8], max(n for n in gaps if n != count)
    assert gaps[last] < wide - 1.0  # one page still, since its parts moved together
    assert gaps[count] == wide  # two in any case
    assert min(gaps.values()) > 10.0
