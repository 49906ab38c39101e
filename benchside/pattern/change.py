"""New patterns out of old ones: another length, end for end, from readings. In millimetres."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil, floor, isfinite
from typing import Literal

from benchside.errors import NotFound, OutOfRange
from benchside.pattern import rules
from benchside.pattern.places import places
from benchside.pattern.shapes import Pattern
from benchside.pattern.stations import Section
from benchside.units import difference_mm, length_told

End = Literal["datum", "far"]

STUBBY = 4.0  # judgement: a tenon without a mark of its own is no longer than 4 of its diameters
TENON_DEPTHS = 1.4  # common practice, no source: a 5/8 in rung tenon goes 7/8 in deep
UNSEEN_MM = 0.0005  # judgement: less cannot be measured
_END_OF_WORK = re.compile(r"\b(?:tail|drive|Tail|Drive)\b")
_OTHER_END = {"tail": "drive", "drive": "tail", "Tail": "Drive", "Drive": "Tail"}
PLACES = 6  # a nanometre: keeps the tables free of binary crumbs


@dataclass(frozen=True, slots=True)
class TenonChange:
    """What a change does to the size of one tenon where its shoulder meets the seat or rail.

    ``station_id`` and ``name`` are of the station at the tenon's end; ``depth_mm`` is how far
    from that end both diameters were taken.
    """

    station_id: str
    name: str
    depth_mm: float
    before_mm: float
    after_mm: float

    @property
    def change_mm(self) -> float:
        """Positive where the tenon comes out fatter."""
        return difference_mm(self.after_mm, self.before_mm)


@dataclass(frozen=True, slots=True)
class Scaled:
    """A pattern at another length, and every tenon that it makes fatter or thinner."""

    pattern: Pattern
    warnings: tuple[TenonChange, ...]


@dataclass(frozen=True, slots=True)
class _Tenon:
    """The tenon at one end: the rows from its end inwards (one row: it has no shoulder mark)."""

    end: End
    rows: tuple[int, ...]


def scaled(
    pattern: Pattern, length_mm: float, *, diameters: bool = False, tenon_lengths: bool = False
) -> Scaled:
    """The pattern at another length. [mm]

    Positions scale; diameters stay unless ``diameters``. The tenons at the ends keep their length
    and what lies between them makes up the total, unless ``tenon_lengths``. A tapered tenon that
    becomes shorter (or has no length of its own) gets steeper, so that it is fatter where its
    shoulder mark was: each such change is told.

    Raises `OutOfRange` for a length that is none or leaves nothing between the tenons, and
    `PatternBroken` where the new pattern breaks a rule, as when a bead no longer fits.
    """
    if not (isfinite(length_mm) and length_mm > 0):
        raise OutOfRange(
            f"{length_told(length_mm)} is no length for a spindle.",
            field="length_mm",
            hint="More than 0.",
        )
    if length_mm == pattern.length_mm:
        return Scaled(pattern, ())
    tenons = _tenons(pattern)
    at = _scaled_positions(pattern, float(length_mm), [] if tenon_lengths else tenons)
    factor = length_mm / pattern.length_mm if diameters else 1.0
    new = replace(
        pattern,
        stations=tuple(
            replace(s, at_mm=at_mm, diameter_mm=_times(s.diameter_mm, factor))
            for s, at_mm in zip(pattern.stations, at, strict=True)
        ),
        sections=tuple(
            replace(s, through_mm=s.through_mm and _times(s.through_mm, factor))
            for s in pattern.sections
        ),
    )
    return Scaled(new, _changes(pattern, new, tenons))


def possible_mm(
    now_mm: float, step_mm: float, fits: Callable[[float], bool]
) -> tuple[float, float] | None:
    """The shortest and the longest whole number of steps that fits, where one does. [mm]

    ``now_mm`` fits; so does everything between it and the first length either way that does not.
    """
    steps = round(now_mm / step_mm, PLACES)
    found = []
    for good, bad in ((ceil(steps), 0), (floor(steps), floor(rules.LONGEST_MM / step_mm) + 1)):
        while abs(bad - good) > 1:
            middle = (good + bad) // 2
            good, bad = (middle, bad) if fits(middle * step_mm) else (good, middle)
        found.append(good)
    shortest, longest = found
    return (shortest * step_mm, longest * step_mm) if shortest <= longest else None


def all_named(pattern: Pattern) -> Pattern:
    """A station left without a name is called by its number, so that it can be spoken of."""
    named = (replace(s, name=s.name or f"station {i}") for i, s in enumerate(pattern.stations, 1))
    return replace(pattern, stations=tuple(named))


def mirrored(pattern: Pattern) -> Pattern:
    """The pattern end for end: position x becomes length - x, sections run the other way. [mm]

    Every station keeps its name, and a bead or cove the one it had from the station where it
    started; its mark goes by that station's id, which comes to where it starts now (the id at the
    far end of such a run comes to its other end). "tail" and "drive" in a name change places.
    The datum end of the work stays; mirroring twice gives the pattern back, all its stations named.
    """
    turned = _end_for_end(all_named(pattern))
    last = len(turned.stations) - 1
    known = {i: i for i in range(last + 1)}
    for first, end in _curved_runs(turned.sections):
        known |= {i: i + 1 for i in range(first, end)} | {end: first}
    ends = [replace(s, name=_other_end(s.name)) for s in turned.stations]
    stations = tuple(replace(s, id=turned.stations[known[i]].id) for i, s in enumerate(ends))
    sections = tuple(
        _called(section, section.name or turned.stations[i + 1].name, stations[i].name)
        for i, section in enumerate(turned.sections)
    )
    return replace(turned, stations=stations, sections=sections)


def _called(section: Section, name: str, starts_at: str) -> Section:
    """A bead or cove under the name it had, where it does not begin at a station of that name."""
    if section.form not in ("bead", "cove"):
        return section
    other = _other_end(name)
    return replace(section, name="" if starts_at in (name, other) else other)


def _curved_runs(sections: tuple[Section, ...]) -> list[tuple[int, int]]:
    """First and last station of each run of beads and coves that follow one another."""
    runs: list[tuple[int, int]] = []
    for i, section in enumerate(sections):
        if section.form not in ("bead", "cove"):
            continue
        if runs and runs[-1][1] == i:
            runs[-1] = (runs[-1][0], i + 1)
        else:
            runs.append((i, i + 1))
    return runs


def _other_end(name: str) -> str:
    """A name that says the end it is nearer to now."""
    return _END_OF_WORK.sub(lambda found: _OTHER_END[found[0]], name)


def _end_for_end(pattern: Pattern) -> Pattern:
    """Every station and section as it was, seen from the other end. [mm]"""
    return replace(
        pattern,
        stations=tuple(
            replace(s, at_mm=difference_mm(pattern.length_mm, s.at_mm))
            for s in reversed(pattern.stations)
        ),
        sections=pattern.sections[::-1],
    )


def revalued(
    pattern: Pattern, diameters: Mapping[str, float], positions: Mapping[str, float]
) -> Pattern:
    """The pattern remade from what was measured on a good piece, by id of the place. [mm]

    A station takes its diameter and its position; a crown or root becomes the section's
    ``through_mm``. A middle or a place along a straight lies between stations and changes nothing,
    and a crown's position follows from its circle.

    Raises `NotFound` for an id the pattern has no place for, `PatternBroken` where the readings
    break a rule.
    """
    known = {p.id: p for p in places(pattern)}
    for place_id in (*diameters, *positions):
        if place_id not in known:
            raise NotFound("The pattern has no such place.", field="place_id")
    through = {
        p.section: diameters[p.id]
        for p in known.values()
        if p.role in ("crown", "root") and p.id in diameters
    }
    return replace(
        pattern,
        stations=tuple(
            replace(
                s,
                diameter_mm=diameters.get(s.id, s.diameter_mm),
                at_mm=positions.get(s.id, s.at_mm),
            )
            for s in pattern.stations
        ),
        sections=tuple(
            replace(section, through_mm=through.get(i, section.through_mm))
            for i, section in enumerate(pattern.sections)
        ),
    )


def _times(mm: float, factor: float) -> float:
    return mm if factor == 1.0 else round(mm * factor, PLACES)


def _tenons(pattern: Pattern) -> list[_Tenon]:
    """The tenons at the ends that have a length of their own, or at least a tip."""
    count = len(pattern.stations)
    found = [
        _Tenon("datum", _tenon_rows(pattern, list(range(count)))),
        _Tenon("far", _tenon_rows(pattern, list(range(count - 1, -1, -1)))),
    ]
    return [t for t in found if t.rows]


def _tenon_rows(pattern: Pattern, inward: list[int]) -> tuple[int, ...]:
    """Rows of the tenon at the end where ``inward`` begins.

    Its own tenon stations, at most to the middle row; a lone one with what leads to its shoulder,
    where that is a shoulder section or stubby enough to be no part of the body.
    """
    run = 0
    while run < len(inward) // 2 and pattern.stations[inward[run]].kind == "tenon":
        run += 1
    if run != 1 or len(inward) == 2:
        return tuple(inward[:run])
    tip, shoulder = (pattern.stations[row] for row in inward[:2])
    form = _between(pattern, *inward[:2]).form
    length_mm = abs(shoulder.at_mm - tip.at_mm)
    stubby = length_mm <= STUBBY * max(tip.diameter_mm, shoulder.diameter_mm)
    own = form == "shoulder" or (form in ("straight", "taper") and stubby)
    return tuple(inward[: 2 if own else 1])


def _between(pattern: Pattern, a: int, b: int) -> Section:
    return pattern.sections[min(a, b)]


def _scaled_positions(pattern: Pattern, length_mm: float, kept: list[_Tenon]) -> list[float]:
    """New positions, with the kept tenons as long as they were."""
    rows = {t.end: t.rows[-1] for t in kept}
    first, last = rows.get("datum", 0), rows.get("far", len(pattern.stations) - 1)
    if first >= last:
        first, last = 0, len(pattern.stations) - 1
    old = [s.at_mm for s in pattern.stations]
    head_mm, tail_mm = old[first], difference_mm(old[-1], old[last])
    left_mm = length_mm - head_mm - tail_mm
    if left_mm <= 0:
        raise OutOfRange(
            f"The tenons alone are {length_told(head_mm + tail_mm)} long.",
            field="length_mm",
            hint="Choose a greater length, or let the tenons scale too.",
        )
    factor = left_mm / (old[last] - old[first])

    def moved(row: int) -> float:
        if row <= first:
            return old[row]
        if row >= last:
            return difference_mm(length_mm, difference_mm(old[-1], old[row]))
        return round(head_mm + (old[row] - head_mm) * factor, PLACES)

    return [moved(row) for row in range(len(old))]


def _changes(old: Pattern, new: Pattern, tenons: list[_Tenon]) -> tuple[TenonChange, ...]:
    found = []
    for tenon in tenons:
        tip = old.stations[tenon.rows[0]]
        depth_mm = _depth(old, tenon)
        if depth_mm is None:
            continue
        before_mm = _size_at(old, tenon, depth_mm)
        after_mm = _size_at(new, tenon, depth_mm)
        if abs(after_mm - before_mm) > UNSEEN_MM:
            found.append(TenonChange(tip.id, tip.name, depth_mm, before_mm, after_mm))
    return tuple(found)


def _depth(pattern: Pattern, tenon: _Tenon) -> float | None:
    """How far from its end a tenon is compared: at its shoulder mark, or the usual depth."""
    tip = pattern.stations[tenon.rows[0]]
    if len(tenon.rows) > 1:
        return abs(difference_mm(pattern.stations[tenon.rows[-1]].at_mm, tip.at_mm))
    inner = pattern.stations[1 if tenon.end == "datum" else -2]
    depth_mm = round(min(TENON_DEPTHS * tip.diameter_mm, abs(inner.at_mm - tip.at_mm)), 1)
    form = pattern.sections[0 if tenon.end == "datum" else -1].form
    return depth_mm if form in ("straight", "taper") else None


def _size_at(pattern: Pattern, tenon: _Tenon, depth_mm: float) -> float:
    """Diameter at a depth from the tenon's end, its last section carried on past its mark."""
    rows = tenon.rows if len(tenon.rows) > 1 else _tip_and_next(tenon, len(pattern.stations))
    tip = pattern.stations[rows[0]]
    outer, inner = next(
        (
            (a, b)
            for a, b in pairwise(rows)
            if abs(pattern.stations[b].at_mm - tip.at_mm) >= depth_mm
        ),
        rows[-2:],
    )
    return _on_section(pattern, outer, inner, depth_mm - abs(_at(pattern, outer) - tip.at_mm))


def _tip_and_next(tenon: _Tenon, count: int) -> tuple[int, int]:
    return (0, 1) if tenon.end == "datum" else (count - 1, count - 2)


def _at(pattern: Pattern, row: int) -> float:
    return pattern.stations[row].at_mm


def _on_section(pattern: Pattern, outer: int, inner: int, along_mm: float) -> float:
    a, b = pattern.stations[outer], pattern.stations[inner]
    if _between(pattern, outer, inner).form == "shoulder":
        return min(a.diameter_mm, b.diameter_mm)
    share = along_mm / abs(b.at_mm - a.at_mm)
    return round(a.diameter_mm + share * (b.diameter_mm - a.diameter_mm), PLACES)
