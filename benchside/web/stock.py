"""Stock: boards and logs on the rack, what they give, and the stock of a set."""

from __future__ import annotations

from dataclasses import asdict, replace
from functools import partial
from typing import Any, get_args

from fastapi import APIRouter, Request, Response
from fastapi.responses import JSONResponse
from starlette.datastructures import FormData

from benchside import units
from benchside.draw import board as drawing
from benchside.draw import log as end_drawing
from benchside.errors import BenchsideError, NotUnderstood, PatternBroken
from benchside.job import board_table, drafts
from benchside.job import stock as job
from benchside.job.board_table import PIN_FIELDS, ROW_FIELDS, BoardTold, KnotRow, PinRow
from benchside.job.stock import BoardView, LogView, SetView
from benchside.paper import saw_plan
from benchside.paper.svg import inline_svg
from benchside.stock import sawing
from benchside.stock.blank import ALLOWANCES, MORE_PERCENT, ROUTES
from benchside.stock.board import Defect
from benchside.stock.grain import steep
from benchside.stock.log import WAYS, Bolt, SplitPlan
from benchside.store import sets
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet
from benchside.store.stock import KeptLog, KeptNeed, SetStock
from benchside.units import Unit
from benchside.web.pattern_parts import Posted
from benchside.web.render import environment, now, render, see
from benchside.web.sets import fresh_key

router = APIRouter()
page = partial(render, here="shop")

WHOLE_PX = 700.0
LOG_PX = 420.0
SHEET_MM = 250.0  # across a landscape sheet, inside any printer's margins
BLANK_ROWS = 3
FACES = (("one", "Face one"), ("two", "Face two"))
LOG_FIELDS = (
    *("length_mm", "large_mm", "small_mm", "bark_mm", "sapwood_mm", "pith_mm", "end_mm"),
    *("kerf_mm", "over_mm", "blank_length_mm", "blank_side_mm"),
)


@router.get("/stock")
def the_rack(request: Request, used: str = "") -> Response:
    shop = _shop(request)
    views = job.rack(shop, archived=bool(used))
    return page(
        request,
        "stock/rack.html",
        used=bool(used),
        boards=[(view, _whole(view)) for view in views.boards],
        logs=[(view, _end(view)) for view in views.logs],
        sets=_set_names(shop),
    )


# ------------------------------------------------------------------ boards


@router.get("/stock/boards/new")
def new_board(request: Request, set: int | None = None) -> Response:  # noqa: A002
    return _board_page(request, None, job.new_board(_shop(request), set), None)


@router.post("/stock/boards/new")
def add_board(request: Request, form: Posted) -> Response:
    return _keep_board(request, None, form)


@router.post("/stock/boards/draw")
def draw_board(request: Request, form: Posted) -> Response:
    """The drawings, the answer and what is wrong, as JSON for the page that is being drawn on."""
    shop, told = _shop(request), _told(form)
    board_id = int(text) if (text := str(form.get("board_id", ""))).isdecimal() else None
    try:
        view = job.drafted(shop, board_id, told)
    except PatternBroken as broken:
        return JSONResponse({"problems": [asdict(problem) for problem in broken.problems]})
    answer = environment().get_template("stock/_answer.html").render(**_answer(shop, view))
    return JSONResponse(
        {
            **{side: _face(view, side) for side, _ in FACES},
            "answer": answer,
            "blanks": [
                {**asdict(placed), "corners": blank.figure} for placed, blank in _outlines(view)
            ],
            "problems": _pin_problem(view),
        }
    )


@router.get("/stock/boards/{board_id}")
def show_board(request: Request, board_id: int) -> Response:
    view = job.board(_shop(request), board_id)
    return _board_page(request, board_id, board_table.as_told(view.kept), view)


@router.post("/stock/boards/{board_id}")
def change_board(request: Request, board_id: int, form: Posted) -> Response:
    return _keep_board(request, board_id, form)


@router.post("/stock/{kind}/{row_id}/away")
def away(request: Request, kind: str, row_id: int, form: Posted) -> Response:
    job.put_away(
        _shop(request), kind.removesuffix("s"), row_id, now() if form.get("away") else None
    )
    return see("/stock")


