"""The final readings of a set laid out: a row for each piece, a column for each thing read."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from benchside import units
from benchside.pattern import Place
from benchside.store.review import Final
from benchside.units import Unit

Kind = Literal["diameter", "position"]
KINDS: tuple[Kind, ...] = ("diameter", "position")
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Key = tuple[Place, Kind]


@dataclass(frozen=True, slots=True)
class Table:
    """Differences from the target, NaN where nothing was read. [mm]

    ``off_mm`` has a row for each of ``numbers`` and a column for each of ``keys``; ``steps_mm`` is
    what each column was read to. ``orders`` holds for each column its rows in the order of turning;
    ``in_turn`` all rows, by the middle of each piece's readings; ``last_at`` the moment of the
    newest reading of each row. ``across`` are the diameters read a quarter turn apart. ``aim_mm``
    is how far off the target each was aimed when it was read, so that it should join the others.
    ``hole_mm`` is how far off the drawn size a tenon's hole wanted it: of a tenon turned to that,
    ``off_mm`` is the difference from there.
    """

    numbers: tuple[int, ...]
    keys: tuple[Key, ...]
    off_mm: Floats
    steps_mm: tuple[float, ...]
    orders: tuple[tuple[int, ...], ...]
    in_turn: tuple[int, ...]
    last_at: tuple[str, ...]
    across: tuple[Across, ...]
    aim_mm: Floats
    hole_mm: Floats

    @property
    def tenons(self) -> Bools:
        """Which columns have a hole to fit, and are judged by their target."""
        return np.array([_has_a_hole(*key) for key in self.keys], dtype=bool)


class Across(NamedTuple):
    """Two diameters of one piece (``row``) at one place (``column``), a quarter turn apart."""

    row: int
    column: int
    a_mm: float
    b_mm: float


def laid_out(
    finals: list[Final], counted: Collection[int], places: Mapping[str, Place], unit: Unit
) -> Table:
    """The pieces ``counted``, at the places there are, read in ``unit``.

    The newest reading on each axis counts; two axes give their mean.
    """
    newest: dict[tuple[str, str], dict[int, dict[str, float]]] = defaultdict(dict)
    taken: dict[int, list[int]] = defaultdict(list)
    last_at: dict[int, str] = {}
    shown: dict[tuple[int, str, str], float | None] = {}
    for moment, (spindle, place_id, kind, axis, value_mm, at, shown_mm) in enumerate(finals):
        if spindle in counted and place_id in places:
            # Taken out and put back, so that the order is that of the newest reading.
            axes = newest[place_id, kind].pop(spindle, {})
            axes[axis] = value_mm
            newest[place_id, kind][spindle] = axes
            shown[spindle, place_id, kind] = shown_mm
            taken[spindle].append(moment)
            last_at[spindle] = at
    keys: list[Key] = [
        (place, kind) for place in places.values() for kind in KINDS if (place.id, kind) in newest
    ]
    numbers = sorted(taken)
    row_of = {number: row for row, number in enumerate(numbers)}
    off_mm = np.full((len(numbers), len(keys)), np.nan)
    aim_mm, hole_mm = np.zeros_like(off_mm), np.zeros_like(off_mm)
    orders, steps_mm, across = [], [], []
    for i, (place, kind) in enumerate(keys):
        read = newest[place.id, kind]
        order = [row_of[spindle] for spindle in read]
        values = [sum(axes.values()) / len(axes) for axes in read.values()]
        off_mm[order, i] = np.array(values) - target_mm(place, kind)
        for spindle in read:
            if (shown_mm := shown.get((spindle, place.id, kind))) is not None:
                aim_mm[row_of[spindle], i] = round(shown_mm - target_mm(place, kind), 3)
        if _has_a_hole(place, kind):
            hole_mm[:, i], aim_mm[:, i] = aim_mm[:, i], 0.0
            off_mm[:, i] -= hole_mm[:, i]
        orders.append(tuple(order))
        steps_mm.append(_read_to_mm([mm for axes in read.values() for mm in axes.values()], unit))
        across += [
            Across(row, i, axes["A"], axes["B"])
            for row, axes in zip(order, read.values(), strict=True)
            if kind == "diameter" and len(axes.keys() & {"A", "B"}) == 2
        ]
    middles = {number: moments[len(moments) // 2] for number, moments in taken.items()}
    return Table(
        numbers=tuple(numbers),
        keys=tuple(keys),
        off_mm=off_mm,
        steps_mm=tuple(steps_mm),
        orders=tuple(orders),
        in_turn=tuple(row_of[number] for number in sorted(numbers, key=middles.__getitem__)),
        last_at=tuple(last_at[number] for number in numbers),
        across=tuple(across),
        aim_mm=aim_mm,
        hole_mm=hole_mm,
    )


def _read_to_mm(values_mm: list[float], unit: Unit) -> float:
    """What readings were rounded to: the unit's own step if all lie on it, else its finer one."""
    coarse_mm = units.step_mm(unit)
    steps = np.array(values_mm) / coarse_mm
    on_it = bool(np.all(np.abs(steps - np.round(steps)) < 1e-6))
    return coarse_mm if on_it else units.step_mm(unit, fine=True)


def _has_a_hole(place: Place, kind: str) -> bool:
    return place.kind == "tenon" and kind == "diameter"


def target_mm(place: Place, kind: str) -> float:
    """What is wanted there: the size of a place, or where it lies. [mm]"""
    return place.diameter_mm if kind == "diameter" else place.at_mm


def without(table: Table, kept: Bools) -> Table:
    """The table with only the columns ``kept``, and in their orders only what is still read."""
    left = np.flatnonzero(kept).tolist()
    place = {column: i for i, column in enumerate(left)}
    return replace(
        table,
        keys=tuple(table.keys[i] for i in left),
        off_mm=table.off_mm[:, left],
        aim_mm=table.aim_mm[:, left],
        hole_mm=table.hole_mm[:, left],
        steps_mm=tuple(table.steps_mm[i] for i in left),
        orders=tuple(
            tuple(row for row in table.orders[i] if not np.isnan(table.off_mm[row, i]))
            for i in left
        ),
        across=tuple(
            a._replace(column=place[a.column])
            for a in table.across
            if a.column in place and not np.isnan(table.off_mm[a.row, a.column])
        ),
    )
