"""Tenons in their holes: sizes, warnings, what goes where, and what is asked about first."""

from __future__ import annotations

import copy
import random
import re
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchside.errors import NotFound, NotUnderstood, Refused
from benchside.job import dried, fit_forms, fitting, origin
from benchside.job import wood as wood_verbs
from benchside.job.exchange import export_all, from_json, import_into, to_json
from benchside.job.forms import Wrong
from benchside.joint import fit
from benchside.joint.fit import Mortise, Tenon
from benchside.joint.schools import find
from benchside.store import fitting as store
from benchside.store import readings, sets, wood
from benchside.store.database import Shop
from tests import shopfloor
from tests.job.fitted_bench import (
    ASH,
    AT,
    LATER,
    LOWER,
    SEAT,
    UPPER,
    a_seat,
    a_set,
    a_test_hole,
    billets,
    key,
)
from tests.shopfloor import open_shop


def seat_of(shop: Shop, set_id: int = 1, *, now: str = AT) -> fitting.PartFit:
    return fitting.fitting(shop, set_id, now=now).part(key(800))


def test_the_tenons_of_a_pattern_are_its_runs_of_tenon_stations(shop: Shop) -> None:
    ends = fitting.fitting(shop, a_set(shop), now=AT).ends
    assert [(end.id, end.name, end.diameter_mm) for end in ends] == [
        (LOWER, "Lower tenon", 12.7),
        (UPPER, "Upper tenon", 11.1),
    ]
    assert [end.length_mm for end in ends] == pytest.approx([26.0, 25.0])


def test_a_tenon_is_brought_to_its_test_hole_and_the_fit_of_the_school(shop: Shop) -> None:
    set_id = a_set(shop)
    hole = a_test_hole(shop)
    for school in ("snug", "damp_post", "dry_hide_glue"):
        seat = a_seat(shop, set_id, replace(SEAT, test_hole=hole, school=school))
        assert seat.hole_mm == pytest.approx(12.78)
        assert seat.target_mm == pytest.approx(12.78 + find(school).fit_mm)
    own = a_seat(shop, set_id, replace(SEAT, test_hole=hole, school="own", own_fit="−0,03"))
    assert own.target_mm == pytest.approx(12.75)
    assert own.part.own_fit_mm == pytest.approx(-0.03)
    inches = a_seat(shop, set_id, replace(SEAT, test_hole=hole, school="own", own_fit="0.002 in"))
    assert inches.fit_mm == pytest.approx(0.0508)
    assert fit_forms.as_told(own.part, "mm").own_fit == "−0.03"


def test_the_course_of_the_year_is_that_of_the_core(shop: Shop) -> None:
    set_id = a_set(shop)
    seat = a_seat(shop, set_id, replace(SEAT, test_hole=a_test_hole(shop)))
    tenon = Tenon(12.78, 6, 4.9, 7.8, 90)  # white ash [@wood-handbook-2010, table 4-3]
    mortise = Mortise(12.78, 9, 8.2)  # red (soft) maple, along the rings, the same table
    wanted = fit.year(tenon, mortise, 6, 11)
    assert seat.course is not None
    assert seat.course.year.along_mm == pytest.approx(wanted.along_mm)
    assert seat.course.year.across_mm == pytest.approx(wanted.across_mm)
    assert seat.course.kindest == fit.kindest_turning(
        replace(tenon, tangential_mm=12.78), mortise, 6, 11
    )
    on_edge = a_seat(shop, set_id, replace(SEAT, test_hole=key(900), across="radial"))
    between = a_seat(shop, set_id, replace(SEAT, test_hole=key(900), across="between"))
    assert (on_edge.across_percent, between.across_percent) == (4.0, pytest.approx(6.1))


def test_without_a_wood_there_is_a_size_and_no_year(shop: Shop) -> None:
    set_id = a_set(shop, said=None)
    seat = a_seat(shop, set_id, replace(SEAT, test_hole=a_test_hole(shop)))
    assert seat.target_mm == pytest.approx(12.78)
    assert seat.course is None
    assert seat.rows[0].course is None


def test_a_hole_measured_itself_comes_before_the_test_hole(shop: Shop) -> None:
    set_id = a_set(shop)
    a_seat(shop, set_id, replace(SEAT, test_hole=a_test_hole(shop)))
    fit_forms.read_hole(
        shop, set_id, key(800), 2, {"A": "12.95", "B": "12,85"}, key=key(1), sure=False, at=AT
    )
    rows = seat_of(shop).rows
    assert [row.hole for row in rows] == [1, 2, 3, 4]
    assert [row.target_mm for row in rows] == pytest.approx([12.78, 12.9, 12.78, 12.78])
    assert [row.own for row in rows] == [False, True, False, False]
    fit_forms.strike(shop, set_id, key(800), seat_of(shop).readings[0].key, LATER)
    assert seat_of(shop).rows[1].target_mm == pytest.approx(12.85)
    with pytest.raises(NotFound):
        fit_forms.read_hole(
            shop, set_id, key(800), 77, {"A": "12.9"}, key=key(2), sure=False, at=AT
        )


