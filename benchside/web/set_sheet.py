"""The set sheet: one telling of a set, shown as a page and written as a PDF."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from fastapi import APIRouter, Request, Response
from markupsafe import Markup

from benchside.draw.spindle import datum_at_left
from benchside.job import paper as papers
from benchside.job import set_sheet as job
from benchside.job.fitting import Row
from benchside.job.piece import Line
from benchside.job.set_sheet import SetSheet
from benchside.job.stock import BoardView
from benchside.job.wood import OWN_FIGURE as FIGURE
from benchside.job.wood_of import Said
from benchside.paper.page import Heading, Page
from benchside.paper.pdf import pdf
from benchside.paper.report import (
    Facts,
    Part,
    Picture,
    Report,
    Section,
    Steps,
    Table,
    Text,
    report_sheets,
    spindle_picture,
    text_width_mm,
)
from benchside.paper.svg import drawing_svg
from benchside.stock import sawing
from benchside.store.database import Shop
from benchside.units import Unit, unit_sign
from benchside.web import drying
from benchside.web.labels import length, place_label, position
from benchside.web.paper import PDF, file_reply, language
from benchside.web.render import day, now, render, signed
from benchside.web.words import words

router = APIRouter()

PIECES_A_TABLE = 10
CUT_MM = 0.05  # judgement: what stops nearer than this to its size is cut to it


@router.get("/sets/{set_id}/sheet")
def show(request: Request, set_id: int) -> Response:
    shop = request.app.state.shop
    at = now()
    found = job.set_sheet(shop, set_id, now=at)
    report = told(found, papers.printer(shop).page, at=at)
    return render(
        request,
        "paper/set_sheet.html",
        here="home",
        report=report,
        kept=found.sheet.kept,
        picture=_inline,
        kind=lambda part: type(part).__name__,
    )


@router.get("/sets/{set_id}/sheet.pdf")
def as_pdf(request: Request, set_id: int) -> Response:
    content = set_sheet_pdf(request.app.state.shop, set_id, at=now())
    return file_reply(content, PDF, f"benchside-set-{set_id}-sheet.pdf")


def set_sheet_pdf(shop: Shop, set_id: int, *, at: str) -> bytes:
    """The set sheet on upright pages of the size that is kept. Raises `NotFound`."""
    page = papers.printer(shop).page
    report = told(job.set_sheet(shop, set_id, now=at), page, at=at)
    sheets = report_sheets(report, page, language().say)
    return pdf(sheets, title=f"{report.heading.title}, {_say()['title']}", made_at=at)


def told(found: SetSheet, page: Page, *, at: str) -> Report:
    """The whole set in words and figures, in the unit it is turned in."""
    kept, record = found.sheet.kept, found.sheet.record
    sections = (
        ("pattern", _pattern(found, text_width_mm(page))),
        ("wood", _wood(found)),
        ("stock", _stock(found)),
        ("sizes", _sizes(found)),
        ("calipers", _calipers(found)),
        ("order", _order(found)),
        ("made", _made(found)),
        ("readings", _readings(found)),
        ("choice", _choice(found)),
        ("fit", _fit(found)),
        ("time", _time(found)),
        ("mistakes", _mistakes(found)),
        ("said", _said(found)),
    )
    choices = kept.choices
    return Report(
        heading=Heading(
            title=kept.name,
            below=_say()["held"].format(
                pattern=record.name,
                n=record.revision,
                day=day(record.revised_at),
                wanted=choices.wanted,
                spares=choices.spares,
            ),
            revision=language().say.revision.format(n=record.revision),
            day=day(at),
        ),
        sections=tuple(
            Section(_say()["sections"][name], made)
            for name, parts in sections
            if (made := tuple(parts))
        ),
    )


def _say() -> dict[str, Any]:
    found: dict[str, Any] = words()["set_sheet"]
    return found


def _end(found: SetSheet) -> str:
    return str(_say()[found.sheet.record.pattern.datum_end])


def _pattern(found: SetSheet, width_mm: float) -> Iterator[Part]:
    say, kept, record = _say(), found.sheet.kept, found.sheet.record
    left = datum_at_left(record.pattern, kept.choices.headstock)
    drawing = spindle_picture(record.pattern, width_mm, datum_left=left)
    yield Picture(drawing, say["picture"].format(pattern=record.name, end=_end(found)))
    long = f"{position(record.pattern.length_mm, kept.unit)} {unit_sign(kept.unit)}"
    notes = ((say["note"], kept.choices.note),) if kept.choices.note else ()
    yield Facts(((say["long"], long), *notes))


def _wood(found: SetSheet) -> Iterator[Part]:
    say, made = _say(), found.made.words
    each = (
        *_said_wood(found),
        (say["wood"], made.wood),
        (say["bits"], made.bits),
        (say["finish"], made.finish),
        (say["remember"], made.note),
    )
    if any(text for _, text in each):
        yield Facts(tuple((name, text) for name, text in each if text))


def _said_wood(found: SetSheet) -> Iterator[tuple[str, str]]:
    """Species, moisture, way, where it will live, and how it dries, each in one line."""
    say, names, wood = _say(), words()["wood"], found.wood.wood
    if wood is None:
        return
    species, low = wood.species.capitalize(), f"{wood.driest_mc:.1f}"
    radial, tangential = f"{wood.radial_percent:.1f}", f"{wood.tangential_percent:.1f}"
    source = say["learned" if wood.learned else "book"]
    yield (
        say["species"],
        say["shrinks"].format(species=species, radial=radial, tangential=tangential, from_=source),
    )
    state = names["state"][wood.state][0]
    mc, dry = f"{wood.moisture:.0f}", f"{wood.dry_mc:.1f}"
    yield say["moisture"], say["moist"].format(state=state, mc=mc, dry=dry)
    yield say["route"], names["route"][wood.route][0]
    where = names["climate"][wood.climate][0]
    lives = say["lives_at" if wood.climate == FIGURE else "through"]
    yield say["lives"], lives.format(where=where, low=low, high=f"{wood.dampest_mc:.1f}")
    weighed = found.drying.pieces
    if weighed:
        told = drying.told(found.drying)
        count = say["weighed"].format(
            pieces=_counted("pieces", len(weighed)),
            weighings=_counted("weighings", sum(len(p.weighings) for p in weighed)),
        )
        lines = (count, told.get("says", ""), told.get("day", ""))
        yield say["drying"], " ".join(filter(None, lines))


def _counted(key: str, n: int) -> str:
    return str(_say()[key][n != 1].format(n=n))


def _stock(found: SetSheet) -> Iterator[Part]:
    """The blank, and what each board and log gives of it with the fence set to what."""
    say, unit, stock = _say(), found.sheet.kept.unit, found.stock
    if not (stock.boards or stock.logs):
        return
    blank = stock.blank.blank
    size = say["blank_size"].format(
        length=position(blank.length_mm, unit),
        side=position(blank.side_mm, unit),
        sign=unit_sign(unit),
        wanted=stock.blank.wanted,
    )
    yield Facts(((say["blank"], size),))
    rows = []
    first = 1
    for view in stock.boards:
        rows.append(
            (
                view.kept.name,
                _numbers(first, view.count),
                length(view.kept.kerf_mm, unit, fine=True),
                _fences(view, unit),
            )
        )
        first += view.count
    for log in stock.logs:
        count = log.plan.count if log.plan else 0
        rows.append((log.kept.name, _numbers(first, count), "", say["split"]))
        first += count
    heads = tuple(say[name] for name in ("board", "blanks", "saw_cut", "fences"))
    yield Table(say["sections"]["stock"], heads, (False, True, True, False), tuple(rows))


def _numbers(first: int, count: int) -> str:
    if count < 2:
        return str(first) if count else "–"
    return f"{first}–{first + count - 1}"


def _fences(view: BoardView, unit: Unit) -> str:
    say = _say()["fence"]
    told = []
    for together in sawing.settings(view.layout.rips if view.layout else ()):
        rip = together[0]
        key = "strips" if rip.frees == "strip" and len(together) > 1 else rip.frees
        strips = ", ".join(str(r.strip + 1) for r in together if r.strip is not None)
        told.append(say[key].format(fence=length(rip.fence_mm, unit), strips=strips))
    return "; ".join(told)


def _fit(found: SetSheet) -> Iterator[Part]:
    """Which piece goes into which hole, and to what its tenon is brought."""
    say, names, unit = _say(), words()["fit"], found.sheet.kept.unit
    for each in found.fit.parts:
        part = each.part
        yield Text(
            say["goes_into"].format(
                part=part.name,
                species=part.species,
                mc=f"{part.moisture:.0f}",
                tenon=each.end.name or say["a_tenon"],
                school=names["school"][part.school]["name"].lower(),
                fit=signed(each.fit_mm, unit, fine=True),
                sign=unit_sign(unit),
                turning=names["turning"][part.turning],
            )
        )
        heads = ("hole", "spindle", "hole_is", "bring_to", "sized", "home")
        yield Table(
            part.name,
            tuple(say[name] for name in heads),
            (True, True, True, True, True, False),
            tuple(_into_hole(row, unit) for row in each.rows),
        )


def _into_hole(row: Row, unit: Unit) -> tuple[str, ...]:
    say = _say()
    bore = "" if row.bore is None else length(row.bore.size_mm, unit, fine=True)
    sized = [length(r.value_mm, unit, fine=True) for r in (row.wide, row.narrow) if r]
    home = day(row.home_at) if row.home_at else say["again"] if row.stale else ""
    return (
        str(row.hole),
        str(row.number),
        say["test_hole"].format(size=bore) if bore and not row.own else bore,
        "" if row.target_mm is None else length(row.target_mm, unit, fine=True),
        " × ".join(sized),
        home,
    )


def _sizes(found: SetSheet) -> Iterator[Part]:
    say, unit = _say(), found.sheet.kept.unit
    numbers = {s.id: str(i) for i, s in enumerate(found.sheet.record.pattern.stations, 1)}
    said = found.wood.said
    finished = found.sheet.work.finished_places
    yield Text(say["from_words"].format(sign=unit_sign(unit), end=_end(found)), soft=True)
    if said is not None:
        yield Text(_now_from(found, said, unit))
    now = ("now",) if said is not None else ()
    heads = ("station", "place", "from_end", *now, "finished", "limit", "stop", "caliper", "why")
    yield Table(
        say["sections"]["sizes"],
        tuple(say[name] for name in heads),
        tuple(name not in ("place", "caliper", "why") for name in heads),
        tuple(
            (
                numbers.get(ln.place.id, ""),
                place_label(ln.place),
                position(ln.place.at_mm, unit),
                *(_size(ln, ln.place.diameter_mm, unit) for _ in now),
                _size(ln, finished[ln.place.id].diameter_mm, unit),
                length(ln.tolerance_mm, unit, fine=True),
                "" if ln.stop_mm is None else _size(ln, ln.stop_mm, unit),
                ln.letter,
                _because(found, ln, unit),
            )
            for ln in found.sheet.lines
        ),
    )


def _size(ln: Line, mm: float, unit: Unit) -> str:
    return length(mm, unit, fine=ln.place.kind == "tenon")


def _now_from(found: SetSheet, said: Said, unit: Unit) -> str:
    """How the sizes to turn now follow from the finished ones."""
    why = found.wood.rows[0].why
    key = "rough_from" if said.turning.roughing else "now_from"
    return str(
        _say()[key].format(
            ratio=f"{why.ratio:.3f}",
            rough=length(said.turning.rough_mm, unit, fine=True),
            species=said.wood.species,
            from_=f"{why.from_mc:.0f}",
            to=f"{why.to_mc:.1f}",
        )
    )


def _because(found: SetSheet, ln: Line, unit: Unit) -> str:
    """Why it stops there, and what is left on it for when it is dry."""
    said = found.wood.said
    told = _why_here(ln, unit)
    if said is None or said.turning.roughing or ln.place.kind != "tenon":
        return told
    left = length(said.turning.sizing_mm, unit, fine=True)
    return f"{_say()['left_dry'].format(left=left)}; {told}" if said.turning.sizing_mm else told


def _why_here(ln: Line, unit: Unit) -> str:
    because = _say()["because"]
    if ln.stop_mm is None:
        return str(because["between"])
    over_mm = ln.stop_mm - ln.place.diameter_mm
    if over_mm > CUT_MM:
        over = f"{length(over_mm, unit)} {unit_sign(unit)}"
        return str(because["over"].format(over=over))
    return str(because["tenon" if ln.place.kind == "tenon" else "cut"])


def _calipers(found: SetSheet) -> Iterator[Part]:
    unit = found.sheet.kept.unit
    each = tuple(
        (letter, ", ".join(length(mm, unit) for mm in sizes) + f" {unit_sign(unit)}")
        for letter, sizes in found.made.calipers
    )
    if each:
        heads = (_say()["caliper"], _say()["set_to"])
        yield Table(_say()["sections"]["calipers"], heads, (False, False), each)


def _order(found: SetSheet) -> Iterator[Part]:
    """The steps, each with where and what it stops at."""
    unit, work = found.sheet.kept.unit, found.sheet.work
    told = []
    for step in work.steps:
        if step.stage in ("final", "done"):
            continue
        if step.tool == "steady":
            name = "steady_off" if step.id.startswith("off:") else "steady_on"
            told.append(_say()[name].format(at=position(step.at_mm or 0.0, unit)))
            continue
        text = words()["stage_short"][step.stage]
        if step.place_id is not None:
            text += f" {place_label(work.places[step.place_id])}"
        if step.stop_mm is not None:
            text += f" {length(step.stop_mm, unit, fine=step.stage == 'tenon')}"
        told.append(text)
    yield Steps(tuple(told))


def _made(found: SetSheet) -> Iterator[Part]:
    say, unit, made = _say(), found.sheet.kept.unit, found.made
    if not made.pieces:
        return
    told = say["averaged_one"] if made.pieces == 1 else say["averaged"].format(n=made.pieces)
    yield Text(told, soft=True)
    rows = []
    for each in made.averages:
        if each.size is None:
            continue
        fine = each.place.kind == "tenon"
        rows.append(
            (
                place_label(each.place),
                length(each.place.diameter_mm, unit, fine=fine),
                length(each.size.mean_mm, unit, fine=fine),
                signed(each.size.mean_mm - each.place.diameter_mm, unit, fine=fine),
                length(each.size.range_mm, unit, fine=fine) if each.size.n > 1 else "",
                "" if each.position is None else position(each.position.mean_mm, unit),
                str(each.size.n),
            )
        )
    heads = ("place", "pattern_size", "average", "off", "range", "lies", "count")
    yield Table(
        say["sections"]["made"],
        tuple(say[name] for name in heads),
        (False, *(True for _ in heads[1:])),
        tuple(rows),
    )


def _readings(found: SetSheet) -> Iterator[Part]:
    say, sheet = _say(), found.sheet
    read = {number for number, _, _ in sheet.read}
    every = [n for n in sheet.numbers if n in read]
    for start in range(0, len(every), PIECES_A_TABLE):
        numbers = every[start : start + PIECES_A_TABLE]
        rows = []
        for ln in sheet.lines:
            rows.append((place_label(ln.place), *_read(found, numbers, ln, "diameter")))
            if ln.place.position_matters:
                name = say["position"].format(place=place_label(ln.place))
                rows.append((name, *_read(found, numbers, ln, "position")))
        yield Table(
            say["readings_of"].format(first=numbers[0], last=numbers[-1]),
            (say["place"], *(say["piece"].format(n=n) for n in numbers)),
            (False, *(True for _ in numbers)),
            tuple(row for row in rows if any(row[1:])),
        )


def _read(found: SetSheet, numbers: list[int], ln: Line, kind: str) -> tuple[str, ...]:
    fine = ln.place.kind == "tenon" and kind == "diameter"
    values = [found.sheet.read.get((number, ln.place.id, kind)) for number in numbers]
    unit = found.sheet.kept.unit
    return tuple("" if mm is None else length(mm, unit, fine=fine) for mm in values)


def _choice(found: SetSheet) -> Iterator[Part]:
    say, unit, chosen = _say(), found.sheet.kept.unit, found.choice.chosen
    if chosen is None:
        return
    sign = unit_sign(unit)
    by = length(chosen.apart.by_mm, unit, fine=True)
    where = place_label(chosen.apart.place)
    facts = [
        (say["left_to_right"], ", ".join(map(str, chosen.order))),
        (say["differ_most"], say["differ"].format(place=where, by=by, sign=sign)),
    ]
    if chosen.odd is not None:
        odd = chosen.odd
        off = signed(odd.off_mm, unit, fine=True)
        told = say["odd"].format(n=odd.number, off=off, sign=sign, place=place_label(odd.place))
        facts.append((say["odd_one"], told))
    yield Facts(tuple(facts))


def _time(found: SetSheet) -> Iterator[Part]:
    say, made = _say(), found.made
    if not made.minutes:
        return
    facts = [(say["hours"], _minutes(made.minutes))]
    if made.minutes_each:
        facts.append((say["each"], _minutes(made.minutes_each)))
    stages = ", ".join(
        f"{words()['stage_short'][stage].lower()} {_minutes(minutes)}"
        for stage, minutes in found.time.stages
        if minutes >= 0.5
    )
    if stages:
        facts.append((say["stages"], stages))
    yield Facts(tuple(facts))


def _minutes(minutes: float) -> str:
    if minutes >= 90:
        return str(_say()["hours_said"].format(hours=f"{minutes / 60:.1f}"))
    return str(_say()["minutes_said"].format(minutes=round(minutes)))


def _mistakes(found: SetSheet) -> Iterator[Part]:
    for mistake in found.made.mistakes:
        yield Text(mistake.what)
        if mistake.cure:
            yield Facts(((_say()["cure"], mistake.cure),))


def _said(found: SetSheet) -> Iterator[Part]:
    say = _say()
    each = tuple(
        (say["of_piece"].format(n=mark.spindle) if mark.spindle else say["of_set"], mark.text)
        for mark in found.made.told
    )
    if each:
        yield Facts(each)


def _inline(part: Picture) -> Markup:
    return Markup(drawing_svg(part.drawing, part.label))
