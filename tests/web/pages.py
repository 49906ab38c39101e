"""A browser without scripts, and what it shows a person."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape

from starlette.testclient import TestClient

from benchside.store.database import Shop
from benchside.web.app import create_app
from benchside.web.door import Door


def browsing(shop: Shop, *, follow_redirects: bool = False) -> Iterator[TestClient]:
    """A browser of this laptop, for as long as it is looked through."""
    app = create_app(shop, Door(shop, frozenset({"testserver"})))
    with TestClient(app, follow_redirects=follow_redirects) as client:
        yield client


def text_of(page: str) -> str:
    """What a person reads of a page."""
    page = re.sub(r"</?su[bp]>", "", page)  # a fraction is read as one
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", page)).split())


def form_fields(page: str, action: str) -> list[dict[str, str]]:
    """The hidden fields of every form that posts to an address."""
    return [
        dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form))
        for form in re.findall(rf'action="{action}">(.*?)</form>', page, re.S)
    ]
