"""The same sheets through another program, sheet glued to sheet: three metres to a tenth."""

from __future__ import annotations

import subprocess
from dataclasses import replace
from math import hypot
from pathlib import Path

import numpy as np
import pytest

from benchside.paper import stick
from benchside.paper.check import ARM_MM
from benchside.paper.gauges import Cut, Size, gauge_sheets, gauges
from benchside.paper.labels import Label, label_sheets
from benchside.paper.marks import Window
from benchside.paper.page import (
    MARGIN_MM,
    NAMED,
    OVERLAP_MM,
    Heading,
    Page,
    Sheet,
    check_sheet,
    corners_mm,
    page,
    room,
    scale_foot_mm,
    scale_from_mm,
    sheets,
)
from benchside.paper.pdf import pdf
from tests.paper import samples

SAY = samples.say()
DPI = 1200  # the program moves thin lines to whole dots
PER_MM = DPI / 25.4


def rendered(file: bytes, folder: Path, *options: str) -> list[np.ndarray]:
    """The pages as dots, 0 white to 1 black. Without pdftoppm this fails: it is not left out."""
    (folder / "in.pdf").write_bytes(file)
    command = ["pdftoppm", "-r", str(DPI), "-gray", *options, "in.pdf", "out"]
    subprocess.run(command, cwd=folder, check=True)
    return [_pgm(path) for path in sorted(folder.glob("out*.pgm"))]


def _pgm(path: Path) -> np.ndarray:
    raw = path.read_bytes()
    kind, width, height, most = raw.split(maxsplit=4)[:4]
    assert (kind, most) == (b"P5", b"255")
    size = int(width) * int(height)
    dots = np.frombuffer(raw[-size:], np.uint8).reshape(int(height), int(width))
    return 1.0 - dots.astype(float) / 255


@pytest.mark.slow
@pytest.mark.parametrize("size", [(297, 210), (279.4, 215.9)])
def test_three_metres_glued_from_sheets_are_three_metres(size, tmp_path: Path) -> None:
    at = [0.0, 2.0, *(61.37 * i for i in range(1, 48)), 2998.0, 3000.0]
    found = samples.stick(samples.rod(*at), datum_left=True)
    drawing = stick.slip(found, SAY)
    made = sheets(drawing, page(*size), samples.HEADING, SAY)
    window = next(m for m in made[0].marks if isinstance(m, Window))
    edge = MARGIN_MM + window.y - window.top + drawing.height_mm
    top = round((edge - 6.4) * PER_MM)
    crop = ("-x", "0", "-y", str(top), "-W", str(round(size[0] * PER_MM)))
    seen = rendered(
        pdf(made, title="Rod", made_at=samples.DAY), tmp_path, *crop, "-H", str(round(12 * PER_MM))
    )
    assert len(seen) == len(made) > 12
    glued = 0.0  # where the sheet lies once it is glued, in measured millimetres
    measured: dict[float, float] = {}
    for number, (dots, sheet) in enumerate(zip(seen, made, strict=True)):
        part = next(m for m in sheet.marks if isinstance(m, Window))
        lines = samples.Row(dots[: round(PER_MM)].mean(axis=0), 1 / PER_MM, 0.0)
        # The rings that must come together lie below the edge.
        rings = samples.Row(dots[round(8.3 * PER_MM) :].mean(axis=0), 1 / PER_MM, 0.0)
        zero = MARGIN_MM + part.x - part.left
        first, last = number == 0, number == len(made) - 1
        start = 0.0 if first else part.left
        end = drawing.width_mm if last else part.right - OVERLAP_MM
        if not first:
            glued -= rings.line_near(zero + start, 1.8)
        for mm in at:
            if start < stick.END_MM + mm < end - 1:
                measured[mm] = glued + lines.line_near(zero + stick.END_MM + mm)
        if not last:
            glued += rings.line_near(zero + end, 1.8)
    assert sorted(measured) == sorted(at)
    for mm in at:
        assert measured[mm] - measured[0.0] == pytest.approx(mm, abs=0.1)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "short"), [("a4", 195), ("letter", 200), ("a3", 250), ("tabloid", 250)]
)
def test_both_check_scales_of_every_sheet_are_true(name: str, short: int, tmp_path: Path) -> None:
    on = page(*NAMED[name])
    made = [*every_kind(on, samples.HEADING), check_sheet(on, samples.HEADING, SAY)]
    file = pdf(made, title="All", made_at=samples.DAY)
    foot, wide = on.short_mm - MARGIN_MM, 1.0
    left = MARGIN_MM + scale_from_mm(on)
    long_way = strip(0.0, foot - 5.2, on.long_mm, wide)
    short_way = strip(MARGIN_MM + 5.2, 0.0, wide, on.short_mm)
    rows, columns = (tmp_path / "rows", tmp_path / "columns")
    for folder in (rows, columns):
        folder.mkdir()
    across = rendered(file, rows, *long_way)
    down = rendered(file, columns, *short_way)
    assert len(across) == len(down) == len(made)
    low = MARGIN_MM + scale_foot_mm(on)
    for row_dots, column_dots in zip(across, down, strict=True):
        row = samples.Row(row_dots.mean(axis=0), 1 / PER_MM, 0.0)
        ends = [row.line_near(left + mm) for mm in (0, 250)]
        assert ends[1] - ends[0] == pytest.approx(250, abs=0.1)
        column = samples.Row(column_dots.mean(axis=1), 1 / PER_MM, 0.0)
        ends = [column.line_near(low - mm) for mm in (0, short)]
        assert ends[0] - ends[1] == pytest.approx(short, abs=0.1)


