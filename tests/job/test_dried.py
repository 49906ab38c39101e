"""Pieces measured again when dry: expected against measured, and what is learned of the tree."""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from benchside.errors import KeyReused, NotFound, Refused
from benchside.job import dried, drying, judged, measuring, turning
from benchside.job.exchange import export_all, export_set, from_json, import_into, to_json
from benchside.job.forms import Wrong
from benchside.job.holds import Holds
from benchside.job.turning import Marked, Taken
from benchside.job.wood import Given, give, turn_dry
from benchside.job.work import work_of
from benchside.store import fitting, sets, wood
from benchside.store.database import Shop
from benchside.wood import learning
from benchside.wood.shrinkage import dimension_ratio
from tests.job.fitted_bench import ASH, AT, LATER, LOWER, UPPER, a_set, key
from tests.shopfloor import drifting, open_shop, started

TREE = 5.4, 9.2  # what the tree really does, along the rays and along the rings


def size(turned_mm: float, total: float, moisture: float = 8.0) -> str:
    return f"{turned_mm * dimension_ratio(total, 45.0, moisture):.2f}"


def both(place: str, turned_mm: float) -> dict[tuple[str, str], str]:
    return {(place, axis): size(turned_mm, total) for axis, total in zip("AB", TREE, strict=True)}


def measure(shop: Shop, set_id: int, number: int, **changed: Any) -> int:
    cells = both(LOWER, 13.5) | both(UPPER, 12.0)
    usual = {"moisture": "8", "key": key(100 * set_id + number), "sure": False, "at": LATER}
    return dried.take(shop, set_id, number, cells, **{**usual, **changed})


def test_without_a_wood_nothing_is_expected(shop: Shop) -> None:
    set_id = a_set(shop, said=None)
    found = dried.dried(shop, set_id)
    assert (found.known, found.shrinkage, found.pieces, found.wet) == (None, None, (), False)
    with pytest.raises(Refused):
        measure(shop, set_id, 1)


def test_before_any_reading_the_handbook_is_expected(shop: Shop) -> None:
    found = dried.dried(shop, a_set(shop))
    assert [piece.number for piece in found.pieces] == [1, 2, 3]
    line = found.piece(1).lines[0]
    assert line.place.id == LOWER
    assert line.tenon
    assert line.turned == dried.Turned(13.5, 2)
    wanted = [13.5 * dimension_ratio(total, 45, 8) for total in (4.9, 7.8)]
    assert line.expected_mm == pytest.approx(wanted)
    assert [line.tenon for line in found.piece(1).lines] == [True, True, False]
    with pytest.raises(NotFound):
        found.piece(4)


def test_readings_are_kept_once_and_the_newest_of_a_cell_counts(shop: Shop) -> None:
    set_id = a_set(shop)
    for _ in range(2):
        assert measure(shop, set_id, 1) == 4
    dried.take(
        shop, set_id, 1, {(LOWER, "A"): "13,03"}, moisture="7,5", key=key(7), sure=False, at=LATER
    )
    line = dried.dried(shop, set_id).piece(1).lines[0]
    assert line.wide is not None
    assert (line.wide.value_mm, line.wide.moisture) == (13.03, 7.5)
    assert len(dried.dried(shop, set_id).every) == 5
    with pytest.raises(KeyReused):
        dried.take(
            shop, set_id, 1, {(LOWER, "A"): "13.1"}, moisture="8", key=key(7), sure=False, at=LATER
        )
    dried.strike(shop, set_id, line.wide.key, LATER)
    line = dried.dried(shop, set_id).piece(1).lines[0]
    assert line.wide is not None
    assert line.wide.typed == size(13.5, TREE[0])


