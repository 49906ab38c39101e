"""Tenons in their mortises: parts, holes, final sizes, what goes where, and the sheet of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends, Form, Request, Response

from benchside.errors import BenchsideError, Refused
from benchside.job import fit_forms as forms
from benchside.job import fitting as job
from benchside.job.fit_forms import Told
from benchside.job.forms import by_field
from benchside.joint.fit import GLUE_FILLS_MM, SPLIT_SHARE
from benchside.joint.schools import schools
from benchside.lathe.sizes import TRY_OVER_MM
from benchside.store.database import Shop
from benchside.store.fitting import Axis
from benchside.web import fit_words, species_said
from benchside.web.pattern_parts import Posted
from benchside.web.render import now, render, see
from benchside.web.sets import fresh_key

router = APIRouter()

Text = Annotated[str, Form()]


@router.get("/sets/{set_id}/fit")
def overview(request: Request, set_id: int) -> Response:
    return _overview(request, set_id, {}, None)


@router.get("/sets/{set_id}/fit/sheet")
def sheet(request: Request, set_id: int) -> Response:
    found = job.fitting(_shop(request), set_id, now=now())
    return _page(request, "fit/sheet.html", found, None)


@router.post("/sets/{set_id}/fit/pairs")
def pairs(request: Request, set_id: int, form: Posted) -> Response:
    typed = {
        int(name.removeprefix("hole ")): str(value)[:10]
        for name, value in form.multi_items()
        if name.startswith("hole ") and name[5:].isdecimal() and len(name) < 9
    }
    try:
        if form.get("as_chosen"):
            forms.pair_as_chosen(_shop(request), set_id)
        else:
            forms.pair(_shop(request), set_id, typed, at=now())
    except BenchsideError as problem:
        if problem.status == 404:
            raise
        return _overview(request, set_id, typed, problem)
    return see(f"/sets/{set_id}/fit#pairs")


@router.get("/sets/{set_id}/fit/new")
def new(request: Request, set_id: int) -> Response:
    found = job.fitting(_shop(request), set_id, now=now())
    free = found.free_ends
    dry_mc = found.known.dry_mc if found.known else 8.0
    told = Told(
        tenon=free[0].id if free else "",
        moisture=f"{dry_mc:.1f}",
        tenon_moisture=f"{min(6.0, dry_mc):.1f}",
        turning="across",
    )
    return _form(request, set_id, None, told, None)


def as_typed(
    name: Text = "",
    species: Text = "",
    moisture: Text = "",
    across: Text = "",
    tenon: Text = "",
    test_hole: Text = "",
    school: Text = "",
    own_fit: Text = "",
    tenon_moisture: Text = "",
    turning: Text = "",
) -> Told:
    return Told(
        name,
        species,
        moisture,
        across,
        tenon,
        test_hole,
        school,
        own_fit,
        tenon_moisture,
        turning,
    )


@router.post("/sets/{set_id}/fit/new")
def add(
    request: Request, set_id: int, told: Annotated[Told, Depends(as_typed)], key: Text = ""
) -> Response:
    return _keep(request, set_id, None, key, told)


@router.get("/sets/{set_id}/fit/{part_key}")
def one(request: Request, set_id: int, part_key: str, at: str = "", named: str = "") -> Response:
    """One part; ``at`` names the tenon or hole that was just kept, so that it stays open, and
    ``named`` what its species was called as it was just said."""
    return _one(request, set_id, part_key, at, {}, None, named)


@router.get("/sets/{set_id}/fit/{part_key}/edit")
def edit(request: Request, set_id: int, part_key: str) -> Response:
    found = job.fitting(_shop(request), set_id, now=now())
    told = forms.as_told(found.part(part_key).part, found.standing.kept.unit)
    return _form(request, set_id, part_key, told, None)


@router.post("/sets/{set_id}/fit/{part_key}/edit")
def change(
    request: Request, set_id: int, part_key: str, told: Annotated[Told, Depends(as_typed)]
) -> Response:
    job.fitting(_shop(request), set_id, now=now()).part(part_key)
    return _keep(request, set_id, part_key, part_key, told)


@dataclass(frozen=True, slots=True)
class Sizes:
    """Two sizes a quarter turn apart, as sent. ``at_lathe``: from the page for one tenon."""

    typed: dict[Axis, str]
    key: str
    sure: bool
    at_lathe: bool


def as_sent(
    key: Text = "", a: Text = "", b: Text = "", sure: Text = "", at_lathe: Text = ""
) -> Sizes:
    return Sizes({"A": a[:40], "B": b[:40]}, key, bool(sure), bool(at_lathe))


Sent = Annotated[Sizes, Depends(as_sent)]


@router.post("/sets/{set_id}/fit/{part_key}/holes/{hole}")
def read_hole(request: Request, set_id: int, part_key: str, hole: int, sent: Sent) -> Response:
    return _read(request, forms.read_hole, set_id, part_key, hole, sent, f"hole-{hole}")


@router.get("/sets/{set_id}/fit/{part_key}/pieces/{number}")
def at_the_lathe(
    request: Request, set_id: int, part_key: str, number: int, kept: str = ""
) -> Response:
    """One tenon with its size, to read it with one hand; ``kept`` is the one before it."""
    return _at_the_lathe(request, set_id, part_key, number, kept, {}, None)


@router.post("/sets/{set_id}/fit/{part_key}/pieces/{number}")
def read_size(request: Request, set_id: int, part_key: str, number: int, sent: Sent) -> Response:
    where = "" if sent.at_lathe else f"piece-{number}"
    return _read(request, forms.read_size, set_id, part_key, number, sent, where)


def _read(
    request: Request,
    keep: Callable[..., None],
    set_id: int,
    part_key: str,
    number: int,
    sent: Sizes,
    where: str,
) -> Response:
    """Keep two sizes; back to ``where`` they were typed, or at the lathe on to the next tenon.

    A tenon that is still over, or the last of all, shows once more with what its sizes mean.
    """
    shop, how = _shop(request), {"key": sent.key, "sure": sent.sure, "at": now()}
    try:
        keep(shop, set_id, part_key, number, sent.typed, **how)
    except BenchsideError as problem:
        if problem.status == 404:
            raise
        if not where:
            return _at_the_lathe(request, set_id, part_key, number, "", sent.typed, problem)
        return _one(request, set_id, part_key, where, sent.typed, problem)
    base = f"/sets/{set_id}/fit"
    if where:
        return see(f"{base}/{part_key}?at={where}#{where}")
    found = job.fitting(shop, set_id, now=now())
    done = fit_words.done_with(found.row(part_key, number), found.part(part_key))
    if not done or (following := _following(found, part_key, number)) is None:
        return see(f"{base}/{part_key}/pieces/{number}")
    part, row = following
    return see(f"{base}/{part.part.key}/pieces/{row.number}?kept={number}.{part_key}")


def _following(found: job.Fit, part_key: str, number: int) -> tuple[job.PartFit, job.Row] | None:
    """The tenon to go on to from that one, or None where no other waits."""
    following = found.next_to_size(part_key, number)
    if following and (following[0].part.key, following[1].number) == (part_key, number):
        return None
    return following


@router.post("/sets/{set_id}/fit/{part_key}/pieces/{number}/home")
def home(request: Request, set_id: int, part_key: str, number: int, out: Text = "") -> Response:
    forms.home(_shop(request), set_id, part_key, number, out=bool(out), at=now())
    return see(f"/sets/{set_id}/fit/{part_key}?at=piece-{number}#piece-{number}")


@router.post("/sets/{set_id}/fit/{part_key}/strike")
def strike(
    request: Request, set_id: int, part_key: str, key: Text = "", back: Text = ""
) -> Response:
    forms.strike(_shop(request), set_id, part_key, key, None if back else now())
    return see(f"/sets/{set_id}/fit/{part_key}#read")


def _keep(request: Request, set_id: int, part_key: str | None, key: str, told: Told) -> Response:
    try:
        kept = forms.keep_part(_shop(request), set_id, told, key=key, at=now())
    except BenchsideError as problem:
        if problem.status == 404:
            raise
        return _form(request, set_id, part_key, told, problem)
    url = f"/sets/{set_id}/fit/{kept.key}"
    return see(species_said.named(url, _shop(request), told.species))


def _overview(
    request: Request, set_id: int, typed: dict[int, str], problem: BenchsideError | None
) -> Response:
    found = job.fitting(_shop(request), set_id, now=now())
    wanted = found.standing.kept.choices.wanted
    return _page(
        request,
        "fit/fit.html",
        found,
        problem,
        typed=typed,
        holes=range(1, max([wanted, *found.pairs]) + 1),
    )


def _form(
    request: Request, set_id: int, part_key: str | None, told: Told, problem: BenchsideError | None
) -> Response:
    found = job.fitting(_shop(request), set_id, now=now())
    free = [end for end in found.ends if end in found.free_ends or end.id == told.tenon]
    return _page(
        request,
        "fit/part_form.html",
        found,
        problem,
        part_key=part_key,
        typed=told,
        ends=free,
        schools=schools(),
        key=fresh_key(),
    )


def _one(
    request: Request,
    set_id: int,
    part_key: str,
    where: str,
    typed: dict[Axis, str],
    problem: BenchsideError | None,
    named: str = "",
) -> Response:
    found = job.fitting(_shop(request), set_id, now=now())
    part = found.part(part_key)
    unit = found.standing.kept.unit
    return _page(
        request,
        "fit/part.html",
        found,
        problem,
        this=part,
        part=part.part,
        where=where,
        understood=species_said.understood(_shop(request), named),
        typed=typed,
        picture=fit_words.mouth_picture(part.part.turning),
        chart=fit_words.year_picture(part, unit) if part.course else "",
        doubts=fit_words.doubts(part.course, unit),
        fresh_key=fresh_key,
        split_share=SPLIT_SHARE,
        glue_fills_mm=GLUE_FILLS_MM,
    )


def _at_the_lathe(
    request: Request,
    set_id: int,
    part_key: str,
    number: int,
    kept: str,
    typed: dict[Axis, str],
    problem: BenchsideError | None,
) -> Response:
    found = job.fitting(_shop(request), set_id, now=now())
    before, _, of_part = kept.partition(".")
    this = found.part(part_key)
    return _page(
        request,
        "fit/size.html",
        found,
        problem,
        this=this,
        picture=fit_words.mouth_picture(this.part.turning),
        row=found.row(part_key, number),
        before=[
            (part, row)
            for part in found.parts
            for row in part.rows
            if (part.part.key, str(row.number)) == (of_part, before)
        ],
        following=_following(found, part_key, number),
        typed=typed,
        try_over_mm=TRY_OVER_MM,
        key=fresh_key(),
    )


def _page(
    request: Request,
    template: str,
    found: job.Fit,
    problem: BenchsideError | None,
    **context: object,
) -> Response:
    return render(
        request,
        template,
        status=problem.status if problem else 200,
        here="home",
        found=found,
        kept=found.standing.kept,
        unit=found.standing.kept.unit,
        dot=fit_words.dot,
        doubts_of=fit_words.doubts,
        doubts_in_short=fit_words.in_short,
        verdict=fit_words.verdict,
        kinder=fit_words.kinder,
        no_wood=fit_words.no_wood,
        no_stop=fit_words.no_stop,
        kept_word=fit_words.kept,
        thought=fit_words.thought,
        waits=fit_words.waits,
        dryness=fit_words.dryness,
        no_wood_drawn=fit_words.no_wood_drawn,
        problem=problem,
        problems=by_field(problem),
        asks=any(isinstance(each, Refused) for each in by_field(problem).values()),
        **context,
    )


def _shop(request: Request) -> Shop:
    shop: Shop = request.app.state.shop
    return shop
