"""Variance components and the step of the calipers, against certified and printed values."""

import numpy as np
import pytest

from benchside.consistency.form import ovality
from benchside.consistency.spread import (
    of_reading,
    pooled_sd_mm,
    repeatability,
    spread,
    step_floor_mm,
)

# Analysis of variance, SiRstv (public domain) [@nist-strd].
SIRSTV = [
    [196.3052, 196.1240, 196.1890, 196.2569, 196.3403],
    [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
    [196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
    [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
    [196.2119, 196.1051, 196.1850, 196.0052, 196.2090],
]


def simon_lesage(offset):
    """SmLs01, 04 and 07 by their own rule: nine treatments of 21, the middle then a tenth to
    either side in turn, on an offset of 0, a million or a billion thousand."""
    middles = [1.4] + [1.3, 1.5] * 4
    return [[offset + round(m + by, 1) for by in [0] + [-0.1, 0.1] * 10] for m in middles]


# Certified: between and within sums of squares, F, residual standard deviation. Last number:
# relative error allowed; the offsets leave float64 no more digits than that.
STRD = {
    "SiRstv": (SIRSTV, 0.0511462616, 0.21663656, 1.18046237440255, 0.104076068334656, 1e-9),
    "SmLs01": (simon_lesage(0), 1.68, 1.8, 21.0, 0.1, 1e-12),
    "SmLs04": (simon_lesage(1e6), 1.68, 1.8, 21.0, 0.1, 1e-8),
    "SmLs07": (simon_lesage(1e12), 1.68, 1.8, 21.0, 0.1, 1e-3),
}


@pytest.mark.parametrize("name", STRD)
def test_the_repeat_test_finds_the_certified_parts(name):
    readings, between, within, f, sd, relative = STRD[name]
    found = repeatability(readings)
    assert found.ss_between == pytest.approx(between, rel=relative)
    assert found.ss_within == pytest.approx(within, rel=relative)
    assert found.f == pytest.approx(f, rel=relative)
    assert found.sd_mm == pytest.approx(sd, rel=relative)


def test_three_groups_of_five_as_the_handbook_works_them():
    # [@nist-handbook, 7.4.3.3]: 27.897, 17.452 (from memory) and F = 9.59.
    found = repeatability(
        [[6.9, 5.4, 5.8, 4.6, 4.0], [8.3, 6.8, 7.8, 9.2, 6.5], [8.0, 10.5, 8.1, 6.9, 9.3]]
    )
    assert found.ss_between == pytest.approx(27.897, abs=6e-4)
    assert found.ss_within == pytest.approx(17.452, abs=6e-4)
    assert found.f == pytest.approx(9.59, abs=6e-3)


def test_turned_pins_from_five_machines():
    # [@nist-handbook, 3.2.3.1], diameters in inches; sums of squares from memory.
    pins = np.array(
        [
            [0.125, 0.118, 0.123, 0.126, 0.118],
            [0.127, 0.122, 0.125, 0.128, 0.129],
            [0.125, 0.120, 0.125, 0.126, 0.127],
            [0.126, 0.124, 0.124, 0.127, 0.120],
            [0.128, 0.119, 0.126, 0.129, 0.121],
        ]
    ).T
    found = repeatability(pins)
    assert found.ss_between == pytest.approx(0.000137, abs=6e-7)
    assert found.ss_within == pytest.approx(0.000132, abs=6e-7)
    # The page prints F = 4.86, from mean squares rounded to .000034 and .000007. Unrounded it is
    # this; we keep the disagreement in view.
    assert found.f == pytest.approx(5.206, abs=6e-4)


# Turned screws of three machines, in ten-thousandths of an inch (public domain)
# [@nist-handbook, 3.5.2.2].
SCREWS = [
    """
1247 1264 1252 1253 1263 1251 1254 1239 1235 1257 1271 1253 1265 1254 1243 1240 1246 1244 1271
1241 1251 1238 1255 1234 1235 1266 1250 1246 1243 1248 1248 1235 1243 1265 1270 1229 1250 1248
1252 1243 1255 1237 1235 1264 1239 1266 1242 1231 1232 1244 1233 1237 1244 1254 1247 1254 1258
1260 1235 1273
    """,
    """
1239 1239 1239 1231 1221 1216 1233 1228 1227 1229 1220 1239 1237 1216 1235 1240 1224 1236 1236
1217 1247 1220 1218 1237 1234 1229 1235 1237 1224 1224 1239 1226 1224 1239 1237 1227 1218 1220
1231 1244 1219 1243 1231 1223 1218 1218 1225 1238 1244 1236 1231 1223 1241 1215 1221 1236 1229
1205 1241 1232
    """,
    """
1255 1215 1219 1253 1232 1266 1271 1209 1212 1249 1228 1260 1242 1236 1248 1243 1260 1231 1234
1246 1207 1279 1268 1222 1244 1225 1234 1244 1207 1264 1224 1254 1237 1254 1269 1236 1248 1253
1252 1237 1217 1220 1227 1202 1270 1224 1219 1266 1254 1258 1236 1247 1240 1235 1240 1217 1235
1242 1247 1250
    """,
]


def test_turned_screws_of_three_machines():
    # What the machines make of it in the table of four factors: 0.000111, from memory.
    found = repeatability([[int(word) / 1e4 for word in text.split()] for text in SCREWS])
    assert (found.places, found.readings) == (3, 180)
    assert found.ss_between == pytest.approx(0.000111, abs=6e-7)


def test_groups_of_unlike_size():
    # Log lead: two background wells pooled, four others [@epa-unified-2009, Example 17-1].
    gap = [np.nan] * 4
    found = repeatability(
        [
            [4.06, 3.99, 3.40, 3.83, 3.83, 4.34, 3.47, 4.22],
            [4.61, 5.14, 3.67, 3.97, *gap],
            [3.53, 4.54, 4.26, 4.42, *gap],
            [4.11, 4.29, 5.50, 5.31, *gap],
            [4.42, 5.21, 5.29, 5.08, *gap],
        ]
    )
    assert found.ss_between == pytest.approx(4.2888, abs=6e-5)
    assert found.ss_within == pytest.approx(4.6456, abs=6e-5)
    assert found.f == pytest.approx(4.3852, abs=6e-5)
    assert found.sd_mm == pytest.approx(0.4945, abs=6e-5)


# Glucose in serum: eight laboratories, three results each, five materials [@astm-e691, Table 1].
GLUCOSE = [
    [[41.03, 41.45, 41.37], [41.17, 42.0, 41.15], [41.01, 40.68, 42.66], [39.37, 42.37, 42.63],
     [41.88, 41.19, 41.32], [43.28, 40.5, 42.28], [41.08, 41.27, 39.02], [43.36, 42.65, 41.72]],
    [[78.28, 78.18, 78.49], [77.78, 80.38, 79.54], [79.18, 79.72, 80.81], [84.08, 78.6, 81.92],
     [78.16, 79.58, 78.33], [78.66, 79.27, 81.75], [79.76, 81.45, 77.35], [80.44, 80.8, 79.8]],
    [[132.66, 133.83, 133.1], [132.92, 136.9, 136.4], [132.61, 135.8, 135.36],
     [138.5, 138.3, 135.69], [131.9, 134.14, 133.76], [137.21, 135.14, 137.5],
     [130.97, 131.59, 134.92], [135.46, 135.14, 133.63]],
    [[193.71, 193.59, 193.65], [190.88, 200.14, 194.3], [192.71, 193.28, 190.28],
     [195.85, 196.36, 199.43], [192.59, 191.44, 195.12], [195.34, 198.26, 198.13],
     [194.66, 191.99, 187.13], [197.56, 195.99, 200.82]],
    [[292.78, 294.09, 292.89], [292.27, 309.4, 295.08], [295.53, 290.14, 292.34],
     [295.19, 295.44, 296.83], [293.93, 292.48, 294.28], [297.74, 296.8, 290.33],
     [287.29, 293.76, 289.36], [298.46, 295.28, 296.12]],
]  # fmt: skip

# [@astm-e691, Table 11], from memory: mean, repeatability and reproducibility.
E691 = [
    (41.5183, 1.063, 1.063),
    (79.6796, 1.495, 1.580),
    (134.7263, 1.543, 2.148),
    (194.717, 2.625, 3.366),
    (294.492, 3.935, 4.192),
]


@pytest.mark.parametrize("material", range(5))
def test_hands_that_read_alike_and_hands_that_do_not(material):
    mean, within, both = E691[material]
    found = repeatability(GLUCOSE[material])
    assert spread(GLUCOSE[material]).mean_mm == pytest.approx(mean, abs=6e-4)
    assert found.sd_mm == pytest.approx(within, abs=6e-4)
    assert found.total_sd_mm == pytest.approx(both, abs=6e-4)


def test_one_mistyped_result_spoils_the_published_repeatability():
    # The data file that goes round has 148.30 for 138.30; only 138.30 gives the printed 1.543.
    slipped = np.array(GLUCOSE[2])
    slipped[3, 1] = 148.3
    assert repeatability(slipped).sd_mm > 1.543 + 1


@pytest.mark.parametrize(("step", "u"), [(0.01, 0.0028868), (0.001, 0.00028868)])
def test_what_a_step_hides(step, u):
    # [@gum-2008, F.2.2.1]: 0.29 of a step; five places as restated in Quality Progress, 2016.
    assert step_floor_mm(step) == pytest.approx(u, abs=6e-7)
    assert repeatability([[10.0, 10.0, 10.0]], step).sd_mm == pytest.approx(u, abs=6e-7)


@pytest.mark.parametrize(("lobes", "ovality_mm"), [(2, 0.4), (3, 0.0)])
def test_calipers_see_an_oval_twice_and_three_flats_not_at_all(lobes, ovality_mm):
    # The outline R + a cos(lobes t), R = 10 and a = 0.1, is 0.2 out of round by definition
    # [@iso-1101, roundness]; its diameters follow by geometry.
    t = np.array([0.0, np.pi, np.pi / 2, 3 * np.pi / 2])
    radius = 10 + 0.1 * np.cos(lobes * t)
    found = ovality(radius[0] + radius[1], radius[2] + radius[3], 0.01)
    assert found.apart_mm == pytest.approx(ovality_mm)
    if lobes == 2:
        assert found.out_of_round_mm == pytest.approx(0.2)
    else:
        assert not found.oval


def test_the_ratio_of_two_spreads_has_the_handbook_s_limits():
    # Ceramic strength, two batches of 240 [@nist-handbook, 1.3.5.9]: F = 1.123, critical at 2.5 %
    # 0.7756 and at 97.5 % 1.289. Standard deviations as read, to three places.
    found = of_reading(65.549, 239, 61.854, 239)
    assert 1 / found.share == pytest.approx(1.123, abs=5e-4)
    assert found.share / found.low == pytest.approx(1.289, abs=5e-4)
    assert of_reading(80, 239, 60, 239).high / (60 / 80) ** 2 == pytest.approx(1 / 0.7756, abs=5e-4)


def test_what_of_six_targets_read_by_four_is_the_targets():
    # [@shrout-fleiss-1979, Tables 2 to 4]: six targets, four judges; F = 1.79 printed to two
    # figures, and the intraclass correlation of the one-way case 0.17.
    found = repeatability(
        [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
    )
    assert found.f == pytest.approx(1.79, abs=5e-3)
    share = found.between_sd_mm**2 / found.total_sd_mm**2
    assert share == pytest.approx(0.17, abs=5e-3)


def test_repeatability_pooled_over_five_parts():
    # [@nist-handbook, 2.4.4.4]: sums of squares of five wafers, 60 degrees of freedom each, pool
    # to s1 = 0.1029.
    sums = np.array([0.48115, 0.69209, 0.48483, 1.21752, 0.30076])
    assert pooled_sd_mm(np.sqrt(sums / 60).tolist(), [60] * 5) == pytest.approx(0.1029, abs=5e-5)
    assert float(np.sum(sums)) == pytest.approx(3.17635, abs=6e-6)


def test_two_samples_pooled():
    # [@nist-handbook, 1.3.5.3]: 249 and 79 cars, 6.41470 and 6.10771 pool to 6.34260.
    assert pooled_sd_mm([6.4147, 6.10771], [248, 78]) == pytest.approx(6.3426, abs=6e-5)
