"""Tenons and holes as pictures: what is drawn lies where the figures say."""

from __future__ import annotations

from math import cos, nan, radians, sin

import pytest

from benchside.draw.mouth import TENON_PX, Believed, YearLabels, believed, mouth, year_chart
from benchside.errors import OutOfRange
from tests.draw.samples import HOSTILE, SVG, numbers, tree

LABELS = YearLabels("A year", "along", "across", "splits?", "just fills", "loose", "dry", "damp")
ALONG = [0.0, 0.05, 0.1, 0.05]
ACROSS = [0.2, 0.1, 0.05, 0.1]


def year(along: list[float] = ALONG, across: list[float] = ACROSS, **changed: float) -> str:
    limits = {"split_mm": 0.25, "loose_mm": -0.1} | changed
    return year_chart(along, across, width=360, height=230, labels=LABELS, **limits)


def path(drawing: str, name: str) -> list[float]:
    found = [e.get("d") or "" for e in tree(drawing).iter(f"{SVG}path") if e.get("class") == name]
    return numbers(found[0].replace("V", " ").replace("H", " "))


def test_the_dot_stands_where_the_rays_come_out() -> None:
    for ring in (0, 90, 30):
        dot = next(
            e
            for e in tree(mouth(ring, "x", "y")).iter(f"{SVG}circle")
            if "dot" in e.attrib["class"]
        )
        reach = TENON_PX - 11
        assert float(dot.attrib["cx"]) == pytest.approx(reach * cos(radians(ring)), abs=0.06)
        assert float(dot.attrib["cy"]) == pytest.approx(-reach * sin(radians(ring)), abs=0.06)


def test_months_lie_in_proportion_between_nothing_and_the_limit_and_the_first_comes_again() -> None:
    drawing = year()
    nothing = path(drawing, "nothing")[1]
    limit = path(drawing, "band")[1]
    heights = path(drawing, "along")[1::2]
    wanted = [nothing + mm / 0.25 * (limit - nothing) for mm in [*ALONG, ALONG[0]]]
    assert heights == pytest.approx(wanted, abs=0.11)
    assert len(path(drawing, "across")) == 10


def test_the_lines_differ_by_kind_and_the_marks_are_words() -> None:
    texts = [e.text for e in tree(year()).iter(f"{SVG}text")]
    assert texts[:3] == ["splits?", "just fills", "loose"]
    assert "loose" not in [e.text for e in tree(year(loose_mm=0.0)).iter(f"{SVG}text")]


def test_a_belief_lies_on_one_scale_with_its_book_and_its_pieces() -> None:
    rows = [Believed(HOSTILE, 5.0, 6.0, 5.5, 6.5, [6.0]), Believed("b", 8.0, 9.0, 8.0, 10.0, [])]
    drawing = tree(believed(rows, HOSTILE))
    dots = [float(e.attrib["cx"]) for e in drawing.iter(f"{SVG}circle")]
    bars = [
        numbers(e.attrib["d"].replace("H", " "))
        for e in drawing.iter(f"{SVG}path")
        if e.get("class") == "believed-bar"
    ]
    per_percent = (dots[1] - dots[0]) / 3
    assert bars[0][2] - bars[0][0] == pytest.approx(per_percent, abs=0.11)
    assert bars[1][2] - bars[1][0] == pytest.approx(2 * per_percent, abs=0.11)
    assert bars[0][0] == pytest.approx(dots[0] - per_percent / 2, abs=0.11)


def test_what_is_no_figure_is_refused() -> None:
    with pytest.raises(OutOfRange):
        mouth(nan, "x", "y")
    with pytest.raises(OutOfRange):
        year(along=[0.0, nan, 0.1, 0.0])
    with pytest.raises(OutOfRange):
        year(along=[0.0])
    with pytest.raises(OutOfRange):
        believed([], "x")
