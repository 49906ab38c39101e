"""A shop to look at, and a browser without scripts on it; files that only read have their own,
made once."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from benchside.job.devices import PairingCodes
from benchside.store.database import Shop
from benchside.web.app import create_app
from benchside.web.door import Door
from tests import shopfloor
from tests.web.doorway import HOSTS, Clock, Workshop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """An empty shop."""
    with closing(shopfloor.open_shop(tmp_path)) as opened:
        yield opened


@pytest.fixture
def browser(shop: Shop) -> Iterator[TestClient]:
    """A browser that shows where it is sent, and does not go there."""
    yield from browsing(shop)


def browsing(shop: Shop, *, follow_redirects: bool = False) -> Iterator[TestClient]:
    app = create_app(shop, Door(shop, frozenset({"testserver"})))
    with TestClient(app, follow_redirects=follow_redirects) as client:
        yield client


@pytest.fixture
def workshop(shop: Shop) -> Workshop:
    clock = Clock()
    return Workshop(Door(shop, HOSTS, True, PairingCodes(), clock), clock)


@pytest.fixture
def alone(shop: Shop) -> Workshop:
    """Served to this computer only."""
    clock = Clock()
    return Workshop(Door(shop, HOSTS, False, PairingCodes(), clock), clock)
