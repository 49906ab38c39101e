"""What a dried piece holds, by what was last said or weighed of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from benchside.store.fitting import Later


@dataclass(frozen=True, slots=True)
class Holds:
    """The moisture a piece is at, in percent, and what says so.

    It was said with its newest sizes, or is by a later weight, or is what counts as dry.
    """

    mc: float
    by: Literal["said", "weight", "set"]


def holds_of(
    number: int,
    every: Sequence[Later],
    weighed: Mapping[int, tuple[str, float]],
    dry_mc: float,
    said_mc: Mapping[int, float],
) -> Holds:
    """What a piece holds: as it is being said, else by its newest sizes or its last weight."""
    if number in said_mc:
        return Holds(said_mc[number], "said")
    read = [r for r in every if (r.spindle, r.what, r.struck_at) == (number, "dry", None)]
    last = max(read, key=lambda r: r.taken_at, default=None)
    at, weighs_mc = weighed.get(number, ("", dry_mc))
    if last is not None and last.taken_at >= at:
        return Holds(last.moisture, "said")
    return Holds(weighs_mc, "weight" if at else "set")
