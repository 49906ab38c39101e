"""Sheets of paper: their size, a printer put right, the check scale, a long drawing over many."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import floor, hypot, isfinite, sqrt

from benchside.errors import OutOfRange
from benchside.paper import lettering
from benchside.paper.check import (
    ARM_MM,
    Corners,
    across_told,
    crosses,
    scale_across,
    scale_along,
    told_from_y,
)
from benchside.paper.lettering import CAP_EM, shortened
from benchside.paper.marks import (
    FINE_MM,
    Drawing,
    Mark,
    Stroke,
    Window,
    Words,
    box,
    circle,
    line,
    reach_x,
)
from benchside.paper.words import Paper
from benchside.units import Unit, least_told, length_told, most_told, unit_sign

MARGIN_MM = 12.0  # judgement: most printers leave a few millimetres white
PRINTS_TO_MM = 6.4  # judgement: an ordinary printer leaves a quarter of an inch white at the sides
SCALE_MM = 250.0  # the least a check scale is long the long way
SCALE_STEP_MM = 5.0
LEAST_LONG_MM = SCALE_MM + 2 * MARGIN_MM
LEAST_SHORT_MM = 150.0  # judgement: below it there is no room for a heading and a scale
MOST_LONG_MM = 5000.0  # a page of a PDF is at most 14,400 points, 5,080 mm
MOST_SHORT_MM = 1600.0  # judgement
# judgement: a printer farther off than this has been told to fit the page
LEAST_CORRECTION, MOST_CORRECTION = 0.95, 1.05
OVERLAP_MM = 18.0  # judgement: what two sheets share, to be glued
NOTHING_MM = 1e-6
EDGE_MM = 0.3  # a line along the edge of a drawing is shown in its whole width
SIDE_MM = 14.5  # the check scale the short way stands here
TOP_MM = 17.0  # the heading
FOOT_MM = 19.0  # what to do at a join, and the check scale the long way
CLEAR_MM = 7.0  # judgement: a join keeps so far from a line, where it can
BACK_MM = 70.0  # and goes back so far to find such a place
EVEN_SHARES = (0.1, 0.25, 0.5, 0.75)  # of what a sheet could be longer than an even one
# Diagonals that a common steel rule measures, and the steps of others
DIAGONALS_MM = {"mm": (300.0, 250.0), "in": (12 * 25.4, 10 * 25.4)}
STEPS_MM = {"mm": 10.0, "in": 12.7}
CORNER_MM = 10.0  # the crosses at the left stand here, between the scale and the drawing
CORNER_TOP_MM = (PRINTS_TO_MM + 1.5, PRINTS_TO_MM + 3.2)  # the upper ones, over the heading
# The lower ones, from the foot of the page: at the most under the drawing, under what is told at a
# join where that can be, at the least over the scale
CORNER_FOOT_MM = (MARGIN_MM + 17.3, MARGIN_MM + 12.4, MARGIN_MM + 4.0)
STRIP_TEXT_MM = 2.9  # the words that name a sheet on what is cut out of it
STRIP_GAP_MM = 4.0

NAMED = {
    "a4": (297.0, 210.0),
    "letter": (279.4, 215.9),
    "a3": (420.0, 297.0),
    "tabloid": (431.8, 279.4),
}


@dataclass(frozen=True, slots=True)
class Page:
    """A page lying on its long side, and what its printer needs. [mm]

    Everything drawn is made ``along`` times longer the long way and ``across`` times the short
    way, so that a printer which shrinks or stretches ends up true. ``endless``: one page as long
    as the drawing needs, for a roll.
    """

    long_mm: float = 297.0
    short_mm: float = 210.0
    along: float = 1.0
    across: float = 1.0
    endless: bool = False

    @property
    def room_long_mm(self) -> float:
        """What can be drawn the long way, in true millimetres."""
        return (self.long_mm - 2 * MARGIN_MM) / self.along

    @property
    def room_short_mm(self) -> float:
        """What can be drawn the short way, in true millimetres."""
        return (self.short_mm - 2 * MARGIN_MM) / self.across


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet, ready to be written: the marks stand in true millimetres within its margins.

    ``upright``: it stands on its short side, for words.
    """

    page: Page
    marks: tuple[Mark, ...]
    upright: bool = False


