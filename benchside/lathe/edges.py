"""Edges: how many metres of wood have passed each, and when it wants touching up.

A turned edge does in an hour what a carving tool does in months, so it is touched up at the start
of a piece and again after a few minutes of cutting (common practice, no source); how long an edge
lasts in whose hands nobody has published, so every limit is the maker's.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import isfinite
from typing import Literal, get_args

from benchside.consistency.pace import BREAK_MIN
from benchside.errors import OutOfRange
from benchside.lathe.speed import kept_rpm, rim_speed_m_s
from benchside.lathe.steps import Stage, Step
from benchside.pattern import Pattern

Cuts = Literal["ordinary", "hard", "abrasive"]
CUTS: tuple[Cuts, ...] = get_args(Cuts)

# Judgement, all of them. A few minutes of cutting, at 25 mm and 1500 r/min: five make 590 m.
TOUCH_UP_AFTER_M = 600.0
CUTTING_SHARE = 0.5  # of the time between two taps the edge is in the wood
ASSUMED_RPM = 1200.0  # where the maker keeps no speed
WEAR: Mapping[Cuts, float] = {"ordinary": 1.0, "hard": 1.5, "abrasive": 2.5}
# A step, where none was timed yet.
MINUTES: Mapping[Stage, float] = {
    "rough": 2.0,
    "size": 0.5,
    "tenon": 1.0,
    "run": 1.0,
    "form": 1.0,
    "thin": 1.5,
}
TOOLS = ("roughing_gouge", "parting", "skew", "small_skew", "spindle_gouge")


@dataclass(frozen=True, slots=True)
class Tap:
    """A moment at which something was tapped, and what had been cut till then. [s, mm, r/min]

    ``tool`` is "" where nothing with an edge was in hand.
    """

    moment_s: float
    tool: str = ""
    diameter_mm: float = 0.0
    speed_rpm: float = 0.0
    cuts: Cuts = "ordinary"


@dataclass(frozen=True, slots=True)
class Passed:
    """The wood that passed an edge: in metres, and in metres of ordinary wood that wear alike."""

    metres: float = 0.0
    worn_m: float = 0.0

    def __add__(self, other: Passed) -> Passed:
        return Passed(self.metres + other.metres, self.worn_m + other.worn_m)


def has_edge(tool: str) -> bool:
    """Whether a tool has an edge to look after."""
    return tool in TOOLS


def passed(
    diameter_mm: float,
    speed_rpm: float,
    minutes: float,
    *,
    cutting_share: float = CUTTING_SHARE,
    cuts: Cuts = "ordinary",
) -> Passed:
    """The wood past an edge in so much time at a step: pi d n t. [mm, r/min, minutes]

    Of the time the edge is in the wood for ``cutting_share`` (judgement: half). Hard wood wears as
    1.5 times its metres, abrasive as 2.5 times (judgement). Raises `OutOfRange`.
    """
    if not (isfinite(minutes) and minutes >= 0):
        raise OutOfRange("A time is 0 or more.", field="minutes")
    if not 0 < cutting_share <= 1:
        raise OutOfRange(
            "The share of the time is more than nothing, and at most all.", field="cutting_share"
        )
    metres = rim_speed_m_s(diameter_mm, speed_rpm) * 60 * minutes * cutting_share
    return Passed(metres, metres * WEAR[cuts])


def since_touched(
    taps: Iterable[Tap],
    touched_s: Mapping[str, float],
    *,
    cutting_share: float = CUTTING_SHARE,
) -> dict[str, Passed]:
    """What passed each edge since it was last touched up, from the times of the taps. [s in]

    ``touched_s`` has the moment for each tool, "" for all at once; the later counts. The time
    between two taps belongs to what the later one ends; a gap over 20 minutes is a break.
    Raises `OutOfRange`.
    """
    in_turn = sorted(taps, key=lambda tap: tap.moment_s)
    every_s = touched_s.get("", float("-inf"))
    found: dict[str, Passed] = {}
    for before, tap in pairwise(in_turn):
        fresh_s = max(every_s, touched_s.get(tap.tool, float("-inf")))
        gap_s = tap.moment_s - before.moment_s
        if not has_edge(tap.tool) or tap.moment_s <= fresh_s or gap_s > BREAK_MIN * 60:
            continue
        minutes = (tap.moment_s - max(before.moment_s, fresh_s)) / 60
        more = passed(
            tap.diameter_mm, tap.speed_rpm, minutes, cutting_share=cutting_share, cuts=tap.cuts
        )
        found[tap.tool] = found.get(tap.tool, Passed()) + more
    return found


def worked_mm(pattern: Pattern, step: Step, stock_mm: float) -> float:
    """How thick the work is at a step, half way through its cut. [mm]

    Roughing: the round it ends at. Between two stations: the middle of what is there. At a place:
    half way from the rough round to the size to stop at.
    """
    if step.section is not None:
        start, end = pattern.stations[step.section : step.section + 2]
        through_mm = pattern.sections[step.section].through_mm
        sizes = [start.diameter_mm, end.diameter_mm, *([through_mm] if through_mm else [])]
        return sum(sizes) / len(sizes)
    if step.stage == "rough" or step.stop_mm is None:
        return stock_mm
    return (stock_mm + step.stop_mm) / 2


def speeds_rpm(steps: Iterable[Step], kept: Mapping[str, str]) -> dict[Stage, float]:
    """The speed of each stage: as the maker noted it, else as the stage before. [r/min]

    Where nothing was noted yet: 1200 (judgement).
    """
    found: dict[Stage, float] = {}
    speed = ASSUMED_RPM
    for step in steps:
        if step.stage not in found:
            speed = kept_rpm(kept.get(step.stage, "")) or speed
            found[step.stage] = speed
    return found


def due_at(
    steps: Sequence[Step],
    to_pass: Mapping[str, Passed],
    so_far: Mapping[str, Passed],
    limits_m: Mapping[str, float],
) -> dict[str, Passed]:
    """The steps before which an edge is to be touched up, with what has passed it by then.

    ``to_pass`` is what each step takes, by step id, ``so_far`` what has passed each tool. The first
    step at which a tool's wear will reach its limit is named; from there its count starts again.
    """
    standing = dict(so_far)
    found: dict[str, Passed] = {}
    for step in steps:
        if not has_edge(step.tool):
            continue
        here = standing.get(step.tool, Passed())
        more = to_pass.get(step.id, Passed())
        if here.worn_m > 0 and (here + more).worn_m > limits_m.get(step.tool, TOUCH_UP_AFTER_M):
            found[step.id] = here
            here = Passed()
        standing[step.tool] = here + more
    return found
