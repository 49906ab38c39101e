"""A board with its knots and what is sawn from it: its geometry, and its faces on a screen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil, hypot
from typing import Literal

from benchside.draw import svg
from benchside.stock.board import Blank, Board, Defect, Layout, Pin
from benchside.stock.shapes import corners
from benchside.units import MM_PER_INCH, Unit, length_told, unit_sign

Point = tuple[float, float]
Figure = tuple[Point, ...]
Side = Literal["one", "two"]

TALL_PX, STRIP_PX = 150.0, 15.0  # the least of a face, and of a strip, on a screen
MOST_PX_PER_MM, LEAST_PX_PER_MM = 1.5, 0.3
GRAIN_PITCH_PX = 14.0
HATCH_PX = 12.0
RULER_PX, TICKS_PX, FIGURES_PX = 30.0, 8.0, 56.0  # its height; ticks and figures lie so far apart
RULERS_MM: Mapping[str, tuple[float, ...]] = {  # each divides the next
    "mm": (10.0, 50.0, 100.0, 500.0, 1000.0, 5000.0),
    "in": tuple(float(MM_PER_INCH) * n for n in (0.5, 1, 3, 6, 12, 24, 48, 96)),
}


@dataclass(frozen=True, slots=True)
class Fault:
    """A knot or check: its outline, the face it shows on, and whether it is only tried without."""

    figure: Figure
    face: str
    tried: bool


@dataclass(frozen=True, slots=True)
class NumberedBlank:
    """A blank's outline and number; ``over``: so many lie one over the other here; ``wrong``: it
    cannot be sawn there."""

    number: int
    figure: Figure
    pinned: bool
    need: int
    over: int
    wrong: bool = False

    @property
    def label(self) -> str:
        """Its number, or the first and the last of those that lie over one another."""
        return str(self.number) + (f"–{self.number + self.over - 1}" if self.over > 1 else "")


@dataclass(frozen=True, slots=True)
class SawPlan:
    """Everything a saw plan shows, in millimetres of the board from its left end and near edge.

    ``usable`` is what is left inside the trimmed ends and edges; a rip or crosscut is its line.
    """

    length_mm: float
    width_mm: float
    usable: Figure
    slope: float
    faults: tuple[Fault, ...]
    blanks: tuple[NumberedBlank, ...]
    rips: tuple[tuple[Point, Point], ...]
    crosscuts: tuple[tuple[Point, Point], ...]


def saw_plan(
    board: Board,
    layout: Layout | None,
    *,
    first: int = 1,
    tried: Sequence[Defect] = (),
) -> SawPlan:
    """The geometry of a board and its layout. Blanks are numbered from ``first``."""
    faults = [(d, False) for d in board.defects] + [(d, True) for d in tried]
    placed = layout.blanks if layout else ()
    stacks: dict[tuple[float, float], list[int]] = {}
    for i, p in enumerate(placed):
        stacks.setdefault((round(p.at_mm, 3), round(p.across_mm, 3)), []).append(i)
    return SawPlan(
        length_mm=board.length_mm,
        width_mm=board.width_mm,
        usable=corners(
            board.trim_left_mm,
            board.near_mm,
            board.length_mm - board.trim_left_mm - board.trim_right_mm,
            board.width_mm - board.near_mm - board.far_mm,
            0.0,
        ),
        slope=board.grain_slope,
        faults=tuple(
            Fault(corners(d.at_mm, d.across_mm, d.length_mm, d.width_mm, 0.0), d.face, out)
            for d, out in faults
        ),
        blanks=tuple(
            NumberedBlank(
                number=first + same[0],
                figure=corners(
                    *(placed[same[0]].at_mm, placed[same[0]].across_mm),
                    *(placed[same[0]].length_mm, placed[same[0]].side_mm, board.grain_slope),
                ),
                pinned=placed[same[0]].pinned,
                need=placed[same[0]].need,
                over=len(same),
            )
            for same in stacks.values()
        ),
        rips=tuple((rip.from_mm, rip.to_mm) for rip in layout.rips) if layout else (),
        crosscuts=tuple((cut.from_mm, cut.to_mm) for cut in layout.crosscuts) if layout else (),
    )


def with_pins(plan: SawPlan, pins: Sequence[tuple[Pin, Blank]], wrong: Sequence[int]) -> SawPlan:
    """The pinned blanks where they were put, while no layout can hold them; ``wrong`` says which
    of them stand in the way, counted from 0. Each has the number of its pin."""
    return replace(
        plan,
        blanks=tuple(
            NumberedBlank(
                number=i + 1,
                figure=corners(
                    *(pin.at_mm, pin.across_mm, blank.length_mm, blank.side_mm), plan.slope
                ),
                pinned=True,
                need=pin.need,
                over=1,
                wrong=i in wrong,
            )
            for i, (pin, blank) in enumerate(pins)
        ),
    )


def grain_lines(plan: SawPlan, rows: int) -> tuple[tuple[Point, Point], ...]:
    """Lines along the grain from end to end of the board, so many across it, for the eye. [mm]"""
    found = []
    for i in range(-rows, 2 * rows):
        start = (i + 0.5) * plan.width_mm / rows
        ends = _on_board(start, plan)
        if ends:
            found.append(ends)
    return tuple(found)


def _on_board(start: float, plan: SawPlan) -> tuple[Point, Point] | None:
    """The part on the board of a line along the grain that begins ``start`` across it."""
    low, high = 0.0, plan.length_mm
    if plan.slope:
        meets = sorted((edge - start) / plan.slope for edge in (0.0, plan.width_mm))
        low, high = max(low, meets[0]), min(high, meets[1])
    elif not 0 <= start <= plan.width_mm:
        return None
    if low >= high:
        return None
    return (low, start + plan.slope * low), (high, start + plan.slope * high)


def across_mm(figure: Figure) -> float:
    """How wide a blank is across the board. [mm]"""
    (x0, y0), _, _, (x1, y1) = figure
    return hypot(x1 - x0, y1 - y0)


def px_per_mm(width_mm: float, side_mm: float | None) -> float:
    """How large a face is drawn on a screen: tall enough to put a finger on it, and each strip
    to read its number."""
    wanted = max(TALL_PX / width_mm, STRIP_PX / side_mm if side_mm else 0.0)
    return min(MOST_PX_PER_MM, max(LEAST_PX_PER_MM, wanted))


def face(plan: SawPlan, side: Side, scale: float, label: str) -> str:
    """One face at ``scale`` pixels to the millimetre, true in both directions.

    Face one lies with the near edge down; face two as it lies after the board was turned over its
    long edge. Knots of the other face are dashed.
    """
    width, height = plan.length_mm * scale, plan.width_mm * scale
    sheet = _Sheet(scale, 0.0, plan.width_mm if side == "one" else 0.0, side == "one")
    return (
        svg.opening("board", width, height, label).replace(
            "<svg ", f'<svg width="{svg.number(width)}" height="{svg.number(height)}" ', 1
        )
        + _wood(plan, sheet)
        + _cuts(plan, sheet)
        + _blanks(plan, sheet)
        + _faults(plan, sheet, side)
        + _numbers(plan, sheet)
        + "</svg>"
    )


def whole(plan: SawPlan, width: float, label: str) -> str:
    """The whole board as wide as there is room, true in both directions. [px]"""
    scale = width / plan.length_mm
    sheet = _Sheet(scale, 0.0, plan.width_mm, True)
    return (
        svg.opening("board whole-board", width, plan.width_mm * scale, label)
        + _wood(plan, sheet)
        + _cuts(plan, sheet)
        + _blanks(plan, sheet)
        + _faults(plan, sheet, "one")
        + _numbers(plan, sheet)
        + "</svg>"
    )


def ruler(length_mm: float, scale: float, unit: Unit) -> str:
    """A rule to lie along a face at ``scale`` pixels to the millimetre, from the left end on; the
    board's length stands at its other end."""
    sign = unit_sign(unit)
    steps_mm = RULERS_MM[sign]
    tick_mm, figure_mm = (
        next((mm for mm in steps_mm if mm * scale >= px), steps_mm[-1])
        for px in (TICKS_PX, FIGURES_PX)
    )
    width, total = length_mm * scale, length_told(length_mm, unit)
    one_mm = 1.0 if sign == "mm" else float(MM_PER_INCH)
    free_px = width - (len(total) + 4) * svg.GLYPH_EM * svg.FONT_PX
    figures = [n * figure_mm for n in range(ceil(length_mm / figure_mm))]
    every = round(figure_mm / tick_mm)
    path = f"M0 0H{svg.number(width)}V10" + "".join(
        f"M{svg.number(n * tick_mm * scale)} 0v{10 if n % every == 0 else 5}"
        for n in range(ceil(length_mm / tick_mm))
    )
    said = [(0.0, "start", f"0 {sign}")]
    said += [(mm, "middle", f"{mm / one_mm:g}") for mm in figures[1:] if mm * scale <= free_px]
    words = "".join(
        f'<text x="{svg.number(at * scale)}" y="25" font-size="{svg.FONT_PX:g}"'
        f' text-anchor="{anchor}">{text}</text>'
        for at, anchor, text in [*said, (length_mm, "end", total)]
    )
    return (
        svg.opening("ruler", width, RULER_PX, "").replace(
            "<svg ", f'<svg width="{svg.number(width)}" height="{RULER_PX:g}" ', 1
        )
        + f'<path d="{path}"/>{words}</svg>'
    )


