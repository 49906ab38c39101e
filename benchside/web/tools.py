"""The edges of the shop, and the speeds of a set beside their ceilings."""

from __future__ import annotations

from dataclasses import replace

from fastapi import APIRouter, Request, Response

from benchside import units
from benchside.errors import BenchsideError
from benchside.job import edges, speeds
from benchside.job.speeds import StageSpeed
from benchside.lathe.edges import ASSUMED_RPM, TOOLS, WEAR
from benchside.lathe.steps import Stage
from benchside.web import at_hand
from benchside.web.asked import TypedForm, shop_of, shop_unit
from benchside.web.render import render, see

router = APIRouter()


@router.get("/edges")
def the_edges(request: Request, kept: str = "") -> Response:
    """What has passed each edge since it was touched up."""
    return _edges_page(request, None, {}, kept=bool(kept))


@router.post("/edges")
def keep_limits(request: Request, sent: TypedForm) -> Response:
    """The maker's own limits."""
    typed = {name: sent.get(name, "") for name in (*TOOLS, "share")}
    problems: dict[str, BenchsideError] = {}
    figures: dict[str, float] = {}
    for name, text in typed.items():
        try:
            figures[name] = units.parse_figure(text, field=name)
        except BenchsideError as problem:
            problems[name] = problem
    own = edges.limits(shop_of(request))
    new = edges.Limits(
        {tool: figures.get(tool, own.after_m[tool]) for tool in TOOLS},
        figures.get("share", own.cutting_share * 100) / 100,
    )
    problems = {fault.field: fault for fault in edges.faults(new)} | problems
    if problems:
        return _edges_page(request, typed, problems)
    edges.keep_limits(shop_of(request), new)
    return see("/edges?kept=1")


@router.get("/sets/{set_id}/speeds")
def set_speeds(request: Request, set_id: int) -> Response:
    """Every stage's speed with its ceilings, and why."""
    found = speeds.speeds(shop_of(request), set_id)
    return render(
        request,
        "lathe/speeds.html",
        here="home",
        found=found,
        groups=_alike(found),
        kept=found.kept,
        heeded={stage: at_hand.heeded(one) for stage, one in found.stages.items()},
        unfit=at_hand.unfit(found.unfit, found.work, found.lathe, found.kept.unit),
        own={stage: at_hand.own_speed(one) for stage, one in found.stages.items()},
        rpm=at_hand.rpm,
        thick=at_hand.thick,
    )


def _alike(found: speeds.Speeds) -> list[tuple[list[Stage], StageSpeed]]:
    """Stages that follow one another with one speed and one set of ceilings, together."""
    groups: list[tuple[list[Stage], StageSpeed]] = []
    for stage, one in found.stages.items():
        if groups and replace(groups[-1][1], stage=stage) == one:
            groups[-1][0].append(stage)
        else:
            groups.append(([stage], one))
    return groups


def _edges_page(
    request: Request,
    typed: dict[str, str] | None,
    problems: dict[str, BenchsideError],
    *,
    kept: bool = False,
) -> Response:
    shop = shop_of(request)
    own = edges.limits(shop)
    shown = {tool: f"{metres:g}" for tool, metres in own.after_m.items()}
    return render(
        request,
        "lathe/edges.html",
        status=422 if problems else 200,
        here="shop",
        edges=edges.edges(shop),
        typed=typed or {**shown, "share": f"{own.cutting_share * 100:g}"},
        problems=problems,
        kept=kept,
        wear=WEAR,
        unit=shop_unit(request),
        assumed_rpm=ASSUMED_RPM,
    )
