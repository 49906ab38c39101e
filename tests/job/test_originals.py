"""A part to match: measured, made a pattern of, turned, and looked at beside the new one."""

from __future__ import annotations

import random
from dataclasses import replace
from math import sqrt
from typing import Any

import pytest

from benchside.consistency.original import Matched
from benchside.errors import NotFound, NotUnderstood, PatternBroken
from benchside.job import originals, sets
from benchside.job.original_table import Row, Told
from benchside.store import patterns, readings
from benchside.store.database import Shop
from benchside.store.originals import of_pattern
from tests.shopfloor import choices, mark, moment, reading

AT = "2026-03-09T12:00:00.000Z"
FOOT, RING, BELLY, TOP = "s1", "s2", "s3", "s4"
CROWN = "crown:s2"
LEG = Told(
    name="Old leg",
    note="from the attic",
    unit="mm",
    datum_end="tail",
    pieces="3",
    rows=(
        Row(at="0", name="Foot", kind="tenon", form="shoulder"),
        Row(at="30", name="Ring", form="bead"),
        Row(),
        Row(at="45", name="Belly", form="taper"),
        Row(at="300", name="Top"),
    ),
)
TRUE = {FOOT: 16.0, RING: 24.0, CROWN: 32.0, BELLY: 24.0, TOP: 18.0}


@pytest.fixture
def leg(shop: Shop) -> int:
    return originals.begin(shop, LEG, at=AT)


def key(number: int) -> str:
    return f"{number:032x}"


def read(
    shop: Shop,
    original_id: int,
    piece: int,
    *,
    axes: str = "AB",
    off: dict[tuple[str, str], float] | None = None,
) -> None:
    cells = {
        (place, axis): f"{mm + (off or {}).get((place, axis), 0.0):.2f}"
        for place, mm in TRUE.items()
        for axis in axes
    }
    page = random.Random(f"{piece} {axes} {off}").getrandbits(128)
    originals.take(shop, original_id, piece, cells, key=f"{page:032x}", sure=True, at=AT)


def line(shop: Shop, original_id: int, place: str) -> originals.Line:
    return next(x for x in originals.seen(shop, original_id).lines if x.spot.id == place)


def size(shop: Shop, original_id: int, place: str) -> Matched:
    found = line(shop, original_id, place).size
    assert found is not None
    return found


# ------------------------------------------------------------------ where to measure


def test_stations_are_set_in_order_and_a_bead_brings_its_crown(shop: Shop) -> None:
    rows = (LEG.rows[4], LEG.rows[0], LEG.rows[3], LEG.rows[1])
    seen = originals.seen(shop, originals.begin(shop, replace(LEG, rows=rows), at=AT))
    assert [spot.name for spot in (x.spot for x in seen.lines)] == [
        "Foot",
        "Ring",
        "Ring",
        "Belly",
        "Top",
    ]
    assert [x.spot.role for x in seen.lines].count("crown") == 1
    assert seen.pattern is None
    assert len(seen.problems) == 4


@pytest.mark.parametrize(
    ("changed", "row", "field"),
    [
        ({"name": " "}, 0, "name"),
        ({"pieces": "0"}, 0, "pieces"),
        ({"pieces": "a few"}, 0, "pieces"),
        ({"pieces": "²"}, 0, "pieces"),
        ({"rows": LEG.rows[:1]}, 0, "stations"),
        ({"rows": (Row(at="5", name="a"), Row(at="9", name="b"))}, 1, "at"),
        ({"rows": (Row(at="0", name="a"), Row(at="9"), Row(at="9"))}, 3, "at"),
        ({"rows": (Row(at="0"), Row(at="nine"))}, 2, "at"),
        ({"rows": (Row(at="0"), Row(name="somewhere"))}, 2, "at"),
        ({"note": "x" * 2001}, 0, "note"),
    ],
)
def test_what_is_wrong_with_the_table_is_said_with_its_row(
    shop: Shop, changed: dict[str, Any], row: int, field: str
) -> None:
    with pytest.raises(PatternBroken) as trouble:
        originals.begin(shop, replace(LEG, **changed), at=AT)
    assert (trouble.value.problems[0].row, trouble.value.problems[0].field) == (row, field)
    assert originals.listed(shop) == ()


def test_a_station_set_between_keeps_what_was_read_at_the_others(shop: Shop, leg: int) -> None:
    read(shop, leg, 1)
    told = originals.as_told(shop, leg)
    originals.change(shop, leg, replace(told, rows=(*told.rows, Row(at="150", name="Waist"))))
    seen = originals.seen(shop, leg)
    assert [s.id for s in seen.stations] == [FOOT, RING, BELLY, "s5", TOP]
    assert [spot.name for spot in seen.unread] == ["Waist"]
    assert line(shop, leg, TOP).size is not None


