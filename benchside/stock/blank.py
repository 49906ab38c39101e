"""The blank a set needs: how long, how thick, and how many, each part with its reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil, isfinite
from typing import Literal, get_args

from benchside.errors import OutOfRange
from benchside.stock.shapes import Blank
from benchside.units import least_told, length_told, most_told

Route = Literal["dry_close", "dry", "sawn_green", "sawn_rough", "split", "split_rough"]
ROUTES: tuple[Route, ...] = get_args(Route)


@dataclass(frozen=True, slots=True)
class Allowance:
    """What a route adds to the largest diameter: from, to, and what we begin with. [mm]

    ``ends_mm`` is lost at each end to checks while the piece dries.
    """

    least_mm: float
    most_mm: float
    begin_mm: float
    ends_mm: float


# Common practice, no source, and makers disagree: 1/32 in on dry sawn wood for copies, where more
# is called a mistake; 1/8 to 1/4 in in lathe handbooks; 1/8 to 1/4 in on a split spindle's swell;
# about 1/4 in where the piece is roughed green and turned again dry. At green ends 1 1/2 in each.
# For boards sawn green no figure of their own was found: over as sawn wood, the ends as green.
ALLOWANCES: Mapping[Route, Allowance] = {
    "dry_close": Allowance(0.8, 0.8, 0.8, 0.0),
    "dry": Allowance(3.2, 6.4, 3.2, 0.0),
    "sawn_green": Allowance(3.2, 6.4, 3.2, 38.0),
    "sawn_rough": Allowance(4.8, 9.5, 6.4, 38.0),
    "split": Allowance(3.2, 6.4, 4.8, 38.0),
    "split_rough": Allowance(4.8, 9.5, 6.4, 38.0),
}
# The cut stops about 3/8 in short of the spurs [@milton-wohlers-1919, ch. V]; the tail's mark need
# only clear the point of the centre, which is set at 6 mm (judgement).
DRIVE_MM = 9.5
TAIL_MM = 6.0
MORE_PERCENT = (30, 50)  # common practice, no source: how much more wood is bought than the list
SIXTEENTH_MM = 25.4 / 16
MOST_OVER_MM = 60.0  # judgement
WANTING_MM = 0.05  # judgement: less is not told
SAME_MM = 0.21  # judgement: half a 64th of an inch, which is as fine as blanks are told


@dataclass(frozen=True, slots=True)
class Proposal:
    """A blank and the parts it is the sum of, rounded up as a rule in ``inches`` or not. [mm]"""

    length_mm: float
    drive_mm: float
    tail_mm: float
    ends_mm: float
    largest_mm: float
    over_mm: float
    inches: bool = False

    @property
    def blank(self) -> Blank:
        """Length and side, rounded up to a whole millimetre and to half of one, or both to a
        sixteenth of an inch."""
        length = self.length_mm + self.drive_mm + self.tail_mm + 2 * self.ends_mm
        steps = (SIXTEENTH_MM, SIXTEENTH_MM) if self.inches else (1.0, 0.5)
        return Blank(float(_up(length, steps[0])), _up(self.largest_mm + self.over_mm, steps[1]))


def propose(
    length_mm: float,
    largest_mm: float,
    route: Route = "dry",
    *,
    drive_mm: float = DRIVE_MM,
    tail_mm: float = TAIL_MM,
    ends_mm: float | None = None,
    over_mm: float | None = None,
    left_mm: float = 0.0,
    inches: bool = False,
) -> Proposal:
    """The blank for a piece so long, whose largest diameter to turn now is ``largest_mm``.

    What is not given is the route's own. ``left_mm`` of the diameter is left on it for later cuts:
    a route that roughs counts it in what it adds, down to what dry wood needs. Raises `OutOfRange`.
    """
    if route not in ROUTES:
        raise OutOfRange(f"There is no route “{route}”.", field="route")
    own = ALLOWANCES[route]
    found = Proposal(
        length_mm=length_mm,
        drive_mm=drive_mm,
        tail_mm=tail_mm,
        ends_mm=own.ends_mm if ends_mm is None else ends_mm,
        largest_mm=largest_mm,
        over_mm=_over_mm(route, left_mm) if over_mm is None else over_mm,
        inches=inches,
    )
    for field, least, most in (
        ("length_mm", 1.0, 5000.0),
        ("largest_mm", 1.0, 1000.0),
        ("drive_mm", 0.0, 300.0),
        ("tail_mm", 0.0, 300.0),
        ("ends_mm", 0.0, 300.0),
        ("over_mm", 0.0, MOST_OVER_MM),
    ):
        value = getattr(found, field)
        if not (isfinite(value) and least <= value <= most):
            raise OutOfRange(
                f"{length_told(value)} cannot be.",
                field=field,
                hint=f"{least_told(least)} to {most_told(most)} can.",
            )
    return found


@dataclass(frozen=True, slots=True)
class Room:
    """What a blank has over: ``over_mm`` over the largest diameter to turn now, ``beyond_mm`` over
    the pattern and the waste at its two centres. Below 0 it is wanting. [mm]

    ``says`` is what that comes to: too ``thin`` for the size to turn now, too ``short``, over by
    less than is proposed (``close``, and at its ``ends``), or ``roomy``.
    """

    over_mm: float
    beyond_mm: float
    says: Literal["thin", "short", "close", "ends", "roomy"]

    @property
    def wanting(self) -> bool:
        """Whether the piece cannot be turned from it."""
        return self.says in ("thin", "short")


def room(blank: Blank, asked: Proposal) -> Room:
    """What a blank that is there already has over for what is proposed.

    The thickest round that a square blank holds is as thick as its side.
    """
    over = blank.side_mm - asked.largest_mm
    beyond = blank.length_mm - asked.length_mm - asked.drive_mm - asked.tail_mm
    if over < -WANTING_MM:
        return Room(over, beyond, "thin")
    if beyond < -WANTING_MM:
        return Room(over, beyond, "short")
    if over < asked.over_mm - SAME_MM:
        return Room(over, beyond, "close")
    if beyond < 2 * asked.ends_mm - SAME_MM:
        return Room(over, beyond, "ends")
    return Room(over, beyond, "roomy")


def _over_mm(route: Route, left_mm: float) -> float:
    over_mm = ALLOWANCES[route].begin_mm
    if route not in ("sawn_rough", "split_rough"):
        return over_mm
    return max(over_mm - left_mm, ALLOWANCES["dry"].begin_mm)


def wanted(pieces: int, spares: int, more_percent: float) -> int:
    """How many blanks to saw: the pieces and so much more, but at least the planned spares."""
    if not (isfinite(more_percent) and 0 <= more_percent <= 300):
        raise OutOfRange(
            "So much more wood cannot be.", field="more_percent", hint="0 to 300 percent can."
        )
    return max(pieces + spares, ceil(pieces * (1 + more_percent / 100) - 1e-9))


def _up(value: float, step: float) -> float:
    return ceil(value / step - 1e-6) * step
