from math import pi

import pytest

from benchside.lathe.course import Bench
from benchside.lathe.parts import stock_mm
from benchside.lathe.plan import plan
from benchside.lathe.whirling import whirl_rpm
from tests.lathe.samples import BACK, BALUSTER, DOWEL

BENCH = Bench()


def rod_rpm(diameter_mm, length_mm):
    """The closed form for a plain rod between centres: pi / 8 d / L^2 sqrt(E / rho)."""
    speed_m_s = (BENCH.modulus_gpa * 1e9 / BENCH.density_kg_m3) ** 0.5
    return 60 * pi / 8 * (diameter_mm / 1000) / (length_mm / 1000) ** 2 * speed_m_s


def test_until_it_is_shaped_a_piece_whirls_as_the_rough_round():
    found = whirl_rpm(BACK, plan(BACK), BENCH)
    assert found["rough"] == pytest.approx(rod_rpm(stock_mm(BACK), 420), rel=1e-4)
    assert found["size"] == found["rough"]


def test_a_plain_cylinder_ends_at_the_whirling_speed_of_its_own_size():
    found = whirl_rpm(DOWEL, plan(DOWEL), BENCH)
    assert found["run"] == pytest.approx(rod_rpm(25, 300), rel=1e-4)


def test_the_thinner_it_gets_the_slower_it_whirls_and_a_steady_helps():
    steps = plan(BALUSTER)
    loose = whirl_rpm(BALUSTER, steps, BENCH)
    assert loose["thin"] < loose["rough"]
    weak = Bench(limit_mm=0.01)
    held = whirl_rpm(BALUSTER, steps, Bench(limit_mm=0.01, steady_n_per_mm=1e6))
    assert held["thin"] > whirl_rpm(BALUSTER, steps, weak)["thin"]