def test_a_piece_that_was_read_cannot_be_done_without(shop: Shop, leg: int) -> None:
    read(shop, leg, 3)
    with pytest.raises(PatternBroken, match="Piece 3 has been read"):
        originals.change(shop, leg, replace(originals.as_told(shop, leg), pieces="2"))


# ------------------------------------------------------------------ what was read


def test_a_round_read_twice_is_known_by_the_error_of_two_readings(shop: Shop, leg: int) -> None:
    read(shop, leg, 1)
    size = line(shop, leg, TOP).size
    assert size is not None
    assert size.size_mm == pytest.approx(18.0)
    # Untested, the hand reads no better than a step of 0.1 mm lets it: 1.96 x 0.1 / sqrt(12 x 2).
    assert size.uncertain_mm == pytest.approx(1.959964 * 0.1 / sqrt(24), rel=1e-5)
    assert not line(shop, leg, TOP).one_way


def test_an_oval_is_told_and_its_middle_is_taken(shop: Shop, leg: int) -> None:
    read(shop, leg, 1, off={(TOP, "A"): 0.4, (TOP, "B"): -0.4})
    found = line(shop, leg, TOP)
    assert found.oval
    assert found.size is not None
    assert found.size.size_mm == pytest.approx(18.0)
    assert found.size.oval_mm == pytest.approx(0.8)
    assert not line(shop, leg, BELLY).oval


def test_read_in_one_direction_only_an_oval_would_hide(shop: Shop, leg: int) -> None:
    read(shop, leg, 1, axes="A")
    assert line(shop, leg, TOP).one_way


def test_one_slip_among_three_readings_of_a_place_does_not_count(shop: Shop, leg: int) -> None:
    for slip in (0.0, 0.02, 2.5):
        read(shop, leg, 1, off={(TOP, "A"): slip})
    size = line(shop, leg, TOP).size
    assert size is not None
    assert size.size_mm == pytest.approx(18.01)


def test_a_worn_one_of_three_does_not_pull_and_is_told(shop: Shop, leg: int) -> None:
    for piece, worn in ((1, 0.0), (2, -1.5), (3, 0.02)):
        read(shop, leg, piece, off={(BELLY, "A"): worn, (BELLY, "B"): worn})
    found = line(shop, leg, BELLY)
    assert found.size is not None
    assert found.size.size_mm == pytest.approx(24.0)
    assert found.apart
    assert not line(shop, leg, TOP).apart
    assert found.size.uncertain_mm > size(shop, leg, TOP).uncertain_mm


def test_a_reading_struck_out_stays_and_counts_no_more(shop: Shop, leg: int) -> None:
    read(shop, leg, 1, off={(TOP, "B"): -1.0})
    seen = originals.seen(shop, leg)
    slip = next(r for r in seen.readings if (r.place_id, r.axis) == (TOP, "B"))
    originals.strike(shop, leg, slip.key, AT)
    assert size(shop, leg, TOP).size_mm == pytest.approx(18.0)
    assert slip.key in {r.key for r in originals.seen(shop, leg).readings}
    originals.strike(shop, leg, slip.key, None)
    assert size(shop, leg, TOP).size_mm == pytest.approx(17.5)
    with pytest.raises(NotFound):
        originals.strike(shop, leg, key(404), AT)


def test_a_page_sent_twice_is_kept_once(shop: Shop, leg: int) -> None:
    for _ in range(2):
        cells = {(TOP, "A"): "18.1", (TOP, "B"): ""}
        originals.take(shop, leg, 1, cells, key=key(7), sure=False, at=AT)
    assert len(originals.seen(shop, leg).readings) == 1


def test_a_page_with_one_figure_that_cannot_be_is_kept_not_at_all(shop: Shop, leg: int) -> None:
    read(shop, leg, 1)
    cells = {(TOP, "A"): "18.1", (TOP, "B"): "1.81", (BELLY, "A"): "thick", (FOOT, "A"): "0"}
    with pytest.raises(originals.CellsWrong) as trouble:
        originals.take(shop, leg, 1, cells, key=key(8), sure=False, at=AT)
    assert set(trouble.value.problems) == {(TOP, "B"), (BELLY, "A"), (FOOT, "A")}
    assert len(originals.seen(shop, leg).readings) == 10
    with pytest.raises(NotFound):
        originals.take(shop, leg, 4, cells, key=key(8), sure=False, at=AT)
    with pytest.raises(NotUnderstood):
        originals.take(shop, leg, 1, cells, key="short", sure=False, at=AT)


# ------------------------------------------------------------------ the pattern and the new part


