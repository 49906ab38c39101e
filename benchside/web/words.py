"""Sentences by key: what the keys of the core stand for, and what page and script share."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any


@cache
def words() -> dict[str, Any]:
    """The sentences by group and key; "script" are those the turn page's script says."""
    each = ("words", "words_turn", "words_paper", "words_wood", "words_fit")
    return {group: said for name in each for group, said in _read(f"{name}.json").items()}


@cache
def words_module() -> str:
    """Those that the turn page's script says, as a module that a browser keeps."""
    said = {group: words()[group] for group in ("verdict", "action", "script")}
    return f"export default {json.dumps(said, ensure_ascii=False)};\n"


def _read(name: str) -> dict[str, Any]:
    path = Path(__file__).parent / "templates" / name
    found: dict[str, Any] = json.loads(path.read_text("utf-8"))
    return found
