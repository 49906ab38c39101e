"""Patterns: the list, one pattern, scaling, mirroring, the order of steps."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import JSONResponse

from benchside import units
from benchside.errors import BenchsideError, PatternBroken
from benchside.job import drafts, forms
from benchside.job import patterns as job
from benchside.job.drafts import TypingUnit
from benchside.lathe.steps import STAGES
from benchside.store.database import Shop
from benchside.web.asked import shop_of, typing_unit
from benchside.web.fractions import set_in
from benchside.web.pattern_parts import (
    Id,
    Posted,
    Revision,
    number_in,
    picture,
    remember_unit,
    shown_unit,
    small_picture,
    text_in,
    texts_in,
)
from benchside.web.render import environment, now, render, see, wants_json
from benchside.web.words import words

router = APIRouter()
page = partial(render, here="patterns")

_LENGTH_BEHIND = re.compile(r", [0-9][0-9 ⁄.]* (?:mm|in)$")


# ------------------------------------------------------------------ reading


@router.get("/patterns")
def the_list(request: Request, archived: bool = False, choose: bool = False) -> Response:
    shop = shop_of(request)
    found = job.listed(shop, archived=archived)
    return page(
        request,
        "patterns/list.html",
        found=[(one, small_picture(one.kept.pattern, f"p{one.kept.id}")) for one in found],
        archived=archived,
        choose=choose and not archived,
        others=len(job.listed(shop, archived=not archived)),
        unit=typing_unit(request),
    )


@router.get("/patterns/{pattern_id}")
def show(request: Request, pattern_id: Id, revision: Revision = None) -> Response:
    return _show(request, pattern_id, revision, None)


@router.get("/patterns/{pattern_id}/table.csv")
def write_out(request: Request, pattern_id: Id, revision: Revision = None) -> Response:
    name, text = job.write_table(shop_of(request), pattern_id, revision)
    file = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:60] or "pattern"
    return Response(
        text,
        media_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{file}.csv"'},
    )


# ------------------------------------------------------------------ another length


@router.get("/patterns/{pattern_id}/scale")
def scale(request: Request, pattern_id: Id) -> Response:
    found = job.shown(shop_of(request), pattern_id)
    unit = typing_unit(request)
    typed = _ScaleForm(
        length=drafts.shown(found.pattern.length_mm, unit),
        unit=unit,
        diameters=False,
        tenons=False,
        name="",
        suggested="",
    )
    return _scale_page(request, found, typed, None, None)


@router.post("/patterns/{pattern_id}/scale")
def keep_scaled(request: Request, pattern_id: Id, form: Posted) -> Response:
    shop = shop_of(request)
    found = job.shown(shop, pattern_id)
    typed = _ScaleForm(
        length=text_in(form, "length")[:80],
        unit="in" if text_in(form, "unit") == "in" else "mm",
        diameters=bool(text_in(form, "diameters")),
        tenons=bool(text_in(form, "tenons")),
        name=text_in(form, "name"),
        suggested=text_in(form, "suggested"),
    )
    what, new = text_in(form, "do"), None
    try:
        length_mm = units.parse_length(typed.length, typed.unit, field="length")
        new = job.scaled(
            shop,
            pattern_id,
            length_mm,
            diameters=typed.diameters,
            tenons=typed.tenons,
            unit=typed.unit,
        )
        if what == "save":
            job.keep_scaled(shop, new, base=number_in(form, "base"), at=now())
            return see(f"/patterns/{pattern_id}")
        if what == "save_apart":
            apart = job.duplicate(shop, pattern_id, typed.name, at=now(), pattern=new.pattern)
            return see(f"/patterns/{apart}")
    except BenchsideError as problem:
        return _scale_page(request, found, typed, new, problem)
    return _scale_page(request, found, typed, new, None)


@dataclass(frozen=True, slots=True)
class _ScaleForm:
    length: str
    unit: TypingUnit
    diameters: bool
    tenons: bool
    name: str
    suggested: str


def _scale_page(
    request: Request,
    found: job.Shown,
    typed: _ScaleForm,
    new: job.Scaled | None,
    problem: BenchsideError | None,
) -> Response:
    if new and typed.name == typed.suggested:
        name = _at_length(found.kept.name, new.pattern.length_mm, typed.unit)
        typed = replace(typed, name=name, suggested=name)
    return page(
        request,
        "patterns/scale.html",
        status=problem.status if problem else 200,
        found=found,
        typed=typed,
        new=new,
        picture=picture(new.pattern if new else found.pattern, typed.unit),
        problem=problem,
        problems=problem.problems if isinstance(problem, PatternBroken) else (),
        possible=_possible(shop_of(request), found.kept.id, typed)
        if isinstance(problem, PatternBroken) or (problem and problem.field == "length_mm")
        else None,
    )


def _possible(shop: Shop, pattern_id: int, typed: _ScaleForm) -> tuple[str, str] | None:
    """The shortest and the longest it can be made, in whole millimetres or sixteenths within."""
    step_mm = 1.0 if typed.unit == "mm" else units.step_mm("in/16")
    found = job.possible_mm(
        shop, pattern_id, step_mm, diameters=typed.diameters, tenons=typed.tenons
    )
    return found and (drafts.figure(found[0], typed.unit), drafts.figure(found[1], typed.unit))


def _at_length(name: str, length_mm: float, unit: TypingUnit) -> str:
    """A name for a pattern at another length: the length behind it, instead of an older one."""
    length = f", {drafts.figure(length_mm, unit)} {unit}"
    return _LENGTH_BEHIND.sub("", name)[: forms.LONGEST_NAME - len(length)].rstrip() + length


# ------------------------------------------------------------------ order of steps, speeds


@router.get("/patterns/{pattern_id}/order")
def order(request: Request, pattern_id: Id) -> Response:
    return _order_page(request, pattern_id, None, {})


@router.post("/patterns/{pattern_id}/order")
def move(request: Request, pattern_id: Id, form: Posted) -> Response:
    """One step earlier or later, a whole order at once (a script), or benchside's own again."""
    shop = shop_of(request)
    verb, _, step = text_in(form, "do").partition(":")
    if verb in ("earlier", "later"):
        job.move_step(shop, pattern_id, step, later=verb == "later")
    elif verb == "reset":
        job.set_order(shop, pattern_id, ())
        step = ""
    elif verb == "order":
        job.set_order(shop, pattern_id, tuple(texts_in(form, "step")))
    if wants_json(request):
        found = job.steps(shop, pattern_id)
        partials: Any = environment().get_template("patterns/_parts.html").module
        return JSONResponse(
            {
                "order": [step.id for step in found.steps],
                "own": bool(found.kept.step_order),
                "advice": set_in(partials.advice(found)),
            }
        )
    anchor = re.sub(r"[^\w.-]", "_", step)
    return see(f"/patterns/{pattern_id}/order" + (f"#step-{anchor}" if step else ""))


