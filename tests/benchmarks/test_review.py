"""The review of a very large set, as a ratio to reading its rows bare. Run by `.ci/run`."""

from __future__ import annotations

import json
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from statistics import median

import pytest
from starlette.testclient import TestClient

from benchside.web.app import create_app
from benchside.web.door import Door
from tests import shopfloor

TIMES_BARE = 10  # ours
ROUNDS = 5


def _seconds(run: Callable[[], object]) -> float:
    start = time.perf_counter()
    run()
    return time.perf_counter() - start


@pytest.mark.slow
def test_the_review_of_400_pieces_takes_at_most_ten_times_reading_the_rows_bare(
    tmp_path: Path,
) -> None:
    shop = shopfloor.open_shop(tmp_path)
    kept = shopfloor.started(shop, shopfloor.many_stations(25), wanted=400, spares=0)
    shopfloor.turn(shop, kept, range(1, 401))
    app = create_app(shop, Door(shop, frozenset({"testserver"})))

    def bare() -> None:
        with closing(sqlite3.connect(shop.path)) as connection:
            rows = connection.execute("SELECT * FROM reading").fetchall()
        assert len(json.dumps(rows)) > 1_000_000

    with TestClient(app) as browser:

        def page(path: str) -> None:
            assert browser.get(f"/sets/{kept.id}{path}").status_code == 200

        page("/review")  # templates are compiled once
        page("/review/table")
        taken: dict[str, list[float]] = {"bare": [], "/review": [], "/review/table": []}
        for _ in range(ROUNDS):  # in turn, so that a busy moment falls on all alike
            taken["bare"].append(_seconds(bare))
            for path in ("/review", "/review/table"):
                taken[path].append(_seconds(lambda path=path: page(path)))
    shop.close()
    middle = {name: median(times) for name, times in taken.items()}
    ratios = {name: middle[name] / middle["bare"] for name in ("/review", "/review/table")}
    told = ", ".join(f"{name} {ratio:.1f}" for name, ratio in ratios.items())
    print(f"bare rows as JSON {middle['bare'] * 1000:.0f} ms; times that: {told}")
    assert max(ratios.values()) <= TIMES_BARE
