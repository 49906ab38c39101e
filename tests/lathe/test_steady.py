"""What stands after each cut, how much a cut softens the piece, and where the steady comes in."""

from dataclasses import replace
from math import inf

import numpy as np
import pytest

from benchside.errors import OutOfRange
from benchside.lathe import course, stiffness
from benchside.lathe.course import Bench
from benchside.lathe.parts import stock_mm
from benchside.lathe.plan import plan
from benchside.lathe.steady import check_place, moments, stand_spans, stays, supports, with_steady
from benchside.lathe.steps import behind, next_step
from tests.lathe.samples import BACK, BALUSTER, STRETCHER, S, T, pattern

RING = Bench(steady_n_per_mm=inf)
# Slender over most of its length: no single place does for both of its long tapers.
LONG = pattern(
    ("foot", 0, 14.0, T, "straight"),
    ("foot-end", 25, 14.0, T, "taper"),
    ("swell", 300, 18.0, S, "taper"),
    ("neck", 640, 11.0, S, "taper"),
    ("tip", 660, 12.0, T, "straight"),
    ("tip-end", 690, 12.0, T),
    name="long spindle",
)


def test_each_cut_leaves_a_piece_that_is_the_pattern_where_it_is_finished():
    every = frozenset(range(len(BALUSTER.sections)))
    whole = course.standing(BALUSTER, every, 47.175, Bench())
    at = np.linspace(1, 544, 200)
    assert np.abs(whole.diameter_mm_at(at) - BALUSTER.diameter_mm_at(at)).max() < 0.5  # chords
    rough = course.standing(BALUSTER, frozenset(), 47.175, Bench())
    assert set(rough.diameter_mm) == {47.175}


def test_what_the_cuts_add_to_the_give_adds_up_to_the_whole():
    # Between free centres the give is an integral of 1 / E I, so every cut adds its own share
    # whatever stands finished already (the unit-load theorem).
    for piece in (BACK, BALUSTER, STRETCHER):
        round_mm = stock_mm(piece)
        shares = course.softening_mm(piece, round_mm, Bench())
        held = course.ends(piece, Bench())
        every = frozenset(range(len(piece.sections)))
        before, after = (
            course.mean_give_mm(course.standing(piece, done, round_mm, Bench()), Bench(), held)
            for done in (frozenset(), every)
        )
        assert sum(shares) == pytest.approx(after - before, rel=1e-9)
        assert min(shares) >= -1e-12


def test_the_slender_taper_gets_its_steady_and_loses_it_again():
    steps = plan(BACK)
    found = with_steady(BACK, steps, RING)
    ids = [step.id for step in found]
    assert ids.index("steady:thin:tip-end") == ids.index("thin:tip-end") - 1
    assert ids.index("off:final:tip") == ids.index("thin:tip-end") + 1
    assert [s for s in found if s.tool != "steady"] == list(steps)
    fit = next(s for s in found if s.say == "steady_fit")
    # Clear of the taper from 25 to 250 mm, but no farther off than it must be.
    assert 250 < fit.at_mm < 275
    moment = moments(BACK, steps, RING)[-1]
    assert (moment.step_id, moment.steady_mm) == ("thin:tip-end", fit.at_mm)
    assert moment.left_mm < RING.limit_mm < moment.bare_mm


def test_who_owns_no_steady_is_not_told_to_fit_one():
    assert with_steady(BACK, plan(BACK), Bench()) == plan(BACK)
    assert stays(BACK, plan(BACK), Bench()) == ()
    assert moments(BACK, plan(BACK), Bench())[-1].steady_mm is None


def test_a_stout_piece_needs_none():
    for piece in (BALUSTER, STRETCHER):
        assert with_steady(piece, plan(piece), RING) == plan(piece)


def test_lighter_cuts_or_a_wider_limit_do_without():
    heavy = Bench(force_n=15.0, steady_n_per_mm=inf)
    assert len(stays(LONG, plan(LONG), heavy)) >= len(stays(LONG, plan(LONG), RING)) >= 1
    assert stays(BACK, plan(BACK), Bench(force_n=1.0, steady_n_per_mm=inf)) == ()
    assert stays(BACK, plan(BACK), Bench(limit_mm=2.0, steady_n_per_mm=inf)) == ()


