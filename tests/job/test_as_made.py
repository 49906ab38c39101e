"""How a set was made, kept so that it can be made again."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchside.errors import KeyReused, NotFound, NotUnderstood, OutOfRange
from benchside.job import as_made as job
from benchside.job import review
from benchside.job.turning import Marked, mark
from benchside.store.database import Shop
from benchside.store.fitting import Later
from benchside.store.judging import AsMade
from benchside.store.sets import SpindleSet
from tests import shopfloor

AT = "2026-03-09T12:00:00.000Z"


def test_averages_are_of_the_pieces_done_and_leave_the_odd_one_out(
    shop: Shop, kept: SpindleSet
) -> None:
    shopfloor.turn(shop, kept, (1, 2, 3), scatter=0.0, off_mm={(2, "st7"): -3.0, (3, "st7"): 0.4})
    shopfloor.turn(shop, kept, (4,), seed=8, off_mm={(4, "st7"): 9.0}, done=False)
    mark(shop, kept.id, 2, Marked("a" * 32, "odd", text="a catch"), device_id=None, received_at=AT)
    made = job.as_made(shop, kept.id)
    neck = next(a for a in made.averages if a.place.id == "st7")
    assert made.pieces == 2
    assert neck.size is not None
    assert neck.size.mean_mm == pytest.approx(14.2)
    assert neck.size.range_mm == pytest.approx(0.4)
    bead = next(a for a in made.averages if a.place.id == "crown:st5")
    assert bead.position is not None
    assert bead.position.mean_mm == pytest.approx(bead.place.at_mm, abs=1.0)


def test_order_calipers_and_hours_are_those_of_the_set(shop: Shop, kept: SpindleSet) -> None:
    shopfloor.turn(shop, kept, (1, 2), minutes_each=14.0)
    made = job.as_made(shop, kept.id)
    assert [step.stage for step in made.work.steps[:3]] == ["mount", "rough", "set_out"]
    assert {letter for letter, _ in made.calipers} == {u.letter for u in made.letters.values()}
    told = {size.mm: size.fine for _, sizes in made.calipers for size in sizes}
    tenon = next(step for step in made.work.steps if step.stage == "tenon")
    bead = next(step for step in made.work.steps if step.stage == "size")
    assert told[tenon.stop_mm or 0] is True  # as finely as its step tells it
    assert told[bead.stop_mm or 0] is False
    assert made.minutes == pytest.approx(28.0, abs=0.5)
    assert made.minutes_each == pytest.approx(review.review(shop, kept.id).minutes_each or 0)
    assert made.begun_at == shopfloor.moment(39.0)


def test_what_was_said_at_the_lathe_is_gathered_with_its_reasons(
    shop: Shop, kept: SpindleSet
) -> None:
    said = [
        (1, Marked("1" * 32, "spoiled", text="A catch: the skew dug in")),
        (2, Marked("2" * 32, "note", text="a pin knot")),
        (2, Marked("3" * 32, "mend")),
        (None, Marked("4" * 32, "caliper_checked", about="A")),
    ]
    for number, marked in said:
        mark(shop, kept.id, number, marked, device_id=None, received_at=AT)
    told = job.as_made(shop, kept.id).told
    assert [(t.spindle, t.what, t.text) for t in told] == [
        (1, "spoiled", "A catch: the skew dug in"),
        (2, "note", "a pin knot"),
    ]


def test_words_are_kept_and_kept_anew(shop: Shop, kept: SpindleSet) -> None:
    assert job.as_made(shop, kept.id).words == AsMade()
    job.keep_words(shop, kept.id, AsMade("ash", "16 mm", "oil", "bore first"))
    job.keep_words(shop, kept.id, AsMade("ash", "5/8 in", "oil", ""))
    assert job.as_made(shop, kept.id).words == AsMade("ash", "5/8 in", "oil", "")
    with pytest.raises(OutOfRange):
        job.keep_words(shop, kept.id, AsMade(wood="x" * 2001))
    with pytest.raises(NotUnderstood):
        job.keep_words(shop, kept.id, AsMade(wood="\ud800"))
    with pytest.raises(NotFound):
        job.keep_words(shop, 99, AsMade())


def test_a_mistake_sent_twice_is_noted_once_and_its_key_takes_nothing_else(
    shop: Shop, kept: SpindleSet
) -> None:
    for _ in range(2):
        job.note_mistake(shop, kept.id, " C slipped ", "a spot of wax", key="a" * 32, at=AT)
    assert [(m.what, m.cure) for m in job.as_made(shop, kept.id).mistakes] == [
        ("C slipped", "a spot of wax")
    ]
    with pytest.raises(KeyReused):
        job.note_mistake(shop, kept.id, "another", "", key="a" * 32, at=AT)
    with pytest.raises(NotUnderstood):
        job.note_mistake(shop, kept.id, " ", "", key="b" * 32, at=AT)
    with pytest.raises(NotUnderstood):
        job.note_mistake(shop, kept.id, "a catch", "", key="b", at=AT)


def test_what_was_read_again_is_the_mean_of_the_newest_that_count() -> None:
    read = Later("k" * 32, 1, "st1", "dry", "A", "16.8", "mm", 16.8, None, 8.0, "2026-03-01")
    others = [
        replace(read, value_mm=16.6),
        replace(read, spindle=2, value_mm=16.4),
        replace(read, spindle=2, value_mm=12.0, struck_at="2026-03-02"),
        replace(read, spindle=3, value_mm=10.0),
        replace(read, what="sized", value_mm=15.9),
    ]
    found = job._again(job._newest([read, *others]), {1, 2})
    assert found == {
        ("st1", "dry", "A"): pytest.approx(16.5),
        ("st1", "sized", "A"): pytest.approx(15.9),
    }
