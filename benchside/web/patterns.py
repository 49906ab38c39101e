"""Patterns: the list, one pattern, its table beside a live drawing, scaling, the order of steps."""

from __future__ import annotations

import json
import re
from collections.abc import AsyncIterator, Mapping
from dataclasses import astuple, dataclass, fields, replace
from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Path, Query, Request, Response
from fastapi.responses import JSONResponse
from markupsafe import Markup
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException

from benchside import units
from benchside.draw import spindle
from benchside.errors import BenchsideError, NotUnderstood, OutOfRange, PatternBroken
from benchside.job import drafts, starting
from benchside.job import patterns as job
from benchside.job.drafts import MOST_ROWS, Draft, Row, TypingUnit
from benchside.job.shop import lathe
from benchside.lathe import plan
from benchside.lathe.parts import slenderness
from benchside.pattern import Pattern, places
from benchside.pattern.shapes import FORMS, KINDS
from benchside.store.database import Shop
from benchside.store.patterns import PatternRecord
from benchside.web.render import environment, now, render, see, wants_json

router = APIRouter()
page = partial(render, here="patterns")

WIDE_PX, NARROW_PX, SMALL_PX = 760.0, 358.0, 320.0
SPINDLE = "The spindle"  # what a drawing of one without a name is called
MOST_UNDO = 12  # steps kept in the form for a page without its script
MOST_FIELDS = 60_000  # a table of thousands of rows is refused with a sentence, not cut off
MOST_BYTES = 2_000_000

_CELLS = tuple(field.name for field in fields(Row))
_UNIT_COOKIE = "benchside_typing_unit"
_LENGTH_BEHIND = re.compile(r", [0-9][0-9 ⁄.]* (?:mm|in)$")
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


# ------------------------------------------------------------------ reading


@router.get("/patterns")
def the_list(request: Request, archived: bool = False, choose: bool = False) -> Response:
    shop: Shop = request.app.state.shop
    found = job.listed(shop, archived=archived)
    return page(
        request,
        "patterns/list.html",
        found=[(one, _small(one.kept.pattern, f"p{one.kept.id}")) for one in found],
        archived=archived,
        choose=choose and not archived,
        others=len(job.listed(shop, archived=not archived)),
        unit=typing_unit(request),
    )


@router.get("/patterns/new")
def new(request: Request, start: str = "") -> Response:
    unit = typing_unit(request)
    if start in starting.SHAPES:
        return _editor(request, starting.SHAPES[start](unit))
    return _beginnings(request)


@router.get("/patterns/{pattern_id}")
def show(request: Request, pattern_id: Id, revision: Revision = None) -> Response:
    return _show(request, pattern_id, revision, None)


@router.get("/patterns/{pattern_id}/table.csv")
def write_out(request: Request, pattern_id: Id, revision: Revision = None) -> Response:
    name, text = job.write_table(request.app.state.shop, pattern_id, revision)
    file = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:60] or "pattern"
    return Response(
        text,
        media_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{file}.csv"'},
    )


# ------------------------------------------------------------------ the table beside the drawing


@router.get("/patterns/{pattern_id}/edit")
def edit(request: Request, pattern_id: Id, turned: bool = False) -> Response:
    kept = job.shown(request.app.state.shop, pattern_id).kept
    draft = drafts.draft_of(kept.pattern, typing_unit(request))
    if not turned:
        return _editor(request, draft, kept=kept)
    other = drafts.changed(draft, "mirror", base=kept.pattern)
    return _editor(request, other, kept=kept, before=[draft])


@router.post("/patterns/new")
def save_new(request: Request, form: Posted) -> Response:
    shop: Shop = request.app.state.shop
    draft, what = _draft(form), _text(form, "do")
    if what != "save":
        return _turned_over(request, form, draft, what)
    try:
        pattern_id = job.create(shop, draft, at=now())
    except BenchsideError as problem:
        return _editor(request, draft, problem=problem, before=_before(form))
    return _remember_unit(see(f"/patterns/{pattern_id}"), draft.unit)


