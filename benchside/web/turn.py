"""The turn page of a sitting: one document with every step."""

from __future__ import annotations

import secrets
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import JSONResponse

from benchside import units
from benchside.draw import spindle as drawing
from benchside.errors import BenchsideError
from benchside.job import origin, possible, progress, sawn, speeds, turning, watching
from benchside.job.set_blank import set_blank
from benchside.lathe.steps import Step, next_step
from benchside.pattern import Place
from benchside.store import readings
from benchside.store.database import Shop
from benchside.web import aims, at_hand, labels
from benchside.web.asked import Asked, OfPiece, shop_of
from benchside.web.faces import anchor, faces, sized
from benchside.web.reading_list import Row, latest, rows
from benchside.web.render import render, see, wants_json
from benchside.web.words import words

router = APIRouter()

MANY_STEPS = 60  # a page of more has no room left but for a few blanks
NAMED_AHEAD = 2  # blanks it tells; the rest come when the page turns to them


@dataclass(frozen=True, slots=True)
class Trouble:
    """What went wrong with a form sent without script, given back where it belongs.

    ``name`` is the field's: the step's id, and which way across.
    """

    step_id: str
    name: str
    problem: BenchsideError
    typed: str
    ask: bool


@router.get("/sets/{set_id}/turn")
def turn_next(request: Request, set_id: int, after: int = 0) -> Response:
    """The piece to turn next, by the set's habit."""
    going = turning.where_next(shop_of(request), set_id, after)
    if going is None:
        return see(f"/sets/{set_id}")
    number, stage = going
    return see(f"/sets/{set_id}/turn/{number}" + (f"?stage={stage}" if stage else ""))


@router.get("/sets/{set_id}/turn/{number}")
def turn_page(at: OfPiece, stage: str = "") -> Response:
    """One sitting: piece by piece, or one stage of every piece. A script asks for what is kept
    of one piece only."""
    if wants_json(at.request):
        sitting = turning.sitting(at.shop, at.set_id, at.number, stage or None)
        return JSONResponse(_kept_of(sitting, _blanks(at.shop, sitting)))
    return sitting_page(at, stage)


@router.post("/sets/{set_id}/habit")
def change_habit(request: Request, set_id: int, habit: Annotated[str, Form()] = "") -> Response:
    """Piece by piece or stage by stage; nothing is lost by switching."""
    turning.change_habit(shop_of(request), set_id, habit)
    return see(f"/sets/{set_id}/turn")


def sitting_page(at: Asked, stage: str, troubles: Sequence[Trouble] = ()) -> Response:
    """The whole document; after a form without script with what of it was refused."""
    shop = at.shop
    sitting = turning.sitting(shop, at.set_id, at.number, stage or None)
    pattern = sitting.work.pattern
    view = drawing.view(
        pattern,
        height_px=128.0,
        headstock=sitting.spindle_set.choices.headstock,
        stock_mm=sitting.work.stock_mm,
    )
    here = sitting.pieces[at.number]
    passed = progress.passed(here, sitting.steps)
    waiting = next_step(sitting.steps, passed) or sitting.steps[-1]
    watch, told = watching.told(shop, at.set_id, sitting.work)
    drift = aims.drift(watch, told, sitting.work, sitting.unit)
    blanks = _blanks(shop, sitting)
    speed = speeds.of_work(shop, sitting.spindle_set, sitting.work, at.number)
    return render(
        at.request,
        "turn.html",
        status=troubles[0].problem.status if troubles else 200,
        sitting=sitting,
        unit=sitting.unit,
        piece=here,
        passed=passed,
        finals_passed=passed.issuperset(s.id for s in sitting.steps if s.stage == "final"),
        faces=faces(sitting, view, at_hand.speed_lines(speed)),
        before_mounting=at_hand.before_mounting(speed, sitting.unit),
        at_hand=at_hand.lines(shop, sitting, watch.letter if watch else ""),
        readings_by_stage=[(s, list(of)) for s, of in groupby(rows(sitting), _stage_of)],
        current="readings" if troubles else anchor(waiting),
        troubles=troubles,
        latest=latest(sitting),
        lines=_lines(sitting),
        zero=_zero(shop, sitting),
        symbols=drawing.symbols(pattern, view, sized(sitting.work.steps)),
        ends_done=sitting.steps[-1].stage == "done",
        finished=drawing.at_step(pattern, view, done=range(len(pattern.sections))),
        doubled=view.thickness == 2,
        key=secrets.token_hex(16),
        handle=readings.HANDLE_DIGITS,
        blanks=blanks,
        state=_state(shop, sitting, drift, blanks),
        of=_last(sitting),
        drift=drift,
        instead={one["at"]: one["say"] for one in drift["aims"]} if drift else {},
        wood_state=labels.state_word(sitting.work.wood),
    )


def _blanks(shop: Shop, sitting: turning.Sitting) -> dict[int, str]:
    """What each piece's blank is called and where it lay, as far as that is known."""
    found = origin.origins(shop, sitting.spindle_set.id)
    return {number: labels.from_where(of, sitting.unit) for number, of in found.items()}


