"""Parts of an export: boards, logs, the blank of a set, and where its pieces came from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, replace
from typing import Any, get_args

from benchside.job.exchange.document import Part
from benchside.job.exchange.parts import MOST_MM, maybe, names, new_key, number_of, size
from benchside.stock.blank import ROUTES, Route
from benchside.stock.log import WAYS
from benchside.stock.shapes import FACES, STEEPEST
from benchside.store.exchange import KeptStock
from benchside.store.stock import (
    BoardPin,
    KeptBlank,
    KeptBoard,
    KeptLog,
    KeptNeed,
    Knot,
    KnotKind,
    SetStock,
)
from benchside.units import UNITS

STOCK = ("stock", "needs", "boards", "logs", "blanks")

_BOARD = names(KeptBoard, "id", "set_id")
_LOG = names(KeptLog, "id", "set_id")
_SAWN = ("route", "need")  # younger than the rest of a blank
_BLANK = (*names(KeptBlank, "board_id", "log_id", *_SAWN), "board", "log")


def stock_out(whole: KeptStock) -> dict[str, Any]:
    """The stock of a set; a blank names its board or log by its key."""
    boards = {kept.id: kept.key for kept in whole.boards}
    logs = {kept.id: kept.key for kept in whole.logs}
    return {
        "stock": asdict(whole.choices),
        "needs": [asdict(need) for need in whole.needs],
        "boards": [board_out(kept) for kept in whole.boards],
        "logs": [log_out(kept) for kept in whole.logs],
        "blanks": [_blank_out(blank, boards, logs) for blank in whole.blanks],
    }


def stock_in(
    p: dict[str, Part], numbers: set[int], board_keys: set[str], log_keys: set[str]
) -> KeptStock:
    """The stock of a set that has spindles with these numbers. Places stand for ids, from 1."""
    found = _each(p, "boards", lambda row: board_in(row, board_keys))
    boards = tuple(replace(kept, id=i) for i, kept in enumerate(found, 1))
    found = _each(p, "logs", lambda row: log_in(row, log_keys))
    logs = tuple(replace(kept, id=i) for i, kept in enumerate(found, 1))
    board_ids = {kept.key: kept.id for kept in boards}
    log_ids = {kept.key: kept.id for kept in logs}
    blanks = _each(p, "blanks", lambda row: _blank_in(row, numbers, board_ids, log_ids))
    needs = _each(p, "needs", _need_in)
    if max((blank.need for blank in blanks), default=0) > len(needs):
        raise p["blanks"].wrong("a blank is of a size that the set does not ask for.")
    if len({blank.label for blank in blanks}) < len(blanks):
        raise p["blanks"].wrong("a blank stands here twice.")
    pieces = [blank.spindle for blank in blanks if blank.spindle is not None]
    if len(set(pieces)) < len(pieces):
        raise p["blanks"].wrong("a spindle has two blanks.")
    return KeptStock(
        choices=_choices_in(p["stock"]) if "stock" in p else SetStock(),
        needs=needs,
        boards=boards,
        logs=logs,
        blanks=blanks,
    )


def board_out(kept: KeptBoard) -> dict[str, Any]:
    """A board with its knots and pins."""
    found = _alone(asdict(kept))
    return {**found, "knots": list(found["knots"]), "pins": list(found["pins"])}


def board_in(part: Part, keys: set[str]) -> KeptBoard:
    """A board with its knots and pins; no key may stand twice."""
    p = part.named(*_BOARD)
    return KeptBoard(
        **_alike_in(p, keys),
        width_mm=size(p["width_mm"]),
        thickness_mm=size(p["thickness_mm"]),
        trim_left_mm=_length(p["trim_left_mm"]),
        trim_right_mm=_length(p["trim_right_mm"]),
        near_mm=_length(p["near_mm"]),
        far_mm=_length(p["far_mm"]),
        grain_slope=p["grain_slope"].number(-STEEPEST, STEEPEST),
        resawn=p["resawn"].flag(),
        knots=tuple(_knot_in(row) for row in p["knots"].each()),
        pins=tuple(_pin_in(row) for row in p["pins"].each()),
    )


def log_out(kept: KeptLog) -> dict[str, Any]:
    """A log."""
    return _alone(asdict(kept))


def log_in(part: Part, keys: set[str]) -> KeptLog:
    """A log; no key may stand twice."""
    p = part.named(*_LOG)
    return KeptLog(
        **_alike_in(p, keys),
        large_mm=size(p["large_mm"]),
        small_mm=size(p["small_mm"]),
        bark_mm=_length(p["bark_mm"]),
        sapwood_mm=_length(p["sapwood_mm"]),
        keep_sapwood=p["keep_sapwood"].flag(),
        pith_mm=_length(p["pith_mm"]),
        end_mm=_length(p["end_mm"]),
        over_mm=p["over_mm"].number(0, 999),
        way=p["way"].one_of(WAYS),
    )


def _alone(found: dict[str, Any]) -> dict[str, Any]:
    """Without what only means something in this database."""
    return {name: value for name, value in found.items() if name not in ("id", "set_id")}


def _alike_in(p: dict[str, Part], keys: set[str]) -> dict[str, Any]:
    """What boards and logs both have; no key may stand twice."""
    return {
        "id": 0,
        "key": new_key(p["key"], keys),
        "set_id": None,
        "name": p["name"].text(),
        "note": p["note"].text(empty=True),
        "unit": p["unit"].one_of(UNITS),
        "length_mm": size(p["length_mm"]),
        "kerf_mm": p["kerf_mm"].number(0, 99),
        "blank_length_mm": maybe(p["blank_length_mm"], size),
        "blank_side_mm": maybe(p["blank_side_mm"], size),
        "made_at": p["made_at"].moment(),
        "archived_at": maybe(p["archived_at"], Part.moment),
    }


def _choices_in(part: Part) -> SetStock:
    p = part.named(*names(SetStock))
    return SetStock(
        route=maybe(p["route"], _route_in),
        length_mm=maybe(p["length_mm"], size),
        side_mm=maybe(p["side_mm"], size),
        more_percent=p["more_percent"].number(0, 300),
    )


def _route_in(part: Part) -> Route:
    return part.one_of(ROUTES)


def _need_in(part: Part) -> KeptNeed:
    p = part.named(*names(KeptNeed))
    return KeptNeed(
        name=p["name"].text(),
        length_mm=size(p["length_mm"]),
        side_mm=size(p["side_mm"]),
        wanted=p["wanted"].whole(1, 10_000),
        priority=p["priority"].whole(1, 9),
    )


def _knot_in(part: Part) -> Knot:
    p = part.named(*names(Knot))
    return Knot(
        kind=p["kind"].one_of(get_args(KnotKind)),
        face=p["face"].one_of(FACES),
        at_mm=_place(p["at_mm"]),
        across_mm=_place(p["across_mm"]),
        length_mm=_length(p["length_mm"]),
        width_mm=_length(p["width_mm"]),
        depth_mm=maybe(p["depth_mm"], size),
        tried=p["tried"].flag(),
    )


def _pin_in(part: Part) -> BoardPin:
    p = part.named(*names(BoardPin))
    return BoardPin(_place(p["at_mm"]), _place(p["across_mm"]), p["need"].whole(0, 99))


def _blank_out(blank: KeptBlank, boards: dict[int, str], logs: dict[int, str]) -> dict[str, Any]:
    found = asdict(blank)
    board_id, log_id = found.pop("board_id"), found.pop("log_id")
    return {
        **found,
        "board": None if board_id is None else boards[board_id],
        "log": None if log_id is None else logs[log_id],
    }


def _blank_in(
    part: Part, numbers: set[int], boards: dict[str, int], logs: dict[str, int]
) -> KeptBlank:
    p = part.named(*_BLANK, maybe=_SAWN)
    board, log = maybe(p["board"], Part.key), maybe(p["log"], Part.key)
    if (board is None) == (log is None):
        raise part.wrong("a blank is from one board or from one log.")
    if (board is not None and board not in boards) or (log is not None and log not in logs):
        raise part.wrong("the board or log it is from is not in this set.")
    need = p["need"].whole(0, 99) if "need" in p else 0
    if need and (board is None or not p["spindle"].is_none):
        raise part.wrong("a blank of another size is of a board, and no spindle.")
    return KeptBlank(
        label=p["label"].whole(1, 100_000),
        spindle=maybe(p["spindle"], lambda number: number_of(number, numbers)),
        board_id=None if board is None else boards[board],
        log_id=None if log is None else logs[log],
        at_mm=_place(p["at_mm"]),
        across_mm=_place(p["across_mm"]),
        deep_mm=_place(p["deep_mm"]),
        length_mm=size(p["length_mm"]),
        side_mm=size(p["side_mm"]),
        turned_deg=p["turned_deg"].number(-360, 360),
        ring_deg=maybe(p["ring_deg"], lambda ring: ring.number(0, 180)),
        sawn_at=p["sawn_at"].moment(),
        route=maybe(p["route"], _route_in) if "route" in p else None,
        need=need,
    )


def _each(p: dict[str, Part], name: str, read: Callable[[Part], Any]) -> tuple[Any, ...]:
    return tuple(read(row) for row in (p[name].each() if name in p else ()))


def _length(part: Part) -> float:
    return part.number(0, MOST_MM)


def _place(part: Part) -> float:
    return part.number(-MOST_MM, MOST_MM)
