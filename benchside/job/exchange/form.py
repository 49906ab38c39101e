"""The form of an export: how it is written, and how it is read with nothing taken on trust.

The form, version 2; names and units are those of the code, moments ISO 8601 UTC::

    {"benchside": 2, "exported_at": …, "database_id": …,
     "settings": {"lathe_swing_mm": 305.0, "lathe_steady": "ring", …},
                                                          only in an export of everything
     "patterns": [{"name", "note", "step_order", "speeds", "next_station", "made_at",
                   "archived_at", "revisions": [{"revision", "datum_end", "made_at", "reason",
                   "stations": […], "sections": […]}]}],
     "sets": [{"pattern": 0, "revision": 1, …, "spindles": […], "readings": […], "marks": […],
               "pinned": [{"spindle", "place"}], "as_made": {"wood", "bits", "finish", "note"},
               "mistakes": [{"key", "what", "cure", "noted_at"}],
               "fit": {"later": […], "log", "parts": [{…, "readings": […]}],
                       "holes_of": [{"spindle", "hole"}], "fitted": […]},     where there is any
               "stock": {"route", …}, "needs": […], "boards": [{…, "knots": […], "pins": […]}],
               "logs": […], "blanks": [{…, "board", "log"}],
               "wood": {"said": […], "mounted": [{"spindle", "nth", "at"}], "room": […],
                        "slices": […], "weighings": […], "drying_marks": […]}}],
     "originals": [{"pattern": 0, "name", …, "stations": […], "readings": […]}],
     "test_holes": [{"key", "bit", …, "readings": […]}],    those of the sets, or every one
     "own_species": [{"name", "radial_percent", …}],        likewise, where there are any
     "repeat_tests": [{"unit", "step_mm", "begun_at", "readings": […]}],       as the settings
     "calipers": [{"letter", "kind", "least_mm", "most_mm", "name"}],          as the settings
     "boards": […], "logs": […]}             those put to no set, where there are any; likewise

``pattern`` of a set counts the patterns of the same file from 0; an original of which no pattern
was made has null. Readings and marks stand in the order they arrived, corrected, withdrawn and
struck out ones included; ``device`` is only its name.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import Any, get_args

from benchside.errors import PatternBroken
from benchside.job.exchange.document import Part, parse
from benchside.job.exchange.fit import fit_in, fit_out, hole_in, hole_out
from benchside.job.exchange.parts import (
    MOST_MM,
    MOST_SPINDLES,
    as_made_in,
    maybe,
    mistakes_in,
    names,
    new_key,
    number_of,
    original_in,
    original_out,
    pins_in,
    repeat_test_in,
    repeat_test_out,
    size,
)
from benchside.job.exchange.shop import caliper_out, calipers_in, settings_in
from benchside.job.exchange.stock import (
    STOCK,
    board_in,
    board_out,
    log_in,
    log_out,
    stock_in,
    stock_out,
)
from benchside.job.exchange.wood import species_in, wood_in, wood_out
from benchside.lathe.edges import CUTS
from benchside.pattern import Form, Kind, Pattern, Section, Station
from benchside.store.exchange import (
    KeptOriginal,
    KeptPattern,
    KeptRevision,
    KeptSet,
    KeptTest,
)
from benchside.store.fitting import FitOfSet, KeptHole
from benchside.store.readings import Mark, Reading, What
from benchside.store.sets import Choices, Habit, Spindle, SpindleSet, Tolerances
from benchside.store.stock import KeptBoard, KeptLog
from benchside.store.tools import OwnedCaliper
from benchside.store.wood import OwnSpecies, WoodOfSet
from benchside.units import Unit

FORM = 2  # version 1 knew of the lathe only its two sizes; it is read as it always was

_PATTERN = names(KeptPattern, "id")
_SET = (
    *("pattern", "revision", "made_at", "archived_at", "spindles", "readings", "marks"),
    *("pinned", "as_made", "mistakes"),
    *names(Choices, "cuts"),
)
_READING = (*names(Reading, "set_id", "device_id"), "device")
_MARK = (*names(Mark, "set_id", "device_id"), "device")


@dataclass(frozen=True, slots=True)
class Document:
    """An export as read and checked. A set, and an original, names its pattern by its place in
    ``patterns``.

    A device id in it is a place in ``device_names``.
    """

    exported_at: str
    settings: dict[str, Any]
    patterns: tuple[KeptPattern, ...]
    sets: tuple[KeptSet, ...]
    device_names: tuple[str, ...]
    originals: tuple[KeptOriginal, ...] = ()
    repeat_tests: tuple[KeptTest, ...] = ()
    test_holes: tuple[KeptHole, ...] = ()
    calipers: tuple[OwnedCaliper, ...] = ()
    boards: tuple[KeptBoard, ...] = ()
    logs: tuple[KeptLog, ...] = ()
    own_species: tuple[OwnSpecies, ...] = ()


def write(
    database_id: str,
    patterns: list[KeptPattern],
    sets: list[KeptSet],
    device_names: dict[int, str],
    originals: list[KeptOriginal],
    test_holes: list[KeptHole],
    own_species: list[OwnSpecies],
    *,
    now: str,
) -> dict[str, Any]:
    """An export of these patterns, and of these sets, originals, test holes and species."""
    places = {kept.id: i for i, kept in enumerate(patterns)}
    return {
        "benchside": FORM,
        "exported_at": now,
        "database_id": database_id,
        "patterns": [_pattern_out(kept) for kept in patterns],
        "sets": [_set_out(whole, places[whole.kept.pattern_id], device_names) for whole in sets],
        "originals": [original_out(whole, places) for whole in originals],
        "test_holes": [hole_out(whole) for whole in test_holes],
        **({"own_species": [asdict(own) for own in own_species]} if own_species else {}),
    }


def write_calipers(owned: list[OwnedCaliper]) -> list[dict[str, Any]]:
    """The calipers owned, as an export of everything holds them."""
    return [caliper_out(caliper) for caliper in owned]


def write_tests(tests: list[KeptTest]) -> list[dict[str, Any]]:
    """The tests of the calipers, as an export of everything holds them."""
    return [repeat_test_out(whole) for whole in tests]


def write_free_stock(boards: list[KeptBoard], logs: list[KeptLog]) -> dict[str, Any]:
    """The boards and logs of no set, where there are any, as an export of everything has them."""
    found = {"boards": [board_out(b) for b in boards], "logs": [log_out(log) for log in logs]}
    return {name: rows for name, rows in found.items() if rows}


def to_json(document: dict[str, Any]) -> str:
    """An export as text, a value to a line so that two of them can be compared."""
    return json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def from_json(text: str | bytes) -> Document:
    """Read an export and check all of it. Raises `NotUnderstood`, naming the place."""
    return _read(parse(text))


def read_export(value: object) -> Document:
    """Check an export that was read as JSON already. Raises `NotUnderstood`, naming the place."""
    return _read(Part("", value))


def _read(whole: Part) -> Document:
    if isinstance(whole.value, dict) and "benchside" in whole.value:
        form = whole.value["benchside"]
        if isinstance(form, int) and form > FORM:
            raise whole.wrong(
                "it was written by a newer benchside than this one.", "Update benchside."
            )
    else:
        raise whole.wrong(
            "it is no export of benchside.", 'Such a file begins with {"benchside": 1'
        )
    top = whole.named(
        *("benchside", "exported_at", "database_id", "patterns", "sets", "originals"),
        maybe=[
            "settings",
            "repeat_tests",
            "test_holes",
            "calipers",
            "boards",
            "logs",
            "own_species",
        ],
    )
    top["benchside"].whole(1, FORM)
    top["database_id"].text()
    patterns = tuple(_pattern(part) for part in top["patterns"].each())
    keys: set[str] = set()
    test_holes = tuple(
        hole_in(part, keys) for part in (top["test_holes"].each() if "test_holes" in top else ())
    )
    reader = _SetReader(patterns, {whole.kept.key for whole in test_holes}, keys)
    return Document(
        exported_at=top["exported_at"].moment(),
        settings=settings_in(top["settings"]) if "settings" in top else {},
        patterns=patterns,
        sets=tuple(reader.read(part) for part in top["sets"].each()),
        device_names=tuple(reader.devices),
        originals=tuple(
            original_in(part, len(patterns), reader.original_keys)
            for part in top["originals"].each()
        ),
        repeat_tests=tuple(
            repeat_test_in(part)
            for part in (top["repeat_tests"].each() if "repeat_tests" in top else ())
        ),
        test_holes=test_holes,
        calipers=calipers_in(top["calipers"]) if "calipers" in top else (),
        boards=tuple(
            board_in(part, reader.board_keys)
            for part in (top["boards"].each() if "boards" in top else ())
        ),
        logs=tuple(
            log_in(part, reader.log_keys) for part in (top["logs"].each() if "logs" in top else ())
        ),
        own_species=tuple(
            species_in(part) for part in (top["own_species"].each() if "own_species" in top else ())
        ),
    )


def _pattern_out(kept: KeptPattern) -> dict[str, Any]:
    return {
        "name": kept.name,
        "note": kept.note,
        "step_order": list(kept.step_order),
        "speeds": kept.speeds,
        "next_station": kept.next_station,
        "made_at": kept.made_at,
        "archived_at": kept.archived_at,
        "revisions": [
            {
                "revision": r.revision,
                "datum_end": r.pattern.datum_end,
                "made_at": r.made_at,
                "reason": r.reason,
                "stations": [asdict(station) for station in r.pattern.stations],
                "sections": [_section_out(section) for section in r.pattern.sections],
            }
            for r in kept.revisions
        ],
    }


def _set_out(whole: KeptSet, place: int, device_names: dict[int, str]) -> dict[str, Any]:
    kept = whole.kept
    return {
        "pattern": place,
        "revision": kept.revision,
        **asdict(kept.choices),
        "made_at": kept.made_at,
        "archived_at": kept.archived_at,
        "spindles": [{"number": s.number, "practice": s.practice} for s in whole.spindles],
        "readings": [_row_out(reading, device_names) for reading in whole.readings],
        "marks": [_row_out(mark, device_names) for mark in whole.marks],
        "pinned": [asdict(pin) for pin in whole.pinned],
        "as_made": asdict(whole.as_made),
        "mistakes": [asdict(mistake) for mistake in whole.mistakes],
        **({"fit": fit_out(whole.fit)} if whole.fit != FitOfSet() else {}),
        **stock_out(whole.stock),
        **({"wood": wood_out(whole.wood)} if whole.wood != WoodOfSet() else {}),
    }


def _row_out(row: Reading | Mark, device_names: dict[int, str]) -> dict[str, Any]:
    found = asdict(row)
    del found["set_id"]
    device_id = found.pop("device_id")
    return {**found, "device": None if device_id is None else device_names[device_id]}


def _pattern(part: Part) -> KeptPattern:
    p = part.named(*_PATTERN)
    name = p["name"].text()
    revisions = p["revisions"].each()
    if not revisions:
        raise p["revisions"].wrong("a pattern has at least one revision.")
    return KeptPattern(
        id=0,
        name=name,
        note=p["note"].text(empty=True),
        step_order=tuple(step.text() for step in p["step_order"].each()),
        speeds=p["speeds"].pairs(),
        next_station=p["next_station"].whole(1, 1_000_000_000),
        made_at=p["made_at"].moment(),
        archived_at=maybe(p["archived_at"], Part.moment),
        revisions=tuple(_revision(r, i, name) for i, r in enumerate(revisions, 1)),
    )


def _revision(part: Part, number: int, name: str) -> KeptRevision:
    p = part.named("revision", "datum_end", "made_at", "reason", "stations", "sections")
    p["revision"].whole(number, number)
    try:
        pattern = Pattern(
            name=name,
            stations=tuple(_station(s) for s in p["stations"].each()),
            sections=tuple(_section(s) for s in p["sections"].each()),
            datum_end=p["datum_end"].one_of(("tail", "drive")),
        )
    except PatternBroken as broken:
        raise part.wrong(broken.message, broken.hint) from broken
    return KeptRevision(
        revision=number,
        made_at=p["made_at"].moment(),
        reason=p["reason"].text(empty=True),
        pattern=pattern,
    )


def _station(part: Part) -> Station:
    p = part.named(*names(Station))
    return Station(
        id=p["id"].text(),
        at_mm=p["at_mm"].number(0, MOST_MM),
        diameter_mm=p["diameter_mm"].number(0, MOST_MM),
        name=p["name"].text(empty=True),
        kind=p["kind"].one_of(get_args(Kind)),
        tolerance_mm=maybe(p["tolerance_mm"], size),
        position_tolerance_mm=maybe(p["position_tolerance_mm"], size),
    )


def _section_out(section: Section) -> dict[str, Any]:
    """A section; its name only where it has one of its own."""
    found = asdict(section)
    return found if section.name else {k: v for k, v in found.items() if k != "name"}


def _section(part: Part) -> Section:
    p = part.named(*names(Section, "name"), maybe=("name",))
    called = p["name"].text() if "name" in p else ""
    return Section(p["form"].one_of(get_args(Form)), maybe(p["through_mm"], size), called)


class _SetReader:
    """Reads the sets of a file one after another; no key may stand twice in all of them."""

    def __init__(
        self, patterns: tuple[KeptPattern, ...], test_holes: set[str], fit_keys: set[str]
    ) -> None:
        self.patterns = patterns
        self.test_holes = test_holes
        self.fit_keys = fit_keys
        self.wood_keys: set[str] = set()
        self.devices: dict[str, int] = {}
        self.reading_keys: set[str] = set()
        self.mark_keys: set[str] = set()
        self.mistake_keys: set[str] = set()
        self.original_keys: set[str] = set()
        self.board_keys: set[str] = set()
        self.log_keys: set[str] = set()

    def read(self, part: Part) -> KeptSet:
        p = part.named(*_SET, maybe=["fit", "cuts", "wood", *STOCK])
        if not self.patterns:
            raise p["pattern"].wrong("there is no pattern in this file.")
        place = p["pattern"].whole(0, len(self.patterns) - 1)
        revisions = len(self.patterns[place].revisions)
        spindles = tuple(_spindle(s) for s in p["spindles"].each())
        numbers = {s.number for s in spindles}
        if len(numbers) < len(spindles):
            raise p["spindles"].wrong("two spindles have the same number.")
        readings: dict[str, Reading] = {}
        for row in p["readings"].each():
            reading = self._reading(row, numbers, revisions, readings)
            readings[reading.key] = reading
        return KeptSet(
            kept=SpindleSet(
                id=0,
                pattern_id=place,
                revision=p["revision"].whole(1, revisions),
                choices=_choices(p),
                made_at=p["made_at"].moment(),
                archived_at=maybe(p["archived_at"], Part.moment),
            ),
            spindles=spindles,
            readings=tuple(readings.values()),
            marks=tuple(self._mark(row, numbers) for row in p["marks"].each()),
            pinned=pins_in(p["pinned"], numbers),
            as_made=as_made_in(p["as_made"]),
            mistakes=mistakes_in(p["mistakes"], self.mistake_keys),
            wood=wood_in(p["wood"], numbers, self.wood_keys) if "wood" in p else WoodOfSet(),
            fit=(
                fit_in(p["fit"], numbers, self.test_holes, self.fit_keys)
                if "fit" in p
                else FitOfSet()
            ),
            stock=stock_in(p, numbers, self.board_keys, self.log_keys),
        )

    def _reading(
        self, part: Part, numbers: set[int], revisions: int, earlier: dict[str, Reading]
    ) -> Reading:
        p = part.named(*_READING)
        supersedes = maybe(p["supersedes"], Part.key)
        if supersedes is not None and supersedes not in earlier:
            raise p["supersedes"].wrong("no reading before it in this set has that key.")
        return Reading(
            key=new_key(p["key"], self.reading_keys),
            set_id=0,
            spindle=number_of(p["spindle"], numbers),
            station_id=p["station_id"].text(),
            revision=p["revision"].whole(1, revisions),
            kind=p["kind"].one_of(("diameter", "position")),
            axis=p["axis"].one_of(("none", "A", "B")),
            phase=p["phase"].one_of(("sizing", "final")),
            state=p["state"].one_of(("green", "dry")),
            typed=p["typed"].text(empty=True),
            unit=p["unit"].one_of(get_args(Unit)),
            value_mm=p["value_mm"].number(0, MOST_MM),
            target_mm=p["target_mm"].number(0, MOST_MM),
            taken_at=p["taken_at"].moment(),
            received_at=p["received_at"].moment(),
            device_id=self._device(p["device"]),
            supersedes=supersedes,
            note=p["note"].text(empty=True),
        )

    def _mark(self, part: Part, numbers: set[int]) -> Mark:
        p = part.named(*_MARK)
        return Mark(
            key=new_key(p["key"], self.mark_keys),
            set_id=0,
            spindle=None if p["spindle"].is_none else number_of(p["spindle"], numbers),
            what=p["what"].one_of(get_args(What)),
            step_id=p["step_id"].text(empty=True),
            about=p["about"].text(empty=True),
            text=p["text"].text(empty=True),
            taken_at=p["taken_at"].moment(),
            received_at=p["received_at"].moment(),
            device_id=self._device(p["device"]),
        )

    def _device(self, part: Part) -> int | None:
        name = maybe(part, Part.text)
        return None if name is None else self.devices.setdefault(name, len(self.devices))


def _choices(p: dict[str, Part]) -> Choices:
    t = p["tolerances"].named(*names(Tolerances))
    return Choices(
        name=p["name"].text(),
        note=p["note"].text(empty=True),
        wanted=p["wanted"].whole(1, 400),
        spares=p["spares"].whole(0, 100),
        unit=p["unit"].one_of(get_args(Unit)),
        habit=p["habit"].one_of(get_args(Habit)),
        tolerances=Tolerances(**{name: size(part) for name, part in t.items()}),
        calipers=p["calipers"].whole(1, 26),
        headstock=p["headstock"].one_of(("left", "right")),
        cuts=p["cuts"].one_of(CUTS) if "cuts" in p else "ordinary",
    )


def _spindle(part: Part) -> Spindle:
    p = part.named("number", "practice")
    return Spindle(0, p["number"].whole(1, MOST_SPINDLES), p["practice"].flag())
