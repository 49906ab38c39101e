"""Parts of an export: test holes, and what is known of a set after turning."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import asdict
from typing import Any, get_args

from benchside.job.exchange.document import Part
from benchside.job.exchange.parts import MOST_SPINDLES, maybe, names, new_key, number_of, size
from benchside.joint.schools import schools
from benchside.store.fitting import (
    Across,
    FitOfSet,
    Fitted,
    HoleReading,
    KeptHole,
    KeptPart,
    Later,
    TestHole,
    Turned,
)
from benchside.store.fitting import Part as FitPart
from benchside.units import Unit

WIDEST_MM = 999.0  # judgement: a guard against nonsense, as in the database


def hole_out(whole: KeptHole) -> dict[str, Any]:
    """A test hole with all that was read of it."""
    return {**asdict(whole.kept), "readings": [_reading_out(r, "hole") for r in whole.readings]}


def hole_in(part: Part, keys: set[str]) -> KeptHole:
    """A test hole; no key may stand twice."""
    p = part.named(*names(TestHole, "named_typed"), "readings", maybe=["named_typed"])
    return KeptHole(
        kept=TestHole(
            key=new_key(p["key"], keys),
            bit=p["bit"].text(),
            named_mm=p["named_mm"].number(1e-9, WIDEST_MM),
            species=p["species"].text(empty=True),
            depth_mm=maybe(p["depth_mm"], lambda deep: deep.number(1e-9, 9999.0)),
            unit=p["unit"].one_of(get_args(Unit)),
            note=p["note"].text(empty=True),
            uses=p["uses"].whole(0, 1_000_000),
            bored_at=p["bored_at"].moment(),
            worn_at=maybe(p["worn_at"], Part.moment),
            named_typed=p["named_typed"].text(empty=True) if "named_typed" in p else "",
        ),
        readings=tuple(
            _reading(row.named(*names(HoleReading, "hole")), 0, keys)
            for row in p["readings"].each()
        ),
    )


def fit_out(found: FitOfSet) -> dict[str, Any]:
    """All that is known of a set after turning."""
    return {
        "later": [asdict(reading) for reading in found.later],
        "log": found.log,
        "parts": [
            {**asdict(whole.kept), "readings": [_reading_out(r) for r in whole.readings]}
            for whole in found.parts
        ],
        "holes_of": [{"spindle": spindle, "hole": hole} for spindle, hole in found.holes_of],
        "fitted": [asdict(home) for home in found.fitted],
    }


def fit_in(part: Part, numbers: set[int], holes: Collection[str], keys: set[str]) -> FitOfSet:
    """The same of a set that has spindles with these numbers; ``holes`` are the file's own."""
    p = part.named("later", "log", "parts", "holes_of", "fitted")
    parts = tuple(_part(row, holes, keys) for row in p["parts"].each())
    if len({whole.kept.tenon for whole in parts}) < len(parts):
        raise p["parts"].wrong("one tenon goes into two parts.")
    holes_of = tuple(_hole_of(row, numbers) for row in p["holes_of"].each())
    if any(len({pair[i] for pair in holes_of}) < len(holes_of) for i in (0, 1)):
        raise p["holes_of"].wrong("a spindle, or a hole, stands here twice.")
    fitted = tuple(_fitted(row, numbers) for row in p["fitted"].each())
    if len({(home.spindle, home.tenon) for home in fitted}) < len(fitted):
        raise p["fitted"].wrong("a tenon stands here twice.")
    return FitOfSet(
        later=tuple(_later(row, numbers, keys) for row in p["later"].each()),
        log=p["log"].text(empty=True),
        parts=parts,
        holes_of=holes_of,
        fitted=fitted,
    )


def _reading_out(reading: HoleReading, *without: str) -> dict[str, Any]:
    return {name: value for name, value in asdict(reading).items() if name not in without}


def _reading(p: dict[str, Part], hole: int, keys: set[str]) -> HoleReading:
    return HoleReading(
        key=new_key(p["key"], keys),
        hole=hole,
        axis=p["axis"].one_of(("A", "B")),
        typed=p["typed"].text(empty=True),
        unit=p["unit"].one_of(get_args(Unit)),
        value_mm=p["value_mm"].number(1e-9, WIDEST_MM),
        taken_at=p["taken_at"].moment(),
        struck_at=maybe(p["struck_at"], Part.moment),
    )


def _later(part: Part, numbers: set[int], keys: set[str]) -> Later:
    p = part.named(*names(Later))
    return Later(
        key=new_key(p["key"], keys),
        spindle=number_of(p["spindle"], numbers),
        station_id=p["station_id"].text(),
        what=p["what"].one_of(("dry", "sized")),
        axis=p["axis"].one_of(("A", "B")),
        typed=p["typed"].text(empty=True),
        unit=p["unit"].one_of(get_args(Unit)),
        value_mm=size(p["value_mm"]),
        expected_mm=maybe(p["expected_mm"], size),
        moisture=p["moisture"].number(0, 250),
        taken_at=p["taken_at"].moment(),
        struck_at=maybe(p["struck_at"], Part.moment),
    )


def _part(part: Part, holes: Collection[str], keys: set[str]) -> KeptPart:
    p = part.named(*names(FitPart), "readings")
    test_hole = maybe(p["test_hole"], Part.key)
    if test_hole is not None and test_hole not in holes:
        raise p["test_hole"].wrong("no test hole in this file has that key.")
    school = p["school"].one_of((*(school.id for school in schools()), "own"))
    own_fit_mm = maybe(p["own_fit_mm"], lambda fit: fit.number(-5.0, 5.0))
    return KeptPart(
        kept=FitPart(
            key=new_key(p["key"], keys),
            name=p["name"].text(),
            species=p["species"].text(),
            moisture=p["moisture"].number(0, 250),
            across=p["across"].one_of(get_args(Across)),
            tenon=p["tenon"].text(),
            test_hole=test_hole,
            school=school,
            own_fit_mm=own_fit_mm,
            tenon_moisture=p["tenon_moisture"].number(0, 250),
            turning=p["turning"].one_of(get_args(Turned)),
            made_at=p["made_at"].moment(),
        ),
        readings=tuple(_mortise(row, keys) for row in p["readings"].each()),
    )


def _mortise(part: Part, keys: set[str]) -> HoleReading:
    p = part.named(*names(HoleReading))
    return _reading(p, p["hole"].whole(1, MOST_SPINDLES), keys)


def _hole_of(part: Part, numbers: set[int]) -> tuple[int, int]:
    p = part.named("spindle", "hole")
    return number_of(p["spindle"], numbers), p["hole"].whole(1, MOST_SPINDLES)


def _fitted(part: Part, numbers: set[int]) -> Fitted:
    p = part.named(*names(Fitted))
    return Fitted(number_of(p["spindle"], numbers), p["tenon"].text(), p["at"].moment())
