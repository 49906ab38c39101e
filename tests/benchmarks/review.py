"""The review of a very large set against its rows by bare sqlite3, written as JSON."""

from __future__ import annotations

import json
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from starlette.testclient import TestClient

from benchside.store.database import Shop
from benchside.web.app import create_app
from benchside.web.door import Door
from tests.shopfloor import many_stations, started, turn

ROUNDS = 5


def measure() -> Iterator[str]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "bench.db")
        shop = Shop(path)
        kept = started(shop, many_stations(25), wanted=400, spares=0)
        turn(shop, kept, range(1, 401), minutes_each=1.0)
        set_id = kept.id
        with TestClient(create_app(shop, Door(shop, frozenset({"testserver"})))) as client:
            ours = _median(lambda: client.get(f"/sets/{set_id}/review").raise_for_status())
        base = _median(lambda: _bare(path, set_id))
        shop.close()
    yield (
        f"review of 400 spindles x 25 stations: {ours / base:.1f} x bare rows as JSON"
        f" (aim: at most 10)  [bare {base * 1e3:.0f} ms, page {ours * 1e3:.0f} ms]"
    )


def _bare(path: Path, set_id: int) -> None:
    db = sqlite3.connect(path)
    rows = db.execute("SELECT * FROM reading WHERE set_id = ?", [set_id]).fetchall()
    json.dumps(rows)
    db.close()


def _median(work: Callable[[], object]) -> float:
    took = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        work()
        took.append(time.perf_counter() - start)
    return statistics.median(took)