@router.get("/stock/boards/{board_id}/sheet")
def board_sheet(request: Request, board_id: int) -> Response:
    view = job.board(_shop(request), board_id)
    return page(
        request,
        "stock/sheet.html",
        title=view.kept.name,
        back=f"/stock/boards/{board_id}",
        sheets=[_sheet(view, 1)],
        unit=view.kept.unit,
        wanted=view.wanted,
    )


def _keep_board(request: Request, board_id: int | None, form: FormData) -> Response:
    shop, told = _shop(request), _told(form)
    if form.get("do") == "more":
        return _board_page(request, board_id, told, None, more=True)
    try:
        kept = job.keep_board(shop, board_id, told, key=str(form.get("key", "")), at=now())
    except PatternBroken as broken:
        return _board_page(request, board_id, told, None, broken)
    except BenchsideError as problem:
        if problem.status == 404:
            raise
        return _board_page(request, board_id, told, None, problem)
    return see(f"/stock/boards/{kept}")


def _board_page(
    request: Request,
    board_id: int | None,
    told: BoardTold,
    view: BoardView | None,
    problem: BenchsideError | None = None,
    *,
    more: bool = False,
) -> Response:
    shop = _shop(request)
    if view is None:
        try:
            view = job.drafted(shop, board_id, told)
        except PatternBroken:
            view = None
    listed = problem.problems if isinstance(problem, PatternBroken) else ()
    return page(
        request,
        "stock/board.html",
        status=problem.status if problem else 200,
        board_id=board_id,
        told=told,
        view=view,
        faces=[(side, name, _face(view, side) if view else "") for side, name in FACES],
        answer=_answer(shop, view) if view else None,
        rows=(*told.knots, *(KnotRow() for _ in range(BLANK_ROWS * (2 if more else 1)))),
        filled=len(told.knots),
        pins=(*told.pins, PinRow()),
        problem=problem,
        listed=listed,
        problems={(p.row, p.field): p for p in reversed(listed)},
        sets=_set_names(shop),
        archived=bool(view and view.kept.archived_at),
        key=fresh_key(),
        fields=ROW_FIELDS,
    )


def _told(form: FormData) -> BoardTold:
    def rows(kind: type[Any], prefix: str, names: tuple[str, ...]) -> tuple[Any, ...]:
        columns = [[str(cell) for cell in form.getlist(prefix + name)] for name in names]
        found = (kind(*(cell[:60] for cell in row)) for row in zip(*columns, strict=False))
        return tuple(row for row in found if not row.empty)

    plain = {
        name: str(form.get(name, ""))
        for name in asdict(BoardTold())
        if name not in ("knots", "pins")
    }
    return BoardTold(
        **plain, knots=rows(KnotRow, "knot_", ROW_FIELDS), pins=rows(PinRow, "pin_", PIN_FIELDS)
    )


def _face(view: BoardView, side: Any) -> str:
    plan = plan_of(view)
    wanted = [w.need.blank.side_mm for w in view.wanted]
    scale = drawing.px_per_mm(plan.width_mm, min(wanted) if wanted else None)
    name = dict(FACES)[side]
    return drawing.face(plan, side, scale, f"{name} of {view.kept.name}")


def _whole(view: BoardView) -> str:
    label = f"{view.kept.name}, {view.count} blanks"
    return drawing.whole(plan_of(view), WHOLE_PX, label)


def plan_of(view: BoardView, first: int = 1) -> drawing.SawPlan:
    """What a board's drawings show, its blanks numbered from ``first``."""
    tried = tuple(
        Defect(k.at_mm, k.across_mm, k.length_mm, k.width_mm, k.face, k.depth_mm)
        for k in view.kept.knots
        if k.tried
    )
    return drawing.saw_plan(board_table.of_core(view.kept), view.layout, first=first, tried=tried)


def _outlines(view: BoardView) -> list[tuple[Any, drawing.NumberedBlank]]:
    placed = view.layout.blanks if view.layout else ()
    return [(placed[blank.number - 1], blank) for blank in plan_of(view).blanks]


def _pin_problem(view: BoardView) -> list[dict[str, Any]]:
    if view.problem is None:
        return []
    field, said = view.problem.field, view.problem
    return [{"row": 0, "field": field, "message": said.message, "hint": said.hint}]


