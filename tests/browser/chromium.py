"""The system's own Chromium, or a clear word that it is missing."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from shutil import which

import pytest
from playwright.sync_api import Browser, sync_playwright

from tests.browser.bench import NAME

ARGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    f"--host-resolver-rules=MAP {NAME} 127.0.0.1",
)


def where() -> str:
    """The browser's path. Without one a test is skipped at home, and fails where CI is set."""
    found = os.environ.get("CHROMIUM") or which("chromium") or "/usr/bin/chromium"
    if Path(found).exists():
        return found
    missing = f"No Chromium at {found}: install the package chromium, or name yours in CHROMIUM."
    if os.environ.get("CI"):
        pytest.fail(missing, pytrace=False)
    pytest.skip(missing)


@contextmanager
def launched() -> Iterator[Browser]:
    """A browser that finds the bench by its name."""
    path = where()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=ARGS)
        yield browser
        browser.close()
