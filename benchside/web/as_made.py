"""The page of a set as it was made: for next year, and for the wall."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from benchside.errors import BenchsideError
from benchside.job import as_made as job
from benchside.store.judging import AsMade
from benchside.web.render import now, render, see
from benchside.web.sets import fresh_key, picture

router = APIRouter()

Text = Annotated[str, Form()]


@router.get("/sets/{set_id}/as-made")
def show(request: Request, set_id: int) -> Response:
    return _page(request, set_id, {}, None)


@router.post("/sets/{set_id}/as-made")
def keep_words(
    request: Request,
    set_id: int,
    wood: Text = "",
    bits: Text = "",
    finish: Text = "",
    note: Text = "",
) -> Response:
    wood, bits, finish = (" ".join(text.split()) for text in (wood, bits, finish))
    words = AsMade(wood, bits, finish, note.strip())
    try:
        job.keep_words(request.app.state.shop, set_id, words)
    except BenchsideError as problem:
        if problem.status != 422:
            raise
        typed = {"wood": wood, "bits": bits, "finish": finish, "note": note}
        return _page(request, set_id, typed, problem)
    return see(f"/sets/{set_id}/as-made")


@router.post("/sets/{set_id}/as-made/mistakes")
def note_mistake(
    request: Request, set_id: int, key: Text = "", what: Text = "", cure: Text = ""
) -> Response:
    try:
        job.note_mistake(request.app.state.shop, set_id, what, cure, key=key, at=now())
    except BenchsideError as problem:
        if problem.status != 422:
            raise
        return _page(request, set_id, {"what": what, "cure": cure}, problem)
    return see(f"/sets/{set_id}/as-made#mistakes")


def _page(
    request: Request, set_id: int, typed: dict[str, str], problem: BenchsideError | None
) -> Response:
    made = job.as_made(request.app.state.shop, set_id)
    kept = made.standing.kept
    words = made.words
    fields = {"wood": words.wood, "bits": words.bits, "finish": words.finish, "note": words.note}
    return render(
        request,
        "as_made/page.html",
        status=problem.status if problem else 200,
        here="home",
        made=made,
        kept=kept,
        picture=picture(made.record.pattern, kept.choices),
        typed={**fields, "what": "", "cure": "", **typed},
        writing=problem is not None or not any(fields.values()),
        problems={problem.field: problem} if problem else {},
        fresh_key=fresh_key,
    )
