"""Paper for the wall and the bench: sticks, gauges and labels of a set or of a pattern."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from math import isfinite
from typing import Literal, get_args

from benchside.draw.finished import datum_at_left
from benchside.errors import NotFound, OutOfRange
from benchside.job import origin, sets
from benchside.job import piece as pieces
from benchside.lathe.calipers import SAME_MM
from benchside.lathe.steps import Step
from benchside.paper import gauges, labels, lettering, page, shape, stick
from benchside.paper.gauges import Cut
from benchside.paper.marks import Drawing
from benchside.paper.page import Heading, Page, Sheet
from benchside.paper.words import Paper
from benchside.pattern import Pattern, Place, places
from benchside.store import patterns
from benchside.store.database import Shop
from benchside.store.sets import Tolerances
from benchside.units import Unit, most_told

What = Literal["stick", "half-pattern", "profile", "gauges", "labels"]
WHAT: tuple[What, ...] = get_args(What)
STICKS: tuple[What, ...] = ("stick", "half-pattern", "profile")
LINED = ("station", "crown", "root")  # what has a line of its own on a stick
TOLD_APART_MM = 0.005  # gauges are told to a hundredth

_PAGE = ("paper_width_mm", "paper_height_mm")
_PRINTER = ("printer_along", "printer_across")
WAYS = ("along", "across")
_KERF = "gauge_kerf_mm"
PAPER_SETTINGS = (*_PAGE, *_PRINTER, _KERF)


@dataclass(frozen=True, slots=True)
class Printer:
    """The page in the printer, what the printer needs to come out true, and the cutter's kerf."""

    page: Page
    kerf_mm: float

    @property
    def corrected(self) -> bool:
        return (self.page.along, self.page.across) != (1.0, 1.0)


@dataclass(frozen=True, slots=True)
class Language:
    """Words for what stands on paper: the fixed ones, a place's label, a moment as a day."""

    say: Paper
    place: Callable[[Place], str]
    day: Callable[[str], str]


@dataclass(frozen=True, slots=True)
class Subject:
    """What is put on paper: a set with its calipers, or a pattern alone.

    ``numbers`` are the set's pieces and whether each is for practice; none for a pattern.
    ``sizes`` are those to turn now, ``state`` what the wood is in then ("": nobody said);
    ``dry_sizes`` the finished ones where they are others. ``blanks`` names what a piece is from.
    ``lines`` are stations, crowns and roots, ``between`` what is checked on the way from one to
    the next. ``steadies_mm`` is where its steady stands for a cut, if it owns and needs one.
    """

    title: str
    pattern: Pattern
    revision: int
    revised_at: str
    unit: Unit
    datum_left: bool
    lines: tuple[stick.Line, ...]
    between: tuple[stick.Line, ...]
    sizes: tuple[gauges.Size, ...]
    dry_sizes: tuple[gauges.Size, ...] = ()
    state: stick.State = ""
    numbers: tuple[tuple[int, bool], ...] = ()
    blanks: Mapping[int, str] = field(default_factory=dict)
    set_id: int | None = None
    steadies_mm: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Asked:
    """How a maker wants it. ``endless``: one long page. ``base`` begins the address of a piece.

    ``finished``: gauges of the finished sizes, where the wood is turned to others now.
    """

    endless: bool = False
    shape: gauges.Shape = "notch"
    base: str = ""
    finished: bool = False


def printer(shop: Shop) -> Printer:
    """The page and printer as kept, A4 and no correction to begin with."""
    kept = shop.settings("")
    return printer_of({name: json.loads(kept[name]) for name in PAPER_SETTINGS if name in kept})


def printer_of(kept: Mapping[str, float]) -> Printer:
    """The page and printer of settings, those that are missing as to begin with.

    Raises `OutOfRange` for what no page, printer or cutter can be.
    """
    width_mm, height_mm = (kept.get(n, mm) for n, mm in zip(_PAGE, page.NAMED["a4"], strict=True))
    along, across = (kept.get(name, 1.0) for name in _PRINTER)
    found = page.page(width_mm, height_mm, along=along, across=across)
    return Printer(found, _checked_kerf(kept.get(_KERF, 0.0)))


