"""The stock of a set: the blank it needs, what it is from, which blank becomes which piece."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fastapi import APIRouter, Request, Response
from starlette.datastructures import FormData

from benchside import units
from benchside.errors import BenchsideError, NotUnderstood
from benchside.job import board_table, forms, origin, rack, set_blank, stock
from benchside.job.stock import SetView
from benchside.stock.blank import ALLOWANCES, MORE_PERCENT, ROUTES
from benchside.store import sets
from benchside.store.stock import KeptNeed, SetStock
from benchside.units import Unit
from benchside.web.asked import shop_of
from benchside.web.labels import saw_unit
from benchside.web.pattern_parts import Posted
from benchside.web.render import now, render, see
from benchside.web.stock_pictures import end_drawn, sheet, whole
from benchside.web.words import words

router = APIRouter()

OTHER_FIELDS = ("name", "length", "side", "wanted", "priority")


@router.get("/sets/{set_id}/stock")
def of_set(request: Request, set_id: int, kept: str = "") -> Response:
    return _set_page(request, set_id, None, {}, saved=kept)


@router.post("/sets/{set_id}/stock")
def keep_blank(request: Request, set_id: int, form: Posted) -> Response:
    shop = shop_of(request)
    unit = sets.found(shop, set_id).unit
    problems: dict[str, BenchsideError] = {}
    typed = {name: str(form.get(name, "")) for name in ("length_mm", "side_mm", "more_percent")}
    typed["route"] = str(form.get("route", "dry"))
    figures: dict[str, float | None] = {}
    for name in ("length_mm", "side_mm"):
        try:
            text = typed[name]
            figures[name] = units.parse_length(text, unit, field=name) if text.strip() else None
        except BenchsideError as problem:
            problems[name] = problem
    more = typed["more_percent"].replace(",", ".").removesuffix("%").strip()
    if not more.replace(".", "", 1).isdecimal():
        problems["more_percent"] = NotUnderstood("Type a percentage, 30 say.")
    others = _others(form, unit, problems)
    if not problems:
        try:
            before = set_blank.set_blank(shop, set_id)
            choices = SetStock(
                route=typed["route"],  # type: ignore[arg-type]  # another is refused
                length_mm=figures["length_mm"],
                side_mm=figures["side_mm"],
                more_percent=float(more),
            )
            choices = set_blank.unchanged_as_proposed(before, choices)
            set_blank.keep_set_blank(shop, set_id, choices, others)
            return see(f"/sets/{set_id}/stock?kept=needs#needs")
        except BenchsideError as problem:
            if problem.status == 404:
                raise
            problems[problem.field] = problem
    return _set_page(request, set_id, {**typed, "others": _typed_others(form)}, problems)


@router.post("/sets/{set_id}/stock/number")
def number(request: Request, set_id: int) -> Response:
    return _tried(request, set_id, lambda: stock.number_pieces(shop_of(request), set_id, at=now()))


@router.post("/sets/{set_id}/stock/add")
def add(request: Request, set_id: int) -> Response:
    return _tried(request, set_id, lambda: stock.add_blanks(shop_of(request), set_id, at=now()))


@router.post("/sets/{set_id}/stock/let-go")
def let_go(request: Request, set_id: int) -> Response:
    return _tried(request, set_id, lambda: stock.let_go(shop_of(request), set_id))


@router.post("/sets/{set_id}/stock/spare")
def spare(request: Request, set_id: int) -> Response:
    return _tried(request, set_id, lambda: stock.take_spare(shop_of(request), set_id))


@router.post("/sets/{set_id}/stock/rings")
def rings(request: Request, set_id: int, form: Posted) -> Response:
    def keep() -> None:
        text = str(form.get("ring", "")).replace(",", ".").removesuffix("°").strip()
        try:
            ring = float(text) if text else None
        except ValueError:
            raise NotUnderstood("Type an angle from 0 to 180.", field="ring") from None
        piece = str(form.get("piece", ""))
        if not (piece.isascii() and piece.isdecimal() and len(piece) < 10):
            raise NotUnderstood("Which piece? Choose its number.", field="piece")
        origin.keep_ring(shop_of(request), set_id, int(piece), ring)

    return _tried(request, set_id, keep, "?kept=rings")


@router.get("/sets/{set_id}/stock/sheet")
def set_sheet(request: Request, set_id: int) -> Response:
    view = stock.of_set(shop_of(request), set_id)
    firsts = view.firsts
    found = [sheet(board, firsts["board", board.kept.id]) for board in view.boards]
    return render(
        request,
        "stock/sheet.html",
        here="home",
        title=view.blank.kept.name,
        back=f"/sets/{set_id}/stock",
        sheets=found,
        unit=saw_unit(view.blank.kept.unit),
    )


def _tried(request: Request, set_id: int, verb: Callable[[], object], saved: str = "") -> Response:
    try:
        verb()
    except BenchsideError as problem:
        if problem.status == 404:
            raise
        return _set_page(request, set_id, None, {problem.field or "number": problem})
    return see(f"/sets/{set_id}/stock{saved}#pieces")


def _set_page(
    request: Request,
    set_id: int,
    typed: dict[str, Any] | None,
    problems: dict[str, BenchsideError],
    *,
    saved: str = "",
) -> Response:
    shop = shop_of(request)
    view = stock.of_set(shop, set_id)
    kept = view.blank.kept
    firsts = view.firsts
    boards = [
        (board, whole(board, first), first)
        for board in view.boards
        for first in (firsts["board", board.kept.id],)
    ]
    return render(
        request,
        "stock/set.html",
        status=422 if problems else 200,
        here="home",
        view=view,
        kept=kept,
        saved=saved,
        base=f"/sets/{set_id}",
        unit=saw_unit(kept.unit),
        boards=boards,
        logs=[
            (log, end_drawn(log, first), first)
            for log in view.logs
            for first in (firsts["log", log.kept.id],)
        ],
        free=rack.free_stock(shop),
        sources=origin.names_of(shop, view.blanks),
        routes=[(route, ALLOWANCES[route]) for route in ROUTES],
        more=MORE_PERCENT,
        typed=typed or _set_typed(view),
        problems=problems,
    )


def _set_typed(view: SetView) -> dict[str, Any]:
    unit = view.blank.kept.unit
    return {
        "route": view.blank.route,
        "length_mm": board_table.shown(view.blank.blank.length_mm, unit),
        "side_mm": board_table.shown(view.blank.blank.side_mm, unit),
        "more_percent": f"{view.blank.choices.more_percent:g}",
        "others": [
            {
                "name": n.name,
                "length": board_table.shown(n.length_mm, unit),
                "side": board_table.shown(n.side_mm, unit),
                "wanted": str(n.wanted),
                "priority": str(n.priority),
            }
            for n in view.blank.others
        ],
    }


def _typed_others(form: FormData) -> list[dict[str, str]]:
    columns = ([str(c) for c in form.getlist(f"other_{name}")] for name in OTHER_FIELDS)
    rows = (dict(zip(OTHER_FIELDS, row, strict=True)) for row in zip(*columns, strict=False))
    return [row for row in rows if any(row[name].strip() for name in ("name", "length", "side"))]


def _others(form: FormData, unit: Unit, problems: dict[str, BenchsideError]) -> list[KeptNeed]:
    found = []
    for number, row in enumerate(_typed_others(form), 1):
        try:
            wanted = row["wanted"].strip()
            if not (wanted.isdecimal() and len(wanted) < 6 and 0 < int(wanted) <= 10_000):
                raise NotUnderstood("Say how many, 1 or more.")
            name = forms.plain(row["name"])[: forms.LONGEST_NAME]
            priority = row["priority"] if row["priority"] in "123456789" else "2"
            found.append(
                KeptNeed(
                    name=name or words()["named"]["size"].format(n=number),
                    length_mm=units.parse_length(row["length"], unit),
                    side_mm=units.parse_length(row["side"], unit),
                    wanted=int(wanted),
                    priority=int(priority or "2"),
                )
            )
        except BenchsideError as problem:
            problems[f"other-{number}"] = problem
    return found
