"""What a reading means: over, within or under, and what one does about it.

The same few rules are written once more for the phone, which gives its verdict before the
laptop answers; both are held to the same cases.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isfinite
from typing import Literal

from benchside.errors import OutOfRange
from benchside.pattern import Kind
from benchside.units import difference_mm

Reads = Literal["diameter", "position"]
Phase = Literal["sizing", "final"]
Word = Literal["over", "within", "under"]
Action = Literal[
    "cut_on",
    "stop",
    "go_lighter",
    "leave_it",
    "next",
    "try_it",
    "try_final",
    "blend",
    "by_eye",
    "mark_odd",
    "keep_spare",
    "mend_tenon",
    "oval_trim",
    "oval_stop",
    "oval_low",
    "other_again",
    "move_line",
    "measure_again",
]

TRY_OVER_MM = 0.5  # judgement: a tenon is tried in its hole this much over its size
FINISH_CUT_MM = 0.2  # judgement: a last light cut takes a tenth off each side
NEAR = 0.5  # judgement: of the tolerance, from where a right reading is told with how far off it is
BLEND_UP_TO = 2.0  # judgement: up to twice the tolerance under, its neighbours can be brought down
ODD_UP_TO = 4.0  # judgement: up to four times it is an odd one, beyond a spare
SURPRISING_MM = 3.0  # judgement
SURPRISING_SHARE = 0.25  # judgement
MOST_ROUNDS = 3.0  # judgement: no blank is so many times as thick as the round it is roughed to
MOST_LENGTHS = 2.0  # judgement: no place lies so many lengths of the piece from its end
# 17.3 - 16.9 must not come out beyond 0.4; a millionth of a millimetre is no thickness of wood.
NOTHING_MM = 1e-6


@dataclass(frozen=True, slots=True)
class Verdict:
    """One reading beside its target. Sizes in mm.

    ``off_mm`` is value less target. ``side_mm`` is what comes off, or is missing, on the radius;
    for a position all of it. ``left_mm`` is the radius still left to the finished size, never
    below 0; it is 0 for a position. ``action`` is the key of what one does. ``first_mm`` is what
    was read the first way across and ``oval_mm`` what the two differ by, 0 where this is the first.
    ``limit_mm`` is the tolerance it was judged by.
    """

    word: Word
    off_mm: float
    side_mm: float
    left_mm: float
    action: Action
    first_mm: float = 0.0
    oval_mm: float = 0.0
    limit_mm: float = 0.0

    @property
    def near(self) -> bool:
        """Whether it is within, but by more than half of the limit off."""
        return self.word == "within" and abs(self.off_mm) > NEAR * self.limit_mm + NOTHING_MM


def verdict(
    value_mm: float,
    target_mm: float,
    *,
    tolerance_mm: float,
    finish_mm: float | None = None,
    kind: Kind = "decorative",
    reads: Reads = "diameter",
    phase: Phase = "final",
    first_mm: float | None = None,
    tried: bool = True,
    blends: bool = True,
) -> Verdict:
    """What a reading means beside the size to stop at. [mm]

    ``target_mm`` is that size, ``finish_mm`` the finished one while sizing (None: the same).
    ``tolerance_mm`` is a half-width, and its edge is within. Half of what is over comes off each
    side (common practice, no source). A tenon near its size is ``tried`` in its hole, unless it
    has still to dry. A place ``blends`` if its neighbours can be brought down to it, as those of a
    crown or a root cannot. For a position, over is too far from the datum end. ``first_mm`` is what
    a tenon had the first way across, where this is the second: what comes off all round comes off
    that way too.

    Raises `OutOfRange` for what is no size: not a number, endless, negative, a diameter of 0.
    """
    _check_size(value_mm, reads, "value")
    _check_size(target_mm, reads, "target_mm")
    if not (isfinite(tolerance_mm) and tolerance_mm >= 0):
        raise OutOfRange(
            f"{tolerance_mm:g} is no tolerance.", field="tolerance_mm", hint="0 mm or more."
        )
    off_mm = difference_mm(value_mm, target_mm)
    word = _word(off_mm, tolerance_mm)
    if reads == "position":
        action = _for_position(word, abs(off_mm), tolerance_mm, phase)
        return Verdict(word, off_mm, abs(off_mm), 0.0, action, limit_mm=tolerance_mm)
    finish_mm = target_mm if finish_mm is None else finish_mm
    _check_size(finish_mm, reads, "finish_mm")
    over_finish_mm = difference_mm(value_mm, finish_mm)
    action = (
        _while_over(off_mm, phase, tried=tried and kind == "tenon")
        if word == "over"
        else _at_size(target_mm > finish_mm + NOTHING_MM)
        if word == "within"
        else _when_under(over_finish_mm, tolerance_mm, kind, blends=blends)
    )
    side_mm, left_mm = abs(off_mm) / 2, max(0.0, over_finish_mm / 2)
    found = Verdict(word, off_mm, side_mm, left_mm, action, limit_mm=tolerance_mm)
    if first_mm is None:
        return found
    _check_size(first_mm, reads, "first_mm")
    if kind == "tenon":
        limits_mm = (finish_mm - tolerance_mm, target_mm + tolerance_mm)
        action = _second_way(value_mm, first_mm, target_mm, limits_mm) or action
    oval_mm = abs(difference_mm(value_mm, first_mm))
    return replace(found, action=action, first_mm=first_mm, oval_mm=oval_mm)


def surprising(value_mm: float, target_mm: float, *, reads: Reads = "diameter") -> bool:
    """Whether a figure is so far from its target that it is asked about first. [mm]

    More than 3 mm, or for a diameter more than a quarter of the target (judgement).
    Raises `OutOfRange` as `verdict`.
    """
    _check_size(value_mm, reads, "value")
    _check_size(target_mm, reads, "target_mm")
    off_mm = abs(value_mm - target_mm)
    if off_mm > SURPRISING_MM + NOTHING_MM:
        return True
    return reads == "diameter" and off_mm > SURPRISING_SHARE * target_mm + NOTHING_MM


def most_mm(round_mm: float, swing_mm: float | None = None) -> float:
    """The thickest that a piece can have been read which is roughed to a round. [mm]

    What the lathe swings, where that was said and it takes the round at all; three times the round
    otherwise, and never more (judgement).
    """
    thick_mm = MOST_ROUNDS * round_mm
    return thick_mm if swing_mm is None or swing_mm < round_mm else min(thick_mm, swing_mm)


def _word(off_mm: float, tolerance_mm: float) -> Word:
    if off_mm > tolerance_mm + NOTHING_MM:
        return "over"
    return "under" if off_mm < -tolerance_mm - NOTHING_MM else "within"


def _while_over(off_mm: float, phase: Phase, *, tried: bool) -> Action:
    if not tried or off_mm > TRY_OVER_MM + NOTHING_MM:
        return "cut_on"
    return "try_it" if phase == "sizing" else "try_final"


def _at_size(more_to_come: bool) -> Action:
    return "stop" if more_to_come else "next"


def _when_under(over_finish_mm: float, tolerance_mm: float, kind: Kind, *, blends: bool) -> Action:
    """Under the size to stop at; whether it is under the finished size too decides."""
    if over_finish_mm > FINISH_CUT_MM + NOTHING_MM:
        return "go_lighter"
    missing_mm = -over_finish_mm
    if missing_mm <= tolerance_mm + NOTHING_MM:
        return "leave_it"
    if kind == "tenon":
        return "mend_tenon"
    if missing_mm <= BLEND_UP_TO * tolerance_mm + NOTHING_MM:
        return "blend" if blends else "by_eye"
    return "mark_odd" if missing_mm <= ODD_UP_TO * tolerance_mm + NOTHING_MM else "keep_spare"


def _second_way(
    value_mm: float, first_mm: float, target_mm: float, limits_mm: tuple[float, float]
) -> Action | None:
    """What two ways across mean that one alone does not; None: do as the second alone says.

    With both over, cutting on makes it round (common practice, no source); with one right, only
    the high sides may come off. A tenon that is narrow one way still holds by the wide one, set
    along the grain of the mortised part (common practice, no source).
    """
    small_mm, large_mm = sorted((value_mm, first_mm))
    least_mm, most_mm = limits_mm[0] - NOTHING_MM, limits_mm[1] + NOTHING_MM
    if small_mm < least_mm:
        if large_mm > most_mm:
            return "oval_stop"
        if large_mm < least_mm:
            return None
        if (small_mm + large_mm) / 2 >= least_mm:
            return "oval_low"
        return "other_again" if value_mm == large_mm else None
    if large_mm <= most_mm or small_mm > most_mm:
        return None
    if value_mm == small_mm:
        return "other_again"
    return "oval_trim" if small_mm - (large_mm - target_mm) < least_mm else None


def _for_position(word: Word, off_mm: float, tolerance_mm: float, phase: Phase) -> Action:
    if word == "within":
        return "next"
    if off_mm > max(SURPRISING_MM, ODD_UP_TO * tolerance_mm) + NOTHING_MM:
        return "measure_again"
    if phase == "sizing":
        return "move_line"
    return "mark_odd" if off_mm <= BLEND_UP_TO * tolerance_mm + NOTHING_MM else "keep_spare"


def _check_size(mm: float, reads: Reads, field: str) -> None:
    if isfinite(mm) and (mm > 0 or (mm == 0 and reads == "position")):
        return
    if reads == "position":
        raise OutOfRange(
            f"{mm:g} is no distance.",
            field=field,
            hint="Measure from the datum end: 0 or more.",
        )
    raise OutOfRange(
        f"{mm:g} is no thickness.", field=field, hint="What the caliper says: more than 0."
    )
