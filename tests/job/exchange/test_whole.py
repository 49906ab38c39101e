"""Sets and everything else out of one shop and into another, exactly."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchside.errors import KeyReused, NotFound
from benchside.job.exchange import export_all, export_set, from_json, import_into, to_json
from benchside.store import judging, originals, patterns, readings, sets, tools
from benchside.store.database import Shop
from tests.full_bench import CHOICES, SPINDLE, at, begin, fill, key, mark, reading
from tests.shopfloor import open_shop

NOW = "2026-03-09T12:00:00.000Z"


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Shop]:
    with closing(open_shop(tmp_path, "other.db")) as opened:
        yield opened


def bare(document: dict[str, Any]) -> dict[str, Any]:
    return {n: v for n, v in document.items() if n not in ("exported_at", "database_id")}


def over(document: dict[str, Any]) -> Any:
    """The document as it comes out of a file."""
    return from_json(to_json(document))


def contents(shop: Shop) -> list[str]:
    return list(shop.db.conn.iterdump())


def test_everything_goes_round_exactly(shop: Shop, other: Shop) -> None:
    fill(shop)
    out = export_all(shop, now=NOW)
    brought = import_into(other, over(out), now=NOW)
    assert (brought.sets, brought.patterns, brought.readings) == (3, 2, 7)
    assert brought.already_here == ()
    assert bare(export_all(other, now=at(9))) == bare(out)
    for set_id in (1, 2, 3):
        assert readings.standing(other, set_id) == [
            replace(row, device_id=row.device_id) for row in readings.standing(shop, set_id)
        ]
        assert sets.found(other, set_id) == sets.found(shop, set_id)
        assert sets.spindles(other, set_id) == sets.spindles(shop, set_id)
    assert patterns.found(other, 1, 1).pattern == SPINDLE


def test_what_a_set_is_judged_by_besides_its_readings_goes_round_too(
    shop: Shop, other: Shop
) -> None:
    fill(shop)
    out = export_all(shop, now=NOW)
    assert out["sets"][0]["pinned"] == [{"spindle": 2, "place": 3}, {"spindle": 4, "place": None}]
    assert out["sets"][0]["mistakes"][0]["what"] == "a catch at the neck"
    assert [original["pattern"] for original in out["originals"]] == [1, None]
    assert [len(test["readings"]) for test in out["repeat_tests"]] == [10, 1]
    import_into(other, over(out), now=NOW)
    for set_id in (1, 2, 3):
        assert judging.pins(other, set_id) == judging.pins(shop, set_id)
        assert judging.as_made(other, set_id) == judging.as_made(shop, set_id)
        assert judging.mistakes(other, set_id) == judging.mistakes(shop, set_id)
    assert judging.as_made(other, 1).note == "Ö\n½"
    assert originals.listed(other) == originals.listed(shop)
    for original_id in (1, 2):
        assert originals.stations(other, original_id) == originals.stations(shop, original_id)
        read = originals.every_reading(other, original_id)
        assert read == originals.every_reading(shop, original_id)
    for kept in judging.repeat_tests(shop):
        assert judging.repeat_test(other, kept.id) == kept
        assert judging.every_repeat(other, kept.id) == judging.every_repeat(shop, kept.id)


def test_an_export_of_one_set_takes_the_original_its_pattern_was_made_from(
    shop: Shop, other: Shop
) -> None:
    fill(shop)
    assert export_set(shop, 1, now=NOW)["originals"] == []
    out = export_set(shop, 3, now=NOW)
    assert [original["name"] for original in out["originals"]] == ["The old “baluster”"]
    assert "repeat_tests" not in out
    import_into(other, over(out), now=NOW)
    assert bare(export_set(other, 1, now=NOW)) == bare(out)


def test_an_original_of_which_only_some_readings_are_here_is_refused_and_named(
    shop: Shop, other: Shop
) -> None:
    fill(shop)
    out = export_all(shop, now=NOW)
    import_into(other, over(out), now=NOW)
    out["originals"][0]["readings"][0]["value_mm"] = 41.0
    before = contents(other)
    with pytest.raises(KeyReused, match="the original “The old “baluster”” are here already"):
        import_into(other, over(out), now=NOW)
    assert contents(other) == before


def test_a_mistake_noted_later_does_not_get_lost_unsaid(shop: Shop, other: Shop) -> None:
    fill(shop)
    import_into(other, over(export_all(shop, now=NOW)), now=NOW)
    with shop.transaction() as db:
        judging.add_mistake(db, 1, judging.Mistake(key(99), "a second catch", "", at(80)))
    with pytest.raises(KeyReused, match="set “Hall bench”"):
        import_into(other, over(export_all(shop, now=NOW)), now=NOW)


def test_the_export_holds_what_the_bench_holds(shop: Shop) -> None:
    fill(shop)
    out = export_all(shop, now=NOW)
    assert out["benchside"] == 2
    assert out["exported_at"] == NOW
    assert out["database_id"] == shop.database_id
    assert [pattern["name"] for pattern in out["patterns"]] == [
        "Hall bench spindle",
        "Maple “baluster” — ½ size, Größe 2",
    ]
    assert [len(pattern["revisions"]) for pattern in out["patterns"]] == [2, 1]
    assert out["patterns"][0]["revisions"][0]["stations"][2] == {
        "id": "s3",
        "at_mm": 180.5,
        "diameter_mm": 24.333333333333332,
        "name": "swell",
        "kind": "slender",
        "tolerance_mm": None,
        "position_tolerance_mm": 0.75,
    }
    assert [s["pattern"] for s in out["sets"]] == [0, 0, 1]
    hall = out["sets"][0]
    assert [r["key"] for r in hall["readings"]] == [key(n) for n in (1, 2, 3, 4, 5, 6)]
    assert [r["device"] for r in hall["readings"]] == [
        "Blue phone",
        "Tablet",
        None,
        "Blue phone",
        None,
        None,
    ]
    assert [m["key"] for m in hall["marks"]] == [key(n) for n in (20, 21, 22)]
    assert [s["practice"] for s in hall["spindles"]] == [False] * 5 + [True]


def test_no_secret_leaves_the_bench(shop: Shop) -> None:
    fill(shop)
    text = to_json(export_all(shop, now=NOW)) + to_json(export_set(shop, 1, now=NOW))
    assert "a" * 64 not in text
    assert "nobody may read this" not in text
    assert "Blue phone" in text


def test_a_phone_that_comes_in_as_a_name_cannot_come_in_at_the_door(
    shop: Shop, other: Shop
) -> None:
    fill(shop)
    import_into(other, over(export_all(shop, now=NOW)), now=NOW)
    devices = other.rows("SELECT * FROM device")
    assert sorted(row["name"] for row in devices) == ["Blue phone", "Tablet"]
    assert all(row["shut_out_at"] == NOW for row in devices)


def test_one_set_goes_round_exactly_with_its_pattern_and_every_revision(
    shop: Shop, other: Shop
) -> None:
    fill(shop)
    with other.transaction() as db:  # so that the ids there are others
        patterns.add(db, replace(SPINDLE, name="Another"), note="", at=at(99))
    out = export_set(shop, 2, now=NOW)
    brought = import_into(other, over(out), now=NOW)
    (set_id,) = brought.set_ids
    assert sets.found(other, set_id).pattern_id == 2
    assert bare(export_set(other, set_id, now=NOW)) == bare(out)


def test_an_unknown_set_is_not_exported(shop: Shop) -> None:
    with pytest.raises(NotFound):
        export_set(shop, 99, now=NOW)


def test_what_is_here_already_does_not_come_in_twice_and_is_named(shop: Shop) -> None:
    fill(shop)
    before = contents(shop)
    brought = import_into(shop, over(export_all(shop, now=NOW)), now=NOW)
    assert (brought.sets, brought.patterns, brought.readings) == (0, 0, 0)
    assert brought.already_here == ("Hall bench", "Second bench", "Balusters")
    assert contents(shop) == before


def test_an_older_export_of_a_set_that_has_gone_on_since_changes_nothing(shop: Shop) -> None:
    fill(shop)
    old = over(export_set(shop, 1, now=NOW))
    with shop.transaction() as db:
        readings.add(db, reading(500))
        sets.change(db, 1, replace(CHOICES, name="Hall bench, east wall"))
    before = contents(shop)
    assert import_into(shop, old, now=NOW).already_here == ("Hall bench",)
    assert contents(shop) == before


def test_a_set_of_which_only_some_readings_are_here_is_refused_and_named(
    shop: Shop, other: Shop
) -> None:
    fill(shop)
    import_into(other, over(export_all(shop, now=NOW)), now=NOW)
    with shop.transaction() as db:
        readings.add(db, reading(500))
    with other.transaction() as db:
        sets.change(db, 1, replace(CHOICES, name="Hall bench, east wall"))
    before = contents(other)
    with pytest.raises(
        KeyReused,
        match="set “Hall bench” are here already, in the set “Hall bench, east wall”",
    ):
        import_into(other, over(export_all(shop, now=NOW)), now=NOW)
    assert contents(other) == before


def test_a_reading_with_another_figure_under_a_known_key_is_refused(shop: Shop) -> None:
    fill(shop)
    out = export_set(shop, 1, now=NOW)
    out["sets"][0]["readings"][0]["value_mm"] = 99.0
    before = contents(shop)
    with pytest.raises(KeyReused):
        import_into(shop, over(out), now=NOW)
    assert contents(shop) == before


def test_two_sets_of_one_pattern_brought_one_by_one_share_it_again(shop: Shop, other: Shop) -> None:
    fill(shop)
    import_into(other, over(export_set(shop, 1, now=NOW)), now=NOW)
    brought = import_into(other, over(export_set(shop, 2, now=NOW)), now=NOW)
    assert (brought.sets, brought.patterns) == (1, 0)
    assert {sets.found(other, n).pattern_id for n in (1, 2)} == {1}


def test_later_revisions_of_a_pattern_are_added_to_it_and_no_station_id_is_given_twice(
    shop: Shop, other: Shop
) -> None:
    begin(shop)
    import_into(other, over(export_all(shop, now=NOW)), now=NOW)
    with shop.transaction() as db:
        patterns.add_revision(
            db, 1, replace(SPINDLE, datum_end="tail"), at=at(5), reason="turned about"
        )
        patterns.change(db, 1, next_station=12)
        sets.add(db, 1, 2, replace(CHOICES, name="The next"), at=at(6))
    brought = import_into(other, over(export_all(shop, now=NOW)), now=NOW)
    assert (brought.sets, brought.patterns) == (1, 0)
    assert brought.already_here == ("Hall bench",)
    assert bare(export_all(other, now=NOW)) == bare(export_all(shop, now=NOW))


def test_a_pattern_revised_differently_on_two_benches_stays_two(shop: Shop, other: Shop) -> None:
    begin(shop)
    import_into(other, over(export_all(shop, now=NOW)), now=NOW)
    for bench, reason in ((shop, "thinner"), (other, "thicker")):
        with bench.transaction() as db:
            patterns.add_revision(db, 1, SPINDLE, at=at(5), reason=reason)
    assert import_into(other, over(export_all(shop, now=NOW)), now=NOW).patterns == 1
    assert len(patterns.listed(other)) == 2


def test_two_sets_made_in_the_same_moment_are_still_two(shop: Shop, other: Shop) -> None:
    begin(shop)
    with shop.transaction() as db:
        sets.add(db, 1, 1, CHOICES, at=sets.found(shop, 1).made_at)
    out = export_all(shop, now=NOW)
    assert import_into(other, over(out), now=NOW).sets == 2
    assert import_into(other, over(out), now=NOW).sets == 0
    assert bare(export_all(other, now=NOW)) == bare(out)


def test_the_shops_own_lathe_stays_as_it_is(shop: Shop, other: Shop) -> None:
    fill(shop)
    other.keep_setting("lathe_swing_mm", "250.0")
    import_into(other, over(export_all(shop, now=NOW)), now=NOW)
    assert other.setting("lathe_swing_mm") == "250.0"
    assert other.setting("lathe_steps_rpm") is None  # of another lathe
    assert other.setting("cut_force_n") == "12.5"


def test_the_shops_own_calipers_stay_as_they_are(shop: Shop, other: Shop) -> None:
    fill(shop)
    with other.transaction() as db:
        tools.keep_caliper(db, tools.OwnedCaliper("B", "firm", 0.0, 60.0))
    import_into(other, over(export_all(shop, now=NOW)), now=NOW)
    assert [caliper.letter for caliper in tools.calipers(other)] == ["B"]


def test_a_file_of_version_1_is_read_as_it_always_was(shop: Shop, other: Shop) -> None:
    fill(shop)
    out = export_all(shop, now=NOW)
    assert out["benchside"] == 2
    first = {"lathe_swing_mm": 350.0}
    old = out | {
        "benchside": 1,
        "settings": first,
        "sets": [{name: one[name] for name in one if name != "cuts"} for one in out["sets"]],
    }
    del old["calipers"]
    assert import_into(other, over(old), now=NOW).sets == 3
    again = export_all(other, now=NOW)
    assert again["settings"] == first
    assert {one["cuts"] for one in again["sets"]} == {"ordinary"}
    assert [one["readings"] for one in again["sets"]] == [one["readings"] for one in out["sets"]]


number = st.floats(0, 999_000, allow_subnormal=False) | st.integers(0, 999_000)
texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)


@settings(
    max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    st.lists(st.tuples(number, number, texts, st.sampled_from(["none", "A", "B"])), max_size=6),
    st.lists(st.tuples(st.text("0123456789abcdef", min_size=1, max_size=8), texts), max_size=4),
    texts.filter(bool),
)
def test_whatever_was_read_and_noted_goes_round_exactly(
    tmp_path_factory: pytest.TempPathFactory,
    measured: list[tuple[float, float, str, str]],
    noted: list[tuple[str, str]],
    name: str,
) -> None:
    folder = tmp_path_factory.mktemp("round")
    with closing(open_shop(folder, "a.db")) as shop, closing(open_shop(folder, "b.db")) as other:
        set_id = begin(shop)
        with shop.transaction() as db:
            sets.change(db, set_id, replace(CHOICES, name=name))
            for n, (value, target, typed, axis) in enumerate(measured):
                row = reading(n, value_mm=value, target_mm=target, typed=typed, axis=axis)
                readings.add(db, row)
            for n, (about, text) in enumerate(noted):
                readings.add_mark(db, mark(n, about=about, text=text))
        out = export_all(shop, now=NOW)
        import_into(other, over(out), now=NOW)
        assert bare(export_all(other, now=NOW)) == bare(out)
        assert readings.every(other, set_id) == readings.every(shop, set_id)
