"""A device let in by a code, listed, and shut out."""

from __future__ import annotations

import re
from dataclasses import replace
from http.cookies import SimpleCookie
from pathlib import Path

import pytest

from benchside.store import devices as store
from benchside.store.database import Shop
from benchside.web.door import KnownDevices
from tests.web.doorway import LAPTOP, PAGE, Workshop

# --- pairing ---


def test_opening_the_link_uses_nothing_up_and_the_button_pairs(workshop: Workshop) -> None:
    code = workshop.door.codes.make(workshop.clock())
    phone = workshop.browser()
    for _ in range(3):
        page = phone.get("/pair", params={"code": code}, headers=PAGE)
    assert page.status_code == 200
    assert f'value="{code}"' in page.text
    assert 'value="Phone"' in page.text
    assert "Pair this phone" in page.text
    assert "<script" not in page.text.split("<body>")[1]
    reply = phone.post("/pair", data={"code": code, "name": "Lathe phone"})
    assert (reply.status_code, reply.headers["location"]) == (303, "/")
    assert phone.get("/", headers=PAGE).text == "The sets, for Lathe phone"


def test_the_cookie_is_out_of_reach_of_scripts_and_of_other_sites(workshop: Workshop) -> None:
    code = workshop.door.codes.make(workshop.clock())
    reply = workshop.browser().post("/pair", data={"code": code, "name": "Phone"})
    name, cookie = next(iter(SimpleCookie(reply.headers["set-cookie"]).items()))
    assert name == f"benchside_{workshop.door.shop.database_id[:8]}"
    assert re.fullmatch("[0-9a-f]{64}", cookie.value)
    assert cookie["httponly"] is True
    assert cookie["samesite"].lower() == "strict"
    assert (cookie["path"], cookie["domain"], cookie["secure"]) == ("/", "", "")
    assert cookie["max-age"] == str(365 * 24 * 3600)


def test_with_https_the_cookie_travels_by_https_only(workshop: Workshop) -> None:
    code = workshop.door.codes.make(workshop.clock())
    phone = workshop.browser("https://bench.lan")
    reply = phone.post("/pair", data={"code": code, "name": "Phone"})
    assert "; secure" in reply.headers["set-cookie"].lower()


def test_a_used_code_gets_nobody_else_in_and_gives_back_what_was_typed(
    workshop: Workshop,
) -> None:
    code = workshop.door.codes.make(workshop.clock())
    workshop.browser().post("/pair", data={"code": code, "name": "First"})
    reply = workshop.browser().post("/pair", data={"code": code, "name": "Second one"})
    assert reply.status_code == 403
    assert "set-cookie" not in reply.headers
    assert "That code has been used." in reply.text
    assert f'value="{code}"' in reply.text
    assert 'value="Second one"' in reply.text
    assert 'aria-invalid="true"' in reply.text


def test_an_old_code_gets_nobody_in(workshop: Workshop) -> None:
    code = workshop.door.codes.make(workshop.clock())
    workshop.clock.wait(minutes=10)
    reply = workshop.browser().post("/pair", data={"code": code, "name": "Phone"})
    assert reply.status_code == 403
    assert "more than 10 minutes old" in reply.text


def test_guessing_is_stopped_for_everyone_and_says_for_how_long(workshop: Workshop) -> None:
    guesser = workshop.browser()
    for _ in range(10):
        assert guesser.post("/pair", data={"code": "AAAAAAAA", "name": "X"}).status_code == 403
        workshop.clock.wait(seconds=6)
    code = workshop.door.codes.make(workshop.clock())
    reply = workshop.browser().post("/pair", data={"code": code, "name": "Phone"})
    assert reply.status_code == 429
    assert "Wait 9 minutes" in reply.text
    assert reply.headers["retry-after"] == "540"
    workshop.clock.wait(minutes=9)
    code = workshop.door.codes.make(workshop.clock())
    assert workshop.browser().post("/pair", data={"code": code, "name": "P"}).status_code == 303