def page(
    width_mm: float,
    height_mm: float,
    *,
    along: float = 1.0,
    across: float = 1.0,
    endless: bool = False,
) -> Page:
    """A page of that size, whichever way round it was given.

    Raises `OutOfRange` for one that has no room for the check scale of 250 mm and a heading, and
    for a correction that no printer set to full size needs.
    """
    long_mm, short_mm = max(width_mm, height_mm), min(width_mm, height_mm)
    if not (isfinite(long_mm) and isfinite(short_mm)):
        raise OutOfRange("That is no size of a page.", field="page")
    if not LEAST_LONG_MM <= long_mm <= MOST_LONG_MM and not endless:
        raise OutOfRange(
            f"A page can be {least_told(LEAST_LONG_MM)} to {most_told(MOST_LONG_MM)} long.",
            field="page",
            hint=f"Every sheet carries a check scale of {length_told(SCALE_MM)}.",
        )
    if not LEAST_SHORT_MM <= short_mm <= MOST_SHORT_MM:
        raise OutOfRange(
            f"A page can be {least_told(LEAST_SHORT_MM)} to {most_told(MOST_SHORT_MM)} wide.",
            field="page",
        )
    for field, factor in (("along", along), ("across", across)):
        if not LEAST_CORRECTION <= factor <= MOST_CORRECTION:
            raise OutOfRange(
                f"A printer that is {abs(1 / factor - 1):.0%} off was told to fit the page.",
                field=field,
                hint="Print at full size, 100 %, with “fit to page” off, and measure again.",
            )
    return Page(long_mm, short_mm, along, across, endless)


def correction(scale_mm: float, measured_mm: float, field: str) -> float:
    """What a printer must be told so that a scale comes out true: its length over the measured.

    The scale must have been printed with no correction. Raises `OutOfRange`.
    """
    if not (isfinite(measured_mm) and measured_mm > 0):
        raise OutOfRange("That is no length of the scale.", field=field)
    factor = scale_mm / measured_mm
    if not LEAST_CORRECTION <= factor <= MOST_CORRECTION:
        raise OutOfRange(
            f"The scale should be {length_told(scale_mm)};"
            f" {length_told(measured_mm)} is more than a printer errs by.",
            field=field,
            hint="Print at full size, 100 %, with “fit to page” off, then measure the whole scale.",
        )
    return factor


def scales_mm(found: Page) -> tuple[float, float]:
    """How long the check scales are, the long way and the short way. [mm]

    The long one is 250 mm. The short one is too where the sheet holds it; A4 and Letter are not
    that wide, and it is as long as a printer reaches there, in steps of 5 mm. A rule read to
    0.25 mm then puts the short way right to 0.25 / 195 = 0.13 % (0.08 mm on a diameter of 60),
    the long way to 0.25 / 250 = 0.10 %.
    """
    reach = (found.short_mm - 2 * PRINTS_TO_MM) / found.across
    return SCALE_MM, min(SCALE_MM, floor(reach / SCALE_STEP_MM) * SCALE_STEP_MM)


def scale_from_mm(found: Page) -> float:
    """Where the long scale begins: beside the short one, or in one corner with it where there is
    no room for that. [mm]"""
    return SIDE_MM if found.room_long_mm >= SIDE_MM + SCALE_MM else 0.0


def scale_foot_mm(found: Page) -> float:
    """How far down the short scale reaches: to the long one, or as far past both margins where it
    is longer than the room between them. [mm]"""
    height, short = found.room_short_mm, scales_mm(found)[1]
    return height if short <= height else (height + short) / 2


