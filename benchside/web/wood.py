"""What a set is made of, the sizes to turn now with their reasons, and species of one's own."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any, TypeVar, cast
from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response

from benchside import units
from benchside.draw.oval import oval
from benchside.errors import BenchsideError
from benchside.job import wood, wood_of
from benchside.job.drafts import shown
from benchside.job.wood import Given, View
from benchside.store.wood import ROUTES, STATES, Route, State
from benchside.web import labels, species_said
from benchside.web.asked import TypedForm, shop_of
from benchside.web.render import now, render, see
from benchside.web.words import words
from benchside.wood.climate import climates
from benchside.wood.species import OWN, all_species, without

router = APIRouter()

Read = TypeVar("Read")
OVAL_PX = 340.0
FIGURES = ("moisture", "winter_c", "winter_rh", "summer_c", "summer_rh", "lives_mc", "dry_mc")
SIZES = ("sizing_mm", "rough_mm")
FIELDS = ("species", "state", "route", "climate", *FIGURES, *SIZES)
SHOWN = ("station", "crown", "root")


@router.get("/sets/{set_id}/wood")
def the_wood(request: Request, set_id: int, kept: str = "", named: str = "") -> Response:
    return _page(request, set_id, None, {}, kept=bool(kept), named=named)


@router.post("/sets/{set_id}/wood")
def say_wood(request: Request, set_id: int, typed: TypedForm) -> Response:
    """Say it, all at once; nothing of it is kept while one thing does not fit."""
    shop = shop_of(request)
    unit = wood.view(shop, set_id).standing.kept.unit
    given, problems = _given(typed, unit)
    problems = {fault.field: fault for fault in wood.faults(shop, given)} | problems
    if problems:
        return _page(request, set_id, typed, problems)
    wood.give(shop, set_id, given, at=now())
    return see(species_said.named(f"/sets/{set_id}/wood?kept=1", shop, given.species))


@router.get("/species")
def species(request: Request, q: str = "", name: str = "", own: str = "") -> Response:
    """Every species with its figures, searched; and a form for one's own, or for ``own``."""
    return _species_page(request, q, {"name": own} if own else None, {}, name)


@router.post("/species")
def keep_species(request: Request, typed: TypedForm) -> Response:
    problems: dict[str, BenchsideError] = {}
    name = typed.get("name", "")
    radial = _read(lambda: _figure(typed, "radial_percent"), problems, 1.0)
    tangential = _read(lambda: _figure(typed, "tangential_percent"), problems, 1.0)
    green = _read(lambda: _maybe(typed, "green_percent"), problems, None)
    problems |= {
        fault.field: fault for fault in wood.species_faults(name, radial, tangential, green)
    }
    if not problems and not typed.get("sure"):
        problems = {fault.field: fault for fault in wood.species_doubts(radial, tangential)}
    if problems:
        return _species_page(request, "", typed, problems, "")
    made = wood.keep_species(
        shop_of(request), name, radial, tangential, green_percent=green, at=now()
    )
    return see("/species?" + urlencode({"q": made.common_name, "name": made.common_name}))


def _species_page(
    request: Request,
    q: str,
    typed: dict[str, str] | None,
    problems: dict[str, BenchsideError],
    kept: str,
) -> Response:
    shop = shop_of(request)
    blank = dict.fromkeys(
        ("name", "radial_percent", "tangential_percent", "green_percent", "sure"), ""
    )
    return render(
        request,
        "wood/species.html",
        status=422 if problems else 200,
        here="shop",
        q=q,
        found=wood.search(shop, q) if q else wood_of.own(shop),
        every=len(all_species()),
        bare=[s for s in without(wood_of.own(shop)) if s.tangential_percent is None],
        typed={**blank, **(typed or {})},
        problems=problems,
        kept=kept,
    )


