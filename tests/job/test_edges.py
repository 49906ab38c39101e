"""Edges at the lathe, from the taps of a set."""

from __future__ import annotations

import random
from math import pi

import pytest

from benchside.errors import OutOfRange
from benchside.job import edges, sets, turning
from benchside.job.turning import Marked
from benchside.job.work import work_on
from benchside.lathe.edges import TOOLS, Passed
from benchside.store import patterns
from benchside.store.database import Shop
from tests import shopfloor


def tap(shop: Shop, set_id: int, what: str, minute: float, **more: str) -> None:
    key = f"{random.Random(f'{what} {minute} {more}').getrandbits(128):032x}"
    at = shopfloor.moment(minute)
    marked = Marked(key, what, taken_at=at, **more)
    turning.mark(shop, set_id, 1, marked, device_id=None, received_at=at)


def passed(shop: Shop) -> dict[str, Passed]:
    return {edge.tool: edge.passed for edge in edges.edges(shop)}


def test_metres_come_from_the_plan_the_speed_and_the_time_between_taps(shop):
    kept = shopfloor.started(shop)
    with shop.transaction() as db:
        patterns.change(db, kept.pattern_id, speeds='{"rough": "800"}')
    edges.keep_limits(shop, edges.Limits(edges.limits(shop).after_m, 1.0))
    tap(shop, kept.id, "step", 0, step_id="mount")
    tap(shop, kept.id, "step", 3, step_id="rough")
    # The swell is 22 mm thick, the bead's crown too: roughed to 22 + 1/8 in, three minutes at 800.
    metres = pi * (22 + 3.175) / 1000 * 800 * 3
    found = passed(shop)
    assert found["roughing_gouge"].metres == pytest.approx(metres, rel=1e-4)
    assert found["skew"] == Passed()
    tap(shop, kept.id, "touched_up", 3.1, about="skew")
    assert passed(shop)["roughing_gouge"].metres == pytest.approx(metres, rel=1e-4)
    tap(shop, kept.id, "touched_up", 3.2, step_id="rough")  # at its step: that step's tool
    assert passed(shop)["roughing_gouge"] == Passed()


def test_a_touch_up_that_names_no_tool_means_them_all(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    assert any(one.metres > 1 for one in passed(shop).values())
    tap(shop, kept.id, "touched_up", 500, step_id="mount")
    assert set(passed(shop).values()) == {Passed()}
    assert {edge.touched_at for edge in edges.edges(shop)} == {shopfloor.moment(500)}


def test_in_abrasive_wood_an_edge_is_due_sooner(shop):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    before = passed(shop)
    limit = max(one.metres for one in before.values()) * 1.2
    edges.keep_limits(shop, edges.Limits(dict.fromkeys(TOOLS, limit), 0.5))
    assert not any(edge.due for edge in edges.edges(shop))
    sets.settle(shop, kept.id, shopfloor.choices(cuts="abrasive"))
    after = passed(shop)
    assert {tool: one.metres for tool, one in after.items()} == pytest.approx(
        {tool: one.metres for tool, one in before.items()}
    )
    assert any(edge.due for edge in edges.edges(shop))
    ahead = turning.sitting(shop, kept.id, 2)
    assert edges.due(shop, ahead)


def test_times_once_taken_go_before_our_own(shop):
    kept = shopfloor.started(shop)
    doing = work_on(shop, kept.pattern_id, kept.revision)
    guessed = edges.to_pass(shop, kept, doing)
    shopfloor.turn(shop, kept, range(1, 4), minutes_each=40.0)
    timed = edges.to_pass(shop, kept, doing)
    assert guessed.keys() == timed.keys()
    assert timed["rough"] != guessed["rough"]
    # 28 minutes over the steps before the readings, evenly: one step's share.
    steps = sum(step.stage not in ("final", "done") for step in doing.steps)
    share = pi * doing.stock_mm / 1000 * 1200 * 28 / steps * 0.5
    assert timed["rough"].metres == pytest.approx(share, rel=1e-4)


@pytest.mark.parametrize(
    ("after_m", "share", "field"),
    [
        ({"skew": 0.0}, 0.5, "skew"),
        ({"parting": float("inf")}, 0.5, "parting"),
        ({}, 0.0, "share"),
        ({}, 1.5, "share"),
    ],
)
def test_limits_that_cannot_be_are_refused_by_field(shop, after_m, share, field):
    own = edges.limits(shop)
    with pytest.raises(OutOfRange) as refused:
        edges.keep_limits(shop, edges.Limits({**own.after_m, **after_m}, share))
    assert refused.value.field == field
    assert edges.limits(shop) == own
