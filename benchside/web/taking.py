"""What is sent from the turn page: readings, marks, readings moved to another piece."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse

from benchside.errors import BenchsideError, NotUnderstood
from benchside.job import turning
from benchside.job.keys import key_for
from benchside.lathe.steps import STAGES, Step
from benchside.web import at_hand, labels
from benchside.web.asked import Asked, OfPiece, TypedForm
from benchside.web.faces import anchor
from benchside.web.render import now, see, wants_json
from benchside.web.sets import piece_page
from benchside.web.turn import Trouble, sitting_page

router = APIRouter()

OF_THE_SET = ("caliper_checked", "caliper_dropped")
# After these a phone that never loads the page again hears whether the set drifts now, and how
# calipers and edges stand.
TELLS_NEWS = ("done", "spoiled", "touched_up", *OF_THE_SET)
MOST_GIVEN_BACK = 40  # characters of what was typed
_WHOLE = re.compile("-?[0-9]{1,9}")


@router.post("/sets/{set_id}/pieces/{number}/reading")
def take_reading(at: OfPiece, typed: TypedForm) -> Response:
    """One reading, from the phone's queue or from a plain form."""
    try:
        answer = _take(at, _taken(typed))
    except BenchsideError as problem:
        given_back = typed.get("value", "")[:MOST_GIVEN_BACK]
        return _refused(at, typed, problem, given_back, typed.get("supersedes", ""))
    if wants_json(at.request):
        return JSONResponse({**labels.said(answer), "earlier": _earlier(answer)})
    return _return(at, typed.get("back", ""))


@router.post("/sets/{set_id}/pieces/{number}/readings")
async def take_readings(at: OfPiece, request: Request) -> Response:
    """Whatever was typed into the list of all readings, from a browser without script."""
    async with request.form() as form:
        pairs = [(n, v) for n, v in form.multi_items() if isinstance(v, str)]
    return await run_in_threadpool(_take_list, at, pairs)


@router.post("/sets/{set_id}/pieces/{number}/mark")
def take_mark(at: OfPiece, typed: TypedForm) -> Response:
    """Any other thing tapped. ``reason`` is a ready-made word that goes before ``text``.

    ``go`` is a button's ``what step_id``, or what it is ``about``: a caliper's letter (none means
    all of them), the key of what is withdrawn; where it leads to is found here.
    """
    if typed.get("go"):
        typed |= _gone(at, typed["go"], typed.get("stage", ""))
    what, text = typed.get("what", ""), typed.get("text", "")
    try:
        kept = turning.mark(
            at.shop,
            at.set_id,
            None if what in OF_THE_SET else at.number or None,
            _marked(typed),
            device_id=at.device_id,
            received_at=now(),
        )
    except BenchsideError as problem:
        return _refused(at, typed, problem, text, what if problem.field == "text" else "")
    if wants_json(at.request):
        said: dict[str, Any] = {"key": kept.key, "what": kept.what}
        if what in TELLS_NEWS:
            said |= at_hand.news(at.shop, at.set_id, at.number, what)
        return JSONResponse(said)
    back = typed.get("back", "")
    if what in ("done", "spoiled") and back.startswith("#"):
        return see(f"/sets/{at.set_id}/turn?after={at.number}")
    return _return(at, back)


@router.post("/sets/{set_id}/pieces/{number}/move")
def move_readings(at: OfPiece, typed: TypedForm) -> Response:
    """The last readings belong to another piece."""
    key = typed.get("key", "")
    count, to = _whole(typed, "count"), _whole(typed, "to")
    try:
        moved = turning.move(
            at.shop,
            at.set_id,
            at.number,
            count=count,
            to=to,
            key=key,
            database=typed.get("database", ""),
            device_id=at.device_id,
            received_at=now(),
        )
    except BenchsideError as problem:
        return _refused(at, typed, problem)
    if wants_json(at.request):
        return JSONResponse({"key": key, "moved": moved})
    return _return(at, typed.get("back", ""))


def _take(at: Asked, taken: turning.Taken) -> turning.Answer:
    return turning.take(
        at.shop, at.set_id, at.number, taken, device_id=at.device_id, received_at=now()
    )


def _taken(typed: dict[str, str]) -> turning.Taken:
    return turning.Taken(
        key=typed.get("key", ""),
        station_id=typed.get("station_id", ""),
        typed=typed.get("value", ""),
        unit=typed.get("unit", ""),
        kind=typed.get("kind", "diameter"),
        axis=typed.get("axis", "none"),
        phase=typed.get("phase", "final"),
        revision=_whole(typed, "revision") or None,
        taken_at=typed.get("taken_at", ""),
        sent_at=typed.get("sent_at", ""),
        supersedes=typed.get("supersedes", ""),
        note=typed.get("note", ""),
        sure=bool(typed.get("sure")),
        database=typed.get("database", ""),
        wood=_nth(typed.get("wood", "")),
        target_mm=typed.get("target_mm", ""),
    )