def test_it_gives_a_pattern_whose_stations_are_those_that_were_read(shop: Shop, leg: int) -> None:
    read(shop, leg, 1)
    pattern_id = originals.make_pattern(shop, leg, at=AT)
    record = patterns.found(shop, pattern_id)
    assert record.pattern.name == "Old leg"
    assert [s.id for s in record.pattern.stations] == [FOOT, RING, BELLY, TOP]
    assert [s.diameter_mm for s in record.pattern.stations] == [16.0, 24.0, 24.0, 18.0]
    assert record.pattern.sections[1].through_mm == 32.0
    assert record.next_station == 5
    assert [kept.id for kept in of_pattern(shop, pattern_id)] == [leg]
    assert not originals.seen(shop, leg).behind


def test_without_a_station_there_is_no_pattern_and_it_is_named(shop: Shop, leg: int) -> None:
    cells = {(place, "A"): f"{mm}" for place, mm in TRUE.items() if place != BELLY}
    originals.take(shop, leg, 1, cells, key=key(1), sure=False, at=AT)
    with pytest.raises(PatternBroken, match="Belly has not been read"):
        originals.make_pattern(shop, leg, at=AT)


def test_a_crown_that_was_not_read_is_the_thicker_end(shop: Shop, leg: int) -> None:
    sizes = {**TRUE, BELLY: 28.0}
    cells = {(place, "A"): f"{mm}" for place, mm in sizes.items() if place != CROWN}
    originals.take(shop, leg, 1, cells, key=key(1), sure=False, at=AT)
    found = originals.seen(shop, leg).pattern
    assert found is not None
    assert found.sections[1].through_mm == 28.0


def test_measured_once_more_it_becomes_the_newest_revision(shop: Shop, leg: int) -> None:
    read(shop, leg, 1)
    pattern_id = originals.make_pattern(shop, leg, at=AT)
    read(shop, leg, 2, off={(TOP, "A"): 1.0, (TOP, "B"): 1.0})
    assert originals.seen(shop, leg).behind
    assert originals.make_pattern(shop, leg, at=AT) == pattern_id
    record = patterns.found(shop, pattern_id)
    assert record.revision == 2
    assert record.pattern.stations[-1].diameter_mm == pytest.approx(18.5)
    assert originals.make_pattern(shop, leg, at=AT) == pattern_id
    assert patterns.found(shop, pattern_id).revision == 2


def test_how_near_the_new_one_came_is_said_with_its_uncertainty(shop: Shop, leg: int) -> None:
    read(shop, leg, 1)
    pattern_id = originals.make_pattern(shop, leg, at=AT)
    kept = sets.start(shop, pattern_id, choices(wanted=1, spares=0), at=AT)
    new = {FOOT: 16.02, RING: 24.3, CROWN: 35.0, BELLY: 24.0}
    rng = random.Random(3)
    with shop.transaction() as db:
        for minute, (place, mm) in enumerate(new.items()):
            readings.add(db, reading(rng, kept, 1, place, mm, moment(minute)))
        readings.add_mark(db, mark(rng, kept, 1, "done", moment(9)))
    (came,) = originals.seen(shop, leg).came
    near = {spot.id: nearness for spot, _, nearness in came.lines}
    assert near[CROWN].near == "off"
    assert near[CROWN].off_mm == pytest.approx(3.0)
    assert near[BELLY].near == "as near as can be seen"
    assert near[RING].near == "within"
    assert near[TOP].near == "not read"
    assert came.count("off") == 1
    # Both errors, added as squares: one reading of the new, two of the old, 0.1 mm steps.
    assert near[BELLY].uncertain_mm == pytest.approx(
        1.959964 * 0.1 / sqrt(12) * sqrt(1.5), rel=1e-5
    )


def test_the_stations_of_a_pattern_can_be_begun_with(shop: Shop, leg: int) -> None:
    read(shop, leg, 1)
    told = originals.told_of_pattern(shop, originals.make_pattern(shop, leg, at=AT))
    assert [(row.at, row.name, row.form) for row in told.rows] == [
        ("0", "Foot", "shoulder"),
        ("30", "Ring", "bead"),
        ("45", "Belly", "taper"),
        ("300", "Top", "straight"),
    ]
    assert len(originals.seen(shop, originals.begin(shop, told, at=AT)).stations) == 4


def test_positions_in_64ths_are_shown_as_they_were_typed(shop: Shop) -> None:
    rows = (Row(at="0"), Row(at="3 5/64"), Row(at="100 mm"))
    leg = originals.begin(shop, replace(LEG, unit="in/64", rows=rows), at=AT)
    told = originals.as_told(shop, leg)
    assert [row.at for row in told.rows] == ["0", "3 5/64", "100 mm"]
    originals.change(shop, leg, told)
    assert originals.as_told(shop, leg) == told
