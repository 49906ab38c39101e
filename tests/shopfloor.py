"""A shop to test in: a pattern, a set started from it, pieces turned with believable readings."""

from __future__ import annotations

import random
import secrets
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from benchside.job import sets as job_sets
from benchside.job.judged import judge
from benchside.job.watching import Watch, look
from benchside.job.work import tolerance_mm, work_on
from benchside.moments import as_text
from benchside.pattern import Form, Pattern, Section, Station, places
from benchside.store import patterns, readings, sets
from benchside.store.database import Shop
from benchside.store.readings import Mark, Reading, What
from benchside.store.sets import Choices, SpindleSet

MORNING = datetime(2026, 1, 31, 8, 0, tzinfo=UTC)


def back_spindle() -> Pattern:
    """A bench-back spindle: tenons, a swelling, a bead, a cove, a long straight."""
    return Pattern(
        "Bench back spindle",
        (
            Station("st1", 0.0, 12.7, "Lower tenon", "tenon"),
            Station("st2", 25.0, 12.7, "Lower shoulder", "tenon"),
            Station("st3", 26.0, 16.0, "Foot"),
            Station("st4", 130.0, 22.0, "Swell"),
            Station("st5", 200.0, 15.0, "First bead"),
            Station("st6", 212.0, 15.0, "Cove"),
            Station("st7", 226.0, 14.0, "Neck", "slender"),
            Station("st8", 380.0, 14.0, "Long straight", "slender"),
            Station("st9", 425.0, 11.1, "Upper shoulder", "tenon"),
            Station("st10", 450.0, 11.1, "Upper tenon", "tenon"),
        ),
        (
            Section("straight"),
            Section("shoulder"),
            Section("taper"),
            Section("taper"),
            Section("bead", 22.0),
            Section("cove", 10.5),
            Section("straight"),
            Section("taper"),
            Section("straight"),
        ),
    )


def round_bead() -> Pattern:
    """The same with a bead that is all but the half circle its length has room for."""
    pattern = back_spindle()
    sections = list(pattern.sections)
    sections[4] = replace(sections[4], through_mm=26.9)  # of at most 27 there
    return replace(pattern, sections=tuple(sections))


def landing_baluster() -> Pattern:
    """A long baluster with as much on it as one is likely to have: 25 stations, every form."""
    rows: tuple[tuple[float, float, str, Form, float | None], ...] = (
        (0.0, 19.0, "Foot pin", "straight", None),
        (22.0, 19.0, "Foot pin ends", "shoulder", None),
        (25.5, 32.0, "Foot", "taper", None),
        (86.0, 38.0, "Foot cove", "cove", 26.0),
        (99.0, 30.0, "Foot ring", "bead", 38.0),
        (109.0, 30.0, "Ring ends", "cove", 24.5),
        (138.5, 30.0, "Lower reel", "bead", 36.0),
        (147.0, 31.0, "Reel ends", "cove", 24.0),
        (160.0, 27.0, "Vase foot", "taper", None),
        (245.5, 43.0, "Vase belly", "taper", None),
        (318.0, 33.0, "Vase neck", "bead", 40.0),
        (329.0, 33.0, "Collar", "cove", 25.0),
        (341.0, 28.0, "Collar ends", "straight", None),
        (446.0, 28.0, "Long neck ends", "bead", 35.0),
        (456.0, 28.5, "Middle ring ends", "cove", 22.0),
        (470.0, 29.0, "Upper reel", "bead", 36.5),
        (479.5, 29.0, "Upper reel ends", "taper", None),
        (560.0, 41.0, "Upper belly", "taper", None),
        (642.0, 26.0, "Upper neck", "cove", 21.0),
        (655.0, 27.0, "Cap ring", "bead", 33.5),
        (664.0, 27.0, "Cap ring ends", "taper", None),
        (725.0, 35.0, "Cap", "taper", None),
        (768.0, 30.0, "Cap ends", "shoulder", None),
        (771.5, 18.0, "Top pin", "straight", None),
        (795.0, 18.0, "Top pin ends", "straight", None),
    )
    pins = ("Foot pin", "Foot pin ends", "Top pin", "Top pin ends")
    return Pattern(
        "Landing baluster",
        tuple(
            Station(f"s{i + 1}", at, thick, name, "tenon" if name in pins else "decorative")
            for i, (at, thick, name, _, _) in enumerate(rows)
        ),
        tuple(Section(form, through) for *_, form, through in rows[:-1]),
    )


def many_stations(count: int) -> Pattern:
    """A plain rod with so many stations and as many places, for benchmarks."""
    stations = tuple(
        Station(f"st{i + 1}", 10.0 * i, 20.0 + i % 2, f"Station {i + 1}", "slender")
        for i in range(count)
    )
    return Pattern("Rod", stations, (Section("taper"),) * (count - 1))


