"""The real server in a process of its own, started as a maker starts it."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


@dataclass(frozen=True, slots=True)
class Serving:
    """A running server: its address, what it said before it was ready, its process."""

    url: str
    said: str
    process: subprocess.Popen[str]


@contextmanager
def benchside(*arguments: str | Path, cwd: Path = ROOT) -> Iterator[Serving]:
    """``benchside ARGUMENTS``, until the block ends; comes back when it answers."""
    with start(*arguments, cwd=cwd) as process:
        try:
            yield wait_until_ready(process)
        finally:
            process.terminate()
            process.communicate(timeout=30)


def start(*arguments: str | Path, cwd: Path = ROOT) -> subprocess.Popen[str]:
    """The command line in a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "benchside", *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"},
    )


def wait_until_ready(process: subprocess.Popen[str]) -> Serving:
    """Read what a server says up to its line ``ready URL``."""
    assert process.stdout is not None
    said = []
    for line in process.stdout:
        if line.startswith("ready "):
            return Serving(line.split()[1], "".join(said), process)
        said.append(line)
    raise AssertionError("it never became ready:\n" + "".join(said))