def keep_page(shop: Shop, width_mm: float, height_mm: float) -> None:
    """Keep the size of the page. Raises `OutOfRange`."""
    found = page.page(width_mm, height_mm)
    sizes = dict(zip(_PAGE, (found.long_mm, found.short_mm), strict=True))
    shop.keep_settings({name: json.dumps(mm) for name, mm in sizes.items()})


def keep_measured(shop: Shop, along_mm: float, across_mm: float) -> None:
    """Keep what the two scales of a check sheet measure, as the correction each way.

    Raises `OutOfRange`, naming ``along`` or ``across``.
    """
    found = measured(printer(shop), along_mm, across_mm).page
    factors = zip(_PRINTER, (found.along, found.across), strict=True)
    shop.keep_settings({name: json.dumps(factor) for name, factor in factors})


def measured(printed: Printer, along_mm: float, across_mm: float) -> Printer:
    """The printer as the two scales of its uncorrected check sheet measure.

    Raises `OutOfRange`, naming ``along`` or ``across``.
    """
    bare = page.uncorrected(printed.page)
    each = zip(page.scales_mm(bare), (along_mm, across_mm), WAYS, strict=True)
    along, across = (page.correction(*scale) for scale in each)
    return replace(printed, page=replace(bare, along=along, across=across))


def cutting(printed: Printer, kerf_mm: float) -> Printer:
    """The same with a cutter that takes away this width. Raises `OutOfRange`."""
    return replace(printed, kerf_mm=_checked_kerf(kerf_mm))


def forget_printer(shop: Shop) -> None:
    """Draw at full size again, with no correction."""
    shop.keep_settings(dict.fromkeys(_PRINTER))


def keep_kerf(shop: Shop, kerf_mm: float) -> None:
    """Keep the width that the cutter takes away. Raises `OutOfRange`."""
    shop.keep_settings({_KERF: json.dumps(_checked_kerf(kerf_mm))})


def of_set(shop: Shop, set_id: int, words: Language) -> Subject:
    """A set: held to its revision, with the caliper letters of its work. Raises `NotFound`."""
    with shop.snapshot():
        sheet = pieces.sheet(shop, set_id)
        numbers = sets.standing(shop, set_id).pieces
        origins = origin.origins(shop, set_id)
    kept, record = sheet.kept, sheet.record
    wood = sheet.work.wood
    finished = sheet.work.finished_places
    settings: dict[str, list[tuple[str, float]]] = {}
    for step in sheet.work.steps:
        if step.id in sheet.letters and step.place_id is not None:
            use = sheet.letters[step.id]
            settings.setdefault(step.place_id, []).append((use.letter, use.setting_mm))
    stood = {use for uses in settings.values() for use in uses}
    lined, between = (
        [line for line in sheet.lines if (line.place.role in LINED) == has_line]
        for has_line in (True, False)
    )

    def line_of(ln: pieces.Line) -> stick.Line:
        uses = settings.get(ln.place.id, ())
        now_mm = ln.place.diameter_mm if wood else None
        return _line(finished[ln.place.id], words, uses, now_mm=now_mm)

    gauged = [line for line in sheet.lines if line.place.role in LINED or line.letter]
    sizes, dry_sizes = (
        tuple(_size(ln, places[ln.place.id].diameter_mm, stood, words) for ln in gauged)
        for places in (sheet.work.places, finished)
    )
    told_apart = any(
        abs(now.size_mm - dry.size_mm) > TOLD_APART_MM
        for now, dry in zip(sizes, dry_sizes, strict=True)
    )
    return Subject(
        title=kept.name,
        pattern=record.pattern,
        revision=record.revision,
        revised_at=record.revised_at,
        unit=kept.unit,
        datum_left=datum_at_left(record.pattern, kept.choices.headstock),
        lines=tuple(map(line_of, lined)),
        between=tuple(map(line_of, between)),
        sizes=sizes,
        dry_sizes=dry_sizes if told_apart else (),
        state=wood.state if wood else "",
        numbers=tuple((p.number, p.practice) for p in numbers if p.lot != "spoiled"),
        blanks={number: found.called for number, found in origins.items()},
        set_id=set_id,
        steadies_mm=steadies_mm(sheet.work.steps),
    )


