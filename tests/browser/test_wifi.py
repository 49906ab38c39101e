"""The laptop goes away in the middle of a piece: nothing is lost, nothing comes twice."""

from __future__ import annotations

import urllib.request
from contextlib import closing
from pathlib import Path

import pytest
from playwright.sync_api import Route, expect

from benchside.store.database import Shop
from tests.browser.bench import Bench, peg
from tests.browser.conftest import NewPhone
from tests.browser.hand import DOUBLE_TAP_S, NEXT_TRY_MS, SAYS, Phone, offline, online


def test_the_server_is_killed_in_mid_piece_and_every_tap_arrives_once_in_order(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    steps = [step.id for step in bench.work(kept).steps]
    phone.turns(kept, 1, "set_out")
    phone.goes_on()
    phone.waits(lambda: bench.marks(kept) == [("step", "set_out")])
    phone.waits(lambda: phone.replies == [("mark", 200)])  # the phone has heard of it too
    bench.kill()

    while phone.at != "final:s1/read":
        phone.goes_on()
    expect(phone.queue).to_contain_text("on this phone")
    expect(phone.queue).to_contain_text(SAYS["later_kept"])
    waiting = len(steps[3 : steps.index("final:s1")])
    expect(phone.queue).to_contain_text(str(waiting))
    phone.takes("20.2")
    expect(phone.verdict).to_contain_text("●20.2: Right.")  # the phone's own verdict
    expect(phone.verdict).to_contain_text(SAYS["unsaved"])
    expect(phone.queue).to_contain_text(str(waiting + 1))
    phone.goes_on()
    phone.takes("18.0")
    expect(phone.verdict).to_contain_text("▲18.0: 0.5 mm a side still to come off")
    phone.goes_on()
    phone.takes("14.1")
    phone.goes_on()
    phone.shows("done")
    expect(phone.step.locator("[data-summary] [data-value]")).to_contain_text(
        ["20.2 ●", "18.0 ▲", "14.1 ●"]
    )
    phone.goes_on()
    phone.shows("mount")
    assert phone.piece == "Piece 2 of 3"
    assert bench.typed(kept) == []

    bench.start()
    phone.goes_on()  # the next tap finds the laptop again
    expect(phone.queue).to_be_empty()
    phone.waits(lambda: bench.marks(kept, 2) == [("step", "mount")])
    assert bench.typed(kept, 1) == ["20.2", "18.0", "14.1"]
    assert bench.marks(kept, 1) == [
        *(("step", step) for step in steps[2:-1]),
        ("done", "done"),
    ]
    assert bench.typed(kept, 2) == []


def test_a_phone_left_alone_sends_by_itself_when_the_laptop_is_back(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    bench.kill()
    phone.takes("20.2")
    expect(phone.queue).to_contain_text(SAYS["queue"]["one"])
    bench.start()
    expect(phone.queue).to_be_empty(timeout=NEXT_TRY_MS)  # it tries after 1, 2, 5, 10 and 30 s
    assert bench.typed(kept) == ["20.2"]
    expect(phone.verdict).not_to_contain_text(SAYS["unsaved"])


def test_taps_wait_in_the_phone_when_its_page_is_closed_and_go_when_any_page_is_opened(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    offline(phone)
    phone.takes("20.2")
    phone.goes_on()
    phone.takes("17.1")
    expect(phone.queue).to_contain_text(SAYS["queue"]["many"].format(count=3))
    phone.page.close()
    online(phone)
    assert bench.typed(kept) == []
    phone.new_page()
    phone.open("/")
    phone.waits(lambda: bench.typed(kept) == ["20.2", "17.1"])
    assert bench.marks(kept) == [("step", "final:s1")]


def test_what_waits_when_a_page_is_opened_again_is_shown_at_its_place(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    phone.page.route("**/reading", lambda route: route.abort())
    phone.takes("20.2")
    expect(phone.queue).to_contain_text(SAYS["queue"]["one"])
    phone.page.reload()
    phone.shows("final:s1/read")
    expect(phone.verdict).to_contain_text("20.2: Right.")
    expect(phone.verdict).to_contain_text(SAYS["unsaved"])
    phone.turns(kept, 2, "final:s1/read")
    expect(phone.verdict).to_have_text(SAYS["stopped"])
    phone.page.unroute("**/reading")
    phone.page.reload()
    phone.waits(lambda: bench.typed(kept, 1) == ["20.2"])
    assert bench.typed(kept, 2) == []


def test_an_edge_touched_up_that_waits_when_a_page_is_opened_is_no_step_done(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "mount")
    phone.page.route("**/mark", lambda route: route.abort())
    phone.step.get_by_role("button", name=SAYS["touch_up"]["start"]).tap()
    expect(phone.queue).to_contain_text(SAYS["queue"]["one"])
    phone.turns(kept, 1, "rough")
    expect(phone.queue).to_contain_text(SAYS["queue"]["one"])
    tick = phone.page.locator('.steps-list a[href="#mount"] [data-tick]').first
    phone.goes_on()
    expect(phone.queue).to_contain_text(SAYS["queue"]["many"].format(count=2))
    phone.page.reload()
    expect(phone.queue).to_contain_text(SAYS["queue"]["many"].format(count=2))
    expect(phone.page.locator('.steps-list a[href="#rough"] [data-tick]').first).to_have_text("✓")
    expect(tick).to_have_text("·")


@pytest.mark.quick
def test_a_reply_lost_on_its_way_back_doubles_nothing(bench: Bench, phone: Phone) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    lost: list[int] = []

    def lose_the_first_reply(route: Route) -> None:
        if lost:
            route.continue_()
            return
        request = route.request
        sent = urllib.request.Request(
            request.url.replace("bench.lan", "127.0.0.1"),
            data=request.post_data_buffer,
            headers={**request.all_headers(), "host": f"bench.lan:{bench.port}"},
        )
        with urllib.request.urlopen(sent) as reply:
            lost.append(reply.status)
        route.abort()

    phone.page.route("**/reading", lose_the_first_reply)
    phone.takes("20.2")
    phone.waits(lambda: ("reading", 200) in phone.replies)
    expect(phone.queue).to_be_empty()
    assert lost == [200]
    assert bench.typed(kept) == ["20.2"]


def test_a_plain_form_tapped_twice_is_one_reading(bench: Bench, new_phone: NewPhone) -> None:
    kept = bench.started(peg())
    phone = new_phone(java_script_enabled=False)
    phone.turns(kept, 1, "readings")
    phone.step.locator('input[name="final:s1"]').fill("20.2")
    phone.step.get_by_role("button", name=SAYS["take_all"], exact=True).dblclick()
    expect(phone.step.locator(".verdict")).to_contain_text("20.2")
    assert bench.typed(kept) == ["20.2"]


def test_a_lost_phone_is_shut_out_and_keeps_what_it_has_until_it_is_paired_again(
    bench: Bench, new_phone: NewPhone
) -> None:
    kept = bench.started(peg())
    phone, laptop = new_phone(name="Lost phone"), new_phone(name="Laptop")
    phone.turns(kept, 1, "final:s1/read")
    phone.takes("20.2")
    phone.waits(lambda: bench.typed(kept) == ["20.2"])

    laptop.open("/devices")
    card = laptop.page.locator("li.card").filter(has_text="Lost phone")
    card.get_by_text("Shut out…").tap()
    card.get_by_role("button", name="Shut out Lost phone").tap()
    expect(laptop.page.locator("li.card").filter(has_text="Lost phone")).to_have_count(0)

    phone.goes_on()
    phone.takes("17.1")
    expect(phone.queue).to_contain_text(SAYS["unpaired"])
    assert ("reading", 403) in phone.replies or ("mark", 403) in phone.replies
    assert bench.typed(kept) == ["20.2"]
    phone.open(f"/sets/{kept.id}")
    expect(phone.page.locator("main")).to_contain_text("readings that wait on it are kept")

    phone.is_let_in("Found phone")
    phone.turns(kept, 2)
    phone.waits(lambda: bench.typed(kept, 1) == ["20.2", "17.1"])


def test_while_the_laptop_is_away_the_page_says_not_to_reload_it_even_before_a_tap(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "rough")
    offline(phone)
    expect(phone.queue).to_have_text(SAYS["later"])
    assert "do not reload" in SAYS["later"]
    online(phone)
    expect(phone.queue).to_be_empty()
    bench.kill()
    phone.goes_on()
    expect(phone.queue).to_have_text(f"{SAYS['queue']['one']} {SAYS['later_kept']}")
    # A pull on the glass is no reload.
    pulled = phone.page.evaluate("getComputedStyle(document.documentElement).overscrollBehaviorY")
    assert pulled == "contain"


def test_readings_for_another_benchside_are_refused_handed_back_and_put_aside(
    bench: Bench, phone: Phone, tmp_path: Path
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    bench.kill()
    phone.takes("20.2")
    expect(phone.queue).to_contain_text(SAYS["queue"]["one"])
    other = Bench(tmp_path)
    other.port = bench.port
    with closing(Shop(other.db)):
        pass
    same_id = other.started(peg()).id
    other.start()
    try:
        cookie = other.let_in("Phone")
        phone.has_cookie(*cookie)
        expect(phone.handed_back).to_contain_text("20.2: not taken.", timeout=NEXT_TRY_MS)
        expect(phone.handed_back).to_contain_text("another book of the bench")
        expect(phone.handed_back).to_contain_text(SAYS["page_of_other_book"])
        expect(phone.queue).to_be_empty()
        phone.open("/")  # every page shows what came back, until it is put aside
        banner = phone.page.locator("[data-handed-back]")
        expect(banner).to_contain_text("another book of the bench")
        expect(banner).not_to_contain_text(SAYS["page_of_other_book"])
        banner.get_by_role("button", name=SAYS["aside"]).tap()
        expect(banner).to_be_hidden()
        phone.page.reload()
        expect(banner).to_be_hidden()
        assert other.rows("SELECT * FROM reading WHERE set_id = ?", same_id) == []
    finally:
        other.kill()
    bench.start()
    assert bench.typed(kept) == []


def test_what_was_half_typed_for_another_book_does_not_stand_in_this_one(
    bench: Bench, phone: Phone, tmp_path: Path
) -> None:
    kept = bench.started(peg())
    other = Bench(tmp_path)
    other.port = bench.port
    with closing(Shop(other.db)):
        pass
    while (same := other.started(peg())).id < kept.id:
        pass
    phone.turns(kept, 1, "final:s1/read")
    phone.presses("21.5")
    bench.stop()
    other.start()
    try:
        phone.has_cookie(*other.let_in("Phone"))
        phone.open("/")
        phone.turns(same, 1, "final:s1/read")
        expect(phone.entry).to_have_value("")
    finally:
        other.stop()
    bench.start()
    phone.open("/")
    phone.turns(kept, 1, "final:s1/read")
    expect(phone.entry).to_have_value("21.5")


@pytest.mark.parametrize("aside", [True, False], ids=["put aside", "left"])
def test_what_belongs_to_another_book_is_one_panel_and_goes_over_when_its_own_is_open_again(
    bench: Bench, phone: Phone, tmp_path: Path, aside: bool
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    bench.kill()
    phone.takes("20.2")
    phone.goes_on()
    phone.opens_more()
    phone.step.get_by_label(SAYS["note_head"]).fill("A knot at the tail")
    phone.step.get_by_role("button", name=SAYS["note_keep"]).tap()
    expect(phone.queue).to_contain_text(SAYS["queue"]["many"].format(count=3))
    other = Bench(tmp_path)
    other.port = bench.port
    with closing(Shop(other.db)):
        pass
    other.start()
    try:
        phone.has_cookie(*other.let_in("Phone"))
        phone.open("/")
        panel = phone.page.locator("[data-handed-back]")
        expect(panel).to_contain_text("3 things of piece 1 were not taken. They belong")
        expect(panel).to_contain_text(SAYS["other_book"])
        expect(panel.get_by_role("button")).to_have_count(1)
        box, height = panel.bounding_box(), phone.page.viewport_size
        assert box
        assert height
        assert box["height"] < height["height"] / 2
        assert panel.evaluate("e => getComputedStyle(e).position") == "static"
        panel.get_by_text(SAYS["see_them"]).tap()
        expect(panel).to_contain_text(SAYS["open_it"])
        lines = ["Head: 20.2", "Head: done", "note “A knot at the tail”"]
        expect(panel.locator("li")).to_have_text(lines)
        if aside:
            panel.get_by_role("button", name=SAYS["aside_all"]).tap()
            expect(panel).to_be_hidden()
            phone.open("/devices")
            put_aside = phone.page.locator("[data-aside] li")
            expect(put_aside).to_contain_text([f"Piece 1, {line}" for line in reversed(lines)])
    finally:
        other.kill()
    bench.start()
    phone.open("/")
    expect(phone.page.locator("[data-handed-back]")).to_be_hidden()
    if aside:
        phone.page.wait_for_timeout(500)
        assert bench.typed(kept) == []
    else:
        phone.waits(lambda: bench.typed(kept) == ["20.2"])
        phone.waits(lambda: bench.marks(kept, 1) == [("step", "final:s1"), ("note", "")])
    assert phone.own_troubles == []


def test_what_is_refused_later_is_handed_back_on_whatever_step_is_open(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    offline(phone)
    phone.entry.fill("about 20")
    phone.big_button.tap()
    expect(phone.verdict).to_contain_text(SAYS["unread"])
    phone.goes_to("rough")
    online(phone)
    expect(phone.handed_back).to_contain_text("about 20: not taken. “about 20” is not a length.")
    phone.handed_back.get_by_role("button", name=SAYS["aside"]).tap()
    expect(phone.handed_back).to_be_hidden()
    phone.goes_to("final:s1/read")
    expect(phone.entry).to_have_value("about 20")
    assert bench.typed(kept) == []


def test_what_was_put_aside_stands_with_the_day_it_was_in_the_shop(
    bench: Bench, new_phone: NewPhone
) -> None:
    kept = bench.started(peg())
    phone = new_phone(timezone_id="Asia/Tokyo")
    phone.page.clock.set_fixed_time("2026-03-01T23:30:00Z")
    phone.turns(kept, 1, "final:s1/read")
    offline(phone)
    phone.entry.fill("about 20")
    phone.big_button.tap()
    phone.goes_to("rough")
    online(phone)
    phone.handed_back.get_by_role("button", name=SAYS["aside"]).tap()
    phone.open("/devices")
    line = "2 Mar 2026: Piece 1, Head: about 20"
    expect(phone.page.locator("[data-aside] li")).to_have_text(line)


def test_wifi_that_comes_back_while_a_try_is_under_way_is_not_missed(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    doomed: list[Route] = []
    phone.page.route("**/reading", lambda r: r.continue_() if doomed else doomed.append(r))
    phone.stops_its_clock()  # so nothing is tried again for having waited
    phone.takes("20.2")
    phone.waits(lambda: len(doomed) == 1)
    phone.page.evaluate("dispatchEvent(new Event('online'))")
    doomed[0].abort()
    phone.waits(lambda: bench.typed(kept) == ["20.2"])
    expect(phone.queue).to_be_empty()


def test_what_is_no_length_is_given_back_in_its_field_with_the_reason(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    phone.entry.fill("about 20")
    phone.big_button.tap()
    expect(phone.verdict).to_contain_text("“about 20” is not a length.")
    expect(phone.entry).to_have_value("about 20")
    expect(phone.handed_back).to_be_hidden()
    phone.page.reload()
    expect(phone.handed_back).to_be_hidden()
    assert bench.typed(kept) == []


def test_what_is_refused_of_the_piece_before_is_still_to_be_read_there(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg(), wanted=2, spares=0, habit="stage")
    phone.turns(kept, 1, "final:s1/read", stage="final")
    offline(phone)
    phone.entry.fill("about 20")
    phone.big_button.tap()
    expect(phone.verdict).to_contain_text(SAYS["unread"])
    phone.page.wait_for_timeout(1000 * DOUBLE_TAP_S)
    phone.goes_on()
    phone.takes("17.0")
    phone.goes_on()
    phone.takes("14.1")
    phone.goes_on_to_the_next_piece()
    assert phone.piece == "Piece 2 of 2"
    online(phone)
    # The next try may be a while off, as long as the last ones failed.
    expect(phone.handed_back).to_contain_text("about 20: not taken.", timeout=NEXT_TRY_MS)
    for figure in ("20.2", "17.0"):
        phone.takes(figure)
        phone.goes_on()
    phone.takes("14.1")
    phone.goes_on_to_the_next_piece()
    assert (phone.piece, phone.at) == ("Piece 1 of 2", "final:s1/read")
    phone.takes("20.2")
    phone.waits(lambda: bench.typed(kept, 1) == ["17.0", "14.1", "20.2"])
    assert phone.own_troubles == []


def test_what_is_refused_of_the_piece_in_hand_is_not_ticked_in_the_list_of_steps(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    phone.entry.fill("about 20")
    phone.big_button.tap()
    expect(phone.verdict).to_contain_text("“about 20” is not a length.")
    line = phone.page.locator('.steps-list a[href="#final:s1/read"]')
    expect(line.locator("[data-tick]")).to_have_text("·")


def test_a_refusal_is_told_only_where_its_own_figure_was_typed(bench: Bench, phone: Phone) -> None:
    """The same figure stands half typed at another place: that one is not refused, and what was
    refused stays on the phone until it is put aside."""
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    offline(phone)
    phone.entry.fill("about 17")
    phone.big_button.tap()
    expect(phone.verdict).to_contain_text(SAYS["unread"])
    phone.page.wait_for_timeout(1000 * DOUBLE_TAP_S)
    phone.goes_on()
    phone.entry.fill("about 17")
    online(phone)
    expect(phone.handed_back).to_contain_text("about 17: not taken.", timeout=NEXT_TRY_MS)
    expect(phone.verdict).not_to_contain_text("is not a length")


def test_the_rest_left_out_while_the_laptop_is_away_stays_left_out_when_the_page_is_loaded_again(
    bench: Bench, phone: Phone
) -> None:
    kept = bench.started(peg())
    phone.turns(kept, 1, "final:s1/read")
    phone.page.route("**/mark", lambda route: route.abort())
    phone.opens_more()
    phone.step.get_by_role("link", name=SAYS["rest"]["link"]).tap()
    phone.shows("skip-rest")
    phone.big_button.tap()
    phone.shows("done")
    expect(phone.queue).to_contain_text(SAYS["queue"]["one"])
    phone.page.goto(bench.url(f"/sets/{kept.id}/turn/1"))
    ticks = phone.page.locator('.steps-list a[href^="#final:"] [data-tick]')
    expect(ticks).to_have_text(["✓"] * 3)


def test_a_reading_that_waits_is_judged_by_the_size_its_face_showed(
    bench: Bench, phone: Phone
) -> None:
    """The six pieces before stand thicker at the neck, so the face aims there; loaded again before
    the laptop has it, the phone still says right of what came out as aimed."""
    kept = bench.started(peg(), wanted=9)
    thick = {(number, "s1"): 1.2 for number in range(1, 7)}
    bench.turned(kept, *range(1, 7), scatter=0.02, off_mm=thick)
    phone.turns(kept, 7, "final:s1/read")
    expect(phone.step.locator(".aim b")).not_to_contain_text("20.0")
    shown = phone.step.locator(".aim b").inner_text().split(" ")[0]
    phone.page.route("**/reading", lambda route: route.abort())
    phone.takes(shown)
    expect(phone.verdict).to_contain_text(f"{shown}: Right.")
    phone.page.reload()
    phone.page.goto(bench.url(f"/sets/{kept.id}/turn/7#final:s1/read"))
    expect(phone.verdict).to_contain_text(SAYS["unsaved"])
    expect(phone.verdict).to_contain_text(f"{shown}: Right.")
