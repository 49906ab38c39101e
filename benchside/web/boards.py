"""Describing a board: its knots, its pins, what it gives."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import asdict
from functools import partial
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import JSONResponse
from starlette.datastructures import FormData

from benchside.draw import board as drawing
from benchside.errors import BenchsideError, PatternBroken, Problem
from benchside.job import board_table, boards, forms, stock
from benchside.job.board_table import PIN_FIELDS, ROW_FIELDS, BoardTold, KnotRow, PinRow
from benchside.job.boards import BoardView
from benchside.stock import sawing
from benchside.stock.grain import steep
from benchside.store import sets
from benchside.store.database import Shop
from benchside.store.stock import board
from benchside.web.asked import shop_of
from benchside.web.fractions import plain, set_in
from benchside.web.labels import saw_unit
from benchside.web.pattern_parts import Posted
from benchside.web.render import environment, now, render, see
from benchside.web.sets import fresh_key
from benchside.web.stock_pictures import FACES, face_of, on_screen, ruler_of, sheet, whole
from benchside.web.words import words

router = APIRouter()
page = partial(render, here="shop")

BLANK_ROWS = 3


@router.get("/stock/boards/new")
def new_board(request: Request, set: int | None = None) -> Response:  # noqa: A002
    told = boards.new_board(shop_of(request), set, words()["named"]["board"])
    return _board_page(request, None, told, None)


@router.post("/stock/boards/new")
def add_board(request: Request, form: Posted) -> Response:
    return _keep_board(request, None, form)


@router.post("/stock/boards/draw")
def draw_board(request: Request, form: Posted) -> Response:
    """The drawings, the answer and what is wrong, as JSON for the page that is being drawn on."""
    shop, told = shop_of(request), _told(form)
    board_id = forms.numbered(str(form.get("board_id", "")))
    try:
        view = stock.drafted(shop, boards.drafted(shop, board_id, told))
    except PatternBroken as broken:
        return JSONResponse(
            {"problems": [_told_beside(p.row, p.field, p) for p in broken.problems]}
        )
    first = _first_told(form, view)
    answer = (
        environment().get_template("stock/_answer.html").render(**_answer(shop, view, first, told))
    )
    return JSONResponse(
        {
            **{side: set_in(face_of(view, side, first)) for side in FACES},
            "ruler": set_in(ruler_of(view)),
            "whole": set_in(whole(view, first)),
            "answer": set_in(answer),
            "blanks": [
                {**asdict(placed), "corners": blank.figure} for placed, blank in _outlines(view)
            ],
            "problems": _pin_problem(view),
        }
    )


@router.get("/stock/boards/{board_id}")
def show_board(request: Request, board_id: int, kept: str = "") -> Response:
    shop = shop_of(request)
    seen = stock.on_board(shop, board(shop, board_id))
    told = board_table.as_told(seen[0].kept)
    return _board_page(request, board_id, told, seen, saved=bool(kept))


@router.post("/stock/boards/{board_id}")
def change_board(request: Request, board_id: int, form: Posted) -> Response:
    return _keep_board(request, board_id, form)


@router.get("/stock/boards/{board_id}/sheet")
def board_sheet(request: Request, board_id: int) -> Response:
    shop = shop_of(request)
    view, first = stock.on_board(shop, board(shop, board_id))
    return page(
        request,
        "stock/sheet.html",
        title=view.kept.name,
        back=f"/stock/boards/{board_id}",
        sheets=[sheet(view, first)],
        unit=saw_unit(view.kept.unit),
    )


def _keep_board(request: Request, board_id: int | None, form: FormData) -> Response:
    shop, told = shop_of(request), _told(form)
    if form.get("do") == "more":
        return _board_page(request, board_id, told, None, more=True)
    try:
        kept = boards.keep_board(shop, board_id, told, key=str(form.get("key", "")), at=now())
    except PatternBroken as broken:
        return _board_page(request, board_id, told, None, broken)
    except BenchsideError as problem:
        if problem.status == 404:
            raise
        return _board_page(request, board_id, told, None, problem)
    return see(f"/stock/boards/{kept}?kept=1")


def _board_page(
    request: Request,
    board_id: int | None,
    told: BoardTold,
    seen: tuple[BoardView, int] | None,
    problem: BenchsideError | None = None,
    *,
    more: bool = False,
    saved: bool = False,
) -> Response:
    shop = shop_of(request)
    if seen is None:
        with suppress(PatternBroken):
            seen = stock.on_board(shop, boards.drafted(shop, board_id, told))
    view, first = seen or (None, 1)
    listed = problem.problems if isinstance(problem, PatternBroken) else ()
    return page(
        request,
        "stock/board.html",
        status=problem.status if problem else 200,
        board_id=board_id,
        saved=saved,
        told=told,
        view=view,
        ruler=ruler_of(view) if view else "",
        numbered=f"{told.set_id}:{first}",
        whole=whole(view, first) if view else "",
        faces=[(side, face_of(view, side, first) if view else "") for side in FACES],
        answer=_answer(shop, view, first, told) if view else None,
        rows=(*told.knots, *(KnotRow() for _ in range(BLANK_ROWS * (2 if more else 1)))),
        filled=len(told.knots),
        pins=(*told.pins, PinRow()),
        problem=problem,
        listed=listed,
        problems={(p.row, p.field): p for p in reversed(listed)},
        sets=sets.listed(shop),
        archived=bool(view and view.kept.archived_at),
        key=fresh_key(),
        fields=ROW_FIELDS,
    )


def _first_told(form: FormData, view: BoardView) -> int:
    """The first number as the page was opened with: to reckon it anew takes longer than a finger
    waits."""
    set_id, _, first = str(form.get("numbered", "")).partition(":")
    same = set_id == str(view.kept.set_id or "")
    return int(first) if same and first.isdecimal() and len(first) < 6 else 1


def _told(form: FormData) -> BoardTold:
    def rows(kind: type[Any], prefix: str, names: tuple[str, ...]) -> tuple[Any, ...]:
        columns = [[str(cell) for cell in form.getlist(prefix + name)] for name in names]
        found = (kind(*(cell[:60] for cell in row)) for row in zip(*columns, strict=False))
        return tuple(row for row in found if not row.empty)

    plain = {
        name: str(form.get(name, ""))
        for name in asdict(BoardTold())
        if name not in ("knots", "pins")
    }
    return BoardTold(
        **plain, knots=rows(KnotRow, "knot_", ROW_FIELDS), pins=rows(PinRow, "pin_", PIN_FIELDS)
    )


def _outlines(view: BoardView) -> list[tuple[Any, drawing.NumberedBlank]]:
    placed = view.layout.blanks if view.layout else view.kept.pins
    return [(placed[blank.number - 1], blank) for blank in on_screen(view).blanks]


def _pin_problem(view: BoardView) -> list[dict[str, Any]]:
    if view.problem is None:
        return []
    return [_told_beside(0, view.problem.field, view.problem)]


def _told_beside(row: int, field: str, said: Problem | BenchsideError) -> dict[str, Any]:
    """What is wrong with a field, as the page's script shows it."""
    return {"row": row, "field": field, "message": plain(said.message), "hint": plain(said.hint)}


def _answer(shop: Shop, view: BoardView, first: int, told: BoardTold) -> dict[str, Any]:
    """What the answer to a board is made of."""
    rips = view.layout.rips if view.layout else ()
    kept_set = sets.found(shop, view.kept.set_id) if view.kept.set_id else None
    own = view.wanted[0].need if view.wanted else None
    return {
        "view": view,
        "layout": view.layout,
        "unit": saw_unit(view.kept.unit),
        "rough": told.thickness if board_table.quarters_mm(told.thickness) else "",
        "settings": sawing.settings(rips),
        "first": first,
        "kept_set": kept_set,
        "own": own,
        "by_need": [
            (wanted, sum(p.need == i for p in (view.layout.blanks if view.layout else ())))
            for i, wanted in enumerate(view.wanted)
        ],
        "steep": steep(view.kept.grain_slope),
        "board_id": view.kept.id or None,
    }