def test_a_bore_smaller_than_the_dry_tenon_could_be_is_asked_about(shop: Shop) -> None:
    """Of 12.7 mm at 8 %, white ash is 12.49 mm along the rings when it holds no water at all."""
    set_id = a_set(shop)
    a_seat(shop, set_id)
    bone_dry = 12.7 * (1 - 0.078) / (1 - 0.078 * 22 / 30)
    assert bone_dry == pytest.approx(12.42, abs=0.005)
    with pytest.raises(Wrong) as asked:
        fit_forms.read_hole(
            shop, set_id, key(800), 1, {"A": "12.40", "B": "12.45"}, key=key(1), sure=False, at=AT
        )
    assert set(asked.value.problems) == {"A"}
    assert "bone-dry (12.42 mm)" in asked.value.problems["A"].message
    assert seat_of(shop).readings == ()
    fit_forms.read_hole(
        shop, set_id, key(800), 1, {"A": "12.40", "B": "12.45"}, key=key(1), sure=True, at=AT
    )
    assert seat_of(shop).hole_mm == pytest.approx(12.425)


@pytest.mark.parametrize(
    ("off_mm", "words", "counts"),
    [
        ((-0.56, 0.56), ["under", "over"], "under"),  # 0.605 × 0.649 in for 0.627
        ((-0.20, 0.15), ["under", "over"], "under"),  # 0.619 × 0.633 in for 0.627
        ((0.20, 0.00), ["over", "within"], "over"),
        ((0.00, -0.20), ["within", "under"], "under"),
    ],
)
def test_a_tenon_is_right_only_if_it_is_so_both_ways(
    shop: Shop, off_mm: tuple[float, float], words: list[str], counts: str
) -> None:
    set_id = a_set(shop)
    a_seat(shop, set_id, replace(SEAT, test_hole=a_test_hole(shop)))
    both: dict[store.Axis, str] = {"A": f"{12.78 + off_mm[0]:.2f}", "B": f"{12.78 + off_mm[1]:.2f}"}
    fit_forms.read_size(shop, set_id, key(800), 1, both, key=key(10), sure=False, at=AT)
    row = seat_of(shop).rows[0]
    assert row.target_mm == pytest.approx(12.78)
    assert [says.word for _, says in row.ways] == words
    assert row.oval
    assert row.says is not None
    assert row.says.word == counts
    assert row.to_size == (counts == "over")


def test_final_sizes_are_kept_with_their_moment_and_judged(shop: Shop) -> None:
    set_id = a_set(shop)
    a_seat(shop, set_id, replace(SEAT, test_hole=a_test_hole(shop)))
    for n, (number, typed) in enumerate(
        {1: ("12.80", "12.76"), 2: ("13.1", ""), 3: ("12.5", "12.5")}.items()
    ):
        both: dict[store.Axis, str] = {"A": typed[0], "B": typed[1]}
        for _ in range(2):
            fit_forms.read_size(
                shop, set_id, key(800), number, both, key=key(10 + n), sure=False, at=AT
            )
    rows = seat_of(shop).rows
    assert [row.says and row.says.word for row in rows] == ["within", "over", "under", None]
    assert rows[0].course is not None
    assert rows[0].course.tenon == Tenon(12.8, 6, 4.9, 7.8, 90, 12.76)
    assert rows[1].sized_at == AT
    kept = store.later(shop, set_id)
    assert len(kept) == 5
    assert {reading.what for reading in kept} == {"sized"}
    assert kept[0].expected_mm == pytest.approx(12.78)
    with pytest.raises(Wrong) as asked:
        fit_forms.read_size(
            shop, set_id, key(800), 4, {"A": "8", "B": "x"}, key=key(20), sure=False, at=AT
        )
    assert set(asked.value.problems) == {"A", "B"}
    fit_forms.strike(shop, set_id, key(800), kept[0].key, LATER)
    assert seat_of(shop).rows[0].wide is None


