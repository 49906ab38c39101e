"""A report that flows over upright pages: facts, words, pictures and tables, its date large.

What stands in it is told once as parts, which a page of the browser shows as well.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest

from benchside.draw.finished import thickest_mm
from benchside.paper import lettering
from benchside.paper.marks import (
    FINE_MM,
    PLAIN_MM,
    Align,
    Drawing,
    Mark,
    Paint,
    Point,
    Stroke,
    Words,
    circle,
    line,
    moved,
    reversed_points,
    whole_edge,
)
from benchside.paper.page import MARGIN_MM, Heading, Page, Sheet
from benchside.paper.words import Paper
from benchside.pattern import Pattern

TEXT_MM, SMALL_MM, HEAD_MM, TITLE_MM = 3.1, 2.7, 4.4, 5.6
LEADING = 1.34
GAP_MM, WIDEST_GAP_MM = 3.2, 8.0  # between two columns of a table
ROW_MM = 1.3  # over and under the words of a row
LEAST_COLUMN_MM = 20.0  # judgement: words are not broken narrower
NUMBER_MM = 15.0  # over figures a head is broken where it is wider
LABEL_MM = 42.0  # the left half of a fact
SHORT_ROWS = 8  # a table or list of no more rows is not broken
TOGETHER = 3  # of a longer one, so many rows stay together at either end
STEP_MM = 8.0  # the number before a step
FIRST_HEAD_MM, NEXT_HEAD_MM, FOOT_MM = 19.0, 11.0, 1.0
_RING_MM = 1.75


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph."""

    text: str
    soft: bool = False


