from math import inf, nan

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchside.errors import OutOfRange
from benchside.lathe.speed import (
    below,
    ceiling_rpm,
    ceilings,
    habit_rpm,
    kept_rpm,
    published,
    rim_speed_m_s,
    to_heed,
)

SIZES = st.floats(3, 400)
SPEEDS = st.one_of(st.none(), st.floats(100, 9000))


@given(SIZES, st.booleans(), SPEEDS, SPEEDS)
@settings(max_examples=50)
def test_the_ceiling_is_the_least_of_the_reasons_there_are(mm, finishing, whirl, lathe):
    found = ceilings(mm, finishing=finishing, whirl_rpm=whirl, lathe_rpm=lathe)
    by_hand = [habit_rpm(mm, finishing=finishing)]
    by_hand += [whirl / 2] if whirl else []
    by_hand += [lathe] if lathe else []
    assert [c.rpm for c in found] == sorted(by_hand)
    assert ceiling_rpm(mm, finishing=finishing, whirl_rpm=whirl, lathe_rpm=lathe) == min(by_hand)


def test_the_steps_below_a_ceiling():
    assert below((2000, 500, 1100), 1100.0) == (500, 1100)
    assert below((500, 1100), 400.0) == ()


@pytest.mark.parametrize(
    ("text", "rpm"),
    [
        ("900", 900),
        ("about 1800", 1800),
        ("900 to 1100", 1100),
        ("1,800 rpm", 1800),
        ("pulley 3", None),
        ("third step, 750", 750),
        ("", None),
        ("fast", None),
    ],
)
def test_the_speed_in_a_maker_s_own_note(text, rpm):
    assert kept_rpm(text) == rpm


def test_a_kept_speed_is_set_beside_each_ceiling():
    found = ceilings(50.8, whirl_rpm=5000, lathe_rpm=2000)  # 3000, 2500, 2000
    assert to_heed(2000, found) == ()
    assert to_heed(2000.4, found) == ()  # what rounds to the same is the same
    assert to_heed(2100, found) == ("over_lathe",)
    assert to_heed(2600, found) == ("over_lathe", "over_whirl")
    assert to_heed(3100, found) == ("over_lathe", "over_whirl", "over_habit")
    assert to_heed(400, found, slowest_rpm=500) == ("under_lathe",)
    assert to_heed(None, found, slowest_rpm=500) == ()


def test_a_lathe_without_a_speed_slow_enough_is_told_with_or_without_a_kept_one():
    found = ceilings(300.0, lathe_rpm=3000)  # 508 by the habit
    assert to_heed(None, found, slowest_rpm=700) == ("none_slow",)
    assert to_heed(700, found, slowest_rpm=700) == ("none_slow", "over_habit")
    assert to_heed(None, found, slowest_rpm=500) == ()


def test_square_or_remounted_work_begins_at_the_slowest():
    found = ceilings(40.0)
    assert to_heed(700, found, slowest_rpm=500, square=True) == ("square",)
    assert to_heed(700, found, slowest_rpm=500, remounted=True) == ("remounted",)
    assert to_heed(500, found, slowest_rpm=500, square=True) == ()
    assert to_heed(700, found, square=True) == ("square",)
    assert to_heed(None, found, square=True) == ()


@pytest.mark.parametrize("wrong", [0, -1.0, nan, inf])
def test_what_cannot_be_is_refused_by_name(wrong):
    for call in (
        lambda: rim_speed_m_s(wrong, 100),
        lambda: rim_speed_m_s(20, wrong),
        lambda: habit_rpm(wrong),
        lambda: ceilings(20, whirl_rpm=wrong),
        lambda: ceilings(20, lathe_rpm=wrong),
        lambda: to_heed(wrong, ()),
        lambda: published(wrong),
    ):
        with pytest.raises(OutOfRange) as refused:
            call()
        assert refused.value.field
