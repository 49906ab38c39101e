"""Which listed species was understood, where another of its names was typed."""

from __future__ import annotations

from urllib.parse import urlencode

from benchside.errors import BenchsideError
from benchside.job import wood_of
from benchside.store.database import Shop
from benchside.web.words import words


def named(url: str, shop: Shop, typed: str) -> str:
    """Where a form leads on to, with what was typed where the species goes by another name."""
    if not typed.strip() or not understood(shop, typed):
        return url
    return f"{url}{'&' if '?' in url else '?'}{urlencode({'named': typed.strip()})}"


def understood(shop: Shop, typed: str) -> str:
    """What is said of a species that goes by another name here; "" where it does not."""
    try:
        species = wood_of.species(typed, shop)
    except BenchsideError:
        return ""
    name = species.common_name
    if any(_words(typed) == _words(one) for one in (name, *species.botanical_name.split(" / "))):
        return ""
    botanical = f", {species.botanical_name}" if species.botanical_name else ""
    said: str = words()["wood"]["understood"]
    return said.format(typed=typed.strip()[:60], name=name, botanical=botanical)


def _words(name: str) -> list[str]:
    return sorted(name.casefold().replace(",", " ").replace("-", " ").split())