@dataclass(frozen=True, slots=True)
class Facts:
    """Lines with a name before them."""

    each: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Table:
    """``numbers`` says of each column whether figures stand in it, set to the right."""

    label: str
    heads: tuple[str, ...]
    numbers: tuple[bool, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing no wider than the text, what it shows, and the words over it, if any.

    ``to_scale``: a page too shows it at its own size.
    """

    drawing: Drawing
    label: str
    caption: str = ""
    to_scale: bool = False


@dataclass(frozen=True, slots=True)
class Steps:
    """A list in order, numbered, down two columns."""

    each: tuple[str, ...]


Part = Text | Facts | Table | Picture | Steps


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands under it."""

    title: str
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """The whole: its heading, and sections in order. A section without parts is left out."""

    heading: Heading
    sections: tuple[Section, ...]


@dataclass(frozen=True, slots=True)
class _Row:
    """Marks from 0, 0 down to ``height``. ``again``: a head to repeat after a break before it;
    ``holds``: it stays with the row after it. ``air`` stands over its marks, and may go."""

    height: float
    marks: tuple[Mark, ...]
    again: _Row | None = None
    holds: bool = False
    air: float = 0.0


def text_width_mm(page: Page) -> float:
    """How wide the text of an upright page is. [mm]"""
    return page.short_mm - 2 * MARGIN_MM


def report_sheets(report: Report, page: Page, say: Paper) -> tuple[Sheet, ...]:
    """The report on upright pages of that size, a printer's correction left out. [mm]"""
    plain = replace(page, along=1.0, across=1.0, endless=False)
    width, height = text_width_mm(plain), plain.long_mm - 2 * MARGIN_MM
    rows = [row for section in report.sections for row in _section(section, width)]
    pages = min((_paginated(each, height) for each in (rows, _closer(rows))), key=len)
    return tuple(
        Sheet(
            plain,
            (*_head(report.heading, say, number, len(pages), width), *marks),
            upright=True,
        )
        for number, marks in enumerate(pages, 1)
    )


def spindle_picture(pattern: Pattern, width_mm: float, *, datum_left: bool) -> Drawing:
    """The finished spindle, to the width, its stations numbered from the datum end. [mm]"""
    room = width_mm - 8.0
    scale = min(room / pattern.length_mm, 60.0 / thickest_mm(pattern))
    long = pattern.length_mm * scale
    left = (width_mm - long) / 2
    axis = thickest_mm(pattern) * scale / 2 + 1.0

    def x(at_mm: float) -> float:
        return left + (at_mm if datum_left else pattern.length_mm - at_mm) * scale

    edge = whole_edge(pattern, 0.0)
    flipped = [Point(x(p.x), axis + p.y * scale, p.bulge) for p in edge]
    if not datum_left:
        turned = [p._replace(bulge=-p.bulge) for p in flipped]
        flipped = list(reversed_points(turned))
    marks: list[Mark] = [
        Stroke(tuple(flipped), "mark", closed=True, filled=True, paint="wood"),
        Stroke(tuple(flipped), "outline", PLAIN_MM, closed=True),
    ]
    foot = axis + thickest_mm(pattern) * scale / 2 + 3.0
    stations = sorted((x(s.at_mm), i) for i, s in enumerate(pattern.stations, 1))
    places = _apart([at for at, _ in stations], 2 * _RING_MM + 0.3, width_mm)
    for (at, number), stand in zip(stations, places, strict=True):
        half = pattern.stations[number - 1].diameter_mm * scale / 2
        marks.append(line(at, axis - half, at, axis + half, layer="station", width_mm=FINE_MM))
        path = (Point(at, axis + half), Point(at, foot - 0.8), Point(stand, foot + 2.2))
        marks.append(Stroke(path, "mark", FINE_MM, paint="soft"))
        y = foot + 2.2 + _RING_MM
        marks.append(circle(stand, y, _RING_MM, width_mm=FINE_MM))
        marks.append(Words(str(number), stand, y + 2.3 * lettering.MIDDLE_EM, 2.3, "middle"))
    return Drawing(width_mm, foot + 2.2 + 2 * _RING_MM + 0.5, tuple(marks))


def _apart(wanted: Sequence[float], pitch: float, width: float) -> list[float]:
    """Each as near its place as can be, none nearer than ``pitch`` to the one before it."""
    pitch = min(pitch, width / max(1, len(wanted)))
    found: list[float] = []
    for at in wanted:
        found.append(max(at, found[-1] + pitch) if found else at)
    over = found[-1] - (width - pitch / 2) if found else 0.0
    if over > 0:
        found[-1] -= over
        for i in range(len(found) - 2, -1, -1):
            found[i] = min(found[i], found[i + 1] - pitch)
    return found


def _head(heading: Heading, say: Paper, number: int, of: int, width: float) -> Iterator[Mark]:
    if number == 1:
        cap = 7.4 * lettering.CAP_EM
        room = width - 62
        yield Words(heading.day, width, cap, 7.4, "right", bold=True)
        yield Words(heading.revision, width, cap + 6.6, 5.2, "right", bold=True)
        y = TITLE_MM * lettering.CAP_EM
        for text in lettering.wrapped(heading.title, room, TITLE_MM, 2, bold=True):
            yield Words(text, 0, y, TITLE_MM, bold=True)
            y += TITLE_MM * 1.15
        yield Words(lettering.shortened(heading.below, room, TEXT_MM), 0, y + 0.4, TEXT_MM)
    else:
        title = lettering.shortened(heading.title, width - 62, 3.6, bold=True)
        yield Words(title, 0, 3.6, 3.6, bold=True)
        yield Words(f"{heading.day}, {heading.revision}", width, 3.6, 3.6, "right", bold=True)
        yield line(0, 5.6, width, 5.6, width_mm=FINE_MM, paint="soft")
        yield Words(say.sheet.format(n=number, of=of), width, 9.0, SMALL_MM, "right", paint="soft")


def _paginated(rows: Sequence[_Row], height: float) -> list[list[Mark]]:
    pages: list[list[Mark]] = [[]]
    y = FIRST_HEAD_MM
    for i, row in enumerate(rows):
        needed = row.height
        k = i
        while rows[k].holds and k + 1 < len(rows):
            k += 1
            needed += rows[k].height
        if needed > height - FOOT_MM - NEXT_HEAD_MM:
            needed = row.height
        if y + needed > height - FOOT_MM and y > NEXT_HEAD_MM + 1:
            pages.append([])
            y = NEXT_HEAD_MM
            if row.again is not None:
                pages[-1] += moved(row.again.marks, 0.0, y)
                y += row.again.height
        pages[-1] += moved(row.marks, 0.0, y)
        y += row.height
    return pages


def _closer(rows: Sequence[_Row]) -> list[_Row]:
    """The same with less air about each part: what spares a last page of two lines."""
    return [
        replace(row, height=row.height - row.air, marks=moved(row.marks, 0.0, -row.air))
        for row in rows
    ]


def _section(section: Section, width: float) -> Iterator[_Row]:
    if not section.parts:
        return
    title = lettering.shortened(section.title, width, HEAD_MM, bold=True)
    yield _Row(9.4, (Words(title, 0, 7.2, HEAD_MM, bold=True),), holds=True, air=1.5)
    for part, after in zip_longest(section.parts, section.parts[1:]):
        leads = isinstance(part, Text) and after is not None
        for row in _rows(part, width):
            yield replace(row, holds=row.holds or leads)


def _rows(part: Part, width: float) -> Iterator[_Row]:
    if isinstance(part, Text):
        yield from _text(part, width)
    elif isinstance(part, Facts):
        yield from _facts(part, width)
    elif isinstance(part, Steps):
        yield from _steps(part, width)
    elif isinstance(part, Table):
        yield from _table(part, width)
    else:
        yield _picture(part, width)


def _picture(part: Picture, width: float) -> _Row:
    told = lettering.wrapped(part.caption, width, TEXT_MM, 2)
    marks = [Words(text, 0.0, TEXT_MM * (1 + LEADING * i), TEXT_MM) for i, text in enumerate(told)]
    top = TEXT_MM * LEADING * len(told) + 1.0
    drawn = moved(part.drawing.marks, 0.0, top)
    return _Row(top + part.drawing.height_mm + (3.0 if told else 1.0), (*marks, *drawn))


def _text(part: Text, width: float) -> Iterator[_Row]:
    paint: Paint = "soft" if part.soft else "ink"
    for text in lettering.wrapped(part.text, width, TEXT_MM, 40):
        yield _Row(TEXT_MM * LEADING, (Words(text, 0, TEXT_MM, TEXT_MM, paint=paint),))
    yield _Row(1.0, (), air=0.4)


def _facts(part: Facts, width: float) -> Iterator[_Row]:
    count = len(part.each)
    for i, (name, told) in enumerate(part.each, 1):
        lines = lettering.wrapped(told, width - LABEL_MM, TEXT_MM, 12) or ("–",)
        marks: list[Mark] = [
            Words(
                lettering.shortened(name, LABEL_MM - 2, TEXT_MM), 0, TEXT_MM, TEXT_MM, paint="soft"
            )
        ]
        marks += [
            Words(text, LABEL_MM, TEXT_MM * (1 + LEADING * i), TEXT_MM)
            for i, text in enumerate(lines)
        ]
        together = count <= SHORT_ROWS and i < count
        yield _Row(TEXT_MM * LEADING * len(lines) + 0.8, tuple(marks), holds=together)
    yield _Row(1.0, (), air=0.4)


def _steps(part: Steps, width: float) -> Iterator[_Row]:
    down = -(-len(part.each) // 2)
    column = (width + WIDEST_GAP_MM) / 2
    room = column - WIDEST_GAP_MM - STEP_MM
    for i in range(down):
        marks: list[Mark] = []
        most = 1
        for x, k in ((0.0, i), (column, i + down)):
            if k >= len(part.each):
                continue
            lines = lettering.wrapped(part.each[k], room, TEXT_MM, 4)
            most = max(most, len(lines))
            number = Words(str(k + 1), x + STEP_MM - 2, TEXT_MM, TEXT_MM, "right", paint="soft")
            marks.append(number)
            marks += [
                Words(text, x + STEP_MM, TEXT_MM * (1 + LEADING * n), TEXT_MM)
                for n, text in enumerate(lines)
            ]
        # Two columns are read one after the other, so they are kept on one page.
        yield _Row(TEXT_MM * LEADING * most + 0.6, tuple(marks), holds=i + 1 < down)
    yield _Row(1.0, (), air=0.4)


def _table(part: Table, width: float) -> Iterator[_Row]:
    widths = _widths(part, width)
    spare = (width - sum(widths)) / max(1, len(widths) - 1)
    gap = min(WIDEST_GAP_MM, max(GAP_MM, spare))
    head = replace(_cells(part.heads, part.numbers, widths, gap, head=True), holds=True)
    yield head
    count = len(part.rows)
    for i, cells in enumerate(part.rows, 1):
        row = _cells(cells, part.numbers, widths, gap, head=False)
        together = count <= SHORT_ROWS or i < TOGETHER or i > count - TOGETHER
        yield replace(row, again=head, holds=together and i < count)
    yield _Row(4.0, (), air=2.0)


def _widths(part: Table, room: float) -> list[float]:
    """As wide as the words are; where that is too wide, the widest columns of words give way."""
    found = [
        max(
            [
                _head_mm(head, number),
                *(lettering.width_mm(lettering.tidy(row[i]), TEXT_MM) for row in part.rows),
            ]
        )
        + 0.2
        for i, (head, number) in enumerate(zip(part.heads, part.numbers, strict=True))
    ]
    room -= GAP_MM * (len(found) - 1)
    while (over := sum(found) - room) > 1e-6:
        wide = [i for i, number in enumerate(part.numbers) if not number]
        widest = max(wide, key=lambda i: found[i], default=None)
        if widest is None or found[widest] <= LEAST_COLUMN_MM:
            shrink = room / sum(found)
            return [w * shrink for w in found]
        found[widest] = max(LEAST_COLUMN_MM, found[widest] - max(1.0, min(over, found[widest] / 8)))
    return found


def _head_mm(head: str, number: bool) -> float:
    """A head over words stands in one line, one over figures in lines as narrow as they."""
    whole = lettering.width_mm(head, SMALL_MM, bold=True)
    words = [lettering.width_mm(word, SMALL_MM, bold=True) for word in head.split()]
    return max([min(whole, NUMBER_MM), *words]) if number else whole


def _cells(
    cells: Iterable[str],
    numbers: Sequence[bool],
    widths: Sequence[float],
    gap: float,
    *,
    head: bool,
) -> _Row:
    size = SMALL_MM if head else TEXT_MM
    marks: list[Mark] = []
    x, most = 0.0, 1
    for text, number, wide in zip(cells, numbers, widths, strict=True):
        lines = lettering.wrapped(text, wide, size, 4, bold=head)
        most = max(most, len(lines))
        for i, each in enumerate(lines):
            y = ROW_MM + size * (0.85 + LEADING * i)
            at = x + wide if number else x
            align: Align = "right" if number else "left"
            paint: Paint = "soft" if head else "ink"
            marks.append(Words(each, at, y, size, align, bold=head, paint=paint))
        x += wide + gap
    height = 2 * ROW_MM + size * (LEADING * (most - 1) + 1)
    x -= gap
    width = PLAIN_MM if head else FINE_MM
    marks.append(line(0, height, x, height, width_mm=width, paint="ink" if head else "soft"))
    return _Row(height, tuple(marks))
