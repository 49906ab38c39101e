"""Shapes to start a pattern from. Every figure is a judgement of ours, there to be changed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from benchside.job import drafts
from benchside.job.drafts import Draft, Row, TypingUnit
from benchside.pattern import Pattern, Section, Station
from benchside.units import format_length, parse_length

_RUNG = Pattern(
    "",
    (
        Station("new-1", 0, 16, "tail tenon", "tenon"),
        Station("new-2", 25, 20, "tail shoulder"),
        Station("new-3", 200, 25, "middle"),
        Station("new-4", 375, 20, "drive shoulder"),
        Station("new-5", 400, 16, "drive tenon", "tenon"),
    ),
    (Section("shoulder"), Section("taper"), Section("taper"), Section("shoulder")),
)
_WITH_BEAD = Pattern(
    "",
    (
        Station("new-1", 0, 13, "tail tenon", "tenon"),
        Station("new-2", 20, 16, "tail shoulder", "slender"),
        Station("new-3", 190, 19, "bead, tail side"),
        Station("new-4", 206, 19, "bead, drive side"),
        Station("new-5", 380, 16, "drive shoulder", "slender"),
        Station("new-6", 400, 13, "drive tenon", "tenon"),
    ),
    (
        Section("shoulder"),
        Section("taper"),
        Section("bead", 28),
        Section("taper"),
        Section("shoulder"),
    ),
)


def _of(pattern: Pattern) -> Callable[[TypingUnit], Draft]:
    def made(unit: TypingUnit) -> Draft:
        draft = drafts.draft_of(pattern if unit == "mm" else _to_sixteenths(pattern), unit)
        return replace(draft, rows=tuple(replace(row, id="") for row in draft.rows))

    return made


def _to_sixteenths(pattern: Pattern) -> Pattern:
    """The shape as a rule in inches has it: 400 mm begins as 15 3/4 in."""

    def near(mm: float) -> float:
        return parse_length(format_length(mm, "in/16"), "in")

    return replace(
        pattern,
        stations=tuple(
            replace(s, at_mm=near(s.at_mm), diameter_mm=near(s.diameter_mm))
            for s in pattern.stations
        ),
        sections=tuple(
            replace(s, through_mm=s.through_mm and near(s.through_mm)) for s in pattern.sections
        ),
    )


def _two_ends(unit: TypingUnit) -> Draft:
    rows = (
        Row(at="0", name="tail end", kind="tenon", form="straight"),
        Row(name="drive end", kind="tenon"),
    )
    return Draft("", rows, unit)


SHAPES: dict[str, Callable[[TypingUnit], Draft]] = {
    "rung": _of(_RUNG),
    "bead": _of(_WITH_BEAD),
    "ends": _two_ends,
}
