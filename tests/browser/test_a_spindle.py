"""A spindle tapped through on the phone, from mounting to the next piece, and back."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from benchside.pattern import Pattern, Section, Station
from benchside.store.sets import SpindleSet
from tests.browser.bench import Bench, peg, stretcher
from tests.browser.conftest import NewPhone
from tests.browser.hand import SAYS, Phone

TWICE_AT_ONCE = "button => { button.click(); button.click(); }"


def figures(bench: Bench, kept: SpindleSet, off_mm: float = 0.1) -> dict[str, str]:
    """A believable figure for every reading of a set, by place/kind/phase."""
    return {
        f"{step.place_id}/{step.reads}/{step.phase}": f"{step.stop_mm + off_mm:.1f}"
        for step in bench.work(kept).steps
        if step.reads and step.stop_mm is not None
    }


@pytest.mark.parametrize(
    "pattern",
    [
        pytest.param(peg(), id="a peg", marks=pytest.mark.quick),
        pytest.param(stretcher(), id="a stretcher"),
    ],
)
def test_a_whole_spindle_is_tapped_through_and_every_reading_is_there(
    bench: Bench, phone: Phone, pattern: Pattern
) -> None:
    kept = bench.started(pattern)
    wanted = figures(bench, kept)
    steps = bench.work(kept).steps
    phone.open(f"/sets/{kept.id}")
    phone.page.get_by_role("link", name="Turn piece 1").tap()
    phone.shows("mount")
    assert phone.piece == "Piece 1 of 3"
    passed = phone.turns_it(wanted)
    assert list(dict.fromkeys(a.removesuffix("/read") for a in passed)) == [
        step.id for step in steps[:-1]
    ]
    # The still moment: what was read, each with its mark, before the next piece.
    summary = phone.step.locator("[data-summary] tr")
    expect(summary).to_have_count(sum(s.phase == "final" and bool(s.reads) for s in steps))
    expect(summary.locator("[data-value]")).to_contain_text(["●"] * summary.count())
    phone.goes_on()
    phone.shows("mount")
    assert phone.piece == "Piece 2 of 3"
    phone.waits(lambda: ("done", "done") in bench.marks(kept, 1))
    assert bench.readings(kept) == [
        (s.place_id, s.reads, s.phase, wanted[f"{s.place_id}/{s.reads}/{s.phase}"])
        for s in steps
        if s.reads
    ]
    ticked = [step for what, step in bench.marks(kept, 1) if what == "step"]
    assert ticked == [step.id for step in steps[:-1]]
    phone.open(f"/sets/{kept.id}")
    expect(phone.page.get_by_role("link", name="Turn piece 2")).to_be_visible()


def test_the_last_step_names_what_was_not_read_and_leads_there(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    phone.takes("20.2")
    phone.goes_to("done")
    unread = phone.page.locator("[data-unread]")
    expect(unread).to_contain_text("is not chosen from")
    first = (unread.get_by_role("link").text_content() or "").split(";")[0]
    assert first
    unread.get_by_role("link").tap()
    expect(phone.step.get_by_role("heading", level=1)).to_contain_text(first)
    expect(phone.step.locator(".entry input")).to_be_visible()


def test_what_lies_beyond_its_limits_stands_first_on_the_last_step(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    phone.takes("21.0")
    phone.goes_to("final:s2/read")
    phone.takes("12.0")
    phone.goes_to("done")
    beyond = phone.page.locator("[data-beyond]")
    expect(beyond).to_have_text("Beyond its limits: Point 12.0 ▼; Head 21.0 ▲")
    lines = phone.step.locator("[data-beyond], [data-drift], [data-unread], .say")
    expect(lines.first).to_have_text("Beyond its limits: Point 12.0 ▼; Head 21.0 ▲")
    beyond.get_by_role("link").tap()
    phone.shows("final:s2/read")
    phone.goes_on()
    phone.shows("done")  # and not to what was read after it
    phone.page.locator("[data-unread]").get_by_role("link").tap()
    phone.goes_on()
    phone.shows("done")


def test_a_note_stays_with_the_piece(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 2, "rough")
    phone.opens_more()
    phone.step.get_by_label("A note on this piece").fill("a knot at the <neck> & a “crack”")
    phone.step.get_by_role("button", name="Keep the note").tap()
    phone.waits(lambda: bench.marks(kept, 2) == [("note", "")])
    phone.open(f"/sets/{kept.id}/pieces/2")
    expect(phone.page.locator("main")).to_contain_text("a knot at the <neck> & a “crack”")


def test_stopped_tonight_it_is_taken_up_tomorrow_on_another_phone(
    bench: Bench, new_phone: NewPhone
) -> None:
    kept = bench.started(peg())
    tonight, tomorrow = new_phone(name="Tonight"), new_phone(name="Tomorrow")
    tonight.turns(kept, 1)
    tonight.goes_on()
    tonight.goes_on()
    tonight.shows("set_out")
    tonight.waits(lambda: len(bench.marks(kept)) == 2)
    tomorrow.open(f"/sets/{kept.id}/turn")
    tomorrow.shows("set_out")
    assert tomorrow.piece == "Piece 1 of 3"


def test_a_step_gone_back_to_is_drawn_with_its_cut_made(bench: Bench, phone: Phone) -> None:
    kept = bench.started()
    phone.turns(kept, 1, "tenon:s1")
    finished = phone.step.locator(".picture svg:visible > use[href='#a0']")
    expect(phone.step.locator(".picture svg:visible > use[href='#ah-s1']")).to_have_count(1)
    expect(finished).to_have_count(0)
    phone.goes_on()
    phone.goes_to("tenon:s1")
    expect(phone.step.locator("[data-been]")).to_have_text(SAYS["been"])
    expect(phone.step.locator(".picture svg:visible")).to_have_count(1)
    expect(finished).to_have_count(1)
    expect(phone.step.locator(".picture svg:visible > use[href='#ah-s1']")).to_have_count(1)
    phone.turns(kept, 2, "tenon:s1")
    expect(finished).to_have_count(0)
    phone.waits(lambda: ("step", "tenon:s1") in bench.marks(kept, 1))


def test_a_final_reading_names_the_caliper_that_stands_at_its_size(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(calipers=3)
    phone.turns(kept, 1, "tenon:s1")
    letter = phone.step.locator(".caliper b").inner_text()
    assert phone.step.locator(".size > span").inner_text() == "16.00"
    phone.goes_to("final:s1/read")
    expect(phone.step.locator(".letter")).to_have_text(letter)
    expect(phone.step.locator(".aim b")).to_have_text("16.00 mm")
    phone.goes_to("final:s2/read")  # 22.0 is cut by no caliper: its straight runs level to it
    sizes = phone.page.locator(".step:not(.read):has(.caliper)").evaluate_all(
        "all => all.map(e => [e.querySelector('h1').innerText,"
        " e.querySelector('.size > span').innerText])"
    )
    stands = ["Foot", "22.0"] in sizes
    expect(phone.step.locator(".letter")).to_have_count(int(stands))


def test_going_back_is_always_possible_and_loses_nothing(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    phone.takes("20.2")
    phone.goes_on()
    phone.presses("14")
    phone.step.get_by_label("Back one step").tap()
    expect(phone.verdict).to_contain_text("20.2: Right.")
    phone.page.go_back()
    expect(phone.entry).to_have_value("14")


def test_last_piece_done_leads_back_to_the_set(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg(), wanted=1, spares=0)
    phone.turns(kept, 1, "done")
    phone.big_button.tap()
    expect(phone.page).to_have_url(re.compile(rf"/sets/{kept.id}$"))
    assert ("done", "done") in bench.marks(kept)


def test_stage_by_stage_the_next_piece_is_at_the_same_stage(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg(), wanted=2, spares=0)
    phone.turns(kept, 1)
    phone.goes_on()
    phone.waits(lambda: bench.marks(kept) == [("step", "mount")])
    phone.opens_more()
    phone.unfolds(SAYS["habit_head"])
    phone.step.get_by_role("button", name="Go on stage by stage").tap()
    # Nothing is lost: the first piece is mounted, so the second is mounted next.
    phone.shows("mount")
    assert phone.piece == "Piece 2 of 2"
    assert bench.set_again(kept).choices.habit == "stage"
    phone.taps_the_big_button()
    phone.shows("rough")
    assert phone.piece == "Piece 1 of 2"
    phone.goes_on_to_the_next_piece()
    phone.shows("rough")
    assert phone.piece == "Piece 2 of 2"
    phone.taps_the_big_button()
    phone.shows("set_out")
    phone.opens_more()
    phone.unfolds(SAYS["habit_head"])
    phone.step.get_by_role("button", name="Go on piece by piece").tap()
    phone.shows("set_out")
    assert phone.piece == "Piece 1 of 2"
    assert bench.marks(kept) == [
        ("step", "mount"),
        ("step", "mount"),
        ("step", "rough"),
        ("step", "rough"),
    ]


def test_a_thumb_that_trembles_takes_one_reading_and_one_step(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "size:s1/read")
    phone.stops_its_clock()
    phone.presses("21.6")
    phone.big_button.evaluate(TWICE_AT_ONCE)
    expect(phone.verdict).to_contain_text("21.6: Right.")
    phone.passes(600)
    phone.big_button.dblclick()
    phone.shows("thin:s1")
    phone.passes(400)
    phone.shows("thin:s1")
    assert bench.typed(kept) == ["21.6"]
    assert bench.marks(kept) == [("step", "size:s1")]


def test_a_thumb_that_trembles_at_the_end_leaves_out_no_piece(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "done")
    phone.stops_its_clock()
    phone.big_button.dblclick()
    phone.shows("mount")
    assert phone.piece == "Piece 2 of 3"
    phone.passes(400)
    phone.shows("mount")
    phone.goes_to("done")
    phone.goes_on()
    assert phone.piece == "Piece 3 of 3"
    phone.waits(lambda: len(bench.marks(kept)) == 2)
    assert (bench.marks(kept, 1), bench.marks(kept, 2)) == ([("done", "done")],) * 2


def test_the_rest_of_the_readings_is_skipped_in_two_taps_and_taken_up_again(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    phone.takes("20.1")
    phone.goes_on()
    phone.opens_more()
    phone.step.get_by_role("link", name=SAYS["rest"]["link"]).tap()
    phone.shows("skip-rest")
    phone.step.get_by_role("link", name=SAYS["rest"]["back"]).tap()
    phone.goes_to("final:s2/read")
    phone.opens_more()
    phone.step.get_by_role("link", name=SAYS["rest"]["link"]).tap()
    phone.taps_the_big_button()
    phone.shows("done")
    expect(phone.step.get_by_text(SAYS["rest"]["left_out"])).to_be_visible()
    phone.waits(lambda: bench.marks(kept)[-1:] == [("skip", "final")])
    phone.open("/")
    phone.turns(kept, 1)
    phone.shows("mount")
    phone.goes_to("done")
    phone.step.get_by_role("button", name=SAYS["rest"]["undo"]).tap()
    phone.shows("final:middle:s1/read")
    phone.waits(lambda: bench.marks(kept)[-1][0] == "withdrawn")
    phone.goes_to("done")
    expect(phone.step.get_by_text(SAYS["rest"]["left_out"])).to_be_hidden()


def test_two_beads_of_one_name_are_each_read_where_they_lie(bench: Bench, phone: Phone) -> None:
    stations = ((0.0, ""), (60.0, "Bead"), (72.0, ""), (150.0, "Bead"), (162.0, ""), (200.0, ""))
    forms = ("straight", "bead", "straight", "bead", "straight")
    twins = Pattern(
        "Twin beads",
        tuple(Station(f"s{i}", at_mm, 20.0, name) for i, (at_mm, name) in enumerate(stations, 1)),
        tuple(Section(form, 26.0 if form == "bead" else None) for form in forms),
    )
    kept = bench.started(twins, name="Twin beads")
    phone.turns(kept)
    for place, at in (("s2", "60"), ("s4", "150"), ("crown:s2", "66"), ("crown:s4", "156")):
        face = phone.page.locator(f'[id="final:{place}/read"]')
        expect(face.locator(".from")).to_have_text(f"{at} mm from the tail")
    for bead in ("s2", "s4"):
        early = phone.page.locator(f'[id="thin:{bead}"] [data-early]')
        expect(early).to_have_attribute("href", f"#final:crown:{bead}/read")
