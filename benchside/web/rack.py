"""Everything on the rack, and putting away what is used up."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response
from starlette.datastructures import FormData

from benchside.job import rack
from benchside.store import sets
from benchside.web.asked import shop_of
from benchside.web.pattern_parts import Posted
from benchside.web.render import now, render, see
from benchside.web.stock_pictures import end_drawn, whole

router = APIRouter()


@router.get("/stock")
def the_rack(request: Request, used: str = "") -> Response:
    shop = shop_of(request)
    views = rack.rack(shop, archived=bool(used))
    return render(
        request,
        "stock/rack.html",
        here="shop",
        used=bool(used),
        boards=[(view, whole(view)) for view in views.boards],
        logs=[(view, end_drawn(view)) for view in views.logs],
        sets=sets.listed(shop),
    )


@router.post("/stock/boards/{row_id}/away")
def board_away(request: Request, row_id: int, form: Posted) -> Response:
    rack.put_away(shop_of(request), "board", row_id, _when(form))
    return see("/stock")


@router.post("/stock/logs/{row_id}/away")
def log_away(request: Request, row_id: int, form: Posted) -> Response:
    rack.put_away(shop_of(request), "log", row_id, _when(form))
    return see("/stock")


def _when(form: FormData) -> str | None:
    return now() if form.get("away") else None
