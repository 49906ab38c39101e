"""A laptop that serves behind its door, and browsers to reach it with."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import anyio
from fastapi import FastAPI, Request, Response
from fastapi.responses import HTMLResponse, JSONResponse
from starlette.testclient import TestClient

from benchside.errors import BenchsideError
from benchside.moments import as_text
from benchside.web import devices
from benchside.web.door import Door, Guard

HOSTS = frozenset({"127.0.0.1", "localhost", "::1", "bench.lan", "192.168.4.20"})
HOME = "http://bench.lan:8000"
LAPTOP = "http://127.0.0.1:8000"
PAGE = {"Accept": "text/html,application/xhtml+xml;q=0.9,*/*;q=0.8"}
PHONE = "Mozilla/5.0 (Linux; Android 14; K) AppleWebKit/537.36 Mobile Safari/537.36"


class Clock:
    def __init__(self) -> None:
        self.moment = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)

    def __call__(self) -> str:
        return as_text(self.moment)

    def wait(self, **how_long: float) -> None:
        self.moment += timedelta(**how_long)


@dataclass
class Workshop:
    """A laptop that serves, its clock, and browsers to reach it with."""

    door: Door
    clock: Clock

    def browser(self, base: str = HOME, **options: Any) -> TestClient:
        options.setdefault("client", ("192.168.4.31", 50000))
        client = TestClient(
            Guard(small_app(self.door), self.door),
            base_url=base,
            follow_redirects=False,
            raise_server_exceptions=False,
            **options,
        )
        client.headers["User-Agent"] = PHONE
        return client

    def paired(self, name: str = "Phone", **options: Any) -> TestClient:
        client = self.browser(**options)
        sent = {"code": self.door.codes.make(self.clock()), "name": name}
        assert client.post("/pair", data=sent).status_code == 303
        return client


def small_app(door: Door) -> FastAPI:
    """The part under test, with a few pages behind the door."""
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    app.state.shop = door.shop
    app.include_router(devices.router(door))

    @app.exception_handler(BenchsideError)
    def told(_: Request, problem: BenchsideError) -> Response:
        return JSONResponse({"message": problem.message}, problem.status)

    @app.get("/")
    def home(request: Request) -> Response:
        device = request.state.device
        return HTMLResponse("The sets, for " + (device.name if device else "this computer"))

    @app.post("/readings")
    async def take(request: Request) -> Response:
        return JSONResponse({"bytes": len(await request.body())})

    @app.get("/kept")
    def kept() -> Response:
        return HTMLResponse("kept", headers={"Cache-Control": "max-age=60"})

    @app.get("/fault")
    def fault() -> Response:
        raise RuntimeError("a fault of our own")

    @app.get("/static/0123/base.css")
    def style() -> Response:
        return Response("@layer page;", media_type="text/css")

    return app


def raw(
    workshop: Workshop, headers: list[tuple[bytes, bytes]], method: str = "GET", path: str = "/"
) -> Any:
    """Send headers no client library would send; the start of the reply."""
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method,
        "path": path, "raw_path": path.encode(), "query_string": b"", "root_path": "",
        "scheme": "http", "server": ("127.0.0.1", 80), "client": ("127.0.0.1", 5),
        "headers": headers,
    }  # fmt: skip
    sent: list[Any] = []

    async def receive() -> Any:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: Any) -> None:
        sent.append(message)

    async def run() -> None:
        await Guard(small_app(workshop.door), workshop.door)(scope, receive, send)

    anyio.run(run)
    return sent[0]
