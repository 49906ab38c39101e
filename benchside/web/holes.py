"""The register of test holes: the bit, the wood, the hole as measured, and how worn it is."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from benchside.errors import BenchsideError
from benchside.job import holes as job
from benchside.job.forms import by_field
from benchside.joint.hole import TIRED
from benchside.store.fitting import Axis
from benchside.web import species_said
from benchside.web.asked import TypedForm, filled, shop_of, shop_unit
from benchside.web.render import now, render, see
from benchside.web.sets import fresh_key

router = APIRouter()

Text = Annotated[str, Form()]


@router.get("/holes")
def the_register(request: Request) -> Response:
    return _register(request, job.Told(unit=shop_unit(request)), None)


@router.post("/holes")
def add(request: Request, sent: TypedForm) -> Response:
    told = filled(job.Told, sent)
    try:
        hole = job.add(shop_of(request), told, key=sent.get("key", ""), at=now())
    except BenchsideError as problem:
        return _register(request, told, problem)
    return see(species_said.named(f"/holes/{hole.kept.key}", shop_of(request), told.species))


@router.get("/holes/{hole_key}")
def one(request: Request, hole_key: str, named: str = "") -> Response:
    return _one(request, hole_key, {}, None, named)


@router.post("/holes/{hole_key}")
def read(
    request: Request, hole_key: str, key: Text = "", a: Text = "", b: Text = "", sure: Text = ""
) -> Response:
    typed: dict[Axis, str] = {"A": a, "B": b}
    try:
        job.read(shop_of(request), hole_key, typed, key=key, sure=bool(sure), at=now())
    except BenchsideError as problem:
        if problem.status == 404:
            raise
        return _one(request, hole_key, typed, problem)
    return see(f"/holes/{hole_key}")


@router.post("/holes/{hole_key}/strike")
def strike(request: Request, hole_key: str, key: Text = "", back: Text = "") -> Response:
    job.strike(shop_of(request), hole_key, key, None if back else now())
    return see(f"/holes/{hole_key}#read")


@router.post("/holes/{hole_key}/use")
def use(request: Request, hole_key: str, uses: Annotated[int, Form()] = 0) -> Response:
    job.used(shop_of(request), hole_key, uses)
    return see(f"/holes/{hole_key}")


@router.post("/holes/{hole_key}/wear")
def wear(request: Request, hole_key: str, fresh: Text = "") -> Response:
    job.wear(shop_of(request), hole_key, None if fresh else now())
    return see(f"/holes/{hole_key}")


def _register(request: Request, told: job.Told, problem: BenchsideError | None) -> Response:
    return render(
        request,
        "fit/holes.html",
        status=problem.status if problem else 200,
        here="shop",
        holes=job.listed(shop_of(request)),
        typed=told,
        problem=problem,
        problems=by_field(problem),
        key=fresh_key(),
        tired=TIRED,
    )


def _one(
    request: Request,
    hole_key: str,
    typed: dict[Axis, str],
    problem: BenchsideError | None,
    named: str = "",
) -> Response:
    found = job.seen(shop_of(request), hole_key)
    return render(
        request,
        "fit/hole.html",
        status=problem.status if problem else 200,
        here="shop",
        hole=found,
        kept=found.kept,
        understood=species_said.understood(shop_of(request), named),
        unit=found.kept.unit,
        typed=typed,
        problem=problem,
        problems=by_field(problem),
        key=fresh_key(),
        tired=TIRED,
    )
