"""Where a set's pieces came from: their blanks, from which board or log, how their rings lie."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from benchside.errors import NotFound, OutOfRange, Refused
from benchside.store import stock as store
from benchside.store.database import Shop
from benchside.store.stock import KeptBlank


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a piece came from: its blank, and the name of the board or log."""

    blank: KeptBlank
    name: str

    @property
    def called(self) -> str:
        """What its blank is called wherever the piece is shown."""
        return f"{self.blank.label}, {self.name}"


def origins(shop: Shop, set_id: int) -> dict[int, Origin]:
    """Where each piece came from, as far as that is known."""
    blanks = store.blanks(shop, set_id)
    names = names_of(shop, blanks)
    return {b.spindle: Origin(b, names[b.label]) for b in blanks if b.spindle is not None}


def names_of(shop: Shop, blanks: Collection[KeptBlank]) -> dict[int, str]:
    """The names of the boards and logs that blanks are from, by label."""
    boards = {i: store.board(shop, i).name for i in {b.board_id for b in blanks} if i is not None}
    logs = {i: store.log(shop, i).name for i in {b.log_id for b in blanks} if i is not None}
    return {b.label: boards.get(b.board_id or 0) or logs.get(b.log_id or 0, "") for b in blanks}


@dataclass(frozen=True, slots=True)
class Rings:
    """How the rings of a piece lie, by its blank: from the dot on its datum end counter-clockwise
    to the rays. [degrees]"""

    deg: float
    blank: int
    of: str


def rings(shop: Shop, set_id: int) -> dict[int, Rings]:
    """How the rings of each piece lie, where its blank tells: by its place in a log, or as said."""
    return {
        number: Rings(origin.blank.ring_deg, origin.blank.label, origin.name)
        for number, origin in origins(shop, set_id).items()
        if origin.blank.ring_deg is not None
    }


def keep_ring(shop: Shop, set_id: int, number: int, ring_deg: float | None) -> None:
    """Keep the ring angle of a piece's blank. Raises `NotFound`, `OutOfRange`."""
    if ring_deg is not None and not 0 <= ring_deg <= 180:
        raise OutOfRange("A ring angle is 0 to 180 degrees.", field="ring")
    blanks = store.blanks(shop, set_id)
    if number not in {blank.spindle for blank in blanks}:
        raise NotFound(f"No blank is known for piece {number}.")
    with shop.transaction() as db:
        store.keep_blanks(
            db,
            set_id,
            [replace(b, ring_deg=ring_deg) if b.spindle == number else b for b in blanks],
        )


def stays_as_sawn() -> Refused:
    """What is said of a change to a board or log that pieces are numbered from."""
    return Refused(
        "Pieces of a set are numbered from it, so it stays as it was sawn.",
        field="name",
        hint="Let the numbers go on the set's page of stock to plan it anew.",
    )
