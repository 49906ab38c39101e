"""No page has a barrier that a machine can find, or scrolls sideways. The rest needs a person.

The rules are axe-core's for WCAG 2.0, 2.1 and 2.2, levels A and AA; without the tags it leaves
some of them out. It needs a page without the door's policy, since it is put in from outside.
By night only the colours change, so only the rules about colours are asked again.
"""

from __future__ import annotations

import re
from contextlib import closing
from dataclasses import replace
from importlib.resources import files
from typing import Any
from urllib.parse import urlsplit

import pytest

from benchside.job import boards, holes, logs
from benchside.job.board_table import BoardTold
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet
from tests.browser.bench import Bench, stretcher
from tests.browser.conftest import NewPhone
from tests.browser.hand import PHONE, TABLET, Phone, beyond_px

AT = "2026-02-01T08:00:00.000Z"
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
COLOURS = ["color-contrast", "link-in-text-block"]
RUN = """async ([type, values]) => (await axe.run({runOnly: {type, values},
    resultTypes: ['violations']})).violations
  .map(v => `${v.id}: ${v.nodes.slice(0, 3).map(n => n.target).join(' | ')}`)"""

# A word of a button that stands on two lines: its first and its last letter are not level.
BROKEN = r"""() => [...document.querySelectorAll('button, .button, summary')]
  .filter(button => button.offsetWidth > 1).flatMap(button => {
  const texts = document.createTreeWalker(button, NodeFilter.SHOW_TEXT), broken = [];
  for (let text; (text = texts.nextNode()); )
    for (const word of text.data.matchAll(/[\p{L}\d]+/gu)) {
      const range = document.createRange();
      range.setStart(text, word.index);
      range.setEnd(text, word.index + word[0].length);
      const lines = new Set([...range.getClientRects()].map(r => Math.round(r.top)));
      if (lines.size > 1) broken.push(`broken word: ${word[0]}`);
    }
  return broken;
})"""


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


def faults(phone: Phone, axe: str, schemes: tuple[str, ...] = ("light", "dark")) -> list[str]:
    """What axe finds on the page as it stands by day and by night, scrolled to its end.

    There the big button has come to its own place; before, what is half behind it on its way
    would count as too small a target.
    """
    phone.page.evaluate("scrollTo(0, document.documentElement.scrollHeight)")
    if not phone.page.evaluate("'axe' in window"):
        phone.page.evaluate(axe)
    phone.page.emulate_media(color_scheme="light", reduced_motion="reduce")  # no colour half faded
    found: list[str] = phone.page.evaluate(RUN, ["tag", TAGS])
    if "dark" in schemes:
        phone.page.emulate_media(color_scheme="dark")
        found += phone.page.evaluate(RUN, ["rule", COLOURS])
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


def test_a_word_broken_within_a_button_is_found(new_phone: NewPhone) -> None:
    phone = new_phone(bypass_csp=True)
    phone.open("/")
    assert phone.page.evaluate(BROKEN) == []
    phone.page.add_style_tag(content=".button { overflow-wrap: anywhere; max-width: 4rem }")
    assert phone.page.evaluate(BROKEN) != []


def test_a_page_wider_than_the_phone_is_found(new_phone: NewPhone) -> None:
    phone = new_phone(bypass_csp=True)
    phone.open("/")
    assert beyond_px(phone.page) == 0
    phone.page.add_style_tag(content="main { min-inline-size: 110vw }")
    assert beyond_px(phone.page) > 0


def test_a_colour_too_pale_by_night_alone_is_found(axe: str, new_phone: NewPhone) -> None:
    phone = new_phone(bypass_csp=True)
    phone.open("/")
    phone.page.add_style_tag(
        content="@media (prefers-color-scheme: dark) { main p { color: #333; background: #000 } }"
    )
    phone.page.evaluate("document.querySelector('main').innerHTML = '<p>pale</p>'")
    assert faults(phone, axe, ("light",)) == []
    assert "color-contrast" in " ".join(faults(phone, axe))


def test_the_pages_of_every_day_have_no_barrier(
    half_turned: SpindleSet, new_phone: NewPhone, axe: str
) -> None:
    phone = new_phone(bypass_csp=True)
    found = []
    for path in ("/", f"/sets/{half_turned.id}/turn/3"):
        phone.open(path)
        found += [f"{path} {fault}" for fault in faults(phone, axe)]
    for anchor in ("size:crown:s3", "final:s1/read", "more", "done"):
        phone.turns(half_turned, 3, anchor)
        found += [f"{anchor} {fault}" for fault in faults(phone, axe)]
    assert found == []


