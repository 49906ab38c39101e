"""Spread and end to end, against certified and printed values."""

from math import sqrt

import numpy as np
import pytest

from benchside.consistency.enough import errors_apart
from benchside.consistency.spread import end_to_end, prediction_factor, spread


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

# 195 readings of a heat flow meter (public domain) [@nist-handbook, 1.3.5.2].
ZARR13 = """
9.206343 9.299992 9.277895 9.305795 9.275351 9.288729 9.287239 9.260973 9.303111 9.275674 9.272561
9.288454 9.255672 9.252141 9.29767 9.266534 9.256689 9.277542 9.248205 9.252107 9.276345 9.278694
9.267144 9.246132 9.238479 9.269058 9.248239 9.257439 9.268481 9.288454 9.258452 9.28613 9.251479
9.257405 9.268343 9.291302 9.21946 9.270386 9.218808 9.241185 9.269989 9.226585 9.258556 9.286184
9.320067 9.327973 9.262963 9.248181 9.238644 9.225073 9.220878 9.271318 9.252072 9.281186 9.270624
9.294771 9.301821 9.278849 9.23668 9.233988 9.244687 9.221601 9.207325 9.258776 9.275708 9.268955
9.257269 9.264979 9.2955 9.292883 9.264188 9.280731 9.267336 9.300566 9.253089 9.261376 9.238409
9.225073 9.235526 9.23951 9.264487 9.244242 9.277542 9.310506 9.261594 9.259791 9.253089 9.245735
9.284058 9.251122 9.275385 9.254619 9.279526 9.275065 9.261952 9.275351 9.252433 9.230263 9.25515
9.26878 9.290389 9.274161 9.255707 9.261663 9.250455 9.261952 9.264041 9.264509 9.242114 9.239674
9.221553 9.241935 9.215265 9.28593 9.271559 9.266046 9.285299 9.268989 9.267987 9.246166 9.231304
9.240768 9.260506 9.274355 9.292376 9.27117 9.267018 9.308838 9.264153 9.278822 9.255244 9.229221
9.253158 9.256292 9.262602 9.219793 9.258452 9.267987 9.267987 9.248903 9.235153 9.242933 9.253453
9.262671 9.242536 9.260803 9.259825 9.253123 9.240803 9.238712 9.263676 9.243002 9.246826 9.252107
9.261663 9.247311 9.306055 9.237646 9.248937 9.256689 9.265777 9.299047 9.244814 9.287205 9.300566
9.256621 9.271318 9.275154 9.281834 9.253158 9.269024 9.282077 9.277507 9.28491 9.23984 9.268344
9.247778 9.225039 9.23075 9.270024 9.265095 9.284308 9.280697 9.263032 9.291851 9.252072 9.244031
9.283269 9.196848 9.231372 9.232963 9.234956 9.216746 9.274107 9.273776
"""


def digits_of_pi(count):
    """The first decimal digits, by Machin's formula in whole numbers."""
    one = 10 ** (count + 10)

    def arctan_of_one_in(n):
        term = total = one // n
        k, sign = 3, -1
        while term := term // (n * n):
            total += sign * (term // k)
            k, sign = k + 2, -sign
        return total

    pi = 4 * (4 * arctan_of_one_in(5) - arctan_of_one_in(239))
    told = "".join(str(half) for half in divmod(pi // 10**11, 10 ** (count // 2)))
    assert len(told) == count
    return [float(digit) for digit in told]


# The data set has a 3 where the 957th digit is 8; what is certified is of that.
PI_DIGITS = digits_of_pi(5000)
PI_DIGITS[956] -= 5

# Certified mean and standard deviation. NumAcc2 and 3 by their own rule:
# one value, then 1000 to either side of it in turn. Last number: relative error allowed; NumAcc3's
# decimals have no exact binary form, which costs it digits whatever the method.
STRD = {
    "Lew": (numbers(LEW), -177.435, 277.332168044316, 1e-12),
    "Lottery": (numbers(LOTTERY), 518.95871559633, 291.699727470969, 1e-12),
    "PiDigits": (PI_DIGITS, 4.5348, 2.86733906028871, 1e-12),
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
    # Against a sigma of 0.1: T = 0.3903, beside the critical values 73.36 and 128.4.
    t = 99 * found.sd_mm**2 / 0.1**2
    assert t == pytest.approx(0.3903, abs=6e-6)
    assert t * (0.1 / found.sd_high_mm) ** 2 == pytest.approx(73.36, abs=6e-3)
    assert t * (0.1 / found.sd_low_mm) ** 2 == pytest.approx(128.4, abs=0.06)


def test_the_mean_of_195_and_its_limits():
    # [@nist-handbook, 1.3.5.2]: 9.26146, 0.02278881 (single precision), t = 1.972, limits of the
    # mean 9.25824 and 9.26468. What holds the next piece is t sqrt(1 + 1/n).
    found = spread(numbers(ZARR13))
    assert found.n == 195
    assert found.mean_mm == pytest.approx(9.26146, abs=6e-6)
    assert found.sd_mm == pytest.approx(0.02278881, rel=1e-6)
    t = prediction_factor(195) / sqrt(1 + 1 / 195)
    assert t == pytest.approx(1.972, abs=6e-4)
    reach = t * found.sd_mm / sqrt(195)
    assert found.mean_mm - reach == pytest.approx(9.25824, abs=6e-6)
    assert found.mean_mm + reach == pytest.approx(9.26468, abs=6e-6)
    sure = prediction_factor(195, confidence=0.99) / sqrt(1 + 1 / 195) * found.sd_mm / sqrt(195)
    assert found.mean_mm - sure == pytest.approx(9.25721, abs=6e-6)
    assert found.mean_mm + sure == pytest.approx(9.26571, abs=6e-6)


@pytest.mark.parametrize(
    ("n", "q"), [(2, 2.77), (3, 3.31), (4, 3.63), (6, 4.03), (10, 4.47), (20, 5.01)]
)
def test_so_many_errors_lie_apart_as_the_table_of_the_studentized_range_says(n, q):
    # 5 %, endless degrees of freedom, two places; the table is in any text of statistics, from
    # memory.
    assert errors_apart(n) == pytest.approx(q, abs=6e-3)


def test_the_slope_along_a_straight_is_the_certified_one():
    # Norris [@nist-strd]: b1 = 1.00211681802045.
    x = numbers(NORRIS_X)
    found = end_to_end(x, numbers(NORRIS_Y))
    assert found.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert found.change_mm == pytest.approx(1.00211681802045 * (max(x) - min(x)), rel=1e-12)
