"""From the wood to the lathe to the scales, by hand on a phone."""

from __future__ import annotations

import re

from playwright.sync_api import expect

from benchside.units import parse_length
from tests.browser.bench import Bench, peg, stretcher
from tests.browser.conftest import NewPhone
from tests.browser.hand import NEXT_TRY_MS, TABLET, Phone, offline, online
from tests.browser.test_weight import FIRST_VISIT_BYTES, FIRST_VISIT_REQUESTS, LATER_BYTES, Wire
from tests.shopfloor import landing_baluster


def says_its_wood(phone: Phone, set_id: int, species: str) -> None:
    phone.open(f"/sets/{set_id}/wood")
    phone.page.get_by_label("Species").fill(species)
    keeps(phone, "Keep")


def keeps(phone: Phone, button: str) -> None:
    with phone.page.expect_navigation():
        phone.page.get_by_role("button", name=button, exact=True).tap()


def says_it_is_dry(phone: Phone, set_id: int) -> None:
    phone.open(f"/sets/{set_id}/wood")
    phone.page.get_by_text("Say it anew").tap()
    phone.page.get_by_role("radio", name="Kiln-dry").check()
    phone.page.get_by_label("Its moisture now, in percent").fill("")
    keeps(phone, "Keep")


def test_wood_is_said_turned_green_read_and_weighed(bench: Bench, phone: Phone) -> None:
    kept = bench.started(stretcher(), name="Green stretchers")
    says_its_wood(phone, kept.id, "wite ash")
    expect(phone.page.locator("#species-problem")).to_contain_text("Nearest: white ash")
    says_its_wood(phone, kept.id, "White Ash")
    first = phone.page.locator(".sizes li").first
    expect(first).to_contain_text("Foot tenon")
    size = first.locator("summary b").inner_text()
    assert 17.2 < parse_length(size, "mm") < 17.5  # 16 and 0.3 for the last cut, of 94 %
    first.locator("summary").tap()
    expect(first.locator(".reasons")).to_contain_text("For going oval")
    expect(phone.page.locator(".oval")).to_have_attribute("aria-label", re.compile(re.escape(size)))

    phone.turns(kept, 1, "tenon:s1")
    expect(phone.step.locator(".size > span")).to_have_text(size)
    phone.step.locator("details.why summary").tap()
    expect(phone.step.locator("details.why")).to_contain_text("as white ash dries from 45 to 7")
    phone.turns(kept, 1, "tenon:s1/read")
    expect(phone.step.locator(".aim b")).to_have_text(f"{size} mm green")
    phone.takes(size)
    expect(phone.verdict).to_contain_text("Right")

    # Said dry since, the piece that was mounted keeps its size; the next one has another.
    says_it_is_dry(phone, kept.id)
    phone.turns(kept, 1, "tenon:s1")
    expect(phone.step.locator(".size > span")).to_have_text(size)
    phone.turns(kept, 2, "tenon:s1")
    expect(phone.step.locator(".size > span")).not_to_have_text(size)

    phone.open(f"/sets/{kept.id}/drying")
    phone.page.get_by_label("Weight", exact=True).fill("217,5")
    keeps(phone, "Keep the weight")
    expect(phone.page.locator("#verdict")).to_be_visible()
    piece = phone.page.get_by_label("Piece", exact=True).first
    expect(piece).to_have_value("1")  # no other has been on the lathe
    phone.page.get_by_label("Weight", exact=True).fill("260")
    keeps(phone, "Keep the weight")
    expect(phone.page.locator("#weigh-mass-problem")).to_contain_text("would have gained")
    expect(phone.page.get_by_label("Weight", exact=True)).to_have_value("260")


def test_what_was_tapped_out_of_reach_is_of_the_sizes_it_showed(
    bench: Bench, phone: Phone, new_phone: NewPhone
) -> None:
    kept = bench.started(peg(), name="Told late")
    phone.turns(kept, 1, "final:s1/read")
    offline(phone)
    phone.takes("20.1")
    says_its_wood(new_phone(), kept.id, "white ash")
    online(phone)
    phone.waits(lambda: bench.typed(kept) == ["20.1"])
    (shown,) = bench.rows("SELECT state, target_mm FROM reading WHERE set_id = ?", kept.id)
    assert shown == ("dry", 20.0)
    phone.turns(kept, 1, "final:s1/read")
    expect(phone.step.locator(".aim b")).to_have_text("20.0 mm")


