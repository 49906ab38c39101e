"""Two makers, two phones, one set."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.bench import Bench, peg
from tests.browser.conftest import NewPhone
from tests.browser.hand import SAYS, Phone, offline, online


def test_two_phones_turn_two_pieces_of_one_set(bench: Bench, new_phone: NewPhone) -> None:
    kept = bench.started(peg())
    one, two = new_phone(name="One"), new_phone(name="Two")
    one.turns(kept, 1, "final:s1/read")
    two.turns(kept, 2, "final:s1/read")
    one.takes("20.1")
    two.takes("20.2")
    one.goes_on()
    two.goes_on()
    two.takes("17.2")
    one.takes("17.1")
    one.waits(lambda: len(bench.typed(kept)) == 4)
    assert bench.typed(kept, 1) == ["20.1", "17.1"]
    assert bench.typed(kept, 2) == ["20.2", "17.2"]
    by = "SELECT d.name, r.typed FROM reading r JOIN device d ON d.id = device_id WHERE set_id = ?"
    assert set(bench.rows(by, kept.id)) == {
        ("One", "20.1"),
        ("One", "17.1"),
        ("Two", "20.2"),
        ("Two", "17.2"),
    }


def test_on_the_same_piece_the_second_hears_what_the_first_had_there(
    bench: Bench, new_phone: NewPhone
) -> None:
    kept = bench.started(peg())
    one, two = new_phone(name="One"), new_phone(name="Two")
    one.turns(kept, 1, "final:s1/read")
    two.turns(kept, 1, "final:s1/read")
    one.takes("20.1")
    one.waits(lambda: bench.typed(kept) == ["20.1"])
    two.takes("20.4")
    expect(two.verdict).to_contain_text("20.4: Right.")
    expect(two.verdict).to_contain_text("Another phone had 20.1 here; this one counts now.")
    expect(one.verdict).not_to_contain_text("Another phone")
    assert bench.typed(kept) == ["20.1", "20.4"]


def test_one_phone_that_reads_twice_is_told_nothing_of_another(
    bench: Bench, new_phone: NewPhone
) -> None:
    kept = bench.started(peg())
    phone = new_phone()
    phone.turns(kept, 1, "final:s1/read")
    phone.takes("20.1")
    phone.takes("20.4")
    phone.waits(lambda: bench.typed(kept) == ["20.1", "20.4"])
    expect(phone.verdict).to_contain_text("20.4: Right.")
    expect(phone.verdict).not_to_contain_text("Another phone")


def test_the_next_free_piece_is_not_one_that_is_in_hand_on_another_phone_and_done(
    bench: Bench, new_phone: NewPhone
) -> None:
    kept = bench.started(peg())
    one, two = new_phone(name="One"), new_phone(name="Two")
    one.turns(kept, 1, "done")
    one.goes_on()
    one.waits(lambda: ("done", "done") in bench.marks(kept, 1))
    two.open(f"/sets/{kept.id}/turn")
    two.shows("mount")
    assert two.piece == "Piece 2 of 3"


@pytest.mark.parametrize("wifi", [True, False], ids=["with wi-fi", "without"])
def test_a_page_turned_to_a_piece_that_another_phone_began_shows_what_was_read_there(
    bench: Bench, new_phone: NewPhone, wifi: bool
) -> None:
    kept = bench.started(peg())
    one, two = new_phone(name="One"), new_phone(name="Two")
    two.turns(kept, 2, "final:s1/read")
    two.takes("20.3")
    two.waits(lambda: bench.typed(kept, 2) == ["20.3"])
    one.turns(kept, 1, "done")
    one.page.evaluate("window.neverLoadedAgain = true")
    if not wifi:
        offline(one)
    one.goes_on()
    assert one.piece == "Piece 2 of 3"
    if not wifi:
        one.goes_to("final:s1/read")
        expect(one.verdict).to_contain_text(SAYS["not_here_yet"])
        online(one)
        one.page.evaluate("dispatchEvent(new Event('online'))")
        expect(one.verdict).to_contain_text("20.3: Right.")
        expect(one.queue).to_be_empty()
    else:
        one.goes_to("final:s1/read")
        expect(one.verdict).to_contain_text("20.3: Right.")
    one.opens_more()
    expect(one.step.locator("[data-latest]")).to_contain_text("Head: 20.3")
    assert one.page.evaluate("window.neverLoadedAgain") is True


def test_a_piece_turned_to_without_wifi_keeps_what_was_tapped_on_it_before(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg(), habit="stage")
    phone.turns(kept, 1, "final:s1/read", stage="final")
    offline(phone)
    for figure in ("20.1", "17.1"):
        phone.takes(figure)
        phone.goes_on()
    phone.goes_on_to_the_next_piece()  # the last is skipped
    phone.takes("20.4")
    phone.opens_more()
    expect(phone.step.locator("[data-latest] li")).to_have_text(["Head: 20.4"])
    online(phone)
    phone.waits(lambda: bench.typed(kept) == ["20.1", "17.1", "20.4"])
