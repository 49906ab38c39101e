from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from http.cookies import SimpleCookie
from pathlib import Path
from typing import Any

import anyio
import pytest
from fastapi import FastAPI, Request, Response
from fastapi.responses import HTMLResponse, JSONResponse
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from benchside.errors import BenchsideError
from benchside.job.devices import PairingCodes
from benchside.store import devices as store
from benchside.store.database import Shop
from benchside.web import devices
from benchside.web.door import MOST_BYTES, Door, Guard, KnownDevices

HOSTS = frozenset({"127.0.0.1", "localhost", "::1", "bench.lan", "192.168.4.20"})
HOME = "http://bench.lan:8000"
LAPTOP = "http://127.0.0.1:8000"
PAGE = {"Accept": "text/html,application/xhtml+xml;q=0.9,*/*;q=0.8"}
PHONE = "Mozilla/5.0 (Linux; Android 14; K) AppleWebKit/537.36 Mobile Safari/537.36"


class Clock:
    def __init__(self) -> None:
        self.moment = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)

    def __call__(self) -> str:
        return self.moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")

    def wait(self, **how_long: float) -> None:
        self.moment += timedelta(**how_long)


@dataclass
class Workshop:
    """A laptop that serves, its clock, and browsers to reach it with."""

    door: Door
    clock: Clock

    def browser(self, base: str = HOME, **options: Any) -> TestClient:
        options.setdefault("client", ("192.168.4.31", 50000))
        client = TestClient(
            Guard(small_app(self.door), self.door),
            base_url=base,
            follow_redirects=False,
            raise_server_exceptions=False,
            **options,
        )
        client.headers["User-Agent"] = PHONE
        return client

    def paired(self, name: str = "Phone", **options: Any) -> TestClient:
        client = self.browser(**options)
        sent = {"code": self.door.codes.make(self.clock()), "name": name}
        assert client.post("/pair", data=sent).status_code == 303
        return client


def small_app(door: Door) -> FastAPI:
    """The part under test, with a few pages behind the door."""
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    app.state.shop = door.shop
    app.include_router(devices.router(door))

    @app.exception_handler(BenchsideError)
    def told(_: Request, problem: BenchsideError) -> Response:
        return JSONResponse({"message": problem.message}, problem.status)

    @app.get("/")
    def home(request: Request) -> Response:
        device = request.state.device
        return HTMLResponse("The sets, for " + (device.name if device else "this computer"))

    @app.post("/readings")
    async def take(request: Request) -> Response:
        return JSONResponse({"bytes": len(await request.body())})

    @app.get("/kept")
    def kept() -> Response:
        return HTMLResponse("kept", headers={"Cache-Control": "max-age=60"})

    @app.get("/fault")
    def fault() -> Response:
        raise RuntimeError("a fault of our own")

    @app.get("/static/0123/base.css")
    def style() -> Response:
        return Response("@layer page;", media_type="text/css")

    return app


