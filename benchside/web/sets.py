"""A set of spindles: starting it, where it stands, its pieces, its list of steps on paper."""

from __future__ import annotations

import re
import secrets
from dataclasses import dataclass
from typing import Annotated, get_args

from fastapi import APIRouter, Depends, Form, Query, Request, Response

from benchside import units
from benchside.draw.whole import whole
from benchside.errors import BenchsideError, NotUnderstood
from benchside.job import calipers, drafts, fitting, origin, sets, tenon_aims
from benchside.job import piece as pieces
from benchside.job.shop import newest_unit
from benchside.job.turning import Surprising
from benchside.pattern import Pattern
from benchside.store import patterns
from benchside.store.sets import Choices, Cuts, Habit, Tolerances
from benchside.web import labels
from benchside.web.asked import (
    Asked,
    OfPiece,
    TypedForm,
    device_id_of,
    filled,
    shop_of,
    typing_unit,
)
from benchside.web.render import now, render, see

router = APIRouter()

PICTURE_PX = 700.0
TOLERANCES = ("tenon_mm", "slender_mm", "decorative_mm", "position_mm")
_CUTS: dict[str, Cuts] = {cuts: cuts for cuts in get_args(Cuts)}
_LEAST = {"wanted": 1, "spares": 0, "calipers": 1}
_EXAMPLE = {"wanted": 9, "spares": 1, "calipers": 3}
_ANY = Tolerances(1.0, 1.0, 1.0, 1.0)  # stands in for what cannot be read
_WHOLE = re.compile("[-−+]?[0-9]{1,6}")


@dataclass(frozen=True, slots=True)
class Typed:
    """The form of a set's choices, as typed."""

    name: str = ""
    note: str = ""
    wanted: str = ""
    spares: str = ""
    unit: str = "mm"
    habit: str = "piece"
    tenon_mm: str = ""
    slender_mm: str = ""
    decorative_mm: str = ""
    position_mm: str = ""
    calipers: str = ""
    headstock: str = "left"
    cuts: str = "ordinary"


async def _as_typed(sent: TypedForm) -> Typed:
    return filled(Typed, sent)


ChoicesForm = Annotated[Typed, Depends(_as_typed)]


def fresh_key() -> str:
    """A new key for a form, so that sent twice it is kept once."""
    return secrets.token_hex(16)


@router.get("/sets/new")
def new(request: Request, pattern: Annotated[int | None, Query()] = None) -> Response:
    shop = shop_of(request)
    if pattern is None:
        return see("/patterns?choose=1")
    record = patterns.found(shop, pattern)
    unit: units.Unit = typing_unit(request)
    last = newest_unit(shop)
    if last and units.unit_sign(last) == unit:
        unit = last
    typed = Typed(
        name=record.name,
        wanted="9",
        spares="1",
        unit=unit,
        calipers=str(sets.DEFAULT_CALIPERS),
        **_offered(unit),
    )
    return _new_page(request, record, typed, {})


@router.post("/sets/new")
def start(request: Request, pattern: Annotated[int, Form()], typed: ChoicesForm) -> Response:
    shop = shop_of(request)
    record = patterns.found(shop, pattern)
    choices, problems = _choices(typed)
    if choices is not None:
        try:
            kept = sets.start(shop, pattern, choices, at=now())
        except BenchsideError as problem:
            problems = {problem.field: problem}
        else:
            return see(f"/sets/{kept.id}")
    return _new_page(request, record, typed, problems)


@router.get("/sets/{set_id}/settings")
def settings(request: Request, set_id: int) -> Response:
    choices = sets.standing(shop_of(request), set_id).kept.choices
    typed = Typed(
        name=choices.name,
        note=choices.note,
        wanted=str(choices.wanted),
        spares=str(choices.spares),
        unit=choices.unit,
        habit=choices.habit,
        calipers=str(choices.calipers),
        headstock=choices.headstock,
        cuts=choices.cuts,
        **_tolerances_as_typed(choices.tolerances, choices.unit),
    )
    return _settings_page(request, set_id, typed, {})


@router.post("/sets/{set_id}/settings")
def settle(request: Request, set_id: int, typed: ChoicesForm) -> Response:
    shop = shop_of(request)
    kept = sets.standing(shop, set_id).kept
    choices, problems = _choices(typed, kept.choices)
    if choices is not None:
        try:
            sets.settle(shop, set_id, choices)
        except BenchsideError as problem:
            problems = {problem.field: problem}
        else:
            return see(f"/sets/{set_id}")
    return _settings_page(request, set_id, typed, problems)


@router.get("/sets/{set_id}")
def overview(
    request: Request, set_id: int, brought: Annotated[int | None, Query(ge=0)] = None
) -> Response:
    return _overview_page(request, set_id, {}, brought=brought)