def _answer(shop: Shop, view: BoardView, first: int = 1) -> dict[str, Any]:
    """What the answer to a board is made of."""
    rips = view.layout.rips if view.layout else ()
    kept_set = sets.found(shop, view.kept.set_id) if view.kept.set_id else None
    own = view.wanted[0].need if view.wanted else None
    return {
        "view": view,
        "layout": view.layout,
        "unit": view.kept.unit,
        "settings": sawing.settings(rips),
        "first": first,
        "kept_set": kept_set,
        "own": own,
        "by_need": [
            (wanted, sum(p.need == i for p in (view.layout.blanks if view.layout else ())))
            for i, wanted in enumerate(view.wanted)
        ],
        "steep": steep(view.kept.grain_slope),
        "board_id": view.kept.id or None,
    }


def _sheet(view: BoardView, first: int) -> dict[str, Any]:
    """One board on a printed saw plan."""
    plan = plan_of(view, first)
    stretches = [
        (each, inline_svg(each.drawing, f"{view.kept.name}, from {each.from_mm:.0f} mm"))
        for each in saw_plan.stretches(plan, SHEET_MM)
    ]
    layout = view.layout
    return {
        "view": view,
        "scale": saw_plan.scale_of(plan),
        "stretches": stretches,
        "settings": sawing.settings(layout.rips if layout else ()),
        "first": first,
        "blanks": [(first + i, placed) for i, placed in enumerate(layout.blanks if layout else ())],
    }


# ------------------------------------------------------------------ logs


@router.get("/stock/logs/new")
def new_log(request: Request, set: int | None = None) -> Response:  # noqa: A002
    kept = replace(job.bare_log(fresh_key(), now()), set_id=set, name="Log")
    # The usual figures carry their unit, so that one may go on in inches.
    typed = {field: text and f"{text} mm" for field, text in _log_typed(kept).items()}
    for name in ("length_mm", "large_mm", "small_mm"):
        typed[name] = ""
    return _log_page(request, kept, typed, None, {})


@router.post("/stock/logs/new")
def add_log(request: Request, form: Posted) -> Response:
    key = str(form.get("key", ""))
    return _keep_log(request, job.bare_log(key if len(key) == 32 else fresh_key(), now()), form)


@router.get("/stock/logs/{log_id}")
def show_log(request: Request, log_id: int) -> Response:
    view = job.log(_shop(request), log_id)
    return _log_page(request, view.kept, _log_typed(view.kept), view, {})


@router.post("/stock/logs/{log_id}")
def change_log(request: Request, log_id: int, form: Posted) -> Response:
    return _keep_log(request, job.log(_shop(request), log_id).kept, form)


def _keep_log(request: Request, kept: KeptLog, form: FormData) -> Response:
    typed = {name: str(form.get(name, "")) for name in LOG_FIELDS}
    unit = str(form.get("unit", "mm"))
    unit = unit if unit in get_args(Unit) else "mm"
    set_id = str(form.get("set_id", ""))
    way = str(form.get("way", ""))
    problems: dict[str, BenchsideError] = {}
    figures: dict[str, float | None] = {}
    for name in LOG_FIELDS:
        try:
            figures[name] = _figure(typed[name], unit, name)  # type: ignore[arg-type]
        except BenchsideError as problem:
            problems[name] = problem
    said = replace(
        kept,
        name=drafts.plain(str(form.get("name", ""))),
        note=str(form.get("note", "")).strip()[: board_table.LONGEST_NOTE],
        unit=unit,  # type: ignore[arg-type]
        set_id=int(set_id) if set_id.isdecimal() else None,
        keep_sapwood=form.get("sapwood") != "out",
        way=way if way in WAYS else "sectors",
    )
    if not problems:
        said = replace(said, **figures)  # type: ignore[arg-type]
        try:
            return see(f"/stock/logs/{job.keep_log(_shop(request), said)}")
        except BenchsideError as problem:
            if problem.status == 404:
                raise
            problems[problem.field] = problem
    return _log_page(request, said, typed, None, problems)


def _log_page(
    request: Request,
    kept: KeptLog,
    typed: dict[str, str],
    view: LogView | None,
    problems: dict[str, BenchsideError],
) -> Response:
    return page(
        request,
        "stock/log.html",
        status=422 if problems else 200,
        kept=kept,
        typed=typed,
        view=view,
        plans=[(plan, _ends(view, plan)) for plan in view.plans] if view else [],
        problems=problems,
        sets=_set_names(_shop(request)),
    )


