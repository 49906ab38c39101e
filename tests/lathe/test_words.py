"""Every key a step, a verdict or a place can carry has its words, and no word is left over."""

import json
from pathlib import Path
from string import Formatter
from typing import get_args

import pytest
from hypothesis import given, settings

import benchside
from benchside.lathe.course import Bench
from benchside.lathe.now import Turning, steps_now
from benchside.lathe.outfit import Misfit
from benchside.lathe.parts import Band
from benchside.lathe.plan import plan
from benchside.lathe.sizes import Action, Reads, Word
from benchside.lathe.steady import with_steady
from benchside.lathe.steps import Stage
from benchside.pattern.places import Role
from tests.lathe.samples import BACK, BALUSTER, DOWEL, STRETCHER, D, pattern, patterns

FILE = Path(benchside.__file__).parent / "web" / "templates" / "words.json"
WORDS = json.loads(FILE.read_text("utf-8"))
CASES = json.loads(Path(__file__).with_name("verdict_cases.json").read_text("utf-8"))

# One with every form twice and no slender part, so that nothing goes unsaid.
STOUT = pattern(
    ("a", 0, 60.0, D, "taper"),
    ("b", 60, 50.0, D, "taper"),
    ("c", 120, 40.0, D, "cove", 30.0),
    ("d", 140, 40.0, D, "bead", 48.0),
    ("e", 160, 40.0, D, "cove", 34.0),
    ("f", 180, 44.0, D, "straight"),
    ("g", 240, 44.0, D, "shoulder"),
    ("h", 260, 36.0, D, "straight"),
    ("i", 300, 36.0, D, "shoulder"),
    ("j", 320, 50.0, D, "straight"),
    ("k", 360, 50.0, D),
)


# One that asks for the steady at one place and then at another.
LONG = pattern(
    ("foot", 0, 12.0, D, "taper"),
    ("swell", 350, 18.0, D, "taper"),
    ("tip", 700, 12.0, D),
)


GREEN = Turning(4.9, 7.8, 45.0, 8.0, sizing_mm=0.3, rough_mm=3.0, roughing=False)


def carried(field):
    steps = [step for p in (BACK, BALUSTER, DOWEL, STRETCHER, STOUT) for step in plan(p)]
    ring = Bench(steady_n_per_mm=float("inf"))
    steps += [step for p in (BACK, LONG) for step in with_steady(p, plan(p), ring)]
    steps += steps_now(plan(BACK), GREEN)
    return {getattr(step, field) for step in steps} - {None}


def fields(text):
    return {name for _, name, _, _ in Formatter().parse(text) if name is not None}


@pytest.mark.parametrize(
    ("group", "keys"),
    [
        ("stage", set(get_args(Stage))),
        ("stage_short", set(get_args(Stage))),
        ("tool", carried("tool")),
        ("say", carried("say")),
        ("why", carried("why")),
        ("caution", carried("caution")),
        ("action", set(get_args(Action))),
        ("place", set(get_args(Role))),
        ("slender", set(get_args(Band))),
        ("unfit", set(get_args(Misfit))),
        (
            "verdict",
            {*get_args(Word)}
            | {"near_over", "near_under"}
            | {f"position_{word}" for word in (*get_args(Word), "near_over", "near_under")}
            | {action for action in get_args(Action) if action.startswith("oval_")},
        ),
    ],
)
def test_every_key_has_its_words_and_no_word_is_left_over(group, keys):
    assert set(WORDS[group]) == keys


@given(patterns())
@settings(deadline=None)
def test_the_steps_of_any_pattern_have_their_words(any_pattern):
    for step in plan(any_pattern):
        assert step.tool in WORDS["tool"]
        assert step.say in WORDS["say"]
        assert step.why in WORDS["why"]
        assert step.caution in WORDS["caution"]


def test_every_action_is_reached_by_some_reading():
    reached = {case["expect"].get("action") for case in CASES} - {None}
    assert reached == set(get_args(Action))
    assert {case["reads"] for case in CASES} == set(get_args(Reads))


def test_every_group_is_told_on_some_page():
    web = FILE.parents[1]
    pages = [*web.glob("*.py"), *web.glob("templates/**/*.html")]
    told = "".join(page.read_text("utf-8") for page in pages)
    ways = ("words.{}", 'words()["{}"]', '"{}"')
    assert [g for g in WORDS if not any(way.format(g) in told for way in ways)] == []


@pytest.mark.parametrize(
    ("group", "allowed"),
    [
        ("verdict", {"side", "off", "left", "oval"}),
        ("action", {"side", "off", "left", "first"}),
        ("place", {"name", "to_name", "share"}),
        ("say", set()),
        ("why", set()),
        ("caution", set()),
        ("slender", set()),
        ("before_mounting", {"slowest", "least", "stage", "share", "limit"}),
        ("unfit", {"length", "between", "stock", "corners", "swing"}),
    ],
)
def test_sentences_ask_only_for_what_they_are_given(group, allowed):
    for key, text in WORDS[group].items():
        assert fields(text) <= allowed, key


@pytest.mark.parametrize(
    ("group", "longest"),
    # About 20 characters stand on a line of a phone held at arm's length: three lines at most.
    [("say", 50), ("why", 60), ("caution", 62), ("action", 60), ("stage_short", 8), ("tool", 24)],
)
def test_sentences_at_the_lathe_are_short(group, longest):
    for key, text in WORDS[group].items():
        assert 0 < len(text) <= longest, f"{key}: {len(text)}"


def test_the_standard_cautions_name_what_hurts_and_give_way_to_the_manual():
    said = " ".join(WORDS["cautions"]).lower()
    for thing in (
        "face shield", "no gloves", "loose sleeves", "hair tied back", "start slow",
        "line of fire", "phone", "stop the lathe to measure", "move the rest", "cracks",
        "knots", "by hand", "extraction", "manual", "shop's own rules",
    ):  # fmt: skip
        assert thing in said, thing


def test_nobody_is_told_a_speed_or_to_wear_a_glove():
    said = json.dumps(WORDS).lower()
    assert "rpm" not in said
    assert said.count("glove") == said.count("no gloves") == 1
