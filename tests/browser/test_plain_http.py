"""At a plain-http name a phone lacks much that 127.0.0.1 has; nothing may depend on it."""

from __future__ import annotations

import pytest

from tests.browser import chromium
from tests.browser.bench import Bench, peg
from tests.browser.conftest import NewPhone
from tests.browser.hand import PHONE, TABLET, Phone


@pytest.mark.parametrize("size", [PHONE, TABLET])
def test_no_page_complains_and_none_asks_another_host(
    bench: Bench, new_phone: NewPhone, size: dict[str, object]
) -> None:
    kept = bench.started(peg())
    bench.turned(kept, 1)
    phone = new_phone(size=size)
    here = f"/sets/{kept.id}"
    pages = [f"{here}{more}" for more in ("", "/review", "/pieces/1", "/turn/2", "/settings")]
    pages += ["/", "/patterns/new", f"/patterns/{kept.pattern_id}/edit", "/devices", "/phone-size"]
    for path in pages:
        assert phone.open(path) == 200, path
        assert phone.page.evaluate("isSecureContext") is False
        phone.page.wait_for_timeout(100)
        assert phone.troubles == [], path


def test_what_plain_http_takes_away_is_really_gone_here(bench: Bench, phone: Phone) -> None:
    """Else these tests would run with more than a phone in the workshop has."""
    phone.turns(bench.started(peg()))
    there = phone.page.evaluate(
        "['wakeLock', 'serviceWorker', 'locks', 'storage'].filter(name => name in navigator)"
    )
    assert there == []
    assert phone.page.evaluate("'randomUUID' in crypto") is False


def test_every_reply_carries_the_policy(bench: Bench, phone: Phone) -> None:
    reply = phone.page.goto(bench.url(f"/sets/{bench.started(peg()).id}/turn/1"))
    assert reply
    policy = reply.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy


def test_a_missing_browser_is_skipped_at_home_and_fails_in_ci(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("CHROMIUM", "/nowhere/chromium")
    monkeypatch.delenv("CI", raising=False)
    with pytest.raises(pytest.skip.Exception, match="No Chromium at /nowhere/chromium"):
        chromium.where()
    monkeypatch.setenv("CI", "true")
    with pytest.raises(pytest.fail.Exception, match="install the package chromium"):
        chromium.where()
