"""The order of cuts against every order there is, and the rules that no order may break."""

import random
from itertools import permutations

import pytest

from benchside.errors import OutOfRange
from benchside.lathe.course import Bench
from benchside.lathe.cuts import LEVELS, as_cuts, crossed
from benchside.lathe.order import Costs, Cut, cost, in_order, reasons
from benchside.lathe.plan import plan, softens_mm, why_here
from tests.lathe.samples import BACK, BALUSTER, D, S, T, pattern


def keeps_rules(cuts):
    """Whether every level comes after the lower ones, and every cut after those it waits for."""
    seen = set()
    level = 0
    for cut in cuts:
        if cut.level < level or not cut.after <= seen:
            return False
        level = cut.level
        seen.add(cut.id)
    return True


def some_cuts(chance, count):
    cuts = [
        Cut(
            id=f"c{i}",
            level=chance.choice([0, 1, 1, 1, 2]),
            tool=chance.choice(["skew", "gouge", "parting"]),
            reach_mm=chance.uniform(0, 700),
            softens_mm=chance.choice([0.0, 0.001, 0.01, 0.06, 0.2]) * chance.random(),
            caliper_mm=chance.choice([None, 10.0, 12.0, 14.0]),
        )
        for i in range(count)
    ]
    waits = {
        cut.id: frozenset(
            o.id for o in cuts if o.id > cut.id and o.level <= cut.level and chance.random() < 0.1
        )
        for cut in cuts
    }
    return [
        Cut(c.id, c.level, c.tool, c.reach_mm, c.softens_mm, c.caliper_mm, waits[c.id])
        for c in cuts
    ]


@pytest.mark.parametrize("seed", range(24))
def test_no_order_of_all_costs_less(seed):
    chance = random.Random(seed)
    cuts = some_cuts(chance, chance.randint(2, 6))
    owned = chance.choice([None, 1])
    found = in_order(cuts, calipers=owned)
    assert keeps_rules(found)
    assert sorted(cut.id for cut in found) == sorted(cut.id for cut in cuts)
    least = min(cost(way, calipers=owned) for way in permutations(cuts) if keeps_rules(way))
    assert cost(found, calipers=owned) == pytest.approx(least, abs=1e-7)


def test_the_caliper_of_the_first_cut_is_taken_up_too():
    cuts = [Cut(f"c{i}", 0, "gouge", 10.0 * i, 0.0, mm) for i, mm in enumerate((10, 10, 12, 12))]
    assert cost(cuts) == pytest.approx(2 * Costs().caliper)
    assert cost(cuts, calipers=1) == pytest.approx(2 * Costs().reset)


def test_the_order_of_a_small_pattern_is_the_best_of_all_its_orders():
    for piece in (BACK, BALUSTER):
        steps = [s for s in plan(piece) if s.stage in ("tenon", "run", "form", "thin")][:8]
        costs = []
        for level in LEVELS:
            cuts = as_cuts(piece, steps, Bench(), level)
            if not crossed(cuts):
                found = in_order(cuts)
                rest = {cut.level: [c for c in cuts if c.level == cut.level] for cut in cuts}
                every = [()]
                for group in (rest[k] for k in sorted(rest)):
                    every = [(*way, *more) for way in every for more in permutations(group)]
                least = min(cost(way) for way in every if keeps_rules(way))
                assert cost(found) == pytest.approx(least, abs=1e-9)
                costs.append(least)
        assert costs


def test_the_same_order_every_time_whatever_order_they_came_in():
    cuts = some_cuts(random.Random(5), 9)
    found = in_order(cuts)
    for seed in range(5):
        mixed = cuts.copy()
        random.Random(seed).shuffle(mixed)
        assert cost(in_order(mixed)) == pytest.approx(cost(found), abs=1e-9)
    assert in_order(cuts) == found


def test_stiffness_is_spent_last_unless_the_handling_costs_more():
    soft, hard = (Cut(i, 0, t, 0, mm) for i, t, mm in (("soft", "a", 0.2), ("hard", "a", 0.01)))
    other = Cut("other", 0, "b", 0, 0.15)
    assert [c.id for c in in_order([soft, hard])] == ["hard", "soft"]
    # The other tool's cut comes between them where the change of tool costs less than the give.
    assert [c.id for c in in_order([soft, hard, other])] == ["hard", "other", "soft"]
    calm = Costs(limit_mm=5.0)  # and where give hardly counts, the tool is changed once
    assert [c.id for c in in_order([soft, hard, other], calm)] == ["hard", "soft", "other"]


def test_rules_that_no_order_keeps_are_refused():
    one = Cut("one", 0, "a", 0, 0.0, after=frozenset({"two"}))
    two = Cut("two", 0, "a", 0, 0.0, after=frozenset({"one"}))
    with pytest.raises(OutOfRange):
        in_order([one, two])


def test_every_step_that_cuts_has_its_reason():
    for piece in (BACK, BALUSTER):
        steps = plan(piece)
        why = why_here(piece, steps)
        assert why.keys() == {
            s.id for s in steps if s.stage in ("size", "tenon", "run", "form", "thin")
        }
        assert "own" not in why.values()
    own = ["form:ring", "run:cap"]
    why = why_here(BALUSTER, plan(BALUSTER, own), own)
    assert why["form:ring"] == "own"


def test_the_reason_is_read_off_the_cuts():
    a = Cut("a", 0, "skew", 10, 0.01, 12.0)
    b = Cut("b", 0, "skew", 10, 0.05, 12.0)
    c = Cut("c", 0, "gouge", 10, 0.02, 14.0)
    assert reasons([a, b, c]) == {"a": "least", "b": "caliper", "c": "only"}
    assert reasons([a, c, b])["b"] == "most"
    d = Cut("d", 0, "skew", 10, 0.0, after=frozenset({"a"}))
    assert reasons([a, d])["a"] == "shoulder_first"


def test_a_spindle_of_25_stations_is_put_in_order_within_its_looks():
    rows = [("end", 0, 16.0, T, "straight"), ("in", 25, 16.0, T, "shoulder")]
    at, size = 27.0, 34.0
    for k, form in enumerate(["bead", "taper", "cove", "taper", "bead", "straight", "taper"] * 3):
        more = {"bead": [size + 6], "cove": [size - 6]}.get(form, [])
        rows.append((f"s{k}", at, size, D, form, *more))
        at += {"bead": 14, "cove": 20, "taper": 60, "straight": 40}[form]
        size += {"taper": 5 if k % 2 else -5}.get(form, 0)
    rows += [("out", at, size, D, "shoulder"), ("pin", at + 20, 15.0, T)]
    long = pattern(*rows)
    assert len(long.stations) == 25
    steps = plan(long)
    soft = softens_mm(long)
    assert max(soft.values()) > 0.005
    assert [s.stage for s in steps].index("thin") > [s.stage for s in steps].index("run")


def test_an_end_in_a_chuck_is_spent_later_than_the_free_one():
    from benchside.lathe.course import Bench

    even = pattern(
        ("a", 0, 20.0, S, "taper"),
        ("b", 200, 24.0, D, "taper"),
        ("c", 400, 20.0, S),
    )
    free, chuck = softens_mm(even), softens_mm(even, Bench(held_fast=True))
    assert free["thin:a"] == pytest.approx(free["thin:b"], rel=1e-6)
    # The headstock is at c: held fast there, the wood near it matters more to the piece's stiffness
    # than the wood at the free end does.
    assert chuck["thin:a"] != pytest.approx(chuck["thin:b"], rel=1e-2)
