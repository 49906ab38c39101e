"""Test holes: kept once, read several times, worn."""

from __future__ import annotations

import json
from contextlib import closing
from pathlib import Path

import pytest

from benchside.errors import KeyReused, NotFound
from benchside.job import holes
from benchside.job.exchange import export_all, from_json, import_into, to_json
from benchside.job.forms import Wrong
from benchside.job.holes import Told
from benchside.store import fitting
from benchside.store.database import Shop
from tests.shopfloor import open_shop

AT, LATER = "2026-03-01T10:00:00.000Z", "2026-03-02T10:00:00.000Z"
TOLD = Told("Spade bit", "5/8 in", "White-Ash", "1 1/4", "in/64", "end of the seat board")


def key(n: int) -> str:
    return f"{n:032x}"


def test_a_hole_is_kept_with_its_bit_and_wood_and_twice_sent_it_is_one(shop: Shop) -> None:
    for _ in range(2):
        hole = holes.add(shop, TOLD, key=key(1), at=AT)
    assert hole.kept.named_mm == pytest.approx(15.875)
    assert hole.kept.depth_mm == pytest.approx(31.75)
    assert hole.kept.species == "white ash"
    assert hole.size is None
    assert len(holes.listed(shop)) == 1
    with pytest.raises(KeyReused):
        holes.add(shop, Told("Another", "12", unit="mm"), key=key(1), at=AT)


def test_what_a_hole_is_over_its_bit_is_the_difference_of_what_is_shown(shop: Shop) -> None:
    holes.add(shop, Told("Old spade", "16", unit="mm"), key=key(1), at=AT)
    hole = holes.read(shop, key(1), {"A": "16.27", "B": "16.28"}, key=key(2), sure=True, at=AT)
    assert hole.size is not None
    assert hole.size.size_mm == pytest.approx(16.275)
    assert hole.over_mm == pytest.approx(0.28)  # 16.28 less 16
    holes.add(shop, Told("Twist", "5/8 in", unit="mm"), key=key(3), at=AT)
    hole = holes.read(shop, key(3), {"A": "15.86", "B": ""}, key=key(4), sure=True, at=AT)
    assert hole.over_mm == pytest.approx(-0.02)  # 15.86 less 15.88


def test_how_a_bit_was_typed_is_kept_and_goes_along_with_an_export(
    shop: Shop, tmp_path: Path
) -> None:
    holes.add(shop, TOLD, key=key(1), at=AT)
    whole = json.loads(to_json(export_all(shop, now=AT)))
    with closing(open_shop(tmp_path, "other.db")) as other:
        import_into(other, from_json(json.dumps(whole)), now=AT)
        assert holes.seen(other, key(1)).kept.named_typed == "5/8 in"
    del whole["test_holes"][0]["named_typed"]  # as it was written before it was kept
    with closing(open_shop(tmp_path, "earlier.db")) as other:
        import_into(other, from_json(json.dumps(whole)), now=AT)
        assert holes.seen(other, key(1)).kept.named_typed == ""


def test_all_that_is_wrong_is_told_at_once_and_nothing_is_kept(shop: Shop) -> None:
    with pytest.raises(Wrong) as wrong:
        holes.add(shop, Told("", "wide", "ahs", "−3", "mm"), key=key(1), at=AT)
    assert set(wrong.value.problems) == {"bit", "named", "species", "depth"}
    assert "ash" in wrong.value.problems["species"].hint
    assert holes.listed(shop) == ()


def test_several_readings_a_quarter_turn_apart_give_its_size(shop: Shop) -> None:
    holes.add(shop, Told("Lip and spur", "16", unit="mm"), key=key(1), at=AT)
    holes.read(shop, key(1), {"A": "16,12", "B": "16.08"}, key=key(2), sure=False, at=AT)
    hole = holes.read(shop, key(1), {"A": "16.14", "B": ""}, key=key(3), sure=False, at=LATER)
    assert hole.size is not None
    assert hole.size.size_mm == pytest.approx((16.13 + 16.08) / 2)
    assert hole.over_mm == pytest.approx(0.11)  # 16.105, shown as 16.11
    again = holes.read(shop, key(1), {"A": "16.14", "B": ""}, key=key(3), sure=False, at=LATER)
    assert len(again.readings) == 3


