"""The turn page of a sitting: one document with every step, and what is tapped on it."""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse

from benchside import units
from benchside.draw import spindle as drawing
from benchside.errors import BenchsideError, NotUnderstood
from benchside.job import progress, speeds, turning, watching
from benchside.lathe.calipers import CaliperUse
from benchside.lathe.now import PLACES
from benchside.lathe.now import sizes as sizes_now
from benchside.lathe.plan import STAGES, Step, next_step
from benchside.pattern import Place
from benchside.store import readings, sets
from benchside.store.database import Shop
from benchside.web import at_hand, labels
from benchside.web.at_hand import SpeedLines
from benchside.web.render import now, render, see, wants_json
from benchside.web.sets import piece_page
from benchside.web.words import words

router = APIRouter()

Text = Annotated[str, Form()]
OF_THE_SET = ("caliper_checked", "caliper_dropped")
# After these a phone that never loads the page again hears whether the set drifts now, and how
# calipers and edges stand.
TELLS_NEWS = ("done", "spoiled", "touched_up", "caliper_checked", "caliper_dropped")


@dataclass(frozen=True, slots=True)
class End:
    """One end of a section: its finished size, and the size it was left at until now."""

    name: str
    finish_mm: float
    from_mm: float | None


@dataclass(frozen=True, slots=True)
class Face:
    """One step at the lathe as the page shows it; ``back`` is the anchor of the one before.

    ``why`` tells how the size to turn now follows from the finished one; empty where they are one,
    and at the steps after sizing.
    """

    step: Step
    back: str
    name: str
    picture: str
    caliper: CaliperUse | None
    span: tuple[float, float]
    ends: list[End]
    off_side_mm: float | None
    fine: bool
    why: str
    speed: SpeedLines | None


@dataclass(frozen=True, slots=True)
class Row:
    """One reading that can be taken, in the list of all; the page's script makes a face of it."""

    step: Step
    place: Place
    name: str
    aim: str
    tolerance_mm: float
    axes: bool
    answer: dict[str, str] | None


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
    going = turning.where_next(_shop(request), set_id, after)
    if going is None:
        return see(f"/sets/{set_id}")
    number, stage = going
    return see(f"/sets/{set_id}/turn/{number}" + (f"?stage={stage}" if stage else ""))


@router.get("/sets/{set_id}/turn/{number}")
def turn_page(request: Request, set_id: int, number: int, stage: str = "") -> Response:
    """One sitting: piece by piece, or one stage of every piece. A script asks for what is kept
    of one piece only."""
    if wants_json(request):
        return JSONResponse(
            _kept_of(turning.sitting(_shop(request), set_id, number, stage or None))
        )
    return _page(request, set_id, number, stage)


@router.post("/sets/{set_id}/pieces/{number}/reading")
async def take_reading(request: Request, set_id: int, number: int) -> Response:
    """One reading, from the phone's queue or from a plain form.

    The form is read as it is: declaring its seventeen fields costs more than keeping the reading.
    """
    async with request.form() as form:
        typed = {name: value for name, value in form.items() if isinstance(value, str)}
    return await run_in_threadpool(_take, request, set_id, number, typed)


def _take(request: Request, set_id: int, number: int, typed: dict[str, str]) -> Response:
    value, back = typed.get("value", ""), typed.get("back", "")
    try:
        answer = turning.take(
            _shop(request),
            set_id,
            number,
            _taken(typed),
            device_id=_device_id(request),
            received_at=now(),
        )
    except BenchsideError as problem:
        if wants_json(request) or back.startswith("#"):
            raise
        return piece_page(request, set_id, number, problem, value[:40], typed.get("supersedes", ""))
    if wants_json(request):
        return JSONResponse({**labels.said(answer), "earlier": _earlier(answer)})
    return _return(set_id, number, back)


