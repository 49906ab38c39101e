"""What a dried piece holds, by what was last said or weighed of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from benchside.store.fitting import Later
from benchside.wood.drying import NEAR_PERCENT

By = Literal["weight", "said", "told", "noted"]


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


@dataclass(frozen=True, slots=True)
class Evidence:
    """One thing that says how dry a piece is, and when it was said.

    Its weight, the moisture said with a dry size, that told of its wood as it was put on the
    lathe, or a note that it came out dry. ``moisture`` in percent, None where only that it is dry
    is said.
    """

    at: str
    by: By
    dry: bool
    moisture: float | None


def newest(every: Iterable[Evidence]) -> Evidence | None:
    """The newest thing said, whichever kind it is; of one moment the last.

    A note that a piece came out dry goes with the figure before it, where that counts as dry too.
    """
    last: Evidence | None = None
    for one in sorted(every, key=lambda each: each.at):
        known = last.moisture if last is not None and last.dry else None
        last = replace(one, moisture=known) if one.by == "noted" else one
    return last


def as_said(number: int, every: Iterable[Later], dry_mc: float) -> list[Evidence]:
    """What the dry sizes of a piece were said to be read at, beside what counts as dry. [%]"""
    return [
        Evidence(r.taken_at, "said", r.moisture <= dry_mc + NEAR_PERCENT, r.moisture)
        for r in every
        if (r.spindle, r.what, r.struck_at) == (number, "dry", None)
    ]
