"""Whether a piece is dry enough for its tenons to be brought to their last size."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Literal

from benchside.job import sets, wood_of
from benchside.job.holds import Evidence, as_said, newest
from benchside.job.scales import verdicts
from benchside.job.sets import Standing
from benchside.store import fitting
from benchside.store import wood as kept_wood
from benchside.store.database import Shop
from benchside.wood.learning import MOISTURE_SD

# turn: it is still to be turned. wet: by the newest that says it is not dry yet. unweighed: nothing
# says that it is. damper: dry, but not as dry as the way of fitting counts on.
Wait = Literal["", "turn", "wet", "unweighed", "damper"]


def of_pieces(shop: Shop, set_id: int, numbers: Collection[int]) -> Mapping[int, Evidence | None]:
    """The newest that says how dry each piece is; None where it was turned wet and nothing does.

    Pieces whose wood nobody told are left out.
    """
    told = wood_of.of_pieces(shop, set_id, numbers)
    said = evidence(shop, set_id)
    return {n: said.get(n) for n, holds in told.items() if holds is not None}


def wait(piece: Evidence | None, wants_mc: float) -> Wait:
    """What a tenon has to wait for before its last cut.

    ``wants_mc`` is the most its way of fitting counts on, in percent; by less than a moisture is
    known to, nothing is said.
    """
    if piece is None:
        return "unweighed"
    if not piece.dry:
        return "wet"
    damper = piece.moisture is not None and piece.moisture > wants_mc + MOISTURE_SD
    return "damper" if damper else ""


def evidence(shop: Shop, set_id: int) -> dict[int, Evidence]:
    """The newest that says how dry each piece is, of those of which anything does."""
    said = wood_of.said(shop, set_id)
    if said is None:
        return {}
    standing = sets.standing(shop, set_id)
    numbers = [p.number for p in standing.pieces]
    holds = wood_of.of_pieces(shop, set_id, numbers)
    weighs = verdicts(shop, set_id)
    read = fitting.later(shop, set_id)
    marks = [m for m in kept_wood.drying_marks(shop, set_id) if m.what == "dried"]
    came_off = turned(standing)
    begun_at = {p.number: p.begun_at or "" for p in standing.pieces}
    found = {}
    for n in numbers:
        every = as_said(n, read, said.wood.dry_mc)
        every += [
            Evidence(m.at, "noted", dry=True, moisture=None)
            for m in marks
            if m.spindle == n or (m.spindle is None and n in came_off and begun_at[n] <= m.at)
        ]
        if (last := weighs.get(n)) is not None and last.moisture_now is not None:
            at, dry = last.weighings[-1].taken_at, last.verdict == "dry"
            every.append(Evidence(at, "weight", dry, last.moisture_now))
        if (by := holds[n]) is not None and by.state == "dry":
            every.append(Evidence(by.wood.given_at, "told", dry=True, moisture=by.wood.moisture))
        if (one := newest(every)) is not None:
            found[n] = one
    return found


def turned(standing: Standing) -> set[int]:
    """The pieces that can have come out dry."""
    return {p.number for p in standing.pieces if not p.to_turn and p.lot != "spoiled"}
