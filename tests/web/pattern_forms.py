"""A pattern's table as a form sends it and as a page shows it."""

from __future__ import annotations

import html
import re
from typing import Any

from benchside.job import drafts, patterns
from benchside.job.drafts import Draft
from benchside.store.database import Shop


def typed(draft: Draft, **more: Any) -> dict[str, Any]:
    """A draft as a form sends it."""
    columns = {
        name: [getattr(row, name) for row in draft.rows]
        for name in (
            "id",
            "at",
            "diameter",
            "name",
            "kind",
            "tolerance",
            "position_tolerance",
            "form",
            "through",
            "called",
        )
    }
    return {
        **columns,
        "name_of_pattern": draft.name,
        "unit": draft.unit,
        "datum_end": draft.datum_end,
        **more,
    }


def opened(shop: Shop, pattern_id: int) -> dict[str, Any]:
    pattern = patterns.shown(shop, pattern_id).pattern
    return typed(drafts.draft_of(pattern, "mm"), pattern=str(pattern_id), base="1")


def with_cell(form: dict[str, Any], row: int, /, **cells: str) -> dict[str, Any]:
    changed = dict(form)
    for name, text in cells.items():
        changed[name] = [*form[name][: row - 1], text, *form[name][row:]]
    return changed


def values(page: str, name: str) -> list[str]:
    """What stands in the fields of a name, the template for new rows left out."""
    body = re.sub(r"<template.*?</template>", "", page, flags=re.DOTALL)
    fields = re.findall(rf'<input[^>]*name="{name}"[^>]*>', body)
    return [html.unescape(value) for f in fields for value in re.findall(r' value="([^"]*)"', f)]