@router.post("/patterns/{pattern_id}/speeds")
def speeds(request: Request, pattern_id: Id, form: Posted) -> Response:
    typed: dict[str, str] = {stage: text_in(form, f"speed-{stage}") for stage in STAGES}
    try:
        job.set_speeds(shop_of(request), pattern_id, typed)
    except BenchsideError as problem:
        return _order_page(request, pattern_id, problem, typed)
    return see(f"/patterns/{pattern_id}/order#speeds")


def _order_page(
    request: Request, pattern_id: int, problem: BenchsideError | None, typed: Mapping[str, str]
) -> Response:
    found = job.steps(shop_of(request), pattern_id)
    return page(
        request,
        "patterns/order.html",
        status=problem.status if problem else 200,
        found=found,
        stages=[s for s in STAGES if any(step.stage == s for step in found.steps)],
        speeds={**found.kept.speeds, **typed},
        problem=problem,
        unit=typing_unit(request),
    )


# ------------------------------------------------------------------ what one button does


@router.get("/patterns/{pattern_id}/mirror")
def show_mirrored(request: Request, pattern_id: Id) -> Response:
    return _mirror_page(request, pattern_id, None)


def _mirror_page(request: Request, pattern_id: int, problem: BenchsideError | None) -> Response:
    found = job.mirrored(shop_of(request), pattern_id)
    unit = typing_unit(request)
    return page(
        request,
        "patterns/mirror.html",
        status=problem.status if problem else 200,
        found=found,
        unit=unit,
        picture=picture(found.pattern, unit),
        problem=problem,
    )


@router.post("/patterns/{pattern_id}/mirror")
def mirror(request: Request, pattern_id: Id, form: Posted) -> Response:
    try:
        job.mirror(shop_of(request), pattern_id, base=number_in(form, "base"), at=now())
    except BenchsideError as problem:
        if problem.status == 404:
            raise
        return _mirror_page(request, pattern_id, problem)
    return see(f"/patterns/{pattern_id}")


@router.post("/patterns/{pattern_id}/go-back")
def go_back(request: Request, pattern_id: Id, form: Posted) -> Response:
    return _and_show(
        request, pattern_id, partial(job.go_back_to, revision=number_in(form, "revision"), at=now())
    )


@router.post("/patterns/{pattern_id}/duplicate")
def duplicate(request: Request, pattern_id: Id, form: Posted) -> Response:
    try:
        new_id = job.duplicate(shop_of(request), pattern_id, text_in(form, "copy_name"), at=now())
    except BenchsideError as problem:
        problem.field = "copy_name"
        return _show(request, pattern_id, None, problem, {"copy_name": text_in(form, "copy_name")})
    return see(f"/patterns/{new_id}")


@router.post("/patterns/{pattern_id}/name")
def rename(request: Request, pattern_id: Id, form: Posted) -> Response:
    typed = {"name": text_in(form, "name"), "note": text_in(form, "note")}
    try:
        job.rename(shop_of(request), pattern_id, typed["name"], typed["note"])
    except BenchsideError as problem:
        return _show(request, pattern_id, None, problem, typed)
    return see(f"/patterns/{pattern_id}")


@router.post("/patterns/{pattern_id}/archive")
def archive(request: Request, pattern_id: Id, form: Posted) -> Response:
    job.archive(shop_of(request), pattern_id, None if text_in(form, "back") else now())
    return see(f"/patterns/{pattern_id}" if text_in(form, "back") else "/patterns")


def _and_show(request: Request, pattern_id: int, do: Any) -> Response:
    try:
        do(shop_of(request), pattern_id)
    except BenchsideError as problem:
        if problem.status == 404:
            raise
        return _show(request, pattern_id, None, problem)
    return see(f"/patterns/{pattern_id}")


def _show(
    request: Request,
    pattern_id: int,
    revision: int | None,
    problem: BenchsideError | None,
    typed: Mapping[str, str] | None = None,
) -> Response:
    found = job.shown(shop_of(request), pattern_id, revision)
    unit = shown_unit(request)
    given = {
        "name": found.kept.name,
        "note": found.kept.note,
        "copy_name": words()["named"]["copy"].format(name=found.kept.name),
    }
    reply = page(
        request,
        "patterns/show.html",
        status=problem.status if problem else 200,
        found=found,
        picture=picture(found.pattern, unit),
        unit=unit,
        problem=problem,
        typed={**given, **(typed or {})},
    )
    return remember_unit(reply, unit)
