"""No page has a barrier that a machine can find. The rest needs a person.

The rules are axe-core's for WCAG 2.0, 2.1 and 2.2, levels A and AA; without the tags it leaves
some of them out. It needs a page without the door's policy, since it is put in from outside.
"""

from __future__ import annotations

import re
from importlib.resources import files
from typing import Any
from urllib.parse import urlsplit

import pytest

from benchside.store.sets import SpindleSet
from tests.browser.bench import Bench, stretcher
from tests.browser.conftest import NewPhone
from tests.browser.hand import PHONE, TABLET, Phone

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
RUN = """async tags => (await axe.run({runOnly: {type: 'tag', values: tags}})).violations
  .map(v => `${v.id}: ${v.nodes.slice(0, 3).map(n => n.target).join(' | ')}`)"""
MOST_OF_A_KIND = 2  # pages that differ only in a number
MOST_STEPS = 60


@pytest.fixture(scope="session")
def axe() -> str:
    """The script that looks for barriers."""
    found = [f for f in files("axe_playwright_python").iterdir() if f.name == "axe.min.js"]
    return found[0].read_text("utf-8")


@pytest.fixture
def half_turned(bench: Bench) -> SpindleSet:
    """A set with pieces done, one spoiled with its reason, one in hand and some not begun."""
    kept = bench.started(stretcher(), name="Stretchers with everything", wanted=4)
    bench.turned(kept, 1, 2, off_mm={(2, "s4"): -2.0})
    return kept


def faults(phone: Phone, axe: str) -> list[str]:
    """What axe finds on the page as it stands, scrolled to its end.

    There the big button has come to its own place; before, what is half behind it on its way
    would count as too small a target.
    """
    phone.page.evaluate("scrollTo(0, document.documentElement.scrollHeight)")
    if not phone.page.evaluate("'axe' in window"):
        phone.page.evaluate(axe)
    found: list[str] = phone.page.evaluate(RUN, TAGS)
    return found


def test_axe_itself_finds_what_is_wrong(axe: str, new_phone: NewPhone) -> None:
    """The check can fail: a field without a name and a pale text are found."""
    phone = new_phone(bypass_csp=True)
    phone.open("/")
    phone.page.evaluate(
        "document.querySelector('main').innerHTML ="
        " '<input><p style=\"color:#999;background:#fff\">pale</p>'"
    )
    found = " ".join(faults(phone, axe))
    assert "label" in found
    assert "color-contrast" in found


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_pages_of_every_day_have_no_barrier(
    half_turned: SpindleSet, new_phone: NewPhone, axe: str, scheme: str
) -> None:
    phone = new_phone(bypass_csp=True, color_scheme=scheme)
    found = []
    for path in ("/", f"/sets/{half_turned.id}/turn/3"):
        phone.open(path)
        found += [f"{path} {fault}" for fault in faults(phone, axe)]
    for anchor in ("size:crown:s3", "final:s1/read", "more", "done"):
        phone.turns(half_turned, 3, anchor)
        found += [f"{anchor} {fault}" for fault in faults(phone, axe)]
    assert found == []


@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, TABLET], ids=["phone", "tablet"])
def test_no_page_that_a_link_leads_to_has_a_barrier(
    half_turned: SpindleSet, new_phone: NewPhone, axe: str, scheme: str, size: Any
) -> None:
    phone = new_phone(bypass_csp=True, color_scheme=scheme, size=size, name="Axe")
    found, seen, kinds = [], set(), dict[str, int]()
    waiting = ["/", "/phone-size", "/sets/archived", f"/sets/{half_turned.id}"]
    while waiting:
        path = waiting.pop(0)
        kind = re.sub(r"\d+", "N", path.split("#")[0]) + ("#" if "#" in path else "")
        limit = MOST_STEPS if "#" in path else MOST_OF_A_KIND
        if path in seen or kinds.get(kind, 0) >= limit or is_a_file(path):
            continue
        seen.add(path)
        kinds[kind] = kinds.get(kind, 0) + 1
        phone.open(path)
        found += [f"{path} {fault}" for fault in faults(phone, axe)]
        waiting += links(phone, path)
    assert len(seen) > 40, sorted(seen)
    assert {"/pair", "/refused"}.isdisjoint(seen)
    assert found == []


def links(phone: Phone, path: str) -> list[str]:
    """Where the page leads, within the site; within the turn page to each of its steps."""
    hrefs: list[str] = phone.page.eval_on_selector_all("a[href]", "all => all.map(a => a.href)")
    found = []
    for href in hrefs:
        parts = urlsplit(href)
        if parts.netloc != urlsplit(phone.page.url).netloc:
            continue
        step = f"#{parts.fragment}" if parts.fragment and "/turn/" in parts.path else ""
        found.append(parts.path + (f"?{parts.query}" if parts.query else "") + step)
    return found


def is_a_file(path: str) -> bool:
    """What is taken home rather than looked at."""
    return path.startswith("/backup") or path.partition("?")[0].endswith((".json", ".csv"))


@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_page_at_the_door_or_with_a_fault_on_it_has_a_barrier(
    bench: Bench, half_turned: SpindleSet, new_phone: NewPhone, axe: str, scheme: str
) -> None:
    stranger = new_phone(paired=False, bypass_csp=True, color_scheme=scheme)
    found = []
    stranger.open("/pair")
    found += faults(stranger, axe)
    stranger.page.get_by_label("The code on the laptop").fill("AAAA AAAA")
    stranger.page.get_by_role("button", name="Pair this phone").tap()
    stranger.page.get_by_role("alert").wait_for()
    found += faults(stranger, axe)
    maker = new_phone(bypass_csp=True, color_scheme=scheme, name="Maker")
    for path in ("/sets/99999", "/no-such-page", "/sets/99999/turn/1"):
        maker.open(path)
        found += [f"{path} {fault}" for fault in faults(maker, axe)]
    maker.turns(half_turned, 3, "final:s2/read")
    maker.entry.fill("about 22")
    maker.big_button.tap()
    maker.handed_back.wait_for()
    found += faults(maker, axe)
    assert found == []
