"""The back, the strips, the lines and the bars: what stands where, and what is left open."""

from __future__ import annotations

import re

import pytest

from benchside.draw.back import Standing, back
from benchside.draw.bars import bars
from benchside.draw.lines import Across, lined_up
from benchside.draw.strip import strip
from benchside.errors import OutOfRange
from benchside.pattern import places
from tests.draw.samples import HOSTILE, SVG, bench_spindle, numbers, tree

NAN = float("nan")
EVEN = {place.id: 0.0 for place in places(bench_spindle())}


def polygons(drawing: str, classes: str) -> list[list[tuple[float, float]]]:
    found = []
    for e in tree(drawing).iter(f"{SVG}polygon"):
        if e.get("class") == classes:
            flat = numbers((e.get("points") or "").replace(",", " "))
            found.append(list(zip(flat[::2], flat[1::2], strict=True)))
    return found


def standing(number: int, **changed: object) -> Standing:
    return Standing(number, EVEN, {})._replace(**changed)


def words(drawing: str) -> list[str]:
    return [e.text or "" for e in tree(drawing).iter(f"{SVG}text")]


def test_the_pieces_stand_from_left_to_right_as_given() -> None:
    drawing = back(bench_spindle(), [standing(n) for n in (4, 1, 3)], 6, height=380, label="x")
    assert words(drawing) == ["4", "1", "3"]
    middles = [float(x) for x in re.findall(r"translate\(([\d.]+)\)", drawing)[:3]]
    assert middles == sorted(middles)
    assert middles[1] - middles[0] == pytest.approx(middles[2] - middles[1], abs=0.02)


def test_the_length_is_true_and_the_datum_end_is_down() -> None:
    (wood,) = polygons(back(bench_spindle(), [standing(1)], 6, height=520, label="x"), "turned")
    ys = [y for _, y in wood]
    assert max(ys) - min(ys) == pytest.approx(520, abs=0.2)
    widest = max(wood, key=lambda p: p[0])
    # The crown of the bead, the thickest place, lies 245 mm from the datum end in 520.
    assert max(ys) - widest[1] == pytest.approx(245, abs=2)


def test_a_thin_neck_and_a_bead_out_of_line_are_drawn_so() -> None:
    thin = standing(2, sizes={**EVEN, "g": -0.5}, positions={"c": 2.0})
    even, odd = polygons(
        back(bench_spindle(), [standing(1), thin], 6, height=520, label="x"), "turned"
    )
    moved = [(a[0] - b[0], a[1] - b[1]) for a, b in zip(even, odd, strict=True)]
    assert max(abs(x) for x, _ in moved) > 0.5
    assert max(y for _, y in moved) == pytest.approx(12, abs=0.2)


def test_mates_are_bracketed_and_the_odd_and_the_pinned_are_marked() -> None:
    pieces = [standing(1, odd=True), standing(2), standing(3), standing(4, pinned=True)]
    drawing = back(bench_spindle(), pieces, 6, height=380, label="x")
    (brackets,) = [e for e in tree(drawing).iter(f"{SVG}path") if e.get("class") == "mates"]
    assert (brackets.get("d") or "").count("M") == 2
    assert drawing.count('class="odd-bar"') == 1
    assert drawing.count('class="peg"') == 1
    plain = back(bench_spindle(), pieces, 6, height=380, label="x", mates=False)
    assert "mates" not in plain


def test_a_piece_hardly_read_is_drawn_in_outline_only() -> None:
    drawing = back(
        bench_spindle(), [standing(1, sizes={"a": NAN, "b": 0.1})], 6, height=380, label=HOSTILE
    )
    assert polygons(drawing, "turned") == []
    assert len(polygons(drawing, "wanted-line")) == 1
    assert "<script" not in drawing


def test_a_strip_puts_the_tolerance_in_the_middle_and_what_is_beyond_outside() -> None:
    drawing = strip([0.0, 1.0, 1.4, NAN, -9.0], (-0.5, 3.0))
    band = numbers(re.search(r'class="band" d="([^"]+)"', drawing)[1])
    left, right = band[0], band[2]
    dots = re.search(r'class="dots" d="([^"]+)"', drawing)[1]
    xs = [float(x) for x in re.findall(r"M(\d+)", dots)]
    assert xs == [(left + right) / 2, right]
    assert re.search(r'class="beyond" d="([^"]+)"', drawing)[1].count("M") == 2
    coming = re.search(r'class="coming" d="([^"]+)"', drawing)[1]
    assert coming.count("M") == 2  # the line, and a foot at the one end that can be seen


def test_a_strip_of_nothing_has_no_dots() -> None:
    assert "dots" not in strip([NAN], None)


def test_beads_that_line_up_run_level_and_one_that_does_not_leaves_the_band() -> None:
    drawing = lined_up(
        [Across("Bead", [0.0, 0.0, 1.4]), Across(HOSTILE, [0.1, NAN, 0.2])],
        [1, 2, 3],
        width=380,
        label="x",
    )
    assert words(drawing)[0] == "Bead"
    assert words(drawing)[-3:] == ["1", "2", "3"]
    assert drawing.count('class="beyond"') == 1
    assert "<script" not in drawing
    with pytest.raises(OutOfRange):
        lined_up([Across("Bead", [float("inf")])], [1], width=380, label="x")


def test_forty_pieces_keep_numbers_that_can_be_read() -> None:
    drawing = lined_up([Across("Bead", [0.0] * 40)], range(1, 41), width=380, label="x")
    assert 10 <= len(words(drawing)) <= 21


def test_bars_are_as_tall_as_the_minutes_and_the_line_goes_on() -> None:
    drawing = bars(
        [20.0, None, 10.0], [1, 2, 3], [20.0, 15.0, 12.0, 10.0], width=380, height=200, label="x"
    )
    path = re.search(r'class="minutes" d="([^"]+)"', drawing)[1]
    heights = [
        float(foot) - float(top) for foot, top in re.findall(r"M[\d.]+ ([\d.]+)V([\d.]+)", path)
    ]
    assert heights[0] == pytest.approx(2 * heights[1], rel=0.01)
    practice = re.search(r'class="practice" d="([^"]+)"', drawing)[1]
    assert practice.count("L") == 3
    with pytest.raises(OutOfRange):
        bars([NAN], [1], [], width=380, height=200, label="x")
