"""The rules of a pattern. Every broken one is found at once, each with its row."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from math import isfinite

from benchside.errors import Problem
from benchside.pattern import profile
from benchside.pattern.stations import FORMS, KINDS, Section, Station
from benchside.units import MM_PER_INCH, Unit, unit_sign

THINNEST_MM = 3.0  # judgement: thinner work is no chair part
LONGEST_MM = 4000.0  # judgement: longer than any lathe bed this is for
THICKEST_MM = 1000.0  # judgement: a guard against slips; the lathe's own swing is asked elsewhere
LONGEST_NAME = 200  # judgement: more is no name
SLACK_MM = 1e-9  # so that a limit typed as named is not refused for its last binary digit

# Ids stand in place ids (crown:ID) and step ids (size:ID), so they hold no colon.
_ID = re.compile(r"[A-Za-z0-9._-]{1,40}")


def broken_by(
    name: str,
    stations: Sequence[Station],
    sections: Sequence[Section],
    *,
    unit: Unit = "mm",
) -> tuple[Problem, ...]:
    """What is wrong with a table of stations and sections that may not yet make a pattern.

    Limits are named in ``unit``, the one that the person types in. A figure that could not be read
    may stand as NaN: it is reported on its own row and column, and nothing else is said of what
    hangs on it.
    """
    named = [] if _is_name(name) else [_name_problem(0)]
    return tuple(named + _broken(stations, sections, unit))


def _broken(stations: Sequence[Station], sections: Sequence[Section], unit: Unit) -> list[Problem]:
    if len(stations) < 2:
        return [
            Problem(0, "stations", "A pattern needs at least two stations.", "Add the other end.")
        ]
    if len(sections) != len(stations) - 1:
        return [
            Problem(
                0,
                "sections",
                f"{len(stations)} stations need {len(stations) - 1} sections,"
                f" there are {len(sections)}.",
            )
        ]
    problems = [*_numbers(stations, unit), *_positions(stations, unit)]
    unsound = {p.row for p in problems if p.field in ("at_mm", "diameter_mm")}
    problems += [
        *_ids(stations),
        *_words(stations, sections),
        *_extremes(stations, sections, unsound, unit),
    ]
    return sorted(problems, key=lambda p: p.row)


def off_the_lathe(
    stations: Sequence[Station],
    sections: Sequence[Section],
    *,
    swing_mm: float,
    between_centres_mm: float,
    unit: Unit = "mm",
) -> list[Problem]:
    """What of a spindle does not go on the lathe, said in ``unit``, in order of rows. [mm]

    The table need not make a pattern yet, and a figure that could not be read may stand as NaN.
    """
    swing = _said(swing_mm, unit)
    problems = [
        Problem(
            i,
            "diameter_mm",
            f"{_said(s.diameter_mm, unit)} is thicker than the lathe's swing, {swing}.",
            "Correct the diameter, or the lathe under Shop.",
        )
        for i, s in enumerate(stations, 1)
        if s.diameter_mm > swing_mm
    ]
    problems += [
        Problem(
            i,
            "through_mm",
            f"{_said(section.through_mm, unit)} is thicker than the lathe's swing, {swing}.",
            "Correct the crown, or the lathe under Shop.",
        )
        for i, section in enumerate(sections, 1)
        if section.through_mm is not None and section.through_mm > swing_mm
    ]
    if stations and stations[-1].at_mm > between_centres_mm:
        problems.append(
            Problem(
                len(stations),
                "at_mm",
                f"{_said(stations[-1].at_mm, unit)} is longer than the"
                f" {_said(between_centres_mm, unit)} between the lathe's centres.",
                "Correct the length, or the lathe under Shop.",
            )
        )
    return sorted(problems, key=lambda p: p.row)


def _numbers(stations: Sequence[Station], unit: Unit) -> list[Problem]:
    problems = []
    for row, s in enumerate(stations, 1):
        if not (isfinite(s.at_mm) and 0 <= s.at_mm <= LONGEST_MM):
            problems.append(
                Problem(
                    row,
                    "at_mm",
                    f"The position must lie between 0 and {_said(LONGEST_MM, unit)},"
                    f" not {_figure(s.at_mm, unit)}.",
                    "Measure every position from the datum end.",
                )
            )
        if not (isfinite(s.diameter_mm) and THINNEST_MM <= s.diameter_mm <= THICKEST_MM):
            problems.append(
                Problem(
                    row,
                    "diameter_mm",
                    f"The diameter must be between {_figure(THINNEST_MM, unit)} and"
                    f" {_said(THICKEST_MM, unit)}, not {_figure(s.diameter_mm, unit)}.",
                )
            )
        problems += [
            Problem(row, name, f"A tolerance must be more than 0, not {_said(value, unit)}.")
            for name, value in (
                ("tolerance_mm", s.tolerance_mm),
                ("position_tolerance_mm", s.position_tolerance_mm),
            )
            if value is not None and not (isfinite(value) and value > 0)
        ]
    return problems


def _positions(stations: Sequence[Station], unit: Unit) -> list[Problem]:
    problems = []
    at = [s.at_mm for s in stations]
    if isfinite(at[0]) and at[0] != 0:
        problems.append(
            Problem(
                1,
                "at_mm",
                f"The first station stands at {_said(at[0], unit)}.",
                "The first station is the datum end itself: 0.",
            )
        )
    for row in range(2, len(at) + 1):
        if at[row - 1] <= at[row - 2]:
            problems.append(
                Problem(
                    row,
                    "at_mm",
                    f"{_said(at[row - 1], unit)} does not lie beyond the station before it,"
                    f" at {_said(at[row - 2], unit)}.",
                    "Positions rise from the datum end, all measured from it.",
                )
            )
    return problems


def _ids(stations: Sequence[Station]) -> list[Problem]:
    counts = Counter(s.id for s in stations)
    return [
        Problem(row, "id", f"The station mark {s.id!r} stands on more than one row.")
        if _ID.fullmatch(s.id)
        else Problem(row, "id", "A station mark is 1 to 40 letters, digits, dots, _ or -.")
        for row, s in enumerate(stations, 1)
        if counts[s.id] > 1 or not _ID.fullmatch(s.id)
    ]


def _words(stations: Sequence[Station], sections: Sequence[Section]) -> list[Problem]:
    problems = []
    for row, s in enumerate(stations, 1):
        if not _is_name(s.name):
            problems.append(_name_problem(row))
        if s.kind not in KINDS:
            problems.append(
                Problem(row, "kind", "That is no kind of station.", f"One of: {', '.join(KINDS)}.")
            )
    for row, section in enumerate(sections, 1):
        if section.form not in FORMS:
            problems.append(
                Problem(row, "form", "That is no form of section.", f"One of: {', '.join(FORMS)}.")
            )
        if not _is_name(section.name):
            problems.append(replace(_name_problem(row), field="called"))
    return problems


def _name_problem(row: int) -> Problem:
    return Problem(
        row,
        "name",
        f"A name is up to {LONGEST_NAME} characters of plain text.",
        "Shorten it, or type it anew.",
    )


def _is_name(text: str) -> bool:
    """Whether a text is short enough and can be kept: no NUL, no half of a surrogate pair."""
    return len(text) <= LONGEST_NAME and not any(
        c == "\0" or "\ud800" <= c <= "\udfff" for c in text
    )


def _extremes(
    stations: Sequence[Station], sections: Sequence[Section], unsound: set[int], unit: Unit
) -> list[Problem]:
    """What is wrong with crowns and roots; not where an end itself (a row in unsound) is wrong."""
    problems = []
    for row, section in enumerate(sections, 1):
        if section.form in ("bead", "cove"):
            if not {row, row + 1} & unsound:
                start, end = stations[row - 1], stations[row]
                problems += _extreme(row, section.form, section.through_mm, start, end, unit)
        elif section.form in FORMS and section.through_mm is not None:
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
    row: int, form: str, through_mm: float | None, start: Station, end: Station, unit: Unit
) -> list[Problem]:
    """What is wrong with one crown or root."""

    def problem(message: str, hint: str = "") -> list[Problem]:
        return [Problem(row, "through_mm", message, hint)]

    part = "crown" if form == "bead" else "root"
    low, high = sorted((start.diameter_mm, end.diameter_mm))
    length_mm = end.at_mm - start.at_mm
    if (high - low) / 2 > length_mm + SLACK_MM:
        return problem(
            f"No {form} fits on {_said(length_mm, unit)} between ends of {_figure(low, unit)}"
            f" and {_said(high, unit)}.",
            "Make it a shoulder, or put the two stations farther apart.",
        )
    named = _limit(form, length_mm, low, high, unit)
    if through_mm is None or not isfinite(through_mm):
        return problem(f"A {form} needs the diameter of its {part}.", named)
    if not THINNEST_MM <= through_mm <= THICKEST_MM:
        return problem(
            f"The {part} must be between {_figure(THINNEST_MM, unit)} and"
            f" {_said(THICKEST_MM, unit)}, not {_figure(through_mm, unit)}.",
            named,
        )
    if low == high == through_mm or (through_mm < high if form == "bead" else through_mm > low):
        return problem(
            f"The {part} of a {form} stands {'over' if form == 'bead' else 'under'}"
            f" both its ends, not at {_said(through_mm, unit)}.",
            named,
        )
    beyond = through_mm - high if form == "bead" else low - through_mm
    if beyond > profile.greatest_rise_mm(length_mm, low, high) + SLACK_MM:
        return problem(
            f"A {part} of {_said(through_mm, unit)} is more than half a circle between these ends.",
            named,
        )
    return []


def _limit(form: str, length_mm: float, low: float, high: float, unit: Unit) -> str:
    """Names the greatest crown or smallest root, rounded to the side that is still possible."""
    rise_mm = profile.greatest_rise_mm(length_mm, low, high) + SLACK_MM
    sign = unit_sign(unit)
    size = Decimal(1) if sign == "mm" else Decimal(str(float(MM_PER_INCH)))
    place = Decimal("0.01" if sign == "mm" else "0.001")
    if Decimal(rise_mm) / size < place:
        place = Decimal("0.000000001")
    if form == "bead":
        most = Decimal(repr(min(high + rise_mm, THICKEST_MM))) / size
        return f"The greatest possible crown here is {most.quantize(place, ROUND_FLOOR)} {sign}."
    least = Decimal(repr(max(low - rise_mm, THINNEST_MM))) / size
    return f"The smallest possible root here is {least.quantize(place, ROUND_CEILING)} {sign}."


def _figure(mm: float, unit: Unit) -> str:
    """A length in a unit, without its sign: inches to the ten-thousandth."""
    if unit_sign(unit) == "mm":
        return f"{mm:g}"
    return f"{round(mm / float(MM_PER_INCH), 4):g}"


def _said(mm: float, unit: Unit) -> str:
    return f"{_figure(mm, unit)} {unit_sign(unit)}"
