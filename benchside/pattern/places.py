"""The places along a spindle that are sized and read: its stations and those found between them."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import Literal

from benchside.pattern.shapes import Pattern
from benchside.pattern.stations import Kind, Station

Role = Literal["station", "crown", "root", "middle", "along"]

SHORT_TAPER_MM = 20.0  # judgement: on a shorter taper the middle is not worth a reading
LONG_STRAIGHT_MM = 100.0  # judgement
FARTHEST_APART_MM = 150.0  # judgement: readings along a long straight are no farther apart


@dataclass(frozen=True, slots=True)
class Place:
    """One place that can be read. ``section`` is the section it lies in; None for a station.

    ``id`` is the station's own for a station, and is made from it for the others
    (``crown:ID``, ``root:ID``, ``middle:ID``, ``along:ID:1``), so it outlives moves and renames.
    ``name`` and ``to_name`` are the stations' names, ``name`` that of the bead or cove where it has
    its own; ``share`` is how far along the section.
    ``position_matters`` marks beads, coves and shoulders, whose place shows before their size.
    """

    id: str
    role: Role
    at_mm: float
    diameter_mm: float
    name: str
    to_name: str
    kind: Kind
    tolerance_mm: float | None
    position_tolerance_mm: float | None
    section: int | None
    share: float
    position_matters: bool


def places(pattern: Pattern) -> tuple[Place, ...]:
    """Every place of a pattern, in order from the datum end. [mm]

    A bead has its crown and a cove its root, unless that is the station itself; a taper longer
    than 20 mm its middle; a straight run of 100 mm or more has places no farther apart than
    150 mm, so at least three with its ends.
    """
    found = [_station(pattern, i) for i in range(len(pattern.stations))]
    for i in range(len(pattern.sections)):
        found += _within(pattern, i)
    return tuple(sorted(found, key=lambda p: p.at_mm))


def _station(pattern: Pattern, i: int) -> Place:
    s = pattern.stations[i]
    forms = {section.form for section in pattern.sections[max(i - 1, 0) : i + 1]}
    inside = 0 < i < len(pattern.stations) - 1
    return Place(
        id=s.id,
        role="station",
        at_mm=s.at_mm,
        diameter_mm=s.diameter_mm,
        name=s.name,
        to_name="",
        kind=s.kind,
        tolerance_mm=s.tolerance_mm,
        position_tolerance_mm=s.position_tolerance_mm,
        section=None,
        share=0.0,
        position_matters=inside and "shoulder" in forms and not _thin_side(pattern, i),
    )


def _thin_side(pattern: Pattern, i: int) -> bool:
    """Whether no shoulder jumps at station i: the jump is at the larger station."""
    here = pattern.stations[i].diameter_mm
    jumps = [
        pattern.stations[j].diameter_mm < here
        for j, section in ((i - 1, i - 1), (i + 1, i))
        if pattern.sections[section].form == "shoulder"
    ]
    return not any(jumps)


def _within(pattern: Pattern, i: int) -> list[Place]:
    section = pattern.sections[i]
    start, end = pattern.stations[i], pattern.stations[i + 1]
    length_mm = round(end.at_mm - start.at_mm, 6)  # 100 mm is 100 mm wherever it lies
    if section.form in ("bead", "cove"):
        if section.through_mm in (start.diameter_mm, end.diameter_mm):
            return []
        at_mm = pattern.extreme_at_mm(i)
        assert at_mm is not None
        role: Role = "crown" if section.form == "bead" else "root"
        share = (at_mm - start.at_mm) / (end.at_mm - start.at_mm)
        return [_place(pattern, i, role, f"{role}:{start.id}", share)]
    if section.form == "taper":
        long_enough = length_mm > SHORT_TAPER_MM
        return [_place(pattern, i, "middle", f"middle:{start.id}", 0.5)] if long_enough else []
    if length_mm < LONG_STRAIGHT_MM:
        return []
    gaps = max(2, ceil(length_mm / FARTHEST_APART_MM))
    return [_place(pattern, i, "along", f"along:{start.id}:{k}", k / gaps) for k in range(1, gaps)]


def _place(pattern: Pattern, i: int, role: Role, place_id: str, share: float) -> Place:
    section, start, end = pattern.sections[i], pattern.stations[i], pattern.stations[i + 1]
    at_mm = min(start.at_mm + share * (end.at_mm - start.at_mm), end.at_mm)
    like = _like(pattern, i)
    return Place(
        id=place_id,
        role=role,
        at_mm=at_mm,
        diameter_mm=section.through_mm or float(pattern.diameter_mm_at(at_mm)),
        name=section.name or start.name,
        to_name=end.name,
        kind=like.kind,
        tolerance_mm=like.tolerance_mm,
        position_tolerance_mm=like.position_tolerance_mm,
        section=i,
        share=share,
        position_matters=role in ("crown", "root"),
    )


def _like(pattern: Pattern, i: int) -> Station:
    """The end of section i whose kind and tolerances hold within it.

    A shoulder runs at its thinner end's size, so that end's. Between a tenon and what is none the
    wood is no tenon any more; else the slender end's, and the nearer the datum between equals.
    """
    start, end = pattern.stations[i], pattern.stations[i + 1]
    if pattern.sections[i].form == "shoulder" and start.diameter_mm != end.diameter_mm:
        return min(start, end, key=lambda s: s.diameter_mm)
    order = ("slender", "decorative", "tenon")
    return min(start, end, key=lambda s: order.index(s.kind))