def _take_list(at: Asked, pairs: list[tuple[str, str]]) -> Response:
    typed, sure = dict(pairs), [value for name, value in pairs if name == "sure"]
    aims = [value.rpartition(" ") for name, value in pairs if name == "aim"]  # as the page showed
    aimed_mm = {step_id: to_mm for step_id, _, to_mm in aims}
    stage, troubles = typed.get("stage", ""), []
    sitting = turning.sitting(at.shop, at.set_id, at.number, stage or None)
    for step in sitting.steps:
        for axis, ending in (("A", ""), ("B", "/B")):
            name = step.id + ending
            if step.reads is None or not typed.get(name, "").strip():
                continue
            try:
                listed = _listed(typed, step, name, axis, sure=name in sure)
                _take(at, replace(listed, target_mm=aimed_mm.get(step.id, "")))
            except BenchsideError as problem:
                asks = isinstance(problem, turning.Surprising)
                given_back = typed[name][:MOST_GIVEN_BACK]
                troubles.append(Trouble(step.id, name, problem, given_back, asks))
    if troubles:
        return sitting_page(at, stage, troubles)
    return _return(at, f"#readings?{stage}")


def _listed(
    typed: dict[str, str], step: Step, name: str, axis: str, *, sure: bool
) -> turning.Taken:
    """One reading out of the list: the field ``name``, read across ``axis`` where both are."""
    return turning.Taken(
        key=key_for(typed.get("key", ""), name),
        station_id=step.place_id or "",
        typed=typed[name],
        unit="",
        kind=step.reads or "diameter",
        axis=axis if f"{step.id}/B" in typed else "none",
        phase=step.phase,
        sure=sure,
    )


def _marked(typed: dict[str, str]) -> turning.Marked:
    said = (typed.get("reason", ""), typed.get("text", "").strip())
    return turning.Marked(
        key=typed.get("key", ""),
        what=typed.get("what", ""),
        step_id=typed.get("step_id", ""),
        about=typed.get("about", ""),
        text=": ".join(part for part in said if part),
        taken_at=typed.get("taken_at", ""),
        sent_at=typed.get("sent_at", ""),
        database=typed.get("database", ""),
        wood=_nth(typed.get("wood", "")),
    )


def _gone(at: Asked, go: str, stage: str) -> dict[str, str]:
    """What a big button says, in the fields of a form, and where it leads back to."""
    what, _, where = go.partition(" ")
    about, step_id = (where, "") if what in (*OF_THE_SET, "withdrawn") else ("", where)
    leads = _leads_to(at, stage, what, step_id) if where or what not in OF_THE_SET else ""
    return {"what": what, "about": about, "step_id": step_id, "back": f"#{leads}?{stage}"}


def _leads_to(at: Asked, stage: str, what: str, step_id: str) -> str:
    """The anchor that a big button leads to: the step after its own."""
    steps = turning.sitting(at.shop, at.set_id, at.number, stage or None).steps
    ids = [step.id for step in steps]
    if what in ("withdrawn", "skip"):
        return "readings" if what == "withdrawn" or "done" not in ids else "done"
    if what == "touched_up" or step_id not in ids:
        return step_id or "more"
    after = steps[ids.index(step_id) + 1 :]
    return anchor(after[0]) if after else step_id


def _whole(typed: dict[str, str], name: str) -> int:
    """A whole number that the page itself put into a form; 0 where it is not there."""
    text = typed.get(name, "").strip()
    if text and not _WHOLE.fullmatch(text):
        raise NotUnderstood("That form did not arrive whole.", field=name)
    return int(text or 0)


def _nth(text: str) -> int | None:
    """The saying of the set's wood that a phone shows sizes from, where it says one."""
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else None


def _earlier(answer: turning.Answer) -> str:
    """What stood here before, when another hand took it."""
    before = answer.earlier
    if before is None or before.device_id == answer.reading.device_id:
        return ""
    fine = labels.fine_for(answer.place, before.kind)
    return labels.length(before.value_mm, before.unit, fine=fine)


def _refused(
    at: Asked, typed: dict[str, str], problem: BenchsideError, given_back: str = "", about: str = ""
) -> Response:
    """A refusal as the piece's own page shows it; a script and the turn page get it bare."""
    if wants_json(at.request) or typed.get("back", "").startswith("#") or not at.number:
        raise problem
    return piece_page(at, problem, given_back, about)


def _return(at: Asked, back: str) -> Response:
    """Back to where a form was sent from: a step of the turn page, or the piece's own page.

    ``back`` is ``#anchor`` or ``#anchor?stage``.
    """
    if not back.startswith("#"):
        return see(f"/sets/{at.set_id}/pieces/{at.number}" if at.number else f"/sets/{at.set_id}")
    step_id, _, stage = back.removeprefix("#").partition("?")
    query = f"?stage={stage}" if stage in STAGES else ""
    return see(f"/sets/{at.set_id}/turn/{at.number}{query}#{step_id}")
