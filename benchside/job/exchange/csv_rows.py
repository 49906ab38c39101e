"""Rows as comma-separated text (RFC 4180), safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

from benchside.errors import NotUnderstood

# A text that begins so is taken for a formula by spreadsheets; one apostrophe in front keeps it a
# text. A text with apostrophes before such a sign gets one more, so that reading undoes it exactly.
_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_GUARDED = re.compile(r"'+[=+\-@\t\r]")
csv.field_size_limit(1_000_000)


def harmless(text: str) -> str:
    """The text, with an apostrophe in front if a spreadsheet would run it."""
    return f"'{text}" if _FORMULA.match(text) else text


def original(text: str) -> str:
    """What `harmless` was given."""
    return text[1:] if _GUARDED.match(text) else text


def write_rows(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A header line and the rows, lines ending in CRLF (RFC 4180, section 2)."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return out.getvalue()


def read_rows(text: str) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """The header and the rows, each with its number as a spreadsheet counts them; commas,
    semicolons or tabs between the cells, empty lines left out.

    Raises `NotUnderstood` for a text without a header, or with a quotation that never ends.
    """
    text = text.removeprefix("\ufeff")
    first = text.partition("\n")[0]
    between = max(",;\t", key=first.count)
    try:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=between, strict=True)
        rows = [(number, row) for number, row in enumerate(reader, 1) if row]
    except csv.Error as trouble:
        raise NotUnderstood(
            f"This is no whole table: {trouble}.", field="file", hint="Is the file cut short?"
        ) from None
    if not rows:
        raise NotUnderstood(
            "The table is empty.", field="file", hint="Its first line names the columns."
        )
    return [name.strip() for name in rows[0][1]], rows[1:]