@pytest.mark.parametrize("sent", [{}, {"code": ""}, {"name": "Phone"}, {"code": "🪵" * 5000}])
def test_a_form_with_something_missing_or_mad_is_shown_again(
    sent: dict[str, str], workshop: Workshop
) -> None:
    reply = workshop.browser().post("/pair", data=sent)
    assert reply.status_code in {403, 422}
    assert 'role="alert"' in reply.text
    assert len(reply.text) < 10_000
    assert store.listed(workshop.door.shop) == []


def test_a_phone_that_is_in_already_uses_up_no_code(workshop: Workshop) -> None:
    phone = workshop.paired()
    code = workshop.door.codes.make(workshop.clock())
    assert phone.get("/pair", params={"code": code}).headers["location"] == "/"
    reply = phone.post("/pair", data={"code": code, "name": "Again"})
    assert (reply.status_code, reply.headers["location"]) == (303, "/")
    workshop.door.codes.spend(code, workshop.clock())


def test_the_laptops_own_browser_comes_in_by_a_link_that_works_once(workshop: Workshop) -> None:
    code = workshop.door.codes.make(workshop.clock())
    laptop = workshop.browser(LAPTOP, client=("127.0.0.1", 50000))
    reply = laptop.get("/enter", params={"code": code}, headers=PAGE)
    assert (reply.status_code, reply.headers["location"]) == (303, "/")
    assert laptop.get("/").text == "The sets, for This laptop"
    other = workshop.browser(LAPTOP, client=("127.0.0.1", 50001))
    reply = other.get("/enter", params={"code": code}, headers=PAGE)
    assert reply.status_code == 403
    assert "That code has been used." in reply.text


def test_the_laptops_link_opened_on_a_phone_only_asks(workshop: Workshop) -> None:
    code = workshop.door.codes.make(workshop.clock())
    phone = workshop.browser()
    reply = phone.get("/enter", params={"code": code}, headers=PAGE)
    assert reply.status_code == 200
    assert f'value="{code}"' in reply.text
    assert "set-cookie" not in reply.headers
    workshop.door.codes.spend(code, workshop.clock())


def test_a_cookie_of_another_database_lets_nobody_in(workshop: Workshop, tmp_path: Path) -> None:
    secret = workshop.paired().cookies[workshop.door.cookie_name]
    other_shop = Shop(tmp_path / "other.db")
    other = Workshop(replace(workshop.door, shop=other_shop, known=KnownDevices()), workshop.clock)
    for name in (workshop.door.cookie_name, other.door.cookie_name):
        stranger = other.browser(cookies={name: secret})
        assert stranger.get("/", headers=PAGE).status_code == 303
        assert stranger.post("/readings").status_code == 403
    assert other.door.cookie_name != workshop.door.cookie_name
    other_shop.close()


@pytest.mark.parametrize("secret", ["", "0" * 64, "x" * 9000, "'", '"'])
def test_a_made_up_cookie_lets_nobody_in(secret: str, workshop: Workshop) -> None:
    workshop.paired()
    stranger = workshop.browser(headers={"Cookie": f"{workshop.door.cookie_name}={secret}"})
    assert stranger.post("/readings").status_code == 403


# --- shutting out ---


def test_a_lost_phone_is_shut_out_at_once(workshop: Workshop) -> None:
    lost, mine = workshop.paired("Lost phone"), workshop.paired("Tablet")
    assert lost.get("/").status_code == 200
    device = next(d for d in store.listed(workshop.door.shop) if d.name == "Lost phone")
    reply = mine.post(f"/devices/{device.id}/shut-out")
    assert (reply.status_code, reply.headers["location"]) == (303, "/devices")
    assert lost.get("/", headers=PAGE).headers["location"] == "/pair"
    assert lost.post("/readings").status_code == 403
    page = mine.get("/devices").text
    assert "<h3>Lost phone" not in page
    assert "<li>Lost phone, shut out " in page
    assert "paired before" in lost.get("/pair", headers=PAGE).text


