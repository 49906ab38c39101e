"""A maker goes back, leaves, comes back, and is in doubt: the page says what is true."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Locator, expect

from tests.browser.bench import Bench, peg
from tests.browser.conftest import NewPhone
from tests.browser.hand import PHONE, SAYS, SMALL_PHONE, TABLET, Phone, boxes, offline, online

QUIET = re.compile(r"\bquiet\b")


def latest(phone: Phone) -> Locator:
    """The lines of the last readings."""
    phone.opens_more()
    return phone.step.locator("[data-latest] li")


def test_the_cross_closes_the_sheet_and_leaves_the_step_as_it_was(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "size:s1")
    phone.opens_more()
    phone.step.get_by_label("Close").tap()
    phone.shows("size:s1")


@pytest.mark.quick
def test_no_link_leads_out_of_the_page_while_the_laptop_is_away(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    offline(phone)
    phone.takes("20.2")
    phone.opens_more()
    phone.step.get_by_role("link", name=SAYS["leave"]).tap()
    expect(phone.step.get_by_role("alert").filter(visible=True)).to_have_text(SAYS["stay"])
    phone.shows("more")
    phone.unfolds(SAYS["habit_head"])
    phone.step.get_by_role("button", name=SAYS["habit_switch"]["piece"]).tap()
    expect(phone.step.get_by_role("alert").filter(visible=True)).to_have_text(SAYS["stay"])
    online(phone)
    phone.step.get_by_role("link", name=SAYS["leave"]).tap()
    expect(phone.page).to_have_url(re.compile(rf"/sets/{kept.id}$"))
    phone.waits(lambda: bench.typed(kept) == ["20.2"])


def test_an_old_page_come_back_to_knows_what_was_tapped_since_it_was_made(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "size:s1/read")
    phone.takes("21.6")
    phone.waits(lambda: bench.typed(kept) == ["21.6"])
    phone.goes_to("final:s1/read")
    offline(phone)
    phone.takes("20.2")
    phone.goes_on()
    phone.takes("17.1")
    expect(phone.queue).to_contain_text(SAYS["queue"]["many"].format(count=3))
    phone.page.goto("about:blank")
    phone.page.go_back()
    phone.shows("mount")  # the first step that is not behind the piece
    expect(phone.queue).to_contain_text(SAYS["queue"]["many"].format(count=3))
    expect(latest(phone)).to_have_text(
        [re.compile("17.1"), re.compile("Head: 20.2"), re.compile("Head: 21.6 .before.")]
    )
    phone.goes_to("size:s1")
    phone.step.get_by_role("link", name="Read", exact=True).tap()
    expect(phone.verdict).to_contain_text("21.6: Right.")
    expect(phone.verdict).not_to_contain_text(SAYS["unsaved"])
    online(phone)
    expect(phone.queue).to_be_empty()
    phone.waits(lambda: bench.typed(kept) == ["21.6", "20.2", "17.1"])
    phone.goes_to("final:s1/read")
    expect(phone.verdict).to_contain_text("20.2: Right.")
    expect(phone.verdict).not_to_contain_text(SAYS["unsaved"])


def test_wrong_in_the_midst_of_a_doubt_takes_the_doubtful_figure_off_the_button(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    phone.takes("21.9")
    phone.presses("40")
    phone.big_button.tap()
    expect(phone.big_button).to_have_text(SAYS["take_sure"].format(text="40"))
    phone.step.get_by_role("button", name=SAYS["correct_it"]).tap()
    expect(phone.big_button).to_have_text(SAYS["leave_standing"].format(text="21.9"))
    for key in "20":
        phone.presses_key(key)
        expect(phone.verdict).to_have_text(SAYS["correcting"].format(text="21.9"))
    phone.takes(".2")
    expect(phone.verdict).to_contain_text("20.2: Right.")
    expect(latest(phone)).to_have_text(["Head: 20.2"])
    phone.waits(lambda: bench.typed(kept) == ["21.9", "20.2"])


def test_what_was_not_wrong_after_all_is_left_standing(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    phone.takes("20.2")
    phone.step.get_by_role("button", name=SAYS["correct_it"]).tap()
    phone.taps_the_big_button()
    expect(phone.verdict).to_contain_text("20.2: Right.")
    phone.shows("final:s1/read")
    phone.goes_on()
    assert bench.typed(kept) == ["20.2"]


def test_an_empty_note_is_said_to_be_empty_and_is_not_kept(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "more")
    button = phone.step.get_by_role("button", name=SAYS["note_keep"])
    phone.step.get_by_label(SAYS["note_head"]).fill("  ")
    button.tap()
    expect(phone.step.get_by_text(SAYS["note_empty"])).to_be_visible()
    expect(button).to_have_text(SAYS["note_keep"])
    phone.step.get_by_label(SAYS["note_head"]).fill("a knot")
    button.tap()
    expect(phone.step.get_by_text(SAYS["note_empty"])).to_be_hidden()
    phone.waits(lambda: bench.marks(kept) == [("note", "")])
    kept_button = phone.step.get_by_role("button", name=SAYS["kept_mark"])
    expect(kept_button).to_be_visible()
    phone.step.get_by_label(SAYS["note_head"]).fill("a")  # another, not kept yet
    expect(kept_button).to_have_count(0)
    expect(button).to_be_visible()
    phone.waits(lambda: phone.replies == [("mark", 200)])


def test_the_last_readings_are_called_the_same_after_a_reload(bench: Bench, phone: Phone) -> None:
    kept = bench.started()
    phone.turns(kept, 1, "final:s1/read")
    phone.takes("16.05")
    phone.takes("15.95")
    positions = phone.page.locator('.step.read[data-reads="position"]')
    place = positions.first.get_attribute("id")
    target = positions.first.get_attribute("data-target")
    assert place
    assert target
    phone.goes_to(place)
    phone.takes(target.removesuffix(".0"))
    before = latest(phone).all_inner_texts()
    assert f"Foot, {SAYS['distance']['tail']}" in before[0]
    assert [SAYS["axis"][axis] in line for axis, line in zip("BA", before[1:], strict=True)] == [
        True,
        True,
    ]
    phone.waits(lambda: len(bench.typed(kept)) == 3)
    phone.page.reload()
    expect(latest(phone)).to_have_text(before)


def test_only_what_is_right_is_gone_on_from_with_the_strong_button(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started()
    phone.turns(kept, 1, "final:s2/read")
    for figure, strong in (("23.9", False), ("22.1", True), ("20.1", False)):
        phone.takes(figure)
        expect(phone.big_button).to_have_text(SAYS["next"])
        there = expect(phone.big_button)
        (there.not_to_have_class if strong else there.to_have_class)(QUIET)
    phone.goes_to("final:s1/read")
    phone.takes("16.05")
    expect(phone.verdict).to_contain_text(SAYS["quarter"])
    expect(phone.big_button).to_have_class(QUIET)
    phone.takes("15.95")
    expect(phone.big_button).not_to_have_class(QUIET)


def test_a_step_gone_back_to_says_what_was_read_there(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "rough")
    phone.goes_on()
    phone.turns(kept, 1, "size:s1/read")
    phone.takes("21.6")
    phone.step.get_by_label("Back one step").tap()
    phone.shows("size:s1")
    been = phone.step.locator("[data-been]")
    expect(been).to_have_text(SAYS["been_read"].format(text="21.6", shape="●", say="Right."))
    phone.goes_to("rough")
    expect(been).to_have_text(SAYS["been"])
    phone.page.reload()
    expect(been).to_have_text(SAYS["been"])


def test_every_final_reading_says_which_of_how_many_it_is(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    finals = [s.id for s in bench.work(kept).steps if s.reads and s.phase == "final"]
    phone.turns(kept, 1)
    for nth, step in enumerate(finals, 1):
        phone.goes_to(f"{step}/read")
        said = SAYS["final_nth"].format(nth=nth, count=len(finals))
        expect(phone.step.locator(".where small")).to_have_text(said)


def test_all_steps_mark_the_one_that_was_left_for_the_sheet(bench: Bench, phone: Phone) -> None:
    kept = bench.started()
    phone.turns(kept, 1, "final:s3/read")
    phone.opens_more()
    height = phone.page.evaluate("document.documentElement.scrollHeight")
    assert height < 2.5 * phone.page.evaluate("innerHeight")
    phone.unfolds(SAYS["all_steps"])
    here = phone.step.locator(".steps-list [aria-current]")
    expect(here).to_have_attribute("href", "#final:s3/read")
    expect(here).to_contain_text(SAYS["here"])
    expect(here).to_be_in_viewport()
    phone.step.locator('.steps-list a[href="#rough"]').tap()
    phone.opens_more()
    expect(here).to_have_attribute("href", "#rough")


def test_a_dropped_caliper_is_doubted_until_it_was_checked(bench: Bench, phone: Phone) -> None:
    kept = bench.started()
    bench.turned(kept, 1)
    phone.turns(kept, 2, "more")
    phone.unfolds(SAYS["tools_head"])
    offline(phone)
    dropped = phone.step.get_by_role("button", name=SAYS["caliper_dropped"].format(letter="A"))
    dropped.tap()
    told = SAYS["dropped"].format(letter="A")
    expect(phone.step.locator("[data-doubt]")).to_have_text(told)
    online(phone)
    since = SAYS["dropped_since"].format(pieces="piece 1")
    expect(phone.step.locator("[data-doubt]")).to_have_text(f"{told} {since}")
    chips = phone.page.locator(".caliper", has=phone.page.get_by_text("A", exact=True))
    assert chips.count() > 0
    first = SAYS["check_first"].format(letter="A")
    for _ in range(2):
        lines = phone.page.locator(".step:not(.more) [data-doubt]")
        expect(lines).to_have_text([first] * chips.count())
        phone.page.reload()
    phone.unfolds(SAYS["tools_head"])
    phone.step.get_by_role("button", name=SAYS["caliper_checked"].format(letter="A")).tap()
    expect(phone.page.locator("[data-doubt]")).to_have_count(0)
    phone.waits(lambda: phone.replies == [("mark", 200)] * 2)
    phone.turns(kept, 2, "mount")
    expect(phone.page.locator("[data-doubt]")).to_have_count(0)


@pytest.mark.parametrize("size", [PHONE, SMALL_PHONE])
@pytest.mark.parametrize("step", ["final:crown:s3/read", "position:crown:s3/read"])
def test_a_long_verdict_is_seen_whole_and_the_keys_come_back(
    bench: Bench, new_phone: NewPhone, size: Any, step: str
) -> None:
    kept = bench.started()
    phone = new_phone(size=size)
    phone.turns(kept, 1, step)
    phone.takes_all_the_same("27.5" if step.startswith("final") else "36.5")
    expect(phone.verdict.locator(".action")).to_be_visible()
    said, bar = boxes(phone.verdict, phone.step.locator(".go-line"))
    assert said["y"] + said["height"] <= bar["y"]
    again = phone.step.get_by_role("button", name=SAYS["again"])
    if again.is_visible():
        again.tap()
        expect(phone.page.locator("[data-keys]")).to_be_visible()
        bar, entry = boxes(phone.step.locator(".go-line"), phone.entry)
        assert entry["y"] + entry["height"] <= bar["y"]
        said = phone.verdict.bounding_box()  # or there is no room for it
        assert not said or said["y"] + said["height"] <= bar["y"]


def test_a_bead_is_read_at_its_cut_and_its_place_is_told(bench: Bench, phone: Phone) -> None:
    kept = bench.started()
    phone.turns(kept, 1, "form:s3")
    phone.step.locator("[data-early]").tap()
    phone.shows("final:crown:s3/read")
    expect(phone.step.locator(".from")).to_have_text("125.6 mm from the tail")
    phone.takes("28.0")
    phone.taps_the_big_button()
    phone.shows("form:s3")
    phone.waits(lambda: bench.readings(kept) == [("crown:s3", "diameter", "final", "28.0")])
    assert bench.marks(kept) == []
    phone.goes_on()
    assert phone.at != "form:s3"


def test_a_tap_on_what_lies_half_under_the_big_button_does_not_press_it(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "mount")
    hidden = phone.step.get_by_role("button", name=SAYS["calipers_checked"])
    bar, box = boxes(phone.step.locator(".go-line"), hidden)
    middle_px = box["y"] + box["height"] / 2
    phone.page.evaluate("by => scrollBy(0, by)", middle_px - bar["y"] - 20)
    (box,) = boxes(hidden)
    assert box["y"] < bar["y"] < box["y"] + box["height"] / 2
    phone.page.touchscreen.tap(phone.width / 2, box["y"] + box["height"] / 2)
    phone.page.wait_for_timeout(400)
    phone.shows("mount")
    (box,) = boxes(hidden)
    assert box["y"] + box["height"] <= bar["y"]
    assert bench.marks(kept) == []
    phone.goes_on()


@pytest.mark.parametrize("size", [PHONE, TABLET])
def test_cautions_come_first_as_a_piece_is_mounted(
    bench: Bench, new_phone: NewPhone, size: Any
) -> None:
    kept = bench.started(peg())
    phone = new_phone(size=size)
    phone.turns(kept, 1, "mount")
    first, bar = boxes(phone.step.locator(".checks li").nth(3), phone.step.locator(".go-line"))
    assert first["y"] + first["height"] <= bar["y"]
    phone.goes_on()
    phone.shows("rough")


def test_the_keys_stay_where_they_are_and_all_that_is_said_is_seen(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started()
    tops = set()
    phone.turns(kept, 1, "final:s1/read")
    offline(phone)
    for figure in ("16.05", "15.95"):
        phone.takes(figure)
        expect(phone.verdict).to_contain_text(SAYS["unsaved"])
        expect(phone.queue).not_to_be_empty()
        keys, said = boxes(phone.page.locator("[data-keys]"), phone.verdict)
        assert said["y"] + said["height"] <= keys["y"]
        assert phone.page.evaluate("document.documentElement.scrollHeight <= innerHeight")
        tops.add(keys["y"])
    phone.goes_to("final:s2/read")
    for figure in ("23.9", "22.1", "20.9", "20.1"):  # the last has a button of its own
        phone.takes(figure)
        (keys,) = boxes(phone.page.locator("[data-keys]"))
        tops.add(keys["y"])
    assert len(tops) == 1, tops
