"""Boards, their faults, blanks, and where blanks lie; what cannot be is refused here.

A board's origin is its left end at the near edge, seen on face one. Face two is stored as seen
through face one.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan, cos, floor, isfinite, sin
from typing import Literal

from benchside.errors import OutOfRange
from benchside.units import length_told

Face = Literal["one", "two", "both"]
FACES: tuple[Face, ...] = ("one", "two", "both")

EPS_MM = 1e-6  # two places nearer than this are one
MOST_MM = 30_000.0  # judgement: a guard, longer than any board that comes through a shop door
MOST_DEFECTS = 2000  # judgement: beyond it there is no board left
MOST_KERF_MM = 15.0  # judgement: no saw in a small shop takes more
STEEPEST = 0.5  # judgement: grain that leaves faster than 1 in 2 is short grain, no blank at all


@dataclass(frozen=True, slots=True)
class Defect:
    """A knot, check or shake: its corner nearest the origin and its extent. [mm]

    It spoils the wood through the whole board unless ``depth_mm`` says how deep it goes from
    its ``face`` (from both faces, where it is on both).
    """

    at_mm: float
    across_mm: float
    length_mm: float
    width_mm: float
    face: Face = "both"
    depth_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Board:
    """A board and what of it is left out. [mm]

    ``grain_slope`` is how far the grain runs off towards the far edge for each millimetre along
    (0.1 is 1 in 10; below 0 it runs towards the near edge). ``trim_left_mm`` and
    ``trim_right_mm`` are lost at the ends, ``near_mm`` and ``far_mm`` at the edges: sapwood, wane.
    ``resawn``: a thick board may give blanks one over the other.
    """

    length_mm: float
    width_mm: float
    thickness_mm: float
    defects: tuple[Defect, ...] = ()
    grain_slope: float = 0.0
    trim_left_mm: float = 0.0
    trim_right_mm: float = 0.0
    near_mm: float = 0.0
    far_mm: float = 0.0
    resawn: bool = True


@dataclass(frozen=True, slots=True)
class Blank:
    """A square blank as it is sawn or split. [mm]"""

    length_mm: float
    side_mm: float


@dataclass(frozen=True, slots=True)
class Pin:
    """A blank that stays where the maker wants it: its corner, and which of the needs it is."""

    at_mm: float
    across_mm: float
    need: int = 0


@dataclass(frozen=True, slots=True)
class Placed:
    """One blank in a board: its corner nearest the origin, its size, how deep from face one. [mm]

    ``strip`` counts the strips of the board from the near edge, ``need`` the sizes asked for,
    both from 0.
    """

    at_mm: float
    across_mm: float
    length_mm: float
    side_mm: float
    depth_mm: float
    strip: int
    need: int = 0
    pinned: bool = False


@dataclass(frozen=True, slots=True)
class Strip:
    """One strip as ripped: where it lies across the grain, how wide, where the board holds it.

    ``off_mm`` and the two ends are measured across and along the grain from the origin, so on a
    straight-grained board they are the board's own.
    """

    off_mm: float
    width_mm: float
    from_mm: float
    to_mm: float


def on_board(along_mm: float, off_mm: float, slope: float) -> tuple[float, float]:
    """A point given along and across the grain, in the board's own measures. [mm]"""
    angle = atan(slope)
    return (
        along_mm * cos(angle) - off_mm * sin(angle),
        along_mm * sin(angle) + off_mm * cos(angle),
    )


def along_grain(at_mm: float, across_mm: float, slope: float) -> tuple[float, float]:
    """A point of the board, given along and across the grain instead. [mm]"""
    return on_board(at_mm, across_mm, -slope)


def corners(
    at_mm: float, across_mm: float, length_mm: float, width_mm: float, slope: float
) -> tuple[tuple[float, float], ...]:
    """The four corners of a rectangle that lies along the grain, from its corner at the origin's
    side round by the near edge, in the board's own measures. [mm]"""
    ends = (0.0, 0.0), (length_mm, 0.0), (length_mm, width_mm), (0.0, width_mm)
    turned = (on_board(u, v, slope) for u, v in ends)
    return tuple((at_mm + x, across_mm + y) for x, y in turned)


def layers(board: Board, sound_mm: float, side_mm: float, kerf_mm: float) -> int:
    """How many blanks lie one over the other where so much of the thickness is sound."""
    fit = max(0, floor((sound_mm + kerf_mm + EPS_MM) / (side_mm + kerf_mm)))
    return fit if board.resawn else min(fit, 1)


def depths(defect: Defect, thickness_mm: float) -> tuple[float, float]:
    """How much a fault takes of the thickness from face one, and from face two. [mm]"""
    if defect.depth_mm is None or defect.depth_mm >= thickness_mm:
        return thickness_mm, 0.0
    one = defect.depth_mm if defect.face in ("one", "both") else 0.0
    two = defect.depth_mm if defect.face in ("two", "both") else 0.0
    return one, two


