"""The weigh page: what a set weighs, how wet that is, and the day it will be dry."""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta
from math import isinf
from typing import Any, cast
from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response

from benchside import units
from benchside.draw.falling import falling
from benchside.errors import BenchsideError
from benchside.job import drying, forms, wood
from benchside.job.drying import View
from benchside.job.scales import SAFE_ROOM, Dries
from benchside.job.turning import Surprising
from benchside.store.wood import MASS_UNITS, MOMENTS, MassUnit, Moment, Room
from benchside.web import labels
from benchside.web.asked import TypedForm, shop_of
from benchside.web.render import now, render, see
from benchside.web.words import words
from benchside.wood.drying import Forecast

router = APIRouter()

WIDTH_PX, HEIGHT_PX = 390.0, 300.0
PACE = 1e-10  # m²/s: what a pace is counted in


@router.get("/sets/{set_id}/drying")
def the_drying(request: Request, set_id: int, day: str = "", after: int = 0) -> Response:
    """The page; ``day`` and ``after`` are those of the weight kept last, so the next goes on."""
    going = {"form": "weigh", "day": day[:10]} if day else {"form": ""}
    return _page(request, set_id, going, None, after=after)


@router.post("/sets/{set_id}/drying/{form}")
def keep(request: Request, set_id: int, form: str, typed: TypedForm) -> Response:
    """One of the page's forms."""
    shop, key, at = shop_of(request), typed.get("key", ""), now()
    # A page that was left open still names the day it was opened on: that means today.
    day = typed.get("day", "") if typed.get("day") != typed.get("opened") else ""
    unit = cast(MassUnit, typed["unit"] if typed.get("unit") in MASS_UNITS else "g")
    try:
        if form == "weigh":
            number = int(units.parse_figure(typed.get("number", ""), field="number"))
            drying.weigh(
                shop,
                set_id,
                number,
                typed.get("mass", ""),
                unit,
                key=key,
                at=forms.moment(day, now=at),
                sure=bool(typed.get("sure")),
            )
            return see(
                f"/sets/{set_id}/drying?" + urlencode({"day": day, "after": number}) + "#weigh"
            )
        if form == "slice":
            drying.weigh_slice(
                shop, set_id, typed.get("wet", ""), typed.get("dry", ""), unit, key=key, at=at
            )
        elif form == "room":
            _keep_room(shop, set_id, typed)
        elif form == "note":
            piece = forms.numbered(typed.get("number", ""))
            when = forms.moment(day, now=at)
            drying.note(shop, set_id, piece, cast(Moment, typed.get("what")), key=key, at=when)
        elif form == "turn_dry":
            return _turn_dry(shop, set_id, typed)
        elif form == "strike":
            drying.strike(shop, set_id, key, at=at)
        elif form == "strike_slice":
            drying.strike_slice(shop, set_id, key, at=at)
    except BenchsideError as problem:
        if problem.status != 422:
            raise
        return _page(request, set_id, {**typed, "form": form}, problem)
    return see(f"/sets/{set_id}/drying")


def _turn_dry(shop: Any, set_id: int, typed: dict[str, str]) -> Response:
    """The pieces ticked go on the lathe again; it opens at the first of them."""
    ticked = [name.removeprefix("piece ") for name in typed if name.startswith("piece ")]
    numbers = {number for text in ticked if (number := forms.numbered(text))}
    moisture = units.parse_figure(typed.get("moisture", "").replace("%", ""), field="moisture")
    going = wood.turn_dry(shop, set_id, numbers, moisture, at=now())
    return see(f"/sets/{set_id}/turn/{going[0]}" if going else f"/sets/{set_id}/drying")


def _keep_room(shop: Any, set_id: int, typed: dict[str, str]) -> None:
    temperature = units.parse_temperature(typed.get("temperature_c", ""), field="temperature_c")
    humidity = units.parse_figure(typed.get("rh_percent", "").replace("%", ""), field="rh_percent")
    pace = typed.get("diffusion", "").strip()
    drying.keep_room(
        shop,
        set_id,
        temperature,
        humidity,
        units.parse_figure(pace, field="diffusion") * PACE if pace else None,
    )


