from itertools import combinations, permutations
from math import inf, nan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from benchside.consistency import choose
from benchside.consistency.choose import arrange, best_set, unlikeness
from benchside.errors import OutOfRange
from tests.consistency.samples import scattered

tenths = st.integers(-9, 9).map(lambda n: n / 10)
sets = hnp.arrays(float, st.tuples(st.integers(3, 8), st.integers(1, 4)), elements=tenths)


def every_choice(sizes, k, weights, pins=()):
    """All choices by brute force: (worst, chosen), the best first."""
    return sorted(
        (np.round(np.max(np.ptp(sizes[list(c)], axis=0) * weights), 9), c)
        for c in combinations(range(len(sizes)), k)
        if set(pins) <= set(c)
    )


@given(sets, st.data())
@settings(max_examples=40)
def test_no_other_choice_is_more_alike(sizes, data):
    k = data.draw(st.integers(1, len(sizes)))
    weights = np.array(data.draw(st.lists(st.sampled_from([0.5, 1, 4]), min_size=sizes.shape[1],
                                          max_size=sizes.shape[1])))  # fmt: skip
    pins = data.draw(st.sets(st.integers(0, len(sizes) - 1), max_size=k))
    every = every_choice(sizes, k, weights, pins)
    found = best_set(sizes, k, weights, pins)
    assert found.worst == pytest.approx(every[0][0], abs=1e-9)
    assert (found.worst, found.chosen) in [(pytest.approx(w), c) for w, c in every]
    assert set(pins) <= set(found.chosen)
    assert found.worst_range_mm * weights[found.worst_column] == pytest.approx(found.worst)
    if len(every) == 1:
        assert found.next_best is None
    else:
        others = [worst for worst, chosen in every if chosen != found.chosen]
        assert found.next_best.chosen != found.chosen
        assert found.next_best.worst == pytest.approx(min(others), abs=1e-9)


def test_of_choices_as_good_the_one_nearest_the_middle_of_all_is_taken():
    # 0 and 10 decide; of those between, the ones about the median (5) are the likest to all.
    sizes = np.array([[0.0], [1.0], [5.0], [5.1], [9.0], [10.0]])
    assert best_set(sizes, 4, pins=[0, 5]).chosen == (0, 2, 3, 5)


def test_the_odd_spindle_is_not_chosen():
    sizes = scattered(1, 12, 5, sd=0.1)
    sizes[4, 2] += 1.5
    found = best_set(sizes, 11)
    assert 4 not in found.chosen
    assert found.next_best.worst_range_mm > found.worst_range_mm + 0.5


def test_of_two_sets_mixed_the_choice_comes_from_one():
    sizes = scattered(2, 16, 4, sd=0.05)
    sizes[::2] += 1.0
    assert set(best_set(sizes, 8).chosen) in ({*range(0, 16, 2)}, {*range(1, 16, 2)})


def test_decoration_does_not_outvote_a_tenon():
    # Leaving out row 0 costs 0.5 at the bead; leaving out row 2 costs 0.2 at the tenon.
    sizes = np.array([[0.0, 0.0], [0.0, 0.5], [0.2, 0.5]])
    assert best_set(sizes, 2).chosen == (1, 2)
    assert best_set(sizes, 2, weights=[1 / 0.1, 1 / 0.8]).chosen == (0, 1)


def test_a_piece_not_measured_everywhere_that_counts_is_named_and_not_chosen():
    sizes = np.array([[0.0, nan], [0.1, 0.1], [nan, 0.0], [0.3, 0.3]])
    found = best_set(sizes, 2)
    assert (found.chosen, found.left_out, found.next_best) == ((1, 3), (0, 2), None)
    found = best_set(sizes, 2, weights=[1, 0])
    assert (found.left_out, found.chosen) == ((2,), (0, 1))


def test_of_many_stations_too_one_not_measured_keeps_a_piece_out_unless_it_may_lack_one():
    sizes = np.array([[0.0] * 5, [0.4] * 5, [0.1] * 4 + [nan], [nan, nan, 0.1, 0.1, 0.1]])
    strict = best_set(sizes, 2)
    assert (strict.chosen, strict.left_out) == ((0, 1), (2, 3))
    assert choose.may_lack(np.ones(5)) == 1
    lenient = best_set(sizes, 2, may_miss=1)
    assert (lenient.chosen, lenient.left_out) == ((0, 2), (3,))
    assert choose.may_lack([1, 1, 1, 0]) == 0


def test_equal_pieces_are_all_as_good():
    found = best_set(np.full((6, 3), 12.7), 4)
    assert found.worst_range_mm == 0
    assert found.next_best.worst_range_mm == 0


def test_the_only_piece_is_the_choice():
    found = best_set([[12.7, 16.0]], 1)
    assert (found.chosen, found.worst_range_mm, found.next_best) == ((0,), 0, None)


@pytest.mark.parametrize(
    ("sizes", "k", "more"),
    [
        ([[1.0], [2.0]], 0, {}),
        ([[1.0], [2.0]], 3, {}),
        ([[1.0], [nan]], 2, {}),
        ([[1.0], [inf]], 1, {}),
        ([1.0, 2.0], 1, {}),
        (np.zeros((3, 0)), 1, {}),
        ([[1.0], [2.0]], 1, {"weights": [0.0]}),
        ([[1.0], [2.0]], 1, {"weights": [-1.0]}),
        ([[1.0], [2.0]], 1, {"weights": [1.0, 1.0]}),
        ([[1.0], [2.0]], 1, {"pins": [2]}),
        ([[1.0], [nan], [2.0]], 1, {"pins": [1]}),
        ([[1.0], [2.0]], 1, {"pins": [0, 1]}),
    ],
)
def test_a_choice_that_cannot_be_made_is_refused(sizes, k, more):
    with pytest.raises(OutOfRange):
        best_set(sizes, k, **more)


