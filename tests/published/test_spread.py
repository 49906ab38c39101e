"""Spread and end to end, against certified and printed values."""

import numpy as np
import pytest

from benchside.consistency.spread import end_to_end, spread


def numbers(text):
    return [float(word) for word in text.split()]


# Univariate summary statistics, Lew and Lottery (public domain) [@nist-strd].
LEW = """
-213 -564 -35 -15 141 115 -420 -360 203 -338 -431 194 -220 -513 154 -125 -559 92 -21 -579 -52 99
-543 -175 162 -457 -346 204 -300 -474 164 -107 -572 -8 83 -541 -224 180 -420 -374 201 -236 -531 83
27 -564 -112 131 -507 -254 199 -311 -495 143 -46 -579 -90 136 -472 -338 202 -287 -477 169 -124
-568 17 48 -568 -135 162 -430 -422 172 -74 -577 -13 92 -534 -243 194 -355 -465 156 -81 -578 -64
139 -449 -384 193 -198 -538 110 -44 -577 -6 66 -552 -164 161 -460 -344 205 -281 -504 134 -28 -576
-118 156 -437 -381 200 -220 -540 83 11 -568 -160 172 -414 -408 188 -125 -572 -32 139 -492 -321 205
-262 -504 142 -83 -574 0 48 -571 -106 137 -501 -266 190 -391 -406 194 -186 -553 83 -13 -577 -49
103 -515 -280 201 300 -506 131 -45 -578 -80 138 -462 -361 201 -211 -554 32 74 -533 -235 187 -372
-442 182 -147 -566 25 68 -535 -244 194 -351 -463 174 -125 -570 15 72 -550 -190 172 -424 -385 198
-218 -536 96
"""

LOTTERY = """
162 671 933 414 788 730 817 33 536 875 670 236 473 167 877 980 316 950 456 92 517 557 956 954 104
178 794 278 147 773 437 435 502 610 582 780 689 562 964 791 28 97 848 281 858 538 660 972 671 613
867 448 738 966 139 636 847 659 754 243 122 455 195 968 793 59 730 361 574 522 97 762 431 158 429
414 22 629 788 999 187 215 810 782 47 34 108 986 25 644 829 630 315 567 919 331 207 412 242 607
668 944 749 168 864 442 533 805 372 63 458 777 416 340 436 140 919 350 510 572 905 900 85 389 473
758 444 169 625 692 140 897 672 288 312 860 724 226 884 508 976 741 476 417 831 15 318 432 241 114
799 955 833 358 935 146 630 830 440 642 356 373 271 715 367 393 190 669 8 861 108 795 269 590 326
866 64 523 862 840 219 382 998 4 628 305 747 247 34 747 729 645 856 974 24 568 24 694 608 480 410
729 947 293 53 930 223 203 677 227 62 455 387 318 562 242 428 968
"""

# 100 gear diameters, in inches (public domain) [@nist-handbook, 1.3.5.8].
GEAR = """
1.006 0.996 0.998 1.000 0.992 0.993 1.002 0.999 0.994 1.000 0.998 1.006 1.000 1.002 0.997 0.998
0.996 1.000 1.006 0.988 0.991 0.987 0.997 0.999 0.995 0.994 1.000 0.999 0.996 0.996 1.005 1.002
0.994 1.000 0.995 0.994 0.998 0.996 1.002 0.996 0.998 0.998 0.982 0.990 1.002 0.984 0.996 0.993
0.980 0.996 1.009 1.013 1.009 0.997 0.988 1.002 0.995 0.998 0.981 0.996 0.990 1.004 0.996 1.001
0.998 1.000 1.018 1.010 0.996 1.002 0.998 1.000 1.006 1.000 1.002 0.996 0.998 0.996 1.002 1.006
1.002 0.998 0.996 0.995 0.996 1.004 1.004 0.998 0.999 0.991 0.991 0.995 0.984 0.994 0.997 0.997
0.991 0.998 1.004 0.997
"""

# Linear least squares, Norris (public domain) [@nist-strd].
NORRIS_X = """
0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5
11.6 556.0 228.1 995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1
448.9 0.5
"""

NORRIS_Y = """
0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8
557.7 228.3 998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2
0.2
"""

# Certified mean and standard deviation. NumAcc2 and 3 by their own rule:
# one value, then 1000 to either side of it in turn. Last number: relative error allowed; NumAcc3's
# decimals have no exact binary form, which costs it digits whatever the method.
STRD = {
    "Lew": (numbers(LEW), -177.435, 277.332168044316, 1e-12),
    "Lottery": (numbers(LOTTERY), 518.95871559633, 291.699727470969, 1e-12),
    "NumAcc1": ([10000001.0, 10000003.0, 10000002.0], 10000002.0, 1.0, 1e-12),
    "NumAcc2": ([1.2] + [1.1, 1.3] * 500, 1.2, 0.1, 1e-12),
    "NumAcc3": ([1000000.2] + [1000000.1, 1000000.3] * 500, 1000000.2, 0.1, 1e-8),
}


@pytest.mark.parametrize("name", STRD)
def test_mean_and_standard_deviation_are_the_certified_ones(name):
    values, mean, sd, relative = STRD[name]
    found = spread(values)
    assert found.mean_mm == pytest.approx(mean, rel=1e-12)
    assert found.sd_mm == pytest.approx(sd, rel=relative)
    assert found.n == len(values)


# Boost.Math documentation, chi-squared distribution, "Confidence intervals as a function of the
# number of observations": 95 % limits as multiples of the standard deviation, four places.
MULTIPLES = [
    (2, 0.4461, 31.9102),
    (3, 0.5207, 6.2847),
    (4, 0.5665, 3.7285),
    (5, 0.5991, 2.8736),
    (6, 0.6242, 2.4526),
    (7, 0.6444, 2.2021),
    (8, 0.6612, 2.0353),
    (9, 0.6755, 1.9158),
    (10, 0.6878, 1.8256),
    (15, 0.7321, 1.5771),
    (20, 0.7605, 1.4606),
    (30, 0.7964, 1.3443),
    (40, 0.8192, 1.2840),
]


@pytest.mark.parametrize(("n", "low", "high"), MULTIPLES)
def test_a_small_set_knows_its_spread_only_within_the_printed_limits(n, low, high):
    found = spread(np.linspace(0.0, 1.0, n))
    # 6e-5: half of the last place printed, and a little for its rounding.
    assert found.sd_low_mm / found.sd_mm == pytest.approx(low, abs=6e-5)
    assert found.sd_high_mm / found.sd_mm == pytest.approx(high, abs=6e-5)


def test_the_gears_have_the_handbook_s_limits():
    # [@nist-handbook, 1.3.5.8]; limits as the Boost.Math documentation prints them, mirroring it:
    # 0.00551 and 0.00729. Half of the last place printed, and a little for its rounding.
    found = spread(numbers(GEAR))
    assert found.sd_mm == pytest.approx(0.006278908, rel=1e-6)
    assert found.sd_low_mm == pytest.approx(0.00551, abs=6e-6)
    assert found.sd_high_mm == pytest.approx(0.00729, abs=6e-6)


def test_the_slope_along_a_straight_is_the_certified_one():
    # Norris [@nist-strd]: b1 = 1.00211681802045.
    x = numbers(NORRIS_X)
    found = end_to_end(x, numbers(NORRIS_Y))
    assert found.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert found.change_mm == pytest.approx(1.00211681802045 * (max(x) - min(x)), rel=1e-12)
