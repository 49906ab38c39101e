"""One line of a stick: its sizes, the calipers that stand at it, and how they are told."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from benchside import units
from benchside.paper.words import Paper
from benchside.units import Unit

SAME_MM = 0.05  # judgement: what is set nearer than this to a size is set to it


@dataclass(frozen=True, slots=True)
class Line:
    """One line square across the stick. Sizes in mm.

    ``dry_mm`` is the finished size, ``now_mm`` the size to turn while the wood is wetter, None
    where that is the same; ``settings`` the caliper's letters and what each is set to, in the
    order of the work. ``minor``: found between stations (a crown, a root). ``fine``: a tenon's.
    """

    at_mm: float
    name: str
    dry_mm: float
    now_mm: float | None = None
    settings: tuple[tuple[str, float], ...] = ()
    minor: bool = False
    fine: bool = False


def main_mm(each: Line) -> float:
    """The size to turn now. [mm]"""
    return each.dry_mm if each.now_mm is None else each.now_mm


def every_mm(each: Line) -> tuple[float, ...]:
    """Everything that is wanted or set at it. [mm]"""
    now = () if each.now_mm is None else (each.now_mm,)
    return (each.dry_mm, *now, *(mm for _, mm in each.settings))


def wanted_mm(each: Line) -> tuple[float, ...]:
    """The size to turn now, and the dry one where that is another. [mm]"""
    return (each.dry_mm,) if each.now_mm is None else (each.now_mm, each.dry_mm)


def ring_count(lines: Iterable[Line]) -> int:
    """The most calipers that stand at one line."""
    return max((len(dict.fromkeys(a for a, _ in each.settings)) for each in lines), default=0)


def length(mm: float, unit: Unit, *, fine: bool = False) -> str:
    """A length as it stands on a stick, without its unit."""
    return units.as_fraction_text(units.format_length(mm, unit, fine=fine))


def more(each: Line, unit: Unit, say: Paper, main: str) -> list[str]:
    """The dry size where another is turned now, and what calipers are set to besides."""
    found = []
    if each.now_mm is not None:
        found.append(say.dry.format(size=length(each.dry_mm, unit, fine=each.fine)))
    by_letter: dict[str, list[str]] = {}
    for letter, mm in each.settings:
        size = length(mm, unit, fine=each.fine)
        if size not in (main, *by_letter.get(letter, ())):
            by_letter.setdefault(letter, []).append(size)
    found += [
        say.caliper_at.format(letter=letter, size=", ".join(sizes))
        for letter, sizes in by_letter.items()
    ]
    return found


def told_between(each: Line, unit: Unit, say: Paper) -> tuple[str, ...]:
    """The size with the caliper that stands at it and the dry one, then with less."""
    size = length(main_mm(each), unit, fine=each.fine)
    letters = dict.fromkeys(a for a, mm in each.settings if abs(mm - main_mm(each)) < SAME_MM)
    named = " ".join((*letters, size))
    if each.now_mm is None:
        return named, size
    dry = say.dry.format(size=length(each.dry_mm, unit, fine=each.fine))
    return f"{named} · {dry}", named, size
