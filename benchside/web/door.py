"""Who may come in: every request passes here before any page sees it.

Nobody is trusted for an address. A request must call this laptop by a name it was started with
(a hostile page can point a name of its own at it), a change must come from our own page (the
Origin; over plain http browsers send no Sec-Fetch-Site), and with the door open to the network a
device must show the secret it was paired with.
"""

from __future__ import annotations

import ipaddress
import threading
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from starlette.concurrency import run_in_threadpool
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from benchside.errors import BenchsideError, Refused
from benchside.job import devices
from benchside.job.devices import PairingCodes
from benchside.store.database import Shop
from benchside.store.devices import Device
from benchside.web import render

MOST_BYTES = 5 * 1024 * 1024
KNOWN_FOR_S = 5.0
COOKIE_LASTS_S = 365 * 24 * 60 * 60

_READING = frozenset({"GET", "HEAD", "OPTIONS"})
_OPEN_TO_ALL = {"/pair": frozenset({"GET", "HEAD", "POST"}), "/enter": frozenset({"GET"})}
# What is left of a body that is too large is read away up to here, so that the browser hears why.
_READ_AWAY = 4 * MOST_BYTES
_ALWAYS = [
    (
        b"content-security-policy",
        b"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:;"
        b" connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    ),
    # Not no-referrer: with that, a plain form of our own arrives with "Origin: null".
    (b"referrer-policy", b"same-origin"),
    (b"x-content-type-options", b"nosniff"),
    (b"permissions-policy", b"camera=(), geolocation=(), microphone=()"),
]


class NotOurName(BenchsideError):
    """Called by a name this laptop was not started with."""

    status = 421


class NotOurPage(Refused):
    """A change sent by a page of another origin."""


class NotPaired(Refused):
    """A device that was never let in, or was shut out."""


class TooLarge(BenchsideError):
    """More was sent than any page of ours sends."""

    status = 413


class KnownDevices:
    """Devices recognised a moment ago, by secret, so that not every request asks the database."""

    def __init__(self) -> None:
        self._known: dict[str, tuple[float, Device]] = {}
        self._forgotten = 0
        self._lock = threading.Lock()

    def recall(self, secret: str) -> Device | None:
        """The device, when it was recognised within the last few seconds."""
        found = self._known.get(secret)
        if found is None or time.monotonic() - found[0] > KNOWN_FOR_S:
            return None
        return found[1]

    @property
    def mark(self) -> int:
        """Take this before asking the database, and hand it to `keep`."""
        return self._forgotten

    def keep(self, secret: str, device: Device, mark: int) -> None:
        """Remember a device, unless someone was shut out since ``mark`` was taken."""
        with self._lock:
            if mark == self._forgotten:
                self._known[secret] = (time.monotonic(), device)

    def forget(self) -> None:
        """Ask the database about every device again, from now on."""
        with self._lock:
            self._forgotten += 1
            self._known.clear()


@dataclass(frozen=True, slots=True)
class Door:
    """How the door stands. ``lan`` False: bound to 127.0.0.1, whoever reaches us is let in.

    ``hosts`` are the names and numbers we answer to, without port, in small letters;
    ``name`` the stable one that is shown to people first ("" for the laptop's own).
    """

    shop: Shop
    hosts: frozenset[str]
    lan: bool = False
    codes: PairingCodes = field(default_factory=PairingCodes)
    now: Callable[[], str] = render.now
    name: str = ""
    known: KnownDevices = field(default_factory=KnownDevices, repr=False, compare=False)

    @property
    def cookie_name(self) -> str:
        """Of this database only: cookies know no ports, and a demo may run beside the real one."""
        return f"benchside_{self.shop.database_id[:8]}"

    async def recognise(self, secret: str) -> Device | None:
        """The device that shows this secret. Raises `DatabaseTrouble`."""
        device = self.known.recall(secret)
        if device is None:
            mark = self.known.mark
            device = await run_in_threadpool(devices.known, self.shop, secret, self.now())
            if device is not None:
                self.known.keep(secret, device, mark)
        return device


class Guard:
    """The door as plain ASGI middleware. Puts the device into ``scope["state"]["device"]``.

    Place it around everything, also around what turns a fault into a page.
    """

    def __init__(self, app: ASGIApp, door: Door) -> None:
        self.app = app
        self.door = door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":  # there are no websockets here
            await send({"type": "websocket.close", "code": 1008})
            return
        exchange = _Exchange(receive, send)
        asked = _Asked(scope, self.door.cookie_name)
        try:
            reply = await self._reply_at_the_door(scope, asked)
        except TooLarge as problem:
            await exchange.read_away()
            reply = _refusal(problem, asked)
        except BenchsideError as problem:
            reply = _refusal(problem, asked)
        if reply is not None:
            await reply(scope, receive, exchange.send)
            return
        await self._pass_on(scope, exchange, asked)

    async def _reply_at_the_door(self, scope: Scope, asked: _Asked) -> Response | None:
        """The answer to who may not come in; None, and the device noted, for who may."""
        _check_name(scope, asked, self.door)
        _check_origin(scope, asked)
        device = None
        if self.door.lan and not _is_static(scope):
            device = await self.door.recognise(asked.secret) if asked.secret else None
            if device is None and not _is_open_to_all(scope):
                if scope["method"] in {"GET", "HEAD"} and asked.wants_html:
                    return RedirectResponse("/pair", 303, {"Cache-Control": "no-store"})
                raise NotPaired(
                    "This device is not let in here, or is no longer.",
                    field="device",
                    hint="Pair it: on a device that is in, open Phones.",
                )
        if asked.length > MOST_BYTES:
            raise _too_large()
        scope.setdefault("state", {})["device"] = device
        return None

    async def _pass_on(self, scope: Scope, exchange: _Exchange, asked: _Asked) -> None:
        try:
            await self.app(scope, exchange.receive, exchange.send)
        except Exception:
            if not exchange.too_large:
                raise
        if exchange.too_large and not exchange.started:
            await exchange.read_away()
            exchange.too_large = False
            await _refusal(_too_large(), asked)(scope, exchange.receive, exchange.send)


class _Asked:
    """What the door looks at in a request's headers."""

    __slots__ = ("hosts", "length", "origins", "secret", "wants_html")

    def __init__(self, scope: Scope, cookie_name: str) -> None:
        self.hosts: list[str] = []
        self.origins: list[str] = []
        self.secret = ""
        self.length = 0
        self.wants_html = False
        for name, value in scope["headers"]:
            if name == b"host":
                self.hosts.append(value.decode("latin-1"))
            elif name == b"origin":
                self.origins.append(value.decode("latin-1"))
            elif name == b"cookie":
                self.secret = self.secret or _cookie(value.decode("latin-1"), cookie_name)
            elif name == b"content-length":
                self.length = int(value) if value.isdigit() else 0
            elif name == b"accept":
                self.wants_html = self.wants_html or b"text/html" in value.lower()


class _Exchange:
    """One request and its reply: counts what comes in, adds the headers every reply carries."""

    __slots__ = ("_all_read", "_receive", "_send", "_taken", "started", "too_large")

    def __init__(self, receive: Receive, send: Send) -> None:
        self._receive = receive
        self._send = send
        self._taken = 0
        self._all_read = False
        self.too_large = False
        self.started = False

    async def receive(self) -> Message:
        if self.too_large:
            raise _too_large()
        message = await self._receive()
        if message["type"] == "http.request":
            self._taken += len(message.get("body", b""))
            self._all_read = not message.get("more_body", False)
            if self._taken > MOST_BYTES:
                self.too_large = True
                raise _too_large()
        return message

    async def send(self, message: Message) -> None:
        if message["type"] == "http.response.start" and not self.too_large:
            self.started = True
            message = {**message, "headers": _with_ours(message.get("headers", ()))}
        if self.started:
            await self._send(message)

    async def read_away(self) -> None:
        """Take in what is left of the body, within reason."""
        while not self._all_read and self._taken < _READ_AWAY:
            message = await self._receive()
            self._taken += len(message.get("body", b""))
            self._all_read = not message.get("more_body", False)


def is_this_computer(host: str | None) -> bool:
    """Whether a client's number is a loopback one.

    >>> is_this_computer("127.0.0.1"), is_this_computer("192.168.1.20"), is_this_computer(None)
    (True, False, False)
    """
    try:
        return ipaddress.ip_address(host or "").is_loopback
    except ValueError:
        return False


def _check_name(scope: Scope, asked: _Asked, door: Door) -> None:
    name = _host_and_port(asked.hosts[0])[0] if len(asked.hosts) == 1 else ""
    if name in door.hosts or (door.lan and _is_where_it_came(scope, name)):
        return
    raise NotOurName(
        "Benchside does not answer to the name in that address.",
        field="host",
        hint="Open the address that the laptop's terminal shows.",
    )


def _is_where_it_came(scope: Scope, name: str) -> bool:
    """Whether the laptop was called by the very number the connection reached it at.

    The network may give the laptop another number while we run. A number of ours in the address
    cannot be another page's name, so this opens nothing.
    """
    server = scope.get("server")
    if not name or server is None or name != server[0]:
        return False
    try:
        return bool(ipaddress.ip_address(name))
    except ValueError:
        return False


def _check_origin(scope: Scope, asked: _Asked) -> None:
    """Refuse a change unless our own page sent it, or no browser at all (no Origin)."""
    if scope["method"] in _READING or not asked.origins:
        return
    if len(asked.origins) == 1:
        scheme, _, host = asked.origins[0].lower().partition("://")
        ours = scope.get("scheme", "http")
        if scheme == ours and _place(host, scheme) == _place(asked.hosts[0], ours):
            return
    raise NotOurPage(
        "That was sent from another page, so nothing was changed.",
        field="origin",
        hint="Open benchside itself and do it there.",
    )


def _place(host: str, scheme: str) -> tuple[str, str]:
    name, port = _host_and_port(host)
    return name, port or {"http": "80", "https": "443"}.get(scheme, "")


def _host_and_port(host: str) -> tuple[str, str]:
    """Name and port of a Host header; the name is "" when it is not one plain name.

    >>> _host_and_port("Bench.local.:8000"), _host_and_port("[::1]:8000"), _host_and_port("::1")
    (('bench.local', '8000'), ('::1', '8000'), ('', ''))
    """
    host = host.strip().lower()
    if host.startswith("["):
        name, _, rest = host[1:].partition("]")
        colon, port = rest[:1], rest[1:]
    else:
        name, colon, port = host.partition(":")
    if (colon and not port.isdecimal()) or colon not in {"", ":"}:
        return "", ""
    return name.removesuffix("."), port


def _is_static(scope: Scope) -> bool:
    return scope["method"] in {"GET", "HEAD"} and scope["path"].startswith("/static/")


def _is_open_to_all(scope: Scope) -> bool:
    return scope["method"] in _OPEN_TO_ALL.get(scope["path"], ())


def _cookie(header: str, name: str) -> str:
    for part in header.split(";"):
        key, _, value = part.strip().partition("=")
        if key == name:
            return value
    return ""


def _with_ours(headers: Iterable[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    found = [(name.lower(), value) for name, value in headers]
    names = {name for name, _ in found}
    is_page = any(name == b"content-type" and b"text/html" in value for name, value in found)
    found += [header for header in _ALWAYS if header[0] not in names]
    if is_page and b"cache-control" not in names:
        found.append((b"cache-control", b"no-cache"))
    return found


def _too_large() -> TooLarge:
    return TooLarge(
        "That is more than benchside takes at once.",
        field="body",
        hint=f"At most {MOST_BYTES // 2**20} MB fit; a larger file goes in by the terminal.",
    )


def _refusal(problem: BenchsideError, asked: _Asked) -> Response:
    if asked.wants_html:
        page = render.environment().get_template("refused.html")
        return HTMLResponse(page.render(problem=problem), problem.status)
    return render.problem_json(problem)
