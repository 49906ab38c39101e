"""The same sheets through another program, sheet glued to sheet: three metres to a tenth."""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np
import pytest

from benchside.paper import stick
from benchside.paper.marks import Window
from benchside.paper.page import MARGIN_MM, OVERLAP_MM, page, scale_from_mm, sheets
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
def test_the_check_scale_of_every_sheet_is_250_mm(tmp_path: Path) -> None:
    drawing = stick.half_pattern(samples.stick(), SAY)
    made = sheets(drawing, page(279.4, 215.9), samples.HEADING, SAY)
    crop = ("-x", "0", "-y", str(round((215.9 - MARGIN_MM - 5.2) * PER_MM)))
    crop += ("-W", str(round(279.4 * PER_MM)), "-H", str(round(PER_MM)))
    seen = rendered(pdf(made, title="Half", made_at=samples.DAY), tmp_path, *crop)
    assert len(seen) == len(made) > 1
    for dots in seen:
        row = samples.Row(dots.mean(axis=0), 1 / PER_MM, 0.0)
        start = scale_from_mm(made[0].page)
        ends = [row.line_near(MARGIN_MM + start + mm) for mm in (0, 250)]
        assert ends[1] - ends[0] == pytest.approx(250, abs=0.1)