@dataclass(frozen=True, slots=True)
class _Sheet:
    """From millimetres of the board to the units of a drawing; ``up``: the near edge lies down."""

    scale: float
    from_mm: float
    edge_mm: float
    up: bool

    def at(self, point: Point) -> Point:
        x, y = point
        return (
            (x - self.from_mm) * self.scale,
            ((self.edge_mm - y) if self.up else y - self.edge_mm) * self.scale,
        )

    def path(self, figure: Figure) -> str:
        first, *rest = (svg.point(*self.at(point)) for point in figure)
        return f"M{first}" + "".join(f"L{p}" for p in rest) + "z"


def _wood(plan: SawPlan, sheet: _Sheet) -> str:
    board = corners(0.0, 0.0, plan.length_mm, plan.width_mm, 0.0)
    rows = max(3, round(plan.width_mm * sheet.scale / GRAIN_PITCH_PX))
    lines = (
        tuple(svg.point(*sheet.at(point)) for point in ends) for ends in grain_lines(plan, rows)
    )
    grain = (f"M{a}L{b}" for a, b in lines)
    return (
        f'<path class="left-out" d="{sheet.path(board)}"/>'
        f'<path class="usable" d="{sheet.path(plan.usable)}"/>'
        f'<path class="grain" d="{"".join(grain)}"/>'
        f'<path class="edge" d="{sheet.path(board)}"/>'
    )