@pytest.mark.parametrize("bench", [RING, Bench(force_n=12.0, steady_n_per_mm=40.0)])
@pytest.mark.parametrize("piece", [BACK, LONG])
def test_the_steady_never_stands_on_what_is_cut_and_always_helps(piece, bench):
    steps = plan(piece, (), bench)
    found = with_steady(piece, steps, bench)
    at = {m.step_id: m for m in moments(piece, steps, bench)}
    on = None
    for step in found:
        if step.tool == "steady":
            assert 0 < step.at_mm < piece.length_mm
            on = None if step.say == "steady_off" else step.at_mm
        elif step.forms and on is not None:
            for low, high in course.spans(piece, step.forms):
                assert not low - 10 < on < high + 10
            if at[step.id].bare_mm > bench.limit_mm:
                assert at[step.id].left_mm < at[step.id].bare_mm
    assert on is None  # taken off before the readings


def test_the_place_is_the_best_of_all_where_a_steady_may_stand():
    moment = moments(BACK, plan(BACK), RING)[-1]
    cut = moment.sections
    spans = stand_spans(BACK, moment.finished - set(cut), cut)
    tool = course.over_section(BACK, cut[0])

    def worst(at_mm):
        held = supports(BACK, RING, at_mm)
        return stiffness.deflection_mm(moment.work, RING.force_n, tool, held).max()

    tried = [worst(at) for low, high in spans for at in np.linspace(low, high, 60)]
    assert worst(moment.steady_mm) <= min(tried) * 1.03  # it is set to the millimetre


def test_a_step_behind_takes_its_steady_with_it():
    steps = with_steady(BACK, plan(BACK), RING)
    done = {s.id for s in plan(BACK) if s.phase != "final" and s.stage != "done"}
    assert "steady:thin:tip-end" in behind(steps, done)
    assert next_step(steps, done).id == "off:final:tip"
    assert next_step(steps, {*done, "final:tip"}).id == "final:tip-end"


def test_a_measured_dip_gives_the_force():
    held = course.ends(BACK, Bench())
    rough = course.standing(BACK, frozenset(), 23.0, Bench())
    dip = float(stiffness.deflection_mm(rough, 8.0, 210.0, held))
    assert course.force_from_dip_n(rough, held, 210.0, dip) == pytest.approx(8.0)
    for at, wrong in ((210.0, 0.0), (210.0, float("nan")), (0.0, 0.1)):
        with pytest.raises(OutOfRange):
            course.force_from_dip_n(rough, held, at, wrong)


def test_a_bench_that_cannot_be_is_refused():
    for field in ("force_n", "limit_mm"):
        with pytest.raises(OutOfRange):
            Bench(**{field: 0.0})


def test_a_steady_is_refused_off_the_work_and_on_what_is_cut():
    moment = moments(BACK, plan(BACK), RING)[-1]  # the taper from 25 to 250 mm
    assert moment.sections == (1,)
    check_place(BACK, moment, 262.0)
    for at_mm, said in (
        (11.9, "off the work"),
        (408.1, "off the work"),
        (float("nan"), "off the work"),
        (200.0, "on what is cut"),
        (260.0, "on what is cut"),
    ):
        with pytest.raises(OutOfRange, match=said) as refused:
            check_place(BACK, moment, at_mm)
        assert refused.value.field == "steady"


@pytest.mark.parametrize(("datum_end", "fast_mm"), [("tail", 420.0), ("drive", 0.0)])
def test_a_chuck_holds_the_headstock_end_fast_wherever_the_datum_is(datum_end, fast_mm):
    held = course.ends(replace(BACK, datum_end=datum_end), Bench(held_fast=True))
    assert [support.at_mm for support in held] == [0.0, 420.0]
    assert [s.at_mm for s in held if s.rotation_nmm_per_rad == inf] == [fast_mm]
