"""Parts of an export: what a set is judged by besides its readings, originals, and small things."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, fields
from typing import Any, TypeVar, get_args

from benchside.job.exchange.document import Part
from benchside.pattern import Form, Kind
from benchside.store.exchange import KeptOriginal, KeptTest
from benchside.store.judging import AsMade, Mistake, Pin, Repeat, RepeatTest
from benchside.store.originals import Original, OriginalReading, OriginalStation
from benchside.units import Unit

MOST_SPINDLES = 10_000  # judgement: a guard, far above any set
MOST_MM = 999_999.0  # judgement: a guard against nonsense, far above any lathe

Found = TypeVar("Found")


def names(kind: type[Any], *without: str) -> tuple[str, ...]:
    """The fields of a dataclass, which are its names in a file."""
    return tuple(field.name for field in fields(kind) if field.name not in without)


_ORIGINAL = ("pattern", *names(Original, "id", "pattern_id"), "stations", "readings")


def original_out(whole: KeptOriginal, places: dict[int, int]) -> dict[str, Any]:
    """An original; ``places`` says where in the file each pattern stands."""
    kept = asdict(whole.kept)
    del kept["id"]
    pattern_id = kept.pop("pattern_id")
    return {
        "pattern": None if pattern_id is None else places[pattern_id],
        **kept,
        "stations": [asdict(station) for station in whole.stations],
        "readings": [asdict(reading) for reading in whole.readings],
    }


def original_in(part: Part, patterns: int, keys: set[str]) -> KeptOriginal:
    """An original; the pattern in it is a place in the file, of so many."""
    p = part.named(*_ORIGINAL)
    pieces = p["pieces"].whole(1, 100)
    if not p["pattern"].is_none and not patterns:
        raise p["pattern"].wrong("there is no pattern in this file.")
    stations = tuple(_station(s) for s in p["stations"].each())
    if len({s.id for s in stations}) < len(stations):
        raise p["stations"].wrong("two stations have the same id.")
    return KeptOriginal(
        kept=Original(
            id=0,
            name=p["name"].text(),
            note=p["note"].text(empty=True),
            unit=p["unit"].one_of(get_args(Unit)),
            datum_end=p["datum_end"].one_of(("tail", "drive")),
            pieces=pieces,
            next_station=p["next_station"].whole(1, 1_000_000_000),
            pattern_id=None if p["pattern"].is_none else p["pattern"].whole(0, patterns - 1),
            made_at=p["made_at"].moment(),
        ),
        stations=stations,
        readings=tuple(_reading(row, pieces, keys) for row in p["readings"].each()),
    )


def repeat_test_out(whole: KeptTest) -> dict[str, Any]:
    """A test of the calipers."""
    kept = asdict(whole.kept)
    del kept["id"]
    return {**kept, "readings": [asdict(reading) for reading in whole.readings]}


def repeat_test_in(part: Part) -> KeptTest:
    """A test of the calipers."""
    p = part.named(*names(RepeatTest, "id"), "readings")
    return KeptTest(
        kept=RepeatTest(
            id=0,
            unit=p["unit"].one_of(get_args(Unit)),
            step_mm=p["step_mm"].number(1e-9, 9.999),
            begun_at=p["begun_at"].moment(),
        ),
        readings=tuple(_repeat(row) for row in p["readings"].each()),
    )


def pins_in(part: Part, numbers: set[int]) -> tuple[Pin, ...]:
    """The pinned spindles of a set that has spindles with these numbers."""
    pins = []
    for row in part.each():
        p = row.named(*names(Pin))
        place = maybe(p["place"], lambda at: at.whole(1, MOST_SPINDLES))
        pins.append(Pin(number_of(p["spindle"], numbers), place))
    places = [pin.place for pin in pins if pin.place is not None]
    if len({pin.spindle for pin in pins}) < len(pins) or len(set(places)) < len(places):
        raise part.wrong("a spindle, or a place, stands here twice.")
    return tuple(pins)


def as_made_in(part: Part) -> AsMade:
    """What was written of how a set was made."""
    p = part.named(*names(AsMade))
    return AsMade(**{name: text.text(empty=True) for name, text in p.items()})


def mistakes_in(part: Part, keys: set[str]) -> tuple[Mistake, ...]:
    """The log of mistakes and cures."""
    found = []
    for row in part.each():
        p = row.named(*names(Mistake))
        found.append(
            Mistake(
                key=new_key(p["key"], keys),
                what=p["what"].text(),
                cure=p["cure"].text(empty=True),
                noted_at=p["noted_at"].moment(),
            )
        )
    return tuple(found)


def new_key(part: Part, earlier: set[str]) -> str:
    """A key that did not stand before in the file."""
    key = part.key()
    if key in earlier:
        raise part.wrong("this key stood before: every reading and every mark has its own.")
    earlier.add(key)
    return key


def number_of(part: Part, numbers: set[int]) -> int:
    """The number of a spindle that the set has."""
    number = part.whole(1, MOST_SPINDLES)
    if number not in numbers:
        raise part.wrong(f"this set has no spindle {number}.")
    return number


def size(part: Part) -> float:
    """A size that something can have. [mm]"""
    return part.number(1e-9, MOST_MM)


def maybe(part: Part, read: Callable[[Part], Found]) -> Found | None:
    """What stands there, or None for null."""
    return None if part.is_none else read(part)


def _station(part: Part) -> OriginalStation:
    p = part.named(*names(OriginalStation))
    return OriginalStation(
        id=p["id"].text(),
        at_mm=p["at_mm"].number(0, MOST_MM),
        name=p["name"].text(empty=True),
        kind=p["kind"].one_of(get_args(Kind)),
        form=p["form"].one_of(get_args(Form)),
    )


def _reading(part: Part, pieces: int, keys: set[str]) -> OriginalReading:
    p = part.named(*names(OriginalReading))
    return OriginalReading(
        key=new_key(p["key"], keys),
        piece=p["piece"].whole(1, pieces),
        place_id=p["place_id"].text(),
        axis=p["axis"].one_of(("A", "B")),
        typed=p["typed"].text(empty=True),
        unit=p["unit"].one_of(get_args(Unit)),
        value_mm=size(p["value_mm"]),
        taken_at=p["taken_at"].moment(),
        struck_at=maybe(p["struck_at"], Part.moment),
    )


def _repeat(part: Part) -> Repeat:
    p = part.named(*names(Repeat))
    return Repeat(
        place=p["place"].whole(1, 100),
        turn=p["turn"].whole(1, 100),
        typed=p["typed"].text(empty=True),
        value_mm=size(p["value_mm"]),
        taken_at=p["taken_at"].moment(),
    )