def _taken(typed: dict[str, str]) -> turning.Taken:
    revision = typed.get("revision", "")
    if revision and not (revision.isascii() and revision.isdecimal() and len(revision) < 10):
        raise NotUnderstood("That form did not arrive whole.", field="revision")
    return turning.Taken(
        key=typed.get("key", ""),
        station_id=typed.get("station_id", ""),
        typed=typed.get("value", ""),
        unit=typed.get("unit", ""),
        kind=typed.get("kind", "diameter"),
        axis=typed.get("axis", "none"),
        phase=typed.get("phase", "final"),
        revision=int(revision) if revision else None,
        taken_at=typed.get("taken_at", ""),
        sent_at=typed.get("sent_at", ""),
        supersedes=typed.get("supersedes", ""),
        note=typed.get("note", ""),
        sure=bool(typed.get("sure")),
        database=typed.get("database", ""),
        wood=_nth(typed.get("wood", "")),
    )


def _nth(text: str) -> int | None:
    """The saying of the set's wood that a phone shows sizes from, where it says one."""
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else None


@router.post("/sets/{set_id}/pieces/{number}/readings")
async def take_readings(request: Request, set_id: int, number: int) -> Response:
    """Whatever was typed into the list of all readings, from a browser without script."""
    async with request.form() as form:
        pairs = [(n, v) for n, v in form.multi_items() if isinstance(v, str)]
    return await run_in_threadpool(_take_list, request, set_id, number, pairs)


def _take_list(
    request: Request, set_id: int, number: int, pairs: list[tuple[str, str]]
) -> Response:
    typed, sure = dict(pairs), [value for name, value in pairs if name == "sure"]
    stage = typed.get("stage", "")
    shop, troubles = _shop(request), []
    for step in turning.sitting(shop, set_id, number, stage or None).steps:
        for axis, ending in (("A", ""), ("B", "/B")):
            name = step.id + ending
            if step.reads is None or not typed.get(name, "").strip():
                continue
            try:
                taken = turning.Taken(
                    key=turning.key_for(typed.get("key", ""), name),
                    station_id=step.place_id or "",
                    typed=typed[name],
                    unit="",
                    kind=step.reads,
                    axis=axis if f"{step.id}/B" in typed else "none",
                    phase=step.phase,
                    sure=name in sure,
                )
                turning.take(
                    shop, set_id, number, taken, device_id=_device_id(request), received_at=now()
                )
            except BenchsideError as problem:
                asks = isinstance(problem, turning.Surprising)
                troubles.append(Trouble(step.id, name, problem, typed[name][:40], asks))
    if troubles:
        return _page(request, set_id, number, stage, troubles)
    return _return(set_id, number, f"#readings?{stage}")


@router.post("/sets/{set_id}/pieces/{number}/mark")
def take_mark(
    request: Request,
    set_id: int,
    number: int,
    key: Text = "",
    what: Text = "",
    step_id: Text = "",
    about: Text = "",
    text: Text = "",
    reason: Text = "",
    taken_at: Text = "",
    sent_at: Text = "",
    database: Text = "",
    back: Text = "",
    go: Text = "",
    stage: Text = "",
    wood: Text = "",
) -> Response:
    """Any other thing tapped. ``reason`` is a ready-made word that goes before ``text``.

    ``go`` is a button's ``what step_id``, or what it is ``about``: a caliper's letter (none means
    all of them), the key of what is withdrawn; where it leads to is found here.
    """
    if go:
        what, _, where = go.partition(" ")
        about, step_id = (where, "") if what in (*OF_THE_SET, "withdrawn") else ("", where)
        leads = ""
        if where or what not in OF_THE_SET:
            leads = _leads_to(request, set_id, number, stage, what, step_id)
        back = f"#{leads}?{stage}"
    marked = turning.Marked(
        key=key,
        what=what,
        step_id=step_id,
        about=about,
        text=": ".join(part for part in (reason, text.strip()) if part),
        taken_at=taken_at,
        sent_at=sent_at,
        database=database,
        wood=_nth(wood),
    )
    try:
        kept = turning.mark(
            _shop(request),
            set_id,
            None if what in OF_THE_SET else number or None,
            marked,
            device_id=_device_id(request),
            received_at=now(),
        )
    except BenchsideError as problem:
        if wants_json(request) or back.startswith("#") or not number:
            raise
        about = what if problem.field == "text" else ""
        return piece_page(request, set_id, number, problem, text, about)
    if wants_json(request):
        said: dict[str, Any] = {"key": kept.key, "what": kept.what}
        if what in TELLS_NEWS:
            said |= _news(_shop(request), set_id, number, what)
        return JSONResponse(said)
    if what in ("done", "spoiled") and back.startswith("#"):
        return see(f"/sets/{set_id}/turn?after={number}")
    return _return(set_id, number, back)