def _figure(text: str, unit: Unit, name: str) -> float | None:
    if text.strip():
        return units.parse_length(text, unit, field=name)
    if name in ("length_mm", "large_mm", "small_mm"):
        raise NotUnderstood("This is still empty.", field=name)
    return None if name.startswith("blank") else 0.0


def _log_typed(kept: KeptLog) -> dict[str, str]:
    figures = {name: getattr(kept, name) for name in LOG_FIELDS}
    return {
        name: "" if mm is None else board_table.shown(mm, kept.unit) for name, mm in figures.items()
    }


def ends_of(view: LogView, plan: SplitPlan, first: int = 1) -> list[tuple[Bolt, end_drawing.End]]:
    """Each bolt of a plan and its smaller end, the billets numbered from ``first``."""
    found, log = [], job.of_log(view.kept)
    for bolt in plan.bolts:
        found.append((bolt, end_drawing.end_of(log, bolt, plan.way, first)))
        first += len(bolt.billets)
    return found


def _ends(view: LogView, plan: SplitPlan) -> list[tuple[Bolt, int, str]]:
    """Each bolt of a plan, the number of its first billet, and its end grain."""
    found = []
    for number, (bolt, end) in enumerate(ends_of(view, plan), 1):
        label = f"Bolt {number}, its smaller end: {len(bolt.billets)} billets"
        first = end.billets[0].number if end.billets else 0
        found.append((bolt, first, end_drawing.end_grain(end, width=LOG_PX, label=label)))
    return found


def _end(view: LogView) -> str:
    return _ends(view, view.plan)[0][2] if view.plan and view.plan.bolts else ""


# ------------------------------------------------------------------ the stock of a set


@router.get("/sets/{set_id}/stock")
def of_set(request: Request, set_id: int) -> Response:
    return _set_page(request, set_id, None, {})


@router.post("/sets/{set_id}/stock")
def keep_blank(request: Request, set_id: int, form: Posted) -> Response:
    shop = _shop(request)
    unit = sets.found(shop, set_id).unit
    problems: dict[str, BenchsideError] = {}
    typed = {name: str(form.get(name, "")) for name in ("length_mm", "side_mm", "more_percent")}
    typed["route"] = str(form.get("route", "dry"))
    figures: dict[str, float | None] = {}
    for name in ("length_mm", "side_mm"):
        try:
            text = typed[name]
            figures[name] = units.parse_length(text, unit, field=name) if text.strip() else None
        except BenchsideError as problem:
            problems[name] = problem
    more = typed["more_percent"].replace(",", ".").removesuffix("%").strip()
    if not more.replace(".", "", 1).isdecimal():
        problems["more_percent"] = NotUnderstood("Type a percentage, 30 say.")
    others = _others(form, unit, problems)
    if not problems:
        try:
            before = job.set_blank(shop, set_id)
            choices = SetStock(
                route=typed["route"],  # type: ignore[arg-type]
                length_mm=figures["length_mm"],
                side_mm=figures["side_mm"],
                more_percent=float(more),
            )
            choices = job.unchanged_as_proposed(before, choices)
            job.keep_set_blank(shop, set_id, choices, others)
            return see(f"/sets/{set_id}/stock")
        except BenchsideError as problem:
            if problem.status == 404:
                raise
            problems[problem.field] = problem
    return _set_page(request, set_id, {**typed, "others": _typed_others(form)}, problems)


@router.post("/sets/{set_id}/stock/number")
def number(request: Request, set_id: int) -> Response:
    return _tried(request, set_id, lambda: job.number_pieces(_shop(request), set_id, at=now()))


@router.post("/sets/{set_id}/stock/let-go")
def let_go(request: Request, set_id: int) -> Response:
    return _tried(request, set_id, lambda: job.let_go(_shop(request), set_id))


@router.post("/sets/{set_id}/stock/spare")
def spare(request: Request, set_id: int) -> Response:
    return _tried(request, set_id, lambda: job.take_spare(_shop(request), set_id))


@router.post("/sets/{set_id}/stock/rings")
def rings(request: Request, set_id: int, form: Posted) -> Response:
    def keep() -> None:
        text = str(form.get("ring", "")).replace(",", ".").removesuffix("°").strip()
        try:
            ring = float(text) if text else None
        except ValueError:
            raise NotUnderstood("Type an angle from 0 to 180.", field="ring") from None
        piece = str(form.get("piece", ""))
        if not (piece.isascii() and piece.isdecimal() and len(piece) < 10):
            raise NotUnderstood("Which piece? Choose its number.", field="piece")
        job.keep_ring(_shop(request), set_id, int(piece), ring)

    return _tried(request, set_id, keep)


