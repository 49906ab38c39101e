"""How alike a set came out: what its final readings say, and what they cannot.

Only final readings that still stand count. Practice and spoiled pieces are left out and named; a
reading that looks typed in the other unit is asked about and left out until it is put right.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from benchside.consistency import alike, drift, enough, form, lineup, pace
from benchside.consistency.drift import Individuals
from benchside.consistency.enough import Coming, These
from benchside.consistency.form import Evenness, Ovality
from benchside.consistency.spread import (
    NOTHING_MM,
    OfReading,
    Spread,
    of_reading,
    pooled_sd_mm,
    spread,
    step_floor_mm,
)
from benchside.errors import NotFound
from benchside.job import finals, measuring, timing, watching
from benchside.job.finals import Floats, Kind, Table
from benchside.job.judged import (
    Asked,
    Judged,
    TwoLots,
    Unlike,
    counted_pieces,
    judge,
    two_lots,
    unlike_ones,
)
from benchside.job.measuring import Error
from benchside.job.progress import Piece
from benchside.job.sets import Standing
from benchside.job.timing import Forecast
from benchside.job.watching import Aim, Watch
from benchside.pattern import Pattern, Place
from benchside.store import review as rows
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet

FEWEST_ALONG = 3  # judgement: two ends alone say nothing of the middle
FEWEST_FOR_LIMITS = 6  # judgement: limits from fewer pieces move with every new one
POSITION = "at:"  # begins the id of a column of positions
FROM_ANOTHER_SET = 0.5  # judgement: of its readings, when so many lie apart


@dataclass(frozen=True, slots=True)
class Column:
    """One thing that was read on every piece: the size of a place, or where it lies. [mm]

    ``order`` are rows of the review in the order of turning at this place; ``middle_mm`` is what
    the pieces are judged against, as a difference from the target. ``error_mm`` is the standard
    deviation of one reading, ``by_reading`` how much of the spread that makes (None without a
    spread). ``these`` and ``coming`` say how alike the pieces read are and what the next ones
    will do. ``usual`` are the limits that single pieces usually keep to, from six pieces on,
    ``outside`` the numbers of those that do not, ``in_a_row`` whether eight or more in a row lie on
    one side of the mean, and ``luck`` on what share of such charts luck alone does either.
    """

    id: str
    place: Place
    kind: Kind
    target_mm: float
    limit_mm: float
    letter: str
    spread: Spread
    middle_mm: float
    order: tuple[int, ...]
    error_mm: float
    by_reading: OfReading | None
    these: These
    coming: Coming
    usual: Individuals | None
    outside: tuple[int, ...]
    in_a_row: bool
    luck: float

    @property
    def to_the_target(self) -> bool:
        """Whether the target itself is what must be met, as a tenon's hole."""
        return self.place.kind == "tenon" and self.kind == "diameter"


@dataclass(frozen=True, slots=True)
class Standout:
    """One reading that lies apart: ``off_mm`` from the target, from the set ``from_others_mm``.

    ``odd``: farther from the rest than luck takes a piece in a set so scattered; ``statistic``
    is how far in standard deviations, ``critical`` how far luck does.
    """

    number: int
    column: Column
    off_mm: float
    from_others_mm: float
    limits: float
    odd: bool
    statistic: float
    critical: float


@dataclass(frozen=True, slots=True)
class Line:
    """One bead or shoulder over the set: whether it lines up, and which ``number`` lies off most.

    [mm]
    """

    column: Column
    found: lineup.Line
    number: int


@dataclass(frozen=True, slots=True)
class Jump:
    """Two pieces side by side whose bead or shoulder does not meet. [mm]"""

    left: int
    right: int
    column: Column
    by_mm: float


@dataclass(frozen=True, slots=True)
class LineUp:
    """How beads and shoulders line up: ``shifted`` are pieces that lie off as a whole. [mm]"""

    lines: tuple[Line, ...]
    jumps: tuple[Jump, ...]
    shifted: Mapping[int, float]