def _last(sitting: turning.Sitting) -> int:
    """The number of the last piece that is wanted; a practice piece has one among them."""
    counted = [n for n, piece in sitting.pieces.items() if not piece.practice]
    return counted[: sitting.spindle_set.choices.wanted][-1]


def _stage_of(row: Row) -> str:
    return row.step.stage


def _state(
    shop: Shop,
    sitting: turning.Sitting,
    drift: dict[str, Any] | None,
    blanks: Mapping[int, str],
) -> dict[str, Any]:
    """What the page's script starts from: every piece still to turn, what stands for this one."""
    steps = sitting.steps
    usual = sorted(steps, key=lambda s: (s.stage == "done", progress.is_final_reading(s)))
    unit = sitting.unit
    pieces = [
        p
        for p in sitting.pieces.values()
        if (p.to_turn and p.number in sitting.alike) or p.number == sitting.number
    ]
    return {
        "set": sitting.spindle_set.id,
        "stage": sitting.stage or "",
        "unit": unit,
        "most": round(possible.most_mm(shop, sitting.work), 1),
        "revision": sitting.work.revision,
        "piece": sitting.number,
        "of": _last(sitting),
        "order": [] if tuple(usual) == steps else [step.id for step in steps],
        "pieces": [[p.number, p.to_turn, p.practice, *_passed_or_left(p, steps)] for p in pieces],
        "blanks": _named(pieces, sitting, blanks),
        "wood": sitting.work.wood.nth if sitting.work.wood else 0,
        "drift": drift,
        "left_out": sitting.pieces[sitting.number].rest_skipped,
        "doubts": at_hand.doubts(shop, sitting.spindle_set, sitting.work),
        **_places(sitting),
    }


def _named(
    pieces: Sequence[progress.Piece], sitting: turning.Sitting, blanks: Mapping[int, str]
) -> dict[int, str]:
    """The blanks of the piece in hand and of those that come next, as far as the page has room."""
    order = sorted((p.number for p in pieces), key=lambda n: (n < sitting.number, n))
    if len(sitting.steps) > MANY_STEPS:
        order = order[:NAMED_AHEAD]
    return {number: blanks[number] for number in order if number in blanks}


def _places(sitting: turning.Sitting) -> dict[str, Any]:
    """Where sizes are read, as far as the page has room and its list of lines does not say it: of
    two places of one name it does not."""
    listed = any(step.stage == "set_out" for step in sitting.steps)
    named = {place.id: labels.place_label(place) for place in _lines(sitting)} if listed else {}
    told = Counter(named.values())
    twins = {place_id for place_id, name in named.items() if told[name] > 1}
    read = {step.place_id for step in sitting.steps if step.reads == "diameter"}
    full = listed and len(sitting.steps) > MANY_STEPS
    read &= twins if full else read - named.keys() | twins
    found = {
        place.id: labels.position(place.at_mm, sitting.unit)
        for place in sitting.work.places.values()
        if place.id in read
    }
    from_ = words()["page"]["from_datum"][sitting.work.pattern.datum_end]
    if not listed:
        return {"places": found, "from": from_}
    return {"places": found}


def _lines(sitting: turning.Sitting) -> list[Place]:
    """The lines that are marked on a rounded piece."""
    return [p for p in sitting.work.places.values() if p.role in ("station", "crown", "root")]


def _zero(shop: Shop, sitting: turning.Sitting) -> str:
    """Where the first line lies on a blank that is longer than the piece; "" where none is."""
    found, unit = set_blank(shop, sitting.spindle_set.id), sitting.unit
    datum = sitting.work.pattern.datum_end
    length_mm, ends_mm = sawn.shortest(shop, found)
    waste_mm = ends_mm + getattr(found.proposal, f"{datum}_mm")
    spare_mm = length_mm - sitting.work.pattern.length_mm
    if spare_mm < waste_mm:
        return ""
    size = f"{labels.position(waste_mm, unit)} {units.unit_sign(unit)}"
    text: str = words()["page"]["zero"].format(waste=size, end=datum)
    return text


def _passed_or_left(piece: progress.Piece, steps: Sequence[Step]) -> list[str]:
    """The steps that are passed; after a "-" those that are not, where they are fewer."""
    passed = progress.passed(piece, steps)
    left = [step.id for step in steps if step.id not in passed]
    return ["-", *left] if len(left) < len(passed) else sorted(passed)


def _kept_of(sitting: turning.Sitting, blanks: Mapping[int, str]) -> dict[str, Any]:
    """What is kept of the piece in hand, for a page that turns to it without being loaded."""
    here = sitting.pieces[sitting.number]
    return {
        "answers": {id_: labels.said(answer) for id_, answer in sitting.answers.items()},
        "ticked": sorted(progress.passed(here, sitting.steps)),
        "latest": latest(sitting),
        "left_out": here.rest_skipped,
        "blank": blanks.get(sitting.number, ""),
    }