small = hnp.arrays(float, st.tuples(st.integers(2, 6), st.integers(1, 3)), elements=tenths)


@given(small, st.data())
@settings(max_examples=20)
def test_no_other_order_is_better_in_a_short_row(sizes, data):
    count = len(sizes)
    pinned = data.draw(st.permutations(range(count)))
    pins = {i: pinned[i] for i in range(data.draw(st.integers(0, count)))}
    if data.draw(st.booleans()):
        sizes[data.draw(st.integers(0, count - 1)), 0] = nan
    order = arrange(sizes, pins=pins)
    every = np.array(list(permutations(range(count))))
    for piece, place in pins.items():
        every = every[every[:, place] == piece]
    unlike = choose._unlike(sizes, np.ones(sizes.shape[1]))[every[:, :, None], every[:, None]]
    least = np.min(np.sum(choose._looked_at(count) * unlike, axis=(1, 2)))
    assert unlikeness(sizes, order) == pytest.approx(least, abs=1e-9)
    assert all(order[place] == piece for piece, place in pins.items())


def test_mates_stand_mirrored_left_and_right():
    # Four pairs of equal pieces, two of a kind, far apart from each other.
    sizes = np.array([[0.0], [0.5], [1.0], [1.5]] * 2)
    order = arrange(sizes)
    assert [sizes[i, 0] for i in order] == [sizes[i, 0] for i in reversed(order)]


def test_an_odd_spindle_goes_to_an_end():
    for seed in range(5):
        sizes = scattered(seed, 9, 4, sd=0.05)
        sizes[3] += 1.0
        assert 3 in (arrange(sizes)[0], arrange(sizes)[-1])


def test_a_piece_is_pinned_to_its_place():
    order = arrange(scattered(4, 20, 3), pins={7: 0, 2: 19, 5: 10})
    assert (order[0], order[19], order[10]) == (7, 2, 5)
    assert sorted(order) == list(range(20))


@pytest.mark.parametrize("count", [7, 10])
def test_the_way_of_long_rows_comes_near_the_best_of_all_in_short_ones(count):
    for seed in range(4):
        unlike = choose._unlike(scattered(seed, count, 3), np.ones(3))
        far = [
            choose._cost(unlike, way(unlike, {})) for way in (choose._exchanged, choose._outside_in)
        ]
        assert far[1] - 1e-9 <= far[0] <= 1.05 * far[1]


def test_a_long_row_comes_near_the_best_known():
    # A row of twenty made of ten pairs: the mirrored order, sizes falling to the ends, is as good
    # as can be by eye.
    steps = np.arange(10) * 0.1
    sizes = np.repeat(steps, 2)[:, None]
    by_eye = [*range(0, 20, 2), *range(19, 0, -2)]
    found = arrange(sizes)
    assert unlikeness(sizes, found) <= unlikeness(sizes, by_eye) + 1e-9


def test_no_two_of_a_long_row_are_better_the_other_way_about():
    sizes = scattered(3, 16, 4)
    pins = {5: 2, 9: 11}
    order = list(arrange(sizes, pins=pins))
    least = unlikeness(sizes, order)
    for one, other in combinations(set(range(16)) - set(pins.values()), 2):
        swapped = order.copy()
        swapped[one], swapped[other] = order[other], order[one]
        assert unlikeness(sizes, swapped) >= least - 1e-9
    assert [order[place] for place in pins.values()] == list(pins)


def test_a_choice_among_hundreds_is_the_one_the_rule_gives():
    # One size each: the closest k of a sorted line lie side by side.
    sizes = np.sort(np.random.default_rng(1).normal(0, 0.3, 200))
    least = np.min(sizes[29:] - sizes[:-29])
    assert best_set(sizes[:, None], 30).worst_range_mm == pytest.approx(least)


def test_the_same_set_is_always_arranged_alike():
    sizes = scattered(8, 16, 3)
    assert arrange(sizes) == arrange(sizes)


@pytest.mark.parametrize("count", [0, 1, 2])
def test_a_row_of_hardly_any_is_no_trouble(count):
    assert arrange(np.zeros((count, 2))) == tuple(range(count))


def test_equal_pieces_and_unread_ones_are_arranged_all_the_same():
    assert sorted(arrange(np.full((5, 2), 12.7))) == [0, 1, 2, 3, 4]
    assert sorted(arrange(np.full((5, 2), nan))) == [0, 1, 2, 3, 4]


@pytest.mark.parametrize("pins", [{5: 0}, {0: 5}, {0: 1, 1: 1}, {0: -1}])
def test_pins_that_do_not_fit_are_refused(pins):
    with pytest.raises(OutOfRange):
        arrange(np.zeros((4, 2)), pins=pins)


@pytest.mark.parametrize("order", [[0, 1], [0, 1, 1], [0, 1, 3]])
def test_an_order_must_hold_every_piece_once(order):
    with pytest.raises(OutOfRange):
        unlikeness(np.zeros((3, 2)), order)


def test_what_an_order_costs_can_be_worked_in_the_head():
    # 0, 1, 3 in a row: neighbours 1 + 2; mates |0 - 3| twice; the middle one is the median, and
    # the ends count for nothing.
    assert unlikeness([[0.0], [1.0], [3.0]], [0, 1, 2]) == pytest.approx(3 + 6)
    # The odd one in the middle: neighbours 3 + 2, mates 1 twice, and itself 2 off, twice.
    assert unlikeness([[0.0], [1.0], [3.0]], [0, 2, 1]) == pytest.approx(5 + 2 + 4)


def test_a_piece_by_itself_is_unlike_nothing():
    assert unlikeness([[12.0, 18.0]], [0]) == 0.0
