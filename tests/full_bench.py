"""A bench with something of everything on it, for tests that must lose none of it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from benchside.pattern import Pattern, Section, Station
from benchside.store import exchange, judging, patterns, readings, sets, tools
from benchside.store.database import Shop
from benchside.store.exchange import KeptOriginal, KeptTest
from benchside.store.judging import AsMade, Mistake, Repeat, RepeatTest
from benchside.store.originals import Original, OriginalReading, OriginalStation
from benchside.store.readings import Mark, Reading
from benchside.store.sets import Choices, Tolerances

MONDAY = "2026-03-02T08:00:00.000Z"

SPINDLE = Pattern(
    name="Hall bench spindle",
    stations=(
        Station("s1", 0.0, 15.9, "foot tenon", "tenon", 0.1, None),
        Station("s2", 25.0, 15.9, "foot tenon ends", "tenon"),
        Station("s3", 180.5, 24.333333333333332, "swell", "slender", None, 0.75),
        Station("s4", 300.0, 14.0, "neck"),
        Station("s5", 330.0, 22.0, "bead begins"),
        Station("s6", 345.0, 22.0, "bead ends"),
        Station("s7", 480.0, 12.7, "top"),
    ),
    sections=(
        Section("straight"),
        Section("taper"),
        Section("cove", 13.0),
        Section("taper"),
        Section("bead", 30.0, "Crown “bead”"),
        Section("shoulder"),
    ),
    datum_end="drive",
)

BALUSTER = Pattern(
    name="Maple “baluster” — ½ size, Größe 2",
    stations=(Station("a", 0.0, 40.0, ""), Station("b", 700.0, 30.0, "")),
    sections=(Section("taper"),),
)

CHOICES = Choices(
    name="Hall bench",
    note="White ash.\nStill green in the middle.",
    wanted=4,
    spares=1,
    unit="in/64",
    habit="piece",
    tolerances=Tolerances(0.1, 0.4, 0.8, 1.5),
    calipers=3,
)


def key(number: int) -> str:
    """The key of the reading with this number."""
    return f"{number:032x}"


def at(minute: int) -> str:
    """So many minutes after Monday at eight, until midnight."""
    assert minute < 16 * 60
    return f"2026-03-02T{8 + minute // 60:02}:{minute % 60:02}:00.000Z"


ORIGINAL = KeptOriginal(
    Original(
        0, "The old “baluster”", "from No. 7,\nthe landing", "in/64", "drive", 2, 4, None, at(2)
    ),
    (
        OriginalStation("s1", 0.0, "foot", "tenon", "bead"),
        OriginalStation("s3", 700.0, "top", "decorative", "taper"),
    ),
    (
        OriginalReading(key(60), 1, "s1", "A", "1 37/64", "in/64", 40.084375, at(3)),
        OriginalReading(key(61), 2, "crown:s1", "B", "40,1 mm", "in/64", 40.1, at(4), at(5)),
        OriginalReading(key(62), 1, "s2", "B", "1/3", "in/64", 25.4 / 3, at(6)),
    ),
)
UNREAD = KeptOriginal(Original(0, "A leg", "", "mm", "tail", 1, 1, None, at(7)), (), ())
TEST = KeptTest(
    RepeatTest(0, "mm", 0.01, at(8)),
    (
        *(
            Repeat(p, t, f"1{p}.0{t}", 10 + p + t / 100, at(9))
            for t in (1, 2, 3)
            for p in (1, 2, 3)
        ),
        Repeat(2, 1, "12,02", 12.02, at(10)),
    ),
)
HALF_A_TEST = KeptTest(
    RepeatTest(0, "in/64", 25.4 / 64, at(11)), (Repeat(1, 1, "1/2", 12.7, at(11)),)
)


def reading(number: int, set_id: int = 1, **other: Any) -> Reading:
    """A final reading of the swell of piece one, unless something else is said."""
    plain = Reading(
        key=key(number),
        set_id=set_id,
        spindle=1,
        station_id="s3",
        revision=1,
        kind="diameter",
        axis="none",
        phase="final",
        state="green",
        typed="61/64",
        unit="in/64",
        value_mm=24.209375,
        target_mm=24.333333333333332,
        taken_at=at(number % 900),
        received_at=at(number % 900),
    )
    return replace(plain, **other)


def mark(number: int, set_id: int = 1, **other: Any) -> Mark:
    """A note on piece one, unless something else is said."""
    plain = Mark(
        key=key(number),
        set_id=set_id,
        spindle=1,
        what="note",
        step_id="",
        about="",
        text="a knot at the neck",
        taken_at=at(number % 900),
        received_at=at(number % 900),
    )
    return replace(plain, **other)


def begin(shop: Shop) -> int:
    """One pattern and one set of it; returns the set's id."""
    with shop.transaction() as db:
        pattern_id = patterns.add(db, SPINDLE, note="", at=MONDAY)
        return sets.add(db, pattern_id, 1, CHOICES, at=MONDAY)