def of_pattern(
    shop: Shop, pattern_id: int, words: Language, *, unit: Unit, revision: int | None = None
) -> Subject:
    """A pattern alone, at its newest revision or the one asked for. Raises `NotFound`."""
    record = patterns.found(shop, pattern_id, revision)
    every = places(record.pattern)
    lined = [place for place in every if place.role in LINED]
    return Subject(
        title=record.name,
        pattern=record.pattern,
        revision=record.revision,
        revised_at=record.revised_at,
        unit=unit,
        datum_left=datum_at_left(record.pattern),
        lines=tuple(_line(place, words, ()) for place in lined),
        between=tuple(_line(place, words, ()) for place in every if place.role not in LINED),
        sizes=tuple(
            gauges.Size(
                words.place(place),
                place.diameter_mm,
                _tolerance_mm(place, sets.DEFAULT_TOLERANCES),
                "",
                place.kind == "tenon",
            )
            for place in lined
        ),
    )


def offered(subject: Subject) -> tuple[What, ...]:
    """What there is to print: a pattern alone has no pieces to label."""
    return tuple(what for what in WHAT if what != "labels" or subject.numbers)


def sheets(
    found: Subject, what: What, printed: Printer, words: Language, asked: Asked, *, at: str
) -> tuple[Sheet, ...]:
    """The sheets of one thing, ready to be written. ``at`` is this moment.

    Raises `OutOfRange` with a reason where it cannot be legible or does not fit.
    """
    say, heading = words.say, heading_of(found, words, at)
    if what in ("gauges", "labels"):
        drawn = [*_many(found, what, printed, words, asked, at)]
        told = say.labels_told if what == "labels" else say.gauges_told[_gauged(found, asked)]
        return page.sheet_each(drawn, printed.page, replace(heading, below=told), say)
    on = replace(printed.page, endless=asked.endless)
    return page.sheets(_stick(found, what, words, heading), on, heading, say)


def whole(found: Subject, what: What, words: Language, *, at: str) -> Drawing:
    """A stick as it will be when its sheets are glued. Raises as `sheets`."""
    return _stick(found, what, words, heading_of(found, words, at))


def check_sheet(printed: Printer, words: Language, title: str, unit: Unit, *, at: str) -> Sheet:
    """The sheet a printer is measured by."""
    heading = Heading(title, "", "", words.day(at), unit)
    return page.check_sheet(printed.page, heading, words.say)


def cut_file(
    found: Subject, printed: Printer, words: Language, asked: Asked, number: int, *, at: str
) -> Drawing:
    """One sheet of gauges for the cutter, nothing else on it. Raises `NotFound` beyond the last."""
    drawn = [*_many(found, "gauges", printed, words, asked, at)]
    if not 1 <= number <= len(drawn):
        count = "is one sheet" if len(drawn) == 1 else f"are {len(drawn)} sheets"
        raise NotFound(f"There {count} of gauges.", field="sheet")
    return drawn[number - 1]


def outline(found: Subject, *, half: bool = False) -> Drawing:
    """The pattern's outline for other programs."""
    return shape.shape(found.pattern, half=half)


def heading_of(found: Subject, words: Language, at: str) -> Heading:
    """What every sheet says of itself: the day it was made, and the revision."""
    named = lettering.apart(found.pattern.name)
    pattern = "" if found.title == found.pattern.name else f"{named}, "
    return Heading(
        title=found.title,
        below=words.say.of_revision.format(pattern=pattern, day=words.day(found.revised_at)),
        revision=words.say.revision.format(n=found.revision),
        day=words.day(at),
        unit=found.unit,
    )


