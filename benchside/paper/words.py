"""The words that stand on paper. They come in by key, so that they are written in one place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any


@dataclass(frozen=True, slots=True)
class Paper:
    """What the sheets say. Names in braces are filled in where they stand."""

    sheet: str
    cut: str
    glue: str
    strip: str
    next_left: str
    next_right: str
    scale: str
    scale_short: str
    corrected: str
    corners: str
    corners_short: str
    check_sheet: tuple[str, ...]
    stick: str
    half: str
    trace: str
    trace_told: str
    half_told: Mapping[str, str]
    stick_told: str
    between_told: str
    sizes: Mapping[str, str]
    tail_end: str
    drive_end: str
    from_end: str
    caliper_at: str
    dry: str
    steady_from_end: str
    whole: str
    revision: str
    of_revision: str
    forms: Mapping[str, str]
    gauges: str
    gauges_told: Mapping[str, str]
    gauge_states: Mapping[str, str]
    go: str
    not_go: str
    labels: str
    labels_told: str
    practice: str
    blank: str


def paper_words(found: Mapping[str, Any]) -> Paper:
    """The words as read from a file. Raises `TypeError` when one is missing or unknown."""
    lists = {f.name for f in fields(Paper) if str(f.type).startswith("tuple")}
    told: dict[str, Any] = {k: tuple(v) if k in lists else v for k, v in found.items()}
    return Paper(**told)
