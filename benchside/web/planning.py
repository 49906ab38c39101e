"""The plan of a set: cut by cut, drawn with its give, and what it rests on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from benchside import units
from benchside.draw import spindle as drawing
from benchside.draw.give import Give, GiveLabels, give_chart
from benchside.errors import BenchsideError, NotUnderstood
from benchside.job import planning
from benchside.job.planning import CutView, PlanView
from benchside.lathe import course, in_use
from benchside.store.database import Shop
from benchside.units import Unit
from benchside.web import at_hand, labels
from benchside.web.asked import shop_of
from benchside.web.render import render, see
from benchside.web.words import words

router = APIRouter()

Text = Annotated[str, Form()]
WIDTH_PX, DRAWN_PX, CHART_PX = 440.0, 128.0, 120.0
SHARES = (0.5, 1.0, 2.0)  # of the force: what half of it and twice of it would give


@dataclass(frozen=True, slots=True)
class Asked:
    """What the page is asked to show, as typed."""

    cut: str = ""
    steady: str = ""
    load: str = ""
    grain: str = ""


@router.get("/sets/{set_id}/plan")
def plan(
    request: Request, set_id: int, cut: str = "", steady: str = "", load: str = "", grain: str = ""
) -> Response:
    """The plan, one cut of it drawn."""
    return _page(request, set_id, Asked(cut[:200], steady[:40], load[:40], grain[:40]), {})


@router.post("/sets/{set_id}/plan/force")
def keep_force(request: Request, set_id: int, force: Text = "", limit: Text = "") -> Response:
    """The force of the maker's own cut, and the give at which they see ribbing."""
    typed, problems = {"force": force[:40], "limit": limit[:40]}, {}
    said: dict[str, float | None] = {}
    unit = planning.view(shop_of(request), set_id).kept.unit
    for field, text in typed.items():
        try:
            said[field] = _give(text, unit) if field == "limit" else _figure(text, field)
        except BenchsideError as problem:
            problems[field] = problem
    if not problems:
        try:
            planning.keep_force(shop_of(request), said["force"], said["limit"])
        except BenchsideError as problem:
            field = {"cut_force_n": "force", "give_limit_mm": "limit"}.get(problem.field, "force")
            problems[field] = problem
    if problems:
        return _page(request, set_id, Asked(), problems, typed)
    return see(f"/sets/{set_id}/plan?kept=1#rests")


@router.post("/sets/{set_id}/plan/dip")
def calibrate(
    request: Request, set_id: int, cut: Text = "", at: Text = "", dip: Text = ""
) -> Response:
    """The force, from how far the work dipped under the tool."""
    typed = {"cut": cut[:200], "at": at[:40], "dip": dip[:40]}
    shop = shop_of(request)
    problems: dict[str, BenchsideError] = {}
    said: dict[str, float] = {}
    unit = planning.view(shop, set_id).kept.unit
    for field in ("at", "dip"):
        try:
            said[field] = units.parse_length(typed[field], unit, field=field)
        except BenchsideError as problem:
            problems[field] = problem
    if not problems:
        try:
            planning.calibrate(shop, set_id, cut, said["at"], said["dip"])
        except BenchsideError as problem:
            problems["dip" if problem.field in ("dip_mm", "cut") else "at"] = problem
    if problems:
        return _page(request, set_id, Asked(cut=typed["cut"]), problems, typed)
    return see(f"/sets/{set_id}/plan?kept=1#rests")


def _page(
    request: Request,
    set_id: int,
    asked: Asked,
    problems: dict[str, BenchsideError],
    typed: dict[str, str] | None = None,
) -> Response:
    shop = shop_of(request)
    unit = planning.view(shop, set_id).kept.unit
    steady_mm, load_n, grain = (
        _asked(field, getattr(asked, field), unit, problems)
        for field in ("steady", "load", "grain")
    )
    seen = _seen(shop, set_id, asked.cut, (steady_mm, load_n, grain), problems)
    shown = seen.cuts[seen.shown]
    view = drawing.view(
        seen.work.pattern,
        width_px=WIDTH_PX,
        height_px=DRAWN_PX,
        headstock=seen.kept.choices.headstock,
        stock_mm=seen.work.stock_mm,
    )
    return render(
        request,
        "sets/plan.html",
        status=422 if problems else 200,
        here="home",
        plan=seen,
        kept=seen.kept,
        unit=unit,
        shown=shown,
        unfit=(
            *at_hand.unfit(seen.unfit, seen.work, seen.lathe, unit),
            *at_hand.weak_neck(seen.weak_neck),
        ),
        named=[_named(seen, c) for c in seen.cuts],
        symbols=drawing.symbols(seen.work.pattern, view),
        picture=_picture(seen, view),
        chart=_chart(seen, view),
        doubled=view.thickness == 2,
        force_kept="kept" in request.query_params,
        asked=asked,
        typed=typed or {},
        problems=problems,
        shares=SHARES,
        defaults=(course.FORCE_N, course.LIMIT_MM),
        working_share=in_use.WORKING_SHARE,
    )


