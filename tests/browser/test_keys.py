"""Hands that are not on the glass: a keyboard, a pedal, a caliper that types."""

from __future__ import annotations

from itertools import product

from playwright.sync_api import expect

from tests.browser.bench import Bench, inch_peg, peg
from tests.browser.conftest import NewPhone
from tests.browser.hand import LAPTOP, SAYS, Phone

RESTS_MS = 1100  # after a figure was taken, keys rest for a second


def test_a_caliper_that_types_a_figure_and_enter_is_taken_and_the_next_enter_goes_on(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    phone.stops_its_clock()
    keys = phone.page.keyboard
    keys.type("20.3")
    keys.press("Enter")
    expect(phone.verdict).to_contain_text("20.3: Right.")
    keys.press("Enter")  # some calipers send it twice
    phone.passes(600)
    keys.press("Enter")
    phone.shows("final:s1/read")
    phone.passes(RESTS_MS)
    keys.press("Enter")
    phone.shows("final:middle:s1/read")
    keys.type("17,1")
    keys.press("Enter")
    expect(phone.verdict).to_contain_text("17.1: Right.")
    phone.waits(lambda: bench.typed(kept) == ["20.3", "17,1"])


def test_a_figure_typed_at_the_cutting_face_goes_to_the_reading_of_that_step(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "size:s1")
    keys = phone.page.keyboard
    keys.type("21.6")
    phone.shows("size:s1/read")
    expect(phone.entry).to_have_value("21.6")
    keys.press("Enter")
    phone.waits(lambda: bench.readings(kept) == [("s1", "diameter", "sizing", "21.6")])


def test_a_typed_fraction_with_its_space_and_slash_is_taken(bench: Bench, phone: Phone) -> None:
    kept = bench.started(inch_peg(), unit="in/64")
    phone.turns(kept, 1, "final:s1/read")
    phone.page.keyboard.type("1 5/16")
    phone.page.keyboard.press("Enter")
    expect(phone.verdict).to_contain_text("1 5⁄16: Right.")


def test_a_pedal_steps_on_and_back(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1)
    keys = phone.page.keyboard
    for on, back, here, there in (
        ("PageDown", "PageUp", "mount", "rough"),
        ("ArrowRight", "ArrowLeft", "mount", "rough"),
    ):
        phone.shows(here)
        keys.press(on)
        phone.shows(there)
        keys.press(back)
        phone.shows(here)
        phone.page.wait_for_timeout(400)
    phone.waits(lambda: bench.marks(kept) == [("step", "mount")] * 2)


def at_rest(phone: Phone) -> float:
    """Where the page stands once it has stopped gliding: a key pressed in a glide is half lost."""
    seen: list[float] = []
    while seen[-3:].count(here := phone.page.evaluate("scrollY")) < 3:
        seen.append(here)
        phone.page.wait_for_timeout(100)
    return here


def test_page_keys_scroll_the_page_of_everything_else(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "more")
    keys = phone.page.keyboard
    top = at_rest(phone)
    keys.press("PageDown")
    phone.waits(lambda: at_rest(phone) > top + 200)
    below = at_rest(phone)
    keys.press("PageUp")
    phone.waits(lambda: at_rest(phone) < below - 200)
    phone.shows("more")
    assert bench.marks(kept) == []


def test_a_pedal_held_down_steps_once(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1)
    for _ in range(4):
        phone.page.keyboard.down("PageDown")  # the same key again is a repeat
        phone.page.wait_for_timeout(200)
    phone.shows("rough")
    phone.waits(lambda: bench.marks(kept) == [("step", "mount")])


def test_a_caliper_may_send_two_figures_in_one_second(bench: Bench, phone: Phone) -> None:
    kept = bench.started()
    phone.turns(kept, 1, "final:s1/read")
    for figure in ("16.05", "15.95"):
        phone.page.keyboard.type(figure)
        phone.page.keyboard.press("Enter")
        expect(phone.entry).to_have_value("")
    phone.waits(lambda: bench.typed(kept) == ["16.05", "15.95"])


def test_a_pedal_takes_what_is_typed_and_then_goes_on(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    phone.presses("20.3")
    phone.page.keyboard.press("PageDown")
    expect(phone.verdict).to_contain_text("20.3: Right.")
    phone.page.wait_for_timeout(RESTS_MS)
    phone.page.keyboard.press("PageDown")
    phone.shows("final:middle:s1/read")
    phone.waits(lambda: bench.typed(kept) == ["20.3"])


def test_arrows_move_within_a_half_typed_figure(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    keys = phone.page.keyboard
    keys.type("203")
    keys.press("ArrowLeft")
    keys.type(".")
    expect(phone.entry).to_have_value("20.3")
    phone.shows("final:s1/read")


FOCUS = """() => {
  const on = document.activeElement, box = on.getBoundingClientRect();
  const style = getComputedStyle(on), line = document.querySelector('.step:target .go-line');
  const shield = line && !line.contains(on) ? line.getBoundingClientRect() : null;
  const y = Math.min(Math.max(box.top + box.height / 2, 0), innerHeight - 1);
  return {
    what: (on.getAttribute('aria-label') || on.innerText || on.name || on.tagName).trim(),
    ring: style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 3,
    seen: box.bottom > 0 && box.top < innerHeight && box.width > 0,
    covered: Boolean(shield) && box.left < shield.right && box.right > shield.left
      && box.top >= shield.top && y < shield.bottom,
    body: on === document.body };
}"""


def test_with_a_keyboard_alone_every_stop_shows_where_one_is(
    bench: Bench, new_phone: NewPhone
) -> None:
    kept = bench.started(peg())
    laptop = new_phone(size=LAPTOP)
    for step, key in product(("mount", "final:s1/read", "more"), ("Tab", "Shift+Tab")):
        laptop.turns(kept, 1, step)
        seen: list[str] = []
        for _ in range(60):
            laptop.page.keyboard.press(key)
            stop = laptop.page.evaluate(FOCUS)
            if stop["body"]:
                break
            seen.append(stop["what"])
            assert stop["ring"], f"no ring at {stop['what']} of {step}"
            assert stop["seen"], f"{stop['what']} of {step} is off the screen"
            assert not stop["covered"], f"{stop['what']} of {step} lies under the big button"
        assert seen, f"{step} has no stop"


def test_with_a_keyboard_alone_a_reading_is_taken_corrected_and_left(
    bench: Bench, new_phone: NewPhone
) -> None:
    kept = bench.started(peg())
    laptop = new_phone(size=LAPTOP)
    laptop.open(f"/sets/{kept.id}")
    keys = laptop.page.keyboard
    laptop.page.get_by_role("link", name="Turn piece 1").focus()
    keys.press("Enter")
    laptop.shows("mount")
    expect(laptop.step.locator("h1")).to_be_focused()  # the script has begun
    keys.press("Enter")
    laptop.shows("rough")
    laptop.turns(kept, 1, "final:s1/read")
    expect(laptop.entry).to_be_focused()
    keys.type("20.3")
    keys.press("Enter")
    expect(laptop.verdict).to_contain_text("20.3: Right.")
    keys.press("Tab")
    expect(laptop.step.get_by_role("button", name=SAYS["correct_it"])).to_be_focused()
    keys.press("Enter")
    expect(laptop.entry).to_be_focused()
    keys.type("20.4")
    keys.press("Enter")
    laptop.waits(lambda: bench.typed(kept) == ["20.3", "20.4"])
    assert bench.rows("SELECT count(supersedes) FROM reading WHERE set_id = ?", kept.id) == [(1,)]
