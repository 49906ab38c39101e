"""One pattern to begin with, as it is typed and as it is kept."""

from __future__ import annotations

from dataclasses import replace

from benchside.job import drafts, patterns, starting
from benchside.job.drafts import Draft
from benchside.store.database import Shop

AT = "2026-01-31T10:15:00.000Z"
LATER = "2026-02-01T08:00:00.000Z"

TABLE = """\
# pattern: Hall bench back spindle
at_mm,diameter_mm,name,kind,tolerance_mm,position_tolerance_mm,section,through_mm
0,15.875,tail tenon,tenon,0.1,,shoulder,
25,22,tail shoulder,decorative,,0.5,taper,
180.3,19,neck,slender,,,cove,14
196,19,first bead,decorative,,,bead,30.4
214,22,body,decorative,,,straight,
420,22,swell end,slender,,,taper,
475,18,drive shoulder,decorative,,,shoulder,
500,15.875,drive tenon,tenon,,,,
"""


def opened(shop: Shop, pattern_id: int, unit: drafts.TypingUnit = "mm") -> Draft:
    return drafts.draft_of(patterns.shown(shop, pattern_id).pattern, unit)


def with_cell(draft: Draft, row: int, **cells: str) -> Draft:
    rows = list(draft.rows)
    rows[row - 1] = replace(rows[row - 1], **cells)
    return replace(draft, rows=tuple(rows))


def ids(shop: Shop, pattern_id: int) -> list[str]:
    return [s.id for s in patterns.shown(shop, pattern_id).pattern.stations]


def rung() -> Draft:
    return replace(starting.SHAPES["rung"]("mm"), name="Plain rung")
