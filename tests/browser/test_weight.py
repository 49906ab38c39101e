"""What the pages move over the workshop's wi-fi."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from benchside.store.sets import SpindleSet
from tests.browser.bench import Bench
from tests.browser.hand import Phone
from tests.shopfloor import back_spindle, landing_baluster

FIRST_VISIT_BYTES, FIRST_VISIT_REQUESTS = 60 * 1024, 8
LATER_BYTES = 14 * 1024
SETTLES_MS = 150  # for what a script may still fetch


class Wire:
    """Counts what the browser says came over the network, headers included, as compressed."""

    def __init__(self, phone: Phone) -> None:
        self.requests: dict[str, int] = {}
        self._urls: dict[str, str] = {}
        self._from_cache: set[str] = set()
        session = phone.context.new_cdp_session(phone.page)
        session.send("Network.enable")
        session.on("Network.requestWillBeSent", self._asked)
        session.on("Network.requestServedFromCache", lambda e: self._from_cache.add(e["requestId"]))
        session.on("Network.responseReceived", self._answered)
        session.on("Network.loadingFinished", self._came)

    def _asked(self, event: dict[str, Any]) -> None:
        self._urls[event["requestId"]] = event["request"]["url"]

    def _answered(self, event: dict[str, Any]) -> None:
        if event["response"].get("fromDiskCache") or event["response"].get("fromPrefetchCache"):
            self._from_cache.add(event["requestId"])

    def _came(self, event: dict[str, Any]) -> None:
        url = self._urls.get(event["requestId"], "")
        if url.startswith("http") and event["requestId"] not in self._from_cache:
            self.requests[url] = int(event["encodedDataLength"])

    @property
    def bytes(self) -> int:
        return sum(self.requests.values())

    def visit(self, phone: Phone, path: str) -> None:
        self.requests.clear()
        phone.open(path)
        phone.page.wait_for_timeout(SETTLES_MS)


@pytest.fixture(scope="module")
def _one_bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    """A book of its own: some pages weigh as much as there is in it."""
    bench = Bench(tmp_path_factory.mktemp("light"))
    yield bench
    bench.kill()


@pytest.fixture
def forty(bench: Bench) -> SpindleSet:
    """A set of forty, half of it turned."""
    kept = bench.started(back_spindle(), name="Staircase", wanted=38, spares=2)
    bench.turned(kept, *range(1, 21))
    return kept


def test_the_first_visit_to_the_turn_screen_is_light(forty: SpindleSet, phone: Phone) -> None:
    wire = Wire(phone)
    wire.visit(phone, f"/sets/{forty.id}/turn/21")
    assert phone.at == "mount"
    assert len(wire.requests) >= 4, "too few to be true"
    assert wire.bytes <= FIRST_VISIT_BYTES, wire.requests
    assert len(wire.requests) <= FIRST_VISIT_REQUESTS, wire.requests


@pytest.mark.parametrize("unit", ["mm", "in/64"])
def test_a_piece_of_twenty_five_stations_is_light_when_the_page_is_known(
    bench: Bench, phone: Phone, unit: str
) -> None:
    kept = bench.started(landing_baluster(), name="Landing", wanted=38, spares=2, unit=unit)
    wire = Wire(phone)
    wire.visit(phone, f"/sets/{kept.id}/turn/1")
    assert wire.bytes <= FIRST_VISIT_BYTES, wire.requests
    assert len(wire.requests) <= FIRST_VISIT_REQUESTS, wire.requests
    wire.visit(phone, f"/sets/{kept.id}/turn/2")
    assert phone.page.locator(".step.read").count() > 60
    assert 1000 < wire.bytes <= LATER_BYTES, wire.requests


def test_every_later_page_of_a_set_of_forty_is_lighter_still(
    forty: SpindleSet, phone: Phone
) -> None:
    wire = Wire(phone)
    paths = [
        f"/sets/{forty.id}/turn/22",
        f"/sets/{forty.id}",
        f"/sets/{forty.id}/pieces/3",
        f"/sets/{forty.id}/review",
        f"/sets/{forty.id}/review/table",
        f"/sets/{forty.id}/choose",
        f"/sets/{forty.id}/time",
        f"/sets/{forty.id}/steps",
        f"/sets/{forty.id}/as-made",
        "/calipers",
        "/originals/new",
        f"/patterns/{forty.pattern_id}",
        f"/patterns/{forty.pattern_id}/edit",
        "/patterns",
        "/devices",
        "/",
    ]
    heavy = {}
    for path in (paths[0], paths[1], paths[7]):
        wire.visit(phone, path)
    for path in paths:  # what is kept for a year is there now, styles and scripts alike
        wire.visit(phone, path)
        assert wire.bytes > 1000, "too light to be true"
        if wire.bytes > LATER_BYTES:
            heavy[path] = wire.requests.copy()
    assert heavy == {}
