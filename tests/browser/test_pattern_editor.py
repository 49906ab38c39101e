"""The station table beside its live drawing, on a tablet, with and without its script."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import NewPhone
from tests.browser.hand import PHONE, TABLET, Phone


@pytest.fixture
def tablet(new_phone: NewPhone) -> Phone:
    return new_phone(size=TABLET)


def new_table(phone: Phone, name: str = "A beginning") -> Page:
    """A table that starts from the spindle with a bead, not saved yet."""
    phone.open("/patterns/new?start=bead")
    phone.page.get_by_label("Name", exact=True).first.fill(name)
    return phone.page


def test_a_figure_typed_is_drawn_and_what_follows_from_it_is_told(tablet: Phone) -> None:
    page = new_table(tablet)
    expect(page.locator("[data-after='2']")).to_contain_text("Half way, at 105 mm: 17.5 mm thick")
    page.locator("#diameter-3").fill("20")
    # The middle of the taper from 16 to 20 mm.
    expect(page.locator("[data-after='2']")).to_contain_text("18 mm thick")
    page.locator("#at-6").fill("450")
    expect(page.locator("[data-facts]")).to_contain_text("450 mm long")


def test_a_wrong_cell_is_told_beside_it_and_the_focus_stays(tablet: Phone) -> None:
    page = new_table(tablet)
    page.locator("#at-3").fill("banana")
    expect(page.locator("#at-3-problem")).to_contain_text("banana")
    expect(page.locator("#at-3")).to_have_attribute("aria-invalid", "true")
    expect(page.locator("#at-3")).to_be_focused()
    page.locator("#at-3").fill("190")
    expect(page.locator("#at-3-problem")).to_be_hidden()


def test_every_change_can_be_undone_and_done_again(tablet: Phone) -> None:
    page = new_table(tablet)
    rows = page.locator("ol [data-row]")
    page.locator("[value='add:2']").tap()
    expect(rows).to_have_count(7)
    expect(page.locator("#at-3")).to_be_focused()
    page.locator("#name-3").fill("waist")
    page.locator("[value='delete:2']").tap()
    expect(rows).to_have_count(6)
    page.locator("[value=mirror]").tap()
    expect(page.locator("#name-5")).to_have_value("waist")
    page.locator("#name-1").focus()
    for _ in range(4):
        page.keyboard.press("Control+z")
    expect(page.locator("#name-1")).to_have_value("tail tenon")
    expect(page.locator("#name-2")).to_have_value("tail shoulder")
    expect(page.locator("#name-3")).to_have_value("bead, tail side")
    for _ in range(2):
        page.keyboard.press("Control+Shift+z")
    expect(rows).to_have_count(7)
    expect(page.locator("#name-3")).to_have_value("waist")


def test_inches_and_back_change_nothing(tablet: Phone) -> None:
    page = new_table(tablet)
    before = [page.locator(f"#diameter-{row}").input_value() for row in range(1, 7)]
    page.locator("[data-unit=in]").tap()
    expect(page.locator("#through-3")).not_to_have_value("28")
    page.locator("[data-unit=mm]").tap()
    expect(page.locator("#through-3")).to_have_value("28")
    assert [page.locator(f"#diameter-{row}").input_value() for row in range(1, 7)] == before


def test_a_new_cove_is_not_scolded_for_a_root_nobody_could_type_yet(tablet: Phone) -> None:
    page = new_table(tablet)
    page.locator("#form-2").select_option("cove")
    expect(page.locator("[data-state]")).to_have_text(
        "The drawing waits for what is still empty in row 2."
    )
    expect(page.locator("#through-2-problem")).to_be_hidden()
    page.locator("#through-2").focus()
    page.locator("#name-2").focus()
    expect(page.locator("#through-2-problem")).to_contain_text("needs the diameter of its root")


def test_a_long_position_in_inches_is_not_cut_in_its_cell(tablet: Phone) -> None:
    page = new_table(tablet)
    page.locator("[data-unit=in]").tap()
    expect(page.locator("#at-5")).to_have_value("14.9606")
    page.locator("#at-5").fill("14 61/64")
    for cell in page.locator("[name=at], [name=diameter]").all():
        assert cell.evaluate("cell => cell.scrollWidth <= cell.clientWidth")


def test_the_table_stays_as_typed_while_the_laptop_does_not_answer(tablet: Phone) -> None:
    page = new_table(tablet)
    tablet.context.set_offline(True)
    page.locator("#at-3").fill("180")
    expect(page.locator("[data-state]")).to_contain_text("does not answer")
    expect(page.locator("#at-3")).to_have_value("180")
    tablet.context.set_offline(False)
    page.locator("#at-3").fill("181")
    expect(page.locator("[data-state]")).to_have_text("")


def test_a_pattern_is_made_by_keyboard_alone(tablet: Phone) -> None:
    page = new_table(tablet, "By keyboard")
    page.locator("#at-1").focus()
    page.keyboard.press("Enter")  # on to the next cell, never a save
    expect(page.locator("#diameter-1")).to_be_focused()
    page.locator("[value=save]").focus()
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/patterns/\d+$"))
    expect(page.locator("h1")).to_have_text("By keyboard")


def test_without_its_script_every_button_still_works(new_phone: NewPhone) -> None:
    page = new_table(new_phone(size=PHONE, java_script_enabled=False), "No script")
    page.locator("[value='add:2']").tap()
    expect(page.locator("ol [data-row]")).to_have_count(7)
    page.locator("#name-3").fill("waist")
    page.locator("#name-3").press("Enter")  # only looks it over
    expect(page.locator("#name-3")).to_have_value("waist")
    page.locator("[value=undo]").tap()
    expect(page.locator("ol [data-row]")).to_have_count(6)
    page.locator("[value=save]").tap()
    page.wait_for_url(re.compile(r"/patterns/\d+$"))
    expect(page.locator("h1")).to_have_text("No script")


def test_a_step_moved_on_the_page_is_still_there_after_a_reload(tablet: Phone) -> None:
    page = new_table(tablet, "In my order")
    page.locator("[value=save]").tap()
    page.wait_for_url(re.compile(r"/patterns/\d+$"))
    page.get_by_role("link", name="Order of steps").tap()
    steps = page.locator("[data-step]")
    third = steps.nth(3).get_attribute("data-step")
    steps.nth(3).locator("[data-move=later]").tap()
    expect(page.locator("[data-state]")).to_have_text("Order remembered.")
    page.reload()
    expect(steps.nth(4)).to_have_attribute("data-step", third or "")
