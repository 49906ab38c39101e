"""Everything that is known of a set, for one sheet to file or to hang up."""

from __future__ import annotations

from dataclasses import dataclass

from benchside.job import as_made, choosing, timing
from benchside.job import piece as pieces
from benchside.job.as_made import Made
from benchside.job.choosing import Choosing
from benchside.job.piece import Sheet
from benchside.job.timing import Timing
from benchside.store.database import Shop


@dataclass(frozen=True, slots=True)
class SetSheet:
    """A set with its sizes and readings, how it came out, the choice among it, its time."""

    sheet: Sheet
    made: Made
    choice: Choosing
    time: Timing


def set_sheet(shop: Shop, set_id: int) -> SetSheet:
    """All of a set as it stands. Raises `NotFound`."""
    return SetSheet(
        sheet=pieces.sheet(shop, set_id),
        made=as_made.as_made(shop, set_id),
        choice=choosing.choosing(shop, set_id),
        time=timing.timing(shop, set_id),
    )
