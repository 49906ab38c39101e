"""The table of a pattern beside its live drawing: new, edited, read from text."""

from __future__ import annotations

import json
from functools import partial
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import JSONResponse
from starlette.datastructures import FormData

from benchside.errors import BenchsideError, OutOfRange, PatternBroken
from benchside.job import drafts, starting
from benchside.job import patterns as job
from benchside.job.drafts import MOST_ROWS, Draft, Row, TypingUnit
from benchside.job.shop import lathe
from benchside.lathe.parts import slenderness
from benchside.pattern import Pattern
from benchside.pattern.stations import FORMS, KINDS
from benchside.store.patterns import PatternRecord
from benchside.web.asked import shop_of, typing_unit
from benchside.web.fractions import plain, set_in
from benchside.web.pattern_parts import (
    MOST_UNDO,
    Id,
    Posted,
    as_dict,
    before_in,
    draft_in,
    number_in,
    packed,
    picture,
    remember_unit,
    small_picture,
    text_in,
    uploaded_in,
)
from benchside.web.render import environment, now, render, see

router = APIRouter()
page = partial(render, here="patterns")


@router.get("/patterns/new")
def new(request: Request, start: str = "") -> Response:
    unit = typing_unit(request)
    if start in starting.SHAPES:
        return _editor(request, starting.SHAPES[start](unit))
    return _beginnings(request)


@router.get("/patterns/{pattern_id}/edit")
def edit(request: Request, pattern_id: Id, turned: bool = False) -> Response:
    kept = job.shown(shop_of(request), pattern_id).kept
    draft = drafts.draft_of(kept.pattern, typing_unit(request))
    if not turned:
        return _editor(request, draft, kept=kept)
    other = drafts.changed(draft, "mirror", base=kept.pattern)
    return _editor(request, other, kept=kept, before=[draft])


@router.post("/patterns/new")
def save_new(request: Request, form: Posted) -> Response:
    shop = shop_of(request)
    draft, what = draft_in(form), text_in(form, "do")
    if what != "save":
        return _turned_over(request, form, draft, what)
    try:
        pattern_id = job.create(shop, draft, at=now())
    except BenchsideError as problem:
        return _editor(request, draft, problem=problem, before=before_in(form))
    return remember_unit(see(f"/patterns/{pattern_id}"), draft.unit)


@router.post("/patterns/{pattern_id}/edit")
def save(request: Request, pattern_id: Id, form: Posted) -> Response:
    shop = shop_of(request)
    base = number_in(form, "base")
    kept = job.shown(shop, pattern_id, base).kept
    draft, what = draft_in(form), text_in(form, "do")
    if what not in ("save", "save_anyway", "save_apart"):
        return _turned_over(request, form, draft, what, kept=kept)
    try:
        if what == "save_apart":
            pattern_id = job.save_apart(shop, pattern_id, draft, base=base, at=now())
        else:
            over = number_in(form, "newest") if what == "save_anyway" else None
            job.save_revision(shop, pattern_id, draft, base=base, at=now(), over=over)
    except BenchsideError as problem:
        return _editor(request, draft, kept=kept, problem=problem, before=before_in(form))
    return remember_unit(see(f"/patterns/{pattern_id}"), draft.unit)


@router.post("/patterns/draw")
def draw(request: Request, form: Posted) -> Response:
    """The live half of the table: what is wrong, what follows, the drawing; rows after a change."""
    shop = shop_of(request)
    base = None
    if text_in(form, "pattern"):
        base = job.shown(shop, number_in(form, "pattern"), number_in(form, "base")).pattern
    draft, what = draft_in(form), text_in(form, "do")
    changed = drafts.changed(draft, what, base=base) if what else draft
    judged = drafts.judge(changed, base=base, lathe=lathe(shop))
    partials: Any = environment().get_template("patterns/_parts.html").module
    drawn = picture(judged.pattern, changed.unit) if judged.pattern else None
    return JSONResponse(
        {
            "rows": [as_dict(row) for row in changed.rows] if what else None,
            "unit": changed.unit,
            "datum_end": changed.datum_end,
            "drawing": set_in(partials.drawing(drawn)) if drawn else None,
            "facts": set_in(_facts(partials, judged.pattern, changed.unit)),
            "after": [
                set_in(partials.after(judged, i, changed.unit)) for i in range(len(changed.rows))
            ],
            "problems": [
                {"row": p.row, "field": p.field, "message": plain(p.message), "hint": plain(p.hint)}
                for p in judged.problems
            ],
        }
    )


