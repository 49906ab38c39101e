"""The rules of a pattern. Every broken one is found at once, each with its row."""

from __future__ import annotations

from collections import Counter
from math import isfinite
from typing import TYPE_CHECKING

from benchside.errors import PatternBroken, Problem
from benchside.pattern import profile

if TYPE_CHECKING:
    from benchside.pattern.shapes import Pattern, Station

THINNEST_MM = 3.0  # judgement: thinner work is no chair part
LONGEST_MM = 4000.0  # judgement: longer than any lathe bed this is for
THICKEST_MM = 1000.0  # judgement: a guard against slips; the lathe's own swing is asked elsewhere


def broken_rules(pattern: Pattern) -> tuple[Problem, ...]:
    """All rules that hold on any lathe. Rows count from 1."""
    if len(pattern.stations) < 2:
        return (
            Problem(0, "stations", "A pattern needs at least two stations.", "Add the other end."),
        )
    if len(pattern.sections) != len(pattern.stations) - 1:
        return (
            Problem(
                0,
                "sections",
                f"{len(pattern.stations)} stations need {len(pattern.stations) - 1} sections,"
                f" there are {len(pattern.sections)}.",
            ),
        )
    problems = [
        *_numbers(pattern),
        *_positions(pattern),
        *_ids(pattern),
    ]
    # The form of a section means nothing between ends that are no numbers or stand reversed.
    return tuple(problems or _extremes(pattern))


def check_lathe(pattern: Pattern, *, swing_mm: float, between_centres_mm: float) -> None:
    """Raise `PatternBroken` where the spindle does not fit the lathe. [mm]"""
    problems = [
        Problem(
            i,
            "diameter_mm",
            f"{s.diameter_mm:g} mm is thicker than the lathe's swing, {swing_mm:g} mm.",
            "Correct the diameter, or the lathe under Shop.",
        )
        for i, s in enumerate(pattern.stations, 1)
        if s.diameter_mm > swing_mm
    ]
    if pattern.length_mm > between_centres_mm:
        problems.append(
            Problem(
                len(pattern.stations),
                "at_mm",
                f"{pattern.length_mm:g} mm is longer than the {between_centres_mm:g} mm"
                " between the lathe's centres.",
                "Correct the length, or the lathe under Shop.",
            )
        )
    if problems:
        raise PatternBroken(tuple(problems))


def _numbers(pattern: Pattern) -> list[Problem]:
    problems = []
    for row, s in enumerate(pattern.stations, 1):
        if not (isfinite(s.at_mm) and 0 <= s.at_mm <= LONGEST_MM):
            problems.append(
                Problem(
                    row,
                    "at_mm",
                    f"The position must lie between 0 and {LONGEST_MM:g} mm, not {s.at_mm:g}.",
                    "Measure every position from the datum end.",
                )
            )
        if not (isfinite(s.diameter_mm) and THINNEST_MM <= s.diameter_mm <= THICKEST_MM):
            problems.append(
                Problem(
                    row,
                    "diameter_mm",
                    f"The diameter must be between {THINNEST_MM:g} and {THICKEST_MM:g} mm,"
                    f" not {s.diameter_mm:g}.",
                )
            )
        problems += [
            Problem(row, name, f"A tolerance must be more than 0 mm, not {value:g}.")
            for name, value in (
                ("tolerance_mm", s.tolerance_mm),
                ("position_tolerance_mm", s.position_tolerance_mm),
            )
            if value is not None and not (isfinite(value) and value > 0)
        ]
    return problems


def _positions(pattern: Pattern) -> list[Problem]:
    problems = []
    at = [s.at_mm for s in pattern.stations]
    if at[0] != 0:
        problems.append(
            Problem(
                1,
                "at_mm",
                f"The first station stands at {at[0]:g} mm.",
                "The first station is the datum end itself: 0.",
            )
        )
    for row in range(2, len(at) + 1):
        if not at[row - 1] > at[row - 2]:
            problems.append(
                Problem(
                    row,
                    "at_mm",
                    f"{at[row - 1]:g} mm does not lie beyond the station before it,"
                    f" at {at[row - 2]:g} mm.",
                    "Positions rise from the datum end, all measured from it.",
                )
            )
    return problems


def _ids(pattern: Pattern) -> list[Problem]:
    counts = Counter(s.id for s in pattern.stations)
    return [
        Problem(row, "id", f"The station mark {s.id!r} stands on more than one row.")
        for row, s in enumerate(pattern.stations, 1)
        if counts[s.id] > 1
    ]


def _extremes(pattern: Pattern) -> list[Problem]:
    problems = []
    for row, section in enumerate(pattern.sections, 1):
        start, end = pattern.stations[row - 1], pattern.stations[row]
        if section.form in ("bead", "cove"):
            problems += _extreme(row, section.form, section.through_mm, start, end)
        elif section.through_mm is not None:
            problems.append(
                Problem(
                    row,
                    "through_mm",
                    f"A {section.form} has no crown or root.",
                    "Leave it empty, or make the section a bead or a cove.",
                )
            )
    return problems


def _extreme(
    row: int, form: str, through_mm: float | None, start: Station, end: Station
) -> list[Problem]:
    """What is wrong with one crown or root."""
    part = "crown" if form == "bead" else "root"
    if through_mm is None or not isfinite(through_mm):
        return [Problem(row, "through_mm", f"A {form} needs the diameter of its {part}.")]
    low, high = sorted((start.diameter_mm, end.diameter_mm))
    length_mm = end.at_mm - start.at_mm
    rise_mm = profile.greatest_rise_mm(length_mm, low, high)
    if form == "bead":
        beyond, turned_over = through_mm - high, through_mm < high or through_mm == low
        limit_mm, side, edge = high + rise_mm, "over", high
    else:
        beyond, turned_over = low - through_mm, through_mm > low or through_mm == high
        limit_mm, side, edge = low - rise_mm, "under", low
    if turned_over:
        return [
            Problem(
                row,
                "through_mm",
                f"The {part} of a {form} stands {side} both its ends, not at {through_mm:g} mm.",
                f"Anything {side} {edge:g} mm, or turn the {form} into the other form.",
            )
        ]
    if beyond > rise_mm * (1 + 1e-12):
        most = "greatest" if form == "bead" else "smallest"
        return [
            Problem(
                row,
                "through_mm",
                f"A {part} of {through_mm:g} mm is more than half a circle between these ends.",
                f"The {most} possible {part} here is {limit_mm:.2f} mm.",
            )
        ]
    if through_mm < THINNEST_MM:
        return [
            Problem(
                row,
                "through_mm",
                f"The {part} must be at least {THINNEST_MM:g} mm thick, not {through_mm:g}.",
            )
        ]
    return []
