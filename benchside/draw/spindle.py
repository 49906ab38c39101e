"""The spindle as it stands at each step, as small drawings in SVG text.

Many small drawings of one pattern share what `symbols` defines once in the document, so that each
costs only a few references. Colours come from classes (``static/drawing.css``), never from here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, radians, sin

from benchside.draw import svg
from benchside.draw.finished import (
    EDGE_PX,
    GRAIN_PX,
    MARGIN_PX,
    Headstock,
    axis_line,
    datum_at_left,
    section_symbol,
    thickest_mm,
    wood,
)
from benchside.draw.outline import Scale, bars, upper_edge
from benchside.errors import OutOfRange
from benchside.pattern import Pattern, places

STICK_PX = 14.0  # the marked stick along the foot, with the space over it
WHEEL_PX = 6.0  # half of a steady's wheel
SLOT_PX = 4.0  # half the width of the slot that the jaws stand in
TIP_PX = 2.4  # half the width of a jaw's tip
SAME_PLACE_MM = 0.01  # closer places along the spindle are one
GROOVE_PX = 2.5  # half the width of a sizing groove that is already there
TURNED_DEG = 15.0  # a square blank is drawn turned this far, so that a corner shows
GROOVE_ALLOWANCE_MM = 1.6  # judgement: grooves are drawn this much over the finished size

_TURNED = (sin(radians(TURNED_DEG)), cos(radians(TURNED_DEG)))
# The upper leg of an outside caliper: its rounded tip at 0 0, its bow passing behind the wood.
_JAW = (
    "M-2.4-2.4C-6-17 6-28.5 24-29C43-29.5 56-16 60 12L52 13C49-10 39-21.3 24-21.3"
    "C11-21.3 3.6-13 2.4-2.4a2.4 2.4 0 0 1-4.8 0z"
)
JAW_PX = 29.0  # how far the bow stands over the tip
BOW_PX = 62.0  # how far it reaches along the spindle


@dataclass(frozen=True, slots=True)
class View:
    """One way to look at one pattern: the scale, the size of the picture, the stock it comes from.

    ``thickness`` is 2 where the drawing shows the spindle twice as thick as it is: say so beside
    it. ``prefix`` begins every id, so that two patterns can live in one document.
    """

    scale: Scale
    width_px: float
    height_px: float
    stock_mm: float
    thickness: int
    headstock: Headstock
    prefix: str


def view(
    pattern: Pattern,
    *,
    width_px: float = 362.0,
    height_px: float = 132.0,
    thickness: int = 2,
    headstock: Headstock = "left",
    stock_mm: float | None = None,
    prefix: str = "a",
) -> View:
    """A view that fits, for the small drawings. ``stock_mm`` is the cylinder it is roughed to.

    With no ``stock_mm`` it is the thickest place of the pattern and a tenth. Where a doubled
    thickness does not fit it is drawn single; where that does not fit either, the whole is drawn
    smaller, still true.
    """
    thickest = thickest_mm(pattern)
    stock = max(stock_mm or thickest * 1.1, thickest)
    axis_px = (height_px - STICK_PX) / 2
    room = 2 * (axis_px - JAW_PX - EDGE_PX)
    along = (width_px - 2 * MARGIN_PX) / pattern.length_mm
    if along * thickness * stock > room:
        thickness = 1
    along = min(along, room / (thickness * stock))
    flip = datum_at_left(pattern, headstock)
    drawn = along * pattern.length_mm
    datum = (width_px - drawn) / 2 if flip else (width_px + drawn) / 2
    scale = Scale(along, along * thickness, flip, datum, axis_px)
    return View(scale, width_px, height_px, stock, thickness, headstock, svg.prefix(prefix))


def symbols(pattern: Pattern, seen: View, sized: Sequence[float] | None = None) -> str:
    """What the small drawings of one pattern refer to; once in a document, anywhere in it.

    ``sized`` are the places (mm) that a sizing groove is ever drawn at; None for all.
    It must not be hidden with ``display: none``, which would take the wood's shading away too;
    the class ``symbols`` gives it no room instead.
    """
    scale, every = seen.scale, range(len(pattern.sections))
    sections = "".join(section_symbol(pattern, seen.prefix, scale, i) for i in every)
    grooves = "".join(
        f'<path id="{seen.prefix}g{k}" class="groove" d="{_groove(seen, at, depth)}"/>'
        for k, (at, depth) in enumerate(_grooves(pattern))
        if sized is None or any(abs(at - mm) < SAME_PLACE_MM for mm in sized)
    )
    hands = "".join(
        _hand(seen, pattern, p.at_mm, p.diameter_mm, f' id="{hand(seen, p.id)}"')
        for p in places(pattern)
    )
    return (
        '<svg class="drawing symbols" aria-hidden="true" focusable="false"><defs>'
        f"{wood(seen.prefix, seen.height_px)}{_rough_wood(seen)}"
        f'<g id="{seen.prefix}a">{sections}</g>{grooves}'
        f"{_todo(pattern, seen)}"
        f'<g id="{seen.prefix}q">{_square(pattern, seen)}</g>'
        f'<path id="{seen.prefix}j" class="jaw" d="{_JAW}"/>{_mirrored(seen, "k", "j")}'
        f"{_slot_and_tip(seen)}{hands}"
        f'<path id="{seen.prefix}m" class="here" d="{_mark(seen)}"/>'
        f'<g id="{seen.prefix}b">{_bed(pattern, seen)}</g>'
        f'<g id="{seen.prefix}x">{axis_line(pattern, scale, 20)}</g>'
        "</defs></svg>"
    )


def hand(seen: View, place_id: str) -> str:
    """The id in `symbols` of the caliper on the finished size of a place."""
    return f"{seen.prefix}h-{svg.words(place_id)}"


def _todo(pattern: Pattern, seen: View) -> str:
    """Both edges of the finished spindle, the lower one drawn as the upper mirrored at the axis."""
    upper = upper_edge(pattern, 0, len(pattern.sections) - 1, seen.scale)
    return (
        f'<g id="{seen.prefix}t" class="todo"><path id="{seen.prefix}e" d="{upper}"/>'
        f'<use href="#{seen.prefix}e" y="{svg.number(-2 * seen.scale.axis_px)}"'
        ' transform="scale(1 -1)"/></g>'
    )


def _mirrored(seen: View, name: str, of: str) -> str:
    return f'<g id="{seen.prefix}{name}" transform="scale(1 -1)">{_use(seen, of)}</g>'


def _slot_and_tip(seen: View) -> str:
    """The tip of a jaw again, and a slot with it in there, both without end: the band of the
    stock cuts them to length."""
    top, deep = seen.scale.top(seen.stock_mm) - 1, svg.number(-seen.height_px)
    tall = 2 * seen.scale.half_px(seen.stock_mm) + 2
    left, width, tip = svg.number(-SLOT_PX), svg.number(2 * SLOT_PX), svg.number(-TIP_PX)
    return (
        f'<clipPath id="{seen.prefix}c"><path d="M0 {svg.number(top)}h{svg.number(seen.width_px)}'
        f'v{svg.number(tall)}H0z"/></clipPath>'
        f'<path id="{seen.prefix}i" class="tip" d="M0 {tip}V{deep}"/>'
        f'<g id="{seen.prefix}l"><path class="groove" d="M{left} {deep}V0h{width}V{deep}"/>'
        f"{_use(seen, 'i')}</g>{_mirrored(seen, 'u', 'l')}{_mirrored(seen, 'y', 'i')}"
    )


def _rough_wood(seen: View) -> str:
    """The fill of stock that has only been roughed: paler, with its grain."""
    high = svg.number(seen.height_px)
    top, tall = seen.scale.top(seen.stock_mm), 2 * seen.scale.half_px(seen.stock_mm)
    tiles = range(1, int((top + tall) / GRAIN_PX) + 1)
    more = "".join(f'<use href="#{seen.prefix}n" y="{svg.number(i * GRAIN_PX)}"/>' for i in tiles)
    return (
        f'<linearGradient id="{seen.prefix}s" x2="0" y2="1"><stop class="rough-lit"/>'
        '<stop class="rough-body" offset=".4"/><stop class="rough-shade" offset="1"/>'
        f'</linearGradient><pattern id="{seen.prefix}r" width="180" height="{high}"'
        f' patternUnits="userSpaceOnUse"><rect width="180" y="{svg.number(top)}"'
        f' height="{svg.number(tall)}" fill="url(#{seen.prefix}s)"/>'
        f"{_use(seen, 'n')}{more}</pattern>"
    )


def _square(pattern: Pattern, seen: View) -> str:
    """The square blank, turned a little: two faces and the corner between them."""
    scale = seen.scale
    ends = (scale.x(0.0), scale.x(pattern.length_mm))
    small, large = (seen.stock_mm * share * scale.px_per_mm_across for share in _TURNED)
    top = scale.axis_px - (small + large) / 2
    return (
        f'<path class="rough rough-side" d="{bars([ends], top + small, top + small + large)}"/>'
        f'<path class="rough rough-top" d="{bars([ends], top, top + small)}"/>'
        f'<path fill="url(#{seen.prefix}v)" d="{bars([ends], top, top + small + large)}"/>'
    )


def _bed(pattern: Pattern, seen: View) -> str:
    """What stays put: the two centres, the marks of the stations along the foot."""
    scale, foot = seen.scale, seen.height_px
    left, right = sorted((scale.x(0.0), scale.x(pattern.length_mm)))
    drive, tail = (left, right) if seen.headstock == "left" else (right, left)
    marks = "".join(
        f"M{svg.number(scale.x(s.at_mm))} {svg.number(foot - 9)}v8" for s in pattern.stations
    )
    return (
        f'<path class="stick" d="{bars([(left - 7, right + 7)], foot - 10, foot - 1)}"/>'
        f'<path class="tick" d="{marks}"/>'
        f'<path class="centre" d="{_drive_centre(drive, scale.axis_px, drive == left)}"/>'
        f'<path class="centre" d="{_tail_centre(tail, scale.axis_px, tail == left)}"/>'
    )


def _drive_centre(x: float, y: float, at_left: bool) -> str:
    """The spur centre in the headstock: a stub, two prongs and a point."""
    s = "-" if at_left else ""
    o = "" if at_left else "-"
    return f"M{svg.point(x, y)}l{s}6-3v-6h{s}5v4h{s}11v10h{o}11v4h{o}5v-6z"


def _tail_centre(x: float, y: float, at_left: bool) -> str:
    """The cone centre in the tailstock."""
    s = "-" if at_left else ""
    o = "" if at_left else "-"
    return f"M{svg.point(x, y)}l{s}11-7v2h{s}11v10h{o}11v2z"


def _grooves(pattern: Pattern) -> list[tuple[float, float]]:
    """Where sizing grooves may stand, and how deep they are drawn. [mm]"""
    return [(p.at_mm, p.diameter_mm + GROOVE_ALLOWANCE_MM) for p in places(pattern)]


def _groove(seen: View, at_mm: float, diameter_mm: float) -> str:
    """A groove down to a diameter, from above and from below."""
    scale = seen.scale
    left, width = svg.number(scale.x(at_mm) - GROOVE_PX), svg.number(2 * GROOVE_PX)
    above, below = scale.top(seen.stock_mm) - 1, scale.bottom(seen.stock_mm) + 1
    deep = min(diameter_mm, seen.stock_mm)
    return (
        f"M{left} {svg.number(above)}V{svg.number(scale.top(deep))}h{width}V{svg.number(above)}"
        f"M{left} {svg.number(below)}V{svg.number(scale.bottom(deep))}h{width}V{svg.number(below)}"
    )


def at_step(
    pattern: Pattern,
    seen: View,
    *,
    done: Sequence[int] = (),
    round_: bool = True,
    sized: Sequence[float] = (),
    here_mm: float | None = None,
    here_diameter_mm: float | None = None,
    steady_mm: float | None = None,
    label: str = "",
) -> str:
    """The spindle as it stands at one step, in under 800 bytes for ten stations; needs `symbols`.

    ``done`` are the finished sections, ``round_`` is whether the blank has been roughed, ``sized``
    the places (mm from the datum end) that have their sizing groove, ``here_mm`` the place in
    hand, where the caliper closes on ``here_diameter_mm`` (the finished size if None);
    ``steady_mm`` is where a steady stands.

    Raises `OutOfRange` for a place off the spindle, or a groove where the pattern has no place.
    """
    finished = {i for i in done if 0 <= i < len(pattern.sections)} if round_ else set()
    drawn = [
        svg.opening("spindle", seen.width_px, seen.height_px, label),
        _use(seen, "b"),
        "" if here_mm is None else _in_hand(pattern, seen, here_mm, here_diameter_mm),
        _stock(pattern, seen, finished, round_),
        _use(seen, "t") if len(finished) < len(pattern.sections) else "",
        *(_use(seen, f"g{k}") for k in _open_grooves(pattern, sized, finished) if round_),
        *_finished(pattern, seen, finished),
        _use(seen, "x"),
    ]
    if here_mm is not None and round_:
        drawn.append(_let_in(pattern, seen, here_mm, here_diameter_mm, finished))
    if steady_mm is not None and 0 < steady_mm < pattern.length_mm:
        drawn.append(_steady(pattern, seen, steady_mm, finished))
    return "".join(drawn) + "</svg>"


def _steady(pattern: Pattern, seen: View, at_mm: float, finished: set[int]) -> str:
    """A steady: a wheel above and one below on their forks, on the wood as it stands there."""
    stands = _beside(pattern, at_mm) <= finished
    size = float(pattern.diameter_mm_at(at_mm)) if stands else seen.stock_mm
    x, r = seen.scale.x(at_mm), WHEEL_PX
    top, bottom = seen.scale.top(size) - r, seen.scale.bottom(size) + r
    foot = 2 * seen.scale.axis_px - EDGE_PX
    wheels = "".join(
        f"M{svg.point(x - r, y)}a{r:g} {r:g} 0 1 0 {2 * r:g} 0a{r:g} {r:g} 0 1 0-{2 * r:g} 0"
        for y in (top, bottom)
    )
    return (
        f'<path class="fork" d="M{svg.point(x, EDGE_PX)}V{svg.number(top)}'
        f'M{svg.point(x, bottom)}V{svg.number(foot)}"/><path class="wheel" d="{wheels}"/>'
    )


def _use(seen: View, name: str) -> str:
    return f'<use href="#{seen.prefix}{name}"/>'


def _stock(pattern: Pattern, seen: View, finished: set[int], round_: bool) -> str:
    """The stock that has not been cut to its form yet."""
    if not round_:
        return _use(seen, "q")
    spans = _runs(pattern, seen.scale, finished)
    if not spans:
        return ""
    top, bottom = seen.scale.top(seen.stock_mm), seen.scale.bottom(seen.stock_mm)
    return f'<path class="rough" fill="url(#{seen.prefix}r)" d="{bars(spans, top, bottom)}"/>'


def _runs(pattern: Pattern, scale: Scale, finished: set[int]) -> list[tuple[float, float]]:
    """Where the unfinished sections lie, neighbours taken together. [px]"""
    spans: list[tuple[float, float]] = []
    previous = -2
    for i in range(len(pattern.sections)):
        if i in finished:
            continue
        start = spans.pop()[0] if previous == i - 1 else scale.x(pattern.stations[i].at_mm)
        spans.append((start, scale.x(pattern.stations[i + 1].at_mm)))
        previous = i
    return spans


def _finished(pattern: Pattern, seen: View, finished: set[int]) -> list[str]:
    if len(finished) == len(pattern.sections):
        return [_use(seen, "a")]
    return [_use(seen, str(i)) for i in sorted(finished)]


def _open_grooves(pattern: Pattern, sized: Sequence[float], finished: set[int]) -> list[int]:
    """The grooves still to be seen: those with rough stock on both sides."""
    known = [at for at, _ in _grooves(pattern)]
    open_: list[int] = []
    for at_mm in sorted(set(sized)):
        k = min(range(len(known)), key=lambda j: abs(known[j] - at_mm))
        if not abs(known[k] - at_mm) < SAME_PLACE_MM:
            raise OutOfRange(f"The pattern has no place at {at_mm:g} mm.", field="at_mm")
        if not _touched(pattern, at_mm, finished):
            open_.append(k)
    return open_


def _touched(pattern: Pattern, at_mm: float, finished: set[int]) -> bool:
    """Whether a place lies in or beside a finished section, or at an end of the spindle."""
    return bool(_beside(pattern, at_mm) & finished) or not 0 < at_mm < pattern.length_mm


def _beside(pattern: Pattern, at_mm: float) -> set[int]:
    """The section or the two sections that a place belongs to."""
    return {
        i
        for i in range(len(pattern.sections))
        if pattern.stations[i].at_mm <= at_mm <= pattern.stations[i + 1].at_mm
    }


def _in_hand(pattern: Pattern, seen: View, at_mm: float, diameter_mm: float | None) -> str:
    """The caliper on a place, and the mark on the stick; from the symbols on a finished size."""
    finished_mm = float(pattern.diameter_mm_at(at_mm))
    size = finished_mm if diameter_mm is None else diameter_mm
    for p in places(pattern):
        if p.at_mm == at_mm and p.diameter_mm == size:
            return f'<use href="#{hand(seen, p.id)}"/>'
    return _hand(seen, pattern, at_mm, size)


def _hand(seen: View, pattern: Pattern, at_mm: float, diameter_mm: float, named: str = "") -> str:
    """Both jaws on a diameter; the bow leans to the side where it can end behind the wood."""
    scale = seen.scale
    x = scale.x(at_mm)
    left, right = sorted((scale.x(0.0), scale.x(pattern.length_mm)))
    rightward = right - x >= min(BOW_PX, x - left)
    lean = min(1.0, (right - x if rightward else x - left) / BOW_PX) * (1 if rightward else -1)
    wide = "" if lean == 1 else f"scale({svg.number(lean)} 1)"
    return _on(seen, at_mm, diameter_mm, ("j", "k", "m"), wide, named)


def _let_in(
    pattern: Pattern,
    seen: View,
    at_mm: float,
    diameter_mm: float | None,
    finished: set[int],
) -> str:
    """The slot that the jaws have cut into the stock, and their tips again over it."""
    size = float(pattern.diameter_mm_at(at_mm)) if diameter_mm is None else diameter_mm
    if size >= seen.stock_mm or _beside(pattern, at_mm) <= finished:
        return ""
    shapes = ("i", "y") if _touched(pattern, at_mm, finished) else ("l", "u")
    return f'<g clip-path="url(#{seen.prefix}c)">{_on(seen, at_mm, size, shapes)}</g>'


def _on(
    seen: View,
    at_mm: float,
    diameter_mm: float,
    shapes: Sequence[str],
    wide: str = "",
    named: str = "",
) -> str:
    """Shapes of the symbols put on a diameter: from above, from below, and on the axis."""
    x, half = seen.scale.x(at_mm), seen.scale.half_px(diameter_mm)
    upper, lower, *on_axis = (f'<use href="#{seen.prefix}{name}"' for name in shapes)
    return (
        f'<g{named} transform="translate({svg.point(x, seen.scale.axis_px)}){wide}">'
        f'{upper} y="{svg.number(-half)}"/>{lower} y="{svg.number(half)}"/>'
        f"{''.join(f'{use}/>' for use in on_axis)}</g>"
    )


def _mark(seen: View) -> str:
    """The chalk mark on the stick under the place in hand."""
    return f"M0 {svg.number(seen.height_px - 14 - seen.scale.axis_px)}l7 13h-14z"