@router.post("/sets/{set_id}/pieces/{number}/move")
def move_readings(
    request: Request,
    set_id: int,
    number: int,
    key: Text = "",
    count: Annotated[int, Form()] = 0,
    to: Annotated[int, Form()] = 0,
    database: Text = "",
    back: Text = "",
) -> Response:
    """The last readings belong to another piece."""
    try:
        moved = turning.move(
            _shop(request),
            set_id,
            number,
            count=count,
            to=to,
            key=key,
            database=database,
            device_id=_device_id(request),
            received_at=now(),
        )
    except BenchsideError as problem:
        if wants_json(request) or back.startswith("#"):
            raise
        return piece_page(request, set_id, number, problem)
    if wants_json(request):
        return JSONResponse({"key": key, "moved": moved})
    return _return(set_id, number, back)


@router.post("/sets/{set_id}/habit")
def change_habit(request: Request, set_id: int, habit: Text = "") -> Response:
    """Piece by piece or stage by stage; nothing is lost by switching."""
    turning.change_habit(_shop(request), set_id, habit)
    return see(f"/sets/{set_id}/turn")


def _page(
    request: Request, set_id: int, number: int, stage: str, troubles: Sequence[Trouble] = ()
) -> Response:
    sitting = turning.sitting(_shop(request), set_id, number, stage or None)
    pattern = sitting.work.pattern
    view = drawing.view(
        pattern,
        height_px=128.0,
        headstock=sitting.spindle_set.choices.headstock,
        stock_mm=sitting.work.stock_mm,
    )
    here = sitting.pieces[number]
    passed = progress.passed(here, sitting.steps)
    waiting = next_step(sitting.steps, passed) or sitting.steps[-1]
    watch = watching.watch(_shop(request), set_id)
    drift = _drift(_shop(request), set_id, watch)
    speed = speeds.of_work(_shop(request), sitting.spindle_set, sitting.work)
    return render(
        request,
        "turn.html",
        status=troubles[0].problem.status if troubles else 200,
        sitting=sitting,
        unit=sitting.spindle_set.unit,
        piece=here,
        passed=passed,
        faces=_faces(sitting, view, at_hand.speed_lines(speed)),
        unfit=speed.unfit,
        at_hand=at_hand.lines(_shop(request), sitting, watch.letter if watch else ""),
        readings_by_stage=[(s, list(rows)) for s, rows in groupby(_rows(sitting), _stage_of)],
        current="readings" if troubles else _anchor(waiting),
        troubles=troubles,
        latest=_latest(sitting),
        lines=[p for p in sitting.work.places.values() if p.role in ("station", "crown", "root")],
        symbols=drawing.symbols(pattern, view, _sized(sitting.work.steps)),
        ends_done=sitting.steps[-1].stage == "done",
        finished=drawing.at_step(pattern, view, done=range(len(pattern.sections))),
        doubled=view.thickness == 2,
        key=secrets.token_hex(16),
        handle=readings.HANDLE_DIGITS,
        state=_state(sitting, drift),
        of=sitting.spindle_set.choices.wanted,
        drift=drift,
        wood_state=_state_word(sitting),
    )


