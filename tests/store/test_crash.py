"""The server is killed in the middle of its work, over and over; nothing it said it kept is lost.

The real server, ``benchside serve`` with all it does at its start, under taps from two phones that
send each reading until it is acknowledged. Each start is forked from a process that has everything
imported, since two hundred cold starts would take a quarter of an hour; what is forked has opened
nothing and is killed with SIGKILL.
"""

from __future__ import annotations

import http.client
import json
import os
import random
import signal
import socket
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path
from urllib.parse import urlencode

import pytest

from benchside.store import readings
from benchside.store.database import Shop
from tests.full_bench import SPINDLE, begin

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL"),
]

KILLS = 200
ROOT = Path(__file__).resolve().parents[2]

# Reads a line, forks the command line with it, answers with the child's number.
NURSERY = """
import os, sys
import uvicorn
from benchside import cli
from benchside.web import app, server
from benchside.store import backup
for line in sys.stdin:
    told, tell = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(0)
        os.read(told, 1)
        cli.main(line.rstrip("\\n").split("\\t"), prog_name="benchside")
        os._exit(0)
    print("\\nchild", child, flush=True)
    os.write(tell, b".")
    os.waitpid(child, 0)
    print("\\ngone", flush=True)
    os.close(told)
    os.close(tell)
"""


class Nursery:
    """Where servers come from, one at a time."""

    def __init__(self, process: subprocess.Popen[str], path: Path, port: int) -> None:
        self.process, self.path, self.port = process, path, port
        self.child: int | None = None

    def start(self) -> int:
        """Start a server; returns its process id at once."""
        assert self.process.stdin
        self.process.stdin.write(f"serve\t--port\t{self.port}\t--db\t{self.path}\n")
        self.process.stdin.flush()
        self.child = int(self._until("child ").split()[1])
        return self.child

    def wait_until_ready(self) -> None:
        self._until("ready ")

    def wait_until_gone(self) -> None:
        self._until("gone")
        self.child = None

    def _until(self, beginning: str) -> str:
        assert self.process.stdout
        said = []
        for line in self.process.stdout:
            if line.startswith(beginning):
                return line
            said.append(line)
        raise AssertionError("".join(said))


@pytest.fixture
def nursery(tmp_path: Path) -> Iterator[Nursery]:
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    with subprocess.Popen(
        [sys.executable, "-c", NURSERY],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        cwd=ROOT,
    ) as process:
        nursery = Nursery(process, tmp_path / "shop.db", port)
        try:
            yield nursery
        finally:
            if nursery.child is not None:
                with suppress(ProcessLookupError):
                    os.kill(nursery.child, signal.SIGKILL)
            process.kill()


class Phone(threading.Thread):
    """Taps readings of one piece; sends each with its own key until it is acknowledged."""

    def __init__(self, set_id: int, piece: int, port: int) -> None:
        super().__init__(daemon=True)
        self.set_id, self.piece, self.port = set_id, piece, port
        self.chance = random.Random(piece)
        self.acknowledged: dict[str, float] = {}
        self.resent = 0
        self.stop = threading.Event()
        self.trouble = ""

    def run(self) -> None:
        while not self.stop.is_set() and not self.trouble:
            station = self.chance.choice(SPINDLE.stations)
            key = f"{self.chance.getrandbits(128):032x}"
            value_mm = round(station.diameter_mm + self.chance.uniform(-0.3, 0.3), 2)
            tries = 0
            while not self._send(key, station.id, value_mm):
                tries += 1
                if self.stop.is_set() or self.trouble:
                    return
                time.sleep(0.01)
            self.resent += tries > 0
            self.acknowledged[key] = value_mm

    def _send(self, key: str, station_id: str, value_mm: float) -> bool:
        fields = {
            "key": key,
            "station_id": station_id,
            "value": str(value_mm),
            "unit": "mm",
            "kind": "diameter",
            "phase": "final",
        }
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=5)
        try:
            line.request(
                "POST",
                f"/sets/{self.set_id}/pieces/{self.piece}/reading",
                urlencode(fields),
                {
                    "Content-Type": "application/x-www-form-urlencoded",
                    "Accept": "application/json",
                },
            )
            reply = line.getresponse()
            said = reply.read()
        except (OSError, http.client.HTTPException):
            return False
        finally:
            line.close()
        if reply.status != 200:
            self.trouble = f"{reply.status} {said[:300]!r}"
            return False
        return isinstance(json.loads(said), dict)


def test_a_server_killed_two_hundred_times_loses_and_doubles_no_reading(
    nursery: Nursery,
) -> None:
    with closing(Shop(nursery.path)) as shop:
        set_id = begin(shop)
    phones = [Phone(set_id, piece, nursery.port) for piece in (1, 2)]
    for phone in phones:
        phone.start()
    chance = random.Random(20260302)
    kept_before = 0
    starting_kills = 0
    for kill in range(KILLS):
        server = nursery.start()
        if kill % 8 == 7:  # now and then while it is still starting
            time.sleep(chance.uniform(0.0, 0.3))
            starting_kills += 1
        else:
            nursery.wait_until_ready()
            wait_for_more(phones, chance.randrange(12))
            time.sleep(chance.uniform(0.0, 0.02))
        os.kill(server, signal.SIGKILL)
        nursery.wait_until_gone()
        acknowledged = [dict(phone.acknowledged) for phone in phones]
        kept = kept_in(nursery.path)
        for phone, answered in zip(phones, acknowledged, strict=True):
            assert not phone.trouble
            assert answered.items() <= kept.items()
        assert len(kept) >= kept_before
        kept_before = len(kept)
    last = nursery.start()
    nursery.wait_until_ready()
    wait_for_more(phones, 10)
    for phone in phones:
        phone.stop.set()
        phone.join(10)
        assert not phone.trouble
    os.kill(last, signal.SIGTERM)
    nursery.wait_until_gone()
    answered = phones[0].acknowledged | phones[1].acknowledged
    with closing(Shop(nursery.path)) as shop:
        rows = readings.every(shop, set_id)
    assert len({row.key for row in rows}) == len(rows)
    # A phone stopped between sending and hearing may have one reading kept that it was not told.
    assert len(answered) <= len(rows) <= len(answered) + len(phones)
    assert len(answered) > KILLS
    assert sum(phone.resent for phone in phones) > KILLS / 4
    assert starting_kills == KILLS // 8


def wait_for_more(phones: list[Phone], count: int) -> None:
    """Until so many readings more have been acknowledged."""
    until = sum(len(phone.acknowledged) for phone in phones) + count
    patience = time.monotonic() + 60
    while sum(len(phone.acknowledged) for phone in phones) < until:
        assert not any(phone.trouble for phone in phones), [phone.trouble for phone in phones]
        assert time.monotonic() < patience, "the server answers no more"
        time.sleep(0.002)


def kept_in(path: Path) -> dict[str, float]:
    """What the file holds, once it has been found sound."""
    with closing(sqlite3.connect(path)) as conn:
        assert conn.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert conn.execute("PRAGMA foreign_key_check").fetchall() == []
        return dict(conn.execute("SELECT key, value_mm FROM reading"))
