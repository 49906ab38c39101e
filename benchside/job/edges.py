"""Edges at the lathe: what has passed each since it was touched up, and when the next is due."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite

from benchside.errors import OutOfRange
from benchside.job import timing
from benchside.job.turning import Sitting
from benchside.job.work import Work, work_of
from benchside.lathe import edges as core
from benchside.lathe.edges import TOOLS, Passed, Tap
from benchside.lathe.steps import Stage
from benchside.store import sets, tools
from benchside.store.database import Shop

LEAST_M, MOST_M = 1.0, 1_000_000.0  # judgement: guards against a slip
_LIMITS, _SHARE = "touch_up_after_m", "edge_cutting_share"


@dataclass(frozen=True, slots=True)
class Edge:
    """One edge: what has passed it since it was touched up, if ever, and the maker's limit.

    ``due``: what it has worn counts as much as the limit.
    """

    tool: str
    passed: Passed
    limit_m: float
    touched_at: str | None

    @property
    def due(self) -> bool:
        return self.passed.worn_m >= self.limit_m


@dataclass(frozen=True, slots=True)
class Limits:
    """After how many metres of ordinary wood each edge is touched up, and how much of the time
    between two taps it is in the wood."""

    after_m: Mapping[str, float]
    cutting_share: float


def limits(shop: Shop) -> Limits:
    """The maker's own limits, or ours to begin with."""
    own: dict[str, float] = json.loads(shop.setting(_LIMITS) or "{}")
    return Limits(
        {tool: own.get(tool, core.TOUCH_UP_AFTER_M) for tool in TOOLS},
        float(shop.setting(_SHARE) or core.CUTTING_SHARE),
    )


def keep_limits(shop: Shop, new: Limits) -> None:
    """Keep the maker's own limits. Raises the first of `faults`."""
    for fault in faults(new):
        raise fault
    own = {tool: metres for tool, metres in new.after_m.items() if tool in TOOLS}
    shop.keep_settings({_LIMITS: json.dumps(own), _SHARE: json.dumps(new.cutting_share)})


def faults(new: Limits) -> tuple[OutOfRange, ...]:
    """Everything that cannot be in the limits, each naming its field."""
    wrong = [
        OutOfRange(f"It can be {LEAST_M:g} to {MOST_M:,.0f} metres.", field=tool)
        for tool, metres in new.after_m.items()
        if not (isfinite(metres) and LEAST_M <= metres <= MOST_M)
    ]
    if not 0.01 <= new.cutting_share <= 1:
        wrong.append(OutOfRange("It can be 1 to 100 %.", field="share"))
    return tuple(wrong)


def edges(shop: Shop) -> tuple[Edge, ...]:
    """Every edge of the shop, whatever set it cut."""
    touched = _touched(shop)
    last = {tool: max((touched.get(tool, ""), touched.get("", ""))) for tool in TOOLS}
    own = limits(shop)
    found = core.since_touched(
        _taps(shop, min(last.values())),
        {tool: tools.moment_s(shop, at) for tool, at in touched.items()},
        cutting_share=own.cutting_share,
    )
    return tuple(
        Edge(tool, found.get(tool, Passed()), own.after_m[tool], last[tool] or None)
        for tool in TOOLS
    )


def to_pass(shop: Shop, kept: sets.SpindleSet, doing: Work) -> dict[str, Passed]:
    """What passes the edge at each step of a piece, by step id.

    By the set's own times where its steps were timed, else by ours (judgement).
    """
    spent = dict(timing.timing(shop, kept.id).stages)
    cutting = [step for step in doing.steps if core.has_edge(step.tool)]
    count: dict[Stage, int] = {}
    for step in cutting:
        count[step.stage] = count.get(step.stage, 0) + 1
    speeds = core.speeds_rpm(doing.steps, doing.speeds)
    share = limits(shop).cutting_share
    return {
        step.id: core.passed(
            core.worked_mm(doing.pattern, step, doing.stock_mm),
            speeds[step.stage],
            spent[step.stage] / count[step.stage]
            if step.stage in spent
            else core.MINUTES.get(step.stage, 1.0),
            cutting_share=share,
            cuts=kept.choices.cuts,
        )
        for step in cutting
    }


def due(shop: Shop, sitting: Sitting) -> dict[str, Passed]:
    """The steps still to do before which an edge wants touching up, and what will have passed it.

    Besides these comes every step that asks for a fresh edge of itself.
    """
    ticked = sitting.pieces[sitting.number].ticked
    ahead = [step for step in sitting.steps if step.id not in ticked]
    so_far = {edge.tool: edge.passed for edge in edges(shop)}
    cost = to_pass(shop, sitting.spindle_set, sitting.work)
    return core.due_at(ahead, cost, so_far, limits(shop).after_m)


def _touched(shop: Shop) -> dict[str, str]:
    """When each edge was last touched up; "" for a tap that names none, which means them all.

    A tap names the tool it says, or that of the step it was tapped at.
    """
    found: dict[str, str] = {}
    for about, set_id, step_id, at in tools.touched_up(shop):
        tool = about if about in TOOLS else ""
        if not tool and step_id:
            tool = _cuts_of(shop, set_id).get(step_id, Tap(0.0)).tool
        found[tool] = max(at, found.get(tool, ""))
    return found


def _taps(shop: Shop, since: str) -> list[Tap]:
    """Every tap since then, with the tool in hand, the thickness and the speed it was cut at."""
    known: dict[int, dict[str | tuple[str, ...], Tap]] = {}
    found = []
    for tap in tools.taps_since(shop, since):
        if tap.set_id not in known:
            known[tap.set_id] = _cuts_of(shop, tap.set_id)
        cut = known[tap.set_id].get(tap.step_id or (tap.place_id, tap.kind, tap.phase))
        found.append(
            Tap(tap.moment_s)
            if cut is None
            else Tap(tap.moment_s, cut.tool, cut.diameter_mm, cut.speed_rpm, cut.cuts)
        )
    return found


def _cuts_of(shop: Shop, set_id: int) -> dict[str | tuple[str, ...], Tap]:
    """What each step of a set cuts, by its id and by what is read at it; without a moment."""
    kept = sets.found(shop, set_id)
    doing = work_of(shop, kept)
    speeds = core.speeds_rpm(doing.steps, doing.speeds)
    found: dict[str | tuple[str, ...], Tap] = {}
    for step in doing.steps:
        cut = Tap(0.0)
        if core.has_edge(step.tool):
            thick_mm = core.worked_mm(doing.pattern, step, doing.stock_mm)
            cut = Tap(0.0, step.tool, thick_mm, speeds[step.stage], kept.choices.cuts)
        found[step.id] = cut
        if step.place_id and step.reads:
            found.setdefault((step.place_id, step.reads, step.phase), cut)
    return found
