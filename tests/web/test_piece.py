"""The page of one piece: what it measures, what was said of it, what became of its readings."""

from __future__ import annotations

import random

import pytest

from benchside.job import sets
from benchside.store import patterns, readings
from benchside.store.readings import Mark
from tests import shopfloor
from tests.web.pages import form_fields, text_of


def test_each_kind_of_piece_is_called_what_it_is_and_says_what_will_stand_here(shop, browser):
    kept = shopfloor.started(shop, wanted=2, spares=1)
    practice = sets.practice_piece(shop, kept.id)
    for number, called in ((1, "Piece 1"), (3, "Spare piece 3"), (practice, "Practice piece 4")):
        page = text_of(browser.get(f"/sets/{kept.id}/pieces/{number}").text)
        assert f" {called} to do" in page
        assert "Turn it" in page
        assert "Its readings will stand here, station by station" in page
        assert "What was said of it" not in page
        assert "Corrections" not in page


def test_a_reading_is_told_by_the_size_it_was_to_stop_at_then(shop, browser):
    kept = shopfloor.started(shop)
    rng, at = random.Random(2), shopfloor.moment(1)
    with shop.transaction() as db:
        # Sized 1/16 in over the finished 22 mm: 23.6 is what to stop at then, 1.6 over later.
        for phase, target_mm in (("sizing", 23.5875), ("final", 22.0)):
            told = {"phase": phase, "target_mm": target_mm}
            readings.add(db, shopfloor.reading(rng, kept, 1, "st4", 23.6, at, **told))
    page = text_of(browser.get(f"/sets/{kept.id}/pieces/1").text)
    assert "from the size to stop at: while sizing the one for then, else the finished one." in page
    assert "Swell, sizing 23.6 ● 0.0 within" in page
    assert "Swell 23.6 ▲ +1.6 over" in page
    assert "Typed “23.6”" in page
    assert "against 22.0 mm" in page


def test_what_became_of_each_reading_is_told_under_corrections(shop, browser):
    kept = shopfloor.started(shop)
    rng = random.Random(2)
    first, again, gone, same = (
        shopfloor.reading(rng, kept, 1, place, mm, shopfloor.moment(minute))
        for minute, (place, mm) in enumerate(
            (("st4", 22.3), ("st4", 22.1), ("st7", 14.2), ("st4", 22.1))
        )
    )
    with shop.transaction() as db:
        for reading in (first, again, gone, same):
            readings.add(db, reading)
    page = text_of(browser.get(f"/sets/{kept.id}/pieces/1").text)
    assert "Swell: 22.3 read again: 22.1 counts" in page
    assert "Swell: 22.1 read again, the same" in page
    assert "withdrawn" not in page.split("Corrections")[1]
    form = next(
        f
        for f in form_fields(browser.get(f"/sets/{kept.id}/pieces/1").text, "/sets/1/pieces/1/mark")
        if f.get("about") == gone.key
    )
    browser.post(f"/sets/{kept.id}/pieces/1/mark", data=form)
    page = text_of(browser.get(f"/sets/{kept.id}/pieces/1").text)
    assert "Neck: 14.2 withdrawn" in page
    assert "14.2 ●" not in page


def test_a_step_that_is_no_longer_in_the_order_is_said_to_be(shop, browser):
    kept = shopfloor.started(shop)
    at = shopfloor.moment(1)
    with shop.transaction() as db:
        for i, step_id in enumerate(("size:st4", "size:st99")):
            readings.add_mark(db, Mark(f"{i:032x}", kept.id, 1, "skip", step_id, "", "", at, at))
    page = text_of(browser.get(f"/sets/{kept.id}/pieces/1").text)
    assert "Reading skipped: size Swell" in page
    assert "Reading skipped: a step no longer in the order" in page


def test_a_note_too_long_for_a_piece_is_given_back(shop, browser):
    kept = shopfloor.started(shop)
    base = f"/sets/{kept.id}/pieces/1"
    form = {"key": "a" * 32, "what": "note", "text": "n" * 3000}
    reply = browser.post(f"{base}/mark", data=form)
    assert reply.status_code == 422
    assert 'id="problem-note"' in reply.text
    assert "n" * 3000 in reply.text


def test_a_skipped_step_says_which(shop, browser):
    kept = shopfloor.started(shop)
    rng = random.Random(2)
    with shop.transaction() as db:
        for step_id in ("final:st4", "run:st4"):
            at = shopfloor.moment(1)
            readings.add_mark(db, shopfloor.mark(rng, kept, 1, "skip", at, step_id=step_id))
    said = text_of(browser.get(f"/sets/{kept.id}/pieces/1").text)
    assert "Reading skipped: read Swell" in said
    assert "Reading skipped: run Middle, Swell to First bead" in said


def test_the_rest_of_the_readings_skipped_is_told_as_that(shop, browser):
    kept = shopfloor.started(shop)
    base = f"/sets/{kept.id}/pieces/1"
    skipped = {"key": "a" * 32, "what": "skip", "step_id": "final"}
    browser.post(f"{base}/mark", data=skipped)
    said = text_of(browser.get(base).text)
    assert "The rest of its readings skipped" in said
    assert "no longer in the order" not in said
    assert "taken up again" not in said
    browser.post(f"{base}/mark", data={"key": "b" * 32, "what": "withdrawn", "about": "a" * 32})
    said = text_of(browser.get(base).text)
    assert "The rest of its readings skipped, taken up again since" in said