def test_what_is_learned_is_that_of_the_core_from_the_very_readings(shop: Shop) -> None:
    set_id = a_set(shop)
    for number in (1, 2, 3):
        measure(shop, set_id, number)
    found = dried.dried(shop, set_id)
    assert found.shrinkage is not None
    error = measuring.error_of(shop, ((r.typed, r.unit) for r in found.every)).sd_mm
    pairs = [
        learning.Pair(
            str(number), turned, float(size(turned, TREE[0])), float(size(turned, TREE[1])),
            45.0, 8.0, error, 2,
        )
        for number in (1, 2, 3)
        for turned in (13.5, 12.0)
    ]  # fmt: skip
    wanted = learning.learn(pairs, 4.9, 7.8)
    for got, want in (
        (found.shrinkage.radial, wanted.radial),
        (found.shrinkage.tangential, wanted.tangential),
    ):
        assert (got.percent, got.sd, got.pieces) == (
            pytest.approx(want.percent),
            pytest.approx(want.sd),
            3,
        )
    assert 8.5 < found.shrinkage.tangential.percent < 9.2
    line = found.piece(1).lines[0]
    assert line.narrow is not None
    assert line.narrow.expected_mm == pytest.approx(13.5 * dimension_ratio(7.8, 45, 8))
    assert line.expected("B") < line.narrow.expected_mm


def test_what_was_learned_is_reckoned_with_when_it_is_wanted_and_given_up_again(shop: Shop) -> None:
    set_id = a_set(shop)
    with pytest.raises(Refused):
        dried.use_learned(shop, set_id, True, at=LATER)
    measure(shop, set_id, 1)
    found = dried.learned(shop, set_id)
    assert found is not None
    dried.use_learned(shop, set_id, True, at=LATER)
    said = wood.woods(shop, set_id)[-1]
    assert said.learned
    assert said.tangential_percent == pytest.approx(found.tangential.percent)
    assert said.dampest_mc == ASH.dampest_mc
    # The belief starts from the handbook all the same, not from itself.
    again = dried.learned(shop, set_id)
    assert again is not None
    assert again.tangential.percent == pytest.approx(found.tangential.percent)
    assert dried.dried(shop, set_id).learned
    dried.use_learned(shop, set_id, False, at=LATER)
    assert wood.woods(shop, set_id)[-1] == replace(ASH, given_at=LATER)


def test_what_was_learned_holds_on_while_the_wood_is_said_anew_and_not_for_another(
    shop: Shop,
) -> None:
    set_id = a_set(shop)
    measure(shop, set_id, 1)
    dried.use_learned(shop, set_id, True, at=LATER)
    learned = wood.woods(shop, set_id)[-1]
    drier = Given("White Ash", "air-dry", "green", "cold_winters")
    give(shop, set_id, drier, at=LATER)
    said = wood.woods(shop, set_id)[-1]
    assert (said.learned, said.tangential_percent) == (True, learned.tangential_percent)
    assert said.moisture < learned.moisture
    give(shop, set_id, replace(drier, species="northern red oak"), at=LATER)
    oak = wood.woods(shop, set_id)[-1]
    assert (oak.learned, oak.tangential_percent) == (False, 8.6)


def test_a_set_of_the_same_log_learns_from_the_first_and_one_of_another_species_does_not(
    shop: Shop,
) -> None:
    first, second = a_set(shop), a_set(shop, name="Arm posts")
    other = a_set(shop, name="Oak", said=replace(ASH, species="northern red oak"))
    measure(shop, first, 1)
    for set_id, log in ((first, "Ash from the lane"), (second, "ash from the LANE "), (other, "")):
        dried.tell_log(shop, set_id, log)
    found = dried.dried(shop, second)
    assert found.shrinkage is not None
    assert found.shrinkage.radial.pieces == 1
    assert found.learned_from == ("Hall bench", "Arm posts")
    dried.tell_log(shop, other, "Ash from the lane")
    believed = dried.learned(shop, other)
    assert believed is not None
    assert believed.radial.pieces == 0
    with pytest.raises(Wrong):
        dried.tell_log(shop, first, "x" * 61)


IMPOSSIBLE: tuple[tuple[dict[tuple[str, str], str], str, str], ...] = (
    ({(LOWER, "A"): "abc"}, "8", f"{LOWER} A"),
    ({(LOWER, "A"): "0"}, "8", f"{LOWER} A"),
    ({(LOWER, "A"): "13.9"}, "8", f"{LOWER} A"),  # more than it was turned to
    ({(LOWER, "B"): "8.9"}, "8", f"{LOWER} B"),  # far from what is expected
    ({(LOWER, "A"): "12.5", (LOWER, "B"): "13.0"}, "8", f"{LOWER} B"),  # the second is wider
    ({(LOWER, "A"): "13.0"}, "29", "moisture"),  # hardly dried
    ({(LOWER, "A"): "13.0"}, "300", "moisture"),
    ({(LOWER, "A"): "13.0"}, "dry", "moisture"),
    ({(LOWER, "A"): " "}, "8", "moisture"),  # nothing typed
)