def fill(shop: Shop) -> None:
    """Two patterns, one of them revised and one put away; three sets with all kinds of rows; two
    originals, one of them read; two tests of the calipers, one of them left half way."""
    shop.keep_setting("lathe_swing_mm", "350.0")
    shop.keep_setting("lathe_steps_rpm", "[450.0, 900.0]")
    shop.keep_setting("lathe_steady", '"string"')
    shop.keep_setting("cut_force_n", "12.5")
    shop.keep_setting("recheck_after_pieces", "4")
    shop.keep_setting("touch_up_after_m", '{"skew": 350.0, "parting": 900.0}')
    shop.keep_setting("edge_cutting_share", "0.4")
    shop.keep_setting("door_secret", "nobody may read this")
    first = begin(shop)
    with shop.transaction() as db:
        for name, hashed in (("Blue phone", "a" * 64), ("Tablet", "b" * 64)):
            db.execute(
                "INSERT INTO device (name, secret_hash, paired_at, last_seen_at)"
                " VALUES (?, ?, ?, ?)",
                [name, hashed, MONDAY, MONDAY],
            )
        wider = replace(
            SPINDLE, stations=(replace(SPINDLE.stations[0], name="foot"), *SPINDLE.stations[1:])
        )
        patterns.add_revision(db, 1, wider, at=at(30), reason="the first good piece")
        patterns.change(
            db, 1, step_order='["size:s3", "size:s1"]', speeds='{"sizing": "900"}', next_station=8
        )
        other = patterns.add(db, BALUSTER, note="from a master", at=at(1))
        patterns.change(db, other, archived_at=at(400))
        sets.add_spindles(db, first, 1, practice=True)
        second = sets.add(
            db, 1, 2, replace(CHOICES, name="Second bench", unit="mm", cuts="hard"), at=at(31)
        )
        sets.archive(db, second, at(500))
        sets.add(db, other, 1, replace(CHOICES, name="Balusters", habit="stage"), at=at(40))
        rows = [
            reading(1, device_id=1),
            reading(2, spindle=2, axis="A", device_id=2, typed="24,1", unit="mm", value_mm=24.1),
            reading(3, spindle=2, axis="B", state="dry", note="held loosely", value_mm=1 / 3),
            reading(4, supersedes=key(1), taken_at=at(0), device_id=1),
            reading(5, spindle=3, supersedes=key(4)),
            reading(6, kind="position", station_id="crown:s5", phase="sizing", revision=2),
            reading(7, set_id=second, revision=2),
        ]
        for row in rows:
            readings.add(db, row)
        marks = [
            mark(20, what="done", spindle=2, step_id="size:s3", device_id=2, taken_at=at(59)),
            mark(21, spindle=None, what="caliper_checked", about="A", text=""),
            mark(22, what="withdrawn", about=key(2), text="another piece", taken_at=at(3)),
            mark(7, set_id=second, text="Überlänge “¼″”, emoji 🪵"),
        ]
        for row in marks:
            readings.add_mark(db, row)
        tools.keep_caliper(db, tools.OwnedCaliper("A", "spring", 0.0, 75.0))
        tools.keep_caliper(db, tools.OwnedCaliper("G", "fixed", 12.7, 12.7, "½ in slot"))
        judging.pin(db, first, 2, 3)
        judging.pin(db, first, 4, None)
        judging.keep_as_made(db, first, AsMade("ash, riven", "16 mm, spoon", "oil ×3", "Ö\n½"))
        judging.add_mistake(db, first, Mistake(key(40), "a catch at the neck", "", at(70)))
        judging.add_mistake(db, second, Mistake(key(41), "C slipped", "a spot of wax", at(71)))
        for whole, pattern_id in ((ORIGINAL, other), (UNREAD, None)):
            exchange.add_original(db, whole, pattern_id)
        for test in (TEST, HALF_A_TEST):
            exchange.add_test(db, test)