def _page(
    request: Request,
    set_id: int,
    typed: dict[str, str],
    problem: BenchsideError | None,
    *,
    after: int = 0,
) -> Response:
    at = now()
    view = drying.view(shop_of(request), set_id, now=at)
    last = [w for piece in view.pieces for w in piece.weighings]
    newest = max(last, key=lambda w: w.taken_at, default=None)
    return render(
        request,
        "wood/drying.html",
        status=problem.status if problem else 200,
        here="home",
        view=view,
        kept=view.standing.kept,
        unit=view.standing.kept.unit,
        typed=typed,
        problem=problem,
        sound=[p for p in view.standing.pieces if p.lot != "spoiled"],
        next_up=drying.next_to_weigh(view, typed.get("day", ""), after),
        asks=isinstance(problem, Surprising),
        mass_unit=typed.get("unit") or (newest.unit if newest else "g"),
        key=typed.get("key") if problem else secrets.token_hex(16),
        fresh=lambda: secrets.token_hex(16),
        today=f"{datetime.fromisoformat(at).astimezone():%Y-%m-%d}",
        shown=drying.shown,
        moments=MOMENTS,
        told=told(view),
        pictures={piece.number: _picture(view, piece) for piece in view.pieces},
        days={piece.number: _day_words(piece, at) for piece in view.pieces},
        grams=units.GRAMS,
        pace=PACE,
        room=view.room or Room(*SAFE_ROOM, None),
    )


def told(view: View) -> dict[str, str]:
    """The verdict on the slowest piece, in words."""
    slowest = view.slowest
    if slowest is None or slowest.verdict is None or view.said is None:
        return {}
    said = words()["drying"]
    says = said["says"][slowest.verdict].format(
        now=labels.moisture(slowest.moisture_now or 0.0),
        target=labels.moisture(view.said.wood.dry_mc),
        air=labels.moisture(view.air_mc),
    )
    return {"verdict": said[slowest.verdict], "says": says, "day": _day_words(slowest, view.now)}


def _day_words(piece: Dries, now: str) -> str:
    """When it will be dry, or how many weighings that still takes."""
    said = words()["drying"]
    told = piece.forecast
    if piece.verdict != "not yet":
        return ""
    if told is None:
        short: str = said["two_more"].get(str(len(piece.weighings)), "")
        return short
    if isinf(told.day):
        return ""
    at, likely = datetime.fromisoformat(now), _moment(piece, told.day)
    which = "day_open" if isinf(told.day_high) else "day"
    if _moment(piece, told.day_low) < at <= likely:
        which += "_begun"
    text: str = said[which]
    if likely < at:
        text = f"{text} {said['day_past']}"
    day, low, high = (_date(piece, d) for d in (told.day, told.day_low, told.day_high))
    return text.format(day=day, low=low, high=high)


def _date(piece: Dries, day: float) -> str:
    if isinf(day):
        return ""
    on = _moment(piece, day)
    return f"{on:%a} {on.day} {on:%b}"


def _moment(piece: Dries, day: float) -> datetime:
    """The moment a day lies at, counted from the first weighing."""
    begun = datetime.fromisoformat(piece.weighings[0].taken_at).astimezone()
    return begun + timedelta(days=day)


def _picture(view: View, piece: Dries) -> str:
    assert view.said is not None
    told: Forecast | None = piece.forecast
    band = told if told is not None and told.verdict == "not yet" else None
    low = band.day_low if band is not None and not isinf(band.day_low) else None
    target, said = view.said.wood.dry_mc, words()["drying"]["chart"]
    return falling(
        piece.days,
        piece.moistures,
        target=target,
        target_words=said["target"].format(target=labels.moisture(target)),
        curve=told.moisture_on if told is not None else None,
        curve_from=told.since_day if told is not None else 0.0,
        low_day=low,
        high_day=band.day_high if band is not None and low is not None else None,
        air=view.air_mc,
        air_words=said["air"].format(air=labels.moisture(view.air_mc)),
        axis_words=said["axis"],
        width=WIDTH_PX,
        height=HEIGHT_PX,
        label=said["title"].format(
            number=piece.number,
            first=labels.moisture(piece.moistures[0]),
            now=labels.moisture(piece.moistures[-1]),
        ),
    )