@pytest.fixture(scope="module")
def new_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop nobody has used, made once: building one takes longer than a test."""
    path = tmp_path_factory.mktemp("new") / "shop.db"
    Shop(path).close()
    return path


@pytest.fixture
def shop(tmp_path: Path, new_file: Path) -> Iterator[Shop]:
    opened = Shop(shutil.copy(new_file, tmp_path / "shop.db"))
    yield opened
    opened.close()


@pytest.fixture
def workshop(shop: Shop) -> Workshop:
    clock = Clock()
    return Workshop(Door(shop, HOSTS, True, PairingCodes(), clock), clock)


@pytest.fixture
def alone(shop: Shop) -> Workshop:
    """Served to this computer only."""
    clock = Clock()
    return Workshop(Door(shop, HOSTS, False, PairingCodes(), clock), clock)


# --- before pairing ---


@pytest.mark.parametrize("path", ["/", "/devices", "/kept", "/nowhere", "/pair/", "/staticky"])
def test_an_unpaired_phone_is_led_from_every_page_to_pairing(path: str, workshop: Workshop) -> None:
    reply = workshop.browser().get(path, headers=PAGE)
    assert (reply.status_code, reply.headers["location"]) == (303, "/pair")


@pytest.mark.parametrize(
    ("method", "path"),
    [
        ("GET", "/"),
        ("GET", "/devices"),
        ("POST", "/readings"),
        ("POST", "/devices/code"),
        ("POST", "/devices/1/shut-out"),
        ("POST", "/static/0123/base.css"),
        ("OPTIONS", "/"),
        ("DELETE", "/pair"),
        ("POST", "/enter"),
    ],
)
def test_an_unpaired_script_is_refused_with_a_reason(
    method: str, path: str, workshop: Workshop
) -> None:
    reply = workshop.browser().request(method, path, headers={"Accept": "application/json"})
    assert reply.status_code == 403
    assert set(reply.json()) == {"field", "message", "hint"}
    assert reply.json()["field"] == "device"


def test_an_unpaired_phone_may_see_the_pairing_page_and_its_style(workshop: Workshop) -> None:
    phone = workshop.browser()
    assert phone.get("/pair", headers=PAGE).status_code == 200
    assert phone.get("/static/0123/base.css").status_code == 200


def test_the_laptop_itself_needs_pairing_too_when_the_door_is_open(workshop: Workshop) -> None:
    laptop = workshop.browser(LAPTOP, client=("127.0.0.1", 50000))
    assert laptop.get("/", headers=PAGE).headers["location"] == "/pair"


def test_a_form_sent_by_a_phone_that_was_shut_out_meets_a_page_not_braces(
    workshop: Workshop,
) -> None:
    reply = workshop.browser().post("/readings", headers=PAGE)
    assert reply.status_code == 403
    assert "<h1>This device is not let in here" in reply.text


def test_no_websocket_gets_past_the_door(workshop: Workshop) -> None:
    with pytest.raises(WebSocketDisconnect), workshop.paired().websocket_connect("/"):
        pass


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


# --- names ---


@pytest.mark.parametrize(
    "host",
    [
        "bench.lan",
        "bench.lan:8000",
        "BENCH.Lan:8000",
        "bench.lan.",
        "bench.lan.:8000",
        "localhost:1",
        "127.0.0.1:8000",
        "[::1]:8000",
        "[::1]",
        "192.168.4.20:8000",
    ],
)
def test_the_laptop_answers_to_its_names(host: str, alone: Workshop) -> None:
    assert alone.browser().get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "bench.lan.evil.example",
        "evil-bench.lan",
        "bench.lan..",
        "bench.lan:80:80",
        "bench.lan:x",
        "evil@bench.lan",
        "bench.lan@evil",
        "::1",
        "[::1]evil",
        "[::2]:8000",
        "192.168.4.21",
        "127.0.0.1.evil.example",
        "2130706433",
        "",
        ".",
        ":8000",
        "bench.lan, evil.example",
        "bench.lan/",
    ],
)
def test_the_laptop_does_not_answer_to_a_strangers_name(
    host: str, alone: Workshop, workshop: Workshop
) -> None:
    for browser in (alone.browser(), workshop.browser()):
        for path in ("/", "/pair", "/static/0123/base.css"):
            reply = browser.get(path, headers={"Host": host})
            assert reply.status_code == 421
            assert reply.json()["message"].startswith("Benchside does not answer to the name")


@pytest.mark.parametrize("hosts", [[], [b"bench.lan", b"evil.example"]])
def test_a_request_without_one_name_is_refused(hosts: list[bytes], alone: Workshop) -> None:
    assert _raw(alone, [(b"host", host) for host in hosts])["status"] == 421


def test_a_new_number_of_the_laptop_is_its_own_but_no_others(workshop: Workshop) -> None:
    fresh = workshop.browser("http://192.168.9.77:8000")
    assert fresh.get("/pair").status_code == 200
    assert fresh.get("/pair", headers={"Host": "192.168.9.78:8000"}).status_code == 421
    named = workshop.browser("http://evil.example:8000")
    assert named.get("/pair").status_code == 421


# --- where a change comes from ---


@pytest.mark.parametrize(
    ("base", "origin"),
    [
        (HOME, "http://bench.lan:8000"),
        (HOME, "HTTP://Bench.Lan:8000"),
        ("http://bench.lan", "http://bench.lan"),
        ("http://[::1]:8000", "http://[::1]:8000"),
    ],
)
def test_our_own_page_may_change_things(base: str, origin: str, alone: Workshop) -> None:
    assert alone.browser(base).post("/readings", headers={"Origin": origin}).status_code == 200


@pytest.mark.parametrize(
    "origin",
    [
        "null",
        "",
        "http://evil.example",
        "https://bench.lan:8000",
        "http://bench.lan:8001",
        "http://bench.lan",
        "http://localhost:8000",
        "http://bench.lan:8000.evil.example",
        "http://bench.lan:8000/",
        "http://evil@bench.lan:8000",
        "bench.lan:8000",
        "file://",
    ],
)
@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE"])
def test_a_change_from_another_page_is_refused(
    origin: str, method: str, alone: Workshop, workshop: Workshop
) -> None:
    for browser in (alone.browser(), workshop.browser()):
        reply = browser.request(method, "/readings", headers={"Origin": origin})
        assert reply.status_code == 403
        assert reply.json()["field"] == "origin"


def test_another_page_cannot_pair_or_shut_out(workshop: Workshop) -> None:
    code = workshop.door.codes.make(workshop.clock())
    evil = {"Origin": "http://evil.example"}
    sent = {"code": code, "name": "Phone"}
    assert workshop.browser().post("/pair", data=sent, headers=evil).status_code == 403
    phone = workshop.paired()
    assert phone.post("/devices/1/shut-out", headers=evil).status_code == 403
    assert len(store.listed(workshop.door.shop)) == 1


def test_two_origins_at_once_are_refused(alone: Workshop) -> None:
    headers = [(b"host", b"bench.lan"), (b"origin", b"http://bench.lan")]
    assert _raw(alone, headers, "POST", "/readings")["status"] == 200
    assert _raw(alone, [*headers, headers[1]], "POST", "/readings")["status"] == 403


def test_reading_needs_no_origin_and_a_tool_without_one_may_change_things(
    alone: Workshop, workshop: Workshop
) -> None:
    assert alone.browser().get("/", headers={"Origin": "null"}).status_code == 200
    assert alone.browser().post("/readings").status_code == 200
    assert workshop.browser().post("/readings").status_code == 403
    assert workshop.paired().post("/readings").status_code == 200


# --- served to this computer only ---


def test_with_the_door_shut_to_the_network_whoever_reaches_us_is_this_computer(
    alone: Workshop,
) -> None:
    browser = alone.browser(LAPTOP)
    assert browser.get("/").text == "The sets, for this computer"
    assert browser.get("/pair").headers["location"] == "/"
    assert browser.get("/enter").headers["location"] == "/"
    assert "benchside serve --lan" in browser.get("/devices").text
    browser.post("/devices/code")
    assert alone.door.codes.open_for(None, alone.clock()) is None


# --- size ---


def test_too_large_a_body_is_refused_by_what_it_says_it_is(alone: Workshop) -> None:
    browser = alone.browser()
    assert browser.post("/readings", content=b"x" * MOST_BYTES).status_code == 200
    reply = browser.post("/readings", content=b"x" * (MOST_BYTES + 1))
    assert reply.status_code == 413
    assert "5 MB" in reply.json()["hint"]


@pytest.mark.parametrize("path", ["/readings", "/pair"])
def test_too_large_a_body_is_refused_as_it_comes(path: str, workshop: Workshop) -> None:
    pieces = (b"a" * 65536 for _ in range(MOST_BYTES // 65536 + 1))
    kind = {"Content-Type": "application/x-www-form-urlencoded"}
    client = workshop.browser() if path == "/pair" else workshop.paired()
    reply = client.post(path, content=pieces, headers=kind)
    assert reply.status_code == 413
    assert reply.json()["field"] == "body"
    assert "content-security-policy" in reply.headers


# --- what every reply carries ---


def test_every_reply_carries_the_policies(workshop: Workshop) -> None:
    stranger, phone = workshop.browser(), workshop.paired()
    replies = [
        stranger.get("/", headers=PAGE),
        stranger.get("/"),
        stranger.get("/pair"),
        stranger.get("/pair", headers={"Host": "evil.example"}),
        stranger.post("/pair", data={"code": "AAAAAAAA"}),
        stranger.post("/pair", headers={"Origin": "null"}),
        stranger.get("/static/0123/base.css"),
        phone.get("/"),
        phone.get("/nowhere"),
        phone.get("/fault"),
        phone.post("/", data={}),
        phone.post("/readings", content=b"x" * (MOST_BYTES + 1)),
        phone.get("/devices"),
    ]
    assert [r.status_code for r in replies] == [
        303, 403, 200, 421, 422, 403, 200, 200, 404, 500, 405, 413, 200,
    ]  # fmt: skip
    for reply in replies:
        policy = dict(
            part.strip().partition(" ")[::2]
            for part in reply.headers["content-security-policy"].split(";")
        )
        assert policy == {
            "default-src": "'none'",
            "script-src": "'self'",
            "style-src": "'self'",
            "img-src": "'self' data:",
            "connect-src": "'self'",
            "form-action": "'self'",
            "base-uri": "'none'",
            "frame-ancestors": "'none'",
        }
        # "no-referrer" would make a plain form of our own arrive with Origin: null.
        assert reply.headers["referrer-policy"] == "same-origin"
        assert reply.headers["x-content-type-options"] == "nosniff"


def test_a_page_is_asked_for_again_each_time_unless_it_says_otherwise(alone: Workshop) -> None:
    browser = alone.browser()
    assert browser.get("/").headers["cache-control"] == "no-cache"
    assert browser.get("/kept").headers["cache-control"] == "max-age=60"
    assert browser.get("/devices").headers["cache-control"] == "no-store"
    assert "cache-control" not in browser.get("/static/0123/base.css").headers


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


# --- trouble ---


def test_a_damaged_file_is_said_plainly(workshop: Workshop, shop: Shop) -> None:
    secret = workshop.paired().cookies[workshop.door.cookie_name]
    shop.close()
    shop.path.write_bytes(b"no database at all" * 500)
    workshop.door.known.forget()
    phone = workshop.browser(cookies={workshop.door.cookie_name: secret})
    reply = phone.get("/")
    assert reply.status_code == 507
    assert "no sound database" in reply.json()["message"]
    assert "content-security-policy" in reply.headers
    assert phone.get("/", headers=PAGE).text.startswith("<!doctype html>")


def _raw(
    workshop: Workshop, headers: list[tuple[bytes, bytes]], method: str = "GET", path: str = "/"
) -> Any:
    """Send headers no client library would send; the start of the reply."""
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method,
        "path": path, "raw_path": path.encode(), "query_string": b"", "root_path": "",
        "scheme": "http", "server": ("127.0.0.1", 80), "client": ("127.0.0.1", 5),
        "headers": headers,
    }  # fmt: skip
    sent: list[Any] = []

    async def receive() -> Any:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: Any) -> None:
        sent.append(message)

    async def run() -> None:
        await Guard(small_app(workshop.door), workshop.door)(scope, receive, send)

    anyio.run(run)
    return sent[0]
