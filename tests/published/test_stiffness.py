"""Give, frequencies and the steady against closed forms and worked examples.

Sources stand beside each check. What is marked "closed form" is in any strength-of-materials or
vibration text (from memory, and worked again here by a way of its own where one is given).
"""

from itertools import pairwise
from math import cos, cosh, inf, pi, sin, sinh, sqrt, tan, tanh

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import iv, jv, kv, yv

from benchside.lathe import elements
from benchside.lathe.stiffness import (
    Support,
    Work,
    best_steady,
    critical_rpm,
    deflection_mm,
    frequencies_hz,
    give_mm,
    gripped,
    pinned,
    rpm_when_held,
    shear_part,
)

# A modulus and a density that make E I = 1 and m = 1 for a diameter of 1, with L = 1.
UNIT_GPA, UNIT_DENSITY = 64 / pi / 1000, 4 / pi * 1e12
ROD = Work([0, 1], [1, 1], UNIT_GPA, UNIT_DENSITY)
FAST, FREE = Support(0, inf, inf), ()
PIN0, PIN1 = Support(0), Support(1)


def beta_l(work, supports, modes=1):
    """omega = (beta L)^2 sqrt(E I / (m L^4))."""
    return np.sqrt(2 * pi * frequencies_hz(work, supports, modes))


@pytest.mark.parametrize(
    ("supports", "at", "closed_form"),
    [
        ((PIN0, PIN1), 0.5, 1 / 48),
        ((PIN0, PIN1), 0.3, 0.3**2 * 0.7**2 / 3),  # [@shigley-2011, eq. 7-24]
        ((FAST, PIN1), 0.5, 7 / 768),  # propped cantilever
        ((FAST, Support(1, inf, inf)), 0.5, 1 / 192),
        ((FAST,), 1.0, 1 / 3),
        ((PIN0, Support(0.5), PIN1), 0.25, 23 / 1536 / 8),  # two equal spans of half the length
        ((PIN0, Support(0.5, 48.0), PIN1), 0.5, 1 / 96),  # springs in parallel
        ((PIN0, Support(0.5, 480.0), PIN1), 0.5, 1 / 528),
    ],
)
def test_a_plain_rod_gives_as_the_closed_forms_say(supports, at, closed_form):
    assert deflection_mm(ROD, 1.0, at, supports) == pytest.approx(closed_form, rel=1e-12)
    # and by finite elements, which are exact at the nodes of a plain rod
    assert elements.deflection_mm(ROD, 1.0, at, supports, 20) == pytest.approx(
        closed_form, rel=1e-9
    )


def test_the_greatest_give_of_a_rod_with_one_end_held_fast():
    # Largest give under a travelling force: d(a) = a^3 b^2 (4 L - a) / (12 L^3) from the fast end
    # (closed form, propped cantilever), at its largest 0.00981241717428647.
    at = np.linspace(0, 1, 4001)
    give = deflection_mm(ROD, 1.0, at, (FAST, PIN1))
    closed_form = at**3 * (1 - at) ** 2 * (4 - at) / 12
    assert give == pytest.approx(closed_form, abs=1e-14)
    assert give.max() == pytest.approx(0.00981241717428647, rel=1e-6)


@pytest.mark.parametrize(
    ("d0", "d1", "at"), [(1.0, 2.0, 0.5), (1.0, 1.5, 0.5), (0.5, 1.0, 0.4), (1.0, 1.0, 0.31)]
)
def test_a_taper_between_centres_gives_as_two_cones_meeting_at_the_tool(d0, d1, at):
    # y = P a^2 b^2 / (3 L^2 E) 64 / (pi dC^3) (a / dA + b / dB), from the tapered cantilever
    # 64 P L^3 / (3 pi E dA dB^3) of the textbooks (e.g. Gere, Mechanics of Materials, ch. 9).
    taper = Work([0, 1], [d0, d1], 1e-3, 1.0)
    here, b = d0 + at * (d1 - d0), 1 - at
    y = at**2 * b**2 / 3 * 64 / (pi * here**3) * (at / d0 + b / d1)
    assert deflection_mm(taper, 1.0, at, pinned(taper)) == pytest.approx(y, rel=1e-12)


