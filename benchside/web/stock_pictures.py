"""Pictures of boards and logs, and what a printed saw plan of a board is made of."""

from __future__ import annotations

from typing import Any

from benchside.draw import board as drawing
from benchside.draw import log as end_drawing
from benchside.job import board_table
from benchside.job.boards import BoardView
from benchside.job.logs import LogView, of_log
from benchside.paper import saw_plan
from benchside.paper.svg import inline_svg
from benchside.stock import sawing
from benchside.stock.board import Defect, Pin, PinTrouble
from benchside.stock.log import Bolt, SplitPlan
from benchside.units import length_told
from benchside.web.words import words

WHOLE_PX = 700.0
LOG_PX = 420.0
SHEET_MM = 180.0  # across a sheet printed upright or on its side, inside any printer's margins
FACES: tuple[drawing.Side, ...] = ("one", "two")


def face_of(view: BoardView, side: drawing.Side, first: int) -> str:
    """One face of a board, large enough for a finger, its blanks numbered from ``first``."""
    said = words()["drawing"]
    name = said["face"].format(side=said["side"][side], board=view.kept.name)
    return drawing.face(on_screen(view, first), side, _px_per_mm(view), name)


def ruler_of(view: BoardView) -> str:
    """The rule along a board's faces."""
    return drawing.ruler(view.kept.length_mm, _px_per_mm(view), view.kept.unit)


def _px_per_mm(view: BoardView) -> float:
    wanted = [w.need.blank.side_mm for w in view.wanted]
    return drawing.px_per_mm(view.kept.width_mm, min(wanted) if wanted else None)


def whole(view: BoardView, first: int = 1) -> str:
    """The whole board in one strip, its blanks numbered from ``first``."""
    said = words()["drawing"]["board"]["one" if view.count == 1 else "many"]
    label = said.format(board=view.kept.name, n=view.count)
    return drawing.whole(on_screen(view, first), WHOLE_PX, label)


def on_screen(view: BoardView, first: int = 1) -> drawing.SawPlan:
    """What a board's drawings show on a screen: its plan, or the pins that stand in its way."""
    plan, trouble = plan_of(view, first), view.problem
    if not isinstance(trouble, PinTrouble):
        return plan
    blanks = [w.need.blank for w in view.wanted]
    pins = [Pin(p.at_mm, p.across_mm, p.need) for p in view.kept.pins]
    # A pin of a size that is no longer wanted is drawn as long as the first.
    sized = [(pin, blanks[pin.need if pin.need < len(blanks) else 0]) for pin in pins]
    return drawing.with_pins(plan, sized, trouble.pins)


def plan_of(view: BoardView, first: int = 1) -> drawing.SawPlan:
    """What a board's saw plan shows, its blanks numbered from ``first``."""
    tried = tuple(
        Defect(k.at_mm, k.across_mm, k.length_mm, k.width_mm, k.face, k.depth_mm)
        for k in view.kept.knots
        if k.tried
    )
    return drawing.saw_plan(board_table.of_core(view.kept), view.layout, first=first, tried=tried)


def ends_of(view: LogView, plan: SplitPlan, first: int = 1) -> list[tuple[Bolt, end_drawing.End]]:
    """Each bolt of a plan and its smaller end, the billets numbered from ``first``."""
    found, log = [], of_log(view.kept)
    for bolt in plan.bolts:
        found.append((bolt, end_drawing.end_of(log, bolt, plan.way, first)))
        first += len(bolt.billets)
    return found


def ends_drawn(view: LogView, plan: SplitPlan, first: int = 1) -> list[tuple[Bolt, int, str]]:
    """Each bolt of a plan, the number of its first billet, and its end grain."""
    found = []
    for number, (bolt, end) in enumerate(ends_of(view, plan, first), 1):
        count = len(bolt.billets)
        said = words()["drawing"]["bolt"]["one" if count == 1 else "many"]
        label = said.format(number=number, n=count)
        number_of = end.billets[0].number if end.billets else 0
        found.append((bolt, number_of, end_drawing.end_grain(end, width=LOG_PX, label=label)))
    return found


def end_drawn(view: LogView, first: int = 1) -> str:
    """The end of a log's first bolt, split the way that is chosen; "" while there is none."""
    return ends_drawn(view, view.plan, first)[0][2] if view.plan and view.plan.bolts else ""


def sheet(view: BoardView, first: int) -> dict[str, Any]:
    """One board on a printed saw plan."""
    plan = plan_of(view, first)
    kept, said = view.kept, words()["drawing"]["stretch"]
    stretches = []
    for each in saw_plan.stretches(plan, SHEET_MM):
        label = said.format(board=kept.name, at=length_told(each.from_mm, kept.unit))
        stretches.append((each, inline_svg(each.drawing, label)))
    layout = view.layout
    return {
        "view": view,
        "scale": saw_plan.scale_of(plan),
        "stretches": stretches,
        "settings": sawing.settings(layout.rips if layout else ()),
        "first": first,
        "blanks": [(first + i, placed) for i, placed in enumerate(layout.blanks if layout else ())],
    }
