"""Everything on the rack, and what is used up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from benchside.job.boards import BoardView, view_board
from benchside.job.logs import LogView, view_log
from benchside.store import stock as store
from benchside.store.database import Shop
from benchside.store.stock import KeptBoard, KeptLog


@dataclass(frozen=True, slots=True)
class Rack:
    """Everything there is, newest first."""

    boards: tuple[BoardView, ...]
    logs: tuple[LogView, ...]


def rack(shop: Shop, *, archived: bool = False) -> Rack:
    """Every board and log and what each gives; or those that are used up."""
    return Rack(
        tuple(
            view_board(shop, kept, first_only=True)
            for kept in store.boards(shop, archived=archived)
        ),
        tuple(view_log(shop, kept) for kept in store.logs(shop, archived=archived)),
    )


def free_stock(shop: Shop) -> tuple[tuple[KeptBoard, ...], tuple[KeptLog, ...]]:
    """The boards and logs that are put to no set."""
    return (
        tuple(kept for kept in store.boards(shop) if kept.set_id is None),
        tuple(kept for kept in store.logs(shop) if kept.set_id is None),
    )


def put_away(shop: Shop, kind: Literal["board", "log"], row_id: int, at: str | None) -> None:
    """Put a board or log away as used up, or with None take it out again."""
    with shop.transaction() as db:
        if kind == "board":
            store.board(shop, row_id)
        else:
            store.log(shop, row_id)
        store.archive(db, kind, row_id, at)