def _leads_to(
    request: Request, set_id: int, number: int, stage: str, what: str, step_id: str
) -> str:
    """The anchor that a big button leads to: the step after its own."""
    steps = turning.sitting(_shop(request), set_id, number, stage or None).steps
    ids = [step.id for step in steps]
    if what in ("withdrawn", "skip"):
        return "readings" if what == "withdrawn" or "done" not in ids else "done"
    if what == "touched_up" or step_id not in ids:
        return step_id or "more"
    after = steps[ids.index(step_id) + 1 :]
    return _anchor(after[0]) if after else step_id


def _news(shop: Shop, set_id: int, number: int, what: str) -> dict[str, Any]:
    """Whether the set drifts now, and how calipers and edges stand for the piece to go on with."""
    watch = watching.watch(shop, set_id)
    after = number if what in ("done", "spoiled") else 0
    going = turning.where_next(shop, set_id, after)
    if not after and number:
        going = (number, going[1] if going else None)
    lines = {}
    if going is not None:
        sitting = turning.sitting(shop, set_id, *going)
        lines = at_hand.lines(shop, sitting, watch.letter if watch else "")
    return {"drift": _drift(shop, set_id, watch), "at_hand": lines}


def _drift(shop: Shop, set_id: int, found: watching.Watch | None) -> dict[str, Any] | None:
    """What drifts, in one line, and what to aim for at which steps; the target stays as it is."""
    if found is None:
        return None
    kept = sets.found(shop, set_id)
    said = labels.drift(found, kept.unit)
    instead: str = words()["page"]["aim_instead"]
    doing = turning.work_of(shop, kept)
    at = [
        s.id for s in doing.steps if s.place_id == found.place.id and s.reads in (found.kind, None)
    ]
    return {
        "line": f"{said['says']} {said['check']}",
        "aim": instead.format(aim=said["aim_size"]) if said["aim"] else "",
        "at": at if said["aim"] else [],
    }


def _faces(
    sitting: turning.Sitting, view: drawing.View, speed: Mapping[str, SpeedLines]
) -> list[Face]:
    """Every step that something is done at, with its drawing and what stands for it."""
    steps = sitting.steps
    faces = []
    stands: list[int] = [i for step in _before(sitting, steps[0]) for i in step.forms]
    rounded = steps[0].stage not in ("mount", "rough")
    grooves = _sized(_before(sitting, steps[0]))
    steady_mm = _steady_after(_before(sitting, steps[0]))
    for i, step in enumerate(steps):
        if progress.is_final_reading(step):
            continue
        if step.tool == "steady":
            steady_mm = _steady_after([step])
        place = sitting.work.places[step.place_id] if step.place_id else None
        picture = drawing.at_step(
            sitting.work.pattern,
            view,
            done=stands,
            round_=rounded,
            sized=grooves,
            here_mm=None if step.tool == "steady" else step.at_mm,
            here_diameter_mm=step.stop_mm if step.reads == "diameter" else None,
            steady_mm=steady_mm,
        )
        faces.append(
            Face(
                step=step,
                back=_anchor(steps[i - 1]) if i else "",
                name=labels.place_label(place) if place else _named(step),
                picture=picture,
                caliper=sitting.letters.get(step.id),
                span=_span(sitting, step),
                ends=_ends(sitting, step),
                off_side_mm=turning.comes_off_side_mm(sitting.work.steps, step),
                fine=labels.fine_for(place, step.reads or "diameter") if place else False,
                why=_why_this_size(sitting, place, step),
                speed=speed.get(step.stage) if i == 0 or steps[i - 1].stage != step.stage else None,
            )
        )
        rounded = rounded or step.stage == "rough"
        stands += step.forms
        grooves += _sized([step])
    return faces


