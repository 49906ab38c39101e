"""The sets in hand, the shop, and what is said once for the whole of benchside."""

from __future__ import annotations

import re
from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from benchside.errors import BenchsideError
from benchside.job import calipers, edges, fitting, patterns, sets, shop
from benchside.job.forms import by_field
from benchside.sources import sources
from benchside.units import parse_length
from benchside.web import text_size
from benchside.web.asked import shop_of, shop_unit
from benchside.web.render import LOOK_COOKIE, now, render, see
from benchside.web.sets import picture

router = APIRouter()

BAR_PX = 240  # the bar to be measured, short enough for any phone
KEEP_S = 10 * 365 * 24 * 3600
_LOCAL_PATH = re.compile(r"/(?![/\\])[\w./~%?=&:,+-]*")


@router.get("/")
def home(request: Request) -> Response:
    open_shop = shop_of(request)
    in_hand = sets.listed(open_shop)
    return render(
        request,
        "home.html",
        here="home",
        in_hand=in_hand,
        due={
            s.kept.id: fitting.due(open_shop, s.kept.id, now=now()) for s in in_hand if not s.next
        },
        pictures={
            s.kept.id: picture(
                sets.held(open_shop, s.kept).pattern, s.kept.choices, prefix=f"s{s.kept.id}"
            )
            for s in in_hand
        },
        archived=len(sets.listed(open_shop, archived=True)),
        has_patterns=bool(patterns.listed(open_shop)),
        backup=shop.backup(open_shop, now=now()),
    )


@router.get("/sets")
@router.get("/sets/")
def sets_in_hand() -> Response:
    return see("/")


@router.get("/sets/archived")
def archived(request: Request) -> Response:
    found = sets.listed(shop_of(request), archived=True)
    return render(request, "sets/archived.html", here="home", put_away=found)


@router.get("/shop")
def the_shop(request: Request) -> Response:
    open_shop = shop_of(request)
    return render(
        request,
        "shop.html",
        here="shop",
        lathe=shop.lathe(open_shop),
        unit=shop_unit(request),
        owned=calipers.owned(open_shop),
        due=[edge for edge in edges.edges(open_shop) if edge.due],
        backup=shop.backup(open_shop, now=now()),
    )


@router.get("/phone-size")
def phone_size(request: Request) -> Response:
    return _phone_size_page(request, "", None)


@router.post("/phone-size")
def keep_phone_size(
    request: Request, measured: Annotated[str, Form()] = "", forget: Annotated[str, Form()] = ""
) -> Response:
    if forget:
        reply = see("/phone-size")
        reply.delete_cookie(text_size.COOKIE, path="/", samesite="strict")
        return reply
    try:
        per_px = parse_length(measured, shop_unit(request), field="measured") / BAR_PX
        if not text_size.LEAST_MM_PER_PX <= per_px <= text_size.MOST_MM_PER_PX:
            raise BenchsideError(
                f"No screen draws this bar {measured.strip()[:20]} long.",
                field="measured",
                hint="Measure from the outer edge of one end to the outer edge of the other.",
            )
    except BenchsideError as problem:
        return _phone_size_page(request, measured, problem)
    reply = see("/phone-size")
    reply.set_cookie(text_size.COOKIE, f"{per_px:.5f}", max_age=KEEP_S, path="/", samesite="strict")
    return reply


@router.get("/sources")
def every_source(request: Request) -> Response:
    return render(request, "sources.html", sources=sources())


@router.get("/cautions")
def cautions(request: Request) -> Response:
    return render(request, "cautions.html")


@router.post("/look")
def look(theme: Annotated[str, Form()] = "", back: Annotated[str, Form()] = "/") -> Response:
    """Day, dim, or as the device has it; then back to a page of ours and nowhere else."""
    reply = see(back if _LOCAL_PATH.fullmatch(back) else "/")
    if theme in ("day", "dim"):
        reply.set_cookie(LOOK_COOKIE, theme, max_age=KEEP_S, path="/", samesite="strict")
    else:
        reply.delete_cookie(LOOK_COOKIE, path="/", samesite="strict")
    return reply


def _phone_size_page(request: Request, typed: str, problem: BenchsideError | None) -> Response:
    return render(
        request,
        "phone_size.html",
        status=problem.status if problem else 200,
        here="shop",
        typed=typed,
        problems=by_field(problem),
        unit=shop_unit(request),
        bar_px=BAR_PX,
        bar_mm=BAR_PX * (text_size.measured(request) or text_size.NOMINAL_MM_PER_PX),
        per_px=text_size.measured(request),
    )