def _cuts(plan: SawPlan, sheet: _Sheet) -> str:
    found = []
    for name, lines in (("rip", plan.rips), ("crosscut", plan.crosscuts)):
        ends = (tuple(svg.point(*sheet.at(p)) for p in line) for line in lines)
        path = "".join(f"M{a}L{b}" for a, b in ends)
        found.append(f'<path class="{name}" d="{path}"/>' if path else "")
    return "".join(found)


def _blanks(plan: SawPlan, sheet: _Sheet) -> str:
    found = []
    for blank in plan.blanks:
        classes = "blank" + (" pinned" if blank.pinned else "") + (" other" if blank.need else "")
        path = sheet.path(blank.figure)
        if blank.wrong:
            classes, path = f"{classes} wrong", path + _hatch([sheet.at(p) for p in blank.figure])
        found.append(f'<path class="{classes}" d="{path}"/>')
    return "".join(found)


def _numbers(plan: SawPlan, sheet: _Sheet) -> str:
    found = []
    for blank in plan.blanks:
        (x0, y0), _, (x1, y1), _ = (sheet.at(p) for p in blank.figure)
        size = min(svg.FONT_PX, across_mm(blank.figure) * sheet.scale * 0.95)
        found.append(
            f'<text class="blank-number" x="{svg.number((x0 + x1) / 2)}"'
            f' y="{svg.number((y0 + y1) / 2 + size * 0.36)}" font-size="{svg.number(size)}"'
            f' text-anchor="middle">{blank.label}</text>'
        )
    return "".join(found)


def _hatch(outline: Sequence[Point]) -> str:
    """Slanting lines all along a blank."""
    (x0, y0), (x1, y1), _, (x3, y3) = outline
    n = max(2, round(hypot(x1 - x0, y1 - y0) / HATCH_PX))
    dx, dy = (x1 - x0) / n, (y1 - y0) / n
    return "".join(
        f"M{svg.point(x0 + i * dx, y0 + i * dy)}L{svg.point(x3 + (i + 1) * dx, y3 + (i + 1) * dy)}"
        for i in range(n)
    )


def _faults(plan: SawPlan, sheet: _Sheet, side: Side) -> str:
    found = []
    for fault in plan.faults:
        here = fault.face in (side, "both")
        classes = "knot" + ("" if here else " behind") + (" tried" if fault.tried else "")
        (x0, y0), _, (x1, y1), _ = (sheet.at(p) for p in fault.figure)
        rx, ry = max(abs(x1 - x0) / 2, 0.4), max(abs(y1 - y0) / 2, 0.4)
        found.append(
            f'<ellipse class="{classes}" cx="{svg.number((x0 + x1) / 2)}"'
            f' cy="{svg.number((y0 + y1) / 2)}" rx="{svg.number(rx)}" ry="{svg.number(ry)}"/>'
            f'<path class="spoiled{"" if here else " behind"}{" tried" if fault.tried else ""}"'
            f' d="{sheet.path(fault.figure)}"/>'
        )
    return "".join(found)
