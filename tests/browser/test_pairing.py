"""A phone comes to the door: a link, a button, and it is in; without them it sees nothing."""

from __future__ import annotations

import re

from playwright.sync_api import expect

from tests.browser.bench import Bench
from tests.browser.conftest import NewPhone
from tests.browser.hand import LAPTOP


def test_the_link_and_one_button_let_a_phone_in(bench: Bench, new_phone: NewPhone) -> None:
    kept = bench.started()
    phone = new_phone(paired=False)
    code = bench.told(r"type the code (\w{4} \w{4})").replace(" ", "")
    phone.open(f"/pair?code={code}")
    phone.page.get_by_role("button", name="Pair this phone").tap()
    expect(phone.page).to_have_url(bench.url("/"))
    phone.turns(kept)
    phone.shows("mount")
    (cookie,) = phone.context.cookies()
    assert (cookie["httpOnly"], cookie["sameSite"]) == (True, "Strict")


def test_an_unpaired_phone_sees_the_pairing_page_and_nothing_else(
    bench: Bench, new_phone: NewPhone
) -> None:
    kept = bench.started(name="Nobody else's business")
    stranger = new_phone(paired=False)
    for path in ("/", "/patterns", f"/sets/{kept.id}", f"/sets/{kept.id}/turn/1", "/devices"):
        stranger.open(path)
        expect(stranger.page).to_have_url(bench.url("/pair"))
        expect(stranger.page.get_by_role("heading", level=1)).to_have_text("Pair this phone")
        assert "business" not in stranger.page.content()
    stranger.page.get_by_label("The code on the laptop").fill("AAAA AAAA")
    stranger.page.get_by_role("button", name="Pair this phone").tap()
    expect(stranger.page.get_by_role("alert")).to_contain_text("not a code that was given out")
    expect(stranger.page.get_by_label("The code on the laptop")).to_have_value("AAAA AAAA")
    assert stranger.context.cookies() == []


def test_a_second_phone_is_let_in_from_the_first_and_its_code_is_then_used_up(
    bench: Bench, new_phone: NewPhone
) -> None:
    laptop = new_phone(name="Laptop", size=LAPTOP)
    laptop.open("/devices")
    laptop.page.get_by_role("button", name="Pair another phone").click()
    code = laptop.page.locator("figcaption b").filter(has_text=re.compile(r"^\w{4} \w{4}$")).first
    typed = code.text_content()
    assert typed
    second, third = new_phone(paired=False), new_phone(paired=False)
    for phone in (second, third):
        phone.open("/pair")
        phone.page.get_by_label("What is it called?").fill("By the lathe <2>")
        phone.page.get_by_label("The code on the laptop").fill(typed.lower())
        phone.page.get_by_role("button", name="Pair this phone").tap()
    expect(second.page).to_have_url(bench.url("/"))
    expect(third.page.get_by_role("alert")).to_contain_text("That code has been used.")
    laptop.open("/devices")
    expect(laptop.page.get_by_role("heading", name="By the lathe <2>")).to_be_visible()


def test_on_the_laptop_itself_the_terminals_link_opens_the_door(
    bench: Bench, new_phone: NewPhone
) -> None:
    laptop = new_phone(paired=False, size=LAPTOP)
    code = bench.told(r"/enter\?code=(\w+)")
    laptop.open(f"/enter?code={code}")
    expect(laptop.page).to_have_url(bench.url("/"))
