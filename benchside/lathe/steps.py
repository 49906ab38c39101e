"""The steps of one spindle: each one thing to do at the lathe, in stages."""

from __future__ import annotations

from collections.abc import Iterable, Set
from dataclasses import dataclass
from typing import Literal, get_args

Stage = Literal[
    "mount", "rough", "set_out", "size", "tenon", "run", "form", "thin", "final", "done"
]
STAGES: tuple[Stage, ...] = get_args(Stage)

FINISHING: tuple[Stage, ...] = ("tenon", "run", "form", "thin")


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing to do at the lathe. Sizes in mm; ``at_mm`` from the datum end.

    ``id`` says what is done and where: ``mount``, ``size:PLACE``, ``tenon:STATION``,
    ``run:STATION`` (the section that starts there), ``final:PLACE`` ... ``stop_mm`` is the size
    to stop at now, ``finish_mm`` the finished one (where a position is read, both are the
    position). ``try_mm`` is a tenon's stop-and-try line. ``tool``, ``say``, ``why`` and
    ``caution`` are keys of sentences. ``reads`` is the reading that can be taken; among the steps
    that take one, no two share place, kind and ``phase``. ``touch_up`` asks for a fresh edge
    first. ``forms`` are the sections that stand finished after this step. ``brings`` are the
    places that stood at their sizing size and are brought to the finished one by it.
    """

    id: str
    stage: Stage
    tool: str
    say: str
    why: str = ""
    caution: str | None = None
    place_id: str | None = None
    at_mm: float | None = None
    section: int | None = None
    finish_mm: float | None = None
    stop_mm: float | None = None
    try_mm: float | None = None
    reads: Literal["diameter", "position"] | None = None
    phase: Literal["sizing", "final"] = "sizing"
    touch_up: bool = False
    forms: tuple[int, ...] = ()
    brings: tuple[str, ...] = ()


def stages(steps: Iterable[Step]) -> dict[Stage, tuple[Step, ...]]:
    """The steps of each stage, in the order in which the stages come first."""
    found: dict[Stage, tuple[Step, ...]] = {}
    for step in steps:
        found[step.stage] = (*found.get(step.stage, ()), step)
    return found


def next_step(steps: Iterable[Step], done: Set[str]) -> Step | None:
    """The first step whose id is not among ``done``; None when all are."""
    listed = tuple(steps)
    passed = behind(listed, done)
    return next((step for step in listed if step.id not in passed), None)


def behind(steps: Iterable[Step], done: Set[str]) -> frozenset[str]:
    """The steps that are done, and the steady's for a step that is: it was done without."""
    steadied = {s.id for s in steps if s.tool == "steady" and s.id.partition(":")[2] in done}
    return frozenset(done | steadied)
