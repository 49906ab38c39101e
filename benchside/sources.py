"""The published figures that benchside leans on: one row a source, each with a key.

Code and tests name a source by its key with an at sign before it and the place in it after, all in
square brackets. The rows are in ``sources.csv`` beside this file.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal


@dataclass(frozen=True, slots=True)
class Source:
    """One publication, and where in it. ``seen``: read for this work, or quoted from memory."""

    key: str
    citation: str
    where: str
    used_for: str
    seen: Literal["read", "memory"]


@cache
def sources() -> tuple[Source, ...]:
    """Every source, in order of key."""
    with Path(__file__).with_name("sources.csv").open(encoding="utf-8", newline="") as file:
        rows = [
            Source(
                key=row["key"],
                citation=row["citation"],
                where=row["where"],
                used_for=row["used_for"],
                seen="read" if row["seen"] == "read" else "memory",
            )
            for row in csv.DictReader(file)
        ]
    return tuple(sorted(rows, key=lambda source: source.key))