def corners_mm(found: Page, unit: Unit) -> Corners:
    """Where the four crosses stand whose diagonals are measured. [mm]

    Their rectangle is 3 : 4 : 5 with a diagonal of 300 mm or 12 in, else of 250 mm or 10 in, which
    A4 and Letter hold between heading and foot. On another page it is as near to 3 : 4 as there is
    room for about the drawing, and its diagonal a round figure.
    """
    sign = unit_sign(unit)
    common, step = DIAGONALS_MM[sign], STEPS_MM[sign]
    near, clear, last = (found.short_mm - mm for mm in CORNER_FOOT_MM)
    high, low = CORNER_TOP_MM
    least, most = (near - low) / found.across, (last - high) / found.across
    wide = (found.long_mm - MARGIN_MM - PRINTS_TO_MM - ARM_MM) / found.along - CORNER_MM
    sides = [
        (0.8 * mm, 0.6 * mm) for mm in common if least <= 0.6 * mm <= most and 0.8 * mm <= wide
    ]
    if sides:
        along, down = sides[0]
    else:
        down = (least + most) / 2
        diagonal = floor(hypot(min(wide, down * 4 / 3), down) / step) * step
        along = sqrt(diagonal**2 - down**2)
    top = min(low, max(high, clear - down * found.across))
    return Corners(CORNER_MM, (top - MARGIN_MM) / found.across, along, down)


def uncorrected(found: Page) -> Page:
    """The same page for a printer that needs no correction."""
    return replace(found, along=1.0, across=1.0, endless=False)


def sheets(drawing: Drawing, found: Page, heading: Heading, say: Paper) -> tuple[Sheet, ...]:
    """The drawing full size: on one page if it fits, else over as many as it takes.

    Raises `OutOfRange` when it is higher than the page has room for, or longer than a page can be.
    """
    if found.endless:
        found = _long_enough(drawing, found)
    window_mm, high_mm = room(found)
    if drawing.height_mm > high_mm + NOTHING_MM:
        more = found.short_mm + (drawing.height_mm - high_mm) * found.across
        raise OutOfRange(
            f"This is {length_told(drawing.height_mm)} high; the page has room for"
            f" {length_told(high_mm)}.",
            field="page",
            hint=f"Take a page at least {length_told(more)} wide.",
        )
    cuts = _evenly(drawing, window_mm)
    return tuple(_sheet(drawing, found, heading, say, cuts, number) for number in range(len(cuts)))


def sheet_each(
    drawings: Sequence[Drawing], found: Page, heading: Heading, say: Paper
) -> tuple[Sheet, ...]:
    """Drawings that fill a sheet each, numbered. Raises as `sheets`."""
    made = [sheet for each in drawings for sheet in sheets(each, found, heading, say)]
    if len(made) == 1:
        return tuple(made)
    return tuple(
        replace(sheet, marks=(*sheet.marks, _numbered(say, number, len(made))))
        for number, sheet in enumerate(made, 1)
    )


def room(found: Page) -> tuple[float, float]:
    """How long and how high a drawing can be to stand on one sheet. [mm]"""
    return found.room_long_mm - SIDE_MM, found.room_short_mm - TOP_MM - FOOT_MM


def check_sheet(found: Page, heading: Heading, say: Paper) -> Sheet:
    """Only what a printer is measured by, with no correction in it."""
    plain = uncorrected(found)
    middle = plain.room_long_mm / 2
    length = across_told(corners_mm(plain, heading.unit), heading.unit)
    told = [
        Words(text.format(length=length), middle, 60 + 9 * i, 4.2, "middle")
        for i, text in enumerate(say.check_sheet)
    ]
    return Sheet(plain, (*_frame(plain, heading, say, 1, 1), *told))


@dataclass(frozen=True, slots=True)
class Heading:
    """What every sheet says of itself. ``day`` and ``revision`` are set large: a stick that has
    been superseded ruins work. ``unit``: what the corners of the sheet are measured in."""

    title: str
    below: str
    revision: str
    day: str
    unit: Unit = "mm"


def _long_enough(drawing: Drawing, found: Page) -> Page:
    needed = (drawing.width_mm + SIDE_MM) * found.along + 2 * MARGIN_MM
    needed = max(needed, LEAST_LONG_MM * found.along)
    if needed > MOST_LONG_MM:
        raise OutOfRange(
            f"One page would be {length_told(needed)} long; no page can be longer than"
            f" {length_told(MOST_LONG_MM)}.",
            field="page",
            hint="Choose a page size, and glue the sheets.",
        )
    return replace(found, long_mm=needed)


def _cuts(drawing: Drawing, window_mm: float) -> tuple[tuple[float, float], ...]:
    """From where to where each sheet shows the drawing; neighbours share the overlap. [mm]"""
    found: list[tuple[float, float]] = []
    left = 0.0
    while drawing.width_mm - left > window_mm + NOTHING_MM:
        join = _quiet(drawing, left + window_mm - OVERLAP_MM)
        found.append((left, join + OVERLAP_MM))
        left = join
    return (*found, (left, drawing.width_mm))