def test_a_figure_far_from_the_bit_is_asked_about_and_taken_when_it_is_meant(shop: Shop) -> None:
    holes.add(shop, Told("Lip and spur", "16", unit="mm"), key=key(1), at=AT)
    typed: dict[fitting.Axis, str] = {"A": "18.2", "B": "16.1"}
    with pytest.raises(Wrong) as asked:
        holes.read(shop, key(1), typed, key=key(2), sure=False, at=AT)
    assert set(asked.value.problems) == {"A"}
    assert holes.seen(shop, key(1)).readings == ()
    assert len(holes.read(shop, key(1), typed, key=key(2), sure=True, at=AT).readings) == 2


def test_nothing_typed_and_nonsense_are_said(shop: Shop) -> None:
    holes.add(shop, Told("Lip and spur", "16", unit="mm"), key=key(1), at=AT)
    for text, field in (("", "A"), ("abc", "B")):
        with pytest.raises(Wrong) as wrong:
            holes.read(shop, key(1), {"A": "", "B": text}, key=key(2), sure=True, at=AT)
        assert field in wrong.value.problems
    with pytest.raises(NotFound):
        holes.read(shop, key(9), {"A": "16"}, key=key(2), sure=True, at=AT)


def test_a_slip_is_struck_out_stays_and_can_count_again(shop: Shop) -> None:
    holes.add(shop, Told("Lip and spur", "16", unit="mm"), key=key(1), at=AT)
    holes.read(shop, key(1), {"A": "16.1", "B": "16.5"}, key=key(2), sure=False, at=AT)
    slip = holes.seen(shop, key(1)).readings[1]
    holes.strike(shop, key(1), slip.key, LATER)
    hole = holes.seen(shop, key(1))
    assert hole.size is not None
    assert (hole.size.size_mm, len(hole.readings)) == (16.1, 2)
    holes.strike(shop, key(1), slip.key, None)
    assert holes.seen(shop, key(1)).size != hole.size
    with pytest.raises(NotFound):
        holes.strike(shop, key(1), key(77), LATER)


def test_a_hole_tires_with_its_tenons_or_is_called_worn(shop: Shop) -> None:
    for n, bit in ((1, "Old"), (2, "Fresh")):
        holes.add(shop, Told(bit, "16", unit="mm"), key=key(n), at=AT)
    holes.used(shop, key(1), 0)
    holes.used(shop, key(1), 0)  # the same tap again
    assert holes.seen(shop, key(1)).kept.uses == 1
    holes.used(shop, key(1), holes.TIRED - 1)
    assert holes.seen(shop, key(1)).tired
    assert [hole.kept.bit for hole in holes.listed(shop)] == ["Fresh", "Old"]
    holes.wear(shop, key(2), LATER)
    assert holes.seen(shop, key(2)).kept.worn_at == LATER
    holes.wear(shop, key(2), None)
    assert not holes.seen(shop, key(2)).tired


def test_holes_go_round_with_everything_and_what_is_here_is_only_added_to(
    shop: Shop, tmp_path: Path
) -> None:
    holes.add(shop, TOLD, key=key(1), at=AT)
    holes.read(shop, key(1), {"A": "0.634", "B": "0.636"}, key=key(2), sure=False, at=AT)
    with closing(open_shop(tmp_path, "other.db")) as other:
        import_into(other, from_json(to_json(export_all(shop, now=LATER))), now=LATER)
        assert fitting.whole_holes(other) == fitting.whole_holes(shop)
        holes.read(shop, key(1), {"A": "0.635", "B": ""}, key=key(3), sure=False, at=LATER)
        for _ in range(2):
            import_into(other, from_json(to_json(export_all(shop, now=LATER))), now=LATER)
        assert fitting.whole_holes(other) == fitting.whole_holes(shop)
