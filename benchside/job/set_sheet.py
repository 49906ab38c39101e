"""Everything that is known of a set, for one sheet to file or to hang up."""

from __future__ import annotations

from dataclasses import dataclass

from benchside.job import as_made, choosing, drying, fitting, stock, timing, wood
from benchside.job import piece as pieces
from benchside.job.as_made import Made
from benchside.job.choosing import Choosing
from benchside.job.fitting import Fit
from benchside.job.piece import Sheet
from benchside.job.stock import SetView
from benchside.job.timing import Timing
from benchside.store.database import Shop


@dataclass(frozen=True, slots=True)
class SetSheet:
    """A set with its stock, wood and drying, its sizes and readings, how it came out, the choice
    among it, its fit and its time."""

    sheet: Sheet
    stock: SetView
    wood: wood.View
    drying: drying.View
    fit: Fit
    made: Made
    choice: Choosing
    time: Timing


def set_sheet(shop: Shop, set_id: int, *, now: str) -> SetSheet:
    """All of a set as it stands. Raises `NotFound`."""
    return SetSheet(
        sheet=pieces.sheet(shop, set_id),
        stock=stock.of_set(shop, set_id),
        wood=wood.view(shop, set_id),
        drying=drying.view(shop, set_id, now=now),
        fit=fitting.fitting(shop, set_id, now=now),
        made=as_made.as_made(shop, set_id),
        choice=choosing.choosing(shop, set_id),
        time=timing.timing(shop, set_id),
    )
