"""The set sheet: the page and the PDF tell the same."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from starlette.testclient import TestClient

from benchside.job import as_made, drying, turning
from benchside.job.turning import Marked
from benchside.store import fitting, patterns, stock
from benchside.store.database import Shop
from benchside.store.fitting import Later
from benchside.store.judging import AsMade
from benchside.store.stock import KeptBoard
from tests import shopfloor
from tests.job import fitted_bench
from tests.paper import samples
from tests.web.pages import browsing, text_of


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    opened = shopfloor.open_shop(tmp_path_factory.mktemp("sheet"))
    kept = shopfloor.started(opened, wanted=3, name="Hall bench", note="For the <hall>.")
    shopfloor.turn(opened, kept, range(1, 5), scatter=0.0, off_mm={(2, "st7"): 0.3})
    as_made.keep_words(opened, kept.id, AsMade(wood="white ash", bits="16 mm"))
    as_made.note_mistake(opened, 1, "C slipped", "wax", key="b" * 32, at=samples.DAY)
    shopfloor.started(opened, name="Nothing turned")
    green = fitted_bench.a_set(opened, name="Green bench")
    fitted_bench.a_seat(
        opened, green, replace(fitted_bench.SEAT, test_hole=fitted_bench.a_test_hole(opened))
    )
    with opened.transaction() as db:
        sizes = (1000.0, 120.0, 40.0, 3.2, 0.0, 0.0, 0.0, 0.0, 0.0)
        at = samples.DAY
        stock.keep_board(
            db, KeptBoard(0, "c" * 32, green, "Ash 1", "", "mm", *sizes, True, None, None, at, None)
        )
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def browser(shop: Shop) -> Iterator[TestClient]:
    yield from browsing(shop, follow_redirects=True)


TOLD = (
    "For the <hall>.",
    "white ash",
    "C slipped",
    "wax",
    "its hole: tried while it is still over",
    "Averages of 4 pieces done",
    "Which ones, and where",
    "14 min",
    "In this order",
)


def test_the_page_and_the_pdf_tell_the_same(browser: TestClient) -> None:
    assert 'href="/sets/1/sheet"' in browser.get("/sets/1/paper").text
    page = browser.get("/sets/1/sheet")
    assert "<hall>" not in page.text
    reply = browser.get("/sets/1/sheet.pdf")
    assert reply.headers["content-disposition"].endswith('filename="benchside-set-1-sheet.pdf"')
    shown = " ".join(text_of(page.text).replace("&lt;", "<").replace("&gt;", ">").split())
    printed = " ".join(samples.text_of(reply.content).split())
    for text in TOLD:
        assert text in shown, text
        assert text in printed, text


def test_every_final_reading_stands_in_it(browser: TestClient, shop: Shop) -> None:
    from benchside.job import piece

    page = browser.get("/sets/1/sheet").text
    sheet = piece.sheet(shop, 1)
    assert len(sheet.read) > 60
    row = page[page.index("<td>Neck</td>", page.index("Final readings")) :].split("</tr>")[0]
    assert row.count("<td") == 5
    assert "14.3" in row


def test_a_set_without_anything_turned_says_what_is_known(browser: TestClient) -> None:
    said = text_of(browser.get("/sets/2/sheet").text)
    assert "Sizes, and why" in said
    assert "Readings" not in said
    assert "Time" not in said
    assert browser.get("/sets/2/sheet.pdf").content.startswith(b"%PDF")
    assert browser.get("/sets/9/sheet").status_code == 404
    assert browser.get("/sets/9/sheet.pdf").status_code == 404


GREEN = (
    "White ash: shrinks 4.9 % along the rays, 7.8 % along the rings, by the book",
    "Green, turned at 45 %; dry at 8 %",
    "Turn it green to the end",
    "6.0 to 11.0 % through the year",
    "as white ash dries from 45 to 8.5 %",
    "0.30 more, for the last cut when dry",
    "Blanks and saw plan",
    "Ash 1",
    "strips 1, 2",
    "Seat, red maple at 9 %",
    "12.78, test hole",
)


def test_wood_boards_and_holes_stand_in_page_and_pdf(browser: TestClient) -> None:
    shown = " ".join(text_of(browser.get("/sets/3/sheet").text).split())
    printed = " ".join(samples.text_of(browser.get("/sets/3/sheet.pdf").content).split())
    for text in GREEN:
        assert text in shown, text
        assert text in printed, text
    # 45 to 8.5 % on a fibre saturation of 30 %: 7.8 % takes 0.078 (30 - 8.5) / 30 of it away.
    ratio = 1 - 0.078 * (30 - 8.5) / 30
    assert f"finished ÷ {ratio:.3f}" in shown
    assert f"Lower tenon 0 {(12.7 + 0.3) / ratio:.2f} 12.70" in shown
    assert "Turn now" not in text_of(browser.get("/sets/2/sheet").text)


def test_what_speaks_against_a_fit_stands_over_its_holes_as_on_the_fit_sheet(
    browser: TestClient, shop: Shop
) -> None:
    set_id = fitted_bench.a_set(shop, name="Tight bench")
    hole = fitted_bench.a_test_hole(shop, n=960)
    told = replace(fitted_bench.SEAT, test_hole=hole, school="damp_post", moisture="16")
    fitted_bench.a_seat(shop, set_id, told, n=860)
    says = "Tight enough to split"
    on_fit = " ".join(text_of(browser.get(f"/sets/{set_id}/fit/sheet").text).split())
    sentence = on_fit[on_fit.index(says) :].split(".")[0] + "."
    shown = " ".join(text_of(browser.get(f"/sets/{set_id}/sheet").text).split())
    file = browser.get(f"/sets/{set_id}/sheet.pdf").content
    assert sentence in shown
    assert sentence in " ".join(samples.text_of(file).split())
    assert shown.index("What goes into which hole") < shown.index(sentence)
    assert says not in text_of(browser.get("/sets/3/sheet").text)  # snug and dry


@pytest.mark.parametrize("name", ["sheet", "as-made"])
def test_what_tenons_measure_dry_stands_in_page_and_pdf(
    browser: TestClient, shop: Shop, name: str
) -> None:
    set_id = fitted_bench.a_set(shop, name=f"Read again, {name}")
    for number, sizes in ((1, (12.9, 12.5)), (2, (12.8, 12.4))):
        done = Marked(fitted_bench.key(20_000 * set_id + number), "done", "done")
        turning.mark(shop, set_id, number, done, device_id=None, received_at=samples.DAY)
        with shop.transaction() as db:
            for n, (axis, mm) in enumerate(zip("AB", sizes, strict=True)):
                key = fitted_bench.key(10_000 * set_id + 10 * number + n)
                read = Later(key, number, "st1", "dry", axis, str(mm), "mm", mm, None, 8.0, AGAIN)
                fitting.add_later(db, set_id, read)
    printed = " ".join(samples.text_of(browser.get(f"/sets/{set_id}/{name}.pdf").content).split())
    assert "They were read before they dried" in printed
    assert "Of tenons the 0.30 mm for the last cut is taken off." in printed
    assert "Apart Read dry Read on" in printed  # nothing was sized, no place read for where it lies
    assert "12.85 × 12.45" in printed
    if name == "sheet":
        shown = " ".join(text_of(browser.get(f"/sets/{set_id}/sheet").text).split())
        for said in (shown, printed):
            assert "Lower tenon, read dry, at the dot 12.90 12.80" in said
            assert "Lower tenon, read dry, quarter turn 12.50 12.40" in said
            assert "sized, at the dot" not in said


def test_the_speeds_kept_stand_in_the_sheet_and_in_what_is_kept_for_next_time(
    browser: TestClient, shop: Shop
) -> None:
    kept = shopfloor.started(shop, name="Speeds")
    assert "own Rough" not in text_of(browser.get(f"/sets/{kept.id}/sheet").text)
    with shop.transaction() as db:
        # One of a stage that nobody knows came in with a file, and is left out.
        told = '{"form": "about 1100", "sizing": "900", "rough": "700"}'
        patterns.change(db, kept.pattern_id, speeds=told)
    said = " ".join(text_of(browser.get(f"/sets/{kept.id}/as-made").text).split())
    assert "Rough to round: 700 rpm Coves and beads: about 1100" in said
    for name in ("sheet", "as-made"):
        file = browser.get(f"/sets/{kept.id}/{name}.pdf").content
        printed = " ".join(samples.text_of(file).split())
        assert "Speeds, the maker’s own Rough to round 700 rpm" in printed
        assert "Coves and beads about 1100" in printed


def test_the_saw_plan_is_drawn_to_scale_in_page_and_pdf(browser: TestClient) -> None:
    page = browser.get("/sets/3/sheet").text
    said = " ".join(text_of(page).split())
    assert "Ash 1, 1000 × 120 × 40 mm, 1 : 5, near edge down. 0 to 930 mm from" in said
    assert "Ash 1, 1000 × 120 × 40 mm, 1 : 5, near edge down. 930 to 1000 mm from" in said
    pictures = re.findall(r'<svg [^>]*width="([\d.]+)mm" height="24mm"', page)
    assert [float(mm) for mm in pictures] == [186.0, 14.0]
    file = browser.get("/sets/3/sheet.pdf").content
    assert "930 to 1000 mm from" in " ".join(samples.text_of(file).split())


def test_the_order_is_a_numbered_list_and_the_calipers_a_table(browser: TestClient) -> None:
    page = browser.get("/sets/1/sheet").text
    steps = page[page.index('<ol class="set-sheet-steps">') :].split("</ol>")[0]
    assert steps.count("<li>") > 15
    assert '<caption class="skip">Calipers</caption>' in page


AGAIN = "2026-03-20T10:00:00.000Z"
WEIGHED = datetime(2026, 2, 2, 1, 30, tzinfo=UTC)


def weigh(shop: Shop, set_id: int, number: int, *grams: str) -> None:
    """A weighing a day."""
    for day, typed in enumerate(grams):
        at = (WEIGHED + timedelta(days=day)).isoformat().replace("+00:00", "Z")
        key = fitted_bench.key(1000 * set_id + 100 * number + day)
        drying.weigh(shop, set_id, number, typed, "g", key=key, at=at)


def drying_line(browser: TestClient, set_id: int) -> str:
    """What the page says of drying, once the PDF was found to say the same."""
    page = text_of(browser.get(f"/sets/{set_id}/sheet").text)
    words = " ".join(page.split())
    line = words[words.index(" Drying ") + len(" Drying ") : words.index(" Sizes, and why")]
    printed = " ".join(samples.text_of(browser.get(f"/sets/{set_id}/sheet.pdf").content).split())
    assert f"Drying {line}" in printed
    return line


def test_the_weighings_and_the_day_it_will_be_dry_stand_in_page_and_pdf(
    browser: TestClient, shop: Shop
) -> None:
    set_id = fitted_bench.a_set(shop, name="On the scales")
    drying.keep_room(shop, set_id, 20.0, 30.0)
    air = drying.view(shop, set_id, now=samples.DAY).air_mc
    assert air == pytest.approx(6.2, abs=0.05)
    # Turned at 45 %, 145 g hold 100 g of wood; what is over the air's 6.2 % halves every day.
    weigh(shop, set_id, 1, "145.0", "125.6", "115.9", "111.0", "99.0")
    last = fitted_bench.key(1000 * set_id + 104)
    drying.strike(shop, set_id, last, at=samples.DAY)
    line = drying_line(browser, set_id)
    assert line.startswith("1 piece on the scales, 4 weighings. It holds 11 %; 8 % is wanted.")
    # 38.8 % over the air have to come down to 1.8: log2(38.8 / 1.8) = 4.43 days after 2 February,
    # half past one in the night.
    days = re.fullmatch(
        r".*Most likely dry on (.*), between \w+ (\d+) Feb and \w+ (\d+) Feb\. (.*)", line
    )
    assert days is not None
    assert days[1] == "Fri 6 Feb"
    # On the 5th it was weighed and still held 11 %; nothing may promise the 6th as the latest.
    assert 5 <= int(days[2]) <= 6 < int(days[3])
    assert days[4] == "That day is past: weigh it again."
    # The slowest piece speaks for the set: one that was weighed twice promises no day.
    weigh(shop, set_id, 2, "145.0", "125.6")
    line = drying_line(browser, set_id)
    assert line.startswith("2 pieces on the scales, 6 weighings. It holds 25.6 %; 8 % is wanted.")
    assert "Most likely" not in line


def test_a_set_that_is_dry_says_so(browser: TestClient, shop: Shop) -> None:
    set_id = fitted_bench.a_set(shop, name="Dry by the scales")
    drying.keep_room(shop, set_id, 20.0, 30.0)
    weigh(shop, set_id, 1, "145.0", "108.2")
    line = drying_line(browser, set_id)
    assert line == (
        "1 piece on the scales, 2 weighings. It holds 8.2 %; up to half a percent over 8 % counts"
        " as dry."
    )
