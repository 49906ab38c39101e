"""Outlines as points and arcs: they are the pattern's own curve."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings

from benchside.paper.marks import (
    Point,
    Stroke,
    in_steps,
    radius_mm,
    upper_edge,
    whole_edge,
)
from tests import shopfloor
from tests.pattern.spindles import patterns


@settings(max_examples=20)
@given(patterns())
def test_the_upper_edge_is_the_curve_of_the_pattern(pattern) -> None:
    points = in_steps(Stroke(upper_edge(pattern, axis_y=100.0, at_x=7.0)))
    x = np.array([p[0] for p in points]) - 7.0
    y = np.array([p[1] for p in points])
    at = {s.at_mm for s in pattern.stations}
    inside = [i for i, mm in enumerate(x) if not any(abs(mm - a) < 1e-6 for a in at)]
    assert np.all(np.diff(x) > -1e-9)
    found = 2 * (100.0 - y[inside])
    np.testing.assert_allclose(
        found, pattern.diameter_mm_at(np.clip(x[inside], 0, pattern.length_mm)), atol=1e-6
    )


@settings(max_examples=20)
@given(patterns())
def test_an_outline_encloses_the_length_section_of_the_pattern(pattern) -> None:
    points = np.array(in_steps(Stroke(whole_edge(pattern, 50.0), closed=True), chord_mm=1e-4))
    x, y = points[:, 0], points[:, 1]
    area = abs(np.dot(x[:-1], y[1:]) - np.dot(x[1:], y[:-1])) / 2
    at = np.unique(np.concatenate([[s.at_mm for s in pattern.stations], [0, pattern.length_mm]]))
    expected = 0.0
    for low, high in pairwise(at):
        middles = low + (np.arange(400) + 0.5) / 400 * (high - low)
        expected += pattern.diameter_mm_at(middles).mean() * (high - low)
    assert area == pytest.approx(expected, rel=2e-4)


def test_an_arc_in_steps_stays_on_its_circle_and_goes_the_way_its_bulge_says() -> None:
    # From the left to the right of a circle about 0, 0, over the top: clockwise on the sheet.
    half = Stroke((Point(-5.0, 0.0, 1.0), Point(5.0, 0.0)))
    points = in_steps(half, chord_mm=0.001)
    assert radius_mm(*half.points) == pytest.approx(5.0)
    assert all(np.hypot(x, y) == pytest.approx(5.0) for x, y in points)
    assert min(y for _, y in points) == pytest.approx(-5.0, abs=0.01)
    middles = [((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in pairwise(points)]
    assert min(np.hypot(x, y) for x, y in middles) > 5.0 - 0.001 - 1e-9


def test_a_shoulder_is_a_step_in_the_edge() -> None:
    edge = upper_edge(shopfloor.back_spindle())
    assert [p for p in edge if p.x == 26.0] == [Point(26.0, -6.35), Point(26.0, -8.0)]
