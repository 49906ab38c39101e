"""The first whirling speed of a piece at every stage of its turning."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from benchside.lathe import course, steady
from benchside.lathe.course import Bench
from benchside.lathe.parts import stock_mm
from benchside.lathe.steps import Stage, Step
from benchside.lathe.stiffness import rpm_when_held
from benchside.pattern import Pattern


@lru_cache(maxsize=64)
def whirl_rpm(pattern: Pattern, steps: tuple[Step, ...], bench: Bench) -> Mapping[Stage, float]:
    """The least whirling speed while each stage is worked at. [r/min]

    Until its first section is cut the piece is the rough round; then it is what the cuts have left
    of it, with the steady where one stands. The ends count as free to tilt, which is the lowest it
    can be. Steps that only fit or take off the steady are passed over.
    """
    steps = tuple(step for step in steps if step.tool != "steady")
    rough = course.standing(pattern, frozenset(), stock_mm(pattern), bench)
    round_rpm = rpm_when_held(rough, course.ends(pattern, bench))[0]
    found: dict[Stage, float] = {step.stage: round_rpm for step in steps}
    stage_of = {step.id: step.stage for step in steps}
    cut: set[Stage] = set()
    for moment in steady.moments(pattern, steps, bench):
        stage = stage_of[moment.step_id]
        held = steady.supports(pattern, bench, moment.steady_mm)
        rpm = rpm_when_held(moment.work, held)[0]
        found[stage] = min(rpm, found[stage]) if stage in cut else rpm
        cut.add(stage)
    return found