@router.post("/patterns/read")
def read(request: Request, form: Posted) -> Response:
    """A pasted table, or a file; what was pasted is given back with what is wrong in it."""
    name, text = text_in(form, "name"), text_in(form, "table")
    unit: TypingUnit = "in" if text_in(form, "unit") == "in" else "mm"
    try:
        text = text if text.strip() else uploaded_in(form)
        pattern_id = job.read_table(shop_of(request), text, name=name, unit=unit, at=now())
    except BenchsideError as problem:
        return _beginnings(request, name=name, table=text, unit=unit, problem=problem)
    return remember_unit(see(f"/patterns/{pattern_id}"), unit)


def _beginnings(
    request: Request,
    *,
    name: str = "",
    table: str = "",
    unit: TypingUnit | None = None,
    problem: BenchsideError | None = None,
) -> Response:
    unit = unit or typing_unit(request)
    shapes = [
        (key, small_picture(pattern, f"n{i}") if pattern else None)
        for i, (key, make) in enumerate(starting.SHAPES.items())
        for pattern in [drafts.judge(make(unit)).pattern]
    ]
    return page(
        request,
        "patterns/new.html",
        status=problem.status if problem else 200,
        shapes=shapes,
        name=name[:1000],
        table=table[: job.LONGEST_TABLE],
        unit=unit,
        problem=problem,
        problems=problem.problems if isinstance(problem, PatternBroken) else (),
    )


def _editor(
    request: Request,
    draft: Draft,
    *,
    kept: PatternRecord | None = None,
    problem: BenchsideError | None = None,
    before: list[Draft] | None = None,
) -> Response:
    if len(draft.rows) > MOST_ROWS:
        raise OutOfRange(
            f"{len(draft.rows)} rows are more than one spindle can be set out by.",
            hint=f"Up to {MOST_ROWS} stations, one to a row.",
        )
    shop = shop_of(request)
    judged = drafts.judge(draft, base=kept.pattern if kept else None, lathe=lathe(shop))
    # A table just opened is not scolded for what is not filled in yet.
    tried = problem is not None or bool(before)
    drawn = judged.pattern or (kept.pattern if kept else None)
    return page(
        request,
        "patterns/edit.html",
        status=problem.status if problem else 200,
        draft=draft,
        judged=judged,
        kept=kept,
        problem=problem,
        problems={(p.row, p.field): p for p in judged.problems} if tried else {},
        listed_problems=judged.problems if tried else (),
        picture=picture(drawn, draft.unit) if drawn else None,
        slender=slenderness(drawn) if drawn else None,
        drawn=drawn,
        drawn_from="draft" if judged.pattern else "kept" if kept else "none",
        before=json.dumps([packed(one) for one in before or []]) if before else "",
        blank=Row(),
        kinds=KINDS,
        forms=FORMS,
    )


def _turned_over(
    request: Request,
    form: FormData,
    draft: Draft,
    what: str,
    *,
    kept: PatternRecord | None = None,
) -> Response:
    """A page without its script: the same form after one of its buttons. Nothing is kept."""
    before = before_in(form)
    if what == "undo":
        return _editor(request, before[-1] if before else draft, kept=kept, before=before[:-1])
    if what in ("", "check"):
        return _editor(request, draft, kept=kept, before=before or [draft])
    try:
        base = kept.pattern if kept else None
        changed = drafts.changed(draft, what, base=base)
    except BenchsideError as problem:
        return _editor(request, draft, kept=kept, problem=problem, before=before)
    return _editor(request, changed, kept=kept, before=[*before, draft][-MOST_UNDO:])


def _facts(partials: Any, pattern: Pattern | None, unit: TypingUnit) -> str:
    return partials.facts(pattern, slenderness(pattern), unit) if pattern else ""