def _evenly(drawing: Drawing, window_mm: float) -> tuple[tuple[float, float], ...]:
    """The fewest sheets there can be, as nearly of one length as the lines allow: a stub is a
    poor thing to glue. No sheet more only for names."""
    bare = replace(drawing, names=())
    fewest = _cuts(bare, window_mm)
    even = (drawing.width_mm + OVERLAP_MM * (len(fewest) - 1)) / len(fewest)
    tried = (
        _cuts(each, even + share * (window_mm - even))
        for each in (drawing, bare)
        for share in EVEN_SHARES
    )
    return next((cuts for cuts in tried if len(cuts) == len(fewest)), fewest)


def _quiet(drawing: Drawing, latest: float) -> float:
    """The last place for a join that keeps clear of every line, and of names too where there is
    one; else simply the last."""
    for kept_clear in ((*drawing.quiet, *drawing.names), drawing.quiet):
        tried = latest
        while tried > latest - BACK_MM:
            near = [at for at in kept_clear if abs(at - tried) < CLEAR_MM]
            if not near:
                return tried
            tried = min(near) - CLEAR_MM
    return latest


def _sheet(
    drawing: Drawing,
    found: Page,
    heading: Heading,
    say: Paper,
    cuts: Sequence[tuple[float, float]],
    number: int,
) -> Sheet:
    left, right = cuts[number]
    spare = room(found)[1] - drawing.height_mm
    top = TOP_MM + spare / 2
    last = len(cuts) - 1
    join = right - OVERLAP_MM if number < last else right
    seen = tuple(
        m
        for m in drawing.marks
        if reach_x(m)[1] >= left and reach_x(m)[0] <= right and not _only_past(m, join, right)
    )
    shown = Window(
        seen,
        left - (EDGE_MM if number == 0 else 0.0),
        -EDGE_MM,
        right + (EDGE_MM if number == last else 0.0),
        drawing.height_mm + EDGE_MM,
        SIDE_MM - (EDGE_MM if number == 0 else 0.0),
        top - EDGE_MM,
    )
    tab: tuple[Mark, ...] = ()
    if number < last:
        at = SIDE_MM + join - left
        tab = (box(at, top, OVERLAP_MM, drawing.height_mm, filled=True, paint="tab"),)
    marks: list[Mark] = [*tab, shown, *_frame(found, heading, say, number + 1, len(cuts))]
    marks += _strip(drawing, heading, say, (left, join), number, len(cuts), top)
    if number > 0:
        marks += _join(found, SIDE_MM, number, say.cut.format(n=number), "left", top, drawing)
    if number < last:
        at = SIDE_MM + join - left
        told = say.glue.format(n=number + 1, sheet=number + 2)
        marks += _join(found, at, number + 1, told, "right", top, drawing)
    return Sheet(found, tuple(marks))


def _only_past(mark: Mark, join: float, end: float) -> bool:
    """Whether words or a ring stand past a join altogether, where the next sheet is glued on, or a
    tick is cut by the end of the sheet there: the next one has them whole."""
    if isinstance(mark, Words):
        wide = 0.0 if mark.upright else lettering.width_mm(mark.text, mark.size_mm, bold=mark.bold)
        back = {"left": 0.0, "middle": wide / 2, "right": wide}[mark.align]
        return mark.x - back > join
    if not isinstance(mark, Stroke):
        return False
    low, high = reach_x(mark)
    return low > join and (mark.layer == "mark" or (mark.layer == "station" and high > end))


