"""Choosing the best pieces and their places in the back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request, Response

from benchside.draw.back import Standing, back
from benchside.errors import BenchsideError, NotUnderstood
from benchside.job import choosing
from benchside.job.choosing import Choosing
from benchside.job.forms import by_field
from benchside.web.asked import shop_of
from benchside.web.render import render, see
from benchside.web.words import words

router = APIRouter()

MAGNIFY = 6  # judgement: as on the review
HEIGHT_PX, BEFORE_PX = 380.0, 220.0
FEW = 9  # so many stand in the width of a phone
COMPARED = 16  # judgement: of more, two pictures say no more than one
NUMBERS_OFFERED = 3  # of pieces to choose, to either side of the number chosen


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """One place in the back: which piece stands there, and which one mirrors it."""

    place: int
    number: int
    mate: int | None
    pinned: bool


@router.get("/sets/{set_id}/choose")
def choose(request: Request, set_id: int, of: Annotated[str, Query()] = "") -> Response:
    return _page(request, set_id, of)


@router.post("/sets/{set_id}/choose/pins")
def pin(
    request: Request,
    set_id: int,
    spindle: Annotated[str, Form()] = "",
    place: Annotated[str, Form()] = "",
    what: Annotated[str, Form()] = "pin",
    of: Annotated[str, Form()] = "",
) -> Response:
    shop = shop_of(request)
    try:
        number = _count(spindle, "spindle", "Which piece?")
        if what == "free":
            choosing.unpin(shop, set_id, number)
        else:
            at = _count(place, "place", "Which place?") if place else None
            choosing.pin(shop, set_id, number, at)
    except BenchsideError as problem:
        return _page(request, set_id, of, problem)
    return see(f"/sets/{set_id}/choose" + (f"?of={of}" if of.isdecimal() else "") + "#pins")


def _page(
    request: Request, set_id: int, of: str, problem: BenchsideError | None = None
) -> Response:
    wanted = _count(of, "of", "How many pieces?") if of else None
    found = choosing.choosing(shop_of(request), set_id, wanted)
    most = len(found.candidates)
    fewest = max(2, min(found.wanted, most) - NUMBERS_OFFERED)
    offered = range(fewest, min(most, found.wanted + NUMBERS_OFFERED) + 1)
    return render(
        request,
        "review/choose.html",
        status=200 if problem is None else problem.status,
        here="home",
        found=found,
        kept=found.standing.kept,
        of=of if wanted else "",
        offered=[n for n in offered if n != found.wanted],
        magnify=MAGNIFY,
        after=_back(found, HEIGHT_PX, by_number=False),
        before=_back(found, BEFORE_PX, by_number=True) if found.wanted <= COMPARED else "",
        many=found.wanted > FEW,
        rows=_places(found),
        pinned={pin.spindle: pin.place for pin in found.pins},
        problems=by_field(problem),
    )


def _count(text: str, field: str, ask: str) -> int:
    if not (text.isascii() and text.isdecimal() and 0 < len(text) < 6 and int(text)):
        raise NotUnderstood(ask, hint="A whole number from 1 on.", field=field)
    return int(text)


def _back(found: Choosing, height: float, *, by_number: bool) -> str:
    chosen = found.chosen
    if chosen is None:
        return ""
    order = tuple(sorted(chosen.order)) if by_number else chosen.order
    pinned = {pin.spindle for pin in found.pins if pin.place is not None}
    pieces = [
        Standing(
            number,
            _off(found, number, "diameter"),
            _off(found, number, "position"),
            odd=chosen.odd is not None and chosen.odd.number == number,
            pinned=number in pinned and not by_number,
        )
        for number in order
    ]
    said = words()["back"]["by_number" if by_number else "in_order"]
    label = said.format(numbers=", ".join(str(number) for number in order))
    return back(
        found.pattern,
        pieces,
        MAGNIFY,
        height=height,
        label=label,
        mates=not by_number,
        prefix="n" if by_number else "b",
    )


def _off(found: Choosing, number: int, kind: str) -> dict[str, float]:
    off_mm = found.off_of(number).tolist()
    return {
        place.id: value
        for (place, of_kind), value in zip(found.keys, off_mm, strict=True)
        if of_kind == kind and value == value
    }


def _places(found: Choosing) -> list[PlaceRow]:
    if found.chosen is None:
        return []
    order = found.chosen.order
    pinned = {pin.spindle for pin in found.pins}
    return [
        PlaceRow(
            place=i + 1,
            number=number,
            mate=None if order[-1 - i] == number else order[-1 - i],
            pinned=number in pinned,
        )
        for i, number in enumerate(order)
    ]
