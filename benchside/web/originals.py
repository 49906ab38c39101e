"""Originals: a part to match, its stations, its readings, and how near the new one came."""

from __future__ import annotations

from functools import partial
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request, Response
from starlette.datastructures import FormData

from benchside.draw.whole import whole
from benchside.errors import BenchsideError, NotFound, PatternBroken
from benchside.job import originals as job
from benchside.job.original_table import Row, Told
from benchside.pattern.stations import FORMS, KINDS
from benchside.store import sets
from benchside.store.originals import OriginalReading
from benchside.web.asked import shop_of, shop_unit
from benchside.web.pattern_parts import Posted
from benchside.web.render import now, render, see
from benchside.web.sets import fresh_key

router = APIRouter()
page = partial(render, here="patterns")

Text = Annotated[str, Form()]
PICTURE_PX = 700.0
BLANK_ROWS = 6
CELL = "read "  # begins the name of a field: read PLACE AXIS


@router.get("/originals")
def the_list(request: Request) -> Response:
    return page(request, "originals/list.html", found=job.listed(shop_of(request)))


@router.get("/originals/new")
def new(request: Request, pattern: int | None = None) -> Response:
    told = Told(rows=(Row(at="0"),), unit=shop_unit(request))
    if pattern is not None:
        told = job.told_of_pattern(shop_of(request), pattern, shop_unit(request))
    return _table(request, None, told, None)


@router.post("/originals/new")
def begin(request: Request, form: Posted) -> Response:
    told = _told(form)
    if form.get("do") == "more":
        return _table(request, None, told, None, blank=BLANK_ROWS + 2)
    try:
        original_id = job.begin(shop_of(request), told, at=now())
    except PatternBroken as broken:
        return _table(request, None, told, broken)
    return see(f"/originals/{original_id}")


@router.get("/originals/{original_id}")
def show(
    request: Request,
    original_id: int,
    set_id: Annotated[int, Query(alias="set")] = 0,
    piece: int = 0,
) -> Response:
    return _show(request, original_id, None, (set_id, piece))


@router.get("/originals/{original_id}/edit")
def edit(request: Request, original_id: int) -> Response:
    return _table(request, original_id, job.as_told(shop_of(request), original_id), None)


@router.post("/originals/{original_id}/edit")
def change(request: Request, original_id: int, form: Posted) -> Response:
    told = _told(form)
    if form.get("do") == "more":
        return _table(request, original_id, told, None, blank=BLANK_ROWS + 2)
    try:
        job.change(shop_of(request), original_id, told)
    except PatternBroken as broken:
        return _table(request, original_id, told, broken)
    return see(f"/originals/{original_id}")


@router.get("/originals/{original_id}/pieces/{piece}")
def readings(request: Request, original_id: int, piece: int) -> Response:
    return _readings(request, original_id, piece, {}, None)


@router.post("/originals/{original_id}/pieces/{piece}")
def take(request: Request, original_id: int, piece: int, form: Posted) -> Response:
    cells = _cells(form)
    try:
        job.take(
            shop_of(request),
            original_id,
            piece,
            cells,
            key=str(form.get("key", "")),
            sure=bool(form.get("sure")),
            at=now(),
        )
    except BenchsideError as problem:
        if problem.status == NotFound.status:
            raise
        return _readings(request, original_id, piece, cells, problem)
    return see(f"/originals/{original_id}")


@router.post("/originals/{original_id}/strike")
def strike(
    request: Request, original_id: int, key: Text = "", back: Text = "", piece: int = 0
) -> Response:
    job.strike(shop_of(request), original_id, key, None if back else now())
    return see(f"/originals/{original_id}" + (f"/pieces/{piece}#read" if piece else "#read"))


@router.post("/originals/{original_id}/pattern")
def make_pattern(request: Request, original_id: int) -> Response:
    try:
        pattern_id = job.make_pattern(shop_of(request), original_id, at=now())
    except BenchsideError as problem:
        return _show(request, original_id, problem, (0, 0))
    return see(f"/patterns/{pattern_id}")


def _show(
    request: Request, original_id: int, problem: BenchsideError | None, looked_at: tuple[int, int]
) -> Response:
    shop = shop_of(request)
    seen = job.seen(shop, original_id)
    chosen = next((c for c in seen.came if (c.kept.id, c.number) == looked_at), None)
    return page(
        request,
        "originals/show.html",
        status=problem.status if problem else 200,
        seen=seen,
        kept=seen.kept,
        unit=seen.kept.unit,
        picture=whole(seen.pattern, width=PICTURE_PX) if seen.pattern else "",
        sets=[s for s in sets.listed(shop) if s.pattern_id == seen.kept.pattern_id],
        chosen=chosen or (seen.came[0] if seen.came else None),
        problem=problem,
    )


def _readings(
    request: Request,
    original_id: int,
    piece: int,
    typed: dict[tuple[str, str], str],
    problem: BenchsideError | None,
) -> Response:
    seen = job.seen(shop_of(request), original_id)
    if not 1 <= piece <= seen.kept.pieces:
        raise NotFound(f"{seen.kept.name} has no piece {piece}.")
    there: dict[tuple[str, str], list[OriginalReading]] = {}
    for reading in seen.readings:
        if reading.piece == piece:
            there.setdefault((reading.place_id, reading.axis), []).append(reading)
    return page(
        request,
        "originals/readings.html",
        status=problem.status if problem else 200,
        seen=seen,
        kept=seen.kept,
        unit=seen.kept.unit,
        piece=piece,
        there=there,
        typed=typed,
        problem=problem,
        problems=problem.problems if isinstance(problem, job.CellsWrong) else {},
        key=fresh_key(),
        cell=CELL,
    )


def _table(
    request: Request,
    original_id: int | None,
    told: Told,
    problem: PatternBroken | None,
    *,
    blank: int = BLANK_ROWS,
) -> Response:
    return page(
        request,
        "originals/table.html",
        status=problem.status if problem else 200,
        original_id=original_id,
        told=told,
        rows=(*told.rows, *(Row() for _ in range(blank))),
        listed=problem.problems if problem else (),
        problems={(p.row, p.field): p for p in reversed(problem.problems)} if problem else {},
        kinds=KINDS,
        forms=FORMS,
    )


def _told(form: FormData) -> Told:
    columns = (form.getlist(name) for name in ("id", "at", "name", "kind", "form"))
    rows = (Row(*(str(cell) for cell in row)) for row in zip(*columns, strict=False))
    return Told(
        name=str(form.get("title", "")),
        note=str(form.get("note", "")),
        unit=str(form.get("unit", "mm")),
        datum_end=str(form.get("datum_end", "tail")),
        pieces=str(form.get("pieces", "1")),
        rows=tuple(row for row in rows if row.at.strip() or row.name.strip()),
    )


def _cells(form: FormData) -> dict[tuple[str, str], str]:
    cells = {}
    for name, value in form.multi_items():
        if name.startswith(CELL) and isinstance(value, str):
            place_id, _, axis = name.removeprefix(CELL).partition(" ")
            cells[place_id, axis] = value[:40]
    return cells
