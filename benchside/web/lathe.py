"""The lathe, described once for the shop."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, get_args

from fastapi import APIRouter, Request, Response

from benchside import units
from benchside.errors import BenchsideError, NotUnderstood
from benchside.job import drafts, shop
from benchside.job.drafts import TypingUnit
from benchside.lathe.outfit import GRIPS, STEADIES, Grip, Steady
from benchside.web.asked import TypedForm, shop_of, shop_unit
from benchside.web.render import render, see

router = APIRouter()

LENGTHS = ("swing_mm", "between_centres_mm")
SPEEDS = ("least_rpm", "most_rpm")
FIELDS = (*LENGTHS, "steps_rpm", *SPEEDS, "steady", "steady_n_per_mm", "grip")


@router.get("/lathe")
def the_lathe(request: Request, kept: str = "") -> Response:
    return _page(request, None, {}, kept=bool(kept))


@router.post("/lathe")
def keep_lathe(request: Request, sent: TypedForm) -> Response:
    typed = {field: sent.get(field, "") for field in FIELDS}
    new, problems = _lathe(shop.lathe(shop_of(request)), typed, shop_unit(request))
    problems = {fault.field: fault for fault in shop.faults(new)} | problems
    if problems:
        return _page(request, typed, problems)
    shop.keep_lathe(shop_of(request), new)
    return see("/lathe?kept=1")


def _lathe(
    kept: shop.Lathe, typed: dict[str, str], unit: TypingUnit
) -> tuple[shop.Lathe, dict[str, BenchsideError]]:
    """The lathe as the form has it, and what in the form says nothing plain, by field.

    A size left empty is ours; one that reads as it was shown stays exactly what it was.
    """
    problems: dict[str, BenchsideError] = {}
    ours = frozenset(field for field in LENGTHS if not typed[field].strip())
    said: dict[str, Any] = {field: getattr(shop.Lathe(), field) for field in ours}
    shown = _as_typed(kept, unit)
    for field in typed.keys() - ours:
        if field in LENGTHS and typed[field].strip() == shown[field]:
            continue
        try:
            said[field] = _said(field, typed[field], unit)
        except BenchsideError as problem:
            problems[field] = problem
    return replace(kept, **said, ours=ours), problems


def _said(field: str, text: str, unit: TypingUnit) -> Any:
    """What one field of the form says, in the type of its field of `Lathe`."""
    if field in LENGTHS:
        return units.parse_length(text, unit, field=field)
    if field == "steps_rpm":
        return units.parse_speeds(text, field=field)
    if field in ("steady", "grip"):
        if text not in get_args(Steady if field == "steady" else Grip):
            raise NotUnderstood("Choose one of them.", field=field)
        return text
    if not text.strip():
        return None
    if field in SPEEDS:
        speeds = units.parse_speeds(text, field=field)
        if len(speeds) != 1:
            raise NotUnderstood("One speed here.", field=field, hint="Type 500, say.")
        return speeds[0]
    return units.parse_figure(text, field=field)


def _page(
    request: Request,
    typed: dict[str, str] | None,
    problems: dict[str, BenchsideError],
    *,
    kept: bool = False,
) -> Response:
    found, unit = shop.lathe(shop_of(request)), shop_unit(request)
    return render(
        request,
        "lathe/lathe.html",
        status=422 if problems else 200,
        here="shop",
        unit=unit,
        ours=shop.Lathe(),
        typed=typed or _as_typed(found, unit),
        problems=problems,
        kept=kept,
        steadies=STEADIES,
        grips=GRIPS,
    )


def _as_typed(lathe: shop.Lathe, unit: TypingUnit) -> dict[str, str]:
    figures = {
        field: "" if value is None else f"{value:g}"
        for field in (*SPEEDS, "steady_n_per_mm")
        for value in (getattr(lathe, field),)
    }
    sizes = {
        field: "" if field in lathe.ours else drafts.shown(getattr(lathe, field), unit)
        for field in LENGTHS
    }
    steps = ", ".join(f"{rpm:g}" for rpm in lathe.steps_rpm)
    return {**sizes, **figures, "steps_rpm": steps, "steady": lathe.steady, "grip": lathe.grip}
