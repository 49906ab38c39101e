"""Browsers without scripts; files that only read have their own, on a shop made once."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from benchside.job.devices import PairingCodes
from benchside.store.database import Shop
from benchside.web.app import create_app
from benchside.web.door import Door
from tests.web.doorway import HOSTS, Clock, Workshop
from tests.web.pages import browsing


@pytest.fixture
def browser(shop: Shop) -> Iterator[TestClient]:
    """A browser that shows where it is sent, and does not go there."""
    yield from browsing(shop)


@pytest.fixture
def visitor(shop: Shop) -> Iterator[TestClient]:
    """A browser that goes where it is sent."""
    yield from browsing(shop, follow_redirects=True)


@pytest.fixture
def workshop(shop: Shop) -> Workshop:
    clock = Clock()
    return Workshop(Door(shop, HOSTS, True, PairingCodes(), clock), clock)


@pytest.fixture
def alone(shop: Shop) -> Workshop:
    """Served to this computer only."""
    clock = Clock()
    return Workshop(Door(shop, HOSTS, False, PairingCodes(), clock), clock)


@pytest.fixture
def laptop(shop: Shop) -> Iterator[TestClient]:
    """The browser of the laptop itself."""
    app = create_app(shop, Door(shop, frozenset({"127.0.0.1"})))
    with TestClient(app, base_url="http://127.0.0.1:8000", follow_redirects=False) as client:
        client.headers["Origin"] = "http://127.0.0.1:8000"
        yield client
