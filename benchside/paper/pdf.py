"""Sheets as a PDF, full size. The same sheets and the same day give the same bytes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from benchside.paper import lettering
from benchside.paper.marks import (
    DASH_MM,
    GAP_MM,
    PAINTS,
    Blocks,
    Mark,
    Stroke,
    Window,
    Words,
    in_steps,
)
from benchside.paper.page import MARGIN_MM, Sheet

if TYPE_CHECKING:
    from fpdf import FPDF

_EM = 72 / 25.4  # points in a millimetre
_NAME = "paper"
_LOWERED_EM = 0.8  # a cell as high as its letters has its baseline so far down


def pdf(sheets: Sequence[Sheet], *, title: str, made_at: str) -> bytes:
    """The sheets, one page each. ``made_at`` is an ISO 8601 moment: there is no other clock here.

    Asks the reader to print at full size. Places are exact to 0.01 point, 0.004 mm.
    """
    from fpdf import FPDF
    from fpdf.prefs import ViewerPreferences

    file = FPDF(unit="mm")
    file.set_auto_page_break(auto=False)
    file.set_margin(0)
    file.c_margin = 0
    file.set_creation_date(datetime.fromisoformat(made_at).astimezone(UTC))
    file.set_title(lettering.tidy(title))
    file.set_creator("benchside")
    file.viewer_preferences = ViewerPreferences(display_doc_title=True, print_scaling="None")
    used = {mark.bold for sheet in sheets for mark in _every_word(sheet.marks)}
    for bold in sorted(used):
        name = lettering.FILES[bold]
        file.add_font(_NAME, "B" if bold else "", lettering.FONTS / name)
    for sheet in sheets:
        on = sheet.page
        lying = "portrait" if sheet.upright else "landscape"
        file.add_page(format=(on.short_mm, on.long_mm), orientation=lying)
        _draw(file, sheet.marks, _Place(MARGIN_MM, MARGIN_MM, on.along, on.across))
    return bytes(file.output())


def _every_word(marks: Iterable[Mark]) -> Iterable[Words]:
    for mark in marks:
        if isinstance(mark, Words):
            yield mark
        elif isinstance(mark, Window):
            yield from _every_word(mark.marks)


class _Place(tuple[float, float, float, float]):
    """Where the marks' own zero lies on the page, and how much they are drawn out. [mm]"""

    def __new__(cls, x: float, y: float, along: float, across: float) -> _Place:
        return super().__new__(cls, (x, y, along, across))

    def at(self, x: float, y: float) -> tuple[float, float]:
        return self[0] + x * self[2], self[1] + y * self[3]


def _draw(file: FPDF, marks: Iterable[Mark], place: _Place) -> None:
    for mark in marks:
        if isinstance(mark, Stroke):
            _stroke(file, mark, place)
        elif isinstance(mark, Words):
            _words(file, mark, place)
        elif isinstance(mark, Blocks):
            _blocks(file, mark, place)
        else:
            x, y = place.at(mark.x, mark.y)
            width = (mark.right - mark.left) * place[2]
            height = (mark.bottom - mark.top) * place[3]
            inner = _Place(x - mark.left * place[2], y - mark.top * place[3], place[2], place[3])
            # What is set within must be forgotten after it, on the page and here.
            with file.local_context(), file.rect_clip(x, y, width, height):
                _draw(file, mark.marks, inner)


def _stroke(file: FPDF, mark: Stroke, place: _Place) -> None:
    points = [place.at(x, y) for x, y in in_steps(mark)]
    if mark.filled:
        file.set_fill_color(*PAINTS[mark.paint])
        file.polygon(points[:-1], style="F")
        return
    file.set_draw_color(*PAINTS[mark.paint])
    file.set_line_width(mark.width_mm)
    if mark.dashed:
        file.set_dash_pattern(dash=DASH_MM, gap=GAP_MM)
    if len(points) == 2:
        file.line(*points[0], *points[1])
    else:
        file.polyline(points)
    if mark.dashed:
        file.set_dash_pattern()


def _blocks(file: FPDF, mark: Blocks, place: _Place) -> None:
    file.set_fill_color(*PAINTS["ink"])
    for left, top, width, height in mark.each:
        x, y = place.at(mark.x + left, mark.y + top)
        file.rect(x, y, width * place[2], height * place[3], style="F")


def _words(file: FPDF, mark: Words, place: _Place) -> None:
    text = lettering.tidy(mark.text)
    if not text:
        return
    x, y = place.at(mark.x, mark.y)
    wide = lettering.width_mm(text, mark.size_mm, bold=mark.bold)
    back = {"left": 0.0, "middle": wide / 2, "right": wide}[mark.align]
    file.set_font(_NAME, "B" if mark.bold else "", mark.size_mm * _EM)
    file.set_text_color(*PAINTS[mark.paint])
    if mark.upright:
        with file.rotation(90, x, y):
            _letters(file, text, x - back, y, mark.size_mm)
    else:
        _letters(file, text, x - back, y, mark.size_mm)


def _letters(file: FPDF, text: str, x: float, y: float, size_mm: float) -> None:
    if not lettering.needs_shaping(text):
        file.text(x, y, text)
        return
    file.set_text_shaping(use_shaping_engine=True)
    file.set_xy(x, y - _LOWERED_EM * size_mm)
    file.cell(w=lettering.width_mm(text, size_mm) * 1.5, h=size_mm, text=text)
    file.set_text_shaping(use_shaping_engine=False)
