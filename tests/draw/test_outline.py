"""The outline against the millimetres it comes from."""

from __future__ import annotations

import re
from math import hypot

import pytest

from benchside.draw.finished import Headstock
from benchside.draw.outline import Scale, outline, upper_edge
from benchside.draw.spindle import view
from benchside.pattern import DatumEnd
from tests.draw.samples import bench_spindle, numbers

COMMAND = re.compile(r"([MLAz])([^MLAz]*)")


def corners_of(path: str) -> list[tuple[float, float]]:
    """Where each command of the path ends."""
    ends = []
    for command, arguments in COMMAND.findall(path):
        if command != "z":
            x, y = numbers(arguments)[-2:]
            ends.append((x, y))
    return ends


@pytest.mark.parametrize("headstock", ["left", "right"])
@pytest.mark.parametrize("datum_end", ["tail", "drive"])
def test_every_station_lies_where_its_millimetres_say(
    headstock: Headstock, datum_end: DatumEnd
) -> None:
    pattern = bench_spindle(datum_end=datum_end)
    seen = view(pattern, headstock=headstock)
    datum_at_right = (datum_end == "tail") == (headstock == "left")
    drawn = [
        corners_of(outline(pattern, i, i, seen.scale))[0][0] for i in range(len(pattern.sections))
    ]
    along = (362 - 48) / 520
    wanted = [
        362 - 24 - s.at_mm * along if datum_at_right else 24 + s.at_mm * along
        for s in pattern.stations[:-1]
    ]
    assert drawn == pytest.approx(wanted, abs=0.05)


def test_thickness_is_drawn_double_on_a_phone_and_single_when_asked() -> None:
    pattern = bench_spindle()
    double, single = view(pattern, thickness=2), view(pattern, thickness=1)
    assert double.scale.px_per_mm_along == single.scale.px_per_mm_along
    assert double.scale.px_per_mm_across == pytest.approx(2 * double.scale.px_per_mm_along)
    assert single.scale.px_per_mm_across == pytest.approx(single.scale.px_per_mm_along)
    assert (double.thickness, single.thickness) == (2, 1)


def test_a_stout_piece_that_would_not_fit_double_is_drawn_single_and_says_so() -> None:
    seen = view(bench_spindle(), thickness=2, stock_mm=100)
    assert seen.thickness == 1
    assert seen.scale.px_per_mm_across == pytest.approx(seen.scale.px_per_mm_along)
    assert seen.scale.top(100) >= 0


def test_a_bead_passes_through_its_crown_and_a_cove_through_its_root() -> None:
    pattern, scale = bench_spindle(), Scale(1.0, 2.0, False, 520.0, 100.0)
    for section, extreme_mm in ((3, 28.0), (4, 13.0)):
        ends = corners_of(outline(pattern, section, section, scale))
        at_mm = pattern.extreme_at_mm(section)
        assert at_mm is not None
        assert ends[1] == pytest.approx((520 - at_mm, 100 - extreme_mm), abs=0.06)
        assert ends[4] == pytest.approx((520 - at_mm, 100 + extreme_mm), abs=0.06)
        assert corners_of(upper_edge(pattern, section, section, scale)) == ends[:3]


def test_a_coves_arc_has_the_radius_of_the_sagitta_relation() -> None:
    """Chord c, depth h: r = (c^2 / 4 + h^2) / (2 h), the relation for a circle's segment."""
    path = upper_edge(bench_spindle(), 4, 4, Scale(1.0, 2.0))
    rx, ry = numbers(path.split("A")[1])[:2]
    chord, depth = 275 - 252, (18 - 13) / 2
    radius = (chord**2 / 4 + depth**2) / (2 * depth)
    assert rx == pytest.approx(radius, abs=0.01)
    assert ry == pytest.approx(2 * radius, abs=0.01)


def test_points_of_the_drawn_arcs_lie_on_the_patterns_curve() -> None:
    """The arcs are followed here by SVG's own rule for ends, radius and sweep (SVG 2, B.2.4)."""
    pattern, scale = bench_spindle(), Scale(4.0, 4.0, True, 0.0, 100.0)
    for section in (3, 4):
        path = upper_edge(pattern, section, section, scale).split("M")[1]
        for start, (rx, ry, sweep, *end) in zip(
            corners_of("M" + path), (_arc(a) for a in path.split("A")[1:]), strict=False
        ):
            assert rx == ry
            for x, y in _along_arc(start, (end[0], end[1]), rx, int(sweep)):
                assert 2 * (100 - y) / 4 == pytest.approx(
                    float(pattern.diameter_mm_at(x / 4)), abs=0.05
                )


def _arc(arguments: str) -> tuple[float, ...]:
    rx, ry, _, large, sweep, x, y = numbers(arguments)
    assert large == 0
    return rx, ry, sweep, x, y


def _along_arc(
    start: tuple[float, float], end: tuple[float, float], radius: float, sweep: int
) -> list[tuple[float, float]]:
    """Points on the lesser arc from start to end; sweep 1 turns clockwise on the screen."""
    (x1, y1), (x2, y2) = start, end
    chord = hypot(x2 - x1, y2 - y1)
    off = (radius**2 - (chord / 2) ** 2) ** 0.5
    side = 1 if sweep else -1
    cx = (x1 + x2) / 2 - side * off * (y2 - y1) / chord
    cy = (y1 + y2) / 2 + side * off * (x2 - x1) / chord
    found = []
    for share in (0.1, 0.3, 0.5, 0.7, 0.9):
        dx, dy = x1 + share * (x2 - x1) - cx, y1 + share * (y2 - y1) - cy
        reach = radius / hypot(dx, dy)
        found.append((cx + dx * reach, cy + dy * reach))
    return found


def test_a_closed_outline_is_its_own_mirror_image_about_the_axis() -> None:
    pattern, scale = bench_spindle(), Scale(1.0, 1.0, False, 520.0, 50.0)
    ends = corners_of(outline(pattern, 0, 7, scale))
    half = len(ends) // 2
    assert len(ends) == 2 * half
    for (x, y), (mirror_x, mirror_y) in zip(ends[:half], ends[:half:-1], strict=False):
        assert mirror_x == x
        assert mirror_y == pytest.approx(100 - y, abs=0.06)


def test_a_shoulder_jumps_at_its_larger_station() -> None:
    ends = corners_of(outline(bench_spindle(), 0, 1, Scale(1.0, 1.0, True, 0.0, 50.0)))
    assert ends[:4] == [(0, 42), (35, 42), (35, 39), (190, 37.5)]


def test_flipping_the_drawing_keeps_a_bead_a_bead() -> None:
    pattern = bench_spindle()
    plain = upper_edge(pattern, 3, 3, Scale(1.0, 1.0, True, 0.0, 50.0))
    flipped = upper_edge(pattern, 3, 3, Scale(1.0, 1.0, False, 0.0, 50.0))
    sweeps = [[int(numbers(a)[4]) for a in p.split("A")[1:]] for p in (plain, flipped)]
    assert sweeps == [[1, 1], [0, 0]]
