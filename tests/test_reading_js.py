"""The phone's own rules, run in a browser, against what the laptop says of the same figures."""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from benchside import units
from benchside.errors import BenchsideError
from benchside.lathe import sizes
from benchside.units import UNITS
from benchside.web import labels
from benchside.web.words import words
from tests.browser import chromium

STATIC = Path(__file__).parents[1] / "static"
CASES = json.loads((Path(__file__).parent / "lathe" / "verdict_cases.json").read_text("utf-8"))


@pytest.fixture(scope="module")
def page() -> Iterator[Page]:
    """A page that has loaded reading.js; nothing is asked from any network."""
    with chromium.launched() as browser:
        page = browser.new_page()
        page.route(
            "**/*", lambda route: route.fulfill(body="<!doctype html>", content_type="text/html")
        )
        page.route(
            "**/reading.js",
            lambda route: route.fulfill(
                body=(STATIC / "reading.js").read_text("utf-8"), content_type="text/javascript"
            ),
        )
        page.goto("http://bench.lan/")
        page.evaluate("import('/reading.js').then(all => { window.reading = all })")
        yield page


def wanted(case: dict[str, Any]) -> dict[str, Any]:
    target = case["target_mm"]
    return {
        "targetMm": target,
        "finishMm": target if case["finish_mm"] is None else case["finish_mm"],
        "toleranceMm": case["tolerance_mm"],
        "kind": case["kind"],
        "reads": case["reads"],
        "phase": case["phase"],
        "tried": case.get("tried", True),
        "blends": case.get("blends", True),
    }


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_the_phone_gives_the_verdict_that_the_laptop_gives(
    page: Page, case: dict[str, Any]
) -> None:
    said = page.evaluate(
        "([mm, wanted, first]) =>"
        " ({...reading.judge(mm, wanted, first), asks: reading.surprising(mm, wanted)})",
        [case["value_mm"], wanted(case), case.get("first_mm")],
    )
    expect = case["expect"]
    if "refused" in expect:
        # What only the laptop refuses is asked about first, or cannot be typed at all.
        assert said["asks"] or case["value_mm"] < 0
        return
    assert (said["word"], said["action"]) == (expect["word"], expect["action"])
    assert said["asks"] == expect["surprising"]
    assert said["off"] == pytest.approx(expect["off_mm"], abs=1e-9)
    assert said["side"] == pytest.approx(expect["side_mm"], abs=1e-9)
    assert said["left"] == pytest.approx(expect["left_mm"], abs=1e-9)
    assert said.get("oval", 0) == pytest.approx(expect.get("oval_mm", 0), abs=1e-9)


# What a caliper, a keypad or a hurried thumb makes. The phone may leave a text to the laptop
# (null), but what it does read must be what the laptop reads.
TYPED = [
    *("15.9", "15,9", ".5", ",5", "16.", "0", "0.625", "0,625", " 15.9 ", "007", "15.90"),
    *("5/8", "1 5/16", "1-1/4", "63/64", "1/2", "2 3/4", "0 1/2"),
    *("11/4", "9/8", "8/8", "1 9/8", "5/0", "1/3", "6/10", "113/128", "1 250", "5 8"),
    *("1,250", "12,500", "1.250", "1,250.5", "1.2.3", "1..2", "", " ", ".", ",", "/", "5/", "/8"),
    *("-5", "+5", "1e3", "0x10", "nan", "Infinity", "15.9 mm", "5/8 in", "⅝", "1⅝", "5⁄8", "٣"),
    *("10000", "10001", "99999999", "400", "394", "1 5 / 16", "1  5/16", "1 - 1/4", "🙂"),
]
MUST_READ = {
    "mm": ["15.9", "15,9", ".5", "16.", "0", "0.625", "16.05"],
    "in": ["0.625", "5/8", "1 5/16", ".5"],
    "in/16": ["5/8", "1 5/16", "15/16", "1-1/4"],
    "in/64": ["63/64", "1 5/16", "0.501", "1 1/64"],
}


def laptop_reads(text: str, unit: Any) -> float | None:
    try:
        return units.parse_length(text, unit)
    except BenchsideError:
        return None


@pytest.mark.parametrize("unit", UNITS)
def test_what_the_phone_reads_the_laptop_reads_alike(page: Page, unit: str) -> None:
    read = page.evaluate("([all, unit]) => all.map(t => reading.parse(t, unit))", [TYPED, unit])
    wrong = {
        text: (mm, laptop_reads(text, unit))
        for text, mm in zip(TYPED, read, strict=True)
        if mm is not None
        and (laptop_reads(text, unit) is None or abs(mm - (laptop_reads(text, unit) or 0)) > 1e-9)
    }
    assert wrong == {}


