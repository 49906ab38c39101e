"""Everything on the rack, and putting away what is used up."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

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


@router.post("/stock/{kind}/{row_id}/away")
def away(request: Request, kind: str, row_id: int, form: Posted) -> Response:
    rack.put_away(
        shop_of(request), kind.removesuffix("s"), row_id, now() if form.get("away") else None
    )
    return see("/stock")