@router.post("/sets/{set_id}/archive")
def archive(request: Request, set_id: int, away: Annotated[str, Form()] = "") -> Response:
    sets.put_away(shop_of(request), set_id, now() if away else None)
    return see("/" if away else f"/sets/{set_id}")


@router.post("/sets/{set_id}/duplicate")
def duplicate(request: Request, set_id: int, name: Annotated[str, Form()] = "") -> Response:
    try:
        kept = sets.duplicate(shop_of(request), set_id, name.strip(), at=now())
    except BenchsideError as problem:
        return _overview_page(request, set_id, {problem.field: problem}, name=name)
    return see(f"/sets/{kept.id}")


@router.post("/sets/{set_id}/practice")
def practice(request: Request, set_id: int) -> Response:
    number = sets.practice_piece(shop_of(request), set_id)
    return see(f"/sets/{set_id}/turn/{number}")


@router.post("/sets/{set_id}/hold")
def hold(
    request: Request,
    set_id: int,
    revision: Annotated[int, Form()],
    sure: Annotated[str, Form()] = "",
) -> Response:
    try:
        sets.hold_to(shop_of(request), set_id, revision, sure=bool(sure))
    except BenchsideError as problem:
        return _overview_page(request, set_id, {problem.field: problem})
    return see(f"/sets/{set_id}")


@router.post("/sets/{set_id}/calipers")
def caliper(
    request: Request,
    set_id: int,
    letter: Annotated[str, Form()] = "",
    what: Annotated[str, Form()] = "",
    key: Annotated[str, Form()] = "",
) -> Response:
    shop = shop_of(request)
    calipers.mark(shop, set_id, letter, what, key=key, at=now(), device_id=device_id_of(request))
    return see(f"/sets/{set_id}#calipers")


@router.get("/sets/{set_id}/pieces/{number}")
def piece(at: OfPiece) -> Response:
    return piece_page(at)


def piece_page(
    at: Asked, problem: BenchsideError | None = None, typed: str = "", about: str = ""
) -> Response:
    """The page of one piece; after a refusal with the problem and what was typed given back.

    ``about`` is the key of the reading that the refused form was to correct, or what the refused
    form was to say of the piece.
    """
    view = pieces.piece(at.shop, at.set_id, at.number)
    return render(
        at.request,
        "sets/piece.html",
        status=problem.status if problem else 200,
        here="home",
        view=view,
        kept=view.kept,
        problem=problem,
        asks=isinstance(problem, Surprising),
        typed=typed,
        about=about,
        fresh_key=fresh_key,
        origin=origin.origins(at.shop, at.set_id).get(at.number),
    )


@router.get("/sets/{set_id}/pieces/{number}/pattern")
def show_becoming(at: OfPiece) -> Response:
    return _becoming_page(at, None)


@router.post("/sets/{set_id}/pieces/{number}/pattern")
def become_pattern(
    at: OfPiece, revision: Annotated[int, Form()], tenons: Annotated[str, Form()] = ""
) -> Response:
    try:
        pieces.become_pattern(
            at.shop, at.set_id, at.number, seen=revision, at=now(), tenons=bool(tenons)
        )
    except BenchsideError as problem:
        return _becoming_page(at, problem)
    return see(f"/sets/{at.set_id}")


@router.get("/sets/{set_id}/steps")
def steps(request: Request, set_id: int) -> Response:
    sheet = pieces.sheet(shop_of(request), set_id)
    return render(
        request,
        "sets/steps.html",
        by_holes=tenon_aims.by_holes(shop_of(request), set_id),
        here="home",
        sheet=sheet,
        kept=sheet.kept,
        picture=_measured_picture(sheet.record.pattern, sheet.kept.choices, named=True),
        today=now(),
    )


def _overview_page(
    request: Request,
    set_id: int,
    problems: dict[str, BenchsideError],
    name: str | None = None,
    brought: int | None = None,
) -> Response:
    shop = shop_of(request)
    view = pieces.overview(shop, set_id)
    return render(
        request,
        "sets/overview.html",
        status=next(iter(problems.values())).status if problems else 200,
        here="home",
        view=view,
        standing=view.standing,
        brought=brought,
        due=fitting.due(shop, set_id, now=now()),
        picture=_measured_picture(view.record.pattern, view.standing.kept.choices),
        kept=view.standing.kept,
        problems=problems,
        copy_name=view.standing.kept.name if name is None else name,
        fresh_key=fresh_key,
    )


def _becoming_page(at: Asked, problem: BenchsideError | None) -> Response:
    found = pieces.becoming(at.shop, at.set_id, at.number)
    return render(
        at.request,
        "sets/becoming.html",
        status=problem.status if problem else 200,
        here="home",
        found=found,
        kept=found.kept,
        picture=_measured_picture(found.pattern, found.kept.choices),
        problem=problem,
    )