def test_whoever_shuts_out_the_device_in_hand_is_out(workshop: Workshop) -> None:
    phone = workshop.paired()
    (device,) = store.listed(workshop.door.shop)
    reply = phone.post(f"/devices/{device.id}/shut-out")
    assert (reply.status_code, reply.headers["location"]) == (303, "/pair")
    assert workshop.door.cookie_name not in phone.cookies
    assert phone.get("/", headers=PAGE).status_code == 303


def test_a_phone_that_never_was_cannot_be_shut_out(workshop: Workshop) -> None:
    reply = workshop.paired().post("/devices/99/shut-out")
    assert (reply.status_code, reply.json()["message"]) == (404, "There is no such phone.")


def test_who_was_known_a_moment_ago_is_not_looked_up_again(workshop: Workshop) -> None:
    phone = workshop.paired()
    phone.get("/")
    with workshop.door.shop.transaction() as db:  # behind the door's back
        store.shut_out(db, 1, at=workshop.clock())
    assert phone.get("/").status_code == 200
    workshop.door.known.forget()
    assert phone.get("/").status_code == 403


def test_an_answer_from_before_a_shutting_out_is_not_remembered() -> None:
    known, device = KnownDevices(), store.Device(1, "Phone", "", "", None)
    mark = known.mark
    known.forget()
    known.keep("secret", device, mark)
    assert known.recall("secret") is None
    known.keep("secret", device, known.mark)
    assert known.recall("secret") == device


# --- the page of devices ---


def test_the_page_lists_who_is_paired_and_which_is_this(workshop: Workshop) -> None:
    workshop.paired("Old tablet")
    workshop.clock.wait(hours=3)
    page = workshop.paired("Lathe phone").get("/devices", headers=PAGE).text
    assert re.search(r"<h3>Old tablet</h3>\s*<p[^>]*>Seen <time[^>]*>3 hours ago", page)
    assert re.search(r'<h3>Lathe phone <span class="mark">\(this one\)', page)
    assert page.count("It will be out at once") == 1


def test_a_paired_phone_makes_a_code_for_another_which_gets_it_in(workshop: Workshop) -> None:
    phone = workshop.paired()
    assert "<svg" not in phone.get("/devices").text
    assert phone.post("/devices/code").headers["location"] == "/devices"
    page = phone.get("/devices").text
    assert "<svg" in page
    assert 'style="' not in page
    shown = re.search(r"and type <b>(\w{4} \w{4})</b>", page)
    assert shown is not None
    assert "10 minutes more" in page
    workshop.clock.wait(minutes=9.5)
    assert "1 minute more" in phone.get("/devices").text
    another = workshop.browser()
    reply = another.post("/pair", data={"code": shown[1], "name": "Tablet"})
    assert reply.status_code == 303
    assert shown[1] not in phone.get("/devices").text


def test_a_code_made_on_one_device_is_not_shown_on_another(workshop: Workshop) -> None:
    phone, tablet = workshop.paired("Phone"), workshop.paired("Tablet")
    phone.post("/devices/code")
    assert "<svg" in phone.get("/devices").text
    assert "<svg" not in tablet.get("/devices").text


def test_what_a_person_typed_is_never_markup(workshop: Workshop) -> None:
    nasty = '"><script>alert(1)</script>'
    phone = workshop.paired(nasty)
    page = phone.get("/devices").text
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)" in page
    for reply in (
        workshop.browser().get("/pair", params={"code": nasty}),
        workshop.browser().post("/pair", data={"code": nasty, "name": nasty}),
        workshop.browser().get("/enter", params={"code": nasty}),
    ):
        assert "<script>alert" not in reply.text
        assert "&#34;&gt;&lt;script&gt;" in reply.text
