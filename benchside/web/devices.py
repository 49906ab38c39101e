"""Pairing a phone, the list of those that are paired, and shutting one out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Request, Response
from markupsafe import Markup

from benchside.errors import BenchsideError
from benchside.job import devices as job
from benchside.store import devices as store
from benchside.store.devices import Device
from benchside.web.address import lan_urls
from benchside.web.asked import device_id_of
from benchside.web.door import COOKIE_LASTS_S, Door, is_this_computer
from benchside.web.qr import svg_qr
from benchside.web.render import render, see
from benchside.web.words import words

Kind = Literal["phone", "tablet", "laptop"]

_CODE_AT_MOST = 32


@dataclass(frozen=True, slots=True)
class Listed:
    """One paired device as the page shows it."""

    device: Device
    is_this: bool
    seen_minutes: int


@dataclass(frozen=True, slots=True)
class Way:
    """One address a phone may open: the page to type, and the picture that holds the code too."""

    page: str
    picture: Markup


@dataclass(frozen=True, slots=True)
class Invitation:
    """A code that waits to be used, how long it still will, and the ways to bring it."""

    code: str
    minutes: int
    ways: tuple[Way, ...]


def router(door: Door) -> APIRouter:
    """The routes of this part, for one door."""
    routes = APIRouter()

    @routes.get("/pair")
    def ask_to_pair(request: Request, code: str = "") -> Response:
        if _is_in(request, door):
            return see("/")
        return _pair_page(request, door, code=code)

    @routes.post("/pair")
    def pair(
        request: Request, code: Annotated[str, Form()] = "", name: Annotated[str, Form()] = ""
    ) -> Response:
        if _is_in(request, door):
            return see("/")
        try:
            return _let_in(request, door, code, name)
        except BenchsideError as problem:
            return _pair_page(request, door, code=code, name=name, problem=problem)

    @routes.get("/enter")
    def enter(request: Request, code: str = "") -> Response:
        if _is_in(request, door):
            return see("/")
        if not is_this_computer(request.client.host if request.client else None):
            return _pair_page(request, door, code=code)
        name = job.free_name(door.shop, words()["device"]["this"])
        try:
            return _let_in(request, door, code, name)
        except BenchsideError as problem:
            return _pair_page(request, door, code=code, name=name, problem=problem)

    @routes.get("/devices")
    def show_devices(request: Request) -> Response:
        return _devices_page(request, door)

    @routes.post("/devices/code")
    def make_code(request: Request) -> Response:
        if door.lan:
            door.codes.make(door.now(), made_by=device_id_of(request))
        return see("/devices")

    @routes.post("/devices/{device_id}/shut-out")
    def shut_out(request: Request, device_id: int) -> Response:
        job.shut_out(door.shop, device_id, door.now())
        door.known.forget()
        if device_id != device_id_of(request):
            return see("/devices")
        reply = see("/pair")
        reply.delete_cookie(door.cookie_name, path="/", httponly=True, samesite="strict")
        return reply

    return routes


def kind_of(user_agent: str) -> Kind:
    """What sort of device a browser says it runs on; a guess, for a name that can be changed.

    >>> kind_of("Mozilla/5.0 (Linux; Android 14; K) AppleWebKit/537.36 Mobile Safari/537.36")
    'phone'
    >>> kind_of("Mozilla/5.0 (Linux; Android 14; K) AppleWebKit/537.36 Safari/537.36")
    'tablet'
    """
    said = user_agent.lower()
    if "ipad" in said or "tablet" in said or ("android" in said and "mobile" not in said):
        return "tablet"
    return "phone" if "mobi" in said or "iphone" in said else "laptop"


def _let_in(request: Request, door: Door, code: str, name: str) -> Response:
    _, secret = job.pair(door.shop, door.codes, code, name, door.now())
    reply = see("/")
    reply.set_cookie(
        door.cookie_name,
        secret,
        max_age=COOKIE_LASTS_S,
        path="/",
        httponly=True,
        samesite="strict",
        secure=request.url.scheme == "https",
    )
    return reply


def _pair_page(
    request: Request,
    door: Door,
    *,
    code: str,
    name: str | None = None,
    problem: BenchsideError | None = None,
) -> Response:
    kind = kind_of(request.headers.get("user-agent", ""))
    if name is None:
        name = job.free_name(door.shop, words()["device"][kind])
    reply = render(
        request,
        "pair.html",
        status=problem.status if problem else 200,
        kind=kind,
        code=code[:_CODE_AT_MOST],
        name=name[: 4 * job.NAME_AT_MOST],
        problem=problem,
        came_before=door.cookie_name in request.cookies,
        longest=job.NAME_AT_MOST,
    )
    reply.headers["Cache-Control"] = "no-store"
    if isinstance(problem, job.TooManyTries):
        reply.headers["Retry-After"] = str(problem.wait_s)
    return reply


def _devices_page(request: Request, door: Door) -> Response:
    now, this = door.now(), device_id_of(request)
    reply = render(
        request,
        "devices.html",
        here="devices",
        lan=door.lan,
        paired=[
            Listed(device, device.id == this, job.minutes_between(device.last_seen_at, now))
            for device in store.listed(door.shop)
        ],
        shut_out=store.listed(door.shop, shut_out=True),
        invitation=_invitation(request, door, this, now) if door.lan else None,
    )
    reply.headers["Cache-Control"] = "no-store"
    return reply


def _invitation(request: Request, door: Door, made_by: int | None, now: str) -> Invitation | None:
    waiting = door.codes.open_for(made_by, now)
    if waiting is None:
        return None
    query = urlencode({"code": waiting.code})
    ways = tuple(
        Way(f"{base}/pair", svg_qr(f"{base}/pair?{query}"))
        for base in lan_urls(_port(request), door.name)
    )
    return Invitation(waiting.spaced, waiting.minutes, ways)


def _port(request: Request) -> int:
    server = request.scope.get("server")
    return int(server[1]) if server and server[1] else 80


def _is_in(request: Request, door: Door) -> bool:
    return not door.lan or request.state.device is not None