def test_roughed_green_dried_and_turned_dry_to_the_end(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg(), name="Roughed pegs", wanted=1, spares=0)
    phone.open(f"/sets/{kept.id}/wood")
    phone.page.get_by_role("radio", name="Rough it green").check()
    phone.page.get_by_label("Species").fill("white ash")
    keeps(phone, "Keep")
    expect(phone.page.get_by_role("heading", name="Rough it to, now")).to_be_visible()
    shown = phone.page.locator(".sizes li").first.locator("summary b").inner_text()
    phone.turns(kept, 1, "size:s1")
    expect(phone.step.locator(".size > span")).to_have_text(shown)
    assert 24.4 < parse_length(shown, "mm") < 25  # 20 and 3.2 left on, of 94 %
    expect(phone.step.locator(".finish")).to_have_count(0)
    phone.turns(kept, 1, "size:s1/read")
    phone.takes(shown)
    expect(phone.verdict).to_contain_text("Right")
    phone.turns(kept, 1, "done")
    expect(phone.step).to_contain_text("goes on the lathe again")
    phone.taps_the_big_button()
    phone.waits(lambda: ("done", "done") in bench.marks(kept, 1))

    # Sent, it goes to the set by itself.
    roughed = phone.page.get_by_text("0 of 1 done, 1 roughed")
    expect(roughed).to_be_visible(timeout=NEXT_TRY_MS)
    phone.page.get_by_role("link", name="Are they dry?").tap()
    phone.page.get_by_role("button", name="Came out dry").tap()
    expect(phone.page.get_by_role("checkbox", name="Piece 1")).to_be_checked()
    moisture = phone.page.get_by_label("How dry they are")
    moisture.fill("31")
    keeps(phone, "Put them on the lathe again")
    expect(phone.page.get_by_text("it is still green")).to_be_visible()
    moisture.fill("9")
    keeps(phone, "Put them on the lathe again")
    phone.shows("mount")
    phone.goes_to("size:s1")
    assert parse_length(phone.step.locator(".finish b").inner_text(), "mm") < 20.3
    phone.turns(kept, 1, "final:s1/read")
    bench.kill()
    phone.takes("20.1")
    expect(phone.queue).to_contain_text("on this phone")
    phone.goes_to("done")
    phone.taps_the_big_button()
    bench.start()
    done = phone.page.get_by_text("1 of 1 done")  # sent, it goes to the set by itself
    expect(done).to_be_visible(timeout=NEXT_TRY_MS)
    read = "SELECT phase, state FROM reading WHERE set_id = ? ORDER BY id"
    assert bench.rows(read, kept.id) == [("sizing", "green"), ("final", "dry")]


def test_a_phone_that_knew_nothing_of_it_counts_from_the_size_it_showed(
    bench: Bench, phone: Phone, new_phone: NewPhone
) -> None:
    kept = bench.started(peg(), name="Green pegs")
    says_its_wood(phone, kept.id, "white ash")
    phone.turns(kept, 1, "size:s1/read")
    shown = phone.step.get_attribute("data-target")
    laptop = new_phone(name="Laptop", size=TABLET)
    says_it_is_dry(laptop, kept.id)
    phone.takes(shown[:4])
    expect(phone.verdict).not_to_contain_text("not saved yet")
    phone.turns(kept, 1, "size:s1/read")
    assert phone.step.get_attribute("data-target") == shown


def test_the_turn_page_of_green_wood_is_as_light(bench: Bench, phone: Phone) -> None:
    kept = bench.started(landing_baluster(), name="Green landing", wanted=38, spares=2)
    says_its_wood(phone, kept.id, "northern red oak")
    wire = Wire(phone)
    wire.visit(phone, f"/sets/{kept.id}/turn/1")
    assert wire.bytes <= FIRST_VISIT_BYTES, wire.requests
    assert len(wire.requests) <= FIRST_VISIT_REQUESTS, wire.requests
    for path in (f"/sets/{kept.id}/turn/2", f"/sets/{kept.id}/wood", f"/sets/{kept.id}/drying"):
        wire.visit(phone, path)
        assert 1000 < wire.bytes <= LATER_BYTES, (path, wire.requests)