def file_name(found: Subject, what: str, kind: str) -> str:
    """A name that says what it is and which revision."""
    of = f"set-{found.set_id}" if found.set_id is not None else "pattern"
    return f"benchside-{of}-{what}-r{found.revision}.{kind}"


def _stick(found: Subject, what: What, words: Language, heading: Heading) -> Drawing:
    drawn = {"stick": stick.slip, "half-pattern": stick.half_pattern, "profile": stick.trace}[what]
    made = stick.Stick(
        *(found.pattern, found.lines, found.unit, heading),
        *(found.datum_left, found.steadies_mm, found.state, found.between),
    )
    return drawn(made, words.say)


def _many(
    found: Subject, what: What, printed: Printer, words: Language, asked: Asked, at: str
) -> Iterator[Drawing]:
    room = page.room(printed.page)
    if what == "gauges":
        state = _gauged(found, asked)
        sizes = found.dry_sizes if state == "finished" else found.sizes
        every = gauges.gauges(sizes, words.say.gauge_states[state])
        cut = Cut(asked.shape, printed.kerf_mm)
        yield from gauges.gauge_sheets(every, cut, room, found.title, found.unit, words.say)
        return
    made = [
        labels.Label(
            number,
            f"{asked.base}/sets/{found.set_id}/pieces/{number}",
            found.blanks.get(number, ""),
            practice,
        )
        for number, practice in found.numbers
    ]
    below = f"{words.say.revision.format(n=found.revision)}, {words.day(at)}"
    yield from labels.label_sheets(made, room, found.title, below, words.say)


def _gauged(found: Subject, asked: Asked) -> str:
    """What the wood is in when the gauges are tried; "" where there is only one size of each."""
    if not found.dry_sizes:
        return ""
    return "finished" if asked.finished else found.state


def steadies_mm(steps: Iterable[Step]) -> tuple[float, ...]:
    """Where the steady is set up in the order of the steps, each place once. [mm]"""
    set_up = (s.at_mm for s in steps if s.tool == "steady" and s.id.startswith("steady:"))
    return tuple(sorted({at_mm for at_mm in set_up if at_mm is not None}))


def _line(
    place: Place,
    words: Language,
    settings: tuple[()] | list[tuple[str, float]],
    now_mm: float | None = None,
) -> stick.Line:
    """``place`` is the finished one. A size that is the same now is not said twice."""
    same = now_mm is not None and abs(now_mm - place.diameter_mm) <= SAME_MM
    return stick.Line(
        at_mm=place.at_mm,
        name=words.place(place),
        dry_mm=place.diameter_mm,
        now_mm=None if same else now_mm,
        settings=tuple(settings),
        minor=place.role != "station",
        fine=place.kind == "tenon",
    )


def _size(
    ln: pieces.Line, size_mm: float, stood: set[tuple[str, float]], words: Language
) -> gauges.Size:
    return gauges.Size(
        words.place(ln.place),
        size_mm,
        ln.tolerance_mm,
        "".join(sorted({a for a, mm in stood if abs(mm - size_mm) <= SAME_MM})),
        ln.place.kind == "tenon",
    )


def _checked_kerf(kerf_mm: float) -> float:
    if not (isfinite(kerf_mm) and 0 <= kerf_mm <= gauges.MOST_KERF_MM):
        raise OutOfRange(
            f"A kerf is 0 to {most_told(gauges.MOST_KERF_MM)}.",
            field="kerf",
            hint="Cut a slot and measure how much wider it is than drawn.",
        )
    return kerf_mm


def _tolerance_mm(place: Place, tolerances: Tolerances) -> float:
    own = place.tolerance_mm
    return own if own is not None else float(getattr(tolerances, f"{place.kind}_mm"))
