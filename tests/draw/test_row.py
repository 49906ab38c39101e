"""Spindles one under another, and the differences drawn larger."""

from __future__ import annotations

import random
import zlib

import pytest

from benchside.draw.row import Turned, side_by_side
from benchside.pattern import places
from tests.draw.samples import HOSTILE, SVG, baluster, bench_spindle, numbers, tree


def pieces(count: int, seed: int = 3) -> list[Turned]:
    chance = random.Random(seed)
    ids = [p.id for p in places(bench_spindle())]
    return [Turned(i + 1, {name: chance.gauss(0, 0.15) for name in ids}) for i in range(count)]


def polygons(drawing: str) -> list[list[tuple[float, float]]]:
    found = []
    for e in tree(drawing).iter(f"{SVG}polygon"):
        flat = numbers((e.get("points") or "").replace(",", " "))
        found.append(list(zip(flat[::2], flat[1::2], strict=True)))
    return found


def test_a_difference_is_drawn_as_many_times_over_as_asked() -> None:
    ids = [p.id for p in places(bench_spindle())]
    over = {name: 0.5 if name == "c" else 0.0 for name in ids}
    wanted, exact, fat = polygons(
        side_by_side(bench_spindle(), [(1, dict.fromkeys(ids, 0.0)), (2, over)], 6)
    )
    assert exact == wanted
    left, right = min(exact)[0], max(exact)[0]
    swell_px = right - 190 / 520 * (right - left)
    swell = min(range(len(exact) // 2), key=lambda i: abs(exact[i][0] - swell_px))
    px_per_mm = (23 - min(y for _, y in exact)) / 14  # the crown, 28 mm, is the thickest place
    assert exact[swell][1] - fat[swell][1] == pytest.approx(6 * 0.25 * px_per_mm, abs=0.11)
    changed = {x for (x, y), (_, other) in zip(exact, fat, strict=True) if y != other}
    foot_px, bead_px = (right - at / 520 * (right - left) for at in (35, 238))
    assert changed
    assert all(bead_px < x < foot_px for x in changed)


def test_beyond_the_last_place_that_was_read_no_wood_is_drawn() -> None:
    wanted, wood = polygons(side_by_side(bench_spindle(), [(1, {"b": 0.0, "c": 0.1})], 6))
    span = max(x for x, _ in wood) - min(x for x, _ in wood)
    whole = max(x for x, _ in wanted) - min(x for x, _ in wanted)
    assert span == pytest.approx(whole * (190 - 35) / 520, abs=0.2)


@pytest.mark.parametrize("deviations", [{}, {"b": 0.1}, {"b": float("nan"), "c": 0.1}, {"zz": 1.0}])
def test_a_piece_with_fewer_than_two_readings_is_only_dashed(
    deviations: dict[str, float],
) -> None:
    assert len(polygons(side_by_side(bench_spindle(), [(1, deviations)], 6))) == 1


def test_each_row_is_a_picture_of_its_own_with_its_name() -> None:
    drawing = side_by_side(
        bench_spindle(), [Turned(6, {}, f"Piece 6 {HOSTILE}", odd=True), Turned(7, {})], 6
    )
    rows = [s for s in tree(drawing) if s.get("role") == "img"]
    assert [r.get("aria-label") for r in rows] == [f"Piece 6 {HOSTILE[:-1]}", "7"]
    assert [t.text for t in tree(drawing).iter(f"{SVG}text")] == ["6", "7"]
    assert drawing.count("odd-bar") == 1


def test_a_wild_difference_stays_inside_its_own_row() -> None:
    ids = [p.id for p in places(bench_spindle())]
    drawing = side_by_side(bench_spindle(), [(1, dict.fromkeys(ids, 40.0))], 6)
    assert all(0 <= y <= 46 for _, y in polygons(drawing)[1])


def test_the_headstock_side_turns_the_row_about() -> None:
    left = polygons(side_by_side(bench_spindle(), [], 6))[0]
    right = polygons(side_by_side(bench_spindle(), [], 6, headstock="right"))[0]
    low, high = min(x for x, _ in left), max(x for x, _ in left)
    assert [x for x, _ in right] == pytest.approx([low + high - x for x, _ in left], abs=0.11)


def test_four_hundred_pieces_take_under_300_bytes_each() -> None:
    many = pieces(400)
    for pattern in (bench_spindle(), baluster()):
        drawing = side_by_side(pattern, many, 6)
        assert len(zlib.compress(drawing.encode())) / 400 < 300
