"""The review: pictures first, one chart at a time, every figure behind it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from fastapi import APIRouter, Request, Response

from benchside import units
from benchside.draw.chart import ChartLabels, ChartPoint, Mark, station_chart
from benchside.draw.row import Turned, side_by_side
from benchside.job import review
from benchside.job.review import Column, Review
from benchside.units import Unit
from benchside.web import labels
from benchside.web.render import render

router = APIRouter()

MAGNIFY = 6  # judgement: a tenth of a millimetre can then be seen
TABLE_CELLS = 160  # more go on a page of their own
CHART_FEW = 20  # so many pieces fit the width of a phone
ROWS_DRAWN = 60  # more spindles than this are no picture any more
NOTHING_MM = 1e-6


@dataclass(frozen=True, slots=True)
class Cell:
    """One difference as it is read: its word is empty within the limit, or where nothing is."""

    word: str
    text: str


@router.get("/sets/{set_id}/review")
def the_review(request: Request, set_id: int) -> Response:
    found = review.review(request.app.state.shop, set_id)
    return _page(request, found, _worth_a_look(found))


@router.get("/sets/{set_id}/review/table")
def table(request: Request, set_id: int) -> Response:
    found = review.review(request.app.state.shop, set_id)
    return render(
        request,
        "review/table.html",
        here="home",
        found=found,
        kept=found.kept,
        rows=_rows(found),
        names=[_name(column) for column in found.columns],
    )


@router.get("/sets/{set_id}/review/{column_id}")
def one_station(request: Request, set_id: int, column_id: str) -> Response:
    found = review.review(request.app.state.shop, set_id)
    return _page(request, found, found.column(column_id))


def _page(request: Request, found: Review, shown: int | None) -> Response:
    small = len(found.numbers) * len(found.columns) <= TABLE_CELLS
    return render(
        request,
        "review/review.html",
        here="home",
        found=found,
        kept=found.kept,
        standing=found.standing,
        names={column.id: _name(column) for column in found.columns},
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
        runs=[column for column in found.columns if column.run],
        positions=[column for column in found.columns if column.kind == "position"],
        rows=_rows(found) if small else [],
        fine=_fine,
        chart_few=CHART_FEW,
    )


def _worth_a_look(found: Review) -> int | None:
    """The station whose chart stands first: one that drifts, else where a piece stands out most."""
    for i, column in enumerate(found.columns):
        if column.run:
            return i
    if found.standouts:
        return found.columns.index(found.standouts[0].column)
    return 0 if found.columns else None


def _name(column: Column) -> str:
    return labels.place_label(column.place)


def _fine(column: Column, unit: Unit) -> bool:
    """Whether differences are shown in the finer step: sixteenths would show none at all."""
    return unit != "mm" or labels.fine_for(column.place, column.kind)


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
                _cell(value, limit_mm, unit, fine)
                for value, (limit_mm, fine) in zip(values, kinds, strict=True)
            ],
        )
        for number, values in zip(found.numbers, off_mm.tolist(), strict=True)
    ]


_NOT_READ = Cell("", "")


def _cell(off_mm: float, limit_mm: float, unit: Unit, fine: bool) -> Cell:
    if off_mm != off_mm:  # NaN
        return _NOT_READ
    return _told(off_mm, limit_mm, unit, fine)


@lru_cache(maxsize=20_000)
def _told(off_mm: float, limit_mm: float, unit: Unit, fine: bool) -> Cell:
    word = "over" if off_mm > limit_mm else "under" if off_mm < -limit_mm else ""
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
    return side_by_side(found.pattern, turned, MAGNIFY, headstock=found.kept.choices.headstock)


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
        word: Mark = "within"
        if abs(off_mm) > column.limit_mm + NOTHING_MM:
            word = "over" if off_mm > 0 else "under"
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
            title=_name(column),
            target=labels.length(column.target_mm, unit, fine=fine),
            upper=labels.length(column.target_mm + column.limit_mm, unit, fine=fine),
            lower=labels.length(column.target_mm - column.limit_mm, unit, fine=fine),
        ),
    )
