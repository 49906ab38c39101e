"""Labels for pieces: the number large, the blank, a square code that opens its page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import segno

from benchside.errors import OutOfRange
from benchside.paper import lettering
from benchside.paper.marks import FINE_MM, Blocks, Drawing, Mark, Words, box, line
from benchside.paper.words import Paper

WIDTH_MM, HEIGHT_MM = 64.0, 36.0
QUIET = 4  # light modules around the code, as ISO/IEC 18004 asks for
CODE_MM, CODE_DOWN_MM = 27.0, 1.5
LEAST_MODULE_MM = 0.45  # judgement: a phone's camera still reads it off paper
LONGEST_ADDRESS = 150


@dataclass(frozen=True, slots=True)
class Label:
    """One piece. ``blank`` is what it was sawn or split from, "" for a line to write it on."""

    number: int
    address: str
    blank: str = ""
    practice: bool = False


def label_sheets(
    labels: Sequence[Label], room_mm: tuple[float, float], title: str, below: str, say: Paper
) -> tuple[Drawing, ...]:
    """The labels in rows on sheets of that room, with lines to cut along. [mm]

    Raises `OutOfRange` for a sheet smaller than a label, or an address too long for a code.
    """
    columns, rows = int(room_mm[0] // WIDTH_MM), int(room_mm[1] // HEIGHT_MM)
    if columns < 1 or rows < 1:
        raise OutOfRange("The page is smaller than a label.", field="page")
    each = columns * rows
    return tuple(
        Drawing(*room_mm, _sheet(labels[start : start + each], columns, title, below, say))
        for start in range(0, len(labels), each)
    )


def code(address: str, x: float, y: float, size_mm: float = CODE_MM) -> Blocks:
    """The address as a square code, quiet border included, its upper left corner at x, y. [mm]

    Raises `OutOfRange` for an address so long that its modules would be too fine to read.
    """
    if not 0 < len(address) <= LONGEST_ADDRESS:
        raise OutOfRange(
            f"An address has 1 to {LONGEST_ADDRESS} characters, not {len(address)}.",
            field="address",
            hint="Give this laptop a short name: benchside serve --lan --name bench.local",
        )
    rows = tuple(segno.make(address, error="m", micro=False).matrix)
    module = size_mm / (len(rows) + 2 * QUIET)
    if module < LEAST_MODULE_MM:
        raise OutOfRange(
            f"The code of so long an address would have squares of {module:.2f} mm.",
            field="address",
            hint="Give this laptop a short name: benchside serve --lan --name bench.local",
        )
    dark: list[tuple[float, float, float, float]] = []
    for i, row in enumerate(rows):
        start = 0
        while start < len(row):
            end = start
            while end < len(row) and row[end]:
                end += 1
            if end > start:
                left, top = (start + QUIET) * module, (i + QUIET) * module
                dark.append((left, top, (end - start) * module, module))
            start = end + 1
    return Blocks(tuple(dark), x, y)


def _sheet(
    labels: Sequence[Label], columns: int, title: str, below: str, say: Paper
) -> tuple[Mark, ...]:
    marks: list[Mark] = []
    for i, label in enumerate(labels):
        x, y = i % columns * WIDTH_MM, i // columns * HEIGHT_MM
        marks.append(box(x, y, WIDTH_MM, HEIGHT_MM, layer="cut", width_mm=FINE_MM))
        marks += _label(label, x, y, title, below, say)
    return tuple(marks)


def _label(label: Label, x: float, y: float, title: str, below: str, say: Paper) -> list[Mark]:
    room, whole = WIDTH_MM - CODE_MM - 5.0, WIDTH_MM - 8.0
    marks: list[Mark] = [code(label.address, x + WIDTH_MM - CODE_MM - 0.5, y + CODE_DOWN_MM)]
    row = y + 6.0
    for text in lettering.wrapped(title, room, 3.2, 2, bold=True):
        marks.append(Words(text, x + 4, row, 3.2, bold=True))
        row += 3.9
    marks.append(Words(str(label.number), x + 4, y + 24.3, 15.0, bold=True))
    marks.append(Words(lettering.shortened(below, room, 2.2), x + 4, y + 28.4, 2.2, paint="soft"))
    low = y + 33.0
    if label.practice:
        whole -= lettering.width_mm(say.practice, 2.9, bold=True)
        marks.append(Words(say.practice, x + 4 + whole, low, 2.9, bold=True))
        whole -= 2.0
    if label.blank:
        text = lettering.shortened(f"{say.blank} {label.blank}", whole, 2.9)
        marks.append(Words(text, x + 4, low, 2.9))
    else:
        wide = lettering.width_mm(say.blank, 2.9)
        marks.append(Words(say.blank, x + 4, low, 2.9))
        marks.append(
            line(x + 5 + wide, low + 0.3, x + 4 + whole, low + 0.3, width_mm=FINE_MM, paint="soft")
        )
    return marks
