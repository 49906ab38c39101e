"""Saving a reading, door and verdict and all, against the barest route that keeps one as safely."""

from __future__ import annotations

import contextlib
import http.client
import os
import secrets
import sqlite3
import statistics
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Annotated, Any
from urllib.parse import urlencode

import uvicorn
from fastapi import FastAPI, Form

from benchside.job import devices
from benchside.store.database import Shop
from benchside.web.app import create_app
from benchside.web.door import Door
from tests.shopfloor import started

ROUNDS = 400
STATIONS = (("st3", "16.1"), ("st4", "22.1"), ("st5", "15.2"), ("st7", "14.1"), ("st8", "13.9"))
FIELDS = ("key", "station_id", "value", "unit", "kind", "axis", "phase", "taken_at", "sent_at")


def bare_app(path: Path) -> FastAPI:
    """The baseline: the same form, one INSERT with a UNIQUE key, the same durability."""
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    db = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    db.execute("PRAGMA journal_mode = WAL")
    db.execute("PRAGMA synchronous = FULL")
    columns = ", ".join(f"{name} TEXT{' UNIQUE' if name == 'key' else ''}" for name in FIELDS)
    db.execute(f"CREATE TABLE reading (id INTEGER PRIMARY KEY, {columns}) STRICT")
    insert = f"INSERT INTO reading ({', '.join(FIELDS)}) VALUES ({', '.join('?' * len(FIELDS))})"

    @app.post("/reading")
    def take(
        key: Annotated[str, Form()],
        station_id: Annotated[str, Form()],
        value: Annotated[str, Form()],
        unit: Annotated[str, Form()],
        kind: Annotated[str, Form()],
        axis: Annotated[str, Form()],
        phase: Annotated[str, Form()],
        taken_at: Annotated[str, Form()],
        sent_at: Annotated[str, Form()],
    ) -> dict[str, str]:
        db.execute(insert, [key, station_id, value, unit, kind, axis, phase, taken_at, sent_at])
        return {"key": key}

    app.state.close = db.close
    return app


@contextlib.contextmanager
def served(app: FastAPI) -> Iterator[int]:
    """The app on a free port of this machine, by a real server."""
    config = uvicorn.Config(app, port=0, log_level="error", access_log=False)
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    try:
        yield server.servers[0].sockets[0].getsockname()[1]
    finally:
        server.should_exit = True
        thread.join()


def tapper(port: int, path: str, headers: dict[str, str]) -> Callable[[int], float]:
    """One reading sent over a kept connection; returns how long it took. [s]

    Readings go round the stations and the pieces, as a maker's do.
    """
    conn = http.client.HTTPConnection("127.0.0.1", port)
    sent = {
        "Content-Type": "application/x-www-form-urlencoded",
        "Accept": "application/json",
        "Origin": f"http://127.0.0.1:{port}",
        **headers,
    }

    def tap(count: int) -> float:
        station_id, size = STATIONS[count % len(STATIONS)]
        form = {
            "key": secrets.token_hex(16),
            "station_id": station_id,
            "value": size,
            "unit": "mm",
            "kind": "diameter",
            "axis": "none",
            "phase": "final",
            "taken_at": "2026-03-01T10:00:00.000Z",
            "sent_at": "2026-03-01T10:00:00.500Z",
        }
        body = urlencode(form)
        start = time.perf_counter()
        conn.request("POST", path.format(piece=1 + count // len(STATIONS) % 9), body, sent)
        reply = conn.getresponse()
        reply.read()
        took = time.perf_counter() - start
        assert reply.status == 200, reply.status
        return took

    return tap


def sync_time_s(folder: Path) -> float:
    """What the disk itself asks for one small write made safe. [s]"""
    took = []
    with (folder / "sync").open("wb") as file:
        for _ in range(200):
            file.write(b"x" * 4096)
            file.flush()
            start = time.perf_counter()
            os.fsync(file.fileno())
            took.append(time.perf_counter() - start)
    return statistics.median(took)


def measure() -> Iterator[str]:
    """Both servers tapped in turn, so that whatever else the machine does hits both alike."""
    with tempfile.TemporaryDirectory() as folder:
        shop = Shop(Path(folder, "bench.db"))
        set_id = started(shop).id
        door = Door(shop, frozenset({"127.0.0.1"}), lan=True)
        code = door.codes.make(door.now())
        _, secret = devices.pair(shop, door.codes, code, "Phone", door.now())
        bare = bare_app(Path(folder, "bare.db"))
        with served(bare) as bare_port, served(create_app(shop, door)) as port:
            cookie = {"Cookie": f"{door.cookie_name}={secret}"}
            ours = tapper(port, f"/sets/{set_id}/pieces/{{piece}}/reading", cookie)
            base = tapper(bare_port, "/reading", {})
            took: dict[str, list[float]] = {"ours": [], "base": []}
            for count in range(ROUNDS):
                took["base"].append(base(count))
                took["ours"].append(ours(count))
        bare.state.close()
        shop.close()
        yield from _told(took, sync_time_s(Path(folder)))


def _told(took: dict[str, Any], sync_s: float) -> Iterator[str]:
    base, ours = (statistics.median(took[name][50:]) for name in ("base", "ours"))
    yield (
        f"saving a reading: {ours / base:.2f} x the bare route (aim: at most 1.5)"
        f"  [bare {base * 1e3:.2f} ms, benchside {ours * 1e3:.2f} ms,"
        f" one fsync {sync_s * 1e3:.2f} ms]"
    )