def every_kind(on: Page, heading: Heading) -> list[Sheet]:
    """Sticks, gauges and labels, thick and thin, many sheets of each."""
    found = samples.stick()
    sizes = [Size(each.name, each.dry_mm, 0.2) for each in found.lines]
    pieces = [Label(n, f"http://bench.local/sets/1/pieces/{n}") for n in range(1, 40)]
    drawings = [
        *(drawn(found, SAY) for drawn in (stick.slip, stick.half_pattern, stick.trace)),
        stick.half_pattern(samples.stick(samples.shop_post(60.0), datum_left=True), SAY),
        *gauge_sheets(gauges(sizes), Cut(), room(on), "Back", "mm", SAY),
        *label_sheets(pieces, room(on), "Back", "", SAY),
    ]
    made = [each for drawing in drawings for each in sheets(drawing, on, heading, SAY)]
    assert len(made) > len(drawings)
    return made


@pytest.mark.slow
@pytest.mark.parametrize(
    ("size", "unit", "across_mm"),
    [
        (NAMED["a4"], "mm", 300.0),
        (NAMED["a4"], "in/64", 304.8),
        (NAMED["letter"], "mm", 300.0),
        (NAMED["letter"], "in/64", 304.8),
        (NAMED["a3"], "mm", 440.0),
        (NAMED["tabloid"], "in/64", 406.4),
        ((330.0, 483.0), "mm", 490.0),
    ],
)
@pytest.mark.parametrize("corrected", [(1.0, 1.0), (1.004, 0.997)])
def test_both_diagonals_of_every_sheet_are_true_and_nothing_lies_on_the_crosses(
    size, unit, across_mm: float, corrected: tuple[float, float], tmp_path: Path
) -> None:
    along, across = corrected
    on = page(*size, along=along, across=across)
    heading = replace(samples.HEADING, unit=unit)
    made = every_kind(on, heading)
    if corrected == (1.0, 1.0):
        made.append(check_sheet(on, heading, SAY))
    file = pdf(made, title="All", made_at=samples.DAY)
    at = corners_mm(on, unit)
    places = [
        (MARGIN_MM + x * along, MARGIN_MM + y * across)
        for x in (at.x, at.x + at.along_mm)
        for y in (at.y, at.y + at.down_mm)
    ]
    measured = []
    reach = ARM_MM + 0.4
    for number, (x, y) in enumerate(places):
        folder = tmp_path / str(number)
        folder.mkdir()
        dots = rendered(file, folder, *strip(x - reach, y - reach, 2 * reach, 2 * reach))
        assert len(dots) == len(made)
        measured.append([crossing(each, x - reach, y - reach) for each in dots])
    for upper_left, lower_left, upper_right, lower_right in zip(*measured, strict=True):
        for (ax, ay), (bx, by) in ((upper_left, lower_right), (lower_left, upper_right)):
            true = hypot((ax - bx) / along, (ay - by) / across)
            assert true == pytest.approx(across_mm, abs=0.1)


def crossing(dots: np.ndarray, left: float, top: float) -> tuple[float, float]:
    """Where the two lines of a cross meet on the page, once nothing else was found about them."""
    found = [
        samples.Row(dots.mean(axis=axis), 1 / PER_MM, round(start * PER_MM) / PER_MM).line_near(
            start + ARM_MM + 0.4
        )
        for axis, start in ((0, left), (1, top))
    ]
    x, y = (round((mm - start) * PER_MM) for mm, start in zip(found, (left, top), strict=True))
    own, arm = round(0.2 * PER_MM), round((ARM_MM + 0.15) * PER_MM)
    rest = dots.copy()
    rest[y - own : y + own, x - arm : x + arm] = 0.0
    rest[y - arm : y + arm, x - own : x + own] = 0.0
    assert rest.max() < 0.05
    return found[0], found[1]


def strip(x: float, y: float, width: float, height: float) -> tuple[str, ...]:
    """How the program is told to draw this part of each page alone. [mm]"""
    options = {"-x": x, "-y": y, "-W": width, "-H": height}
    return tuple(word for name, mm in options.items() for word in (name, str(round(mm * PER_MM))))