@pytest.mark.parametrize("unit", UNITS)
def test_what_the_keys_can_make_the_phone_reads_itself(page: Page, unit: str) -> None:
    texts = MUST_READ[unit]
    read = page.evaluate("([all, unit]) => all.map(t => reading.parse(t, unit))", [texts, unit])
    assert read == [pytest.approx(laptop_reads(text, unit)) for text in texts]
    assert None not in read


def figures(unit: str) -> list[str]:
    """Every figure up to about 40 mm that a caliper or a rule shows in this unit."""
    if unit == "mm":
        return [f"{i / 100:.2f}" for i in range(4001)]
    thousandths = [f"{i / 1000:.3f}" for i in range(1601)]
    fractions = [
        f"{whole} {over}/{under}".removeprefix("0 ")
        for whole in (0, 1)
        for under in (2, 4, 8, 16, 32, 64)
        for over in range(1, under)
    ]
    return thousandths + ([] if unit == "in" else fractions)


@pytest.mark.parametrize(("unit", "fine"), list(product(UNITS, (False, True))))
def test_the_phone_writes_a_figure_as_the_laptop_does(page: Page, unit: Any, fine: bool) -> None:
    typed = figures(unit)
    written = page.evaluate(
        "([all, unit, fine]) => all.map(t => reading.format(reading.parse(t, unit), unit, fine))",
        [typed, unit, fine],
    )
    wrong = {
        text: (phone, laptop)
        for text, phone in zip(typed, written, strict=True)
        if phone != (laptop := labels.length(units.parse_length(text, unit), unit, fine=fine))
    }
    assert wrong == {}


@pytest.mark.parametrize("unit", UNITS)
def test_the_phone_says_what_the_laptop_says(page: Page, unit: Any) -> None:
    """The whole sentence, for readings from 4 mm under to 4 mm over."""
    target, tolerance = 17.0, 0.4
    typed = [f"{target + i / 20:.2f} mm" for i in range(-80, 81)]
    values = [units.parse_length(text, unit) for text in typed]
    said = page.evaluate(
        """([all, unit, sign, words, wanted]) => all.map(mm => {
          const { say, action } = reading.provisional(mm, wanted, words,
            x => `${reading.format(x, unit, false)} ${sign}`);
          return [say, action] })""",
        [
            values,
            unit,
            units.unit_sign(unit),
            words(),
            {
                "targetMm": target,
                "finishMm": target,
                "toleranceMm": tolerance,
                "kind": "slender",
                "reads": "diameter",
                "phase": "final",
            },
        ],
    )
    verdicts = [sizes.verdict(mm, target, tolerance_mm=tolerance, kind="slender") for mm in values]
    assert said == [
        [labels.verdict_word(v, unit, reads="diameter"), labels.action(v, unit)] for v in verdicts
    ]


@pytest.mark.parametrize("unit", UNITS)
def test_of_two_ways_across_the_phone_says_what_the_laptop_says(page: Page, unit: Any) -> None:
    """A tenon of 12.7, the first way and the second from 0.4 under to 0.4 over."""
    steps = [round(12.3 + i / 50, 2) for i in range(41)]
    pairs = list(product(steps, steps))
    target, tolerance = 12.7, 0.1
    said = page.evaluate(
        """([all, unit, sign, words, wanted]) => all.map(([first, mm]) => {
          const { say, action, lot } = reading.provisional(mm, wanted, words,
            x => `${reading.format(x, unit, true)} ${sign}`, first);
          return [say, action, lot ?? ""] })""",
        [
            pairs,
            unit,
            units.unit_sign(unit),
            words(),
            {
                "targetMm": target,
                "finishMm": target,
                "toleranceMm": tolerance,
                "kind": "tenon",
                "reads": "diameter",
                "phase": "final",
            },
        ],
    )
    verdicts = [
        sizes.verdict(mm, target, tolerance_mm=tolerance, kind="tenon", first_mm=first)
        for first, mm in pairs
    ]
    assert {v.action for v in verdicts} >= {"oval_trim", "oval_stop", "oval_low", "other_again"}
    assert said == [
        [
            labels.verdict_word(v, unit, reads="diameter", fine=True),
            labels.action(v, unit, fine=True),
            labels.LOTS.get(v.action, ""),
        ]
        for v in verdicts
    ]