def test_what_cannot_be_is_said_by_its_field_and_nothing_is_kept(shop: Shop) -> None:
    set_id = a_set(shop)
    for cells, moisture, field in IMPOSSIBLE:
        typed = cells if field == "moisture" else {(UPPER, "A"): "11.6", **cells}
        with pytest.raises(Wrong) as wrong:
            dried.take(shop, set_id, 1, typed, moisture=moisture, key=key(1), sure=False, at=LATER)
        assert set(wrong.value.problems) == {field}, cells
    assert dried.dried(shop, set_id).every == ()


def test_what_is_asked_about_is_taken_when_it_is_meant(shop: Shop) -> None:
    set_id = a_set(shop)
    cells = {(LOWER, "A"): "12.5", (LOWER, "B"): "13.9"}
    assert dried.take(shop, set_id, 1, cells, moisture="8", key=key(1), sure=True, at=LATER) == 2


def test_dry_readings_enter_neither_the_review_nor_the_drift(shop: Shop) -> None:
    set_id = a_set(shop)
    before = judged.judge(shop, set_id).table
    for number in (1, 2, 3):
        measure(shop, set_id, number)
    after = judged.judge(shop, set_id).table
    assert after.off_mm.tolist() == before.off_mm.tolist()
    assert drifting(shop, set_id) is None


def test_a_piece_is_reckoned_from_the_moisture_it_was_mounted_at(shop: Shop) -> None:
    set_id = a_set(shop)
    with shop.transaction() as db:
        wood.mount(db, set_id, 1, 1, at=LATER)
        wood.add_wood(db, set_id, replace(ASH, moisture=20.0, given_at=LATER))
    found = dried.dried(shop, set_id)
    wet, drier = found.piece(1).lines[0].expected_mm, found.piece(2).lines[0].expected_mm
    assert wet == pytest.approx([13.5 * dimension_ratio(total, 45, 8) for total in (4.9, 7.8)])
    assert drier == pytest.approx([13.5 * dimension_ratio(total, 20, 8) for total in (4.9, 7.8)])


def test_it_goes_round_exactly(shop: Shop, tmp_path: Path) -> None:
    set_id = a_set(shop)
    measure(shop, set_id, 1)
    dried.tell_log(shop, set_id, "Lane")
    dried.strike(shop, set_id, dried.dried(shop, set_id).every[0].key, LATER)
    with closing(open_shop(tmp_path, "other.db")) as other:
        import_into(other, from_json(to_json(export_all(shop, now=LATER))), now=LATER)
        assert fitting.whole(other, set_id) == fitting.whole(shop, set_id)
        again = import_into(other, from_json(to_json(export_set(shop, 1, now=LATER))), now=LATER)
        assert again.already_here == ("Hall bench",)


ROUGH = Given("white ash", "green", "rough", "cold_winters", moisture=45.0, dry_mc=8.0)


def roughed(shop: Shop, number: int, first: int) -> dict[str, float]:
    """A piece roughed green, read where it was sized; the sizes read, by place."""
    kept = sets.found(shop, 1)
    sizes = {}
    for i, step in enumerate(work_of(shop, kept, number).steps, first):
        tapped = Marked(key(10 * i), "done" if step.id == "done" else "step", step.id)
        if step.place_id in (LOWER, "st4") and step.stop_mm:
            sizes[step.place_id] = round(step.stop_mm + 0.11, 2)
            taken = Taken(key(10 * i + 1), step.place_id, f"{sizes[step.place_id]}", "mm",
                          phase="sizing")  # fmt: skip
            turning.take(shop, 1, number, taken, device_id=None, received_at=AT)
        turning.mark(shop, 1, number, tapped, device_id=None, received_at=AT)
    return sizes


