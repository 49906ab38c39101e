"""What a set is made of and what it goes into, on its sheet: wood, boards and logs, holes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from benchside.job.boards import BoardView
from benchside.job.fitting import Row
from benchside.job.logs import LogView
from benchside.job.set_sheet import SetSheet
from benchside.job.stock import SetView
from benchside.job.wood import OWN_FIGURE as FIGURE
from benchside.paper import saw_plan
from benchside.paper.report import Facts, Part, Picture, Table, Text
from benchside.stock import sawing
from benchside.stock.board import Blank
from benchside.units import Unit, unit_sign
from benchside.web import drying, fit_words
from benchside.web.labels import length, moisture, position, saw_unit
from benchside.web.render import day, signed
from benchside.web.stock_pictures import ends_of, plan_of
from benchside.web.words import words
from benchside.wood.species import OWN


def sentences() -> dict[str, Any]:
    """What a set sheet says."""
    found: dict[str, Any] = words()["set_sheet"]
    return found


def wood(found: SetSheet) -> Iterator[Part]:
    """The wood as it was said, its drying, and what the maker wrote of it."""
    say, made = sentences(), found.made.words
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
    say, names, told = sentences(), words()["wood"], found.wood.wood
    if told is None:
        return
    species, low = told.species[:1].upper() + told.species[1:], f"{told.driest_mc:.1f}"
    radial, tangential = f"{told.radial_percent:.1f}", f"{told.tangential_percent:.1f}"
    own = found.wood.source == OWN
    source = say["learned" if told.learned else "own" if own else "book"]
    yield (
        say["species"],
        say["shrinks"].format(species=species, radial=radial, tangential=tangential, from_=source),
    )
    state = names["state"][told.state][0]
    mc, dry = moisture(told.moisture), moisture(told.dry_mc)
    yield say["moisture"], say["moist"].format(state=state, mc=mc, dry=dry)
    yield say["route"], names["route"][told.route][0]
    where = names["climate"][told.climate][0]
    lives = say["lives_at" if told.climate == FIGURE else "through"]
    yield say["lives"], lives.format(where=where, low=low, high=f"{told.dampest_mc:.1f}")
    weighed = found.drying.pieces
    if weighed:
        forecast = drying.told(found.drying)
        count = say["weighed"].format(
            pieces=_counted("pieces", len(weighed)),
            weighings=_counted("weighings", sum(len(p.weighings) for p in weighed)),
        )
        lines = (count, forecast.get("says", ""), forecast.get("day", ""))
        yield say["drying"], " ".join(filter(None, lines))


def _counted(key: str, n: int) -> str:
    return str(sentences()[key][n != 1].format(n=n))


def blanks(found: SetSheet, width_mm: float) -> Iterator[Part]:
    """The blank, what each board and log gives of it with the fence set to what, and each drawn
    to scale."""
    say, unit, stock = sentences(), saw_unit(found.sheet.kept.unit), found.stock
    if not (stock.boards or stock.logs):
        return
    yield Facts(tuple(_sizes(stock, unit)))
    rows: list[tuple[str, ...]] = []
    pictures: list[Part] = []
    firsts = stock.firsts
    for view in stock.boards:
        first = firsts["board", view.kept.id]
        kerf = length(view.kept.kerf_mm, unit, fine=True)
        rows.append((view.kept.name, _numbers(first, view.count), kerf, _fences(view)))
        pictures += _board(view, first, unit, width_mm)
    for log in stock.logs:
        count, first = log.plan.count if log.plan else 0, firsts["log", log.kept.id]
        rows.append((log.kept.name, _numbers(first, count), "", say["split"]))
        pictures += _log(log, first, unit, width_mm)
    heads = tuple(say[name] for name in ("board", "blanks", "saw_cut", "fences"))
    yield Table(say["sections"]["stock"], heads, (False, True, True, False), tuple(rows))
    if stock.boards:
        yield Text(say["lines"], soft=True)
    for view in stock.boards:
        yield from _crosscuts(view, firsts["board", view.kept.id], unit)
    yield from pictures


def _sizes(stock: SetView, unit: Unit) -> Iterator[tuple[str, str]]:
    """The blank that is wanted; once they are sawn, what they were sawn or split to."""
    say = sentences()
    for each in stock.sawn:
        first, last = each.labels[0], each.labels[-1]
        name = "split_to" if each.split else "sawn"
        numbers = _numbers(first, last - first + 1)
        size = _size(each.blank, unit)
        yield say[name], say["sawn_size"].format(size=size, numbers=numbers)
    if not stock.sawn:
        size = _size(stock.blank.blank, unit)
        yield say["blank"], say["blank_size"].format(size=size, wanted=stock.blank.wanted)


def _size(blank: Blank, unit: Unit) -> str:
    length, side = position(blank.length_mm, unit), position(blank.side_mm, unit)
    return f"{length} × {side} × {side} {unit_sign(unit)}"


def _crosscuts(view: BoardView, first: int, unit: Unit) -> Iterator[Table]:
    """Where each strip of a board is crosscut, as the board's saw plan tells it."""
    say, layout = sentences(), view.layout
    if layout is None or not layout.crosscuts:
        return
    rows = []
    for strip in range(len(layout.strips)):
        numbers = [str(first + i) for i, p in enumerate(layout.blanks) if p.strip == strip]
        marks = [
            f"{position(cut.mark_mm, unit)} {'▸' if cut.after else '◂'}"
            for cut in layout.crosscuts
            if cut.strip == strip
        ]
        rows.append((str(strip + 1), ", ".join(numbers), ", ".join(marks)))
    heads = (say["strip"], say["blanks"], say["marks"].format(sign=unit_sign(unit)))
    name = say["crosscuts"].format(name=view.kept.name)
    yield Table(name, heads, (True, False, False), tuple(rows))


