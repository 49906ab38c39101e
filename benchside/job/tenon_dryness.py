"""Whether a piece is dry enough for its tenons to be brought to their last size."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Literal

from benchside.job import drying, wood_of
from benchside.job.dry_tenons import DryTenon
from benchside.store import wood
from benchside.store.database import Shop
from benchside.wood.learning import MOISTURE_SD

# wet: by its last weight it is not dry yet. unweighed: nothing says that it is. damper: dry, but
# not as dry as the way of fitting counts on.
Wait = Literal["", "wet", "unweighed", "damper"]


@dataclass(frozen=True, slots=True)
class Weighed:
    """What the scales say of a piece: ``moisture`` in percent, None where it was never weighed.

    ``told_dry``: it was noted as come out dry, no earlier than it was last weighed.
    """

    moisture: float | None
    dry: bool
    told_dry: bool


def weighed(shop: Shop, set_id: int, numbers: Collection[int]) -> Mapping[int, Weighed]:
    """The pieces of these that were turned wet, with what their last weights say."""
    turned = wood_of.of_pieces(shop, set_id, numbers)
    scales = drying.verdicts(shop, set_id)
    marks = [mark for mark in wood.drying_marks(shop, set_id) if mark.what == "dried"]
    found = {}
    for number, said in turned.items():
        if said is None or said.state == "dry":
            continue
        out = max((m.at for m in marks if m.spindle in (number, None)), default="")
        last = scales.get(number)
        found[number] = Weighed(
            moisture=last.moisture_now if last else None,
            dry=last is not None and last.verdict == "dry",
            told_dry=bool(out) and (last is None or out >= last.weighings[-1].taken_at),
        )
    return found


def wait(
    piece: Weighed | None, read: DryTenon | None, wants_mc: float
) -> tuple[Wait, float | None]:
    """What a tenon has to wait for before its last cut, and the moisture that says so. [%]

    ``wants_mc`` is the most its way of fitting counts on; by less than a moisture is known to,
    nothing is said.
    """
    if piece is None:
        return "", None
    moisture = piece.moisture if piece.moisture is not None else read.moisture if read else None
    if not (piece.dry or piece.told_dry):
        if piece.moisture is not None:
            return "wet", moisture
        if read is None:
            return "unweighed", None
    damper = moisture is not None and moisture > wants_mc + MOISTURE_SD
    return ("damper" if damper else ""), moisture