@router.post("/patterns/{pattern_id}/edit")
def save(request: Request, pattern_id: Id, form: Posted) -> Response:
    shop: Shop = request.app.state.shop
    base = _number(form, "base")
    kept = job.shown(shop, pattern_id, base).kept
    draft, what = _draft(form), _text(form, "do")
    if what not in ("save", "save_anyway", "save_apart"):
        return _turned_over(request, form, draft, what, kept=kept)
    try:
        if what == "save_apart":
            pattern_id = job.save_apart(shop, pattern_id, draft, base=base, at=now())
        else:
            over = _number(form, "newest") if what == "save_anyway" else None
            job.save_revision(shop, pattern_id, draft, base=base, at=now(), over=over)
    except BenchsideError as problem:
        return _editor(request, draft, kept=kept, problem=problem, before=_before(form))
    return _remember_unit(see(f"/patterns/{pattern_id}"), draft.unit)


@router.post("/patterns/draw")
def draw(request: Request, form: Posted) -> Response:
    """The live half of the table: what is wrong, what follows, the drawing; rows after a change."""
    shop: Shop = request.app.state.shop
    base = None
    if _text(form, "pattern"):
        base = job.shown(shop, _number(form, "pattern"), _number(form, "base")).pattern
    draft, what = _draft(form), _text(form, "do")
    changed = drafts.changed(draft, what, base=base) if what else draft
    judged = drafts.judge(changed, base=base, lathe=lathe(shop))
    partials: Any = environment().get_template("patterns/_parts.html").module
    picture = _picture(judged.pattern, changed.unit) if judged.pattern else None
    return JSONResponse(
        {
            "rows": [_as_dict(row) for row in changed.rows] if what else None,
            "unit": changed.unit,
            "datum_end": changed.datum_end,
            "drawing": str(partials.drawing(picture)) if picture else None,
            "facts": str(_facts(partials, judged.pattern, changed.unit)),
            "after": [
                str(partials.after(judged, i, changed.unit)) for i in range(len(changed.rows))
            ],
            "problems": [
                {"row": p.row, "field": p.field, "message": p.message, "hint": p.hint}
                for p in judged.problems
            ],
        }
    )


# ------------------------------------------------------------------ a table as text


@router.post("/patterns/read")
def read(request: Request, form: Posted) -> Response:
    """A pasted table, or a file; what was pasted is given back with what is wrong in it."""
    name, text = _text(form, "name"), _text(form, "table")
    unit: TypingUnit = "in" if _text(form, "unit") == "in" else "mm"
    try:
        text = text if text.strip() else _uploaded(form)
        pattern_id = job.read_table(request.app.state.shop, text, name=name, unit=unit, at=now())
    except BenchsideError as problem:
        return _beginnings(request, name=name, table=text, unit=unit, problem=problem)
    return _remember_unit(see(f"/patterns/{pattern_id}"), unit)


# ------------------------------------------------------------------ another length


@router.get("/patterns/{pattern_id}/scale")
def scale(request: Request, pattern_id: Id) -> Response:
    found = job.shown(request.app.state.shop, pattern_id)
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
    shop: Shop = request.app.state.shop
    found = job.shown(shop, pattern_id)
    typed = _ScaleForm(
        length=_text(form, "length")[:80],
        unit="in" if _text(form, "unit") == "in" else "mm",
        diameters=bool(_text(form, "diameters")),
        tenons=bool(_text(form, "tenons")),
        name=_text(form, "name"),
        suggested=_text(form, "suggested"),
    )
    what, new = _text(form, "do"), None
    try:
        length_mm = units.parse_length(typed.length, typed.unit, field="length")
        new = job.scaled(
            shop, pattern_id, length_mm, diameters=typed.diameters, tenons=typed.tenons
        )
        if what == "save":
            job.keep_scaled(shop, new, base=_number(form, "base"), at=now())
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
        picture=_picture(new.pattern if new else found.pattern, typed.unit),
        problem=problem,
        problems=problem.problems if isinstance(problem, PatternBroken) else (),
    )


def _at_length(name: str, length_mm: float, unit: TypingUnit) -> str:
    """A name for a pattern at another length: the length behind it, instead of an older one."""
    length = f", {drafts.figure(length_mm, unit)} {unit}"
    return _LENGTH_BEHIND.sub("", name)[: drafts.LONGEST_NAME - len(length)].rstrip() + length


# ------------------------------------------------------------------ order of steps, speeds


@router.get("/patterns/{pattern_id}/order")
def order(request: Request, pattern_id: Id) -> Response:
    return _order_page(request, pattern_id, None, {})