def _board(view: BoardView, first: int, unit: Unit, width_mm: float) -> Iterator[Picture]:
    say, kept, plan = sentences(), view.kept, plan_of(view, first)
    sizes = (kept.length_mm, kept.width_mm, kept.thickness_mm)
    name = say["board_drawn"].format(
        name=kept.name,
        size=" × ".join(position(mm, unit) for mm in sizes),
        sign=unit_sign(unit),
        scale=saw_plan.scale_of(plan),
    )
    for each in saw_plan.stretches(plan, width_mm):
        low, high = position(each.from_mm, unit), position(each.to_mm, unit)
        part = say["stretch"].format(low=low, high=high, sign=unit_sign(unit))
        yield Picture(each.drawing, f"{name}. {part}", f"{name}. {part}", to_scale=True)


def _log(view: LogView, first: int, unit: Unit, width_mm: float) -> Iterator[Picture]:
    say, ends = sentences(), ends_of(view, view.plan, first) if view.plan else []
    if not ends:
        return
    told = say["log_drawn"].format(
        name=view.kept.name, scale=saw_plan.ends_scale([end for _, end in ends], width_mm)
    )
    labels = [
        say["bolt"].format(
            n=number,
            low=position(bolt.from_mm, unit),
            high=position(bolt.to_mm, unit),
            sign=unit_sign(unit),
        )
        for number, (bolt, _) in enumerate(ends, 1)
    ]
    for drawing in saw_plan.end_rows([end for _, end in ends], labels, width_mm):
        yield Picture(drawing, told, told, to_scale=True)


def _numbers(first: int, count: int) -> str:
    if count < 2:
        return str(first) if count else "–"
    return f"{first}–{first + count - 1}"


def _fences(view: BoardView) -> str:
    """The settings in the board's own unit, as the board's page tells them."""
    say, unit = sentences()["fence"], saw_unit(view.kept.unit)
    told = []
    for together in sawing.settings(view.layout.rips if view.layout else ()):
        rip = together[0]
        key = "strips" if rip.frees == "strip" and len(together) > 1 else rip.frees
        strips = ", ".join(str(r.strip + 1) for r in together if r.strip is not None)
        fence = f"{length(rip.fence_mm, unit)} {unit_sign(unit)}"
        told.append(say[key].format(fence=fence, strips=strips))
    return "; ".join(told)


def fit(found: SetSheet) -> Iterator[Part]:
    """Which piece goes into which hole, and to what its tenon is brought."""
    say, names, unit = sentences(), words()["fit"], found.sheet.kept.unit
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
        if doubts := fit_words.doubts(each.course, unit):
            yield Text(" ".join(f"{short}." for short, _ in doubts))
        heads = ("hole", "spindle", "hole_is", "dry", "bring_to", "sized", "home")
        yield Table(
            part.name,
            tuple(say[name] for name in heads),
            (True, True, True, True, True, True, False),
            tuple(_into_hole(row, unit) for row in each.rows),
        )


def _into_hole(row: Row, unit: Unit) -> tuple[str, ...]:
    say = sentences()
    bore = "" if row.bore is None else length(row.bore.size_mm, unit, fine=True)
    dry = (row.dry.wide_mm, row.dry.narrow_mm) if row.dry else ()
    sized = [length(r.value_mm, unit, fine=True) for r in (row.wide, row.narrow) if r]
    waits = words()["fit"]["wait_short"].get(row.wait, "")
    home = day(row.home_at) if row.home_at else say["again"] if row.stale else waits
    return (
        str(row.hole),
        str(row.number),
        say["test_hole"].format(size=bore) if bore and not row.own else bore,
        " × ".join(length(mm, unit, fine=True) for mm in dry if mm is not None),
        "" if row.target_mm is None else length(row.target_mm, unit, fine=True),
        " × ".join(sized),
        home,
    )
