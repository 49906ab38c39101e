"""Pieces measured again when dry, and what the tree's wood was learned to do."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response
from starlette.datastructures import FormData

from benchside import units
from benchside.draw.mouth import Believed, believed
from benchside.draw.oval import oval
from benchside.errors import BenchsideError
from benchside.job import dried as job
from benchside.job import origin
from benchside.job.forms import by_field
from benchside.job.origin import Rings
from benchside.store.database import Shop
from benchside.units import Unit
from benchside.web.labels import length
from benchside.web.pattern_parts import Posted
from benchside.web.render import now, render, see
from benchside.web.sets import fresh_key
from benchside.web.words import words
from benchside.wood.learning import MOISTURE_SD, PIECE, TREE, Shrinkage
from benchside.wood.moisture import MOST_PERCENT

router = APIRouter()

Text = Annotated[str, Form()]
OVAL_PX = 340.0
CELL = "read "  # begins the name of a field: read PLACE AXIS


@router.get("/sets/{set_id}/dry")
def overview(request: Request, set_id: int) -> Response:
    return _overview(request, set_id, None, None)


@router.get("/sets/{set_id}/dry/{number}")
def piece(request: Request, set_id: int, number: int) -> Response:
    return _piece(request, set_id, number, None, {}, None)


@router.post("/sets/{set_id}/dry/{number}")
def take(request: Request, set_id: int, number: int, form: Posted) -> Response:
    cells, moisture = _cells(form), str(form.get("moisture", ""))[:40]
    try:
        job.take(
            _shop(request),
            set_id,
            number,
            cells,
            moisture=moisture,
            key=str(form.get("key", "")),
            sure=bool(form.get("sure")),
            at=now(),
        )
    except BenchsideError as problem:
        if problem.status == 404:
            raise
        return _piece(request, set_id, number, moisture, cells, problem)
    following = _following(job.dried(_shop(request), set_id), number)
    return see(f"/sets/{set_id}/dry" + (f"/{following}" if form.get("next") and following else ""))


@router.post("/sets/{set_id}/dry-strike")
def strike(
    request: Request,
    set_id: int,
    key: Text = "",
    back: Text = "",
    number: Annotated[int, Form()] = 0,
) -> Response:
    job.strike(_shop(request), set_id, key, None if back else now())
    return see(f"/sets/{set_id}/dry" + (f"/{number}#read" if number else ""))


@router.post("/sets/{set_id}/log")
def tell_log(request: Request, set_id: int, log: Text = "") -> Response:
    try:
        job.tell_log(_shop(request), set_id, log)
    except BenchsideError as problem:
        return _overview(request, set_id, log[:80], problem)
    return see(f"/sets/{set_id}/dry#learned")


@router.post("/sets/{set_id}/learned")
def use_learned(request: Request, set_id: int, use: Text = "") -> Response:
    job.use_learned(_shop(request), set_id, bool(use), at=now())
    return see(f"/sets/{set_id}/dry#learned")


def _overview(
    request: Request, set_id: int, log: str | None, problem: BenchsideError | None
) -> Response:
    found = job.dried(_shop(request), set_id)
    believed_now = found.shrinkage
    return render(
        request,
        "fit/dry.html",
        status=problem.status if problem else 200,
        here="home",
        found=found,
        kept=found.standing.kept,
        unit=found.standing.kept.unit,
        log=found.log if log is None else log,
        problems=by_field(problem),
        picture=_picture(believed_now) if believed_now and believed_now.radial.pieces else "",
        following=_following(found, 0),
        reckoned={"tree": TREE, "piece": PIECE, "moisture": MOISTURE_SD},
    )


def _piece(
    request: Request,
    set_id: int,
    number: int,
    moisture: str | None,
    typed: dict[tuple[str, str], str],
    problem: BenchsideError | None,
) -> Response:
    found = job.dried(_shop(request), set_id, _said_mc(number, moisture))
    this = found.piece(number)
    return render(
        request,
        "fit/dry_piece.html",
        status=problem.status if problem else 200,
        here="home",
        found=found,
        kept=found.standing.kept,
        unit=found.standing.kept.unit,
        piece=this,
        readings=[r for r in found.every if r.spindle == number],
        moisture=f"{this.holds.mc:.1f}" if moisture is None else moisture,
        typed=typed,
        problem=problem,
        problems=by_field(problem),
        rings=(rings := origin.rings(_shop(request), set_id).get(number)),
        picture=_oval(this, rings, found.standing.kept.unit) if rings and this.lines else "",
        key=fresh_key(),
        cell=CELL,
        datum_end=found.datum_end,
    )


def _said_mc(number: int, moisture: str | None) -> dict[int, float]:
    """The moisture of a piece as typed, where that is one, so that its sizes are expected at it."""
    try:
        value = units.parse_figure(moisture or "")
    except BenchsideError:
        return {}
    return {number: value} if 0 <= value <= MOST_PERCENT else {}


def _oval(piece: job.DryPiece, rings: Rings, unit: Unit) -> str:
    """The first of its places as it dries, turned as its blank lay."""
    line = piece.lines[0]
    sign = units.unit_sign(unit)
    wide, narrow = (f"{length(mm, unit, fine=True)} {sign}" for mm in line.expected_mm)
    return oval(
        line.turned.size_mm,
        *line.expected_mm,
        across=narrow,
        along=wide,
        width=OVAL_PX,
        label=words()["dry"]["oval"].format(deg=f"{rings.deg:.0f}", wide=wide, narrow=narrow),
        ring_deg=rings.deg,
        dot=True,
    )


def _picture(found: Shrinkage) -> str:
    said = words()["dry"]
    rows = [
        Believed(said[way], row.book, row.percent, row.low, row.high, row.each)
        for way, row in (("radial", found.radial), ("tangential", found.tangential))
    ]
    return believed(rows, said["picture"])


def _following(found: job.Dried, number: int) -> int | None:
    """The next piece whose tenons were not all measured, after this one."""
    waiting = [
        piece.number
        for piece in found.pieces
        if not piece.again and not all(line.measured for line in piece.lines if line.tenon)
    ]
    return next((n for n in waiting if n > number), waiting[0] if waiting else None)


def _cells(form: FormData) -> dict[tuple[str, str], str]:
    cells = {}
    for name, value in form.multi_items():
        if name.startswith(CELL) and isinstance(value, str):
            place_id, _, axis = name.removeprefix(CELL).rpartition(" ")
            cells[place_id, axis] = value[:40]
    return cells


def _shop(request: Request) -> Shop:
    shop: Shop = request.app.state.shop
    return shop