@router.post("/patterns/{pattern_id}/order")
def move(request: Request, pattern_id: Id, form: Posted) -> Response:
    """One step earlier or later, a whole order at once (a script), or benchside's own again."""
    shop: Shop = request.app.state.shop
    verb, _, step = _text(form, "do").partition(":")
    if verb in ("earlier", "later"):
        job.move_step(shop, pattern_id, step, later=verb == "later")
    elif verb == "reset":
        job.set_order(shop, pattern_id, ())
        step = ""
    elif verb == "order":
        job.set_order(shop, pattern_id, tuple(_texts(form, "step")))
    if wants_json(request):
        found = job.steps(shop, pattern_id)
        partials: Any = environment().get_template("patterns/_parts.html").module
        return JSONResponse(
            {
                "order": [step.id for step in found.steps],
                "own": bool(found.kept.step_order),
                "advice": str(partials.advice(found)),
            }
        )
    anchor = re.sub(r"[^\w.-]", "_", step)
    return see(f"/patterns/{pattern_id}/order" + (f"#step-{anchor}" if step else ""))


@router.post("/patterns/{pattern_id}/speeds")
def speeds(request: Request, pattern_id: Id, form: Posted) -> Response:
    typed: dict[str, str] = {stage: _text(form, f"speed-{stage}") for stage in plan.STAGES}
    try:
        job.set_speeds(request.app.state.shop, pattern_id, typed)
    except BenchsideError as problem:
        return _order_page(request, pattern_id, problem, typed)
    return see(f"/patterns/{pattern_id}/order#speeds")


def _order_page(
    request: Request, pattern_id: int, problem: BenchsideError | None, typed: Mapping[str, str]
) -> Response:
    found = job.steps(request.app.state.shop, pattern_id)
    return page(
        request,
        "patterns/order.html",
        status=problem.status if problem else 200,
        found=found,
        stages=[s for s in plan.STAGES if any(step.stage == s for step in found.steps)],
        speeds={**found.kept.speeds, **typed},
        problem=problem,
        unit=typing_unit(request),
    )


# ------------------------------------------------------------------ what one button does


@router.get("/patterns/{pattern_id}/mirror")
def show_mirrored(request: Request, pattern_id: Id) -> Response:
    return _mirror_page(request, pattern_id, None)


def _mirror_page(request: Request, pattern_id: int, problem: BenchsideError | None) -> Response:
    found = job.mirrored(request.app.state.shop, pattern_id)
    unit = typing_unit(request)
    return page(
        request,
        "patterns/mirror.html",
        status=problem.status if problem else 200,
        found=found,
        unit=unit,
        picture=_picture(found.pattern, unit),
        problem=problem,
    )


@router.post("/patterns/{pattern_id}/mirror")
def mirror(request: Request, pattern_id: Id, form: Posted) -> Response:
    try:
        job.mirror(request.app.state.shop, pattern_id, base=_number(form, "base"), at=now())
    except BenchsideError as problem:
        if problem.status == 404:
            raise
        return _mirror_page(request, pattern_id, problem)
    return see(f"/patterns/{pattern_id}")


@router.post("/patterns/{pattern_id}/go-back")
def go_back(request: Request, pattern_id: Id, form: Posted) -> Response:
    return _and_show(
        request, pattern_id, partial(job.go_back_to, revision=_number(form, "revision"), at=now())
    )


@router.post("/patterns/{pattern_id}/duplicate")
def duplicate(request: Request, pattern_id: Id, form: Posted) -> Response:
    try:
        new_id = job.duplicate(
            request.app.state.shop, pattern_id, _text(form, "copy_name"), at=now()
        )
    except BenchsideError as problem:
        problem.field = "copy_name"
        return _show(request, pattern_id, None, problem, {"copy_name": _text(form, "copy_name")})
    return see(f"/patterns/{new_id}")


@router.post("/patterns/{pattern_id}/name")
def rename(request: Request, pattern_id: Id, form: Posted) -> Response:
    typed = {"name": _text(form, "name"), "note": _text(form, "note")}
    try:
        job.rename(request.app.state.shop, pattern_id, typed["name"], typed["note"])
    except BenchsideError as problem:
        return _show(request, pattern_id, None, problem, typed)
    return see(f"/patterns/{pattern_id}")


@router.post("/patterns/{pattern_id}/archive")
def archive(request: Request, pattern_id: Id, form: Posted) -> Response:
    job.archive(request.app.state.shop, pattern_id, None if _text(form, "back") else now())
    return see(f"/patterns/{pattern_id}" if _text(form, "back") else "/patterns")


