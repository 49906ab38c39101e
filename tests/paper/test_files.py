"""PDF, SVG and DXF as other programs read them."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import ezdxf
import numpy as np
import pypdfium2
import pytest
from hypothesis import given, settings

from benchside.paper import lettering, stick
from benchside.paper.dxf import dxf
from benchside.paper.marks import Words, line
from benchside.paper.page import Sheet, page, sheets
from benchside.paper.pdf import pdf
from benchside.paper.shape import AROUND_MM, shape
from benchside.paper.svg import drawing_svg, sheet_svg
from tests.paper import samples
from tests.pattern.spindles import patterns

SAY = samples.say()
LONG = "Spindel mit sehr langem Namen, " * 6 + "genau zweihundert"


def outline_points(entity) -> np.ndarray:
    """Places on a polyline as the reader has it: its arcs by centre, radius and angles."""
    corners = list(entity.get_points("xyb"))
    found = []
    for (x, y, bulge), (to_x, to_y, _) in pairwise([*corners, corners[0]]):
        if bulge:
            centre, start, end, radius = ezdxf.math.bulge_to_arc((x, y), (to_x, to_y), bulge)
            turn = start + np.linspace(0.0, 1.0, 40) * ((end - start) % (2 * np.pi))
            found += list(
                zip(centre.x + radius * np.cos(turn), centre.y + radius * np.sin(turn), strict=True)
            )
        else:
            share = np.linspace(0.0, 1.0, 5)
            found += list(zip(x + share * (to_x - x), y + share * (to_y - y), strict=True))
    return np.array(found)


@settings(max_examples=8)
@given(patterns())
def test_a_patterns_dxf_read_back_is_its_profile(pattern) -> None:
    drawing = shape(pattern)
    read = ezdxf.read(io.StringIO(dxf(drawing).decode()))
    (entity,) = read.modelspace().query('LWPOLYLINE[layer=="outline"]')
    (axis,) = read.modelspace().query('LWPOLYLINE[layer=="centre"]')
    axis_y = axis[0][1]
    points = outline_points(entity)
    points = points[points[:, 1] > axis_y + 1e-9]
    x = points[:, 0] - AROUND_MM
    at = np.array([s.at_mm for s in pattern.stations])
    clear = np.abs(x[:, None] - at).min(1) > 1e-4
    found = 2 * (points[clear, 1] - axis_y)
    np.testing.assert_allclose(found, pattern.diameter_mm_at(x[clear]), atol=0.01)
    lines = sorted(e[0][0] for e in read.modelspace().query('LWPOLYLINE[layer=="station"]'))
    np.testing.assert_allclose(np.array(lines) - AROUND_MM, at, atol=1e-6)


def test_a_half_outline_is_closed_along_the_axis() -> None:
    pattern = samples.stick().pattern
    read = ezdxf.read(io.StringIO(dxf(shape(pattern, half=True)).decode()))
    (entity,) = read.modelspace().query('LWPOLYLINE[layer=="outline"]')
    flat = outline_points(entity)
    assert flat[:, 1].max() - flat[:, 1].min() == pytest.approx(11.0)


def test_an_svg_is_in_millimetres_and_well_formed() -> None:
    drawing = shape(samples.stick().pattern)
    root = ET.fromstring(drawing_svg(drawing, "A & <b>"))
    assert root.get("width") == "460mm"
    assert root.get("viewBox") == f"0 0 460 {float(root.get('height').removesuffix('mm')):g}"
    groups = {g.get("id") for g in root.findall("{http://www.w3.org/2000/svg}g")}
    assert {"outline", "centre", "station", "words"} <= groups
    assert root.find("{http://www.w3.org/2000/svg}title").text == "A & <b>"


SVG = "{http://www.w3.org/2000/svg}"
NUMBER = re.compile(r"-?[\d.]+")


def svg_corners(path: ET.Element) -> list[list[tuple[float, float]]]:
    """A path's corners, each arc as forty places on the circle the standard says it is of."""
    found: list[list[tuple[float, float]]] = []
    for letter, rest in re.findall(r"([MLAz])([^MLAz]*)", path.get("d", "")):
        told = [float(n) for n in NUMBER.findall(rest)]
        if letter == "A":
            found.append(svg_arc(found[-1][-1], told))
        elif letter != "z":
            found.append([(told[0], told[1])])
    return found


def svg_arc(start: tuple[float, float], told: list[float]) -> list[tuple[float, float]]:
    """Places on an arc, by the rules of SVG 1.1, appendix F.6.5, for a circle."""
    radius, _, _, large, sweep, *end = told
    half = (np.array(end) - start) / 2
    far = np.hypot(*half)
    up = np.sqrt(max(0.0, radius**2 - far**2)) * (1 if large != sweep else -1)
    centre = start + half + up * np.array([-half[1], half[0]]) / far
    first, last = (np.arctan2(*(np.array(at) - centre)[::-1]) for at in (start, end))
    turn = (last - first) % (2 * np.pi) - (0.0 if sweep else 2 * np.pi)
    angles = first + np.linspace(0.0, 1.0, 40) * turn
    return [
        *zip(centre[0] + radius * np.cos(angles), centre[1] + radius * np.sin(angles), strict=True)
    ]


