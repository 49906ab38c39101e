"""The application: every part's routes, one place where errors become pages, static files."""

from __future__ import annotations

import logging
from functools import cache
from typing import Any

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Scope

from benchside.errors import BenchsideError, NotFound
from benchside.resources import static_dir
from benchside.store.database import Shop
from benchside.web import (
    as_made,
    boards,
    calipers,
    choosing,
    devices,
    dried,
    drying,
    exchange,
    fitting,
    holes,
    home,
    lathe,
    logs,
    originals,
    paper,
    pattern_editor,
    patterns,
    planning,
    rack,
    review,
    set_sheet,
    sets,
    stock,
    taking,
    text_size,
    tools,
    turn,
    wood,
)
from benchside.web.door import Door, Guard
from benchside.web.render import problem_json, render, static_hash, wants_json
from benchside.web.words import words_module

log = logging.getLogger("benchside")


class _Forever(StaticFiles):
    """Static files under a hash of the whole tree: they can be kept for a year.

    Stylesheets named together with a plus travel as one file, which saves a phone its requests;
    one may be named ``text-PERCENT``, which sizes the text. ``words.js`` is made from the words.
    """

    async def get_response(self, path: str, scope: Scope) -> Response:
        sheets = [_stylesheet(name) for name in path.split("+")]
        if path == "words.js":
            reply = Response(words_module(), media_type="text/javascript")
        elif len(sheets) > 1 and None not in sheets:
            reply = Response("\n".join(filter(None, sheets)), media_type="text/css")
        else:
            reply = await super().get_response(path, scope)
        reply.headers["Cache-Control"] = "max-age=31536000"
        return reply


def _stylesheet(name: str) -> str | None:
    return _stylesheets().get(name) or text_size.rule(name)


@cache
def _stylesheets() -> dict[str, str]:
    return {path.name: path.read_text("utf-8") for path in static_dir().glob("*.css")}


class _Guarded(FastAPI):
    """The door stands around everything, also around what turns a fault into a page."""

    def build_middleware_stack(self) -> ASGIApp:
        return Guard(super().build_middleware_stack(), self.state.door)


def create_app(shop: Shop, door: Door) -> FastAPI:
    """The whole web face of one open database."""
    app = _Guarded(
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        middleware=[
            Middleware(GZipMiddleware, minimum_size=1024, compresslevel=9),
        ],
        exception_handlers={
            BenchsideError: _person,
            RequestValidationError: _malformed,
            HTTPException: _http,
            Exception: _bug,
        },
    )
    app.state.shop = shop
    app.state.door = door
    app.mount(f"/static/{static_hash()}", _Forever(directory=static_dir()))
    for part in (
        taking,  # first: routes are tried in order, and a reading is to be kept soonest
        turn,
        home,
        lathe,
        tools,
        pattern_editor,  # before the patterns: "new" is no pattern's number
        patterns,
        originals,
        sets,
        as_made,
        paper,
        set_sheet,
        planning,
        wood,
        drying,
        review,
        choosing,
        calipers,
        exchange,
        holes,
        rack,
        boards,
        logs,
        stock,
        dried,
        fitting,
    ):
        app.include_router(part.router)
    app.include_router(devices.router(door))
    return app


async def _person(request: Request, problem: Any) -> Response:
    if wants_json(request):
        return problem_json(problem)
    return render(request, "trouble.html", status=problem.status, problem=problem)


async def _malformed(request: Request, problem: Any) -> Response:
    where = ".".join(str(part) for part in problem.errors()[0]["loc"][1:])
    return await _person(
        request,
        NotFound("There is no such page.")
        if request.method == "GET"
        else BenchsideError("That form did not arrive whole.", field=where),
    )


async def _http(request: Request, problem: Any) -> Response:
    found = BenchsideError(
        "There is no such page." if problem.status_code == 404 else "That cannot be done here."
    )
    found.status = problem.status_code
    return await _person(request, found)


async def _bug(request: Request, problem: Exception) -> Response:
    log.error("a fault of benchside's own at %s", request.url.path, exc_info=problem)
    found = BenchsideError(
        "Something in benchside itself went wrong; nothing was half saved.",
        hint="The terminal shows what. What a phone still holds will be sent again.",
    )
    found.status = 500
    return await _person(request, found)
