"""The review: pictures first, one chart at a time, every figure behind it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
from fastapi import APIRouter, Request, Response

from benchside import units
from benchside.consistency.drift import CAUGHT, Caught
from benchside.draw.bars import bars
from benchside.draw.chart import ChartLabels, ChartPoint, Mark, station_chart
from benchside.draw.lines import Across, lined_up
from benchside.draw.row import Turned, side_by_side
from benchside.draw.strip import strip
from benchside.job import review, timing
from benchside.job.review import Column, Review
from benchside.job.timing import Timing
from benchside.job.work import told_finely, work_of
from benchside.units import Unit
from benchside.web import labels
from benchside.web.asked import shop_of
from benchside.web.render import render
from benchside.web.words import words

router = APIRouter()

MAGNIFY = 6  # judgement: a tenth of a millimetre can then be seen
TABLE_CELLS = 160  # more go on a page of their own
ROW_FEW, ROW_FEW_PX = 12, 520.0  # judgement: so many rows are drawn larger
CHART_FEW = 20  # so many pieces fit the width of a phone
ROWS_DRAWN = 60  # more spindles than this are no picture any more
NOTHING_MM = 1e-6


@dataclass(frozen=True, slots=True)
class Cell:
    """One difference as it is read: its word is empty within the limit, or where nothing is."""

    word: str
    text: str


@dataclass(frozen=True, slots=True)
class Aimed:
    """Which pieces were aimed at ``aim`` where ``drawn`` is wanted, to join the others."""

    pieces: str
    many: bool
    aim: str
    drawn: str


@dataclass(frozen=True, slots=True)
class AlikeRow:
    """One place: read on how many pieces, a strip of them, the two answers in words.

    ``settled`` is for what needs no look: these are alike there, and the next will be.
    """

    name: str
    limit: str
    read: int
    strip: str
    these: str
    coming: str
    settled: bool


@router.get("/sets/{set_id}/review")
def the_review(request: Request, set_id: int) -> Response:
    found = review.review(shop_of(request), set_id)
    return _page(request, found, _worth_a_look(found))


@router.get("/sets/{set_id}/review/table")
def table(request: Request, set_id: int) -> Response:
    found = review.review(shop_of(request), set_id)
    return render(
        request,
        "review/table.html",
        here="home",
        found=found,
        kept=found.kept,
        rows=_rows(found),
        aimed=_aimed(found),
    )


@router.get("/sets/{set_id}/review/{column_id}")
def one_station(request: Request, set_id: int, column_id: str) -> Response:
    found = review.review(shop_of(request), set_id)
    return _page(request, found, found.column(column_id))


@router.get("/sets/{set_id}/time")
def time(request: Request, set_id: int) -> Response:
    found = timing.timing(shop_of(request), set_id)
    return render(
        request,
        "review/time.html",
        here="home",
        found=found,
        kept=found.standing.kept,
        standing=found.standing,
        chart=_minutes_chart(found),
        many=len(found.forecast.minutes) + found.forecast.to_make > CHART_FEW,
    )


def _page(request: Request, found: Review, shown: int | None) -> Response:
    small = len(found.numbers) * len(found.columns) <= TABLE_CELLS
    alike = _alike(found)
    return render(
        request,
        "review/review.html",
        here="home",
        found=found,
        kept=found.kept,
        standing=found.standing,
        lathe_unit=_lathe_unit(request, found),
        shown=None if shown is None else found.columns[shown],
        chart="" if shown is None else _chart(found, shown),
        row=_row(found),
        magnify=MAGNIFY,
        drawn=min(len(found.numbers), ROWS_DRAWN),
        whole_set_off=[
            column
            for column in found.columns
            if abs(column.middle_mm) > column.limit_mm + NOTHING_MM
        ],
        drift=labels.drift(found.watch, found.kept.unit) if found.watch else None,
        power=_power(found),
        aims=labels.aims(found.aims[1:] if found.watch else found.aims, found.kept.unit),
        lines=_lines(found),
        doubtful=[row for row in alike if not row.settled],
        settled=[row for row in alike if row.settled],
        rows=_rows(found) if small else [],
        aimed=_aimed(found),
        fine=_fine,
        chart_few=CHART_FEW,
    )


def _lathe_unit(request: Request, found: Review) -> Unit:
    """The unit that the lathe tells a difference in, where one is told here again."""
    if not found.standouts:
        return found.kept.unit
    return told_finely(found.kept, work_of(shop_of(request), found.kept)).unit


def _worth_a_look(found: Review) -> int | None:
    """The station whose chart stands first: one that drifts, else where a piece stands out most."""
    if found.watch is not None:
        watched = (found.watch.place.id, found.watch.kind)
        for i, column in enumerate(found.columns):
            if (column.place.id, column.kind) == watched:
                return i
    if found.standouts:
        return found.columns.index(found.standouts[0].column)
    return 0 if found.columns else None


def _limit(column: Column, unit: Unit) -> str:
    """How much either way: the scale of what is drawn in tolerances."""
    sign = units.unit_sign(unit)
    return f"±{labels.length(column.limit_mm, unit, fine=_fine(column, unit))} {sign}"


def _fine(column: Column, unit: Unit) -> bool:
    """Whether differences are shown in the finer step: sixteenths would show none at all."""
    return unit != "mm" or labels.fine_for(column.place, column.kind)


def _power(found: Review) -> Caught:
    """What the watch catches in a set about as large: the creep of one deviation a piece."""
    choices = found.kept.choices
    pieces = choices.wanted + choices.spares
    creeping = [caught for caught in CAUGHT if caught.how == "creeps"]
    return min(creeping, key=lambda c: (abs(c.pieces - pieces), -c.by_sds))


def _lines(found: Review) -> str:
    """The picture of beads and shoulders across the set."""
    rows = []
    for line in found.line_up.lines:
        i = found.columns.index(line.column)
        off_mm = found.off_mm[:, i] - line.found.middle_mm
        shares = (off_mm / line.column.limit_mm).tolist()
        name = f"{labels.place_label(line.column.place)}, {_limit(line.column, found.kept.unit)}"
        rows.append(Across(name, shares))
    if not rows or len(found.numbers) < 2:
        return ""
    width = 380 if len(found.numbers) <= CHART_FEW else 780
    return lined_up(rows, found.numbers, width=width, label=words()["drawing"]["lined_up"])


def _alike(found: Review) -> list[AlikeRow]:
    """For each station whether these pieces are alike there and the next will be, with a strip."""
    said = words()["alike"]
    watched = (found.watch.place.id, found.watch.kind) if found.watch else None
    rows = []
    for i, column in enumerate(found.columns):
        drifts = (column.place.id, column.kind) == watched
        answers = (column.these.answer, column.coming.answer)
        rows.append(
            AlikeRow(
                name=labels.read_label(column.place, column.kind),
                limit=_limit(column, found.kept.unit),
                read=column.spread.n,
                strip=_strip(column, found.off_mm[:, i]),
                these=said["these"][answers[0]],
                coming=said["drifting"] if drifts else _coming(column, said),
                settled=answers == ("shown", "shown") and not drifts,
            )
        )
    return rows


def _coming(column: Column, said: dict[str, Any]) -> str:
    """What the next will do there; where an odd piece was left out of that, it says so."""
    answer: str = said["coming"][column.coming.answer]
    aside = column.coming.n < column.spread.n and column.coming.answer == "shown"
    return said["aside"].format(answer) if aside else answer


def _strip(column: Column, off_mm: npt.NDArray[np.float64]) -> str:
    coming = None
    if column.coming.reach_mm is not None:
        middle = column.coming.mean_mm - column.middle_mm
        low, high = middle - column.coming.reach_mm, middle + column.coming.reach_mm
        coming = (low / column.limit_mm, high / column.limit_mm)
    return strip(((off_mm - column.middle_mm) / column.limit_mm).tolist(), coming)


def _rows(found: Review) -> list[tuple[int, list[Cell]]]:
    unit = found.kept.unit
    off_mm = np.round(found.off_mm, 4)
    kinds = [
        (round(column.limit_mm + NOTHING_MM, 6), _fine(column, unit)) for column in found.columns
    ]
    return [
        (
            number,
            [
                _cell(value, aim_mm, limit_mm, unit, fine)
                for value, aim_mm, (limit_mm, fine) in zip(values, aims_mm, kinds, strict=True)
            ],
        )
        for number, values, aims_mm in zip(
            found.numbers, off_mm.tolist(), found.aim_mm.tolist(), strict=True
        )
    ]


def _aimed(found: Review) -> dict[str, list[Aimed]]:
    """What was aimed off the drawn size at the lathe and is marked by that, by column."""
    told: dict[str, list[Aimed]] = {}
    unit = found.kept.unit
    for i, column in enumerate(found.columns):
        fine, at = _fine(column, unit), found.aim_mm[:, i]
        for off_mm in sorted({float(mm) for mm in at[~np.isnan(found.off_mm[:, i])] if mm}):
            numbers = [found.numbers[row] for row in np.flatnonzero(at == off_mm)]
            aim, drawn = (
                labels.length(column.target_mm + mm, unit, fine=fine) for mm in (off_mm, 0.0)
            )
            which = Aimed(labels.pieces(numbers), len(numbers) > 1, aim, drawn)
            told.setdefault(column.id, []).append(which)
    return told


_NOT_READ = Cell("", "")


def _cell(off_mm: float, aim_mm: float, limit_mm: float, unit: Unit, fine: bool) -> Cell:
    if off_mm != off_mm:  # NaN
        return _NOT_READ
    return _told(off_mm, aim_mm, limit_mm, unit, fine)


def _beyond(by_mm: float, limit_mm: float) -> Literal["over", "under", ""]:
    if abs(by_mm) <= limit_mm + NOTHING_MM:
        return ""
    return "over" if by_mm > 0 else "under"


@lru_cache(maxsize=20_000)
def _told(off_mm: float, aim_mm: float, limit_mm: float, unit: Unit, fine: bool) -> Cell:
    by_mm = off_mm - aim_mm
    word = _beyond(by_mm, limit_mm)
    figure = units.as_fraction_text(units.format_length(abs(off_mm), unit, fine=fine))
    sign = "" if not figure.strip("0.") else "+" if off_mm > 0 else "−"
    return Cell(word, f"{labels.SHAPES[word]} {sign}{figure}" if word else f"{sign}{figure}")


def _row(found: Review) -> str:
    """The pieces side by side; of a large set those that stand out and the newest."""
    rows = list(range(len(found.numbers)))
    out = {standout.number for standout in found.standouts}
    if len(rows) > ROWS_DRAWN:
        rows.sort(key=lambda row: (found.numbers[row] not in out, -row))
        rows = sorted(rows[:ROWS_DRAWN])
    turned = [
        Turned(
            number=found.numbers[row],
            deviations=_sizes_off(found, row),
            odd=found.numbers[row] in out,
        )
        for row in rows
    ]
    if not any(piece.deviations for piece in turned):
        return ""
    width = ROW_FEW_PX if len(turned) <= ROW_FEW else 780.0
    headstock = found.kept.choices.headstock
    return side_by_side(found.pattern, turned, MAGNIFY, width=width, headstock=headstock)


def _sizes_off(found: Review, row: int) -> dict[str, float]:
    return {
        column.place.id: value
        for column, value in zip(found.columns, found.off_mm[row].tolist(), strict=True)
        if column.kind == "diameter" and value == value
    }


def _chart(found: Review, i: int) -> str:
    column, unit = found.columns[i], found.kept.unit
    fine = _fine(column, unit)
    out = {s.number for s in found.standouts if s.column is column}
    points = []
    for row in column.order:
        off_mm = float(found.off_mm[row, i])
        word: Mark = _beyond(off_mm - float(found.aim_mm[row, i]), column.limit_mm) or "within"
        number = found.numbers[row]
        points.append(
            ChartPoint(
                number=number,
                value_mm=column.target_mm + off_mm,
                mark=word,
                odd=number in out,
            )
        )
    return station_chart(
        points,
        target_mm=column.target_mm,
        tolerance_mm=column.limit_mm,
        width=380 if len(points) <= CHART_FEW else 780,
        height=220 if len(points) <= CHART_FEW else 260,
        labels=ChartLabels(
            title=labels.place_label(column.place),
            target=labels.length(column.target_mm, unit, fine=fine),
            upper=labels.length(column.target_mm + column.limit_mm, unit, fine=fine),
            lower=labels.length(column.target_mm - column.limit_mm, unit, fine=fine),
        ),
        usual_mm=(column.usual.lower_mm, column.usual.upper_mm) if column.usual else None,
    )


def _minutes_chart(found: Timing) -> str:
    """Bars of the pieces done, and the line of practice on over those to come."""
    ahead = found.forecast
    if ahead.practice is None:
        return ""
    count = len(ahead.minutes) + ahead.to_make
    curve = [ahead.practice.minutes_for(i) for i in range(1, count + 1)]
    return bars(
        ahead.minutes,
        ahead.numbers,
        curve,
        width=380 if count <= CHART_FEW else 780,
        height=200,
        label=words()["drawing"]["minutes"],
    )
