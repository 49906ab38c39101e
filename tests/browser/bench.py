"""A real benchside at the end of a network: its process, its data, and sets to turn on it."""

from __future__ import annotations

import random
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from benchside.job import devices
from benchside.job import sets as job_sets
from benchside.job.devices import PairingCodes
from benchside.job.work import Work, work_on
from benchside.moments import as_text
from benchside.pattern import Pattern, Section, Station
from benchside.store import patterns, sets
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet
from tests import shopfloor

NAME = "bench.lan"  # browsers do not count this name as secure, as they would 127.0.0.1
ROOT = Path(__file__).parents[2]


class Bench:
    """One running server on a data file of its own."""

    def __init__(self, folder: Path) -> None:
        self.db = folder / "shop.db"
        self.said = ""
        self.port = free_port()
        self._said_before = 0
        self._log = folder / "said.txt"
        self._server: subprocess.Popen[bytes] | None = None
        self._patterns: dict[str, int] = {}

    # ---- the process ----------------------------------------------------------------------

    def start(self, db: Path | None = None) -> None:
        """Open the shop on the port it had before, and wait until it answers."""
        command = [sys.executable, "-m", "benchside", "serve", "--lan", "--name", NAME]
        command += ["--port", str(self.port), "--db", str(db or self.db)]
        self._said_before = len(self.terminal)
        with self._log.open("ab") as log:
            self._server = subprocess.Popen(
                command, cwd=ROOT, stdout=log, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL
            )
        try:
            wait_until(self._is_ready, seconds=180)
        except BaseException:
            self.kill()  # or it would stand in the way of the next test
            raise

    def _is_ready(self) -> bool:
        self.said = self.terminal[self._said_before :]
        assert self._server is not None
        assert self._server.poll() is None, f"the server stopped by itself:\n{self.said}"
        return "\nready http" in self.said

    @property
    def terminal(self) -> str:
        """Everything the terminal has said since the first start."""
        # Read while it is written to, it may end in half a letter.
        return self._log.read_text("utf-8", errors="replace") if self._log.exists() else ""

    def told(self, pattern: str) -> str:
        """What the terminal said, at the group of a pattern."""
        found = re.search(pattern, self.said)
        assert found, f"the terminal never said {pattern}:\n{self.said}"
        return found[1]

    def kill(self) -> None:
        """As a power cut does: SIGKILL, no goodbye."""
        if self._server is not None:
            self._server.send_signal(signal.SIGKILL)
            self._server.wait(timeout=10)
        self._server = None

    def stop(self) -> None:
        """As Ctrl-C does."""
        if self._server is not None:
            self._server.terminate()
            self._server.wait(timeout=20)
        self._server = None

    @property
    def is_running(self) -> bool:
        return self._server is not None and self._server.poll() is None

    def url(self, path: str) -> str:
        return f"http://{NAME}:{self.port}{path}"

    # ---- what is put there ----------------------------------------------------------------

    def started(self, pattern: Pattern | None = None, **choices: object) -> SpindleSet:
        """A set just started."""
        pattern = pattern or stretcher()
        with closing(Shop(self.db)) as shop:
            at = now()
            if pattern.name not in self._patterns:
                with shop.transaction() as db:
                    self._patterns[pattern.name] = patterns.add(db, pattern, note="", at=at)
            usual = {"name": "Test stretchers", "wanted": 3, "spares": 1, "calipers": 3}
            chosen = shopfloor.choices(**{**usual, **choices})
            return job_sets.start(shop, self._patterns[pattern.name], chosen, at=at)

    def turned(self, kept: SpindleSet, *numbers: int, **how: Any) -> None:
        """Pieces turned before."""
        with closing(Shop(self.db)) as shop:
            shopfloor.turn(shop, kept, numbers, **how)

    def let_in(self, name: str) -> tuple[str, str]:
        """A device paired without its browser: the name and value of its cookie."""
        with closing(Shop(self.db)) as shop:
            codes = PairingCodes()
            _, secret = devices.pair(shop, codes, codes.make(now()), name, now())
            return f"benchside_{shop.database_id[:8]}", secret

    def work(self, kept: SpindleSet) -> Work:
        """The steps and places of a set."""
        with closing(Shop(self.db)) as shop:
            return work_on(shop, kept.pattern_id, kept.revision)

    def set_again(self, kept: SpindleSet) -> SpindleSet:
        """The set as it is kept now."""
        with closing(Shop(self.db)) as shop:
            return sets.found(shop, kept.id)

    # ---- what is kept there, read past the server -----------------------------------------

    def rows(self, sql: str, *values: object) -> list[tuple[Any, ...]]:
        with closing(sqlite3.connect(self.db)) as db:
            return db.execute(sql, values).fetchall()

    def readings(self, kept: SpindleSet, number: int | None = None) -> list[tuple[Any, ...]]:
        """(place, kind, phase, typed) of every reading kept, in the order of arrival."""
        one = "" if number is None else f" AND spindle = {number}"
        return self.rows(
            f"SELECT station_id, kind, phase, typed FROM reading WHERE set_id = ?{one} ORDER BY id",
            kept.id,
        )

    def typed(self, kept: SpindleSet, number: int | None = None) -> list[str]:
        """Every figure kept, in the order of arrival."""
        return [row[3] for row in self.readings(kept, number)]

    def marks(self, kept: SpindleSet, number: int | None = None) -> list[tuple[Any, ...]]:
        """(what, step) of every mark kept, in the order of arrival."""
        one = "" if number is None else f" AND spindle = {number}"
        return self.rows(
            f"SELECT what, step_id FROM mark WHERE set_id = ?{one} ORDER BY id", kept.id
        )


def stretcher() -> Pattern:
    """A short spindle with one of everything that matters: tenon, shoulder, bead, slender taper."""
    return Pattern(
        "Stretcher",
        (
            Station("s1", 0.0, 16.0, "Foot tenon", "tenon"),
            Station("s2", 30.0, 22.0, "Foot"),
            Station("s3", 120.0, 22.0, "First bead"),
            Station("s4", 132.0, 18.0, "Neck", "slender"),
            Station("s5", 200.0, 14.0, "Top", "slender"),
        ),
        (Section("shoulder"), Section("straight"), Section("bead", 28.0), Section("taper")),
    )


def peg() -> Pattern:
    """As little as can be turned: two stations and a taper."""
    return Pattern(
        "Peg",
        (Station("s1", 0.0, 20.0, "Head"), Station("s2", 100.0, 14.0, "Point")),
        (Section("taper"),),
    )


def inch_peg() -> Pattern:
    """A peg in the sizes of an inch rule: 1 5/16 in and 5/8 in thick, 4 in long."""
    return Pattern(
        "Inch peg",
        (Station("s1", 0.0, 33.3375, "Head"), Station("s2", 101.6, 15.875, "Point")),
        (Section("taper"),),
    )


def now() -> str:
    return as_text(datetime.now(UTC))


def free_port() -> int:
    """One outside what a browser is lent for its own end: it must be free again after a stop."""
    for _ in range(100):
        port = random.randrange(20_000, 30_000)
        with closing(socket.socket()) as asking, suppress(OSError):
            asking.bind(("", port))
            return port
    raise AssertionError("no port is free")


def wait_until(true: Callable[[], bool], seconds: float = 15) -> None:
    """Until something outside the browser is so."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "gave up waiting"
        time.sleep(0.05)
