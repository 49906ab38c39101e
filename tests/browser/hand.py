"""What a hand does with a phone at the lathe, and what the eye then sees."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import quote

from playwright.sync_api import (
    BrowserContext,
    FloatRect,
    Locator,
    Page,
    Request,
    Response,
    expect,
)

from benchside.store.sets import SpindleSet
from benchside.web.words import words
from tests.browser.bench import Bench

PHONE = {
    "viewport": {"width": 390, "height": 844},
    "has_touch": True,
    "is_mobile": True,
    "user_agent": "Mozilla/5.0 (Linux; Android 14; K) AppleWebKit/537.36 Mobile Safari/537.36",
}
SMALL_PHONE = {**PHONE, "viewport": {"width": 360, "height": 640}}
TABLET = {
    "viewport": {"width": 820, "height": 1180},
    "has_touch": True,
    "is_mobile": True,
    "user_agent": "Mozilla/5.0 (Linux; Android 14; K) AppleWebKit/537.36 Safari/537.36",
}
LAPTOP = {"viewport": {"width": 1280, "height": 800}}

# The turn page's own sentences, so that a test is about what is said and not about its wording.
SAYS: dict[str, Any] = {**words()["page"], **words()["script"]}

# A busy machine is slow, and not wrong: what is waited for may take its time.
PATIENCE_MS = 30_000
expect.set_options(timeout=PATIENCE_MS)
NEXT_TRY_MS = 60_000  # the queue's longest rest between two tries is 30 s, and a try may take 8

DOUBLE_TAP_S = 0.55  # the big button rests half a second after a figure was taken,
TREMBLE_S = 0.35  # and a third of one after a step
# The browser itself writes this when the laptop does not answer, or answers no.
OF_THE_NETWORK = "Failed to load resource"


class Phone:
    """A device with the page in front of it. ``troubles`` is what its console complained of."""

    def __init__(
        self, bench: Bench, context: BrowserContext, name: str = "", *, has_script: bool = True
    ) -> None:
        self.bench = bench
        self.has_script = has_script
        self.context = context
        self.name = name
        self.troubles: list[str] = []
        self.replies: list[tuple[str, int]] = []
        self.rests_until = 0.0
        self.page = self.new_page()

    def new_page(self) -> Page:
        page = self.context.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.on("console", lambda m: m.type == "error" and self.troubles.append(m.text))
        page.on("pageerror", lambda e: self.troubles.append(str(e)))
        page.on("request", self._only_the_bench)
        page.on("response", self._note)
        self.page = page
        return page

    def _only_the_bench(self, request: Request) -> None:
        if not request.url.startswith((self.bench.url("/"), "data:", "blob:")):
            self.troubles.append(f"asks another host: {request.url}")

    def _note(self, reply: Response) -> None:
        if reply.request.method == "POST":
            self.replies.append((reply.url.rpartition("/")[2], reply.status))

    @property
    def own_troubles(self) -> list[str]:
        """What the page itself did wrong: faults of its script, and breaches of its policy."""
        return [t for t in self.troubles if OF_THE_NETWORK not in t]

    def is_let_in(self, name: str = "Phone") -> None:
        cookie, secret = self.bench.let_in(name)
        self.has_cookie(cookie, secret)

    def has_cookie(self, name: str, value: str) -> None:
        self.context.add_cookies(
            [
                {
                    "name": name,
                    "value": value,
                    "domain": "bench.lan",
                    "path": "/",
                    "httpOnly": True,
                    "sameSite": "Strict",
                }
            ]
        )

    # ---- where we are -------------------------------------------------------------------

    def open(self, path: str) -> int:
        """Go to a page; what it answered, or 200 when it was there already."""
        reply = self.page.goto(self.bench.url(path))
        return reply.status if reply else 200

    def turns(self, kept: SpindleSet, number: int = 1, step: str = "", stage: str = "") -> None:
        """Open the turn page of a piece, at a step."""
        query = f"?stage={stage}" if stage else ""
        anchor = f"#{quote(step, safe=':/')}" if step else ""
        self.open(f"/sets/{kept.id}/turn/{number}{query}{anchor}")
        expect(self.step).to_be_visible()
        self.is_taken_up()

    def is_taken_up(self) -> None:
        """The page's script has come to the step that shows: the line of what waits is brought."""
        if self.has_script:
            expect(self.queue).to_have_count(1)

    @property
    def step(self) -> Locator:
        """The one step that shows. (While a page loads, for a moment all do.)"""
        return self.page.locator("section.step").filter(visible=True).first

    @property
    def at(self) -> str:
        """The anchor of the step that shows."""
        found = self.step.get_attribute("id")
        assert found
        return found

    @property
    def width(self) -> int:
        assert self.page.viewport_size
        return self.page.viewport_size["width"]

    @property
    def piece(self) -> str:
        return self.step.locator("[data-piece-line]").inner_text()

    @property
    def big_button(self) -> Locator:
        return self.step.locator("[data-go]")

    @property
    def entry(self) -> Locator:
        return self.step.locator(".entry input")

    @property
    def verdict(self) -> Locator:
        return self.step.locator("[data-said]")

    @property
    def queue(self) -> Locator:
        return self.step.locator("[data-queue]")

    @property
    def handed_back(self) -> Locator:
        return self.page.locator("[data-handed-back]")

    # ---- the thumb ----------------------------------------------------------------------

    def goes_to(self, step: str) -> None:
        """By the list of all steps, as one jumps about."""
        self.opens_more()
        if not self.step.locator("[open] > .steps-list").count():
            self.unfolds(SAYS["all_steps"])
        self.step.locator(f'.steps-list a[href="#{step}"]').tap()
        self.shows(step)

    def opens_more(self) -> None:
        """The page of everything else one may say."""
        if self.at != "more":
            self.step.get_by_label("More, and a way out").tap()
            self.shows("more")

    def unfolds(self, head: str) -> None:
        """A part of the sheet that is folded until it is tapped."""
        self.step.locator("details:not([open]) > summary", has_text=head).tap()

    def shows(self, step: str) -> None:
        self.page.wait_for_load_state()
        expect(self.step).to_have_attribute("id", step)
        self.is_taken_up()

    def presses(self, text: str) -> None:
        """Tap a figure on the page's own keys: 13.4, or 1 5/16."""
        for key in keys_of(text):
            self.presses_key(key)

    def presses_key(self, key: str) -> None:
        """One key: a digit, a point, rub, whole, or /16."""
        self.page.locator(f'[data-keys] button[data-key="{key}"]').tap()

    def takes(self, text: str) -> None:
        """Tap a figure and take it."""
        self.presses(text)
        self.big_button.tap()
        expect(self.entry).to_have_value("")
        self.rests_until = time.monotonic() + DOUBLE_TAP_S

    def takes_all_the_same(self, text: str) -> None:
        """Tap a figure and take it, also where it is so far off that it is asked about."""
        self.presses(text)
        self.big_button.tap()
        sure = SAYS["take_sure"].format(text=text)
        self.waits(
            lambda: not self.entry.input_value() or sure == self.big_button.inner_text().strip()
        )
        if self.entry.input_value():
            self.big_button.tap()
        expect(self.entry).to_have_value("")
        self.rests_until = time.monotonic() + DOUBLE_TAP_S

    def goes_on(self) -> None:
        """The big button, on to whatever comes next."""
        before = self.at
        self.taps_the_big_button()
        expect(self.step).not_to_have_attribute("id", before)

    def taps_the_big_button(self) -> None:
        """When it has rested."""
        rest = self.rests_until - time.monotonic()
        if rest > 0:
            self.page.wait_for_timeout(1000 * rest)
        self.big_button.tap()
        self.rests_until = time.monotonic() + TREMBLE_S

    def goes_on_to_the_next_piece(self) -> None:
        """The big button, where the next piece shows the same step."""
        before = self.piece
        self.taps_the_big_button()
        expect(self.step.locator("[data-piece-line]")).not_to_have_text(before)

    def turns_it(self, figures: dict[str, str], until: str = "done") -> list[str]:
        """Step after step with the big button, each reading taken; the anchors passed."""
        passed = []
        while (here := self.at) != until:
            passed.append(here)
            read = self.step.locator("[data-read]")
            if here.endswith("/read"):
                self.takes(figures[self.aims_at])
            elif read.count():
                read.tap()
                self.shows(f"{here}/read")
                continue
            self.goes_on()
        return passed

    def stops_its_clock(self) -> None:
        """From here no time passes on the page but by `passes`: a slow machine is no slow hand."""
        self.page.clock.install()
        self.page.clock.pause_at(datetime.now(UTC) + timedelta(seconds=1))

    def passes(self, ms: int) -> None:
        """So much time, on a stopped clock."""
        self.page.clock.run_for(ms)

    def waits(self, true: Callable[[], bool], seconds: float = 15) -> None:
        """Until something behind the page is so; the browser goes on meanwhile."""
        end = time.monotonic() + seconds
        while not true():
            assert time.monotonic() < end, "gave up waiting"
            self.page.wait_for_timeout(50)

    @property
    def aims_at(self) -> str:
        """Which figure the step wants, as place/kind/phase."""
        data: dict[str, Any] = self.step.evaluate("section => ({...section.dataset})")
        return f"{data['station']}/{data['reads']}/{data['phase']}"


def keys_of(text: str) -> list[str]:
    """The keys that make a figure."""
    names = {" ": "whole"}
    return [names.get(key, key) for key in re.findall(r"/\d\d|.", text)]


def offline(phone: Phone) -> None:
    """The wi-fi is gone."""
    phone.context.set_offline(True)


def online(phone: Phone) -> None:
    """The wi-fi is back."""
    phone.context.set_offline(False)


def boxes(*parts: Locator) -> list[FloatRect]:
    """Where parts stand on the screen, all at one moment: when none has moved for a while."""
    seen: list[list[FloatRect | None]] = []
    end = time.monotonic() + PATIENCE_MS / 1000
    while len(seen) < 3 or seen[-3:] != [seen[-1]] * 3 or None in seen[-1]:
        assert time.monotonic() < end, f"they never come to rest: {seen[-3:]}"
        seen.append([part.bounding_box() for part in parts])
        parts[0].page.wait_for_timeout(60)
    return [box for box in seen[-1] if box]


def beyond_px(page: Page) -> int:
    """How far a page runs off the screen sideways. A phone's `innerWidth` would grow with it."""
    found: int = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    return found
