"""What a hostile, truncated or careless file is answered with."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchside.errors import NotUnderstood
from benchside.job.exchange import export_all, from_json, import_into, to_json
from benchside.job.exchange.document import MOST_BYTES
from benchside.store.database import Shop
from tests.full_bench import fill, key
from tests.shopfloor import open_shop

NOW = "2026-03-09T12:00:00.000Z"


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    with closing(open_shop(tmp_path_factory.mktemp("good"))) as shop:
        fill(shop)
        return export_all(shop, now=NOW)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no whole JSON"),
        ("   ", "no whole JSON"),
        ("Station,Diameter\n0,15.9\n", "no whole JSON"),
        ("[]", "no export of benchside"),
        ("{}", "no export of benchside"),
        ("null", "no export of benchside"),
        ("7", "no export of benchside"),
        ('"benchside"', "no export of benchside"),
        ('{"benchside": 9}', "newer benchside"),
        ('{"benchside": "1"}', "exported_at: this is missing"),
        ('{"benchside": 1}', "exported_at: this is missing"),
        ('{"benchside": NaN}', "NaN is no number"),
        ('{"benchside": -Infinity}', "-Infinity is no number"),
        ('{"benchside": 1e999}', "1e999 is too large"),
        ('{"benchside": 1' + "0" * 400 + "}", "too many digits"),
        ('{"benchside": 0.' + "1" * 100_000 + "}", "too many digits"),
        ('{"benchside": 1, "benchside": 1}', '"benchside" stands twice'),
        ("[" * 100_000, "nested too deeply"),
        ('{"a":' * 100_000, "nested too deeply"),
        (b"\xff\xfe{", "no text: byte 0"),
        (b"SQLite format 3\x00\x10\xfb", "no text"),
    ],
)
def test_a_file_that_is_no_export_is_told_what_is_wrong(text: str | bytes, said: str) -> None:
    with pytest.raises(NotUnderstood) as trouble:
        from_json(text)
    assert said in trouble.value.message
    assert len(trouble.value.message) < 300


def test_a_file_too_large_to_look_at_is_refused_unread() -> None:
    with pytest.raises(NotUnderstood, match="larger than 64 MB"):
        from_json(b" " * (MOST_BYTES + 1))


def test_a_mark_at_the_beginning_of_a_file_that_some_editors_leave_does_no_harm(
    good: dict[str, Any],
) -> None:
    assert from_json(b"\xef\xbb\xbf" + to_json(good).encode()) == from_json(to_json(good))
    assert from_json("\ufeff" + to_json(good)) == from_json(to_json(good))


def test_an_export_cut_off_anywhere_is_refused(good: dict[str, Any]) -> None:
    text = to_json(good).rstrip()
    for length in range(0, len(text), 499):
        with pytest.raises(NotUnderstood):
            from_json(text[:length])


Change = Callable[[dict[str, Any]], object]


def put(*place: str | int, value: object) -> Change:
    def change(document: Any) -> None:
        for step in place[:-1]:
            document = document[step]
        document[place[-1]] = value

    return change


def drop(*place: str | int) -> Change:
    def change(document: Any) -> None:
        for step in place[:-1]:
            document = document[step]
        del document[place[-1]]

    return change


READING = ("sets", 0, "readings", 3)
STATION = ("patterns", 0, "revisions", 1, "stations", 2)


@pytest.mark.parametrize(
    ("change", "where", "said"),
    [
        (put(*READING, "value_mm", value="24.1"), "sets[0].readings[3].value_mm", "a number"),
        (put(*READING, "value_mm", value=True), "sets[0].readings[3].value_mm", "a number"),
        (put(*READING, "value_mm", value=None), "sets[0].readings[3].value_mm", "a number"),
        (put(*READING, "value_mm", value=-1), "sets[0].readings[3].value_mm", "between 0"),
        (put(*READING, "value_mm", value=1e9), "sets[0].readings[3].value_mm", "between 0"),
        (put(*READING, "value_mm", value=[1]), "sets[0].readings[3].value_mm", "a list"),
        (drop(*READING, "axis"), "sets[0].readings[3].axis", "missing"),
        (put(*READING, "axis", value="C"), "sets[0].readings[3].axis", "one of none, A, B"),
        (put(*READING, "key", value="x"), "sets[0].readings[3].key", "32 of the digits"),
        (put(*READING, "key", value=key(1)), "sets[0].readings[3].key", "stood before"),
        (put(*READING, "supersedes", value=key(6)), "sets[0].readings[3].supersedes", "before it"),
        (put(*READING, "supersedes", value=key(4)), "sets[0].readings[3].supersedes", "before it"),
        (put(*READING, "spindle", value=9), "sets[0].readings[3].spindle", "no spindle 9"),
        (put(*READING, "spindle", value=1.5), "sets[0].readings[3].spindle", "whole number"),
        (put(*READING, "revision", value=3), "sets[0].readings[3].revision", "between 1 and 2"),
        (put(*READING, "unit", value="cm"), "sets[0].readings[3].unit", "one of mm"),
        (put(*READING, "note", value="\ud800"), "sets[0].readings[3].note", "no character"),
        (put(*READING, "note", value="x" * 20_001), "sets[0].readings[3].note", "at most"),
        (put(*READING, "taken_at", value="yesterday"), "sets[0].readings[3].taken_at", "a moment"),
        (
            put(*READING, "taken_at", value="2026-02-30T08:00:00Z"),
            "sets[0].readings[3].taken_at",
            "a moment",
        ),
        (
            put(*READING, "taken_at", value="2026-03-02T08:00:00+02:00"),
            "sets[0].readings[3].taken_at",
            "a moment",
        ),
        (put(*READING, "device", value=3), "sets[0].readings[3].device", "a text"),
        (put(*READING, "device", value=""), "sets[0].readings[3].device", "empty"),
        (put(*READING, "colour", value="red"), "sets[0].readings[3]", 'called "colour"'),
        (put(*READING, value=7), "sets[0].readings[3]", "an object"),
        (put("sets", 0, "readings", value={}), "sets[0].readings", "a list"),
        (put("sets", 0, "marks", 0, "what", value="sung"), "sets[0].marks[0].what", "one of step"),
        (put("sets", 0, "marks", 1, "key", value=key(20)), "sets[0].marks[1].key", "stood before"),
        (put("sets", 1, "readings", 0, "key", value=key(1)), "sets[1].readings[0].key", "stood"),
        (put("sets", 0, "pattern", value=2), "sets[0].pattern", "between 0 and 1"),
        (put("sets", 0, "pattern", value=-1), "sets[0].pattern", "between 0 and 1"),
        (put("sets", 0, "revision", value=3), "sets[0].revision", "between 1 and 2"),
        (put("sets", 0, "wanted", value=401), "sets[0].wanted", "between 1 and 400"),
        (put("sets", 0, "wanted", value=10**30), "sets[0].wanted", "between 1 and 400"),
        (put("sets", 0, "name", value=""), "sets[0].name", "empty"),
        (put("sets", 0, "tolerances", "tenon_mm", value=0), "sets[0].tolerances.tenon_mm", "lie"),
        (put("sets", 0, "spindles", 1, "number", value=1), "sets[0].spindles", "same number"),
        (put("sets", 0, "spindles", 1, "practice", value=1), "sets[0].spindles[1].practice", "tr"),
        (put("patterns", value=[]), "sets[0].pattern", "no pattern"),
        (put("patterns", 0, "revisions", value=[]), "patterns[0].revisions", "at least one"),
        (
            put("patterns", 0, "revisions", 1, "revision", value=5),
            "patterns[0].revisions[1].revision",
            "between 2 and 2",
        ),
        (put(*STATION, "at_mm", value=5), "patterns[0].revisions[1]", "Row 3"),
        (put(*STATION, "diameter_mm", value=1), "patterns[0].revisions[1]", "Row 3"),
        (put(*STATION, "kind", value="leg"), "patterns[0].revisions[1].stations[2].kind", "one"),
        (put(*STATION, "id", value="s2"), "patterns[0].revisions[1]", "Row"),
        (
            put("patterns", 0, "revisions", 0, "sections", 4, "through_mm", value=None),
            "patterns[0].revisions[0]",
            "crown",
        ),
        (
            put("patterns", 0, "revisions", 0, "stations", value=[]),
            "patterns[0].revisions[0]",
            "two stations",
        ),
        (put("patterns", 0, "speeds", "sizing", value=900), "patterns[0].speeds.sizing", "a text"),
        (put("patterns", 0, "step_order", 0, value=""), "patterns[0].step_order[0]", "empty"),
        (put("patterns", 0, "next_station", value=0), "patterns[0].next_station", "between 1"),
        (put("patterns", 0, "made_at", value=None), "patterns[0].made_at", "a text"),
        (put("settings", "door_secret", value="x"), "settings", 'called "door_secret"'),
        (put("settings", "lathe_swing_mm", value=0), "settings.lathe_swing_mm", "between"),
        (put("settings", "lathe_steady", value="glue"), "settings.lathe_steady", "one of none"),
        (put("settings", "lathe_steps_rpm", value=[900, 2]), "settings.lathe_steps_rpm[1]", "betw"),
        (put("settings", "lathe_steps_rpm", value=[900, 450]), "settings.lathe_steps_rpm", "turn"),
        (
            put("settings", "touch_up_after_m", "chisel", value=3),
            "settings.touch_up_after_m",
            "chis",
        ),
        (put("settings", "edge_cutting_share", value=2), "settings.edge_cutting_share", "between"),
        (
            put("settings", "recheck_after_pieces", value=1.5),
            "settings.recheck_after_pieces",
            "whole",
        ),
        (put("calipers", 1, "letter", value="A"), "calipers[1].letter", "has this letter"),
        (put("calipers", 1, "letter", value="é"), "calipers[1].letter", "one letter"),
        (put("calipers", 1, "least_mm", value=3), "calipers[1].most_mm", "one size"),
        (put("sets", 1, "cuts", value="soft"), "sets[1].cuts", "one of ordinary"),
        (put("settings", "lathe_least_rpm", value=300), "settings.lathe_steps_rpm", "not both"),
        (put("\ud800" * 99, value=1), "file", "nothing here is called"),
        (drop("sets", 0, "pinned"), "sets[0].pinned", "missing"),
        (put("sets", 0, "pinned", 0, "spindle", value=9), "sets[0].pinned[0].spindle", "no spin"),
        (put("sets", 0, "pinned", 1, "place", value=3), "sets[0].pinned", "twice"),
        (put("sets", 0, "pinned", 1, "spindle", value=2), "sets[0].pinned", "twice"),
        (put("sets", 0, "as_made", "wood", value=3), "sets[0].as_made.wood", "a text"),
        (put("sets", 0, "mistakes", 0, "what", value=""), "sets[0].mistakes[0].what", "empty"),
        (put("sets", 1, "mistakes", 0, "key", value=key(40)), "sets[1].mistakes[0].key", "stood"),
        (put("originals", 0, "pattern", value=2), "originals[0].pattern", "between 0 and 1"),
        (put("originals", 0, "name", value=""), "originals[0].name", "empty"),
        (put("originals", 0, "stations", 1, "id", value="s1"), "originals[0].stations", "same id"),
        (
            put("originals", 0, "readings", 0, "piece", value=3),
            "originals[0].readings[0].piece",
            "between 1 and 2",
        ),
        (
            put("originals", 0, "readings", 1, "key", value=key(60)),
            "originals[0].readings[1].key",
            "stood before",
        ),
        (put("repeat_tests", 0, "step_mm", value=0), "repeat_tests[0].step_mm", "between"),
        (
            put("repeat_tests", 0, "readings", 0, "value_mm", value=0),
            "repeat_tests[0].readings[0].value_mm",
            "between",
        ),
    ],
)
def test_a_file_with_something_wrong_names_the_place_and_brings_nothing(
    shop: Shop, good: dict[str, Any], change: Change, where: str, said: str
) -> None:
    wrong = copy.deepcopy(good)
    change(wrong)
    with pytest.raises(NotUnderstood) as trouble:
        import_into(shop, from_json(json.dumps(wrong)), now=NOW)
    assert trouble.value.field == where
    assert said in trouble.value.message
    assert len(trouble.value.message) < 400
    assert export_all(shop, now=NOW)["patterns"] == []
    trouble.value.message.encode()


PLACES = st.lists(st.integers(0, 400), min_size=1, max_size=9)
NONSENSE = st.sampled_from(
    [None, True, "", "x", 0, -1, 1.5, 10**25, [], {}, "\ud800", key(1), [[]], {"": 0}, 1e300]
)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(PLACES, NONSENSE)
def test_nonsense_anywhere_in_a_file_is_a_sentence_or_does_no_harm(
    tmp_path: Path, good: dict[str, Any], place: list[int], nonsense: object
) -> None:
    wrong = copy.deepcopy(good)
    node: Any = wrong
    for step in place:
        names = list(node) if isinstance(node, dict) else list(range(len(node)))
        if not names:
            break
        name = names[step % len(names)]
        if not isinstance(node[name], (dict, list)) or step == place[-1]:
            node[name] = nonsense
            break
        node = node[name]
    try:
        document = from_json(json.dumps(wrong))
    except NotUnderstood:
        return
    with closing(open_shop(tmp_path, "fuzzed.db")) as shop:
        import_into(shop, document, now=NOW)
        assert from_json(to_json(export_all(shop, now=NOW))).sets == document.sets
        assert shop.row("PRAGMA foreign_key_check") is None