def test_a_tapered_cantilever_and_a_double_cone():
    cone = Work([0, 1], [1, 2], 1e-3, 1.0)
    tip = deflection_mm(cone, 1.0, 0.0, [Support(1, inf, inf)])
    assert tip == pytest.approx(64 / (3 * pi * 1 * 2**3), rel=1e-12)
    double = Work([0, 0.5, 1], [0.6, 1.0, 0.6], 1e-3, 1.0)
    assert deflection_mm(double, 1.0, 0.5, pinned(double)) == pytest.approx(0.7073553026, rel=1e-9)


def test_a_stepped_shaft():
    # Ugural, Mechanical Design, Example 9.6 [@ugural]: 400 N at the middle of 1 m, I 0.3e-6 m4 in
    # the outer quarters and twice that between, E 200 GPa: 3 W L^3 / (256 E I) = 0.078125 mm.
    thin, thick = ((64 * i / pi) ** 0.25 for i in (0.3e6, 0.6e6))
    at = [0, 250, 250, 750, 750, 1000]
    shaft = Work(at, [thin, thin, thick, thick, thin, thin], 200, 7850)
    assert deflection_mm(shaft, 400, 500, pinned(shaft)) == pytest.approx(0.078125, rel=1e-9)


def test_the_influence_coefficients_of_a_worked_example():
    # [@shigley-2011, Example 7-5, p. 388]: steel, 1 in through, 31 in long, E 30e6 psi; inches
    # per pound at 7, 20 and 15.5 in.
    psi = 6.894757293168e-6 * 1e3  # N/mm2
    shaft = Work([0, 31 * 25.4], [25.4, 25.4], 30e6 * psi / 1000, 7800)
    pound = 4.4482216152605
    for at, printed in ((7, 2.061e-4), (20, 3.534e-4), (15.5, 4.215e-4)):
        inches = deflection_mm(shaft, pound, at * 25.4, pinned(shaft)) / 25.4
        assert inches == pytest.approx(printed, rel=5e-4)


def test_the_whirling_of_the_same_shaft_alone():
    # [@shigley-2011, Example 7-5 (f)]: weight 0.282 lbf/in3, g 386.1 in/s2: 520.4 rad/s.
    density = 0.282 * 4.4482216152605 / (386.1 * 0.0254) / 0.0254**3
    shaft = Work([0, 31 * 25.4], [25.4, 25.4], 30e6 * 6.894757293168e-6, density)
    assert critical_rpm(shaft, pinned(shaft)) * pi / 30 == pytest.approx(520.4, rel=5e-4)


