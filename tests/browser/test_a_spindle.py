"""A spindle tapped through on the phone, and everything a maker says on the way."""

from __future__ import annotations

import re
from contextlib import closing

import pytest
from playwright.sync_api import expect

from benchside.job.board_table import BoardTold
from benchside.job.boards import keep_board
from benchside.pattern import Pattern, Section, Station
from benchside.store import stock
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet
from tests.browser.bench import Bench, inch_peg, peg, stretcher
from tests.browser.conftest import NewPhone
from tests.browser.hand import SAYS, Phone, offline

AT = "2026-02-01T08:00:00.000Z"
TELLS_NO_BLANKS = """
const parsed = JSON.parse;
JSON.parse = (text) => {
  const found = parsed(text);
  if (found?.blanks) found.blanks = { [found.piece]: found.blanks[found.piece] };
  return found;
};
"""


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


def test_a_verdict_says_what_is_left_and_what_to_do(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    expect(phone.verdict).to_have_text(SAYS["stopped"])
    phone.takes("20.2")
    expect(phone.verdict).to_have_text("●20.2: Right. Leave it so.")
    phone.goes_to("final:s2/read")
    phone.takes("12.9")
    expect(phone.verdict).to_contain_text("▼12.9: 1.1 mm under")


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


def test_a_reading_tells_its_limits_and_how_near_them_it_came(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    expect(phone.step.locator(".aim p")).to_have_text("aim ±0.820.0 mm")
    phone.takes("20.6")
    near = "20.6: Right, 0.6 mm over. Leave it so."
    expect(phone.verdict).to_contain_text(near)
    phone.waits(lambda: bench.typed(kept) == ["20.6"])
    phone.page.reload()
    expect(phone.verdict).to_contain_text(near)  # as the laptop says it


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


def test_before_a_second_reading_is_skipped_it_says_what_that_means(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    expect(phone.verdict).not_to_contain_text(SAYS["skip_two"])
    phone.goes_on()
    expect(phone.verdict).to_contain_text(SAYS["skip_two"])


def test_a_slip_is_put_right_with_wrong(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    phone.takes("20.2")
    expect(phone.verdict).to_contain_text("20.2: Right.")
    phone.step.get_by_role("button", name="Wrong?").tap()
    expect(phone.verdict).to_have_text(SAYS["correcting"].format(text="20.2"))
    phone.takes("21.2")
    expect(phone.verdict).to_contain_text("▲21.2")
    phone.waits(lambda: bench.typed(kept) == ["20.2", "21.2"])
    ((superseded,),) = bench.rows(
        "SELECT o.typed FROM reading r JOIN reading o ON r.supersedes = o.key WHERE r.set_id = ?",
        kept.id,
    )
    assert superseded == "20.2"
    phone.open(f"/sets/{kept.id}/pieces/1")
    expect(phone.page.locator("main")).to_contain_text("Typed “21.2”")
    expect(phone.page.locator("ul.readings")).not_to_contain_text("20.2")


def test_a_surprising_figure_is_asked_about_and_taken_when_it_is_meant(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    phone.presses("24.2")
    phone.big_button.tap()
    expect(phone.verdict).to_contain_text("24.2 is 4.2 mm over. Is that right?")
    expect(phone.big_button).to_have_text("Yes, take 24.2")
    expect(phone.entry).to_have_value("24.2")
    assert bench.typed(kept) == []
    for _ in "24.2":
        phone.presses_key("rub")
    phone.presses("20.1")
    expect(phone.big_button).to_have_text("Take 20.1")
    phone.takes("")
    phone.goes_to("final:s2/read")
    phone.presses("18.1")
    phone.big_button.tap()
    expect(phone.verdict).to_contain_text("18.1 is 4.1 mm over. Is that right?")
    phone.takes("")
    phone.waits(lambda: bench.typed(kept) == ["20.1", "18.1"])
    expect(phone.verdict).to_contain_text("▲18.1")


def test_what_cannot_be_is_said_until_something_else_is_typed(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    for right in ("rub", "."):
        phone.presses("173")
        phone.big_button.tap()
        expect(phone.verdict).to_have_text(SAYS["cannot_be"].format(text="173"))
        for key in ("rub", right):
            phone.presses_key(key)
            expect(phone.verdict).to_have_text(SAYS["stopped"])
        phone.entry.fill("")
    assert bench.typed(kept) == []


def test_a_reading_is_skipped_and_that_is_kept(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    expect(phone.big_button).to_have_text(SAYS["skip"])
    phone.goes_on()
    phone.waits(lambda: bench.marks(kept) == [("skip", "final:s1")])
    assert bench.typed(kept) == []


def test_a_note_stays_with_the_piece(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 2, "rough")
    phone.opens_more()
    phone.step.get_by_label("A note on this piece").fill("a knot at the <neck> & a “crack”")
    phone.step.get_by_role("button", name="Keep the note").tap()
    phone.waits(lambda: bench.marks(kept, 2) == [("note", "")])
    phone.open(f"/sets/{kept.id}/pieces/2")
    expect(phone.page.locator("main")).to_contain_text("a knot at the <neck> & a “crack”")


def test_a_spoiled_piece_gives_way_to_the_next_and_says_why(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "rough")
    phone.opens_more()
    phone.step.get_by_text("It is spoiled").tap()
    phone.step.locator("#why-spoiled").select_option("A catch")
    phone.step.get_by_role("button", name="Spoiled: leave it, next piece").tap()
    phone.shows("mount")
    assert phone.piece == "Piece 2 of 3"
    phone.waits(lambda: bench.marks(kept) == [("spoiled", "")])
    assert bench.rows("SELECT text FROM mark WHERE set_id = ?", kept.id) == [("A catch",)]


def test_readings_of_the_wrong_piece_are_moved_by_a_correction(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    phone.takes("20.2")
    phone.goes_to("final:s2/read")
    phone.takes("14.2")
    phone.waits(lambda: len(bench.typed(kept, 1)) == 2)
    phone.turns(kept, 1, "more")
    phone.unfolds(SAYS["move_head"])
    phone.step.get_by_label("How many of the last readings").fill("2")
    phone.step.get_by_label("belong to").select_option("3")
    with phone.page.expect_navigation():
        phone.step.get_by_role("button", name="Move them there").tap()
    assert bench.typed(kept, 3) == ["20.2", "14.2"]
    phone.goes_to("final:s1/read")
    expect(phone.verdict).to_have_text(SAYS["stopped"])
    phone.turns(kept, 3, "final:s1/read")
    expect(phone.verdict).to_contain_text("20.2")


def test_a_half_typed_figure_outlives_a_reload_and_stays_with_its_piece(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    phone.presses("20.")
    phone.page.reload()
    expect(phone.entry).to_have_value("20.")
    phone.goes_to("done")
    phone.goes_on()
    assert phone.piece == "Piece 2 of 3"
    phone.goes_to("final:s1/read")
    expect(phone.entry).to_have_value("")
    phone.waits(lambda: ("done", "done") in bench.marks(kept, 1))


def test_a_tenon_is_read_twice_a_quarter_turn_apart(bench: Bench, phone: Phone) -> None:
    kept = bench.started()
    phone.turns(kept, 1, "final:s1/read")
    expect(phone.step.get_by_label("at the dot")).to_be_checked()
    phone.takes("16.05")
    expect(phone.verdict).to_contain_text("16.05 (at the dot): Right.")
    expect(phone.verdict).to_contain_text(SAYS["quarter"])
    expect(phone.step.get_by_label("a quarter turn on")).to_be_checked()
    phone.takes("15.95")
    expect(phone.verdict).to_contain_text("15.95 (a quarter turn on): Right.")
    phone.waits(lambda: len(bench.typed(kept)) == 2)
    assert bench.rows("SELECT axis, typed FROM reading WHERE set_id = ?", kept.id) == [
        ("A", "16.05"),
        ("B", "15.95"),
    ]


def test_the_second_way_across_knows_the_first_and_the_last_step_shows_both(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(calipers=3)
    phone.turns(kept, 1, "final:s1/read")
    phone.takes("16.02")
    phone.takes("16.20")
    oval = "▲16.20 (a quarter turn on): Oval by 0.18 mm: cut all round, the other way goes under."
    expect(phone.verdict).to_contain_text(oval)
    expect(phone.verdict).to_contain_text("high sides only, to 16.02 mm")
    phone.waits(lambda: len(bench.typed(kept)) == 2)
    expect(phone.verdict).not_to_contain_text(SAYS["unsaved"])
    expect(phone.verdict).to_contain_text(oval)  # so says the laptop
    phone.goes_to("done")
    cell = phone.page.locator('[data-of="final:s1"] [data-value] span')
    expect(cell).to_have_text(["16.02 ●", "16.20 ▲"])
    phone.page.reload()
    expect(cell).to_have_text(["16.02 ●", "16.20 ▲"])
    phone.goes_to("final:s1/read")
    expect(phone.verdict).to_contain_text(oval)
    phone.step.get_by_role("button", name="Read again").tap()
    expect(phone.step.get_by_label("at the dot")).to_be_checked()  # both ways anew
    phone.takes("16.01")
    phone.takes("16.03")
    expect(phone.verdict).to_contain_text("16.03 (a quarter turn on): Right.")
    phone.goes_to("done")
    expect(cell).to_have_text(["16.01 ●", "16.03 ●"])


def test_the_next_piece_is_read_at_the_dot_first_again(bench: Bench, phone: Phone) -> None:
    kept = bench.started()
    phone.turns(kept, 1, "final:s1/read")
    phone.takes("16.02")
    phone.takes("16.03")
    phone.goes_to("done")
    phone.goes_on()
    assert phone.piece == "Piece 2 of 3"
    phone.goes_to("final:s1/read")
    expect(phone.step.get_by_label("at the dot")).to_be_checked()
    phone.waits(lambda: ("done", "done") in bench.marks(kept, 1))


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


@pytest.mark.parametrize("unit", ["in/64", "in/16"])
def test_fraction_keys_make_one_and_five_sixteenths_and_never_eleven_quarters(
    bench: Bench, phone: Phone, unit: str
) -> None:
    kept = bench.started(inch_peg(), unit=unit)
    phone.turns(kept, 1, "final:s1/read")
    expect(phone.step.locator(".aim")).to_contain_text("1 5⁄16")
    # Without the inch key the figures would run together: 15/16, and 1 1/4 would be 11/4.
    phone.presses("11")
    phone.presses_key("/16")
    expect(phone.entry).to_have_value("11/16")
    phone.presses_key("rub")
    phone.presses_key("rub")
    phone.presses(" 5/16")
    expect(phone.entry).to_have_value("1 5/16")
    phone.presses("3/32")
    expect(phone.entry).to_have_value("1 5/16")
    phone.takes("")
    expect(phone.verdict).to_contain_text("1 5⁄16: Right.")
    expect(phone.verdict).not_to_contain_text(SAYS["unsaved"])
    assert bench.rows("SELECT typed, value_mm FROM reading WHERE set_id = ?", kept.id) == [
        ("1 5/16", pytest.approx(33.3375))  # 1 5/16 x 25.4 mm, by hand
    ]


def test_what_is_rubbed_out_behind_whole_inches_is_gone(bench: Bench, phone: Phone) -> None:
    kept = bench.started(inch_peg(), unit="in/64")
    phone.turns(kept, 1, "final:s1/read")
    inches = phone.page.locator('[data-key="whole"]')
    phone.presses("9 ")  # the blank behind it is not to be seen, so the key tells of it
    expect(inches).to_have_css("box-shadow", re.compile("inset"))
    phone.presses_key("rub")
    expect(phone.entry).to_have_value("")
    expect(inches).to_have_css("box-shadow", "none")
    phone.presses("1 5")
    phone.presses_key("rub")
    expect(phone.entry).to_have_value("1 ")
    expect(inches).to_have_css("box-shadow", re.compile("inset"))
    phone.presses("3/16")
    expect(phone.entry).to_have_value("1 3/16")


def test_a_figure_no_piece_can_have_had_is_not_taken_however_it_is_meant(
    bench: Bench, phone: Phone
) -> None:
    """91 3/8 in, for 1 3/8 with the 9 not rubbed out."""
    kept = bench.started(inch_peg(), unit="in/16")
    phone.turns(kept, 1, "final:s1/read")
    phone.presses("91 3/16")
    for _ in range(2):
        phone.big_button.tap()
        expect(phone.verdict).to_have_text(SAYS["cannot_be"].format(text="91 3/16"))
        expect(phone.big_button).to_have_class(re.compile("quiet"))
        expect(phone.entry).to_have_value("91 3/16")
    expect(phone.queue).to_have_text("")
    assert bench.typed(kept) == []
    for _ in range(4):
        phone.presses_key("rub")
    expect(phone.entry).to_have_value("")
    phone.presses("1 5/16")
    phone.takes("")
    phone.waits(lambda: bench.typed(kept) == ["1 5/16"])


def test_a_fraction_of_more_than_a_whole_is_asked_about(bench: Bench, phone: Phone) -> None:
    """19/16 may have been meant as 1 9/16 or as 1 3/16: only the maker knows."""
    kept = bench.started(inch_peg(), unit="in/64")
    phone.turns(kept, 1, "final:s1/read")
    phone.presses("21/16")
    phone.big_button.tap()
    expect(phone.verdict).to_have_text(SAYS["improper"].format(text="21/16", whole=1, rest="5⁄16"))
    expect(phone.entry).to_have_value("21/16")
    assert bench.typed(kept) == []


def test_an_odd_piece_is_marked_from_beside_its_verdict(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    phone.takes("17.4")  # 2.6 under a tolerance of 0.8: beyond blending, not yet beyond a spare
    phone.step.get_by_role("button", name=SAYS["lot_do"]["odd"]).tap()
    phone.waits(lambda: ("odd", "") in bench.marks(kept))


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


TWICE_AT_ONCE = "button => { button.click(); button.click(); }"


def test_a_thumb_that_trembles_takes_one_reading_and_one_step(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "size:s1/read")
    phone.presses("21.6")
    phone.big_button.evaluate(TWICE_AT_ONCE)
    expect(phone.verdict).to_contain_text("21.6: Right.")
    phone.page.wait_for_timeout(600)
    phone.big_button.dblclick()
    phone.shows("thin:s1")
    phone.page.wait_for_timeout(400)
    phone.shows("thin:s1")
    assert bench.typed(kept) == ["21.6"]
    assert bench.marks(kept) == [("step", "size:s1")]


def test_a_thumb_that_trembles_at_the_end_leaves_out_no_piece(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "done")
    phone.big_button.dblclick()
    phone.shows("mount")
    assert phone.piece == "Piece 2 of 3"
    phone.page.wait_for_timeout(400)
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


def test_a_spoiled_piece_calls_its_spare_and_says_whether_the_stock_covers_the_set(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg(), wanted=2, spares=1)
    phone.turns(kept, 1, "mount")
    spoils(phone)
    assert phone.piece == "Piece 2 of 2"
    covers = (
        "Piece 1 is spoiled: spare piece 3 takes its place. "
        "2 sound for 2 wanted: the stock still covers the set."
    )
    expect(phone.step.get_by_text(covers)).to_be_in_viewport(ratio=1)
    for caution in phone.step.locator(".checks li").all()[:3]:
        expect(caution).to_be_in_viewport(ratio=1)
    spoils(phone)
    assert phone.piece == "Spare piece 3"
    short = (
        "Piece 2 is spoiled, and there is no spare left for it. "
        "1 sound for 2 wanted: the stock no longer covers the set."
    )
    expect(phone.step.get_by_text(short)).to_be_visible()
    phone.turns(kept, 3, "mount")
    expect(phone.step.get_by_text(short)).to_be_in_viewport(ratio=1)


def spoils(phone: Phone) -> None:
    phone.opens_more()
    phone.step.get_by_text("It is spoiled").tap()
    phone.step.locator("#why-spoiled").select_option("A catch")
    phone.step.get_by_role("button", name="Spoiled: leave it, next piece").tap()
    phone.shows("mount")


@pytest.mark.parametrize("known", ["by the page", "by the laptop"])
def test_each_piece_is_named_with_its_blank_also_when_the_page_turns_to_it(
    bench: Bench, phone: Phone, known: str
) -> None:
    kept = bench.started(peg())
    board = BoardTold(name="Oak", length="1500", width="150", thickness="34", kerf="3.2")
    with closing(Shop(bench.db)) as shop:
        board_id = keep_board(shop, None, board, key="b" * 32, at=AT)
        with shop.transaction() as db:
            stock.keep_blanks(db, kept.id, [blank(number, board_id) for number in (1, 2)])
    if known == "by the laptop":
        phone.page.add_init_script(TELLS_NO_BLANKS)
    phone.turns(kept, 1, "mount")
    named = phone.step.locator("[data-blank]")
    expect(named).to_have_text("From blank 1, Oak, 1 mm from the left end.")
    if known == "by the page":
        offline(phone)
    spoils(phone)
    assert phone.piece == "Piece 2 of 3"
    expect(named).to_have_text("From blank 2, Oak, 2 mm from the left end.")


def blank(number: int, board_id: int) -> stock.KeptBlank:
    return stock.KeptBlank(
        label=number,
        spindle=number,
        board_id=board_id,
        log_id=None,
        at_mm=float(number),
        across_mm=0.0,
        deep_mm=0.0,
        length_mm=300.0,
        side_mm=30.0,
        turned_deg=0.0,
        ring_deg=None,
        sawn_at=AT,
    )


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
