"""From a dried piece to a tenon in its hole, by hand: on a phone and on a tablet."""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace

import pytest
from playwright.sync_api import Page, expect

from benchside.job import fit_forms
from benchside.store import wood
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet
from tests.browser.bench import Bench, stretcher
from tests.browser.conftest import NewPhone
from tests.browser.hand import PHONE, TABLET, Phone, beyond_px
from tests.job.fitted_bench import ASH, AT, SEAT, key

LEAST_TARGET_PX = 44


@pytest.fixture
def green(bench: Bench) -> SpindleSet:
    """Two pieces turned from green ash."""
    kept = bench.started(stretcher(), name="Green stretchers", wanted=3)
    with closing(Shop(bench.db)) as shop, shop.transaction() as db:
        wood.add_wood(db, kept.id, ASH)
    bench.turned(kept, 1, 2)
    return kept


@pytest.mark.slow
@pytest.mark.parametrize("size", [PHONE, TABLET], ids=["phone", "tablet"])
def test_a_tenon_is_measured_dry_sized_to_its_hole_and_goes_home(
    bench: Bench, new_phone: NewPhone, green: SpindleSet, size: dict[str, object]
) -> None:
    phone = new_phone(size=size)
    page = phone.page
    base = f"/sets/{green.id}"

    phone.open("/holes")
    if not page.get_by_label("Which bit").is_visible():
        page.get_by_text("A new test hole").click()
    page.get_by_label("Which bit").fill("Lip and spur")
    page.get_by_label("The size on the bit").fill("16")
    page.get_by_label("Bored in").fill("soft maple")
    page.get_by_role("button", name="Keep it, then measure it").click()
    page.get_by_label("along the grain").fill("16,1")
    page.get_by_label("across it").fill("16.06")
    page.get_by_role("button", name="Keep these readings").click()
    expect(page.get_by_text("+0.08 mm on the bit")).to_be_visible()
    well_made(page)

    phone.open(f"{base}/dry/1")
    tenon = page.locator(".cells li").filter(has_text="Foot tenon").first
    turned = float(tenon.get_by_text("turned").inner_text().split()[-1])
    for label, share in (("the wide way", 0.963), ("a quarter turn on", 0.94)):
        tenon.get_by_label(label).fill(f"{turned * share:.2f}")
    well_made(page)
    page.get_by_role("button", name="Keep, then the next piece").click()
    expect(page.get_by_role("heading", name="Piece 2, dry")).to_be_visible()
    phone.open(f"{base}/dry")
    expect(page.get_by_text("From 1 piece")).to_be_visible()
    page.get_by_role("button", name="Reckon the next pieces with it").click()
    expect(page.get_by_text("The next pieces are reckoned with it.")).to_be_visible()
    well_made(page)

    phone.open(f"{base}/fit")
    page.get_by_role("link", name="The first part").click()
    page.get_by_label("What it is").fill("Seat")
    page.get_by_label("Its wood").fill("maplewood red")
    page.get_by_label("A test hole of the same bit").select_option(index=1)
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_label("Its wood")).to_have_attribute("aria-invalid", "true")
    expect(page.get_by_label("What it is")).to_have_value("Seat")
    page.get_by_label("Its wood").fill("red maple")
    well_made(page)
    page.get_by_role("button", name="Keep it").click()
    expect(page.locator(".hole-size")).to_have_text("16.08 mm")
    expect(page.get_by_role("img", name="How tight it is through the year")).to_be_visible()
    joint = page.locator("#piece-1")
    joint.get_by_label("at the dot").fill("16.1")
    joint.get_by_label("quarter turn").fill("16,06")
    joint.get_by_role("button", name="Keep", exact=True).first.click()
    expect(joint.get_by_text("Sized 16.10 × 16.06")).to_be_visible()
    joint.get_by_role("button", name="It went home").click()
    expect(joint.get_by_text("Home since")).to_be_visible()
    well_made(page)
    phone.open(f"{base}/fit/sheet")
    expect(page.get_by_role("row", name="16.10 × 16.06")).to_be_visible()
    well_made(page)
    kept = "SELECT what, axis, typed FROM later_reading WHERE set_id = ? ORDER BY id"
    assert [row[:2] for row in bench.rows(kept, green.id)] == [
        *(("dry", "A"), ("dry", "B"), ("sized", "A"), ("sized", "B"))
    ]
    assert phone.own_troubles == []


def test_going_back_and_typing_another_size_is_a_new_reading(
    bench: Bench, new_phone: NewPhone, green: SpindleSet
) -> None:
    """The page that comes back holds the key it was sent with; the phone gives it another."""
    phone = new_phone()
    page = phone.page
    phone.open(f"/sets/{green.id}/dry/1")
    for typed in ("15.4", "15.3"):
        page.get_by_label("the wide way").first.fill(typed)
        page.get_by_role("button", name="Keep", exact=True).click()
        expect(page.get_by_role("heading", name="Measured again when dry")).to_be_visible()
        page.go_back()
    assert bench.rows("SELECT typed FROM later_reading WHERE set_id = ?", green.id) == [
        ("15.4",),
        ("15.3",),
    ]


def test_at_the_lathe_a_dry_tenon_is_read_to_what_its_hole_wants(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(stretcher(), name="Dry stretchers", wanted=2, spares=0)
    seat = replace(SEAT, tenon="s1")
    both: dict[fit_forms.Axis, str] = {"A": "16.32", "B": "16.28"}
    with closing(Shop(bench.db)) as shop:
        with shop.transaction() as db:
            wood.add_wood(db, kept.id, replace(ASH, state="kiln-dry", moisture=7.0))
        fit_forms.keep_part(shop, kept.id, seat, key=key(820), at=AT)
        hole = {"key": key(821), "sure": True, "at": AT}
        fit_forms.read_hole(shop, kept.id, key(820), 1, both, **hole)
    phone.turns(kept, 1, "tenon:s1")
    expect(phone.step.locator(".size > span")).to_have_text("16.30")
    expect(phone.step.locator(".try b")).to_have_text("16.80")
    expect(phone.step).to_contain_text("For hole 1, Seat. Drawn 16.00 ±0.10; the hole decides.")
    phone.goes_to("final:s1/read")
    expect(phone.step.locator(".aim b")).to_have_text("16.30 mm fitted")
    phone.takes("16.32")
    expect(phone.verdict).to_contain_text("Right")
    phone.takes("16.26")
    expect(phone.verdict).to_contain_text("Right")
    read = "SELECT typed, target_mm FROM reading WHERE set_id = ? ORDER BY id"
    phone.waits(lambda: len(bench.rows(read, kept.id)) == 2)
    assert bench.rows(read, kept.id) == [("16.32", 16.3), ("16.26", 16.3)]
    phone.open(f"/sets/{kept.id}/fit/sheet")
    row = phone.page.locator(".fit-sheet tbody tr").first
    expect(row.locator("[data-name='Bring to']")).to_have_text("16.30")
    expect(row.locator("[data-name='Sized']")).to_have_text("16.32 × 16.26")


def well_made(page: Page) -> None:
    """Nothing runs off sideways, and what is tapped is large enough."""
    assert beyond_px(page) <= 0
    small = page.evaluate(
        """least => [...document.querySelectorAll(
            'main :is(a.button, button, summary, input, select)')]
          .filter(e => e.checkVisibility() && e.type !== 'hidden')
          .map(e => [e.closest('label') ?? e, e.outerHTML.slice(0, 90)])
          .map(([e, what]) => [e.getBoundingClientRect().height, what])
          .filter(([height]) => height > 0 && height < least)""",
        LEAST_TARGET_PX,
    )
    assert small == []