@pytest.mark.parametrize(
    ("size", "schemes"),
    [(PHONE, ("light", "dark")), (TABLET, ("light",))],
    ids=["phone", "tablet"],
)
def test_no_page_that_a_link_leads_to_has_a_barrier(
    half_turned: SpindleSet, new_phone: NewPhone, axe: str, size: Any, schemes: tuple[str, ...]
) -> None:
    phone = new_phone(bypass_csp=True, size=size, name="Axe")
    found, kinds = [], set[str]()
    mine = f"/sets/{half_turned.id}"
    waiting = ["/", "/phone-size", "/sets/archived", mine, f"{mine}/turn/3", f"{mine}/pieces/1"]
    while waiting:
        path = waiting.pop(0)
        kind = kind_of(path)
        if kind in kinds or is_a_file(path):
            continue
        kinds.add(kind)
        if phone.open(path) != 200:
            found.append(f"{path} does not open")
        found += [f"{path} {fault}" for fault in faults(phone, axe, schemes)]
        found += [f"{path} {fault}" for fault in phone.page.evaluate(BROKEN)]
        if beyond_px(phone.page) > 0:
            found.append(f"{path} scrolls sideways")
        waiting += links(phone)
    assert len(kinds) > 30, sorted(kinds)
    assert found == []


def links(phone: Phone) -> list[str]:
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


def kind_of(path: str) -> str:
    """Pages made by the same template from other figures are of a kind.

    Of the turn pages, which hold all their steps, only one is opened at every kind of step.
    """
    page, _, step = re.sub(r"\?(?:after=\d+|cut=[^#]*)", "", path).partition("#")
    stage = re.sub(r":.*?(?=/read|$)", "", step)
    if page.endswith("/turn"):
        return page
    page = re.sub(r"(?<=/)\d+|(?<=/review/)(?!table)[^/]+", "N", page)
    return f"{page}#{stage}" if stage else page


def is_a_file(path: str) -> bool:
    """What is taken home rather than looked at."""
    return path.startswith("/backup") or path.partition("?")[0].endswith(
        (".json", ".csv", ".zip", ".pdf", ".svg", ".dxf")
    )


def test_no_page_at_the_door_or_with_a_fault_on_it_has_a_barrier(
    half_turned: SpindleSet, new_phone: NewPhone, axe: str
) -> None:
    stranger = new_phone(paired=False, bypass_csp=True)
    found = []
    stranger.open("/pair")
    found += faults(stranger, axe)
    stranger.page.get_by_label("The code on the laptop").fill("AAAA AAAA")
    stranger.page.get_by_role("button", name="Pair this phone").tap()
    stranger.page.get_by_role("alert").wait_for()
    found += faults(stranger, axe)
    maker = new_phone(bypass_csp=True, name="Maker")
    for path in ("/sets/99999", "/no-such-page", "/sets/99999/turn/1"):
        maker.open(path)
        found += [f"{path} {fault}" for fault in faults(maker, axe)]
    maker.turns(half_turned, 3, "final:s2/read")
    maker.entry.fill("about 22")
    maker.big_button.tap()
    maker.verdict.get_by_text("is not a length").wait_for()
    found += faults(maker, axe)
    assert found == []


# Links and buttons that stand by themselves and are narrower or lower than a finger is wide.
NARROW = """() => [...document.querySelectorAll('main a, main button, main summary')]
  .filter(e => e.offsetWidth > 1 && e.checkVisibility() && getComputedStyle(e).display !== 'inline')
  .map(e => [e.innerText.trim(), e.offsetWidth, e.offsetHeight])
  .filter(([, width, height]) => width < 44 || height < 44)
  .map(([text, width, height]) => `${text} ${width} x ${height}`)"""


def test_what_is_called_by_one_letter_is_as_wide_as_a_finger(
    new_phone: NewPhone, bench: Bench
) -> None:
    kept = bench.started(replace(stretcher(), name="A"), name="B", wanted=2)
    sizes = {"length": "1500", "width": "150", "thickness": "34", "kerf": "3.2"}
    told = BoardTold(name="C", set_id=str(kept.id), **sizes)
    with closing(Shop(bench.db)) as shop:
        board = boards.keep_board(shop, None, told, key="c1" * 16, at=AT)
        log = replace(logs.bare_log("d1" * 16, AT), name="D", set_id=kept.id, length_mm=1400.0)
        logs.keep_log(shop, replace(log, large_mm=300.0, small_mm=280.0))
        holes.add(shop, holes.Told("E", "12.7", unit="mm"), key="e1" * 16, at=AT)
    phone = new_phone()
    found = []
    mine = f"/sets/{kept.id}"
    for path in (
        *("/", "/patterns", "/stock", "/holes", mine),
        *(f"{mine}/stock", f"/stock/boards/{board}", f"{mine}/fit"),
    ):
        phone.open(path)
        found += [f"{path}: {narrow}" for narrow in phone.page.evaluate(NARROW)]
    assert found == []
