"""The set sheet: one telling of a set, shown as a page and written as a PDF."""

from __future__ import annotations

from collections.abc import Iterator

from fastapi import APIRouter, Request, Response
from markupsafe import Markup

from benchside.draw.finished import datum_at_left
from benchside.job import paper as papers
from benchside.job import set_sheet as job
from benchside.job.as_made import Average
from benchside.job.piece import Line
from benchside.job.set_sheet import SetSheet
from benchside.job.wood_of import Said
from benchside.paper import lettering
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
from benchside.paper.svg import inline_svg
from benchside.pattern import Place
from benchside.store.database import Shop
from benchside.units import Unit, unit_sign
from benchside.web import set_sheet_stock as stock
from benchside.web.asked import shop_of
from benchside.web.at_hand import speed_kept
from benchside.web.labels import length, moisture, place_label, position
from benchside.web.paper import PDF, file_reply, language
from benchside.web.render import day, now, render, signed
from benchside.web.set_sheet_stock import sentences
from benchside.web.words import words

router = APIRouter()

PIECES_A_TABLE = 10
AGAIN = ("dry", "sized")  # what is read after turning
AXES = ("A", "B")
MAY_LACK = (*AGAIN, "lies")  # columns left out where nothing stands in them
THIS_TIME = ("stock", "sizes", "readings", "choice", "fit")  # not needed to make it again
CUT_MM = 0.05  # judgement: what stops nearer than this to its size is cut to it


@router.get("/sets/{set_id}/sheet")
def show(request: Request, set_id: int) -> Response:
    shop = shop_of(request)
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
    content = set_sheet_pdf(shop_of(request), set_id, at=now())
    return file_reply(content, PDF, f"benchside-set-{set_id}-sheet.pdf")


@router.get("/sets/{set_id}/as-made.pdf")
def as_made_pdf(request: Request, set_id: int) -> Response:
    content = set_sheet_pdf(shop_of(request), set_id, at=now(), next_time=True)
    return file_reply(content, PDF, f"benchside-set-{set_id}-as-made.pdf")


def set_sheet_pdf(shop: Shop, set_id: int, *, at: str, next_time: bool = False) -> bytes:
    """The set sheet on upright pages of the size that is kept; ``next_time``: only what is to be
    known when it is made again. Raises `NotFound`."""
    page = papers.printer(shop).page
    report = told(job.set_sheet(shop, set_id, now=at), page, at=at, next_time=next_time)
    sheets = report_sheets(report, page, language().say)
    what = sentences()["made_title" if next_time else "title"]
    return pdf(sheets, title=f"{report.heading.title}, {what}", made_at=at)


def told(found: SetSheet, page: Page, *, at: str, next_time: bool = False) -> Report:
    """The whole set in words and figures, in the unit it is turned in."""
    kept, record = found.sheet.kept, found.sheet.record
    width = text_width_mm(page)
    sections = (
        ("pattern", _pattern(found, width)),
        ("wood", stock.wood(found)),
        ("stock", stock.blanks(found, width)),
        ("sizes", _sizes(found)),
        ("calipers", _calipers(found)),
        ("speeds", _speeds(found)),
        ("order", _order(found)),
        ("made", _made(found)),
        ("readings", _readings(found)),
        ("choice", _choice(found)),
        ("fit", stock.fit(found)),
        ("time", _time(found)),
        ("mistakes", _mistakes(found)),
        ("said", _said(found)),
    )
    choices = kept.choices
    return Report(
        heading=Heading(
            title=f"{kept.name}, {sentences()['made_title']}" if next_time else kept.name,
            below=sentences()["held"].format(
                pattern=lettering.apart(record.name),
                n=record.revision,
                day=day(record.revised_at),
                wanted=choices.wanted,
                spares=choices.spares,
            ),
            revision=language().say.revision.format(n=record.revision),
            day=day(at),
        ),
        sections=tuple(
            Section(sentences()["sections"][name], made)
            for name, parts in sections
            if not (next_time and name in THIS_TIME) and (made := tuple(parts))
        ),
    )


def _end(found: SetSheet) -> str:
    return str(sentences()[found.sheet.record.pattern.datum_end])


