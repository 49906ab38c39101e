"""What a pattern asks of the lathe: its tenons, its high places, its thinnest place."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from benchside.pattern import Pattern, Place, places

TIE_MM = 1e-9  # sizes nearer than this are one size
STIFF_TO = 11.0  # lengths over thickness: trouble starts beyond (common practice, no source)
NOTE_TO = 20.0  # judgement
HAND_TO = 40.0  # judgement

ROUGH_OVER_MM = 3.175  # 1/8 in over the largest diameter: common practice, no source

Band = Literal["stiff", "note", "hand", "steady"]


@dataclass(frozen=True, slots=True)
class Slenderness:
    """How slender a spindle is: ``ratio`` is its length over its least working diameter."""

    ratio: float
    length_mm: float
    least_mm: float
    band: Band


@lru_cache(maxsize=64)
def stock_mm(pattern: Pattern) -> float:
    """The round a spindle is roughed to: 1/8 in over its thickest place. [mm]"""
    return max(place.diameter_mm for place in places(pattern)) + ROUGH_OVER_MM


def tenon_sections(pattern: Pattern) -> frozenset[int]:
    """The sections that are part of a tenon.

    A straight, taper or shoulder from one tenon station to the next, and the shoulder that runs
    at a tenon's own size up to the station where the thicker work begins.
    """
    return frozenset(i for i in range(len(pattern.sections)) if _in_tenon(pattern, i))


def tenon_about(pattern: Pattern, station_id: str | None) -> range:
    """The sections of the tenon that a station belongs to; none where it belongs to none."""
    tenon = tenon_sections(pattern)
    start = end = next(i for i, s in enumerate(pattern.stations) if s.id == station_id)
    while start - 1 in tenon:
        start -= 1
    while end in tenon:
        end += 1
    return range(start, end)


def tenon_span_mm(pattern: Pattern, station_id: str) -> tuple[float, float]:
    """From where to where the tenon runs that a station belongs to. [mm]"""
    along = tenon_about(pattern, station_id)
    return pattern.stations[along.start].at_mm, pattern.stations[along.stop].at_mm


def is_tenon(pattern: Pattern, place: Place) -> bool:
    """Whether a place is a tenon's: one of its stations, or a place in one of its sections."""
    if place.section is None:
        return place.kind == "tenon"
    return _in_tenon(pattern, place.section)


def high_places(pattern: Pattern) -> tuple[Place, ...]:
    """The stations and crowns that no neighbour on the spindle stands over, from the datum end.

    A length that stands high counts with all its stations. Tenons are never among them and never
    hide a neighbour, so a pattern with any other station has at least one.
    """
    line = [p for p in places(pattern) if p.role in ("station", "crown", "root")]
    heights = [float("-inf") if is_tenon(pattern, p) else p.diameter_mm for p in line]
    return tuple(
        place
        for i, place in enumerate(line)
        if place.role != "root"
        and not is_tenon(pattern, place)
        and _lower(heights[i], heights[i + 1 :])
        and _lower(heights[i], heights[:i][::-1])
    )


def thin_sections(pattern: Pattern) -> frozenset[int]:
    """The sections that meet the thinnest place, tenons aside; none when all is equally thick."""
    worked = [p for p in places(pattern) if not is_tenon(pattern, p)]
    if not worked:
        return frozenset()
    least, most = (pick(p.diameter_mm for p in worked) for pick in (min, max))
    if most - least <= TIE_MM:
        return frozenset()
    met: set[int] = set()
    for place in worked:
        if place.diameter_mm - least <= TIE_MM:
            met |= _meeting(pattern, place)
    return frozenset(met) - tenon_sections(pattern)


def slenderness(pattern: Pattern) -> Slenderness:
    """Length over the thinnest place, tenons aside, and the band of advice. [mm]

    Beyond 11 trouble starts (common practice, no source); to 20 it is only noted, to 40 a hand
    behind or a steady, beyond it a steady, or shave it (bands: judgement). A warning, not a limit.
    """
    found = places(pattern)
    worked = [p for p in found if not is_tenon(pattern, p)] or list(found)
    least_mm = min(p.diameter_mm for p in worked)
    ratio = pattern.length_mm / least_mm
    return Slenderness(ratio, pattern.length_mm, least_mm, _band(ratio))


def _band(ratio: float) -> Band:
    if ratio <= STIFF_TO:
        return "stiff"
    if ratio < NOTE_TO:
        return "note"
    return "hand" if ratio <= HAND_TO else "steady"


def _in_tenon(pattern: Pattern, i: int) -> bool:
    form = pattern.sections[i].form
    start, end = pattern.stations[i], pattern.stations[i + 1]
    tenons = [s for s in (start, end) if s.kind == "tenon"]
    if len(tenons) == 2:
        return form in ("straight", "taper", "shoulder")
    lesser_mm = min(start.diameter_mm, end.diameter_mm)
    return form == "shoulder" and any(s.diameter_mm == lesser_mm for s in tenons)


def _lower(height: float, beyond: list[float]) -> bool:
    """Whether the first height that differs, going outward, is a lower one."""
    differs = (h for h in beyond if abs(h - height) > TIE_MM)
    return next(differs, float("-inf")) < height


def _meeting(pattern: Pattern, place: Place) -> set[int]:
    if place.section is not None:
        return {place.section}
    i = next(i for i, s in enumerate(pattern.stations) if s.id == place.id)
    return {j for j in (i - 1, i) if 0 <= j < len(pattern.sections)}
