"""What holds for every test, and the shop that most begin with."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from benchside.job import patterns
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet
from tests import shopfloor
from tests.job.pattern_bench import AT, TABLE

# A busy machine is no fault of the code: no example is judged by the clock.
settings.register_profile(
    "workshop",
    deadline=None,
    max_examples=40,  # a plain run has three minutes for all
    # There a change is judged by itself; at home every run draws others.
    derandomize="CI" in os.environ,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("workshop")


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """An empty shop."""
    with closing(shopfloor.open_shop(tmp_path)) as opened:
        yield opened


@pytest.fixture
def kept(shop: Shop) -> SpindleSet:
    """A set just started in it."""
    return shopfloor.started(shop)


@pytest.fixture
def bench(shop: Shop) -> int:
    """A pattern kept in it."""
    return patterns.read_table(shop, TABLE, at=AT)
