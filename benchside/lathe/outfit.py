"""What a lathe takes and is fitted with: the steady, and how the ends are held."""

from __future__ import annotations

from math import inf, isfinite
from typing import Literal, get_args

from benchside.errors import OutOfRange
from benchside.lathe.speed import CORNERS

Steady = Literal["none", "ring", "rollers", "string"]
Grip = Literal["unknown", "spur", "chuck"]
Misfit = Literal["too_long", "too_thick", "too_square"]
STEADIES: tuple[Steady, ...] = get_args(Steady)
GRIPS: tuple[Grip, ...] = get_args(Grip)

# Judgement: no published stiffness of a shop-made steady is known to us. Rollers on a wooden arm
# give a tenth of a millimetre under 20 N, a string drawn tight a whole one.
_N_PER_MM: dict[Steady, float] = {"ring": inf, "rollers": 200.0, "string": 20.0}


def steady_n_per_mm(steady: Steady, measured_n_per_mm: float | None = None) -> float | None:
    """How stiff a steady is: as measured, else by its word; None without one. [N/mm]

    A rigid ring is endlessly stiff (inf); rollers and string have figures of our own (judgement).
    Raises `OutOfRange` for a measured stiffness that is none.
    """
    if steady == "none":
        return None
    if measured_n_per_mm is None:
        return _N_PER_MM[steady]
    if not (isfinite(measured_n_per_mm) and measured_n_per_mm > 0):
        raise OutOfRange(
            f"{measured_n_per_mm:g} is no stiffness.",
            field="steady_n_per_mm",
            hint="The newtons that push the steady back by 1 mm: more than 0.",
        )
    return measured_n_per_mm


def misfits(
    length_mm: float, stock_mm: float, *, swing_mm: float, between_centres_mm: float
) -> tuple[Misfit, ...]:
    """What of a piece does not go on a lathe: its length, or the round it is roughed to. [mm]

    ``too_square``: the round does, but not the square that makes it, across its corners.
    """
    found: list[Misfit] = ["too_long"] if length_mm > between_centres_mm else []
    if stock_mm > swing_mm:
        found.append("too_thick")
    elif CORNERS * stock_mm > swing_mm:
        found.append("too_square")
    return tuple(found)
