"""The finishing steps of a spindle as cuts, and the order of them that costs least."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from benchside.lathe import course, parts
from benchside.lathe.course import Bench
from benchside.lathe.order import Costs, Cut, cost, in_order
from benchside.lathe.steps import Stage, Step
from benchside.pattern import Pattern

# All of one level are cut before any of the next: tenons while the wood about them is thick, the
# thinnest part last. Whether beads and coves or the slopes come first is a matter of cost; either
# way all of a stage follow one another, so that a set can be turned stage by stage.
LEVELS: tuple[dict[Stage, int], ...] = (
    {"tenon": 0, "run": 1, "form": 2, "thin": 3},
    {"tenon": 0, "form": 1, "run": 2, "thin": 3},
)


def in_least_cost(pattern: Pattern, cutting: Sequence[Step], bench: Bench) -> list[Step]:
    """The finishing steps in the order of least cost, whichever way the levels stand."""
    by_id = {step.id: step for step in cutting}
    costs = Costs(limit_mm=bench.limit_mm)
    ways = [
        in_order(cuts, costs, bench.calipers)
        for level in LEVELS
        if not crossed(cuts := as_cuts(pattern, cutting, bench, level))
    ]
    best = min(ways, key=lambda way: round(cost(way, costs, bench.calipers), 9))
    return [by_id[cut.id] for cut in best]


def as_cuts(
    pattern: Pattern,
    cutting: Sequence[Step],
    bench: Bench,
    level: Mapping[Stage, int] = MappingProxyType(LEVELS[0]),
) -> list[Cut]:
    """The steps as cuts to be put in order."""
    soft = course.softening_mm(pattern, parts.stock_mm(pattern), bench)
    by_section = {step.section: step for step in cutting if step.section is not None}
    return [
        Cut(
            id=step.id,
            level=level[step.stage],
            tool=step.tool,
            reach_mm=_reach_mm(pattern, step),
            softens_mm=round(_softens_mm(pattern, step, soft), 9),
            caliper_mm=step.stop_mm if step.stage != "run" else None,
            after=_shoulders_beside(pattern, step.section, by_section),
        )
        for step in cutting
    ]


def crossed(cuts: Sequence[Cut]) -> bool:
    """Whether a cut waits for one of a later level: a bead for the shoulder that it stands by."""
    level = {cut.id: cut.level for cut in cuts}
    return any(level[before] > cut.level for cut in cuts for before in cut.after)


def _reach_mm(pattern: Pattern, step: Step) -> float:
    """Where along the piece a step works: at the middle of its section, or at its place."""
    if step.section is None:
        return step.at_mm or 0.0
    (span,) = course.spans(pattern, [step.section])
    return sum(span) / 2


def _softens_mm(pattern: Pattern, step: Step, soft: Sequence[float]) -> float:
    """What a step adds to the give: its section's share, or half that of its tenon's sections."""
    if step.section is not None:
        return soft[step.section]
    return sum(soft[i] for i in parts.tenon_about(pattern, step.place_id)) / 2


def _shoulders_beside(
    pattern: Pattern, i: int | None, by_section: Mapping[int, Step]
) -> frozenset[str]:
    """The shoulders that a section meets: they come first, but for those of the thinnest part."""
    if i is None or pattern.sections[i].form == "shoulder":
        return frozenset()
    last = by_section[i].stage == "thin"
    return frozenset(
        by_section[j].id
        for j in (i - 1, i + 1)
        if j in by_section
        and pattern.sections[j].form == "shoulder"
        and (last or by_section[j].stage != "thin")
    )
