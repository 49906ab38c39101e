"""The calipers of the shop and of a set."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from benchside.errors import BenchsideError
from benchside.job import calipers, turning
from benchside.job.turning import Marked
from benchside.job.work import letters_of, work_on
from benchside.store import sets
from benchside.store.database import Shop
from benchside.store.tools import OwnedCaliper
from tests import shopfloor

LARGE = OwnedCaliper("A", "spring", 0.0, 75.0)
SLOT = OwnedCaliper("G", "fixed", 12.7, 12.7, "filed")


def begin(shop: Shop, kept: sets.SpindleSet, number: int, drifting: str = "") -> dict[str, str]:
    found = calipers.begin(shop, turning.sitting(shop, kept.id, number), drifting=drifting)
    return {one.letter: one.check for one in found}


def tap(shop: Shop, kept: sets.SpindleSet, what: str, about: str, minute: float) -> None:
    key = f"{random.Random(f'{what} {about} {minute}').getrandbits(128):032x}"
    turning.mark(
        shop,
        kept.id,
        None,
        Marked(key, what, about=about, taken_at=shopfloor.moment(minute)),
        device_id=None,
        received_at=shopfloor.moment(minute),
    )


def test_calipers_are_listed_changed_and_struck(shop):
    assert calipers.owned(shop) == ()
    for caliper in (SLOT, LARGE):
        calipers.keep(shop, caliper)
    assert calipers.owned(shop) == (LARGE, SLOT)
    assert calipers.next_letter(shop) == "B"
    with pytest.raises(BenchsideError) as refused:
        calipers.keep(shop, replace(SLOT, letter="A"))
    assert refused.value.field == "letter"
    assert "B" in refused.value.hint
    calipers.keep(shop, replace(SLOT, letter="H"), was="G")
    assert [c.letter for c in calipers.owned(shop)] == ["A", "H"]
    calipers.strike(shop, "A")
    assert [c.letter for c in calipers.owned(shop)] == ["H"]


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"letter": "AA"}, "letter"),
        ({"letter": "ß"}, "letter"),
        ({"kind": "rubber"}, "kind"),
        ({"most_mm": 1e9}, "most_mm"),
        ({"most_mm": float("nan")}, "most_mm"),
        ({"most_mm": 0.0}, "most_mm"),
        ({"least_mm": 90.0}, "most_mm"),
        ({"kind": "fixed"}, "most_mm"),
        ({"name": "n" * 41}, "name"),
    ],
)
def test_a_caliper_that_cannot_be_is_refused_by_field(shop, wrong, field):
    with pytest.raises(BenchsideError) as refused:
        calipers.keep(shop, replace(LARGE, **wrong))
    assert refused.value.field == field
    assert calipers.owned(shop) == ()


def test_a_set_is_sized_with_those_owned(shop):
    kept = shopfloor.started(shop, calipers=1)
    doing = work_on(shop, kept.pattern_id, kept.revision)
    assert {use.letter for use in letters_of(shop, kept, doing).values()} == {"A"}
    many = calipers.dealt(shop, kept, doing)
    assert (many.owned, many.beyond) == (0, ())
    for letter in "KLMNOPQRSTU":
        calipers.keep(shop, replace(LARGE, letter=letter))
    used = {use.letter for use in letters_of(shop, kept, doing).values()}
    assert used <= set("KLMNOPQRSTU")
    assert calipers.dealt(shop, kept, doing).set_anew == {"piece": 0, "stage": 0}
    assert many.set_anew["piece"] > many.set_anew["stage"] > 0


def test_what_none_of_them_opens_to_is_told(shop):
    kept = shopfloor.started(shop)
    calipers.keep(shop, replace(LARGE, most_mm=20.0))
    doing = work_on(shop, kept.pattern_id, kept.revision)
    beyond = calipers.dealt(shop, kept, doing).beyond
    assert beyond
    assert all(step.stop_mm > 20 for step in beyond)
    assert not {step.id for step in beyond} & letters_of(shop, kept, doing).keys()


def test_a_check_is_asked_never_after_so_many_pieces_on_a_drop_and_on_drift(shop):
    kept = shopfloor.started(shop, calipers=26)
    letters = set(begin(shop, kept, 1))
    assert len(letters) > 3
    assert set(begin(shop, kept, 1).values()) == {"never"}
    tap(shop, kept, "caliper_checked", "", 1)  # all of them
    assert set(begin(shop, kept, 1).values()) == {""}
    shopfloor.turn(shop, kept, range(1, 5))
    calipers.keep_recheck_after(shop, 5)
    assert set(begin(shop, kept, 5).values()) == {""}
    calipers.keep_recheck_after(shop, 4)
    assert set(begin(shop, kept, 5).values()) == {"pieces"}
    tap(shop, kept, "caliper_checked", "B", 500)
    assert begin(shop, kept, 5)["B"] == ""
    assert begin(shop, kept, 5, drifting="B")["B"] == "drift"
    tap(shop, kept, "caliper_dropped", "C", 501)
    assert begin(shop, kept, 5)["C"] == "dropped"
    tap(shop, kept, "caliper_checked", "", 502)
    assert set(begin(shop, kept, 5).values()) == {""}


def test_the_number_of_pieces_is_the_makers(shop):
    assert calipers.recheck_after(shop) == calipers.RECHECK_AFTER
    for wrong in (0, -1, 10_000):
        with pytest.raises(BenchsideError) as refused:
            calipers.keep_recheck_after(shop, wrong)
        assert refused.value.field == "recheck"


def test_a_fixed_gauge_is_never_checked(shop):
    kept = shopfloor.started(shop)
    calipers.keep(shop, LARGE)
    calipers.keep(shop, SLOT)
    found = begin(shop, kept, 1)
    assert found == {"A": "never", "G": ""}
