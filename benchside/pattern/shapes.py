"""A pattern: finished sizes at stations, and the form of each section between two of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

from benchside.errors import OutOfRange, PatternBroken
from benchside.pattern import profile, rules
from benchside.pattern.stations import Section, Station
from benchside.units import length_told

DatumEnd = Literal["tail", "drive"]


@dataclass(frozen=True, slots=True)
class Pattern:
    """A whole spindle as it is wanted in the chair. Section i leads from station i to i + 1.

    A pattern that breaks a rule cannot be made: `PatternBroken` lists every broken rule.
    """

    name: str
    stations: tuple[Station, ...]
    sections: tuple[Section, ...]
    datum_end: DatumEnd = "tail"
    _arcs: tuple[profile.Arc | None, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        problems = rules.broken_by(self.name, self.stations, self.sections)
        if problems:
            raise PatternBroken(problems)
        object.__setattr__(self, "_arcs", profile.arcs(self.stations, self.sections))

    @property
    def length_mm(self) -> float:
        """From the datum end to the last station."""
        return self.stations[-1].at_mm

    @property
    def arcs(self) -> tuple[profile.Arc | None, ...]:
        """The circle of each bead and cove, by section; None for the other sections."""
        return self._arcs

    def diameter_mm_at(self, x_mm: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """Finished diameter at each distance from the datum end. [mm in, mm out, same shape]

        Exact at the stations. Straight and taper are straight lines, a cove and a bead the arc of
        one circle, a shoulder runs at its smaller diameter and jumps at the larger station.

        Raises `OutOfRange` for a place off the spindle or not a number.
        """
        x = np.asarray(x_mm, dtype=float)
        if not np.all((x >= 0) & (x <= self.length_mm)):
            raise OutOfRange(
                "There is no wood there: the spindle runs from 0 to"
                f" {length_told(self.length_mm)}.",
                field="at_mm",
            )
        return profile.diameter_mm_at(self.stations, self.sections, self._arcs, x)

    def ends_mm(self, section: int) -> tuple[float, float]:
        """The diameters a section begins and ends at: a shoulder runs at its smaller one. [mm]"""
        start, end = (s.diameter_mm for s in self.stations[section : section + 2])
        if self.sections[section].form == "shoulder":
            start = end = min(start, end)
        return start, end

    def extreme_at_mm(self, section: int) -> float | None:
        """Where the crown of a bead or the root of a cove lies; None for other sections."""
        arc = self._arcs[section]
        return None if arc is None else self.stations[section].at_mm + arc.centre_mm
