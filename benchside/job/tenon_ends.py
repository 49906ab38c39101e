"""The tenons of a pattern, each as one thing that goes into a hole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from benchside.lathe import parts
from benchside.pattern import Pattern, Station


@dataclass(frozen=True, slots=True)
class End:
    """A tenon of the pattern: its outermost station stands for it. [mm]"""

    id: str
    name: str
    diameter_mm: float
    length_mm: float


def tenons(pattern: Pattern) -> tuple[End, ...]:
    """The tenons of a pattern, from the datum end: runs of stations that are all tenon."""
    sections = parts.tenon_sections(pattern)
    runs: list[list[Station]] = []
    for i, station in enumerate(pattern.stations):
        if station.kind != "tenon":
            continue
        if runs and i > 0 and i - 1 in sections and pattern.stations[i - 1] is runs[-1][-1]:
            runs[-1].append(station)
        else:
            runs.append([station])
    return tuple(_end(pattern, run) for run in runs)


def _end(pattern: Pattern, run: Sequence[Station]) -> End:
    first = pattern.stations.index(run[0]) < len(pattern.stations) / 2
    outermost = run[0] if first else run[-1]
    start_mm, end_mm = parts.tenon_span_mm(pattern, outermost.id)
    return End(outermost.id, outermost.name, outermost.diameter_mm, end_mm - start_mm)
