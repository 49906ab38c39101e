"""One bench and one browser for all of these tests; each test has sets and phones of its own."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

from tests.browser import chromium
from tests.browser.bench import Bench
from tests.browser.hand import PHONE, Phone

FAILED = Path(__file__).with_name("failed")
_failed = pytest.StashKey[bool]()

NewPhone = Callable[..., Phone]


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """A browser takes its time: a plain run drives it through the few tests marked quick."""
    for item in items:
        if Path(__file__).parent in item.path.parents and not item.get_closest_marker("quick"):
            item.add_marker(pytest.mark.slow)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Iterator[None]:
    report = yield
    if report.when == "call":
        item.stash[_failed] = report.failed
    return report


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    with chromium.launched() as browser:
        yield browser


@pytest.fixture(scope="package")
def _one_bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    chromium.where()  # without a browser no server is needed
    bench = Bench(tmp_path_factory.mktemp("bench"))
    try:
        yield bench
    finally:
        bench.kill()


@pytest.fixture
def bench(_one_bench: Bench) -> Iterator[Bench]:
    """The bench, running, also when the test before killed it. Its terminal must stay calm."""
    if not _one_bench.is_running:
        _one_bench.start()
    before = len(_one_bench.terminal)
    yield _one_bench
    said = _one_bench.terminal[before:]
    assert "Traceback" not in said, said


@pytest.fixture
def new_phone(browser: Browser, bench: Bench, request: pytest.FixtureRequest) -> Iterator[NewPhone]:
    """Makes devices, paired unless told otherwise. What goes wrong on one is photographed."""
    phones: list[Phone] = []

    def make(*, paired: bool = True, name: str = "Phone", size: Any = PHONE, **more: Any) -> Phone:
        context = browser.new_context(**{**size, **more})
        phone = Phone(bench, context, name, has_script=more.get("java_script_enabled", True))
        if paired:
            phone.is_let_in(name)
        phones.append(phone)
        return phone

    yield make
    failed = request.node.stash.get(_failed, False)
    for number, phone in enumerate(phones):
        if failed:
            _photograph(phone, f"{request.node.name}_{number}")
        phone.context.close()
    troubles = [trouble for phone in phones for trouble in phone.own_troubles]
    assert troubles == [], "the page's console complained"


@pytest.fixture
def phone(new_phone: NewPhone) -> Phone:
    """One paired phone."""
    return new_phone()


def _photograph(phone: Phone, name: str) -> None:
    FAILED.mkdir(exist_ok=True)
    for number, page in enumerate(phone.context.pages):
        path = FAILED / f"{re.sub(r'[^A-Za-z0-9]+', '_', name)}_{number}.png"
        page.screenshot(path=path)
