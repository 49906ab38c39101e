"""Drawings and sheets as SVG: in a browser true to scale, and for a laser's program."""

from __future__ import annotations

from collections.abc import Iterable

from benchside.draw.svg import words as safe
from benchside.paper import lettering
from benchside.paper.marks import (
    DASH_MM,
    GAP_MM,
    PAINTS,
    Blocks,
    Drawing,
    Mark,
    Paint,
    Stroke,
    Window,
    Words,
    radius_mm,
    segments,
)
from benchside.paper.page import MARGIN_MM, Sheet

LIKE = f"'{lettering.FAMILY}','DejaVu Sans',Verdana,sans-serif"


def sheet_svg(sheet: Sheet, title: str) -> str:
    """A sheet as it comes out of the printer, its paper white."""
    page = sheet.page
    width, height = page.long_mm, page.short_mm
    if sheet.upright:
        width, height = height, width
    paper = f'<path fill="#fff" d="M0 0H{_n(width)}V{_n(height)}H0z"/>'
    inner = (
        f'<g transform="translate({_n(MARGIN_MM)} {_n(MARGIN_MM)})'
        f'scale({page.along:.6f} {page.across:.6f})">{_marks(sheet.marks)}</g>'
    )
    return _whole(width, height, title, paper + inner)


def drawing_svg(drawing: Drawing, title: str) -> str:
    """A drawing alone, one unit a millimetre. Each layer is a group with its name."""
    layers: dict[str, list[Mark]] = {}
    for mark in drawing.marks:
        name = "" if isinstance(mark, Window | Blocks) else mark.layer
        layers.setdefault(name, []).append(mark)
    groups = "".join(
        f'<g id="{name or "rest"}">{_marks(marks)}</g>' for name, marks in layers.items()
    )
    return _whole(drawing.width_mm, drawing.height_mm, title, groups)


def inline_svg(drawing: Drawing, label: str) -> str:
    """A drawing to stand in a page, one picture named ``label``. It has no ids, so that many can
    stand in one."""
    return _whole(drawing.width_mm, drawing.height_mm, label, _marks(drawing.marks), ' role="img"')


def _whole(width: float, height: float, title: str, inner: str, more: str = "") -> str:
    return (
        '<svg xmlns="http://www.w3.org/2000/svg"'
        f' width="{_n(width)}mm" height="{_n(height)}mm" viewBox="0 0 {_n(width)} {_n(height)}"'
        f' font-family="{LIKE}"{more}><title>{safe(title)}</title>{inner}</svg>'
    )


def _marks(marks: Iterable[Mark]) -> str:
    return "".join(_mark(mark) for mark in marks)


def _mark(mark: Mark) -> str:
    if isinstance(mark, Stroke):
        return _stroke(mark)
    if isinstance(mark, Words):
        return _words(mark)
    if isinstance(mark, Blocks):
        return _blocks(mark)
    width, height = mark.right - mark.left, mark.bottom - mark.top
    view = f"{_n(mark.left)} {_n(mark.top)} {_n(width)} {_n(height)}"
    return (
        f'<svg x="{_n(mark.x)}" y="{_n(mark.y)}" width="{_n(width)}" height="{_n(height)}"'
        f' viewBox="{view}">{_marks(mark.marks)}</svg>'
    )


def _stroke(mark: Stroke) -> str:
    path = [f"M{_n(mark.points[0].x)} {_n(mark.points[0].y)}"]
    for start, end in segments(mark):
        to = f"{_n(end.x)} {_n(end.y)}"
        if start.bulge:
            radius = _n(radius_mm(start, end))
            large = int(abs(start.bulge) > 1)
            path.append(f"A{radius} {radius} 0 {large} {int(start.bulge > 0)} {to}")
        else:
            path.append(f"L{to}")
    shape = "".join(path) + ("z" if mark.closed else "")
    colour = _colour(mark.paint)
    if mark.filled:
        return f'<path fill="{colour}" d="{shape}"/>'
    dashes = f' stroke-dasharray="{DASH_MM} {GAP_MM}"' if mark.dashed else ""
    return (
        f'<path fill="none" stroke="{colour}" stroke-width="{_n(mark.width_mm)}"'
        f'{dashes} d="{shape}"/>'
    )


def _blocks(mark: Blocks) -> str:
    shape = "".join(
        f"M{_n(left)} {_n(top)}h{_n(width)}v{_n(height)}h{_n(-width)}z"
        for left, top, width, height in mark.each
    )
    where = f"translate({_n(mark.x)} {_n(mark.y)})"
    return f'<path fill="{_colour("ink")}" transform="{where}" d="{shape}"/>'


def _words(mark: Words) -> str:
    text = lettering.tidy(mark.text)
    if not text:
        return ""
    wide = lettering.width_mm(text, mark.size_mm, bold=mark.bold)
    x = mark.x - {"left": 0.0, "middle": wide / 2, "right": wide}[mark.align]
    turned = ""
    if mark.upright:
        turned = f' transform="rotate(-90 {_n(mark.x)} {_n(mark.y)})"'
    weight = ' font-weight="bold"' if mark.bold else ""
    # Another font than ours would else be wider or narrower than its place.
    return (
        f'<text x="{_n(x)}" y="{_n(mark.y)}" font-size="{_n(mark.size_mm)}"{weight}'
        f' fill="{_colour(mark.paint)}" textLength="{_n(wide)}" lengthAdjust="spacingAndGlyphs"'
        f' direction="ltr"{turned}>{safe(text)}</text>'
    )


def _colour(paint: Paint) -> str:
    red, green, blue = PAINTS[paint]
    return f"#{red:02x}{green:02x}{blue:02x}"


def _n(value: float) -> str:
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
