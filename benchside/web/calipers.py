"""The two-minute test: how well the calipers and the hand repeat."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from benchside.errors import BenchsideError
from benchside.job import measuring
from benchside.web.render import now, render, see

router = APIRouter()

Text = Annotated[str, Form()]
MOST_SHOWN = 6  # tests of the past


@router.get("/calipers")
def calipers(request: Request) -> Response:
    return _beginning(request, None)


@router.post("/calipers")
def begin(request: Request, step: Text = "") -> Response:
    try:
        test_id = measuring.begin(request.app.state.shop, step, at=now())
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
        measuring.take(
            request.app.state.shop, test_id, place, turn, value, sure=bool(sure), at=now()
        )
    except BenchsideError as problem:
        if problem.status != 422:
            raise
        return _trial(request, test_id, (place, turn), value[:40], problem)
    return see(f"/calipers/{test_id}")


def _beginning(request: Request, problem: BenchsideError | None) -> Response:
    whole = measuring.whole_trials(request.app.state.shop)
    return render(
        request,
        "calipers/begin.html",
        status=problem.status if problem else 200,
        here="shop",
        steps=measuring.STEPS_MM,
        chosen=_step_of(whole[0]) if whole else "mm/100",
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
    found = measuring.trial(request.app.state.shop, test_id)
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
    return next((key for key, step in measuring.STEPS_MM.items() if step == same), "mm/100")
