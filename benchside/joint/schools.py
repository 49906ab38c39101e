"""How tight a tenon is made: schools of the trade, each with the moisture of both its parts.

They contradict each other, and no table of interference against strength was found in print; so
this is for the maker to choose. All are common practice, no source; where practice gives no
moisture, ours is a judgement.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

from benchside.errors import NotFound

Mark = Literal["common practice", "judgement"]


@dataclass(frozen=True, slots=True)
class School:
    """One way of fitting: the tenon is ``fit_mm`` larger than its hole when it goes home.

    ``tenon_mc`` and ``part_mc`` are the moistures it counts on, from and to, in percent.
    ``fit_src`` and ``mc_src`` say what the figures rest on. ``squeezed_to_mm``: what the tenon
    is crushed to before it goes in, against the hole; None where it is not.
    """

    id: str
    fit_mm: float
    glued: bool
    tenon_mc: tuple[float, float]
    part_mc: tuple[float, float]
    fit_src: Mark
    mc_src: Mark
    squeezed_to_mm: float | None


@cache
def schools() -> tuple[School, ...]:
    """All of them, from the tightest on drier wood to the loosest."""
    with Path(__file__).with_suffix(".csv").open(encoding="utf-8", newline="") as file:
        return tuple(_school(row) for row in csv.DictReader(file))


def find(school_id: str) -> School:
    """One school. Raises `NotFound`."""
    for school in schools():
        if school.id == school_id:
            return school
    raise NotFound("There is no such way of fitting.", field="school")


def _school(row: dict[str, str]) -> School:
    squeezed = row["squeezed_to_mm"]
    return School(
        id=row["id"],
        fit_mm=float(row["fit_mm"]),
        glued=row["glued"] == "1",
        tenon_mc=(float(row["tenon_mc_low"]), float(row["tenon_mc_high"])),
        part_mc=(float(row["part_mc_low"]), float(row["part_mc_high"])),
        fit_src=_mark(row["fit_src"]),
        mc_src=_mark(row["mc_src"]),
        squeezed_to_mm=float(squeezed) if squeezed else None,
    )


def _mark(text: str) -> Mark:
    return "common practice" if text == "common practice" else "judgement"
