"""The order of work on one spindle: from a pattern to steps, each one thing to do at the lathe.

Rules and figures are those of Milton & Wohlers [@milton-wohlers-1919, ch. V] where they give them;
the rest is marked. Within the rules the cuts stand in the order that costs least
(`benchside.lathe.order`). A maker's own order, remembered with the pattern, goes first.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from benchside.lathe import cuts, parts
from benchside.lathe.course import Bench
from benchside.lathe.order import Reason, reasons
from benchside.lathe.sizes import TRY_OVER_MM
from benchside.lathe.steps import FINISHING, Stage, Step
from benchside.pattern import Pattern, Place, places

# 1/16 in for the sizing cut on tapers and coves [@milton-wohlers-1919, ch. V]; for other sizing
# cuts it is our judgement.
SIZING_OVER_MM = 1.5875

# What the trade knows about a step, told in turn so that no line is read twice running.
_WHY: dict[str, tuple[str, ...]] = {
    "mount": ("mount",),
    "rough": ("rough",),
    "set_out": ("set_out",),
    "size": ("widen", "round_tips", "reads_over", "half"),
    "size_crown": ("widen", "half"),
    "tenon": ("real_bit", "not_by_sanding"),
    "run_shoulder": ("off_the_line",),
    "run_taper": ("downhill", "dished"),
    "run_straight": ("pencil_highs", "level"),
    "form_cove": ("cove_short", "not_past_root"),
    "form_bead": ("same_side",),
    "thin": ("thin_last", "sharp"),
    "final": ("final", "square"),
    "position": ("position",),
    "done": ("done",),
}
_CAUTION: dict[Stage, str] = {
    "mount": "by_hand",
    "rough": "line_of_fire",
    "set_out": "move_rest",
    "size": "stop_to_measure",
    "tenon": "stop_to_try",
    "run": "rest_first",
    "form": "rest_first",
    "thin": "hand_behind",
    "final": "stop_to_measure",
    "done": "leave_stopped",
}
_TOOL = {
    "straight": "skew",
    "taper": "skew",
    "shoulder": "parting",
    "cove": "spindle_gouge",
    "bead": "small_skew",
}


def plan(
    pattern: Pattern, order: Sequence[str] = (), bench: Bench | None = None
) -> tuple[Step, ...]:
    """The steps that make one spindle of a pattern, from mounting to done.

    High places are sized 1/16 in (1.5875 mm) over the finish, thick to thin, so that equal sizes
    follow one another, and brought to the finish by the first section that is cut beside them (a
    place that none comes to is sized to its finish at once); then tenons; then all else, shoulders
    before the tapers and straights that meet them; the thinnest part last; then every place is
    read once more. Within these rules the cuts stand in the order of least cost: what each one
    adds to the give of all later ones, and the changes of tool, tool rest and caliper
    (`order.in_order`).

    ``order`` is a maker's own: the steps it names come in its order, every other step stays
    behind the one it follows here; unknown names are ignored. Mounting is always first, done
    always last.
    """
    steps = _in_order(_one_reading_each(_by_stages(pattern, bench or Bench())), order)
    return tuple(_told(pattern, _brought_to_finish(pattern, steps)))


def why_here(
    pattern: Pattern, steps: Sequence[Step], own: Sequence[str] = (), bench: Bench | None = None
) -> dict[str, Reason]:
    """Why each step stands where it does, by id; ``own`` is the order the maker remembered."""
    bench = bench or Bench()
    cutting = [step for step in steps if step.stage in FINISHING]
    by_id = {cut.id: cut for cut in cuts.as_cuts(pattern, cutting, bench)}
    found: dict[str, Reason] = {step.id: "high_first" for step in steps if step.stage == "size"}
    found |= reasons([by_id[step.id] for step in cutting])
    found |= {step.id: "before_shoulder" for step in cutting if step.stage == "tenon"}
    found |= {step.id: "thin_last" for step in cutting[-1:] if step.stage == "thin"}
    moved = [step.id for step in plan(pattern, (), bench) if step.id in found]
    now = [step.id for step in steps if step.id in found]
    return {
        step_id: "own" if own and moved.index(step_id) != now.index(step_id) else reason
        for step_id, reason in found.items()
    }


def softens_mm(pattern: Pattern, bench: Bench | None = None) -> dict[str, float]:
    """What each cut adds to the mean give of the piece, by step id. [mm]"""
    bench = bench or Bench()
    cutting = [step for step in plan(pattern, (), bench) if step.stage in FINISHING]
    return {cut.id: cut.softens_mm for cut in cuts.as_cuts(pattern, cutting, bench)}


def _by_stages(pattern: Pattern, bench: Bench) -> list[Step]:
    found = places(pattern)
    high = sorted(parts.high_places(pattern), key=_thick_first)
    tenons = [p for p in found if p.role == "station" and p.kind == "tenon"]
    thin = parts.thin_sections(pattern)
    elsewhere = thin | parts.tenon_sections(pattern)
    runs, forms = _runs(pattern, high), _forms(pattern)
    last = sorted((i for i in (*runs, *forms) if i in thin), key=lambda i: -_thick(pattern, i))
    thickest_mm = parts.stock_mm(pattern) - parts.ROUGH_OVER_MM
    cutting = [
        *(_tenon(p) for p in sorted(tenons, key=_thick_first)),
        *(_section(pattern, found, "run", i) for i in runs if i not in elsewhere),
        *(_section(pattern, found, "form", i) for i in forms if i not in elsewhere),
        *(_section(pattern, found, "thin", i) for i in last),
    ]
    return [
        _step("mount", "mallet"),
        _step("rough", "roughing_gouge", finish_mm=thickest_mm, over_mm=parts.ROUGH_OVER_MM),
        _step("set_out", "stick"),
        *(_size(p) for p in high),
        *cuts.in_least_cost(pattern, cutting, bench),
        *(step for p in found for step in _final(p)),
        _step("done", "pencil"),
    ]


def _runs(pattern: Pattern, high: Sequence[Place]) -> list[int]:
    """Shoulders, then tapers and straights: those of the thickest high place first."""
    sections = [i for i, s in enumerate(pattern.sections) if s.form not in ("bead", "cove")]

    def turn(i: int) -> tuple[bool, float, float, float, int]:
        top = _high_place_above(pattern, i, high)
        return (
            pattern.sections[i].form != "shoulder",
            -top.diameter_mm if top else 0.0,
            top.at_mm if top else 0.0,
            -_thick(pattern, i),
            i,
        )

    return sorted(sections, key=turn)


def _forms(pattern: Pattern) -> list[int]:
    """Coves, then beads, so that all beads follow one another; each thick to thin."""
    sections = [i for i, s in enumerate(pattern.sections) if s.form in ("bead", "cove")]
    return sorted(
        sections, key=lambda i: (pattern.sections[i].form == "bead", -_thick(pattern, i), i)
    )


def _high_place_above(pattern: Pattern, i: int, high: Sequence[Place]) -> Place | None:
    """The high place that section i runs down from: the nearest beyond its thicker end."""
    start, end = pattern.stations[i], pattern.stations[i + 1]
    if start.diameter_mm >= end.diameter_mm:
        beyond = [p for p in high if p.at_mm <= start.at_mm]
        return max(beyond, key=lambda p: p.at_mm, default=None)
    beyond = [p for p in high if p.at_mm >= end.at_mm]
    return min(beyond, key=lambda p: p.at_mm, default=None)


def _thick(pattern: Pattern, i: int) -> float:
    start, end, section = pattern.stations[i], pattern.stations[i + 1], pattern.sections[i]
    return section.through_mm or max(start.diameter_mm, end.diameter_mm)


def _thick_first(place: Place) -> tuple[float, float]:
    return -place.diameter_mm, place.at_mm


def _size(place: Place) -> Step:
    say = "size_crown" if place.role == "crown" else "size"
    return _step("size", "parting", place, say=say, over_mm=SIZING_OVER_MM)


def _tenon(place: Place) -> Step:
    return _step("tenon", "parting", place, try_mm=place.diameter_mm + TRY_OVER_MM)


def _section(pattern: Pattern, found: Sequence[Place], stage: Stage, i: int) -> Step:
    form = pattern.sections[i].form
    bent = form in ("bead", "cove")
    say = "thin" if stage == "thin" and not bent else f"{'form' if bent else 'run'}_{form}"
    step = _step(stage, _TOOL[form], _read_at(pattern, found, i), say=say)
    return replace(step, id=f"{stage}:{pattern.stations[i].id}", section=i)


def _read_at(pattern: Pattern, found: Sequence[Place], i: int) -> Place:
    """Where a section is read: its crown, root or middle; without one, at its lower end.

    A bead without a crown of its own has it at its thicker end.
    """
    within = [p for p in found if p.section == i]
    if within:
        return min(within, key=lambda p: abs(p.share - 0.5))
    pick = max if pattern.sections[i].form == "bead" else min
    end = pick(pattern.stations[i : i + 2], key=lambda s: s.diameter_mm)
    return next(p for p in found if p.id == end.id)


def _final(place: Place) -> list[Step]:
    read = replace(_step("final", "caliper", place), phase="final")
    if not place.position_matters:
        return [read]
    where = replace(
        read,
        id=f"position:{place.id}",
        finish_mm=place.at_mm,
        stop_mm=place.at_mm,
        tool="rule",
        say="position",
        reads="position",
    )
    return [read, where]


def _step(
    stage: Stage,
    tool: str,
    place: Place | None = None,
    *,
    say: str = "",
    finish_mm: float | None = None,
    over_mm: float = 0.0,
    try_mm: float | None = None,
) -> Step:
    finish_mm = place.diameter_mm if place else finish_mm
    return Step(
        id=f"{stage}:{place.id}" if place else stage,
        stage=stage,
        place_id=place.id if place else None,
        at_mm=place.at_mm if place else None,
        finish_mm=finish_mm,
        stop_mm=None if finish_mm is None else finish_mm + over_mm,
        try_mm=try_mm,
        tool=tool,
        say=say or stage,
        reads="diameter" if place else None,
    )


def _one_reading_each(steps: list[Step]) -> list[Step]:
    """A place sized before is not read again till the end: two readings would pass for one."""
    seen: set[tuple[str | None, str, str]] = set()
    kept = []
    for step in steps:
        what = (step.place_id, step.reads or "", step.phase)
        kept.append(replace(step, reads=None) if what in seen else step)
        seen.add(what)
    return kept


def _in_order(steps: list[Step], order: Sequence[str]) -> list[Step]:
    by_id = {step.id: step for step in steps}
    first, *between, last = by_id
    named = [name for name in dict.fromkeys(order) if name in between]
    ids = [first, *named]
    before = first
    for name in between:
        if name not in named:
            ids.insert(ids.index(before) + 1, name)
        before = name
    return [by_id[name] for name in (*ids, last)]


def _brought_to_finish(pattern: Pattern, steps: list[Step]) -> list[Step]:
    """No place is left at its sizing size: each is told its finish by a later step, or at once."""
    brings: dict[str, list[str]] = {}
    for i, step in enumerate(steps):
        if step.stage != "size":
            continue
        beside = (s for s in steps[i:] if s.section is not None and _ends_at(pattern, s, step))
        finisher = next(beside, step)
        brings.setdefault(finisher.id, []).append(step.place_id or "")
    return [
        replace(
            step,
            stop_mm=step.finish_mm if step.place_id in brings.get(step.id, ()) else step.stop_mm,
            brings=tuple(brings.get(step.id, ())),
        )
        for step in steps
    ]


def _ends_at(pattern: Pattern, cut: Step, sized: Step) -> bool:
    """Whether the section of one step is cut down to the place of another.

    A shoulder runs at its smaller end, so it leaves its larger one as it was.
    """
    i = cut.section or 0
    if sized.place_id == cut.place_id:
        return True
    ends = pattern.stations[i : i + 2]
    if pattern.sections[i].form == "shoulder":
        ends = tuple(s for s in ends if s.diameter_mm == min(e.diameter_mm for e in ends))
    return any(s.id == sized.place_id for s in ends)


def _told(pattern: Pattern, steps: list[Step]) -> Iterable[Step]:
    """What depends on the order: what is said, when the edge is touched up, what stands."""
    stands = _standing_after(pattern, steps)
    slender = parts.slenderness(pattern).band in ("hand", "steady")
    told: Counter[str] = Counter()
    for i, step in enumerate(steps):
        lines = _WHY[step.say]
        caution = _CAUTION[step.stage]
        if step.stage == "run" and slender:
            caution = "hand_behind"
        if step.stage == "final" and not told["final"] and step.say == "final":
            caution = "sanding"
        yield replace(
            step,
            why=lines[told[step.say] % len(lines)],
            caution=caution,
            touch_up=_fresh_edge(steps, i),
            forms=tuple(stands.get(step.id, ())),
        )
        told[step.say] += 1


def _fresh_edge(steps: list[Step], i: int) -> bool:
    """At the start of the piece, before its first finishing cut and before the thin part."""
    before = {step.stage for step in steps[:i]}
    stage = steps[i].stage
    if stage == "thin":
        return "thin" not in before
    return stage == "mount" or (stage in FINISHING and before.isdisjoint(FINISHING))


def _standing_after(pattern: Pattern, steps: list[Step]) -> dict[str, list[int]]:
    """The sections finished by each step: a tenon's by the last of its stations' steps."""
    stands = {step.id: [step.section] for step in steps if step.section is not None}
    turn = {step.place_id: i for i, step in enumerate(steps) if step.stage == "tenon"}
    for i in sorted(parts.tenon_sections(pattern)):
        ends = [s.id for s in pattern.stations[i : i + 2] if s.id in turn]
        last = max(ends, key=lambda station: turn[station])
        stands.setdefault(f"tenon:{last}", []).append(i)
    return stands