def test_only_a_figure_that_is_asked_about_can_be_taken_all_the_same(shop, browser):
    kept = shopfloor.started(shop)
    rng = random.Random(2)
    with shop.transaction() as db:
        right = shopfloor.reading(rng, kept, 1, "st4", 22.1, shopfloor.moment(1))
        readings.add(db, right)
    form = {"key": "a" * 32, "supersedes": right.key, "station_id": "st4", "unit": "mm"}
    far, absurd = (
        browser.post(f"/sets/{kept.id}/pieces/1/reading", data={**form, "value": value}).text
        for value in ("42.1", "2320")
    )
    assert "42.1 is 20.1 mm over" in far
    assert "Take it all the same</label>" in far
    assert "2320.0 mm cannot be" in absurd
    assert "Take it all the same</label>" not in absurd
    assert 'value="2320"' in absurd


def test_the_two_ways_across_are_called_by_the_dot(shop, browser):
    kept = shopfloor.started(shop)
    rng = random.Random(2)
    with shop.transaction() as db:
        for axis in ("A", "B"):
            at = shopfloor.moment(1)
            readings.add(db, shopfloor.reading(rng, kept, 1, "st4", 22.1, at, axis=axis))
    said = text_of(browser.get(f"/sets/{kept.id}/pieces/1").text)
    assert "Swell, at the dot" in said
    assert "Swell, a quarter turn on" in said
    assert said.count("All in mm") == 1


def test_a_reading_is_corrected_on_the_page_of_its_piece(shop, browser):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    base = f"/sets/{kept.id}/pieces/1"
    forms = form_fields(browser.get(base).text, f"{base}/reading")
    neck = next(f for f in forms if f["station_id"] == "st7" and f["kind"] == "diameter")
    refused = browser.post(f"{base}/reading", data=neck | {"value": "thick"})
    assert refused.status_code == 422
    assert 'value="thick"' in refused.text
    assert f'id="problem-{neck["supersedes"]}"' in refused.text
    reply = browser.post(f"{base}/reading", data=neck | {"value": "14,25"})
    assert (reply.status_code, reply.headers["location"]) == (303, base)
    stands = {r.station_id: r for r in readings.standing(shop, kept.id, 1) if r.kind == "diameter"}
    assert (stands["st7"].value_mm, stands["st7"].supersedes) == (14.25, neck["supersedes"])
    assert "corrected to 14,25" in text_of(browser.get(base).text)


def test_a_surprising_correction_is_questioned_then_taken(shop, browser):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    base = f"/sets/{kept.id}/pieces/1"
    form = form_fields(browser.get(base).text, f"{base}/reading")[0]
    reply = browser.post(f"{base}/reading", data=form | {"value": "22"})
    assert reply.status_code == 422
    assert 'name="sure"' in reply.text
    reply = browser.post(f"{base}/reading", data=form | {"value": "22", "sure": "1"})
    assert reply.status_code == 303


@pytest.mark.parametrize(
    ("what", "says"),
    [
        ("spoiled", "spoiled: a catch"),
        ("mend", "done, to be mended: a catch"),
        ("odd", "done, the odd one: a catch"),
        ("spare", "done, kept as a spare: a catch"),
    ],
)
def test_what_became_of_a_piece_is_said_on_it_and_can_be_taken_back(shop, browser, what, says):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    base = f"/sets/{kept.id}/pieces/1"
    form = next(f for f in form_fields(browser.get(base).text, f"{base}/mark") if f["what"] == what)
    browser.post(f"{base}/mark", data=form | {"text": "a catch"})
    page = browser.get(base).text
    assert says in text_of(page)
    form = next(f for f in form_fields(page, f"{base}/mark") if f["what"] == "sound")
    browser.post(f"{base}/mark", data=form)
    assert says not in text_of(browser.get(base).text).split("What it measures")[0]


def test_the_last_readings_are_moved_from_the_page_of_their_piece(shop, browser):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    base = f"/sets/{kept.id}/pieces/1"
    (form,) = form_fields(browser.get(base).text, f"{base}/move")
    refused = browser.post(f"{base}/move", data=form | {"count": "0", "to": "2"})
    assert refused.status_code == 422
    none = browser.post(f"/sets/{kept.id}/pieces/2/move", data=form | {"count": "1", "to": "3"})
    assert "Piece 2 has no readings." in text_of(none.text)
    browser.post(f"{base}/move", data=form | {"count": "3", "to": "2"})
    assert len(readings.standing(shop, kept.id, 2)) == 3
    assert "moved to piece 2" in text_of(browser.get(base).text)


def test_a_piece_becomes_the_pattern_after_the_maker_saw_what_changes(shop, browser):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1], off_mm={(1, "st4"): 0.6})
    base = f"/sets/{kept.id}/pieces/1"
    page = browser.get(f"{base}/pattern").text
    assert "What would change" in page
    assert "The tenons stay as the pattern has them" in page
    assert "Read but left out" in page
    (form,) = form_fields(page, f"{base}/pattern")
    assert browser.post(f"{base}/pattern", data=form).status_code == 303
    assert shopfloor.set_again(shop, kept).revision == 2
    again = browser.post(f"{base}/pattern", data=form)
    assert again.status_code == 403
    assert patterns.found(shop, kept.pattern_id).revision == 2


@pytest.mark.parametrize(
    ("unit", "off"), [("in/16", "+0.020"), ("in/64", "+0.020"), ("mm", "+0.5")]
)
def test_off_the_lathe_all_pages_tell_a_difference_alike(shop, browser, unit, off):
    """0.5 mm is 0.0197 in, by the inch of 25.4 mm; in sixteenths it would be none at all."""
    kept = shopfloor.started(shop, unit=unit)
    every = {(number, "st4"): 0.5 for number in (1, 2, 3)}
    shopfloor.turn(shop, kept, (1, 2, 3), scatter=0.0, off_mm=every)
    for page in ("pieces/1", "review/table", "as-made"):
        assert f"{off} " in text_of(browser.get(f"/sets/{kept.id}/{page}").text), page