def test_a_tenon_sized_over_a_day_ago_is_pointed_out_until_it_is_home(shop: Shop) -> None:
    set_id = a_set(shop)
    a_seat(shop, set_id, replace(SEAT, test_hole=a_test_hole(shop)))
    fit_forms.read_size(shop, set_id, key(800), 1, {"A": "12.8"}, key=key(1), sure=False, at=AT)
    assert not seat_of(shop, now=AT).rows[0].stale
    assert seat_of(shop, now=LATER).rows[0].stale
    for _ in range(2):
        fit_forms.home(shop, set_id, key(800), 1, out=False, at=AT)
    assert [(m.spindle, m.what) for m in wood.drying_marks(shop, set_id)] == [
        (1, "sized"),
        (1, "fitted"),
    ]
    row = seat_of(shop, now=LATER).rows[0]
    assert (row.home_at, row.stale) == (AT, False)
    fit_forms.home(shop, set_id, key(800), 1, out=True, at=LATER)
    assert seat_of(shop, now=LATER).rows[0].home_at is None


def test_a_tenon_that_dried_thinner_than_its_hole_wants_is_pointed_out(shop: Shop) -> None:
    set_id = a_set(shop)
    a_seat(shop, set_id, replace(SEAT, test_hole=a_test_hole(shop)))
    cells = {(LOWER, "A"): "12.9", (LOWER, "B"): "12.6"}
    dried.take(shop, set_id, 1, cells, moisture="8", key=key(1), sure=False, at=AT)
    rows = seat_of(shop).rows
    assert [row.thin for row in rows] == [True, False, False, False]
    # Read at 8 %, sized at 6: it is narrower by what ash shrinks along its rings from 8 to 6.
    at_6 = 12.6 * (1 - 0.078 * (1 - 6 / 30)) / (1 - 0.078 * (1 - 8 / 30))
    assert rows[0].dry_mm == pytest.approx(at_6)
    assert [row.to_size for row in rows] == [False, True, True, True]
    for out in (False, True):  # gone home with a shaving round it, it asks for no wood
        fit_forms.home(shop, set_id, key(800), 1, out=out, at=AT)
        assert seat_of(shop).rows[0].thin is out
    # In a hole of its own that is small enough there is wood on it again.
    bore: dict[fit_forms.Axis, str] = {"A": "12.4", "B": "12.4"}
    fit_forms.read_hole(shop, set_id, key(800), 1, bore, key=key(2), sure=True, at=AT)
    assert (seat_of(shop).rows[0].thin, seat_of(shop).rows[0].to_size) == (False, True)


def test_a_tenon_turned_of_dry_wood_is_measured_dry_at_the_lathe(shop: Shop) -> None:
    set_id = a_set(shop, said=replace(ASH, state="kiln-dry", moisture=8.0))
    a_seat(shop, set_id, replace(SEAT, test_hole=a_test_hole(shop)))
    assert not any(row.thin for row in seat_of(shop).rows)  # 13.5 mm, for a hole of 12.78
    kept, rng = sets.found(shop, set_id), random.Random(7)
    with shop.transaction() as db:
        for axis, mm in (("A", 12.7), ("B", 12.5)):
            taken = shopfloor.reading(rng, kept, 1, LOWER, mm, LATER, axis=axis)
            readings.add(db, taken)
    row = seat_of(shop).rows[0]
    assert (row.thin, row.to_size) == (True, False)
    assert row.dry_mm == pytest.approx(12.5 * (1 - 0.078 * 0.8) / (1 - 0.078 * 22 / 30), abs=0.05)


def test_a_part_whose_holes_want_more_than_the_pattern_draws_is_pointed_out(shop: Shop) -> None:
    # Drawn 12.7 and turned green with 0.3 over: by the middle of its year, 8.5 %, it is 13.0.
    set_id = a_set(shop)
    at_6 = 13.0 * (1 - 0.078 * (1 - 6 / 30)) / (1 - 0.078 * (1 - 8.5 / 30))
    found = a_seat(shop, set_id, replace(SEAT, test_hole=a_test_hole(shop)))
    assert (found.thin, found.comes_mm) == (False, pytest.approx(at_6))
    large = a_test_hole(shop, ("13.2", "13.2"), 950)
    assert a_seat(shop, set_id, replace(SEAT, test_hole=large)).thin


