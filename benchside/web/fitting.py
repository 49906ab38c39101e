"""Tenons in their mortises: parts, holes, final sizes, what goes where, and the sheet of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends, Form, Request, Response

from benchside import units
from benchside.draw.mouth import YearLabels, mouth, year_chart
from benchside.errors import BenchsideError
from benchside.job import fit_forms as forms
from benchside.job import fitting as job
from benchside.job.fit_forms import Told
from benchside.job.forms import by_field
from benchside.joint.fit import GLUE_FILLS_MM, SEEN_MM, SPLIT_SHARE, Doubt
from benchside.joint.schools import schools
from benchside.lathe.sizes import TRY_OVER_MM, Verdict
from benchside.store.database import Shop
from benchside.store.fitting import Axis
from benchside.units import Unit
from benchside.web.labels import length
from benchside.web.pattern_parts import Posted
from benchside.web.render import now, render, see, signed
from benchside.web.sets import fresh_key
from benchside.web.words import words

router = APIRouter()

Text = Annotated[str, Form()]
CHART_WIDE, CHART_HIGH = 360.0, 230.0


@router.get("/sets/{set_id}/fit")
def overview(request: Request, set_id: int) -> Response:
    return _overview(request, set_id, {}, None)


@router.get("/sets/{set_id}/fit/sheet")
def sheet(request: Request, set_id: int) -> Response:
    found = job.fitting(_shop(request), set_id, now=now())
    return _page(request, "fit/sheet.html", found, None, doubts_of=_doubts)


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
def one(request: Request, set_id: int, part_key: str, at: str = "") -> Response:
    """One part; ``at`` names the tenon or hole that was just kept, so that it stays open."""
    return _one(request, set_id, part_key, at, {}, None)


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
    """Keep two sizes; back to ``where`` they were typed, or at the lathe on to the next tenon."""
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
    if found.row(part_key, number).to_size:
        return see(f"{base}/{part_key}/pieces/{number}")
    if (following := found.next_to_size(part_key, number)) is None:
        return see(base)
    part, row = following
    return see(f"{base}/{part.part.key}/pieces/{row.number}?kept={number}.{part_key}")


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
    return see(f"/sets/{set_id}/fit/{kept.key}")


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
        doubts_of=_doubts,
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
) -> Response:
    found = job.fitting(_shop(request), set_id, now=now())
    part = found.part(part_key)
    unit = found.standing.kept.unit
    said = words()["fit"]["mouth"]
    turning = part.part.turning
    return _page(
        request,
        "fit/part.html",
        found,
        problem,
        this=part,
        part=part.part,
        where=where,
        typed=typed,
        picture=mouth(job.RING_DEG[turning], said[turning], said["grain"]),
        chart=_chart(part, unit) if part.course else "",
        doubts=_doubts(part.course, unit),
        doubts_of=_doubts,
        verdict=_verdict,
        fresh_key=fresh_key,
        split_share=SPLIT_SHARE,
        seen_mm=SEEN_MM,
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
    return _page(
        request,
        "fit/size.html",
        found,
        problem,
        this=found.part(part_key),
        row=found.row(part_key, number),
        before=[
            (part, row)
            for part in found.parts
            for row in part.rows
            if (part.part.key, str(row.number)) == (of_part, before)
        ],
        following=found.next_to_size(part_key, number),
        typed=typed,
        try_over_mm=TRY_OVER_MM,
        verdict=_verdict,
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
        dot=_dot,
        problem=problem,
        problems=by_field(problem),
        **context,
    )


def _chart(part: job.PartFit, unit: Unit) -> str:
    assert part.course is not None
    year, said = part.course.year, words()["fit"]["chart"]
    figures = {
        f"{way}_{month}": signed(getattr(at, f"{way}_mm"), unit, fine=True)
        for month, at in (("dry", year.driest), ("damp", year.dampest))
        for way in ("along", "across")
    }
    labels = {name: text.format(**figures) for name, text in said.items()}
    return year_chart(
        year.along_mm.tolist(),
        year.across_mm.tolist(),
        split_mm=SPLIT_SHARE * part.course.mortise.bore_mm,
        loose_mm=-GLUE_FILLS_MM if part.glued else 0.0,
        width=CHART_WIDE,
        height=CHART_HIGH,
        labels=YearLabels(**labels),
    )


def _dot(dot_deg: float, datum_end: str) -> str:
    """Where the dot on a piece's end comes to lie, in words; by five degrees no hand tells."""
    lies = "along" if abs(dot_deg) < 5 else "across" if abs(dot_deg) > 85 else ""
    text: str = words()["fit"]["dot"][lies or ("left" if dot_deg > 0 else "right")]
    return text.format(deg=f"{abs(dot_deg):.0f}", end=datum_end)


def _doubts(course: job.Course | None, unit: Unit) -> list[tuple[str, str]]:
    """What speaks against a fit, in words: the short of it, and how much."""
    return [] if course is None else [_doubt(doubt, unit) for doubt in course.warnings]


def _doubt(doubt: Doubt, unit: Unit) -> tuple[str, str]:
    head, more = words()["fit"]["doubt"][doubt.what]
    sign = units.unit_sign(unit)
    return head.format(month=doubt.month), more.format(
        value=f"{signed(doubt.value, unit, fine=True)} {sign}",
        limit=f"{signed(doubt.limit, unit, fine=True)} {sign}",
    )


def _verdict(says: Verdict, unit: Unit) -> str:
    sizes = {"side": says.side_mm, "off": abs(says.off_mm)}
    text: str = words()["fit"]["verdict"][says.word]
    sign = units.unit_sign(unit)
    return text.format(**{n: f"{length(mm, unit, fine=True)} {sign}" for n, mm in sizes.items()})


def _shop(request: Request) -> Shop:
    shop: Shop = request.app.state.shop
    return shop
