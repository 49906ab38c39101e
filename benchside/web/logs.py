"""Describing a log, and what it gives split one way and the other."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

from fastapi import APIRouter, Request, Response
from starlette.datastructures import FormData

from benchside import units
from benchside.errors import BenchsideError, NotUnderstood
from benchside.job import board_table, forms, logs, stock
from benchside.job.logs import LogView
from benchside.stock.log import WAYS
from benchside.store import sets
from benchside.store.stock import KeptLog
from benchside.units import UNITS, Unit
from benchside.web.asked import shop_of
from benchside.web.labels import saw_unit
from benchside.web.pattern_parts import Posted
from benchside.web.render import now, render, see
from benchside.web.sets import fresh_key
from benchside.web.stock_pictures import ends_drawn
from benchside.web.words import words

router = APIRouter()
page = partial(render, here="shop")

LOG_FIELDS = (
    *("length_mm", "large_mm", "small_mm", "bark_mm", "sapwood_mm", "pith_mm", "end_mm"),
    *("kerf_mm", "over_mm", "blank_length_mm", "blank_side_mm"),
)


@router.get("/stock/logs/new")
def new_log(request: Request, set: int | None = None) -> Response:  # noqa: A002
    name = words()["named"]["log"]
    kept = logs.new_log(shop_of(request), set, name, key=fresh_key(), at=now())
    # The usual figures carry their unit, so that one may go on in another.
    typed = {field: _usual(getattr(kept, field), kept.unit) for field in LOG_FIELDS}
    for name in ("length_mm", "large_mm", "small_mm"):
        typed[name] = ""
    return _log_page(request, kept, typed, None, {})


@router.post("/stock/logs/new")
def add_log(request: Request, form: Posted) -> Response:
    key = str(form.get("key", ""))
    return _keep_log(request, logs.bare_log(key if len(key) == 32 else fresh_key(), now()), form)


@router.get("/stock/logs/{log_id}")
def show_log(request: Request, log_id: int, kept: str = "") -> Response:
    view = logs.log(shop_of(request), log_id)
    return _log_page(request, view.kept, _log_typed(view.kept), view, {}, saved=bool(kept))


@router.post("/stock/logs/{log_id}")
def change_log(request: Request, log_id: int, form: Posted) -> Response:
    return _keep_log(request, logs.log(shop_of(request), log_id).kept, form)


def _keep_log(request: Request, kept: KeptLog, form: FormData) -> Response:
    typed = {name: str(form.get(name, "")) for name in LOG_FIELDS}
    said_unit = str(form.get("unit", ""))
    unit = said_unit if said_unit in UNITS else "mm"
    set_id = str(form.get("set_id", ""))
    way = str(form.get("way", ""))
    problems: dict[str, BenchsideError] = {}
    figures: dict[str, Any] = {}
    for name in LOG_FIELDS:
        try:
            figures[name] = _figure(typed[name], unit, name)
        except BenchsideError as problem:
            problems[name] = problem
    said = replace(
        kept,
        name=forms.plain(str(form.get("name", ""))),
        note=str(form.get("note", "")).strip()[: forms.LONGEST_NOTE],
        unit=unit,
        set_id=forms.numbered(set_id),
        keep_sapwood=form.get("sapwood") != "out",
        way=way if way in WAYS else "sectors",
    )
    if not problems:
        said = replace(said, **figures)
        try:
            return see(f"/stock/logs/{logs.keep_log(shop_of(request), said)}?kept=1")
        except BenchsideError as problem:
            if problem.status == 404:
                raise
            problems[problem.field] = problem
    return _log_page(request, said, typed, None, problems)


def _log_page(
    request: Request,
    kept: KeptLog,
    typed: dict[str, str],
    view: LogView | None,
    problems: dict[str, BenchsideError],
    *,
    saved: bool = False,
) -> Response:
    first = stock.first_of_log(shop_of(request), kept.set_id, kept.id) if view else 1
    return page(
        request,
        "stock/log.html",
        status=422 if problems else 200,
        kept=kept,
        unit=saw_unit(kept.unit),
        saved=saved,
        typed=typed,
        view=view,
        plans=[(plan, ends_drawn(view, plan, first)) for plan in view.plans] if view else [],
        problems=problems,
        sets=sets.listed(shop_of(request)),
    )


def _figure(text: str, unit: Unit, name: str) -> float | None:
    if text.strip():
        return units.parse_length(text, unit, field=name)
    if name in ("length_mm", "large_mm", "small_mm"):
        raise NotUnderstood("This is still empty.", field=name)
    return None if name.startswith("blank") else 0.0


def _usual(mm: float | None, unit: Unit) -> str:
    """One of our own figures with its unit; in inches to the nearest eighth."""
    if mm is None or unit == "mm":
        return "" if mm is None else f"{board_table.shown(mm, unit)} mm"
    eighths = round(mm / float(units.MM_PER_INCH) * 8) / 8 * float(units.MM_PER_INCH)
    return f"{board_table.shown(eighths, unit)} in"


def _log_typed(kept: KeptLog) -> dict[str, str]:
    figures = {name: getattr(kept, name) for name in LOG_FIELDS}
    return {
        name: "" if mm is None else board_table.shown(mm, kept.unit) for name, mm in figures.items()
    }
