"""A screen measured with calipers: sizes in true millimetres from then on, on that phone."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import NewPhone
from tests.browser.hand import Phone, boxes

ROOT_PX = "() => parseFloat(getComputedStyle(document.documentElement).fontSize)"
FONT_PX = "line => parseFloat(getComputedStyle(line).fontSize)"
BAR_PX = "svg => svg.getBoundingClientRect().width"


def root_px(phone: Phone) -> float:
    phone.page.wait_for_load_state()  # the words may stand before the styles have come
    found: float = phone.page.evaluate(ROOT_PX)
    return found


def test_a_measured_bar_sizes_every_page_after(phone: Phone) -> None:
    phone.open("/phone-size")
    usual = root_px(phone)
    assert phone.page.locator(".bar svg").evaluate(BAR_PX) == 240
    phone.page.get_by_label("Length of the bar").fill("33.6")
    phone.page.get_by_role("button", name="Keep for this device").tap()
    kept = phone.page.locator("[data-phone-size-says]")
    expect(kept).to_contain_text("draws the bar 33.6 mm long. Text and keys are sized by it")
    # A pixel of 33.6 / 240 = 0.14 mm where 0.159 is reckoned with: 0.159 / 0.14 larger.
    assert root_px(phone) == pytest.approx(usual * 0.159 / 0.14, abs=0.1)
    assert phone.page.locator(".bar svg").evaluate(BAR_PX) == 240
    phone.open("/cautions")
    assert root_px(phone) == pytest.approx(usual * 0.159 / 0.14, abs=0.1)


def test_what_is_typed_is_shown_on_one_line_and_the_button_stays_where_it_is(phone: Phone) -> None:
    phone.open("/phone-size")
    usual = root_px(phone)
    button = phone.page.get_by_role("button", name="Keep for this device")
    stood = boxes(button)
    says = phone.page.locator("[data-phone-size-says]")
    before = says.evaluate(FONT_PX)
    field = phone.page.get_by_label("Length of the bar")
    field.fill("33,6 mm")
    field.blur()
    expect(says).to_contain_text("would be this large")
    assert says.evaluate(FONT_PX) == pytest.approx(before * 0.159 / 0.14, rel=0.01)
    assert (root_px(phone), boxes(button)) == (usual, stood)


def test_a_screen_larger_than_any_phones_keeps_its_text(new_phone: NewPhone) -> None:
    laptop = new_phone(name="Laptop")
    laptop.open("/phone-size")
    usual = root_px(laptop)
    laptop.page.get_by_label("Length of the bar").fill("63.5")
    laptop.page.get_by_role("button", name="Keep for this device").tap()
    expect(laptop.page.locator("[data-phone-size-says]")).to_contain_text("stays as it is")
    assert root_px(laptop) == usual