@dataclass(frozen=True, slots=True)
class Straight:
    """One long straight over the set: how many pieces are ``even``, and the ``worst`` piece.

    ``worst_is`` tells how that one differs along its length. [mm]
    """

    first: Place
    last: Place
    limit_mm: float
    measured: int
    even: int
    worst: int
    worst_is: Evenness


@dataclass(frozen=True, slots=True)
class Round:
    """One place read a quarter turn apart: how many pieces are ``oval``, and the worst. [mm]"""

    column: Column
    measured: int
    oval: int
    worst: int
    worst_is: Ovality


@dataclass(frozen=True, slots=True)
class Review:
    """What the final readings of a set say.

    ``off_mm`` has a row for each of ``numbers`` and a column for each of ``columns``: the
    difference from the target, NaN where nothing was read; ``aim_mm`` how far off the target each
    was aimed at the lathe, by which it is marked. ``to_holes``: some tenons were turned to what
    their holes wanted, and are off that. ``strangers`` are pieces that lie apart
    nearly everywhere, as if they belonged to another set.
    """

    standing: Standing
    pattern: Pattern
    places: Mapping[str, Place]
    columns: tuple[Column, ...]
    numbers: tuple[int, ...]
    off_mm: Floats
    aim_mm: Floats
    to_holes: bool
    error: Error
    watch: Watch | None
    aims: tuple[Aim, ...]
    together: tuple[int, ...]
    standouts: tuple[Standout, ...]
    strangers: tuple[int, ...]
    two_lots: TwoLots | None
    asked: tuple[Asked, ...]
    line_up: LineUp
    straights: tuple[Straight, ...]
    rounds: tuple[Round, ...]
    left_out: tuple[Piece, ...]
    minutes_each: float | None
    forecast: Forecast

    @property
    def kept(self) -> SpindleSet:
        return self.standing.kept

    @property
    def scatter_mm(self) -> tuple[float, float] | None:
        """From piece to piece, and of one reading: standard deviations of all sizes pooled.

        None while no place was read on two pieces. [mm]
        """
        read = [c for c in self.columns if c.kind == "diameter" and c.spread.sd_mm is not None]
        degrees = [c.spread.n - 1 for c in read]
        pieces = pooled_sd_mm([c.spread.sd_mm or 0.0 for c in read], degrees)
        reading = pooled_sd_mm([c.error_mm for c in read], degrees)
        return None if pieces is None or reading is None else (pieces, reading)

    def column(self, column_id: str) -> int:
        """Which column. Raises `NotFound`."""
        for i, column in enumerate(self.columns):
            if column.id == column_id:
                return i
        raise NotFound("Nothing was read there yet.", hint="Choose one of the stations listed.")

    def sizes_mm(self, row: int) -> dict[str, float]:
        """What a piece measures, by place."""
        off = self.off_mm[row]
        return {
            column.place.id: column.target_mm + float(off[i])
            for i, column in enumerate(self.columns)
            if column.kind == "diameter" and not np.isnan(off[i])
        }


def review(shop: Shop, set_id: int) -> Review:
    """Everything the review says of a set. Raises `NotFound`."""
    judged = judge(shop, set_id)
    standing, table = judged.standing, judged.table
    error = measuring.error_mm(shop)
    middles = alike.middles_mm(table.off_mm, table.tenons)
    shares = alike.apart(table.off_mm, middles, judged.limits_mm)
    unlike = unlike_ones(table.off_mm, judged.limits_mm, shares)
    columns = _columns(judged, error, middles, unlike)
    counted = counted_pieces(standing)
    taps = rows.taps(shop, set_id)
    watch = watching.look(shop, judged, back=True)
    standouts, strangers = _standouts(table, columns, shares, unlike)
    return Review(
        standing=standing,
        pattern=judged.doing.pattern,
        places=judged.doing.places,
        columns=columns,
        numbers=table.numbers,
        off_mm=table.off_mm,
        aim_mm=table.aim_mm,
        to_holes=bool(np.any(table.hole_mm)),
        error=error,
        watch=watch,
        aims=watching.aims(judged, watch),
        together=tuple(
            n for n, fits in zip(table.numbers, alike.go_together(shares), strict=True) if fits
        ),
        standouts=standouts,
        strangers=strangers,
        two_lots=two_lots(judged),
        asked=judged.asked,
        line_up=_line_up(table, columns),
        straights=_straights(table, columns, judged.doing.pattern),
        rounds=_rounds(table, columns),
        left_out=tuple(p for p in standing.pieces if p.begun and p.number not in counted),
        minutes_each=pace.minutes_per_piece(taps, {p.number for p in standing.pieces if p.counts}),
        forecast=timing.forecast(standing, pace.minutes_by(taps)),
    )