def test_what_goes_where_is_told_or_taken_from_the_choice(shop: Shop) -> None:
    set_id = a_set(shop)
    a_seat(shop, set_id)
    assert dict(fitting.fitting(shop, set_id, now=AT).pairs) == {1: 1, 2: 2, 3: 3, 4: 4}
    fit_forms.pair(shop, set_id, {1: "5", 2: "", 3: " 1 "}, at=AT)
    found = fitting.fitting(shop, set_id, now=AT)
    assert (dict(found.pairs), found.settled) == ({1: 5, 3: 1}, True)
    assert [(row.hole, row.number) for row in found.parts[0].rows] == [(1, 5), (3, 1)]
    for typed, field in (({1: "9"}, "hole 1"), ({1: "2", 2: "2"}, "hole 2"), ({1: ""}, "hole 1")):
        with pytest.raises(Wrong) as wrong:
            fit_forms.pair(shop, set_id, typed, at=AT)
        assert set(wrong.value.problems) == {field}
    assert dict(fitting.fitting(shop, set_id, now=AT).pairs) == {1: 5, 3: 1}
    fit_forms.pair_as_chosen(shop, set_id)
    pairs = fitting.fitting(shop, set_id, now=AT).pairs
    assert sorted(pairs) == [1, 2, 3]
    assert sorted(pairs.values()) == [1, 2, 3]
    with pytest.raises(Refused):
        fit_forms.pair_as_chosen(shop, a_set(shop, pieces=0))


def test_everything_wrong_with_a_part_is_told_at_once(shop: Shop) -> None:
    set_id = a_set(shop)
    told = fit_forms.Told(
        "", "mapel", "−2", "sideways", "st4", "nowhere", "own", "4", "300", "along"
    )
    with pytest.raises(Wrong) as wrong:
        fit_forms.keep_part(shop, set_id, told, key=key(1), at=AT)
    assert set(wrong.value.problems) == {
        *("name", "species", "moisture", "across", "tenon", "test_hole", "own_fit"),
        "tenon_moisture",
    }
    a_seat(shop, set_id)
    with pytest.raises(Wrong) as twice:
        fit_forms.keep_part(shop, set_id, SEAT, key=key(2), at=AT)
    assert set(twice.value.problems) == {"tenon"}
    assert [end.id for end in fitting.fitting(shop, set_id, now=AT).free_ends] == [UPPER]


def test_a_part_of_a_wood_that_nobody_knows_the_shrinkage_of_is_refused(shop: Shop) -> None:
    set_id = a_set(shop)
    with pytest.raises(Wrong) as refused:
        a_seat(shop, set_id, replace(SEAT, species="osage orange"))
    assert "No shrinkage is known" in refused.value.problems["species"].message
    wood_verbs.keep_species(shop, "Osage-orange", 4.0, 6.0, at=AT)
    assert a_seat(shop, set_id, replace(SEAT, species="osage orange")).across_percent == 6.0


def test_it_goes_round_exactly(shop: Shop, tmp_path: Path) -> None:
    set_id = a_set(shop)
    a_seat(shop, set_id, replace(SEAT, test_hole=a_test_hole(shop)))
    fit_forms.read_hole(
        shop, set_id, key(800), 2, {"A": "12.9", "B": "12.8"}, key=key(1), sure=False, at=AT
    )
    fit_forms.read_size(shop, set_id, key(800), 1, {"A": "12.8"}, key=key(2), sure=False, at=AT)
    fit_forms.home(shop, set_id, key(800), 1, out=False, at=LATER)
    fit_forms.pair(shop, set_id, {1: "1", 2: "3"}, at=AT)
    document = export_all(shop, now=LATER)
    with closing(open_shop(tmp_path, "other.db")) as other:
        for _ in range(2):
            import_into(other, from_json(to_json(document)), now=LATER)
        assert store.whole(other, set_id) == store.whole(shop, set_id)
        assert export_all(other, now=LATER)["sets"] == document["sets"]


NONSENSE: tuple[tuple[tuple[str | int, ...], object, str], ...] = (
    (("parts", 0, "school"), "tight", "parts[0].school"),
    (("parts", 0, "test_hole"), "0" * 32, "no test hole"),
    (("parts", 0, "readings", 0, "value_mm"), -1, "value_mm"),
    (("later", 0, "spindle"), 99, "no spindle 99"),
    (("holes_of",), [{"spindle": 1, "hole": 1}, {"spindle": 2, "hole": 1}], "twice"),
    (("fitted", 0, "at"), "noon", "moment"),
)


def test_nonsense_in_a_file_is_refused_with_its_place(shop: Shop) -> None:
    set_id = a_set(shop)
    a_seat(shop, set_id, replace(SEAT, test_hole=a_test_hole(shop)))
    fit_forms.read_hole(shop, set_id, key(800), 2, {"A": "12.9"}, key=key(1), sure=False, at=AT)
    fit_forms.read_size(shop, set_id, key(800), 1, {"A": "12.8"}, key=key(2), sure=False, at=AT)
    fit_forms.home(shop, set_id, key(800), 1, out=False, at=LATER)
    whole = export_all(shop, now=LATER)
    for place, value, said in NONSENSE:
        document = copy.deepcopy(whole)
        within = document["sets"][0]["fit"]
        for step in place[:-1]:
            within = within[step]
        within[place[-1]] = value
        with pytest.raises(NotUnderstood, match=re.escape(said)):
            from_json(to_json(document))


