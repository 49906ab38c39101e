"""Sheets of a set and of a pattern: what stands on them comes from the set's own work."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from benchside.errors import BenchsideError, NotFound, NotUnderstood, OutOfRange
from benchside.job import exchange, paper, sets, turning, wood, wood_of
from benchside.job.paper import Asked, Language
from benchside.job.shop import keep_lathe, lathe
from benchside.job.work import letters_of, work_of, work_on
from benchside.lathe import now
from benchside.paper.marks import Drawing, Stroke, Words
from benchside.paper.pdf import pdf
from benchside.store import patterns, stock
from benchside.store.database import Shop
from benchside.store.stock import KeptBlank, KeptBoard
from benchside.web.labels import place_label
from tests import shopfloor
from tests.job import fitted_bench
from tests.paper import samples

AT = samples.DAY
WORDS = Language(samples.say(), place_label, lambda at: f"day {at[:10]}")


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    opened = shopfloor.open_shop(tmp_path_factory.mktemp("paper"))
    shopfloor.started(opened)
    yield opened
    opened.close()


@pytest.fixture
def own(tmp_path: Path) -> Iterator[Shop]:
    opened = shopfloor.open_shop(tmp_path)
    yield opened
    opened.close()


def said(drawing: Drawing) -> list[str]:
    return [m.text for m in drawing.marks if isinstance(m, Words)]


def test_lines_carry_the_letters_their_calipers_stand_at(shop: Shop) -> None:
    found = paper.of_set(shop, 1, WORDS)
    kept = sets.standing(shop, 1).kept
    doing = work_on(shop, kept.pattern_id, kept.revision)
    letters = letters_of(shop, kept, doing)
    by_place = {line.at_mm: line for line in found.lines}
    assert len(found.lines) == 12
    for step in doing.steps:
        if step.id in letters and step.at_mm in by_place:
            use = letters[step.id]
            assert (use.letter, use.setting_mm) in by_place[step.at_mm].settings
    assert not any(name.startswith(("Half", "along")) for name in (ln.name for ln in found.lines))


def test_the_place_of_the_steady_is_the_one_of_the_steps(own: Shop) -> None:
    shopfloor.started(own)
    assert paper.of_set(own, 1, WORDS).steadies_mm == ()
    keep_lathe(own, replace(lathe(own), steady="ring"))
    kept = sets.standing(own, 1).kept
    steps = work_on(own, kept.pattern_id, kept.revision).steps
    expected = {s.at_mm for s in steps if s.say in ("steady_fit", "steady_move")}
    found = paper.of_set(own, 1, WORDS)
    assert set(found.steadies_mm) == expected != set()
    told = said(paper.whole(found, "stick", WORDS, at=AT))
    assert sum(text.startswith("steady at") for text in told) == len(expected)


def test_gauges_have_the_limits_of_the_set_and_of_stations_with_their_own(own: Shop) -> None:
    shopfloor.started(own)
    limits = {s.name: (s.size_mm, s.tolerance_mm) for s in paper.of_set(own, 1, WORDS).sizes}
    assert limits["Lower tenon"] == (12.7, 0.1)
    assert limits["Neck"] == (14.0, 0.4)
    assert limits["Foot"] == (16.0, 0.8)
    alone = paper.of_pattern(own, 1, WORDS, unit="mm")
    assert {s.name: s.tolerance_mm for s in alone.sizes}["Neck"] == 0.4
    assert all(s.letters == "" for s in alone.sizes)


@pytest.mark.parametrize("what", paper.WHAT)
def test_every_sheet_says_today_and_the_revision(shop: Shop, what: paper.What) -> None:
    found = paper.of_set(shop, 1, WORDS)
    printed = paper.printer(shop)
    asked = Asked(base="http://bench.local:8000")
    for sheet in paper.sheets(found, what, printed, WORDS, asked, at=AT):
        words = {m.text for m in sheet.marks if isinstance(m, Words)}
        assert {"day 2026-03-19", "revision 1", "Hall bench"} <= words


def test_a_pattern_alone_has_no_labels_and_can_be_an_older_revision(own: Shop) -> None:
    kept = shopfloor.started(own)
    with own.transaction() as db:
        longer = samples.rod(0.0, 90.0, 300.0)
        patterns.add_revision(db, kept.pattern_id, longer, at=AT, reason="")
    newest = paper.of_pattern(own, kept.pattern_id, WORDS, unit="in/64")
    assert (newest.revision, newest.pattern.length_mm, newest.unit) == (2, 300.0, "in/64")
    assert "labels" not in paper.offered(newest)
    assert paper.of_pattern(own, kept.pattern_id, WORDS, unit="mm", revision=1).revision == 1
    assert paper.of_set(own, kept.id, WORDS).revision == 1
    with pytest.raises(NotFound):
        paper.of_pattern(own, 9, WORDS, unit="mm")
    with pytest.raises(NotFound):
        paper.of_set(own, 9, WORDS)


def test_labels_are_for_every_piece_that_is_not_spoiled(own: Shop) -> None:
    kept = shopfloor.started(own, wanted=2, spares=1)
    practice = sets.practice_piece(own, kept.id)
    turning.mark(
        own,
        kept.id,
        2,
        turning.Marked(key="a" * 32, what="spoiled", text="dug in"),
        device_id=None,
        received_at=AT,
    )
    found = paper.of_set(own, kept.id, WORDS)
    assert found.numbers == ((1, False), (3, False), (practice, True))


def test_the_page_and_the_printer_are_kept_and_travel_with_the_shop(
    own: Shop, tmp_path: Path
) -> None:
    assert paper.printer(own).page == paper.page.Page()
    paper.keep_page(own, 215.9, 279.4)
    paper.keep_measured(own, 248.0, 201.0)
    paper.keep_kerf(own, 0.18)
    kept = paper.printer(own)
    assert (kept.page.long_mm, kept.page.short_mm) == (279.4, 215.9)
    assert kept.page.along == pytest.approx(250 / 248)
    assert kept.page.across == pytest.approx(200 / 201)
    assert kept.kerf_mm == 0.18
    text = exchange.to_json(exchange.export_all(own, now=AT))
    other = shopfloor.open_shop(tmp_path, "other.db")
    exchange.import_into(other, exchange.from_json(text), now=AT)
    assert paper.printer(other) == kept
    other.close()
    for name, wrong in (("printer_along", 1.5), ("paper_width_mm", 20), ("gauge_kerf_mm", 3)):
        document = json.loads(text)
        document["settings"][name] = wrong
        with pytest.raises(NotUnderstood, match="settings"):
            exchange.from_json(json.dumps(document))
    paper.forget_printer(own)
    assert not paper.printer(own).corrected


@pytest.mark.parametrize(
    ("keep", "field"),
    [
        (lambda shop: paper.keep_page(shop, 100, 200), "page"),
        (lambda shop: paper.keep_measured(shop, 200, 180), "along"),
        (lambda shop: paper.keep_measured(shop, 250, 18), "across"),
        (lambda shop: paper.keep_kerf(shop, -1), "kerf"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_kept(own: Shop, keep, field) -> None:
    with pytest.raises(OutOfRange) as caught:
        keep(own)
    assert caught.value.field == field
    assert not own.settings("p")
    assert not own.settings("gauge")


def test_the_cutters_sheet_holds_gauges_alone_with_the_kerf_that_is_kept(own: Shop) -> None:
    shopfloor.started(own)
    paper.keep_kerf(own, 0.4)
    found = paper.of_set(own, 1, WORDS)
    drawing = paper.cut_file(found, paper.printer(own), WORDS, Asked(), 1, at=AT)
    assert {m.layer for m in drawing.marks if isinstance(m, Stroke)} == {"cut"}
    assert any(text.startswith("GO") for text in said(drawing))
    with pytest.raises(BenchsideError, match="one sheet of gauges"):
        paper.cut_file(found, paper.printer(own), WORDS, Asked(), 9, at=AT)


def test_turned_green_the_stick_has_the_size_to_turn_now_beside_the_dry_one(own: Shop) -> None:
    set_id = fitted_bench.a_set(own, pieces=0)
    found = paper.of_set(own, set_id, WORDS)
    tenon = next(line for line in found.lines if line.name == "Lower tenon")
    # 45 to 8.5 % on a fibre saturation of 30 %: 7.8 % takes 0.078 (30 - 8.5) / 30 of it away.
    by_hand = (12.7 + 0.3) / (1 - 0.078 * (30 - 8.5) / 30)
    assert (tenon.dry_mm, tenon.now_mm) == (12.7, pytest.approx(by_hand, abs=0.02))
    told = said(paper.whole(found, "half-pattern", WORDS, at=AT))
    assert any("dry 12.70" in text for text in told)
    assert f"{tenon.now_mm:.2f}" in told


def test_a_set_whose_wood_nobody_said_has_one_size_alone(shop: Shop) -> None:
    found = paper.of_set(shop, 1, WORDS)
    assert {line.now_mm for line in found.lines} == {None}
    assert (found.state, found.dry_sizes, found.blanks) == ("", (), {})


def test_gauges_are_green_unless_the_finished_ones_are_asked_for(own: Shop) -> None:
    found = paper.of_set(own, fitted_bench.a_set(own, pieces=0), WORDS)
    printed = paper.printer(own)
    green, dry = (
        said(paper.cut_file(found, printed, WORDS, Asked(finished=finished), 1, at=AT))
        for finished in (False, True)
    )
    each = sum(text.startswith("GO ") for text in green)
    assert (green.count("GREEN"), green.count("FINISHED")) == (each, 0)
    each = sum(text.startswith("GO ") for text in dry)
    assert (dry.count("GREEN"), dry.count("FINISHED")) == (0, each)
    for finished, told in ((False, "Sizes to turn now, GREEN."), (True, "FINISHED sizes, for dry")):
        sheets = paper.sheets(found, "gauges", printed, WORDS, Asked(finished=finished), at=AT)
        file = pdf(sheets, title="Gauges", made_at=AT)
        assert told in " ".join(samples.text_of(file).split())
    assert "GO 12.80" in dry
    assert "GO 12.80" not in green
    wood = wood_of.said(own, found.set_id or 0)
    assert wood is not None
    tenon_mm = now.size(12.7, "tenon", wood.turning).turn_mm
    assert f"GO {tenon_mm + 0.1:.2f}" in green


def test_wood_as_dry_as_it_will_live_has_one_size_of_each_and_no_choice(own: Shop) -> None:
    kept = shopfloor.started(own)
    for minute, moisture in enumerate((8.0, 10.0)):
        given = wood.Given("white ash", "figure", "dry", "figure", moisture=moisture, lives_mc=8.0)
        wood.give(own, kept.id, given, at=shopfloor.moment(minute))
        found = paper.of_set(own, kept.id, WORDS)
        asked = Asked(finished=True)
        told = said(paper.cut_file(found, paper.printer(own), WORDS, asked, 1, at=AT))
        assert bool(found.dry_sizes) == ("FINISHED" in told) == (moisture > 8.0)
        assert "TO TURN NOW" not in told


def test_every_size_that_a_caliper_is_set_to_in_the_end_has_a_gauge(own: Shop) -> None:
    kept = shopfloor.started(own, samples.rod(0.0, 24.0, 205.0, 386.0, 410.0))
    found = paper.of_set(own, kept.id, WORDS)
    doing = work_of(own, kept)
    letters = letters_of(own, kept, doing)
    stops = {
        (doing.places[step.place_id], round(step.stop_mm, 3))
        for step in doing.steps
        if step.id in letters and step.place_id is not None and step.stop_mm is not None
        if abs(step.stop_mm - doing.places[step.place_id].diameter_mm) < 1e-6
    }
    assert any(place.role not in paper.LINED for place, _ in stops)  # between two stations
    sizes = {(size.name, round(size.size_mm, 3)) for size in found.sizes}
    assert {(place_label(place), mm) for place, mm in stops} <= sizes


def test_labels_name_the_blank_a_piece_is_from(own: Shop) -> None:
    kept = shopfloor.started(own, wanted=2, spares=0)
    sizes = (1000.0, 120.0, 40.0, 3.2, 0.0, 0.0, 0.0, 0.0, 0.0)
    rack = KeptBoard(0, "a" * 32, None, "Rack 3", "", "mm", *sizes, True, None, None, AT, None)
    with own.transaction() as db:
        board_id = stock.keep_board(db, rack)
        sawn = KeptBlank(5, 2, board_id, None, 0.0, 0.0, 0.0, 480.0, 30.0, 0.0, None, AT)
        stock.keep_blanks(db, kept.id, [sawn])
    found = paper.of_set(own, kept.id, WORDS)
    assert found.blanks == {2: "5, Rack 3"}
    sheets = paper.sheets(found, "labels", paper.printer(own), WORDS, Asked(base="http://b"), at=AT)
    told = samples.text_of(pdf(sheets, title="Labels", made_at=AT)).splitlines()
    assert told.count("Blank") == 1
    assert told.count("Blank 5, Rack 3") == 1