def test_a_piece_roughed_green_and_measured_dry_teaches_before_it_is_turned_again(
    shop: Shop,
) -> None:
    started(shop, wanted=2, spares=0)
    give(shop, 1, ROUGH, at=AT)
    sizes = roughed(shop, 1, 1)
    found = dried.dried(shop, 1)
    assert [piece.number for piece in found.pieces] == [1]
    assert {line.place.id: line.turned.size_mm for line in found.piece(1).lines} == sizes
    cells = {cell: text for place, mm in sizes.items() for cell, text in both(place, mm).items()}
    how: dict[str, Any] = {"moisture": "8", "sure": False, "at": LATER}
    assert dried.take(shop, 1, 1, cells, key=key(9000), **how) == 4
    taught = dried.dried(shop, 1).shrinkage
    assert taught is not None
    assert taught.tangential.seen == pytest.approx(TREE[1], abs=0.15)
    assert taught.radial.seen == pytest.approx(TREE[0], abs=0.15)

    # On the lathe again, and read at its last size: that teaches nothing more, and takes nothing.
    turn_dry(shop, 1, [1], 8.0, at="2026-03-03T11:00:00.000Z")
    last = Taken(key(9100), LOWER, "12.7", "mm")
    turning.take(shop, 1, 1, last, device_id=None, received_at="2026-03-03T12:00:00.000Z")
    found = dried.dried(shop, 1)
    assert found.shrinkage == taught
    assert found.piece(1).again
    assert found.piece(1).measured == 2
    late: dict[str, Any] = {"moisture": "8", "sure": True, "at": "2026-03-04T10:00:00.000Z"}
    with pytest.raises(Refused):
        dried.take(shop, 1, 1, both(LOWER, 12.7), key=key(9200), **late)
    # What was learned is what the next piece is roughed by.
    dried.use_learned(shop, 1, True, at="2026-03-04T10:00:00.000Z")
    doing = work_of(shop, sets.found(shop, 1), 2)
    assert doing.wood is not None
    assert doing.wood.turning.roughing
    assert doing.wood.wood.tangential_percent == pytest.approx(taught.tangential.percent)


def test_what_is_expected_of_a_weighed_piece_is_at_the_moisture_it_holds(shop: Shop) -> None:
    set_id = a_set(shop)
    # 145 g at 45 % hold 100 g of wood; 106 g are 6 %.
    for day, grams in ((1, "145"), (9, "106")):
        at = f"2026-03-0{day}T08:00:00.000Z"
        drying.weigh(shop, set_id, 1, grams, "g", key=key(day), at=at)
    found = dried.dried(shop, set_id)
    assert found.piece(1).holds == Holds(pytest.approx(6.0), "weight")
    assert found.piece(2).holds == Holds(8.0, "set")
    weighed, other = (found.piece(n).lines[0] for n in (1, 2))
    assert weighed.expected("B") == pytest.approx(
        weighed.turned.size_mm * dimension_ratio(7.8, 45, 6.0)
    )
    assert other.expected("B") == pytest.approx(
        other.turned.size_mm * dimension_ratio(7.8, 45, 8.0)
    )


def test_what_is_expected_of_a_reading_is_at_the_moisture_said_with_it(shop: Shop) -> None:
    """Not at what an old weight says, which it was typed over; and that moisture stays its own."""
    set_id = a_set(shop)
    for day, grams in ((1, "145"), (2, "143.4")):  # 43.4 %: as turned
        at = f"2026-03-0{day}T08:00:00.000Z"
        drying.weigh(shop, set_id, 1, grams, "g", key=key(day), at=at)
    measure(shop, set_id, 1, moisture="7.5")
    piece = dried.dried(shop, set_id).piece(1)
    assert piece.holds == Holds(7.5, "said")
    narrow, wide = piece.lines[0].narrow, piece.lines[0].wide
    assert narrow is not None
    assert wide is not None
    assert narrow.expected_mm == pytest.approx(13.5 * dimension_ratio(7.8, 45, 7.5))
    assert wide.expected_mm == pytest.approx(13.5 * dimension_ratio(4.9, 45, 7.5))
    learnt = dried.learned(shop, set_id)
    assert learnt is not None
    seen = 100 * (1 - narrow.value_mm / 13.5) / (1 - 7.5 / 30)
    assert learnt.tangential.seen == pytest.approx(seen, abs=0.1)
    at = "2026-03-20T08:00:00.000Z"
    drying.weigh(shop, set_id, 1, "106", "g", key=key(3), at=at)
    assert dried.dried(shop, set_id).piece(1).holds == Holds(pytest.approx(6.0), "weight")
