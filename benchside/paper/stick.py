"""The pattern stick: lengths on a slip, the half-pattern, a profile to saw. Full size drawings.

How patterns are carried (a stick with the stations, a thin board with half the outline and the
full diameter at each line, lines numbered to the calipers, a templet held to the work):
[@milton-wohlers-1919, ch. VII] and common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from benchside import units
from benchside.draw.finished import thickest_mm
from benchside.draw.svg import spread
from benchside.errors import OutOfRange
from benchside.paper import lettering
from benchside.paper.between import Between, on_board, on_slip
from benchside.paper.marks import (
    FINE_MM,
    PLAIN_MM,
    STRONG_MM,
    Drawing,
    Mark,
    Paint,
    Point,
    Strip,
    Stroke,
    Words,
    box,
    circle,
    line,
    reversed_points,
    upper_edge,
)
from benchside.paper.page import Heading
from benchside.paper.stick_head import HEAD_MM, Head, head_mm, head_words
from benchside.paper.stick_lines import (
    SAME_MM,
    every_mm,
    length,
    main_mm,
    more,
    ring_count,
    told_between,
    wanted_mm,
)
from benchside.paper.stick_lines import Line as Line
from benchside.paper.words import Paper
from benchside.pattern import Pattern
from benchside.units import Unit, length_told

State = Literal["", "green", "dry"]

END_MM = 12.5  # so much longer at either end: an inch in all (common practice, no source)
BOARD_MM = 25.0  # the board stands so far over the outline (common practice, no source)
ZONE_MM = 13.0  # where the lines of the slip stand, at its working edge
FAN_MM = 9.0  # leaders from the lines to their labels
NAME_MM = 31.0  # room for a name
NUMBER_MM, SIZE_MM, SMALL_MM = 4.2, 3.3, 2.7  # sizes of letters
RING_MM = 5.4  # a caliper's letter in its ring, with room around it
RINGS_MM = (2.4, 1.9)  # how large a ring is, and where lines stand close
PITCH_MM, TIGHT_MM = 8.0, 4.2  # labels of two rows, and of one
TICK_MM = 2.6  # a tick reaches so far to either side
LETTERED_MM = 5.0  # a caliper's letter stands beside its tick where no line is nearer
END_WORDS_MM = 4.2  # the words at the datum end stand so far off it, past its ticks and letters
LEAST_LABEL_MM = 24.0
STRIP_MM = 4.5  # kept free along the top, for the name of each sheet
STRIP_DOWN_MM = 3.6  # its words stand on a line so far down
LEAST_BOARD_MM = 60.0  # judgement: the head needs it


@dataclass(frozen=True, slots=True)
class Stick:
    """Everything that stands on a stick. ``datum_left``: positions run from its left end.

    ``steadies_mm`` is where a steady stands while the piece is cut. ``state`` is what the wood is
    in where lines have a size to turn now. ``between`` are places to check between the lines.
    """

    pattern: Pattern
    lines: tuple[Line, ...]
    unit: Unit
    heading: Heading
    datum_left: bool = False
    steadies_mm: tuple[float, ...] = ()
    state: State = ""
    between: tuple[Line, ...] = ()

    @property
    def turned(self) -> State:
        """The state that the sizes are turned in, "" where they are the finished ones."""
        return self.state if any(each.now_mm is not None for each in self.lines) else ""


@dataclass(frozen=True, slots=True)
class _Label:
    line: Line | None
    x: float
    text: str


def slip(found: Stick, say: Paper) -> Drawing:
    """A straight slip with every station at its working edge, the lower one. [mm]

    Raises `OutOfRange` when the lines stand too close for their words.
    """
    rings = ring_count(found.lines)
    told = _with_between(found, say.stick_told, say)
    head = _head_of(found, say, say.stick, say.sizes[found.turned], told)
    least = max(LEAST_BOARD_MM, head_mm(head))
    height = max(least, ZONE_MM + FAN_MM + rings * RING_MM + 3 + _label_mm(found, say) + STRIP_MM)
    zone = height - ZONE_MM
    marks: list[Mark] = [box(0, 0, _width(found), height, layer="cut", width_mm=FINE_MM)]
    for each in found.lines:
        x, tall = _x(found, each.at_mm), 7.0 if each.minor else ZONE_MM
        width = FINE_MM if each.minor else PLAIN_MM
        marks.append(line(x, height, x, height - tall, layer="station", width_mm=width))
        if each.minor:
            marks.append(line(x, height - tall, x, zone, width_mm=FINE_MM, dashed=True))
    forms = _forms(found, say, height - 2.2)
    marks += [*on_slip(_between(found, say), _taken(found), height), *forms]
    marks += _ends(found, say, height)
    marks += [_steady_mark(_x(found, mm), height, ZONE_MM) for mm in found.steadies_mm]
    starts = {_x(found, each.at_mm): zone for each in found.lines}
    marks += _labels(found, say, zone, starts, rings)
    marks += _head(found, head, height)
    return _drawing(found, say, height, marks, forms)


def half_pattern(found: Stick, say: Paper) -> Drawing:
    """Half the outline over the straight edge, and at each line the full diameter, so that a
    caliper is set straight off the board: from the edge to the tick. [mm]

    Raises `OutOfRange` when the lines stand too close for their words.
    """
    rings = ring_count(found.lines)
    full = max(max(every_mm(each)) for each in found.lines)
    over = full + 4.0
    told = _with_between(found, say.half_told[found.turned], say)
    head = _head_of(found, say, say.half, say.sizes[found.turned], told)
    least = max(LEAST_BOARD_MM, head_mm(head))
    height = max(least, over + FAN_MM + rings * RING_MM + 3 + _label_mm(found, say) + STRIP_MM)
    edge = _edge(found, height)
    wood = (Point(edge[0].x, height), *edge, Point(edge[-1].x, height))
    marks: list[Mark] = [
        Stroke(wood, "mark", closed=True, filled=True, paint="wood"),
        box(0, 0, _width(found), height, layer="cut", width_mm=FINE_MM),
        Stroke(edge, "outline", STRONG_MM),
    ]
    for each in found.lines:
        marks += _full_diameter(found, each, height, height - over)
    forms = _forms(found, say, height - 1.6)
    marks += [*on_board(_between(found, say), _taken(found), height), *forms]
    marks += _ends(found, say, height)
    marks += [_steady_mark(_x(found, mm), height, over) for mm in found.steadies_mm]
    starts = {_x(found, each.at_mm): height - over for each in found.lines}
    marks += _labels(found, say, height - over, starts, rings)
    marks += _head(found, head, height)
    return _drawing(found, say, height, marks, forms)


def trace(found: Stick, say: Paper) -> Drawing:
    """The profile alone on a board: sawn along the outline it gives the half-pattern below and
    the templet above, which is held to the work. [mm]"""
    head = _head_of(found, say, say.trace, say.sizes[""], say.trace_told)
    least = max(LEAST_BOARD_MM, head_mm(head))
    height = max(least, thickest_mm(found.pattern) / 2 + BOARD_MM)
    edge = _edge(found, height)
    marks: list[Mark] = [
        box(0, 0, _width(found), height, layer="cut", width_mm=FINE_MM),
        Stroke(edge, "outline", STRONG_MM),
    ]
    for x in (edge[0].x, edge[-1].x):
        y = edge[0].y if x == edge[0].x else edge[-1].y
        marks.append(line(x, height, x, y, layer="outline", width_mm=STRONG_MM))
    for each in found.lines:
        x = _x(found, each.at_mm)
        marks.append(line(x, height, x, height - 4, layer="station", width_mm=FINE_MM))
        marks.append(line(x, 0, x, 4, layer="station", width_mm=FINE_MM))
    marks += _ends(found, say, height)
    marks += _head(found, head, height)
    at = tuple(sorted(_x(found, each.at_mm) for each in found.lines))
    return Drawing(_width(found), height, tuple(marks), at, strip=_strip(found, say, 4.6))


def _drawing(
    found: Stick, say: Paper, height: float, marks: list[Mark], forms: list[Words]
) -> Drawing:
    return Drawing(
        *(_width(found), height, tuple(marks), _quiet(found, say)),
        names=(*(words.x for words in forms), *(_x(found, each.at_mm) for each in found.between)),
        strip=_strip(found, say),
    )


def _between(found: Stick, say: Paper) -> tuple[Between, ...]:
    return tuple(
        Between(_x(found, each.at_mm), wanted_mm(each), told_between(each, found.unit, say))
        for each in found.between
    )


def _with_between(found: Stick, told: str, say: Paper) -> str:
    return f"{told} {say.between_told}" if found.between else told


def _taken(found: Stick) -> tuple[float, ...]:
    """Where lines, steadies and the ends stand."""
    at = (*(each.at_mm for each in found.lines), *found.steadies_mm)
    return (*(_x(found, mm) for mm in at), 0.0, _width(found))


def _width(found: Stick) -> float:
    return HEAD_MM + 2 * END_MM + found.pattern.length_mm


def _x(found: Stick, at_mm: float) -> float:
    """Where a place lies: the head stands beyond the end that is not the datum."""
    if found.datum_left:
        return END_MM + at_mm
    return HEAD_MM + END_MM + found.pattern.length_mm - at_mm


def _quiet(found: Stick, say: Paper) -> tuple[float, ...]:
    """Where no join should be: the lines, their labels, the ends of the head."""
    head = _head_x(found)
    labels, placed, _ = _spots(found, say)
    return tuple(sorted({*(label.x for label in labels), *placed, head, head + HEAD_MM}))


def _strip(found: Stick, say: Paper, lower: float = 0.0) -> Strip:
    low, high = (0.0, _head_x(found)) if found.datum_left else (HEAD_MM, _width(found))
    stops = sorted((_x(found, each.at_mm), _named(each, found.unit, say)) for each in found.lines)
    return Strip(STRIP_DOWN_MM + lower, low, high, tuple(stops))


def _named(each: Line, unit: Unit, say: Paper) -> str:
    name = lettering.shortened(each.name, NAME_MM, SIZE_MM)
    return f"{name} {_from_end(each, unit, say)}"


def _from_end(each: Line, unit: Unit, say: Paper) -> str:
    return say.from_end.format(at=length(each.at_mm, unit).removesuffix(".0"))


def _head_x(found: Stick) -> float:
    return found.pattern.length_mm + 2 * END_MM if found.datum_left else 0.0


def _edge(found: Stick, axis_y: float) -> tuple[Point, ...]:
    edge = upper_edge(found.pattern, axis_y)
    if found.datum_left:
        return tuple(p._replace(x=_x(found, p.x)) for p in edge)
    # Turned end for end and read from its other end: the arcs turn as they did.
    turned = [p._replace(x=_x(found, p.x), bulge=-p.bulge) for p in edge]
    return reversed_points(turned)


def _label_mm(found: Stick, say: Paper) -> float:
    """How long the longest label is, so that the stick is no wider than it has to be."""
    longest = [LEAST_LABEL_MM]
    for each in found.lines:
        size, name, told = _told(each, found.unit, say)
        wide = lettering.width_mm(size, NUMBER_MM, bold=True) + 1.8
        longest.append(wide + lettering.width_mm(name, SIZE_MM))
        longest.append(min(lettering.width_mm(told, SMALL_MM), NAME_MM + 18.0))
    longest += [
        lettering.width_mm(_steady_words(found, mm, say), SIZE_MM, bold=True)
        for mm in found.steadies_mm
    ]
    return max(longest) + 2.0


def _told(each: Line, unit: Unit, say: Paper) -> tuple[str, str, str]:
    """What stands at a line: the size to turn, the name, and in small letters the rest."""
    size = length(main_mm(each), unit, fine=each.fine)
    name = lettering.shortened(each.name, NAME_MM, SIZE_MM)
    at = _from_end(each, unit, say)
    return size, name, " · ".join([at, *more(each, unit, say, size)])


def _steady_words(found: Stick, at_mm: float, say: Paper) -> str:
    at = length(at_mm, found.unit).removesuffix(".0")
    return say.steady_from_end.format(at=at, sign=units.unit_sign(found.unit))


def _full_diameter(found: Stick, each: Line, axis: float, top: float) -> list[Mark]:
    x = _x(found, each.at_mm)
    highest = axis - max(every_mm(each))
    marks: list[Mark] = [
        line(x, axis, x, highest, layer="station", width_mm=FINE_MM),
        line(x, highest, x, top, width_mm=FINE_MM, dashed=True, paint="soft"),
    ]
    others = [o.at_mm for o in (*found.lines, *found.between) if o.at_mm != each.at_mm]
    near = min((abs(at_mm - each.at_mm) for at_mm in others), default=20.0)
    reach = min(TICK_MM, 0.42 * near)  # so that ticks of two lines never meet

    def tick(mm: float, width_mm: float, share: float = 1.0, paint: Paint = "ink") -> Stroke:
        left, right, y = x - share * reach, x + share * reach, axis - mm
        return line(left, y, right, y, layer="station", width_mm=width_mm, paint=paint)

    main = main_mm(each)
    marks.append(tick(main, STRONG_MM))
    if each.now_mm is not None:
        marks.append(tick(each.dry_mm, FINE_MM))
    for letter, mm in dict.fromkeys(each.settings):
        if abs(mm - main) > SAME_MM:
            marks.append(tick(mm, PLAIN_MM, 0.65, "accent"))
            if near > LETTERED_MM:
                y = axis - mm + SMALL_MM * lettering.MIDDLE_EM
                marks.append(Words(letter, x + 2.1, y, SMALL_MM, bold=True, paint="accent"))
    return marks


def _forms(found: Stick, say: Paper, y: float) -> list[Words]:
    """The name of each section between its lines, where it fits."""
    marks: list[Words] = []
    stops = sorted(each.at_mm for each in (*found.lines, *found.between))
    for section, start, end in zip(
        found.pattern.sections, found.pattern.stations, found.pattern.stations[1:], strict=False
    ):
        between = [mm for mm in stops if start.at_mm < mm < end.at_mm]
        low, high = (start.at_mm, between[0]) if between else (start.at_mm, end.at_mm)
        text = say.forms[section.form]
        if lettering.width_mm(text, 2.5) < high - low - 3:
            x = (_x(found, low) + _x(found, high)) / 2
            marks.append(Words(text, x, y, 2.5, "middle", paint="soft"))
    return marks


def _ends(found: Stick, say: Paper, edge_y: float) -> list[Mark]:
    """The two ends, and a solid arrow at the one that everything is measured from."""
    x, way = _x(found, 0.0), 1.0 if found.datum_left else -1.0
    arrow = (
        Point(x, edge_y - 0.2),
        Point(x - way * 7, edge_y - 3.6),
        Point(x - way * 7, edge_y - 0.2),
    )
    end = say.tail_end if found.pattern.datum_end == "tail" else say.drive_end
    at = x - END_WORDS_MM if found.datum_left else x + END_WORDS_MM + 2.6 * lettering.CAP_EM
    return [
        Stroke(arrow, "mark", closed=True, filled=True),
        Words(f"0  {end}", at, edge_y - 5.2, 2.6, upright=True, bold=True),
    ]


def _steady_mark(x: float, edge_y: float, tall: float) -> Stroke:
    return line(x, edge_y, x, edge_y - tall, width_mm=STRONG_MM, dashed=True, paint="accent")


def _labels(
    found: Stick, say: Paper, foot: float, starts: dict[float, float], rings: int
) -> list[Mark]:
    labels, placed, tight = _spots(found, say)
    marks: list[Mark] = []
    for label, x in zip(labels, placed, strict=True):
        bent = foot - FAN_MM
        start = starts.get(label.x, foot)
        path = (
            Point(label.x, start),
            Point(label.x, foot - 1.5),
            Point(x, bent + 1),
            Point(x, bent),
        )
        marks.append(Stroke(path, "mark", FINE_MM, paint="soft"))
        marks += _label(found, say, label, x, bent, rings, tight=tight)
    return marks


def _spots(found: Stick, say: Paper) -> tuple[list[_Label], list[float], bool]:
    """The labels from left to right, where each is written, and whether in one row only."""
    labels = [_Label(each, _x(found, each.at_mm), "") for each in found.lines]
    labels += [
        _Label(None, _x(found, mm), _steady_words(found, mm, say)) for mm in found.steadies_mm
    ]
    labels.sort(key=lambda label: label.x)
    low = HEAD_MM if not found.datum_left else 0.0
    high = low + found.pattern.length_mm + 2 * END_MM
    if found.datum_left:
        low += 9.5  # the words at the datum end stand there
    else:
        high -= 9.5
    return (labels, *_placed([label.x for label in labels], low, high))


def _placed(wanted: Sequence[float], low: float, high: float) -> tuple[list[float], bool]:
    for pitch in (PITCH_MM, TIGHT_MM):
        try:
            return spread(wanted, [pitch] * len(wanted), low, high), pitch == TIGHT_MM
        except ValueError:
            continue
    raise OutOfRange(
        f"{len(wanted)} lines stand on {length_told(high - low)}: their words would cover one"
        " another.",
        field="stations",
        hint=f"There is room for {int((high - low) / TIGHT_MM)}; leave out stations that are"
        " near one another.",
    )


def _label(
    found: Stick, say: Paper, label: _Label, x: float, foot: float, rings: int, *, tight: bool
) -> list[Mark]:
    start = foot - rings * RING_MM - 1.2
    own = 0 if label.line is None else len({a for a, _ in label.line.settings})
    lead: list[Mark] = []
    if own < rings:  # the words stand over the most rings there are: lead up to them
        low, high = foot - own * RING_MM, start + 1.0
        lead = [line(x, low, x, high, layer="mark", width_mm=FINE_MM, paint="soft")]
    if label.line is None:
        base = x + SIZE_MM * lettering.MIDDLE_EM
        text = lettering.shortened(label.text, NAME_MM + 10, SIZE_MM, bold=True)
        return [*lead, Words(text, base, start, SIZE_MM, upright=True, bold=True, paint="accent")]
    each = label.line
    marks: list[Mark] = [*lead]
    for i, letter in enumerate(dict.fromkeys(a for a, _ in each.settings)):
        y, radius = foot - (i + 0.5) * RING_MM, RINGS_MM[tight]
        em = 1.4 * radius
        low = y + em * lettering.MIDDLE_EM
        marks.append(circle(x, y, radius, width_mm=PLAIN_MM, paint="accent"))
        marks.append(Words(letter, x, low, em, "middle", bold=True, paint="accent"))
    first = x + SIZE_MM * lettering.MIDDLE_EM if tight else x - 0.5
    size, name, told = _told(each, found.unit, say)
    wide = lettering.width_mm(size, NUMBER_MM, bold=True) + 1.8
    marks += [
        Words(size, first, start, NUMBER_MM, upright=True, bold=True),
        Words(name, first, start - wide, SIZE_MM, upright=True),
    ]
    if not tight:
        told = lettering.shortened(told, NAME_MM + 18.0, SMALL_MM)
        marks.append(Words(told, x + 3.2, start, SMALL_MM, upright=True, paint="soft"))
    return marks


def _head_of(found: Stick, say: Paper, kind: str, sizes: str, told: str = "") -> Head:
    sign = units.unit_sign(found.unit)
    whole = say.whole.format(length=length(found.pattern.length_mm, found.unit), sign=sign)
    return Head(found.heading, kind, sizes, whole, told)


def _head(found: Stick, head: Head, height: float) -> list[Mark]:
    """What it is, of when: on the stick itself, since the rest of the sheet is cut away."""
    left = _head_x(found)
    x = left if found.datum_left else left + HEAD_MM
    rule = line(x, 3, x, height - 3, width_mm=FINE_MM, paint="soft")
    return [*head_words(head, left), rule]