def test_a_piece_still_to_turn_has_no_tenon_to_size(shop: Shop) -> None:
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [2])
    part = a_seat(shop, kept.id, replace(SEAT, test_hole=a_test_hole(shop)))
    found = fitting.fitting(shop, kept.id, now=AT)
    assert [row.number for row in found.to_size(found.part(part.part.key))] == [2]
    following = found.next_to_size()
    assert following is not None
    assert following[1].number == 2


def test_at_the_lathe_the_other_tenon_of_a_piece_comes_before_the_next_piece(shop: Shop) -> None:
    set_id = a_set(shop)
    hole = a_test_hole(shop)
    a_seat(shop, set_id, replace(SEAT, test_hole=hole))
    rail = replace(SEAT, name="Rail", tenon=UPPER, test_hole=hole)
    fit_forms.keep_part(shop, set_id, rail, key=key(801), at=LATER)

    def following(n: int, number: int) -> tuple[str, int] | None:
        found = fitting.fitting(shop, set_id, now=AT).next_to_size(key(n), number)
        return found and (found[0].part.name, found[1].number)

    assert following(0, 0) == ("Seat", 1)
    assert following(800, 1) == ("Rail", 1)
    assert following(801, 1) == ("Seat", 2)
    how = {"sure": True, "at": AT}
    over: dict[fit_forms.Axis, str] = {"A": "13.2"}
    fit_forms.read_size(shop, set_id, key(800), 1, over, key=key(1), **how)
    assert fitting.fitting(shop, set_id, now=AT).row(key(800), 1).to_size
    right: dict[fit_forms.Axis, str] = {"A": "12.78"}
    fit_forms.read_size(shop, set_id, key(800), 1, right, key=key(2), **how)
    assert following(0, 0) == ("Rail", 1)
    assert following(801, 4) == ("Rail", 1)  # after the last it begins again
    with pytest.raises(NotFound):
        fitting.fitting(shop, set_id, now=AT).row(key(800), 77)


def test_the_place_in_the_log_tells_where_the_dot_comes_to_lie(shop: Shop) -> None:
    set_id = a_set(shop)
    a_seat(shop, set_id)
    assert {row.rings for row in seat_of(shop).rows} == {None}
    billets(shop, set_id, {1: 35.0, 2: None})
    first, second, *_ = seat_of(shop).rows
    assert first.rings == origin.Rings(35.0, 1, "Lane ash")
    # Rays across the part's grain, and the dot 35 degrees back from the rays.
    assert first.dot_deg == pytest.approx(55.0)
    assert (second.rings, second.dot_deg) == (None, None)
    origin.keep_ring(shop, set_id, 2, 90.0)
    assert seat_of(shop).rows[1].dot_deg == pytest.approx(0.0)


@given(turned=st.sampled_from([0.0, 90.0]), ring=st.floats(0, 180))
def test_a_dot_put_where_it_is_told_brings_the_rays_where_they_are_wanted(
    turned: float, ring: float
) -> None:
    dot = fit.dot_deg(turned, ring)
    assert -90 <= dot < 90
    off = (dot + ring - turned) % 180  # half a turn on it is the same joint
    assert min(off, 180 - off) == pytest.approx(0, abs=1e-9)


def test_a_spindle_has_a_hole_of_its_own_size_in_each_part(shop: Shop) -> None:
    set_id = a_set(shop)
    a_seat(shop, set_id)
    rail = replace(SEAT, name="Rail", tenon=UPPER)
    fit_forms.keep_part(shop, set_id, rail, key=key(801), at=LATER)
    sizes: dict[int, dict[fit_forms.Axis, str]] = {
        800: {"A": "12.80", "B": "12.76"},
        801: {"A": "11.20", "B": "11.16"},
    }
    for part, typed in sizes.items():
        fit_forms.read_hole(
            shop, set_id, key(part), 2, typed, key=key(part + 50), sure=False, at=AT
        )
    found = fitting.fitting(shop, set_id, now=AT)
    for part, mm in ((800, 12.78), (801, 11.18)):
        first, second, *_ = found.part(key(part)).rows
        assert (second.number, second.hole, second.own) == (2, 2, True)
        assert second.bore is not None
        assert second.bore.size_mm == pytest.approx(mm)
        assert second.target_mm == pytest.approx(mm, abs=0.03)
        assert first.bore is None