def choices(**changed: Any) -> Choices:
    """A set of nine with one spare, unless told otherwise."""
    usual: dict[str, Any] = {
        "name": "Hall bench",
        "note": "",
        "wanted": 9,
        "spares": 1,
        "unit": "mm",
        "habit": "piece",
        "tolerances": job_sets.DEFAULT_TOLERANCES,
        "calipers": 3,
    }
    return Choices(**{**usual, **changed})


def open_shop(folder: Path, name: str = "shop.db") -> Shop:
    """An empty shop, from a file that was brought up to date once for the whole run."""
    path = folder / name
    path.write_bytes(_empty_shop())
    shop = Shop(path)
    with shop.transaction() as db:
        db.execute(
            "UPDATE setting SET value = ? WHERE name = 'database_id'", [secrets.token_hex(16)]
        )
    shop.database_id = str(shop.setting("database_id"))
    return shop


@cache
def _empty_shop() -> bytes:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "shop.db"
        Shop(path).close()
        return path.read_bytes()


def started(shop: Shop, pattern: Pattern | None = None, **changed: Any) -> SpindleSet:
    """A set just started from a pattern."""
    at = moment(0)
    with shop.transaction() as db:
        pattern_id = patterns.add(db, pattern or back_spindle(), note="", at=at)
    return job_sets.start(shop, pattern_id, choices(**changed), at=at)


def moment(minutes: float) -> str:
    """So many minutes into the day, as times are kept."""
    at = MORNING + timedelta(minutes=minutes)
    return as_text(at)


def turn(
    shop: Shop,
    kept: SpindleSet,
    numbers: Iterable[int],
    *,
    seed: int = 7,
    scatter: float = 0.15,
    off_mm: Mapping[tuple[int, str], float] | None = None,
    drift_mm: Mapping[str, float] | None = None,
    done: bool = True,
    minutes_each: float = 14.0,
) -> None:
    """Turn pieces from end to end: steps ticked, every place read at the end.

    Readings scatter normally by ``scatter`` of the limit at each place. ``off_mm`` sets single
    pieces off at a place, ``drift_mm`` lets a place creep by so much a piece.
    """
    rng = random.Random(f"{seed} of set {kept.id}")
    pattern = patterns.found(shop, kept.pattern_id, kept.revision).pattern
    found = places(pattern)
    doing = work_on(shop, kept.pattern_id, kept.revision)
    with shop.transaction() as db:
        for turned, number in enumerate(numbers):
            start = number * (minutes_each + 25)  # a pause of more than twenty minutes between
            steps = [step for step in doing.steps if step.stage not in ("final", "done")]
            for i, step in enumerate(steps):
                at = moment(start + minutes_each * 0.7 * i / len(steps))
                readings.add_mark(db, mark(rng, kept, number, "step", at, step_id=step.id))
            for i, place in enumerate(found):
                at = moment(start + minutes_each * (0.7 + 0.3 * (i + 1) / len(found)))
                limit_mm = tolerance_mm(kept, place, "diameter")
                value = place.diameter_mm + rng.gauss(0, scatter * limit_mm)
                value += (off_mm or {}).get((number, place.id), 0.0)
                value += (drift_mm or {}).get(place.id, 0.0) * turned
                aim = {"target_mm": place.diameter_mm}
                readings.add(db, reading(rng, kept, number, place.id, value, at, **aim))
                if place.position_matters:
                    where = place.at_mm + rng.gauss(0, 0.2)
                    along = {"kind": "position", "target_mm": place.at_mm}
                    readings.add(db, reading(rng, kept, number, place.id, where, at, **along))
            if done:
                at = moment(start + minutes_each)
                readings.add_mark(db, mark(rng, kept, number, "done", at))


def key(rng: random.Random) -> str:
    """A key as a phone makes one."""
    return f"{rng.getrandbits(128):032x}"


def reading(
    rng: random.Random,
    kept: SpindleSet,
    number: int,
    place_id: str,
    value_mm: float,
    at: str,
    **changed: Any,
) -> Reading:
    """One final reading, rounded as a caliper shows it."""
    value_mm = round(value_mm, 2)
    usual: dict[str, Any] = {
        "key": key(rng),
        "set_id": kept.id,
        "spindle": number,
        "station_id": place_id,
        "revision": kept.revision,
        "kind": "diameter",
        "axis": "none",
        "phase": "final",
        "state": "dry",
        "typed": f"{value_mm}",
        "unit": "mm",
        "value_mm": value_mm,
        "target_mm": value_mm,
        "taken_at": at,
        "received_at": at,
    }
    return Reading(**{**usual, **changed})


def mark(
    rng: random.Random, kept: SpindleSet, number: int | None, what: What, at: str, **changed: str
) -> Mark:
    """One mark."""
    usual = {"step_id": "", "about": "", "text": ""} | changed
    return Mark(key(rng), kept.id, number, what, taken_at=at, received_at=at, **usual)


def set_again(shop: Shop, kept: SpindleSet) -> SpindleSet:
    """The set as it is kept now."""
    return sets.found(shop, kept.id)


def drifting(shop: Shop, set_id: int) -> Watch | None:
    """What drifts in a set, if anything."""
    return look(shop, judge(shop, set_id))