@settings(max_examples=8)
@given(patterns())
def test_a_patterns_svg_read_back_is_its_profile(pattern) -> None:
    root = ET.fromstring(drawing_svg(shape(pattern), pattern.name))
    assert root.get("viewBox").split()[2] + "mm" == root.get("width")  # a unit is a millimetre
    layers = {g.get("id"): g.findall(f"{SVG}path") for g in root.findall(f"{SVG}g")}
    axis_y = svg_corners(layers["centre"][0])[0][0][1]
    points = np.array([at for part in svg_corners(layers["outline"][0]) for at in part])
    points = points[points[:, 1] < axis_y - 1e-3]
    x = points[:, 0] - AROUND_MM
    at = np.array([s.at_mm for s in pattern.stations])
    clear = np.abs(x[:, None] - at).min(1) > 1e-3
    found = 2 * (axis_y - points[clear, 1])
    np.testing.assert_allclose(found, pattern.diameter_mm_at(x[clear]), atol=0.01)
    lines = sorted(svg_corners(path)[0][0][0] for path in layers["station"])
    np.testing.assert_allclose(np.array(lines) - AROUND_MM, at, atol=1e-3)


def test_no_svg_has_a_style_of_its_own_or_asks_for_anything() -> None:
    made = sheets(stick.half_pattern(samples.stick(), SAY), page(297, 210), samples.HEADING, SAY)
    for sheet in made:
        text = sheet_svg(sheet, "Sheet")
        ET.fromstring(text)
        for forbidden in ("style", "<script", "href", "url("):
            assert forbidden not in text


def test_the_same_day_gives_the_same_bytes() -> None:
    sheet = Sheet(page(297, 210), (Words("Foot", 0, 9), line(0, 0, 9, 9)))
    made = [pdf([sheet], title="A stick", made_at=day) for day in (samples.DAY, samples.DAY)]
    assert made[0] == made[1]
    assert b"D:20260319120000" in made[0]
    assert b"/PrintScaling /None" in made[0]
    drawing = shape(samples.stick().pattern)
    assert dxf(drawing) == dxf(drawing)


def test_names_of_any_script_the_font_has_are_in_the_file() -> None:
    names = ("Стойка перил, ясень", "Κάγκελο", '"Half", <in>, 5⁄8 & more', "עמוד")
    marks = tuple(Words(name, 0, 10.0 * i, 5.0) for i, name in enumerate(names, 1))
    text = samples.text_of(pdf([Sheet(page(297, 210), marks)], title="", made_at=samples.DAY))
    for name in names[:3]:
        assert name.replace("\u2044", "/") in text  # the fraction's own slash is too narrow
    assert names[3] in text or names[3][::-1] in text


def test_words_are_as_wide_in_the_file_as_they_were_measured() -> None:
    latin, arabic, size = "Upper shoulder 12.70", "درابزين", 8.0
    # Joined letters are other shapes, so the word is narrower than its letters one by one.
    assert lettering.needs_shaping(arabic)
    alone = sum(lettering.width_mm(letter, size) for letter in arabic)
    assert lettering.width_mm(arabic, size) < 0.95 * alone
    marks = (Words(latin, 0, 20, size), Words(arabic, 0, 60, size))
    seen = samples.seen(pdf([Sheet(page(297, 210), marks)], title="", made_at=samples.DAY), 10)
    for text, top in ((latin, 20), (arabic, 60)):
        ink = seen.dots[10 * top : 10 * (top + 18)].sum(axis=0)
        drawn = np.flatnonzero(ink > 0.5) / 10
        # A letter's own white at either side is a few hundredths of its size.
        wide = lettering.width_mm(text, size)
        assert drawn[-1] - drawn[0] == pytest.approx(wide, abs=0.2 * size)
        assert drawn[0] == pytest.approx(12.0, abs=0.2 * size)


def test_a_letter_the_font_lacks_is_said_to_be_missing() -> None:
    assert lettering.tidy("椅子 leg\u0000") == "□□ leg"


def test_two_hundred_letters_are_wrapped_then_shortened() -> None:
    assert len(LONG) >= 200
    rows = lettering.wrapped(LONG, 55.0, 5.0, 2, bold=True)
    assert len(rows) == 2
    assert rows[-1].endswith("…")
    assert all(lettering.width_mm(row, 5.0, bold=True) <= 55.0 for row in rows)
    assert LONG.startswith(rows[0])
    assert lettering.shortened("short", 55.0, 5.0) == "short"
    assert lettering.wrapped("W" * 200, 30.0, 5.0, 3)[0] == "W" * len(
        lettering.wrapped("W" * 200, 30.0, 5.0, 3)[0]
    )


def test_a_name_from_the_right_turns_none_of_the_words_about_it() -> None:
    name = 'שלום, כיסא "א"'
    said = f"Size {lettering.apart(name)}: 1 9/16"
    cut = lettering.shortened(said, lettering.width_mm("Size שלום, כ…", 6.0), 6.0)
    assert cut.count("\u2068") == cut.count("\u2069") == 1  # nothing after it is drawn in
    sheet = Sheet(page(297, 210), (Words(said, 0.0, 20.0, 6.0),))
    opened = pypdfium2.PdfDocument(pdf([sheet], title="Name", made_at=samples.DAY))
    texts = opened[0].get_textpage()
    drawn = [
        (texts.get_charbox(i)[0], texts.get_text_range(i, 1)) for i in range(texts.count_chars())
    ]
    opened.close()
    row = "".join(letter for _, letter in sorted(drawn) if letter.strip())
    assert row.startswith("Size")
    assert row.endswith(":19/16")
    assert [c for c in row if "א" <= c <= "ת"] == [c for c in reversed(name) if "א" <= c <= "ת"]