def _why_this_size(sitting: turning.Sitting, place: Place | None, step: Step) -> str:
    """From the size in the chair to the size to turn now, in one line."""
    wood = sitting.work.wood
    if wood is None or place is None or step.stage not in ("size", "tenon"):
        return ""
    unit = sitting.spindle_set.unit
    why = sizes_now(sitting.work.finished, wood.turning)[place.id]
    said = words()["wood"]
    if round(why.turn_mm, PLACES) == round(why.final_mm, PLACES):
        return ""
    key = "why_turn" if why.allowance_mm else "why_turn_bare"
    found: str = said["why_rough" if wood.turning.roughing else key].format(
        final=labels.length(why.final_mm, unit, fine=place.kind == "tenon"),
        allowance=labels.length(why.allowance_mm, unit, fine=True),
        ratio=f"{why.ratio:.3f}",
        species=wood.wood.species,
        **{"from": f"{why.from_mc:.0f}", "to": f"{why.to_mc:.0f}"},
    )
    return found


def _state_word(sitting: turning.Sitting) -> str:
    """The state that sizes are of, where the wood was said."""
    wood = sitting.work.wood
    found: str = words()["wood"]["short_state"][wood.state] if wood else ""
    return found


def _steady_after(steps: Sequence[Step]) -> float | None:
    """Where the steady stands after these steps, if it does. [mm]"""
    moved = [s for s in steps if s.tool == "steady"]
    return moved[-1].at_mm if moved and moved[-1].say != "steady_off" else None


def _named(step: Step) -> str:
    """What a step is called that is done at no place of the pattern."""
    group, key = ("tool", "steady") if step.tool == "steady" else ("stage", step.stage)
    name: str = words()[group][key]
    return name


def _sized(steps: Iterable[Step]) -> list[float]:
    """Where sizing grooves stand after these steps. [mm]"""
    return [s.at_mm for s in steps if s.stage == "size" and s.at_mm is not None]


def _rows(sitting: turning.Sitting) -> list[Row]:
    """Every reading of a sitting, in the order of its steps."""
    return [_row(sitting, step) for step in sitting.steps if step.reads]


def _row(sitting: turning.Sitting, step: Step) -> Row:
    place, reads, unit = (
        sitting.work.places[step.place_id or ""],
        step.reads or "diameter",
        sitting.spindle_set.unit,
    )
    name, answer = labels.place_label(place), sitting.answers.get(step.id)
    aim_mm = step.stop_mm or 0.0
    aim = (
        labels.position(aim_mm, unit)
        if reads == "position"
        else labels.length(aim_mm, unit, fine=labels.fine_for(place, reads))
    )
    state = "" if reads == "position" else _state_word(sitting)
    return Row(
        step=step,
        place=place,
        name=f"{name}, {words()['page']['position']}" if reads == "position" else name,
        aim=f"{aim} {units.unit_sign(unit)} {state}".strip(),
        tolerance_mm=turning.tolerance_mm(sitting.spindle_set, place, reads),
        axes=place.kind == "tenon" and reads == "diameter",
        answer=labels.said(answer) if answer else None,
    )


def _stage_of(row: Row) -> str:
    return row.step.stage


def _span(sitting: turning.Sitting, step: Step) -> tuple[float, float]:
    """Where a step is done, from the datum end: a place, or for a tenon its whole length. [mm]"""
    at_mm = step.at_mm or 0.0
    wood = sitting.work.wood
    roughed = step.stage == "size" and wood is not None and wood.turning.roughing
    place = sitting.work.places.get(step.place_id or "")
    if not (step.stage == "tenon" or (roughed and place and place.kind == "tenon")):
        return at_mm, at_mm
    return turning.tenon_span_mm(sitting.work.pattern, at_mm)


def _ends(sitting: turning.Sitting, step: Step) -> list[End]:
    """The two ends of a section that is cut; one that still stands at its sizing size says so."""
    if step.section is None:
        return []
    sized = {s.place_id: s.stop_mm for s in sitting.work.steps if s.stage == "size"}
    stations = sitting.work.pattern.stations[step.section : step.section + 2]
    return [
        End(labels.place_label(sitting.work.places[s.id]), s.diameter_mm, sized[s.id])
        if s.id in step.brings
        else End(labels.place_label(sitting.work.places[s.id]), s.diameter_mm, None)
        for s in stations
    ]