def _pattern(found: SetSheet, width_mm: float) -> Iterator[Part]:
    say, kept, record = sentences(), found.sheet.kept, found.sheet.record
    left = datum_at_left(record.pattern, kept.choices.headstock)
    drawing = spindle_picture(record.pattern, width_mm, datum_left=left)
    yield Picture(drawing, say["picture"].format(pattern=record.name, end=_end(found)))
    long = f"{position(record.pattern.length_mm, kept.unit)} {unit_sign(kept.unit)}"
    notes = ((say["note"], kept.choices.note),) if kept.choices.note else ()
    yield Facts(((say["long"], long), *notes))


def _sizes(found: SetSheet) -> Iterator[Part]:
    say, unit = sentences(), found.sheet.kept.unit
    numbers = {s.id: str(i) for i, s in enumerate(found.sheet.record.pattern.stations, 1)}
    said = found.wood.said
    finished = found.sheet.work.finished_places
    yield Text(
        say["from_words"].format(unit=say["units"][unit_sign(unit)], end=_end(found)), soft=True
    )
    if said is not None:
        yield Text(_now_from(found, said, unit))
    if found.wood.by_holes:
        yield Text(words()["wood"]["by_holes"])
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
        sentences()[key].format(
            ratio=f"{why.ratio:.3f}",
            rough=length(said.turning.rough_mm, unit, fine=True),
            species=said.wood.species,
            from_=moisture(why.from_mc),
            to=moisture(why.to_mc),
        )
    )


def _because(found: SetSheet, ln: Line, unit: Unit) -> str:
    """Why it stops there, and what is left on it for when it is dry."""
    said = found.wood.said
    told = _why_here(ln, unit, tries=said is None or said.turning.tries)
    if said is None or said.turning.roughing or ln.place.kind != "tenon":
        return told
    left = length(said.turning.sizing_mm, unit, fine=True)
    more = sentences()["left_dry"].format(left=left)
    return f"{more}; {told}" if said.turning.sizing_mm else told


def _why_here(ln: Line, unit: Unit, *, tries: bool) -> str:
    because = sentences()["because"]
    if ln.stop_mm is None:
        return str(because["between"])
    over_mm = ln.stop_mm - ln.place.diameter_mm
    if over_mm > CUT_MM:
        over = f"{length(over_mm, unit)} {unit_sign(unit)}"
        return str(because["over"].format(over=over))
    return str(because["tenon" if ln.place.kind == "tenon" and tries else "cut"])


def _calipers(found: SetSheet) -> Iterator[Part]:
    unit = found.sheet.kept.unit
    each = tuple(
        (letter, f"{', '.join(length(s.mm, unit, fine=s.fine) for s in sizes)} {unit_sign(unit)}")
        for letter, sizes in found.made.calipers
    )
    if each:
        heads = (sentences()["caliper"], sentences()["set_to"])
        yield Table(sentences()["sections"]["calipers"], heads, (False, False), each)


def _speeds(found: SetSheet) -> Iterator[Part]:
    """The maker's own, stage by stage; what a file has for no stage of ours says nothing."""
    kept = found.sheet.work.speeds
    each = tuple(
        (name, speed_kept(kept[stage])) for stage, name in words()["stage"].items() if stage in kept
    )
    if each:
        yield Facts(each)


def _order(found: SetSheet) -> Iterator[Part]:
    """The steps, each with where and what it stops at."""
    unit, work = found.sheet.kept.unit, found.sheet.work
    told = []
    for step in work.steps:
        if step.stage in ("final", "done"):
            continue
        if step.tool == "steady":
            name = "steady_off" if step.id.startswith("off:") else "steady_on"
            told.append(sentences()[name].format(at=position(step.at_mm or 0.0, unit)))
            continue
        text = words()["stage_short"][step.stage]
        if step.place_id is not None:
            text += f" {place_label(work.places[step.place_id])}"
        if step.stop_mm is not None:
            text += f": {length(step.stop_mm, unit, fine=step.stage == 'tenon')}"
        told.append(text)
    yield Steps(tuple(told))