def _new_page(
    request: Request,
    record: patterns.PatternRecord,
    typed: Typed,
    problems: dict[str, BenchsideError],
) -> Response:
    return render(
        request,
        "sets/new.html",
        status=422 if problems else 200,
        here="home",
        record=record,
        typed=typed,
        problems=problems,
        offers=OFFERS,
    )


def _settings_page(
    request: Request, set_id: int, typed: Typed, problems: dict[str, BenchsideError]
) -> Response:
    kept = sets.standing(shop_of(request), set_id).kept
    return render(
        request,
        "sets/settings.html",
        status=422 if problems else 200,
        here="home",
        kept=kept,
        typed=typed,
        problems=problems,
        offers=OFFERS,
    )


def _choices(
    typed: Typed, kept: Choices | None = None
) -> tuple[Choices | None, dict[str, BenchsideError]]:
    """What the form says, or everything in it that cannot be, by field.

    A tolerance that still reads as it was shown of ``kept`` stays exactly what it was.
    """
    problems: dict[str, BenchsideError] = {}
    unit: units.Unit = next((u for u in units.UNITS if u == typed.unit), "mm")
    if unit != typed.unit:
        problems["unit"] = NotUnderstood("Choose one of the units.", field="unit")
    if typed.habit not in get_args(Habit):
        problems["habit"] = NotUnderstood("Choose one of the two habits.", field="habit")
    if typed.headstock not in ("left", "right"):
        problems["headstock"] = NotUnderstood("Choose left or right.", field="headstock")
    if typed.cuts not in _CUTS:
        problems["cuts"] = NotUnderstood("Choose one of the three.", field="cuts")
    whole = {name: _whole(typed, name, problems) for name in ("wanted", "spares", "calipers")}
    shown = _tolerances_as_typed(kept.tolerances, kept.unit) if kept else {}
    lengths = {
        name: getattr(kept.tolerances, name)
        if kept and getattr(typed, name).strip() == shown[name]
        else _length(typed, name, unit, problems)
        for name in TOLERANCES
    }
    choices = Choices(
        name=" ".join(typed.name.split()),
        note=typed.note.replace("\r\n", "\n").strip(),
        unit=unit,
        habit="stage" if typed.habit == "stage" else "piece",
        tolerances=Tolerances(**lengths),
        headstock="right" if typed.headstock == "right" else "left",
        cuts=_CUTS.get(typed.cuts, "ordinary"),
        **whole,
    )
    problems = {fault.field: fault for fault in sets.faults(choices)} | problems
    return (None, problems) if problems else (choices, {})


def _whole(typed: Typed, name: str, problems: dict[str, BenchsideError]) -> int:
    text = getattr(typed, name).strip()
    if _WHOLE.fullmatch(text):
        return int(text.replace("−", "-"))
    problems[name] = NotUnderstood(
        f"Type a whole number, {_LEAST[name]} or more, such as {_EXAMPLE[name]}.", field=name
    )
    return _LEAST[name]


def _length(
    typed: Typed, name: str, unit: units.Unit, problems: dict[str, BenchsideError]
) -> float:
    try:
        return units.parse_length(getattr(typed, name), unit, field=name)
    except BenchsideError as problem:
        problems[name] = problem
        return float(getattr(_ANY, name))


def _tolerances_as_typed(tolerances: Tolerances, unit: units.Unit) -> dict[str, str]:
    """Each with its unit written, so that choosing another unit never changes what it means."""
    sign = units.unit_sign(unit)
    return {name: f"{drafts.shown(getattr(tolerances, name), sign)} {sign}" for name in TOLERANCES}


def _offered(unit: units.Unit) -> dict[str, str]:
    """Our starting tolerances in the maker's system, inches to the thousandth."""
    if units.unit_sign(unit) == "mm":
        return _tolerances_as_typed(sets.DEFAULT_TOLERANCES, "mm")
    return {
        name: f"{units.format_length(getattr(sets.DEFAULT_TOLERANCES, name), 'in')} in"
        for name in TOLERANCES
    }


OFFERS = {"mm": _offered("mm"), "in": _offered("in")}


def picture(pattern: Pattern, choices: Choices, *, prefix: str = "w") -> str:
    """The finished spindle alone; ``prefix`` keeps several in one document apart."""
    return whole(pattern, width=PICTURE_PX, headstock=choices.headstock, prefix=prefix)


def _measured_picture(pattern: Pattern, choices: Choices, *, named: bool = False) -> str:
    """The finished spindle with its length; ``named`` with its stations' names."""
    labelled = [(s.at_mm, s.name) for s in pattern.stations] if named else []
    long = labels.position(pattern.length_mm, choices.unit)
    return whole(
        pattern,
        width=PICTURE_PX,
        labels=labelled,
        length_text=f"{long} {units.unit_sign(choices.unit)}",
        headstock=choices.headstock,
    )
