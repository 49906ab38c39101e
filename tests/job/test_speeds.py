"""The maker's speeds beside their ceilings, and what does not go on the lathe."""

from __future__ import annotations

from math import pi, sqrt

import pytest

from benchside.job import planning, speeds, turning, wood
from benchside.job import shop as shops
from benchside.job.turning import Marked
from benchside.job.work import work_of
from benchside.lathe import steady
from benchside.pattern import Pattern, Section, Station
from benchside.store import patterns
from tests import shopfloor

AT, LATER = "2026-02-01T08:00:00.000Z", "2026-03-01T08:00:00.000Z"
STOCK_MM = 22 + 25.4 / 8


def test_a_piece_roughed_before_it_dried_goes_on_again_round(shop):
    kept = shopfloor.started(shop)
    with shop.transaction() as db:
        patterns.change(db, kept.pattern_id, speeds='{"rough": "700"}')
    wood.give(shop, kept.id, wood.Given("white ash", "green", "rough", "cold_winters"), at=AT)
    done = Marked(f"{1:032x}", "done", "done")
    turning.mark(shop, kept.id, 1, done, device_id=None, received_at=AT)
    wood.turn_dry(shop, kept.id, [1], 8.0, at=LATER)
    again = speeds.of_work(shop, kept, work_of(shop, kept, 1), 1).stages["rough"]
    assert (again.square, again.heed) == (False, ("remounted",))
    fresh = speeds.of_work(shop, kept, work_of(shop, kept, 2), 2).stages["rough"]
    assert (fresh.square, fresh.heed) == (True, ("square",))


def test_square_work_is_measured_across_its_corners(shop):
    kept = shopfloor.started(shop)
    with shop.transaction() as db:
        patterns.change(db, kept.pattern_id, speeds='{"rough": "700", "form": "about 1100"}')
    found = speeds.speeds(shop, kept.id).stages
    rough = found["rough"]
    assert rough.thick_mm == pytest.approx(STOCK_MM * sqrt(2))
    assert rough.rim_m_s == pytest.approx(pi * STOCK_MM * sqrt(2) / 1000 * 700 / 60)
    # 6000 over the diameter in inches [@lathe-speed-sheet, phase 1].
    habit = {c.reason: c.rpm for c in rough.ceilings}["habit"]
    assert habit == pytest.approx(6000 / (STOCK_MM * sqrt(2) / 25.4))
    assert rough.heed == ("square",)
    assert found["size"].rpm == 700  # as before
    assert found["form"].rpm == 1100
    # What is not cut yet still stands as the rough round when the beads are formed.
    assert found["form"].thick_mm == found["run"].thick_mm == pytest.approx(STOCK_MM)
    doing = work_of(shop, kept)
    cuts = steady.moments(doing.pattern, doing.steps, doing.bench)
    stages = {step.id: step.stage for step in doing.steps}
    for stage in ("form", "thin"):  # the plan's piece before the stage's first cut
        first = next(i for i, cut in enumerate(cuts) if stages[cut.step_id] == stage)
        assert found[stage].thick_mm == pytest.approx(cuts[first - 1].work.diameter_mm.max())


def test_the_lathes_own_speeds_are_set_beside_them(shop):
    kept = shopfloor.started(shop)
    with shop.transaction() as db:
        patterns.change(db, kept.pattern_id, speeds='{"rough": "500", "size": "2500"}')
    shops.keep_lathe(shop, shops.Lathe(steps_rpm=(500.0, 900.0, 2000.0)))
    found = speeds.speeds(shop, kept.id).stages
    assert found["rough"].heed == ()  # the slowest there is
    assert found["size"].heed == ("over_lathe",)
    assert found["size"].below_rpm == (500, 900, 2000)


def test_no_speed_slow_enough_and_work_too_large_are_said_before_it_is_mounted(shop):
    kept = shopfloor.started(shop)
    assert speeds.speeds(shop, kept.id).unfit == ()
    shops.keep_lathe(
        shop, shops.Lathe(swing_mm=300.0, between_centres_mm=400.0, steps_rpm=(6000.0,))
    )
    found = speeds.speeds(shop, kept.id)
    assert found.unfit == ("too_long",)
    assert "none_slow" in found.stages["rough"].heed
    thick = Pattern(
        "Newel",
        (Station("st1", 0.0, 220.0, "Foot"), Station("st2", 400.0, 200.0, "Head")),
        (Section("taper"),),
    )
    newel = shopfloor.started(shop, thick)
    shops.keep_lathe(shop, shops.Lathe(swing_mm=300.0, between_centres_mm=500.0))
    assert speeds.speeds(shop, newel.id).unfit == ("too_square",)
    assert planning.view(shop, newel.id).unfit == ("too_square",)


def test_stage_by_stage_a_piece_goes_back_between_the_centres(shop):
    kept = shopfloor.started(shop, habit="stage")
    with shop.transaction() as db:
        patterns.change(db, kept.pattern_id, speeds='{"rough": "700", "form": "1100"}')
    shops.keep_lathe(shop, shops.Lathe(least_rpm=300.0, most_rpm=3000.0))
    found = speeds.speeds(shop, kept.id).stages
    assert found["rough"].heed == ("square",)
    assert found["form"].heed == ("remounted",)