@router.get("/sets/{set_id}/stock/sheet")
def set_sheet(request: Request, set_id: int) -> Response:
    view = job.of_set(_shop(request), set_id)
    found, first = [], 1
    for board in view.boards:
        found.append(_sheet(board, first))
        first += board.count
    return page(
        request,
        "stock/sheet.html",
        here="sets",
        title=view.blank.kept.name,
        back=f"/sets/{set_id}/stock",
        sheets=found,
        unit=view.blank.kept.unit,
        wanted=view.blank.all_wanted,
    )


def _tried(request: Request, set_id: int, verb: Any) -> Response:
    try:
        verb()
    except BenchsideError as problem:
        if problem.status == 404:
            raise
        return _set_page(request, set_id, None, {problem.field or "number": problem})
    return see(f"/sets/{set_id}/stock#pieces")


def _set_page(
    request: Request,
    set_id: int,
    typed: dict[str, Any] | None,
    problems: dict[str, BenchsideError],
) -> Response:
    shop = _shop(request)
    view = job.of_set(shop, set_id)
    kept = view.blank.kept
    boards, first = [], 1
    for board in view.boards:
        boards.append(
            (board, drawing.whole(plan_of(board, first), WHOLE_PX, board.kept.name), first)
        )
        first += board.count
    return render(
        request,
        "stock/set.html",
        status=422 if problems else 200,
        here="sets",
        view=view,
        kept=kept,
        base=f"/sets/{set_id}",
        unit=kept.unit,
        boards=boards,
        logs=[(log, _end(log)) for log in view.logs],
        free=job.free_stock(shop),
        sources=job.names_of(shop, view.blanks),
        routes=[(route, ALLOWANCES[route]) for route in ROUTES],
        more=MORE_PERCENT,
        typed=typed or _set_typed(view),
        problems=problems,
    )


def _set_typed(view: SetView) -> dict[str, Any]:
    unit = view.blank.kept.unit
    return {
        "route": view.blank.choices.route,
        "length_mm": board_table.shown(view.blank.blank.length_mm, unit),
        "side_mm": board_table.shown(view.blank.blank.side_mm, unit),
        "more_percent": f"{view.blank.choices.more_percent:g}",
        "others": [
            {
                "name": n.name,
                "length": board_table.shown(n.length_mm, unit),
                "side": board_table.shown(n.side_mm, unit),
                "wanted": str(n.wanted),
                "priority": str(n.priority),
            }
            for n in view.blank.others
        ],
    }


OTHER_FIELDS = ("name", "length", "side", "wanted", "priority")


def _typed_others(form: FormData) -> list[dict[str, str]]:
    columns = ([str(c) for c in form.getlist(f"other_{name}")] for name in OTHER_FIELDS)
    rows = (dict(zip(OTHER_FIELDS, row, strict=True)) for row in zip(*columns, strict=False))
    return [row for row in rows if any(row[name].strip() for name in ("name", "length", "side"))]


def _others(form: FormData, unit: Unit, problems: dict[str, BenchsideError]) -> list[KeptNeed]:
    found = []
    for number, row in enumerate(_typed_others(form), 1):
        try:
            wanted = row["wanted"].strip()
            if not (wanted.isdecimal() and 0 < int(wanted) <= 10_000):
                raise NotUnderstood("Say how many, 1 or more.")
            priority = row["priority"] if row["priority"] in "123456789" else "2"
            found.append(
                KeptNeed(
                    name=drafts.plain(row["name"])[: drafts.LONGEST_NAME] or f"Size {number}",
                    length_mm=units.parse_length(row["length"], unit),
                    side_mm=units.parse_length(row["side"], unit),
                    wanted=int(wanted),
                    priority=int(priority or "2"),
                )
            )
        except BenchsideError as problem:
            problems[f"other-{number}"] = problem
    return found


def _set_names(shop: Shop) -> list[SpindleSet]:
    return sets.listed(shop)


def _shop(request: Request) -> Shop:
    shop: Shop = request.app.state.shop
    return shop