def _columns(judged: Judged, error: Error, middles: Floats, unlike: Unlike) -> tuple[Column, ...]:
    """Odd readings count for the pieces that stand there, not for what the next ones will do."""
    usual = judged.table.off_mm.copy()
    for row, i in unlike:
        usual[row, i] = np.nan
    letters = _letters(judged)
    return tuple(
        _column(judged, i, letters, error, float(middles[i]), usual[:, i])
        for i in range(len(judged.table.keys))
    )


def _column(
    judged: Judged,
    i: int,
    letters: Mapping[str, str],
    error: Error,
    middle_mm: float,
    usual_off_mm: Floats,
) -> Column:
    table, limit_mm = judged.table, float(judged.limits_mm[i])
    place, kind = table.keys[i]
    step_mm, order = table.steps_mm[i], list(table.orders[i])
    target_mm = finals.target_mm(place, kind)
    sizes_mm = table.off_mm[order, i] + target_mm
    met = bool(table.tenons[i])
    error_mm, error_degrees = _error_mm(kind, step_mm, error)
    scatter = spread(sizes_mm, step_mm)
    usual = drift.individuals(sizes_mm, step_mm) if len(order) >= FEWEST_FOR_LIMITS else None
    signals = usual.signals if usual else ()
    numbers = [table.numbers[row] for row in order]
    return Column(
        id=place.id if kind == "diameter" else POSITION + place.id,
        place=place,
        kind=kind,
        target_mm=target_mm,
        limit_mm=limit_mm,
        letter=letters.get(place.id, "") if kind == "diameter" else "",
        spread=scatter,
        middle_mm=middle_mm,
        order=table.orders[i],
        error_mm=error_mm,
        by_reading=_by_reading(scatter, error_mm, error_degrees),
        these=enough.these(table.off_mm[:, i], limit_mm, error_mm, to_the_target=met),
        coming=enough.coming(usual_off_mm[order], limit_mm, step_mm, to_the_target=met),
        usual=usual,
        outside=tuple(numbers[s.at] for s in signals if s.rule == "outside"),
        in_a_row=any(s.rule == "run" for s in signals),
        luck=drift.by_luck(len(order)),
    )


def _letters(judged: Judged) -> Mapping[str, str]:
    """The caliper that each place is checked with."""
    return {
        step.place_id: judged.letters[step.id].letter
        for step in judged.doing.steps
        if step.place_id and step.id in judged.letters
    }


def _error_mm(kind: Kind, step_mm: float, error: Error) -> tuple[float, int | None]:
    """What one reading errs by, and the degrees of freedom behind it if it was tested.

    The test is of calipers on diameters; where beads lie is read otherwise.
    """
    least_mm = step_floor_mm(step_mm)
    if kind == "diameter" and error.tested and error.sd_mm >= least_mm:
        return error.sd_mm, error.degrees
    return least_mm, None


def _by_reading(found: Spread, error_mm: float, error_degrees: int | None) -> OfReading | None:
    if not found.sd_mm:
        return None
    return of_reading(found.sd_mm, found.n - 1, error_mm, error_degrees)


