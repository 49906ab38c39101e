"""The Paper pages: what can be printed or cut of a set or a pattern, and the printer put right."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from fastapi import APIRouter, Form, Query, Request, Response

from benchside import units
from benchside.errors import BenchsideError, NotFound
from benchside.job import drafts
from benchside.job import paper as job
from benchside.job.paper import WHAT, Asked, Language, Subject, What
from benchside.paper import page
from benchside.paper.check import across_told
from benchside.paper.dxf import dxf
from benchside.paper.gauges import Shape
from benchside.paper.marks import Drawing
from benchside.paper.pdf import pdf
from benchside.paper.svg import drawing_svg, sheet_svg
from benchside.paper.words import paper_words
from benchside.web.address import lan_urls
from benchside.web.asked import shop_of, shop_unit, typing_unit
from benchside.web.labels import place_label
from benchside.web.render import day, now, render, see
from benchside.web.words import words

router = APIRouter()

Text = Annotated[str, Form()]
PDF, SVG, DXF = "application/pdf", "image/svg+xml", "image/vnd.dxf"
OWN, FINISHED = "own", "finished"


@dataclass(frozen=True, slots=True)
class Offer:
    """One thing that can be printed, how many sheets it takes, or why it cannot be."""

    what: What
    sheets: int
    problem: BenchsideError | None


def language() -> Language:
    """The words that paper is written in."""
    return Language(paper_words(words()["paper"]), place_label, day)


def check_title() -> str:
    """What the check sheet is called."""
    return str(words()["paper_page"]["check_title"])


@router.get("/paper")
def the_printer(request: Request, kept: str = "") -> Response:
    return _printer_page(request, {}, {}, kept=bool(kept))


@router.post("/paper/page")
def keep_page(
    request: Request, size: Text = "", width_mm: Text = "", height_mm: Text = ""
) -> Response:
    typed = {"size": size, "width_mm": width_mm, "height_mm": height_mm}
    try:
        if size in page.NAMED:
            job.keep_page(shop_of(request), *page.NAMED[size])
        else:
            unit = shop_unit(request)
            width = units.parse_length(width_mm, unit, field="width_mm")
            height = units.parse_length(height_mm, unit, field="height_mm")
            job.keep_page(shop_of(request), width, height)
    except BenchsideError as problem:
        return _printer_page(request, typed, {problem.field: problem})
    return see("/paper?kept=1")


@router.post("/paper/printer")
def keep_measured(
    request: Request, along: Text = "", across: Text = "", forget: Text = ""
) -> Response:
    shop = shop_of(request)
    if forget:
        job.forget_printer(shop)
        return see("/paper?kept=1")
    typed = {"along": along, "across": across}
    problems: dict[str, BenchsideError] = {}
    measured = []
    for field, text in typed.items():
        try:
            measured.append(units.parse_length(text, "mm", field=field))
        except BenchsideError as problem:
            problems[field] = problem
    if not problems:
        try:
            job.keep_measured(shop, *measured)
        except BenchsideError as problem:
            problems[problem.field] = problem
        else:
            return see("/paper?kept=1")
    return _printer_page(request, typed, problems)


@router.post("/paper/kerf")
def keep_kerf(request: Request, kerf: Text = "") -> Response:
    try:
        mm = units.parse_length(kerf.strip() or "0", shop_unit(request), field="kerf")
        job.keep_kerf(shop_of(request), mm)
    except BenchsideError as problem:
        return _printer_page(request, {"kerf": kerf}, {problem.field: problem})
    return see("/paper?kept=1")


@router.get("/paper/check.pdf")
def check_sheet(request: Request) -> Response:
    title = check_title()
    printed = job.printer(shop_of(request))
    at = now()
    sheet = job.check_sheet(printed, language(), title, shop_unit(request), at=at)
    return file_reply(pdf([sheet], title=title, made_at=at), PDF, "benchside-check-sheet.pdf")


@router.get("/sets/{set_id}/paper")
def of_set(request: Request, set_id: int, shape: str = "notch", sizes: str = "now") -> Response:
    found = job.of_set(shop_of(request), set_id, language())
    return _page(request, found, f"/sets/{set_id}", _shape(shape), finished=sizes == FINISHED)


@router.get("/patterns/{pattern_id}/paper")
def of_pattern(
    request: Request,
    pattern_id: int,
    revision: Annotated[int | None, Query()] = None,
    shape: str = "notch",
) -> Response:
    found = _pattern(request, pattern_id, revision)
    return _page(request, found, f"/patterns/{pattern_id}", _shape(shape))


@router.get("/sets/{set_id}/paper/{name}")
def set_file(
    request: Request,
    set_id: int,
    name: str,
    long: str = "",
    shape: str = "notch",
    sizes: str = "now",
    sheet: Annotated[int, Query()] = 1,
) -> Response:
    found = job.of_set(shop_of(request), set_id, language())
    asked = Asked(bool(long), _shape(shape), _base(request), sizes == FINISHED)
    return _made(request, found, name, asked, sheet)


@router.get("/patterns/{pattern_id}/paper/{name}")
def pattern_file(
    request: Request,
    pattern_id: int,
    name: str,
    long: str = "",
    shape: str = "notch",
    sheet: Annotated[int, Query()] = 1,
    revision: Annotated[int | None, Query()] = None,
) -> Response:
    found = _pattern(request, pattern_id, revision)
    asked = Asked(bool(long), _shape(shape), _base(request))
    return _made(request, found, name, asked, sheet)


def _pattern(request: Request, pattern_id: int, revision: int | None) -> Subject:
    unit: units.Unit = "in/64" if typing_unit(request) == "in" else "mm"
    shop = shop_of(request)
    return job.of_pattern(shop, pattern_id, language(), unit=unit, revision=revision)


def _made(request: Request, found: Subject, name: str, asked: Asked, number: int) -> Response:
    """The file of that name: WHAT.pdf, WHAT.svg to look at (a
    stick whole, else the sheet asked for), gauges-cut and outline for a cutter."""
    what, _, kind = name.rpartition(".")
    printed = job.printer(shop_of(request))
    at = now()
    finished = what.startswith("gauges") and asked.finished and found.dry_sizes
    called = job.file_name(found, f"{what}-{FINISHED}" if finished else what, kind)
    if what == "gauges-cut" and kind in ("svg", "dxf"):
        drawing = job.cut_file(found, printed, language(), asked, number, at=at)
        return _drawing(drawing, kind, found.title, called)
    if what in ("outline", "half-outline") and kind in ("svg", "dxf"):
        half = what == "half-outline"
        return _drawing(job.outline(found, half=half), kind, found.title, called)
    if what not in job.offered(found) or kind not in ("pdf", "svg"):
        raise NotFound("There is no such page.")
    if kind == "svg" and what in job.STICKS:
        return _seen(drawing_svg(job.whole(found, _what(what), language(), at=at), found.title))
    sheets = job.sheets(found, _what(what), printed, language(), asked, at=at)
    if kind == "pdf":
        return file_reply(pdf(sheets, title=f"{found.title}, {what}", made_at=at), PDF, called)
    if not 1 <= number <= len(sheets):
        raise NotFound("There is no such sheet.")
    return _seen(sheet_svg(sheets[number - 1], found.title))


def _page(
    request: Request, found: Subject, base: str, shape: Shape, *, finished: bool = False
) -> Response:
    printed = job.printer(shop_of(request))
    asked = Asked(False, shape, _base(request), finished)
    at = now()
    offers = [_offer(found, what, printed, asked, at) for what in job.offered(found)]
    door = request.app.state.door
    return render(
        request,
        "paper/page.html",
        here="home" if found.set_id is not None else "patterns",
        found=found,
        base=base,
        offers=offers,
        printed=printed,
        shape=shape,
        finished=finished,
        sticks=job.STICKS,
        unit=shop_unit(request),
        size_name=_size_name(printed),
        scales=page.scales_mm(printed.page),
        opens_on_phones=door.lan,
        address=_base(request),
    )


def _offer(found: Subject, what: What, printed: job.Printer, asked: Asked, at: str) -> Offer:
    try:
        sheets = job.sheets(found, what, printed, language(), asked, at=at)
    except BenchsideError as problem:
        return Offer(what, 0, problem)
    return Offer(what, len(sheets), None)


def _printer_page(
    request: Request,
    typed: dict[str, str],
    problems: dict[str, BenchsideError],
    *,
    kept: bool = False,
) -> Response:
    printed, unit = job.printer(shop_of(request)), shop_unit(request)
    name = _size_name(printed)
    own = name == OWN
    shown = {
        "size": name,
        "width_mm": drafts.shown(printed.page.short_mm, unit) if own else "",
        "height_mm": drafts.shown(printed.page.long_mm, unit) if own else "",
        "along": "",
        "across": "",
        "kerf": drafts.shown(printed.kerf_mm, unit),
    }
    problem = problems.get("page")
    if problem is not None:
        problems = {**problems, "size": problem}
    return render(
        request,
        "paper/printer.html",
        status=422 if problems else 200,
        here="shop",
        printed=printed,
        unit=unit,
        named=tuple(page.NAMED),
        scales=page.scales_mm(page.uncorrected(printed.page)),
        corners=across_told(page.corners_mm(page.uncorrected(printed.page), unit), unit),
        typed={**shown, **typed},
        problems=problems,
        kept=kept,
    )


def _size_name(printed: job.Printer) -> str:
    size = (printed.page.long_mm, printed.page.short_mm)
    return next((name for name, known in page.NAMED.items() if known == size), OWN)


def _base(request: Request) -> str:
    """Where a phone finds this laptop: a name that stays, first; on this laptop alone, itself."""
    door = request.app.state.door
    server = request.scope.get("server")
    port = int(server[1]) if server and server[1] else 80
    urls = lan_urls(port, door.name) if door.lan else ()
    return urls[0] if urls else str(request.base_url).rstrip("/")


def _shape(text: str) -> Literal["notch", "half-round"]:
    return "half-round" if text == "half-round" else "notch"


def _what(text: str) -> What:
    return next(what for what in WHAT if what == text)


def _drawing(drawing: Drawing, kind: str, title: str, called: str) -> Response:
    if kind == "dxf":
        return file_reply(dxf(drawing), DXF, called)
    return file_reply(drawing_svg(drawing, title).encode(), SVG, called)


def _seen(svg: str) -> Response:
    """Something to look at in a page."""
    return Response(svg, media_type=SVG, headers={"Cache-Control": "no-store"})


def file_reply(content: bytes, kind: str, called: str) -> Response:
    """A file to take home."""
    headers = {
        "Content-Disposition": f'attachment; filename="{called}"',
        "Cache-Control": "no-store",
    }
    return Response(content, media_type=kind, headers=headers)
