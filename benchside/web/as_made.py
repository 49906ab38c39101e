"""The page of a set as it was made: for next year, and for the wall."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from benchside.errors import BenchsideError
from benchside.job import as_made as job
from benchside.job import wood_of
from benchside.job.forms import by_field
from benchside.store.judging import AsMade
from benchside.web.asked import TypedForm, shop_of
from benchside.web.render import now, render, see
from benchside.web.sets import fresh_key, picture

router = APIRouter()

Text = Annotated[str, Form()]


@router.get("/sets/{set_id}/as-made")
def show(request: Request, set_id: int) -> Response:
    return _page(request, set_id, {}, None)


@router.post("/sets/{set_id}/as-made")
def keep_words(request: Request, set_id: int, sent: TypedForm) -> Response:
    wood, bits, finish = (" ".join(sent.get(of, "").split()) for of in ("wood", "bits", "finish"))
    words = AsMade(wood, bits, finish, sent.get("note", "").strip())
    try:
        job.keep_words(shop_of(request), set_id, words)
    except BenchsideError as problem:
        if problem.status != 422:
            raise
        return _page(request, set_id, {**asdict(words), "note": sent.get("note", "")}, problem)
    return see(f"/sets/{set_id}/as-made")


@router.post("/sets/{set_id}/as-made/mistakes")
def note_mistake(
    request: Request, set_id: int, key: Text = "", what: Text = "", cure: Text = ""
) -> Response:
    try:
        job.note_mistake(shop_of(request), set_id, what, cure, key=key, at=now())
    except BenchsideError as problem:
        if problem.status != 422:
            raise
        return _page(request, set_id, {"what": what, "cure": cure}, problem)
    return see(f"/sets/{set_id}/as-made#mistakes")


def _page(
    request: Request, set_id: int, typed: dict[str, str], problem: BenchsideError | None
) -> Response:
    made = job.as_made(shop_of(request), set_id)
    kept = made.standing.kept
    known = wood_of.known(shop_of(request), set_id)
    fields = asdict(made.words)
    return render(
        request,
        "as_made/page.html",
        status=problem.status if problem else 200,
        here="home",
        made=made,
        kept=kept,
        own_figures=known is not None and known.own,
        picture=picture(made.record.pattern, kept.choices),
        typed={**fields, "what": "", "cure": "", **typed},
        writing=problem is not None or not any(fields.values()),
        problems=by_field(problem),
        fresh_key=fresh_key,
    )