def _asked(field: str, text: str, unit: Unit, problems: dict[str, BenchsideError]) -> float | None:
    """What was typed into a field, or None; what says nothing plain is told beside it."""
    try:
        if field == "steady":
            return units.parse_length(text, unit, field=field) if text.strip() else None
        return _figure(text, field)
    except BenchsideError as problem:
        problems[field] = problem
        return None


def _seen(
    shop: Shop,
    set_id: int,
    cut: str,
    asked: tuple[float | None, float | None, float | None],
    problems: dict[str, BenchsideError],
) -> PlanView:
    """The plan with what was asked, or without it where that cannot be."""
    steady_mm, load_n, grain = asked
    try:
        return planning.view(
            shop,
            set_id,
            cut,
            steady_mm=steady_mm,
            load_n=planning.LOAD_N if load_n is None else load_n,
            grain=grain,
        )
    except BenchsideError as problem:
        if problem.field not in ("steady", "load_n", "grain"):
            raise
        problems[problem.field.removesuffix("_n")] = problem
        return planning.view(shop, set_id, cut)


def _picture(seen: PlanView, view: drawing.View) -> str:
    moment = seen.cuts[seen.shown].moment
    return drawing.at_step(
        seen.work.pattern,
        view,
        done=sorted(moment.finished),
        steady_mm=seen.tried_mm if seen.tried_mm is not None else moment.steady_mm,
        label=words()["drawing"]["after_cut"].format(set=seen.kept.name),
    )


def _chart(seen: PlanView, view: drawing.View) -> str:
    line, moment, unit = seen.line, seen.cuts[seen.shown].moment, seen.kept.unit
    most = float(line.bare_mm.max())
    at = float(line.x_mm[line.bare_mm.argmax()])
    limit, said = seen.bench.limit_mm, words()["plan"]["chart"]
    place = f"{labels.position(at, unit)} {units.unit_sign(unit)}"
    told = said["title"].format(most=labels.error(most, unit), at=place)
    if line.left_mm is not None:
        told += said["steadied"].format(most=labels.error(float(line.left_mm.max()), unit))
    return give_chart(
        Give(
            x_mm=line.x_mm.tolist(),
            bare_mm=line.bare_mm.tolist(),
            left_mm=None if line.left_mm is None else line.left_mm.tolist(),
            limit_mm=limit,
            cut_mm=line.cut_mm,
            steady_mm=seen.tried_mm if seen.tried_mm is not None else moment.steady_mm,
        ),
        view,
        height_px=CHART_PX,
        labels=GiveLabels(
            title=told,
            limit=said["limit"].format(limit=labels.error(limit, unit)),
            most=said["most"].format(most=labels.error(most, unit), at=labels.position(at, unit)),
        ),
    )


def _named(seen: PlanView, cut: CutView) -> str:
    """What is cut: a bead or cove by its name, else from station to station, or a tenon's place."""
    stations = seen.work.pattern.stations
    section = cut.step.section
    if section is None:
        place = seen.work.places[cut.step.place_id or ""]
        return labels.place_label(place)
    said = words()["plan"]
    start, end = (
        stations[i].name or said["unnamed"].format(n=i + 1) for i in (section, section + 1)
    )
    cutting = seen.work.pattern.sections[section]
    if cutting.form in ("bead", "cove"):
        return cutting.name or start
    named: str = said["section"].format(start=start, end=end)
    return named


def _give(text: str, unit: Unit) -> float | None:
    """The give at which ribbing is seen, or None for nothing typed. [mm]"""
    return units.parse_length(text, unit, field="limit") if text.strip() else None


def _figure(text: str, field: str) -> float | None:
    """A figure of any size, or None for nothing typed."""
    if not text.strip():
        return None
    value = units.parse_figure(text, field=field)
    if value <= 0:
        raise NotUnderstood("It is more than 0.", field=field)
    return value