def _and_show(request: Request, pattern_id: int, do: Any) -> Response:
    try:
        do(request.app.state.shop, pattern_id)
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
    found = job.shown(request.app.state.shop, pattern_id, revision)
    unit = _shown_unit(request)
    given = {
        "name": found.kept.name,
        "note": found.kept.note,
        "copy_name": f"{found.kept.name} (copy)",
    }
    reply = page(
        request,
        "patterns/show.html",
        status=problem.status if problem else 200,
        found=found,
        picture=_picture(found.pattern, unit),
        unit=unit,
        problem=problem,
        typed={**given, **(typed or {})},
    )
    return _remember_unit(reply, unit)


# ------------------------------------------------------------------ pages


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
        (key, _small(pattern, f"n{i}") if pattern else None)
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
    shop: Shop = request.app.state.shop
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
        picture=_picture(drawn, draft.unit) if drawn else None,
        slender=slenderness(drawn) if drawn else None,
        drawn=drawn,
        drawn_from="draft" if judged.pattern else "kept" if kept else "none",
        before=json.dumps([_packed(one) for one in before or []]) if before else "",
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
    before = _before(form)
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


# ------------------------------------------------------------------ drawings


def _picture(pattern: Pattern, unit: TypingUnit) -> Picture:
    sizes = [(p.at_mm, drafts.figure(p.diameter_mm, unit)) for p in places(pattern)]
    draw = partial(
        spindle.whole,
        pattern,
        labels=sizes,
        length_text=f"{drafts.figure(pattern.length_mm, unit)} {unit}",
        title=pattern.name or SPINDLE,
    )
    return Picture(
        wide=Markup(draw(width=WIDE_PX, prefix="wide")),
        narrow=Markup(draw(width=NARROW_PX, thickness=2, prefix="narrow")),
        datum_right=not spindle.datum_at_left(pattern),
    )


def _facts(partials: Any, pattern: Pattern | None, unit: TypingUnit) -> str:
    return partials.facts(pattern, slenderness(pattern), unit) if pattern else ""


def _small(pattern: Pattern, prefix: str) -> Markup:
    return Markup(spindle.whole(pattern, width=SMALL_PX, prefix=prefix))


# ------------------------------------------------------------------ what the form holds


def _draft(form: FormData) -> Draft:
    columns = [_texts(form, name) for name in _CELLS]
    if len({len(column) for column in columns}) != 1:
        raise NotUnderstood("That table did not arrive whole.", hint="Go back and send it again.")
    return Draft(
        name=_text(form, "name_of_pattern"),
        rows=tuple(Row(*cells) for cells in zip(*columns, strict=True)),
        unit="in" if _text(form, "unit") == "in" else "mm",
        datum_end="drive" if _text(form, "datum_end") == "drive" else "tail",
        note=_text(form, "note"),
    )


def _before(form: FormData) -> list[Draft]:
    """The earlier states that a page without its script carries along."""
    try:
        found = json.loads(_text(form, "before") or "[]")
        return [_unpacked(one) for one in found[-MOST_UNDO:]]
    except (ValueError, TypeError, KeyError, RecursionError):
        return []


def _packed(draft: Draft) -> list[Any]:
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


def _as_dict(row: Row) -> dict[str, str]:
    return {name: getattr(row, name) for name in _CELLS}


def _text(form: FormData, name: str) -> str:
    found = form.get(name)
    return found if isinstance(found, str) else ""


def _texts(form: FormData, name: str) -> list[str]:
    return [value for value in form.getlist(name) if isinstance(value, str)]


def _number(form: FormData, name: str) -> int:
    text = _text(form, name)
    if not (text.isascii() and text.isdigit() and len(text) < 15):
        raise NotUnderstood("That form did not arrive whole.", field=name)
    return int(text)


def _uploaded(form: FormData) -> str:
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


# ------------------------------------------------------------------ the maker's unit


def typing_unit(request: Request) -> TypingUnit:
    return "in" if request.cookies.get(_UNIT_COOKIE) == "in" else "mm"


def _shown_unit(request: Request) -> TypingUnit:
    asked = request.query_params.get("unit")
    return "in" if asked == "in" else "mm" if asked == "mm" else typing_unit(request)


def _remember_unit(reply: Response, unit: TypingUnit) -> Response:
    reply.set_cookie(
        _UNIT_COOKIE, unit, max_age=_A_YEAR_S, path="/", httponly=True, samesite="strict"
    )
    return reply