def _strip(
    drawing: Drawing,
    heading: Heading,
    say: Paper,
    shown: tuple[float, float],
    number: int,
    of: int,
    top: float,
) -> list[Mark]:
    """On the part itself, which the heading is cut off from: whose it is, which sheet, of when,
    and the next line each way."""
    strip = drawing.strip
    if strip is None or of == 1:
        return []
    left, right = max(shown[0], strip.low), min(shown[1], strip.high)
    room = right - left - 2 * STRIP_GAP_MM
    before = [stop for stop in strip.stops if stop[0] < shown[0]]
    after = [stop for stop in strip.stops if stop[0] > shown[1]]
    ends = [
        lettering.shortened(say.next_left.format(name=max(before)[1]), room / 3, STRIP_TEXT_MM)
        if before
        else "",
        lettering.shortened(say.next_right.format(name=min(after)[1]), room / 3, STRIP_TEXT_MM)
        if after
        else "",
    ]
    wide = [lettering.width_mm(text, STRIP_TEXT_MM) for text in ends]
    told = say.strip.format(
        n=number + 1, of=of, revision=heading.revision, day=heading.day, title=heading.title
    )
    low, high = left + STRIP_GAP_MM, right - STRIP_GAP_MM
    from_, to = low + wide[0] + STRIP_GAP_MM, high - wide[1] - STRIP_GAP_MM
    middle = lettering.shortened(told, to - from_, STRIP_TEXT_MM, bold=True)
    y = top + strip.y
    by = SIDE_MM - shown[0]
    return [
        Words(ends[0], by + low, y, STRIP_TEXT_MM),
        Words(middle, by + (from_ + to) / 2, y, STRIP_TEXT_MM, "middle", bold=True),
        Words(ends[1], by + high, y, STRIP_TEXT_MM, "right"),
    ]


def _join(
    found: Page, x: float, number: int, told: str, side: str, top: float, drawing: Drawing
) -> list[Mark]:
    """One line that two sheets meet at, with a mark at either end that must come together."""
    low, high = top - 3.5, top + drawing.height_mm + 3.5
    marks: list[Mark] = [line(x, low, x, high, layer="cut", width_mm=FINE_MM, dashed=True)]
    for y in (low, high):
        marks += [
            circle(x, y, 1.6, layer="cut", width_mm=FINE_MM),
            line(x - 3, y, x + 3, y, layer="cut", width_mm=FINE_MM),
            Words(str(number), x + 3.6, y + 2.6 * lettering.MIDDLE_EM, 2.6, bold=True),
        ]
    under, last = high + 4.8, found.room_short_mm - FOOT_MM + 2.6
    beside = under > last  # a drawing so high leaves no room under its marks
    y = min(under, last)
    if side == "left":
        return [*marks, Words(told, x + (7.0 if beside else 1.5), y, 2.9)]
    return [*marks, Words(told, x - 4.0 if beside else x + OVERLAP_MM, y, 2.9, "right")]


def _frame(found: Page, heading: Heading, say: Paper, number: int, of: int) -> list[Mark]:
    """Heading and check scales: what stands on every sheet."""
    width, height = found.room_long_mm, found.room_short_mm
    day_x = width
    large = 8.2
    marks: list[Mark] = [
        Words(heading.day, day_x, large * CAP_EM, large, "right", bold=True),
        Words(heading.revision, day_x, large * CAP_EM + 7.2, 6.0, "right", bold=True),
        Words(
            shortened(heading.title, width - SIDE_MM - 70, 5.6, bold=True),
            SIDE_MM,
            5.6 * CAP_EM,
            5.6,
            bold=True,
        ),
        Words(shortened(heading.below, width - SIDE_MM - 70, 3.2), SIDE_MM, 9.6, 3.2),
    ]
    if of > 1:
        marks.append(_numbered(say, number, of))
    long_mm, short_mm = scales_mm(found)
    text = say.scale.format(mm=f"{long_mm:g}")
    if found.along != 1.0 or found.across != 1.0:
        text += " " + say.corrected.format(along=f"{found.along:.4f}", across=f"{found.across:.4f}")
    x = scale_from_mm(found)
    marks += scale_along(x, height, long_mm, text, max(x, SIDE_MM) + 2)
    foot = scale_foot_mm(found)
    told = say.scale_short.format(mm=f"{short_mm:g}")
    marks += scale_across(0.0, foot, short_mm, told)
    corners = corners_mm(found, heading.unit)
    length = across_told(corners, heading.unit)
    short = [text.format(length=length) for text in (say.corners, say.corners_short)]
    return [*marks, *crosses(corners, short, told_from_y(foot, told) - 2.0)]


def _numbered(say: Paper, number: int, of: int) -> Words:
    return Words(say.sheet.format(n=number, of=of), SIDE_MM, 14.4, 3.4, bold=True)