def _page(
    request: Request,
    set_id: int,
    typed: dict[str, str] | None,
    problems: dict[str, BenchsideError],
    *,
    kept: bool = False,
    named: str = "",
) -> Response:
    shop = shop_of(request)
    view = wood.view(shop, set_id)
    return render(
        request,
        "wood/wood.html",
        status=422 if problems else 200,
        here="home",
        view=view,
        kept=view.standing.kept,
        unit=view.standing.kept.unit,
        rows=[row for row in view.rows if row.place.role in SHOWN],
        typed=_as_typed(view) if typed is None else {**dict.fromkeys(FIELDS, ""), **typed},
        problems=problems,
        saved=kept,
        own_figures=view.source == OWN,
        understood=species_said.understood(shop, named),
        states=STATES,
        routes=ROUTES,
        climates=[*(c.id for c in climates()), wood.OWN_CLIMATE, wood.OWN_FIGURE],
        names=[*(own := wood_of.own(shop)), *without(own)],
        picture=_oval(view),
    )


def _oval(view: View) -> str:
    if view.oval is None:
        return ""
    unit, sign = view.standing.kept.unit, units.unit_sign(view.standing.kept.unit)
    across, along = (
        f"{labels.length(mm, unit, fine=True)} {sign}"
        for mm in (view.oval.tangential_mm, view.oval.radial_mm)
    )
    turned = labels.length(view.oval.turned_mm, unit, fine=True)
    return oval(
        view.oval.turned_mm,
        view.oval.radial_mm,
        view.oval.tangential_mm,
        across=f"↔ {across}",
        along=f"↕ {along}",
        width=OVAL_PX,
        label=words()["wood"]["oval"].format(turned=turned, sign=sign, along=along, across=across),
    )


def _given(typed: dict[str, str], unit: units.Unit) -> tuple[Given, dict[str, BenchsideError]]:
    """What the form says, and what in it says nothing plain, by field."""
    problems: dict[str, BenchsideError] = {}
    said: dict[str, Any] = {}
    for name in FIGURES:
        said[name] = _read(partial(_maybe, typed, name), problems, None)
    for name in SIZES:
        if typed.get(name, "").strip():
            said[name] = _read(partial(_size, typed, name, unit), problems, 0.0)
    given = Given(
        species=typed.get("species", ""),
        state=cast(State, typed.get("state", "")),
        route=cast(Route, typed.get("route", "")),
        climate=typed.get("climate", ""),
        again=bool(typed.get("again")),
        **said,
    )
    return given, problems


def _read(read: Callable[[], Read], problems: dict[str, BenchsideError], instead: Read) -> Read:
    try:
        return read()
    except BenchsideError as problem:
        problems[problem.field] = problem
        return instead


def _figure(typed: dict[str, str], name: str) -> float:
    if name.endswith("_c"):
        return units.parse_temperature(typed[name], field=name)
    return units.parse_figure(typed.get(name, "").replace("%", ""), field=name)


def _maybe(typed: dict[str, str], name: str) -> float | None:
    return _figure(typed, name) if typed.get(name, "").strip() else None


def _size(typed: dict[str, str], name: str, unit: units.Unit) -> float:
    return units.parse_length(typed[name], unit, field=name)


def _as_typed(view: View) -> dict[str, str]:
    said, unit = view.wood, view.standing.kept.unit
    if said is None:
        blank = dict.fromkeys(FIELDS, "")
        sizes = {"sizing_mm": wood.SIZING_MM, "rough_mm": wood.ROUGH_MM}
        return {
            **blank,
            **{name: units.format_length(mm, unit, fine=True) for name, mm in sizes.items()},
            "state": "green",
            "route": "green",
            "climate": "cold_winters",
            "again": "",
        }
    own = said.climate == wood.OWN_CLIMATE
    figures: dict[str, float | None] = {
        "moisture": said.moisture,
        "winter_rh": said.winter_rh if own else None,
        "summer_rh": said.summer_rh if own else None,
        "lives_mc": said.driest_mc if said.climate == wood.OWN_FIGURE else None,
        "dry_mc": said.dry_mc,
    }
    air = {
        "winter_c": said.winter_c if own else None,
        "summer_c": said.summer_c if own else None,
    }
    sign = units.unit_sign(unit)
    return {
        "species": said.species,
        "state": said.state,
        "route": said.route,
        "climate": said.climate,
        "again": "",
        **{name: "" if value is None else f"{value:.3g}" for name, value in figures.items()},
        **{
            name: "" if celsius is None else units.format_temperature(celsius, sign)
            for name, celsius in air.items()
        },
        "sizing_mm": shown(said.sizing_mm, sign),
        "rough_mm": shown(said.rough_mm, sign),
    }