@pytest.mark.parametrize("seed", range(6))
def test_any_outline_agrees_with_a_numerical_unit_load_integral(seed):
    # integral of M m / E I by QUADPACK, on two centres (statically determinate).
    some = np.random.default_rng(seed)
    at = np.concatenate([[0.0], np.sort(some.uniform(20, 530, 8)), [550.0]])
    sizes = some.uniform(10, 40, at.size)
    piece = Work(at, sizes, 11.0, 700.0)
    length, x = 550.0, float(some.uniform(30, 520))

    def share(t):
        moment = min(t * (length - x), x * (length - t)) / length
        return moment**2 / (11_000 * pi / 64 * np.interp(t, at, sizes) ** 4)

    spans = pairwise([*sorted({*at, x})])
    summed = sum(quad(share, a, b, epsabs=0, epsrel=1e-11)[0] for a, b in spans)
    assert deflection_mm(piece, 1.0, x, pinned(piece)) == pytest.approx(summed, rel=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_elements_and_the_closed_form_agree_on_springs_and_grips_of_every_kind(seed):
    some = np.random.default_rng(seed)
    at = np.concatenate([[0.0], np.sort(some.uniform(20, 530, 6)), [550.0]])
    piece = Work(at, some.uniform(12, 30, at.size), 11.0, 700.0)
    held = (
        Support(0, 300.0, float(some.uniform(1e4, 1e7))),
        Support(140, inf, 1e6),
        Support(390, float(some.uniform(5, 200))),
        Support(550, inf, inf if seed % 2 else 0.0),
    )
    for x in (60.0, 271.5, 480.0):
        by_elements = elements.deflection_mm(piece, 7.0, x, held, 120)
        assert by_elements == pytest.approx(deflection_mm(piece, 7.0, x, held), rel=2e-5)


def test_elements_converge_with_order_four():
    taper = Work([0, 600], [24, 16], 11.0, 700.0)
    exact = float(deflection_mm(taper, 5.0, 300.0, pinned(taper)))
    counts = np.array([4, 8, 16, 32])
    errors = [
        abs(elements.deflection_mm(taper, 5.0, 300.0, pinned(taper), n) - exact) for n in counts
    ]
    orders = [np.log2(a / b) for a, b in pairwise(errors)]
    assert orders[-1] == pytest.approx(4.0, abs=0.1)
    assert all(order > 3.3 for order in orders)


# The roots that Young & Felgar tabulated in 1949, recomputed; four digits of them in Thomson,
# Theory of Vibration [@thomson, App. D].
@pytest.mark.parametrize(
    ("supports", "equation", "near"),
    [
        ((PIN0, PIN1), lambda z: sin(z), pi),
        ((FAST, PIN1), lambda z: tan(z) - tanh(z), 3.9266),
        ((FAST, Support(1, inf, inf)), lambda z: cos(z) * cosh(z) - 1, 4.7300),
        ((FAST,), lambda z: cos(z) * cosh(z) + 1, 1.8751),
    ],
)
def test_a_plain_rod_whirls_at_the_roots_of_beta_l(supports, equation, near):
    root = brentq(equation, near - 0.05, near + 0.05, xtol=1e-14)
    assert beta_l(ROD, supports)[0] == pytest.approx(root, rel=1e-7)
    rpm = critical_rpm(ROD, supports)
    assert rpm == pytest.approx(root**2 * 30 / pi, rel=2e-7)


def test_higher_frequencies_of_a_plain_rod():
    assert beta_l(ROD, (PIN0, PIN1), 4) == pytest.approx(pi * np.arange(1, 5), rel=1e-6)
    assert beta_l(ROD, (FAST, PIN1), 3)[2] == pytest.approx(10.210176123, rel=1e-6)
    assert beta_l(ROD, (FAST, Support(1, inf, inf)), 3)[2] == pytest.approx(10.995607838, rel=1e-6)
    assert beta_l(ROD, (FAST,), 2)[1] == pytest.approx(4.694091133, rel=1e-6)


@pytest.mark.parametrize("share", [0.5, 0.4, 1 / 3, 0.3, 0.2, 0.1])
def test_two_spans_whirl_as_the_continuous_beam_does(share):
    # sin zs sin z(1-s) sinh z = sinh zs sinh z(1-s) sin z, the two-span frequency equation.
    def equation(z):
        a, b = z * share, z * (1 - share)
        return sin(a) * sin(b) * sinh(z) - sinh(a) * sinh(b) * sin(z)

    found = beta_l(ROD, (PIN0, Support(share), PIN1))[0]
    if share == 0.5:
        assert found == pytest.approx(2 * pi, rel=1e-7)
    else:
        assert brentq(equation, found - 1e-3, found + 1e-3) == pytest.approx(found, rel=1e-7)
        lower = np.linspace(0.5, found - 2e-3, 400)
        assert len({np.sign(equation(z)) for z in lower}) == 1  # and it is the first


def test_the_second_frequency_over_a_rest_at_the_middle():
    # Each half is then pinned at its end and held by the other at the rest: 2 x 3.926602.
    found = beta_l(ROD, (PIN0, Support(0.5), PIN1), 2)
    assert found[1] == pytest.approx(2 * 3.926602312, rel=1e-6)


def test_a_rest_raises_the_first_frequency_to_the_second_without_it_and_no_further():
    # Courant's principle: at the node of the second mode the first becomes the second, 7.068583
    # with one end held fast (closed form); a rest at the middle of that span gives 6.78646
    # (computed once by finite elements of another make).
    without = beta_l(ROD, (FAST, PIN1), 2)[1]
    assert without == pytest.approx(7.068582745628732, rel=1e-6)
    found = [beta_l(ROD, (FAST, Support(s), PIN1))[0] for s in np.linspace(0.54, 0.58, 41)]
    assert max(found) <= without * (1 + 1e-9)
    assert max(found) == pytest.approx(without, rel=1e-5)
    assert beta_l(ROD, (FAST, Support(0.5), PIN1))[0] == pytest.approx(6.786462533507608, rel=1e-6)


def test_the_least_stiffness_that_does_as_well_as_a_rigid_rest():
    # Akesson & Olhoff 1988, from memory: for a cantilever 266.9 E I / L^3, at 0.7834 L, where its
    # second mode (closed form) stands still.
    z = 4.694091133
    share = (cosh(z) + cos(z)) / (sinh(z) + sin(z))
    node = brentq(lambda s: cosh(z * s) - cos(z * s) - share * (sinh(z * s) - sin(z * s)), 0.7, 0.9)
    assert node == pytest.approx(0.7834, abs=5e-5)

    def at(k):
        return beta_l(ROD, (FAST, Support(node, k)))[0]

    assert brentq(lambda k: at(k) - z * (1 - 1e-6), 200, 280) == pytest.approx(266.9, rel=3e-4)
    assert at(300.0) == pytest.approx(z, rel=1e-6)


@pytest.mark.parametrize("k", [10.0, 48.0, 500.0])
def test_a_yielding_rest_at_the_middle(k):
    # k L^3 / E I = 4 z^3 / (tanh(z/2) - tan(z/2)) (symmetry and the jump of the shear).
    z = brentq(lambda z: 4 * z**3 - k * (tanh(z / 2) - tan(z / 2)), pi + 1e-9, 2 * pi - 1e-9)
    assert beta_l(ROD, (PIN0, Support(0.5, k), PIN1))[0] == pytest.approx(z, rel=1e-7)


@pytest.mark.parametrize(
    ("k", "both", "one"), [(1.0, 3.39879933, None), (10.0, 4.15566423, 3.66464420)]
)
def test_ends_that_hold_a_little_against_tilting(k, both, one):
    ends = (Support(0, inf, k), Support(1, inf, k))
    assert beta_l(ROD, ends)[0] == pytest.approx(both, rel=1e-7)
    # Symmetric about the middle, E I v'' = -k v' at the end: 2 z + k (tan(z/2) + tanh(z/2)) = 0.
    root = brentq(lambda z: 2 * z + k * (tan(z / 2) + tanh(z / 2)), pi + 1e-6, 2 * pi - 1e-6)
    assert root == pytest.approx(both, rel=1e-7)
    if one:
        assert beta_l(ROD, (ends[0], PIN1))[0] == pytest.approx(one, rel=1e-7)


def cone_root(ratio, big, small):
    """omega L^2 sqrt(rho A / E I) at the big end of a truncated cone, by Bessel functions.

    u = x^-1 C_2(2 sqrt(lambda x)), C any of J, Y, I, K (Conway & Dubil 1965, from memory), x from
    the cone's point; the big end at x = 1 and the small at ``ratio``.
    """

    def rows(x, condition, lam):
        z = 2 * sqrt(lam * x)
        values = []
        for f, sign in ((jv, 1), (yv, 1), (iv, -1), (kv, 1)):
            n2, n3, n4 = (f(n, z) for n in (2, 3, 4))
            # d/dx (x^-1 C_2(z)) = -+ sqrt(lam) x^-3/2 C_3, and once more.
            u = n2 / x
            first = -sign * sqrt(lam) * x**-1.5 * n3
            second = lam * x**-2 * n4
            values.append((u, first, second))
        u, first, second = (np.array(v) for v in zip(*values, strict=True))
        return [u, first] if condition == "clamped" else [u, second]

    def determinant(w):
        lam = w / (1 - ratio) ** 2
        matrix = np.array(rows(1.0, big, lam) + rows(ratio, small, lam))
        return float(np.linalg.det(matrix / np.abs(matrix).max(axis=0)))

    grid = np.linspace(1.0, 30.0, 120)
    values = [determinant(w) for w in grid]
    i = next(i for i in range(len(grid) - 1) if values[i] * values[i + 1] < 0)
    return brentq(determinant, grid[i], grid[i + 1], xtol=1e-12)


@pytest.mark.parametrize("ratio", [0.25, 0.5, 0.75])
@pytest.mark.parametrize("big", ["pinned", "clamped"])
@pytest.mark.parametrize("small", ["pinned", "clamped"])
def test_truncated_cones_against_bessel_functions(ratio, big, small):
    cone = Work([0, 1], [1.0, ratio], UNIT_GPA, UNIT_DENSITY)
    holds = {"pinned": 0.0, "clamped": inf}
    supports = (Support(0, inf, holds[big]), Support(1, inf, holds[small]))
    omega = 2 * pi * frequencies_hz(cone, supports)[0]
    # Where the small end is a quarter of the big one, the elements there are felt.
    assert omega == pytest.approx(cone_root(ratio, big, small), rel=1e-5 if ratio == 0.25 else 2e-6)


@pytest.mark.parametrize(
    ("ratio", "clamped", "printed"),
    [(0.25, "big", 5.8230659), (0.5, "big", 4.6251503)],
)
def test_a_tapered_cantilever_whirls_as_published(ratio, clamped, printed):
    # Four times 5.8230659 is 23.29226; Mabie & Rogers 1972 print 23.289, 1e-4 low [@mabie-rogers].
    assert clamped == "big"
    cone = Work([0, 1], [1.0, ratio], UNIT_GPA, UNIT_DENSITY)
    assert 2 * pi * frequencies_hz(cone, (FAST,))[0] == pytest.approx(printed, rel=2e-6)
    if ratio == 0.25:
        # The third and fifth printed beside it, as read in a validation manual that follows them.
        higher = 8 * pi * frequencies_hz(cone, (FAST,), 5)
        assert higher[[0, 2, 4]] == pytest.approx([23.289, 165.23, 478.1], rel=5e-4)


def test_a_cone_that_runs_nearly_to_a_point():
    # Kirchhoff 1879: 8.719 for the sharp cone.
    cone = Work([0, 1], [1.0, 2e-5], UNIT_GPA, UNIT_DENSITY)
    found = 2 * pi * frequencies_hz(cone, (FAST,), 3)
    assert found[0] == pytest.approx(8.719259, rel=2e-4)
    # The third, a root of J2 I3 + I2 J3, which is 38.453 there.
    assert found[2] == pytest.approx(38.453771, rel=2e-4)


def test_a_rod_of_wood():
    # f = pi / 8 d / L^2 sqrt(E / rho), y = 4 F L^3 / (3 pi E d^4): closed forms.
    rod = Work([0, 600], [25, 25], 11, 700)
    assert frequencies_hz(rod, pinned(rod))[0] == pytest.approx(
        pi / 8 * 0.025 / 0.6**2 * sqrt(11e9 / 700), rel=1e-6
    )
    y = 4 * 20 * 600**3 / (3 * pi * 11_000 * 25**4)
    assert give_mm(Work([0, 300, 600], [25, 25, 25], 11, 700), 20)[1] == pytest.approx(y, rel=1e-12)
    # Half a millimetre under those 20 N: d = (64 F L^3 / (48 pi E y))^(1/4) = 24.0285 mm.
    thin = Work([0, 600], [24.0285, 24.0285], 11, 700)
    assert deflection_mm(thin, 20, 300, pinned(thin)) == pytest.approx(0.5, rel=1e-5)


def test_a_barrel_spindle_with_a_rest_agrees_with_a_library_of_rotors():
    # Computed once with ross 2.3.0, a rotor-dynamics library, to five digits: 97.5476 Hz, and
    # 130.5887 Hz with a rest of 20 N/mm at 300 mm.
    barrel = Work([0, 220, 550], [14, 24, 12], 11, 700)
    ends = pinned(barrel)
    assert frequencies_hz(barrel, ends)[0] == pytest.approx(97.5476, rel=1e-5)
    rested = frequencies_hz(barrel, (*ends, Support(300, 20.0)))
    assert rested[0] == pytest.approx(130.5887, rel=1e-5)
    assert deflection_mm(barrel, 20, 220, ends) == pytest.approx(0.67249279, rel=1e-6)


def timoshenko_rad_s(length_m, d_m, e_pa, g_pa, rho):
    """The first frequency of a pinned Timoshenko rod, exact: a quadratic in omega^2."""
    area, inertia, q, kappa = pi * d_m**2 / 4, pi * d_m**4 / 64, pi / length_m, 0.9
    a = rho**2 * inertia / (kappa * g_pa)
    b = -(rho * area + rho * inertia * q**2 * (1 + e_pa / (kappa * g_pa)))
    c = e_pa * inertia * q**4
    return sqrt((-b - sqrt(b * b - 4 * a * c)) / (2 * a))


def test_shear_does_not_matter_to_a_spindle():
    rod = Work([0, 600], [25, 25], 11, 700)
    ours = 2 * pi * frequencies_hz(rod, pinned(rod))[0]
    with_shear = timoshenko_rad_s(0.6, 0.025, 11e9, 0.7e9, 700)
    assert 0.005 < 1 - with_shear / ours < 0.0105
    # and the give: 12 E I / (kappa G A L^2) of it
    assert shear_part(rod) == pytest.approx(12 * (25**2 / 16) / 600**2 * 11 / 0.7 / 0.9, rel=0.03)
    assert shear_part(Work([0, 400], [25, 25], 11, 700)) == pytest.approx(0.05, abs=0.004)


def test_very_fine_outlines_lose_no_digits():
    at = np.linspace(0, 600, 2401)
    fine = Work(at, np.full(at.size, 25.0), 11, 700)
    coarse = Work([0, 600], [25, 25], 11, 700)
    for holds in (pinned(coarse), (Support(0), Support(271), Support(600))):
        assert frequencies_hz(fine, holds)[0] == pytest.approx(
            frequencies_hz(coarse, holds)[0], rel=1e-6
        )
    assert deflection_mm(fine, 5, 300, pinned(fine)) == pytest.approx(
        deflection_mm(coarse, 5, 300, pinned(coarse)), rel=1e-11
    )


def test_how_far_the_grip_of_the_ends_moves_the_first_whirling_speed():
    rod = Work([0, 600], [25, 25], 11, 700)
    one = critical_rpm(rod, (gripped(Support(0)), Support(600)))
    low, high = rpm_when_held(rod, pinned(rod))
    assert one / low == pytest.approx((3.926602312 / pi) ** 2, rel=1e-6)  # 1.56
    assert high / low == pytest.approx((4.730040745 / pi) ** 2, rel=1e-6)


def test_the_best_steady_of_a_plain_rod():
    rod = Work([0, 600], [25, 25], 11, 700)
    ends = pinned(rod)
    assert best_steady(rod) == pytest.approx(300, abs=0.05)
    # own-point flexibility with a rest at the middle: 0.001887 L^3 / E I, from 1/48
    at = np.linspace(0, 1, 4001)
    worst = deflection_mm(ROD, 1.0, at, (PIN0, Support(0.5), PIN1)).max()
    assert worst == pytest.approx(0.00188711, rel=5e-6)
    # one end held fast: 0.558 L, practically the node of the second mode (0.5575 L)
    held = (gripped(ends[0]), ends[1])
    assert best_steady(rod, held) / 600 == pytest.approx(0.558, abs=5e-4)


@pytest.mark.parametrize("stiffness", [inf, 60.0])
@pytest.mark.parametrize("cut", [None, (0.0, 210.0), [[30.0, 120.0], [400.0, 520.0]]])
def test_the_best_steady_is_what_trying_every_place_finds(stiffness, cut):
    piece = Work([0, 35, 35, 165, 236, 380, 520], [16, 16, 18, 25, 17, 13, 12.7], 12, 650)
    spans = [(0.0, 520.0)] if cut is None else np.reshape(cut, (-1, 2))
    tool = np.concatenate([np.linspace(a, b, 201) for a, b in spans])

    def worst(s):
        return deflection_mm(piece, 1.0, tool, (*pinned(piece), Support(s, stiffness))).max()

    tried = np.arange(4.0, 517.0, 6.0)
    least = min(worst(s) for s in tried)
    found = best_steady(piece, cut_mm=cut, stiffness_n_per_mm=stiffness)
    assert worst(found) <= least * (1 + 1e-6)
    near = min(worst(s) for s in found + np.linspace(-1, 1, 21))
    assert worst(found) <= near * (1 + 2e-4)