def _made(found: SetSheet) -> Iterator[Part]:
    say, unit, made = sentences(), found.sheet.kept.unit, found.made
    if not made.pieces:
        return
    told = say["averaged_one" if made.pieces == 1 else "averaged"]
    yield Text(told.format(n=made.pieces, unit=say["units"][unit_sign(unit)]), soft=True)
    if made.reckoned:
        yield Text(_reckoned(found), soft=True)
    rows = tuple(_came_to(found, each) for each in made.averages if each.size is not None)
    heads = ("place", "pattern_size", "average", "off", "range", *AGAIN, "lies", "count")
    used = [i for i, name in enumerate(heads) if name not in MAY_LACK or any(r[i] for r in rows)]
    yield Table(
        say["sections"]["made"],
        tuple(say[heads[i]] for i in used),
        tuple(i > 0 for i in used),
        tuple(tuple(row[i] for i in used) for row in rows),
    )


def _reckoned(found: SetSheet) -> str:
    """What was read before it dried stands as it will be dry."""
    say, unit, said = words()["wood"], found.sheet.kept.unit, found.made.work.wood
    if said is None or not said.turning.sizing_mm:
        return str(say["reckoned"])
    left = length(said.turning.sizing_mm, unit, fine=True)
    return f"{say['reckoned']} {say['reckoned_tenons'].format(left=left, sign=unit_sign(unit))}"


def _came_to(found: SetSheet, each: Average) -> tuple[str, ...]:
    """What one place came to; it was read."""
    unit, size, place = found.sheet.kept.unit, each.size, each.place
    assert size is not None
    fine = place.kind == "tenon"
    finer = fine or unit != "mm"  # differences, as Review has them
    return (
        place_label(place),
        length(place.diameter_mm, unit, fine=fine),
        length(size.mean_mm, unit, fine=fine),
        signed(size.mean_mm - place.diameter_mm, unit, fine=finer),
        length(size.range_mm, unit, fine=finer) if size.n > 1 else "",
        *(_mean_again(found, place, what) for what in AGAIN),
        "" if each.position is None else position(each.position.mean_mm, unit),
        str(size.n),
    )


def _mean_again(found: SetSheet, place: Place, what: str) -> str:
    """The wide way and the narrow one of what was read after turning, as far as it was."""
    ways = (found.made.again.get((place.id, what, axis)) for axis in AXES)
    unit = found.sheet.kept.unit
    return " × ".join(length(mm, unit, fine=True) for mm in ways if mm is not None)


def _readings(found: SetSheet) -> Iterator[Part]:
    say, sheet = sentences(), found.sheet
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
            rows += _read_again(found, numbers, ln.place)
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


def _read_again(found: SetSheet, numbers: list[int], place: Place) -> Iterator[tuple[str, ...]]:
    """What was read of a place after turning, a row for each way across."""
    say, unit, later = sentences(), found.sheet.kept.unit, found.made.later
    for what in AGAIN:
        for axis in AXES:
            values = [later.get((number, place.id, what, axis)) for number in numbers]
            told = say[what].lower()
            name = f"{place_label(place)}, {told}, {words()['dry']['short'][axis]}"
            yield name, *("" if mm is None else length(mm, unit, fine=True) for mm in values)


def _choice(found: SetSheet) -> Iterator[Part]:
    say, unit, chosen = sentences(), found.sheet.kept.unit, found.choice.chosen
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
    say, made = sentences(), found.made
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
        return str(sentences()["hours_said"].format(hours=f"{minutes / 60:.1f}"))
    return str(sentences()["minutes_said"].format(minutes=round(minutes)))


def _mistakes(found: SetSheet) -> Iterator[Part]:
    for mistake in found.made.mistakes:
        yield Text(mistake.what)
        if mistake.cure:
            yield Facts(((sentences()["cure"], mistake.cure),))


def _said(found: SetSheet) -> Iterator[Part]:
    say = sentences()
    each = tuple(
        (say["of_piece"].format(n=mark.spindle) if mark.spindle else say["of_set"], mark.text)
        for mark in found.made.told
    )
    if each:
        yield Facts(each)


def _inline(part: Picture) -> Markup:
    return Markup(inline_svg(part.drawing, part.label))
