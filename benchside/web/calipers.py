"""The calipers owned, and the two-minute test of how well they and the hand repeat."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from benchside import units
from benchside.errors import BenchsideError, NotUnderstood
from benchside.job import calipers as job
from benchside.job import measuring
from benchside.job.drafts import TypingUnit
from benchside.job.forms import by_field
from benchside.lathe.calipers import CALIPER_KINDS
from benchside.store.tools import OwnedCaliper
from benchside.web.asked import TypedForm, shop_of, shop_unit
from benchside.web.render import now, render, see

router = APIRouter()

Text = Annotated[str, Form()]
MOST_SHOWN = 6  # tests of the past
_FINEST: dict[TypingUnit, str] = {"mm": "mm/100", "in": "in/1000"}
OWNED = ("letter", "kind", "least_mm", "most_mm", "name")


@router.get("/calipers")
def calipers(request: Request) -> Response:
    return _beginning(request, None)


@router.post("/calipers/owned")
def keep_owned(request: Request, sent: TypedForm) -> Response:
    """Put a caliper on the list, change one, or take one off."""
    open_shop = shop_of(request)
    if sent.get("strike"):
        job.strike(open_shop, sent["strike"])
        return see("/calipers#owned")
    typed = {field: sent.get(field, "") for field in (*OWNED, "was")}
    try:
        job.keep(open_shop, _owned(typed, shop_unit(request)), was=typed["was"])
    except BenchsideError as problem:
        return _beginning(request, None, typed=typed, wrong=problem)
    return see("/calipers#owned")


@router.post("/calipers/recheck")
def keep_recheck(request: Request, recheck: Text = "") -> Response:
    try:
        pieces = units.parse_figure(recheck, field="recheck")
        if pieces != int(pieces):
            raise NotUnderstood("A whole number of pieces.", field="recheck")
        job.keep_recheck_after(shop_of(request), int(pieces))
    except BenchsideError as problem:
        return _beginning(request, None, wrong=problem, recheck=recheck[:20])
    return see("/calipers#owned")


def _owned(typed: dict[str, str], unit: TypingUnit) -> OwnedCaliper:
    """The caliper that a form describes. A fixed gauge has only its one size."""
    kind = next((kind for kind in CALIPER_KINDS if kind == typed["kind"]), None)
    if kind is None:
        raise NotUnderstood("Choose one of the kinds.", field="kind")
    most_mm = units.parse_length(typed["most_mm"], unit, field="most_mm")
    least_mm = most_mm
    if kind != "fixed":
        least = typed["least_mm"].strip() or "0"
        least_mm = units.parse_length(least, unit, field="least_mm")
    return OwnedCaliper(
        letter=typed["letter"].strip().upper(),
        kind=kind,
        least_mm=least_mm,
        most_mm=most_mm,
        name=" ".join(typed["name"].split()),
    )


@router.post("/calipers")
def begin(request: Request, step: Text = "") -> Response:
    try:
        test_id = measuring.begin(shop_of(request), step, at=now())
    except BenchsideError as problem:
        return _beginning(request, problem)
    return see(f"/calipers/{test_id}")


@router.get("/calipers/{test_id}")
def trial(request: Request, test_id: int, place: int = 0, turn: int = 0) -> Response:
    """The next reading; with ``place`` and ``turn`` one that is to be corrected."""
    return _trial(request, test_id, (place, turn), "", None)


@router.post("/calipers/{test_id}")
def take(
    request: Request,
    test_id: int,
    place: Annotated[int, Form()] = 0,
    turn: Annotated[int, Form()] = 0,
    value: Text = "",
    sure: Text = "",
) -> Response:
    try:
        measuring.take(shop_of(request), test_id, place, turn, value, sure=bool(sure), at=now())
    except BenchsideError as problem:
        if problem.status != 422:
            raise
        return _trial(request, test_id, (place, turn), value[:40], problem)
    return see(f"/calipers/{test_id}")


def _beginning(
    request: Request,
    problem: BenchsideError | None,
    *,
    typed: dict[str, str] | None = None,
    wrong: BenchsideError | None = None,
    recheck: str = "",
) -> Response:
    """The calipers' page. ``problem`` is the test's, ``wrong`` that of the list below it."""
    open_shop, unit = shop_of(request), shop_unit(request)
    whole = measuring.whole_trials(open_shop)
    fresh = dict.fromkeys((*OWNED, "was"), "") | {
        "letter": job.next_letter(open_shop),
        "kind": "spring",
    }
    failed = problem or wrong
    return render(
        request,
        "calipers/begin.html",
        status=failed.status if failed else 200,
        here="shop",
        owned=job.owned(open_shop),
        kinds=CALIPER_KINDS,
        typed=typed or fresh,
        problems=by_field(wrong),
        recheck=recheck or str(job.recheck_after(open_shop)),
        unit=unit,
        steps=[key for key, (of, _) in measuring.STEPS_MM.items() if units.unit_sign(of) == unit],
        other_steps=[
            key for key, (of, _) in measuring.STEPS_MM.items() if units.unit_sign(of) != unit
        ],
        chosen=_step_of(whole[0]) if whole else _FINEST[unit],
        trials=whole[:MOST_SHOWN],
        problem=problem,
    )


def _trial(
    request: Request,
    test_id: int,
    again: tuple[int, int],
    typed: str,
    problem: BenchsideError | None,
) -> Response:
    found = measuring.trial(shop_of(request), test_id)
    place, turn = again
    corrects = 1 <= place <= measuring.PLACES and 1 <= turn <= measuring.TURNS
    asked = again if corrects else found.next
    if asked is None:
        return render(request, "calipers/says.html", here="shop", trial=found, says=found.says)
    return render(
        request,
        "calipers/read.html",
        status=problem.status if problem else 200,
        here="shop",
        trial=found,
        place=asked[0],
        turn=asked[1],
        corrects=corrects and problem is None,
        count=measuring.PLACES * measuring.TURNS,
        typed=typed,
        problem=problem,
    )


def _step_of(trial: measuring.Trial) -> str:
    same = (trial.kept.unit, trial.kept.step_mm)
    return next((key for key, step in measuring.STEPS_MM.items() if step == same), "")