def _standouts(
    table: Table, columns: tuple[Column, ...], shares: Floats, unlike: Unlike
) -> tuple[tuple[Standout, ...], tuple[int, ...]]:
    """For each piece that stands out, where it does so most: odd ones first, then the farthest.

    And apart from them the pieces that lie apart nearly everywhere.
    """
    found, strangers = [], []
    for row, number in enumerate(table.numbers):
        beyond = alike.beyond(shares[row])
        if not beyond.any():
            continue
        sizes = ~np.isnan(shares[row])
        if beyond.sum() >= max(FEWEST_ALONG, FROM_ANOTHER_SET * sizes.sum()):
            strangers.append(number)
        i = max(np.flatnonzero(beyond).tolist(), key=lambda i: ((row, i) in unlike, shares[row, i]))
        off_mm = float(table.off_mm[row, i])
        statistic, critical = unlike.get((row, i), (0.0, 0.0))
        found.append(
            Standout(
                number=number,
                column=columns[i],
                off_mm=off_mm,
                from_others_mm=off_mm - columns[i].middle_mm,
                limits=float(shares[row, i]),
                odd=(row, i) in unlike,
                statistic=statistic,
                critical=critical,
            )
        )
    found.sort(key=lambda standout: (not standout.odd, -standout.limits))
    return tuple(found), tuple(strangers)


def _line_up(table: Table, columns: tuple[Column, ...]) -> LineUp:
    """Beads and shoulders over the set, and between each piece and the next by number."""
    at = [i for i, column in enumerate(columns) if column.kind == "position"]
    if not at:
        return LineUp((), (), {})
    limits = [columns[i].limit_mm for i in at]
    found = lineup.line_up(table.off_mm[:, at], limits)
    far = {
        number: shift
        for number, shift in zip(table.numbers, found.shifts_mm, strict=True)
        if abs(shift) > min(limits)
    }
    return LineUp(
        lines=tuple(
            Line(columns[at[line.column]], line, table.numbers[line.farthest])
            for line in found.places
        ),
        jumps=tuple(
            Jump(
                table.numbers[jump.left],
                table.numbers[jump.right],
                columns[at[jump.column]],
                jump.by_mm,
            )
            for jump in found.jumps
        ),
        shifted=far,
    )


def _straights(table: Table, columns: tuple[Column, ...], pattern: Pattern) -> tuple[Straight, ...]:
    """Straights with places along them, on the pieces measured at three places or more."""
    found = []
    for section, shape in enumerate(pattern.sections):
        ends = {pattern.stations[section].id, pattern.stations[section + 1].id}
        along = [
            i
            for i, column in enumerate(columns)
            if column.kind == "diameter"
            and (column.place.section == section or column.place.id in ends)
        ]
        if shape.form == "straight" and len(along) >= FEWEST_ALONG:
            straight = _straight(table, [columns[i] for i in along], table.off_mm[:, along])
            found += [straight] if straight else []
    return tuple(found)


def _straight(table: Table, along: list[Column], off_mm: Floats) -> Straight | None:
    at_mm = [column.place.at_mm for column in along]
    error_mm = max(column.error_mm for column in along)
    read = {
        number: form.evenness(at_mm, values, error_mm)
        for number, values in zip(table.numbers, off_mm.tolist(), strict=True)
        if sum(value == value for value in values) >= FEWEST_ALONG
    }
    if not read:
        return None
    limit_mm = min(column.limit_mm for column in along)
    worst = max(read, key=lambda number: read[number].range_mm)
    return Straight(
        first=along[0].place,
        last=along[-1].place,
        limit_mm=limit_mm,
        measured=len(read),
        even=sum(ends.range_mm <= limit_mm + NOTHING_MM for ends in read.values()),
        worst=worst,
        worst_is=read[worst],
    )


def _rounds(table: Table, columns: tuple[Column, ...]) -> tuple[Round, ...]:
    """Places read a quarter turn apart on any piece."""
    by_column: dict[int, dict[int, Ovality]] = {}
    for row, i, a_mm, b_mm in table.across:
        if a_mm > 0 and b_mm > 0:
            read = form.ovality(a_mm, b_mm, columns[i].error_mm)
            by_column.setdefault(i, {})[table.numbers[row]] = read
    found = []
    for i, pieces in sorted(by_column.items()):
        worst = max(pieces, key=lambda number: abs(pieces[number].apart_mm))
        oval = sum(piece.oval for piece in pieces.values())
        found.append(Round(columns[i], len(pieces), oval, worst, pieces[worst]))
    return tuple(found)
