"""What the pages of patterns share: the form that came, the drawings, the maker's unit."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator
from dataclasses import astuple, dataclass, fields
from functools import partial
from typing import Annotated, Any

from fastapi import Depends, Path, Query, Request, Response
from markupsafe import Markup
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException

from benchside.draw.finished import datum_at_left
from benchside.draw.whole import whole
from benchside.errors import NotUnderstood, OutOfRange
from benchside.job import drafts
from benchside.job import patterns as job
from benchside.job.drafts import MOST_ROWS, Draft, Row, TypingUnit
from benchside.pattern import Pattern, places
from benchside.web.asked import TYPING_UNIT_COOKIE, typing_unit
from benchside.web.words import words

WIDE_PX, NARROW_PX, SMALL_PX = 760.0, 358.0, 320.0
MOST_UNDO = 12  # steps kept in the form for a page without its script
MOST_FIELDS = 60_000  # a table of thousands of rows is refused with a sentence, not cut off
MOST_BYTES = 2_000_000

_CELLS = tuple(field.name for field in fields(Row))
_A_YEAR_S = 365 * 24 * 3600


async def posted(request: Request) -> AsyncIterator[FormData]:
    """The form that came, however many rows it has; its files are closed behind it."""
    try:
        form = await request.form(max_files=1, max_fields=MOST_FIELDS, max_part_size=MOST_BYTES)
    except HTTPException as problem:
        raise OutOfRange(
            "That is far more than the table of one spindle.",
            hint=f"Up to {MOST_ROWS} stations, one to a row.",
        ) from problem
    yield form
    await form.close()


Posted = Annotated[FormData, Depends(posted)]
Id = Annotated[int, Path(ge=1, le=2**53)]
Revision = Annotated[int | None, Query(ge=1, le=2**53)]


@dataclass(frozen=True, slots=True)
class Picture:
    """One spindle drawn for a laptop and for a phone, where it may be drawn twice as thick."""

    wide: Markup
    narrow: Markup
    datum_right: bool


def picture(pattern: Pattern, unit: TypingUnit) -> Picture:
    sizes = [(p.at_mm, drafts.figure(p.diameter_mm, unit)) for p in places(pattern)]
    draw = partial(
        whole,
        pattern,
        labels=sizes,
        length_text=f"{drafts.figure(pattern.length_mm, unit)} {unit}",
        title=pattern.name or words()["drawing"]["spindle"],
    )
    return Picture(
        wide=Markup(draw(width=WIDE_PX, prefix="wide")),
        narrow=Markup(draw(width=NARROW_PX, thickness=2, prefix="narrow")),
        datum_right=not datum_at_left(pattern),
    )


def small_picture(pattern: Pattern, prefix: str) -> Markup:
    return Markup(whole(pattern, width=SMALL_PX, prefix=prefix))


def draft_in(form: FormData) -> Draft:
    columns = [texts_in(form, name) for name in _CELLS]
    if len({len(column) for column in columns}) != 1:
        raise NotUnderstood("That table did not arrive whole.", hint="Go back and send it again.")
    return Draft(
        name=text_in(form, "name_of_pattern"),
        rows=tuple(Row(*cells) for cells in zip(*columns, strict=True)),
        unit="in" if text_in(form, "unit") == "in" else "mm",
        datum_end="drive" if text_in(form, "datum_end") == "drive" else "tail",
        note=text_in(form, "note"),
    )


def before_in(form: FormData) -> list[Draft]:
    """The earlier states that a page without its script carries along."""
    try:
        found = json.loads(text_in(form, "before") or "[]")
        return [_unpacked(one) for one in found[-MOST_UNDO:]]
    except (ValueError, TypeError, KeyError, RecursionError):
        return []


def packed(draft: Draft) -> list[Any]:
    return [draft.name, draft.unit, draft.datum_end, draft.note, [astuple(r) for r in draft.rows]]


def _unpacked(packed: Any) -> Draft:
    name, unit, datum_end, note, rows = packed
    return Draft(
        name=str(name),
        rows=tuple(Row(*(str(cell) for cell in row)) for row in rows[: MOST_ROWS + 1]),
        unit="in" if unit == "in" else "mm",
        datum_end="drive" if datum_end == "drive" else "tail",
        note=str(note),
    )


def as_dict(row: Row) -> dict[str, str]:
    return {name: getattr(row, name) for name in _CELLS}


def text_in(form: FormData, name: str) -> str:
    found = form.get(name)
    return found if isinstance(found, str) else ""


def texts_in(form: FormData, name: str) -> list[str]:
    return [value for value in form.getlist(name) if isinstance(value, str)]


def number_in(form: FormData, name: str) -> int:
    text = text_in(form, name)
    if not (text.isascii() and text.isdigit() and len(text) < 15):
        raise NotUnderstood("That form did not arrive whole.", field=name)
    return int(text)


def uploaded_in(form: FormData) -> str:
    file = form.get("file")
    if not isinstance(file, UploadFile) or not file.filename:
        raise NotUnderstood(
            "There is no table to read.", field="table", hint="Paste one here, or choose a file."
        )
    found = file.file.read(job.LONGEST_TABLE + 1)
    try:
        return found.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise NotUnderstood(
            f"{file.filename[:60]} is not a table of plain text.",
            field="table",
            hint="Save it as CSV in UTF-8, or copy the rows and paste them here.",
        ) from problem


def shown_unit(request: Request) -> TypingUnit:
    asked = request.query_params.get("unit")
    return "in" if asked == "in" else "mm" if asked == "mm" else typing_unit(request)


def remember_unit(reply: Response, unit: TypingUnit) -> Response:
    reply.set_cookie(
        TYPING_UNIT_COOKIE, unit, max_age=_A_YEAR_S, path="/", httponly=True, samesite="strict"
    )
    return reply