def check(board: Board, kerf_mm: float, resolution_mm: float) -> None:
    """Raise `OutOfRange` for a board, a kerf or a resolution that cannot be."""
    for field in ("length_mm", "width_mm", "thickness_mm"):
        _within(getattr(board, field), 0, MOST_MM, field, above=True)
    for field in ("trim_left_mm", "trim_right_mm", "near_mm", "far_mm"):
        _within(getattr(board, field), 0, MOST_MM, field)
    _within(kerf_mm, 0, MOST_KERF_MM, "kerf_mm")
    _within(resolution_mm, 0, MOST_MM, "resolution_mm", above=True)
    _within(board.grain_slope, -STEEPEST, STEEPEST, "grain_slope")
    if board.trim_left_mm + board.trim_right_mm >= board.length_mm:
        raise OutOfRange("The two ends cut off leave nothing of the board.", field="trim_left_mm")
    if board.near_mm + board.far_mm >= board.width_mm:
        raise OutOfRange("The two edges left out leave nothing of the board.", field="near_mm")
    if len(board.defects) > MOST_DEFECTS:
        raise OutOfRange(
            f"{len(board.defects):,} knots are more than can be looked at.",
            field="defects",
            hint=f"Join those that lie together; {MOST_DEFECTS:,} is the most.",
        )
    for row, defect in enumerate(board.defects, 1):
        check_defect(defect, board, row)


def check_defect(defect: Defect, board: Board, row: int) -> None:
    """Raise `OutOfRange` for a fault that cannot be, or lies off the board."""
    for field in ("at_mm", "across_mm"):
        _within(getattr(defect, field), -MOST_MM, MOST_MM, field, row=row)
    for field in ("length_mm", "width_mm"):
        _within(getattr(defect, field), 0, MOST_MM, field, row=row)
    if defect.depth_mm is not None:
        _within(defect.depth_mm, 0, MOST_MM, "depth_mm", above=True, row=row)
    if defect.face not in FACES:
        raise OutOfRange(f"Knot {row}: there is no face “{defect.face}”.", field="face")
    beyond = defect.at_mm > board.length_mm or defect.at_mm + defect.length_mm < 0
    beside = defect.across_mm > board.width_mm or defect.across_mm + defect.width_mm < 0
    if beyond or beside:
        raise OutOfRange(
            f"Knot {row} lies off the board, which is {length_told(board.length_mm)} by"
            f" {length_told(board.width_mm)}.",
            field="at_mm" if beyond else "across_mm",
            hint="Measure it from the left end and the near edge, seen on face one.",
        )


def check_blank(blank: Blank, board: Board) -> None:
    """Raise `OutOfRange` for a blank that cannot be, or that no place of the board could hold."""
    for field in ("length_mm", "side_mm"):
        _within(getattr(blank, field), 0, MOST_MM, field, above=True)
    if blank.side_mm > board.thickness_mm + EPS_MM:
        raise OutOfRange(
            f"The board is {length_told(board.thickness_mm)} thick and the blank"
            f" {length_told(blank.side_mm)}.",
            field="thickness_mm",
            hint="Take a thicker board, or a smaller blank if its size allows.",
        )


def doubts(board: Board, kerf_mm: float) -> tuple[str, ...]:
    """What is so unlike a board that it should be asked about, as keys; judgement throughout.

    ``small``: as if inches had been read as millimetres; ``large``: the other way about;
    ``turned``: wider than long; ``thick``: thicker than wide; ``no_kerf``, ``wide_kerf``.
    """
    found = []
    if board.length_mm < 250 or board.width_mm < 25 or board.thickness_mm < 6:
        found.append("small")
    if board.length_mm > 6500 or board.width_mm > 1200 or board.thickness_mm > 160:
        found.append("large")
    if board.width_mm > board.length_mm:
        found.append("turned")
    if board.thickness_mm > board.width_mm:
        found.append("thick")
    if kerf_mm == 0:
        found.append("no_kerf")
    if kerf_mm > 7:
        found.append("wide_kerf")
    return tuple(found)


def _within(
    value: float, least: float, most: float, field: str, *, above: bool = False, row: int = 0
) -> None:
    where = f"Knot {row}: " if row else ""
    what, told = plainly(field), length_told if field.endswith("_mm") else "{:g}".format
    if not isfinite(value):
        raise OutOfRange(f"{where}{what}: that is no number.", field=field)
    if not least <= value <= most or (above and value == least):
        raise OutOfRange(
            f"{where}{what}: {told(value)} cannot be.",
            field=field,
            hint=f"It can be {'more than ' if above else ''}{least:g} to {told(most)}.",
        )


def plainly(field: str) -> str:
    """A field's name in words.

    >>> plainly("kerf_mm"), plainly("small_mm"), plainly("grain_slope")
    ('Saw cut', 'Small', 'Grain slope')
    """
    name = field.removesuffix("_mm")
    return {"kerf": "Saw cut"}.get(name, name.replace("_", " ").capitalize())
