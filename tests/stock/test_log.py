"""Splitting a log: no billet in the pith or the bark, none in another, and the closed forms."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations, pairwise
from math import hypot, isclose, pi, sqrt, tan
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchside.errors import OutOfRange
from benchside.stock.log import WAYS, Bolt, Log, Way, check_unit, section, split
from benchside.stock.shapes import Blank
from benchside.units import parse_length

ASH = Log(1300.0, 420.0, 400.0, bark_mm=12.0)
BLANK = Blank(560.0, 25.0)

logs = st.builds(
    Log,
    length_mm=st.just(700.0),
    large_mm=st.integers(240, 300).map(float),
    small_mm=st.integers(90, 240).map(float),
    bark_mm=st.sampled_from([0.0, 10.0]),
    sapwood_mm=st.sampled_from([0.0, 20.0]),
    keep_sapwood=st.booleans(),
    pith_mm=st.sampled_from([0.0, 25.0, 60.0]),
    end_mm=st.just(20.0),
)


def nearest_to_pith(corners: tuple[tuple[float, float], ...]) -> float:
    """How near a convex figure that does not hold the pith comes to it."""
    found = []
    for (x0, y0), (x1, y1) in zip(corners, corners[1:] + corners[:1], strict=True):
        dx, dy = x1 - x0, y1 - y0
        t = max(0.0, min(1.0, -(x0 * dx + y0 * dy) / (dx * dx + dy * dy)))
        found.append(hypot(x0 + t * dx, y0 + t * dy))
    return min(found)


def overlap(one: tuple[tuple[float, float], ...], other: tuple[tuple[float, float], ...]) -> bool:
    """Whether two convex figures lie over one another: no side of either parts them."""
    for figure in (one, other):
        for (x0, y0), (x1, y1) in zip(figure, figure[1:] + figure[:1], strict=True):
            nx, ny = y1 - y0, x0 - x1
            a = [x * nx + y * ny for x, y in one]
            b = [x * nx + y * ny for x, y in other]
            slack = 1e-6 * hypot(nx, ny)
            if max(a) <= min(b) + slack or max(b) <= min(a) + slack:
                return False
    return True


@settings(max_examples=25, deadline=None)
@given(logs, st.sampled_from(WAYS), st.sampled_from([18.0, 31.0]))
def test_no_billet_reaches_the_pith_the_bark_or_another(log, way, side):
    plan = split(log, Blank(600.0, side), way, over_mm=3.0)
    assert plan.side_mm == side + 3
    for bolt in plan.bolts:
        taken = log.bark_mm + (0 if log.keep_sapwood else log.sapwood_mm)
        end = log.large_mm - (log.large_mm - log.small_mm) * bolt.to_mm / log.length_mm
        assert bolt.radius_mm == pytest.approx(max(0.0, end / 2 - taken))
        sections = [section(billet) for billet in bolt.billets]
        for corners in sections:
            assert max(hypot(x, y) for x, y in corners) <= bolt.radius_mm + 1e-6
            assert nearest_to_pith(corners) >= log.pith_mm / 2 - 1e-6
        for one, other in combinations(bolt.billets, 2):
            if hypot(one.x_mm - other.x_mm, one.y_mm - other.y_mm) < 1.42 * plan.side_mm:
                assert not overlap(section(one), section(other))
        assert len(sections) * plan.side_mm**2 <= pi * bolt.radius_mm**2


@settings(max_examples=15, deadline=None)
@given(logs, st.sampled_from(WAYS))
def test_a_thicker_log_never_gives_fewer_and_a_wider_pith_never_more(log, way):
    count = split(log, BLANK, way).count
    thicker = replace(log, large_mm=log.large_mm + 20, small_mm=log.small_mm + 20)
    assert split(thicker, BLANK, way).count >= count
    assert split(replace(log, pith_mm=log.pith_mm + 15), BLANK, way).count <= count


def first(way: Way, **changes: Any) -> Bolt:
    log = replace(ASH, length_mm=800.0, **changes)
    return split(log, BLANK, way, over_mm=0.0).bolts[0]


def test_courses_begin_where_the_outer_corners_stand_on_the_bark():
    bolt = first("sectors")
    assert bolt.courses_mm[0] == pytest.approx(sqrt(bolt.radius_mm**2 - 12.5**2) - 25)
    courses = [*zip(bolt.courses_mm, bolt.parts, strict=True)]
    for (outer, many), (inner, fewer) in pairwise(courses):
        assert outer - inner == pytest.approx(25) if fewer == many else outer - inner > 25


def test_every_course_is_halved_as_often_as_its_billets_stay_whole():
    bolt = first("sectors")
    for inner, parts in zip(bolt.courses_mm, bolt.parts, strict=True):
        assert parts & (parts - 1) == 0
        assert 2 * inner * tan(pi / parts) >= 25 > 2 * inner * tan(pi / (2 * parts))


def test_one_billet_in_a_quarter_is_as_wide_as_the_closed_form():
    # Inner corners on the two splits, outer ones on the round: s = r / sqrt((1/2 + 1)^2 + 1/4).
    widest = 100 / sqrt(2.5)
    log = Log(700.0, 200.0, 200.0, pith_mm=0.0, end_mm=0.0)
    assert split(log, Blank(600.0, widest - 1e-3), over_mm=0.0).bolts[0].parts[0] == 4
    assert split(log, Blank(600.0, widest + 1e-3), over_mm=0.0).bolts[0].parts[0] == 2


def test_rings_lie_square_in_sectors_and_at_every_angle_in_a_grid():
    assert {billet.ring_deg for billet in first("sectors").billets} == {0.0}
    rings = {round(billet.ring_deg) for billet in first("grid").billets}
    assert len(rings) > 10
    assert all(0 <= ring < 180 for ring in rings)


def test_bolts_lie_one_after_the_other_and_the_thinner_ones_give_fewer():
    one, two = split(replace(ASH, small_mm=330.0), BLANK).bolts
    assert (one.from_mm, one.to_mm) == (75.0, 635.0)
    assert two.from_mm == 641.0
    assert len(two.billets) < len(one.billets)


def test_sapwood_left_out_costs_its_band():
    assert isclose(first("sectors", sapwood_mm=30.0).radius_mm, first("sectors").radius_mm)
    left_out = first("sectors", sapwood_mm=30.0, keep_sapwood=False)
    assert left_out.radius_mm == pytest.approx(first("sectors").radius_mm - 30)


def test_a_log_too_thin_gives_nothing():
    assert split(Log(800.0, 60.0, 55.0), BLANK).count == 0


@pytest.mark.parametrize(
    ("log", "field"),
    [
        (replace(ASH, small_mm=500.0), "small_mm"),
        (replace(ASH, length_mm=500.0), "length_mm"),
        (replace(ASH, length_mm=600.0), "end_mm"),
        (replace(ASH, end_mm=1800.0), "end_mm"),
        (replace(ASH, bark_mm=-1.0), "bark_mm"),
        (replace(ASH, large_mm=float("nan")), "large_mm"),
    ],
)
def test_what_cannot_be_is_refused(log, field):
    with pytest.raises(OutOfRange) as caught:
        split(log, BLANK)
    assert caught.value.field == field


@pytest.mark.parametrize(
    ("length", "large", "field", "said"),
    [
        (36.0, 12.0, "length_mm", "were those inches"),  # 36 by 12 in, read as mm
        (914.0, 12.0, "large_mm", "were those inches"),
        (914.0, 300 * 25.4, "large_mm", "were those millimetres"),
    ],
)
def test_a_log_in_another_unit_than_it_was_meant_is_asked_about(length, large, field, said):
    with pytest.raises(OutOfRange, match=said) as caught:
        check_unit(Log(length, large, large))
    assert caught.value.field == field
    check_unit(Log(100.0, 40.0, 40.0))
    check_unit(ASH)


@pytest.mark.parametrize("unit", ["mm", "in", "in/64"])
def test_the_ends_that_leave_room_for_a_blank_do_so(unit):
    log = replace(ASH, length_mm=700.0, end_mm=75.0)
    with pytest.raises(OutOfRange) as caught:
        split(log, BLANK, unit=unit)
    said = re.search(r"sound, (.*?) off each", caught.value.hint)
    assert said
    found = replace(log, end_mm=parse_length(said[1], unit))
    assert split(found, BLANK, unit=unit).bolts