def _before(sitting: turning.Sitting, first: Step) -> list[Step]:
    """The steps that lie behind a stage."""
    return list(sitting.work.steps[: sitting.work.steps.index(first)])


def _anchor(step: Step) -> str:
    """Where a step is found without script."""
    return "readings" if progress.is_final_reading(step) else step.id


def _state(sitting: turning.Sitting, drift: dict[str, Any] | None) -> dict[str, Any]:
    """What the page's script starts from: every piece still to turn, what stands for this one."""
    steps = sitting.steps
    usual = sorted(steps, key=lambda s: (s.stage == "done", progress.is_final_reading(s)))
    unit = sitting.spindle_set.unit
    entry = words()["page"]["entry"]
    return {
        "set": sitting.spindle_set.id,
        "stage": sitting.stage or "",
        "unit": unit,
        "revision": sitting.work.revision,
        "piece": sitting.number,
        "of": sitting.spindle_set.choices.wanted,
        "order": [] if tuple(usual) == steps else [step.id for step in steps],
        "pieces": [
            [p.number, p.to_turn, p.practice, *_passed_or_left(p, steps)]
            for p in sitting.pieces.values()
            if (p.to_turn and p.number in sitting.alike) or p.number == sitting.number
        ],
        "wood": sitting.work.wood.nth if sitting.work.wood else 0,
        "drift": drift,
        "left_out": sitting.pieces[sitting.number].rest_skipped,
        "entry": {reads: entry[reads].format(sign=units.unit_sign(unit)) for reads in entry},
    }


def _passed_or_left(piece: progress.Piece, steps: Sequence[Step]) -> list[str]:
    """The steps that are passed; after a "-" those that are not, where they are fewer."""
    passed = progress.passed(piece, steps)
    left = [step.id for step in steps if step.id not in passed]
    return ["-", *left] if len(left) < len(passed) else sorted(passed)


def _kept_of(sitting: turning.Sitting) -> dict[str, Any]:
    """What is kept of the piece in hand, for a page that turns to it without being loaded."""
    here = sitting.pieces[sitting.number]
    return {
        "answers": {id_: labels.said(answer) for id_, answer in sitting.answers.items()},
        "ticked": sorted(progress.passed(here, sitting.steps)),
        "latest": _latest(sitting),
        "left_out": here.rest_skipped,
    }


def _latest(sitting: turning.Sitting) -> list[tuple[str, str]]:
    """The last readings of the piece in hand: where, and what was typed."""
    known = sitting.work.places
    return [
        (
            labels.place_label(known[r.station_id]) if r.station_id in known else r.station_id,
            r.typed,
        )
        for r in sitting.latest
    ]


def _anchor_and_stage(back: str) -> tuple[str, str]:
    """A form's ``back`` is ``#anchor`` or ``#anchor?stage``."""
    anchor, _, stage = back.removeprefix("#").partition("?")
    return anchor, stage if stage in STAGES else ""


def _return(set_id: int, number: int, back: str) -> Response:
    """Back to where a form was sent from: a step of the turn page, or the piece's own page."""
    if not back.startswith("#"):
        return see(f"/sets/{set_id}/pieces/{number}" if number else f"/sets/{set_id}")
    anchor, stage = _anchor_and_stage(back)
    query = f"?stage={stage}" if stage else ""
    return see(f"/sets/{set_id}/turn/{number}{query}#{anchor}")


def _earlier(answer: turning.Answer) -> str:
    """What stood here before, when another hand took it."""
    before = answer.earlier
    if before is None or before.device_id == answer.reading.device_id:
        return ""
    fine = labels.fine_for(answer.place, before.kind)
    return labels.length(before.value_mm, before.unit, fine=fine)


def _shop(request: Request) -> Shop:
    shop: Shop = request.app.state.shop
    return shop


def _device_id(request: Request) -> int | None:
    device = getattr(request.state, "device", None)
    return None if device is None else device.id
