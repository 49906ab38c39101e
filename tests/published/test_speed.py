"""Speeds against what is published of them."""

from __future__ import annotations

from math import pi

import pytest

from benchside.lathe import speed


def test_the_diameter_times_speed_habit_at_two_inches():
    # "6000 / D roughing to 9000 / D finishing", D = 2 in: 3000 to 4500 r/min
    # [@lathe-speed-sheet, phase 1].
    assert speed.habit_rpm(2 * 25.4) == pytest.approx(3000, abs=1e-9)
    assert speed.habit_rpm(2 * 25.4, finishing=True) == pytest.approx(4500, abs=1e-9)


def test_the_habit_is_one_rim_speed_for_every_thickness():
    # 6000 and 9000 in. r/min are 152 400 and 228 600 mm r/min, 8.0 and 12.0 m/s at the rim.
    for mm in (6.0, 25.4, 50.8, 300.0):
        rough, finish = (speed.habit_rpm(mm, finishing=f) for f in (False, True))
        assert mm * rough == pytest.approx(152_400)
        assert mm * finish == pytest.approx(228_600)
        assert speed.rim_speed_m_s(mm, rough) == pytest.approx(7.98, abs=0.005)
        assert speed.rim_speed_m_s(mm, finish) == pytest.approx(11.97, abs=0.005)


def test_the_rim_of_a_wheel_of_one_metre_round_runs_its_turns_a_second():
    assert speed.rim_speed_m_s(1000 / pi, 60 * 7) == pytest.approx(7.0, abs=1e-12)


def test_a_plain_ash_rod_whirls_at_its_frequency_and_half_of_that_is_its_ceiling():
    # 25 x 600 mm, 11 GPa, 700 kg/m3 between centres: f = pi / 8 d / L^2 sqrt(E / rho), the first
    # root of sin(beta L) [closed form], 108.10 Hz, 6486 r/min; at least twice the speed run
    # [@shigley-2011, 7-6].
    f_hz = pi / 8 * 0.025 / 0.6**2 * (11e9 / 700) ** 0.5
    assert f_hz * 60 == pytest.approx(6486.284, rel=1e-6)
    found = speed.ceilings(25.0, finishing=True, whirl_rpm=f_hz * 60)
    assert [c.reason for c in found] == ["whirl", "habit"]
    assert found[0].rpm == pytest.approx(3243.14, abs=0.01)


def test_what_is_published_for_one_thickness_differs_by_three_to_one():
    # The school text: 2400 to 3000 r/min up to 3 in [@milton-wohlers-1919, ch. II]; the others
    # are common practice without a source.
    found = speed.published(25.4)
    assert min(p.least_rpm for p in found) == 950
    assert max(p.most_rpm for p in found) == 3500
    (school,) = [p for p in found if p.source]
    assert (school.upto_mm, school.least_rpm, school.most_rpm) == (76.2, 2400, 3000)
    assert [p.least_rpm for p in speed.published(60.0) if p.stage == "shape"] == [1150]
    assert speed.published(120.0) == ()
