"""The board with knots on both faces gives its blanks by touch alone; its sheet is to scale."""

from __future__ import annotations

import re
from contextlib import closing
from dataclasses import replace
from uuid import uuid4

import pytest
from playwright.sync_api import CDPSession, Locator, Page, expect

from benchside.job import boards, logs, stock
from benchside.job.board_table import BoardTold, KnotRow, as_told
from benchside.store import stock as store
from benchside.store.database import Shop
from tests.browser.bench import Bench, stretcher
from tests.browser.conftest import NewPhone
from tests.browser.hand import LAPTOP, PHONE, TABLET, Phone, beyond_px, boxes
from tests.browser.test_axe import axe, faults  # noqa: F401, a fixture

AT = "2026-02-01T08:00:00.000Z"
PX_PER_MM = 96 / 25.4


def described(bench: Bench, name: str) -> tuple[int, int]:
    """A set and a clear board put to it; the knots are left to the finger."""
    kept = bench.started(stretcher(), name=name, wanted=6)
    told = BoardTold(
        name=name, set_id=str(kept.id), length="1500", width="150", thickness="34", kerf="3.2"
    )
    with closing(Shop(bench.db)) as shop:
        return kept.id, boards.keep_board(shop, None, told, key=uuid4().hex, at=AT)


def finger(
    phone: Phone,
    start: tuple[float, float],
    by: tuple[float, float],
    touch: CDPSession | None = None,
) -> None:
    """One finger put down, drawn along and lifted while it still moves."""
    touch = touch or phone.context.new_cdp_session(phone.page)
    for step in range(9):
        at = {"x": start[0] + by[0] * step / 8, "y": start[1] + by[1] * step / 8}
        kind = "touchStart" if step == 0 else "touchMove"
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [at]})
    touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def middle(part: Locator) -> tuple[float, float]:
    (box,) = boxes(part)
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def count(phone: Phone) -> int:
    expect(phone.page.locator("[data-answer]")).not_to_have_class(re.compile("waits"))
    return int(phone.page.locator("[data-answer] .count b").inner_text())


@pytest.mark.parametrize("size", [PHONE, TABLET], ids=["phone", "tablet"])
def test_knots_are_tapped_dragged_and_sized_and_the_plan_follows(
    new_phone: NewPhone, bench: Bench, size: dict[str, object]
) -> None:
    phone = new_phone(size=size)
    page = phone.page
    _, board_id = described(bench, "Board to tap")
    phone.open(f"/stock/boards/{board_id}")
    expect(page.locator(".tools")).to_be_visible()
    clear = count(phone)
    one, two = (page.locator(f"[data-face={side}] [data-wood]") for side in ("one", "two"))
    (box,) = boxes(one)
    k = box["width"] / 1500

    one.tap(position={"x": 200 * k, "y": (150 - 60) * k})
    chosen = page.locator(".handle[aria-pressed=true]")
    expect(chosen).to_have_count(1)
    row = page.locator("[data-knot].chosen")
    assert float(row.locator("[name=knot_at]").input_value()) == pytest.approx(185, abs=3)
    assert float(row.locator("[name=knot_across]").input_value()) == pytest.approx(50, abs=3)
    expect(page.locator("[data-face=two] .knot.behind")).to_have_count(1)
    assert count(phone) < clear

    finger(phone, middle(chosen), (60 * k, 0))
    expect(row.locator("[name=knot_at]")).to_have_value(re.compile("24[3-7]"))
    finger(phone, middle(page.locator("[data-sizer]")), (30 * k, 20 * k))
    assert float(row.locator("[name=knot_length]").input_value()) == pytest.approx(60, abs=3)
    assert float(row.locator("[name=knot_width]").input_value()) == pytest.approx(40, abs=3)
    assert float(row.locator("[name=knot_across]").input_value()) == pytest.approx(30, abs=3)

    two.tap(position={"x": 150 * k, "y": 110 * k})
    expect(page.locator("[data-list] button")).to_have_count(2)
    expect(page.locator("[data-knot].chosen [name=knot_face]")).to_have_value("two")
    both = count(phone)
    page.get_by_role("button", name="Undo").tap()
    expect(page.locator("[data-list] button")).to_have_count(1)
    assert count(phone) >= both

    page.locator("label.tool", has_text="Pin").tap()
    box, spot = boxes(one, page.locator("[data-face=one] .blank").first)
    one.tap(position={"x": spot["x"] - box["x"] + 8, "y": spot["y"] - box["y"] + 8})
    expect(page.locator("[data-face=one] .blank.pinned")).to_have_count(1)
    given = count(phone)
    page.get_by_role("button", name="Keep the board").tap()
    expect(page.locator("[data-answer] .count b")).to_have_text(str(given))
    with closing(Shop(bench.db)) as shop:
        kept = store.board(shop, board_id)
    assert len(kept.knots) == len(kept.pins) == 1
    assert kept.knots[0].face == "one"


def test_the_whole_board_stands_over_its_faces_and_brings_its_end_into_view(
    new_phone: NewPhone, bench: Bench
) -> None:
    phone = new_phone(size=PHONE)
    page = phone.page
    _, board_id = described(bench, "Board to slide")
    phone.open(f"/stock/boards/{board_id}")
    count(phone)
    end = page.locator(".ruler text", has_text="1500 mm")
    expect(end).not_to_be_in_viewport()
    (strip,) = boxes(page.locator("[data-overview]"))
    page.locator("[data-overview]").click(position={"x": strip["width"] - 4, "y": 8})
    expect(end).to_be_in_viewport()
    (frame,) = boxes(page.locator("[data-frame]"))
    assert frame["x"] + frame["width"] == pytest.approx(strip["x"] + strip["width"], abs=3)
    page.get_by_text("Its sizes, and what it is for").tap()
    page.get_by_label("Length", exact=True).fill("250")
    expect(page.locator("[data-overview]")).to_be_hidden()


def test_a_knot_is_put_down_by_its_figures_alone(phone: Phone, bench: Bench) -> None:
    page = phone.page
    _, board_id = described(bench, "Board by figures")
    phone.open(f"/stock/boards/{board_id}")
    clear = count(phone)
    page.get_by_role("button", name="Type the figures of a knot").tap()
    row = page.locator("[data-knot].chosen")
    for label, mm in (
        ("From the left end", "600"),
        ("From the near edge", "20"),
        ("Along", "40"),
        ("Across", "90"),
    ):
        row.get_by_label(label, exact=True).fill(mm)
    expect(page.locator("[data-face=one] .knot")).to_have_count(1)
    assert count(phone) < clear
    expect(page.locator(".problem:visible")).to_have_count(0)


def test_the_figures_of_a_chosen_knot_lie_right_under_the_drawing(
    phone: Phone, bench: Bench
) -> None:
    page = phone.page
    _, board_id = described(bench, "Board chosen on")
    phone.open(f"/stock/boards/{board_id}")
    count(phone)
    wood(page, "one").tap(position={"x": 120, "y": 40})
    given = count(phone)
    gives = page.locator("[data-gives]")
    expect(gives).to_have_text(f"{given} blanks")
    expect(gives).to_be_in_viewport(ratio=1)
    parts = ("[data-drawn]", "[data-knot].chosen", "[data-answer]")
    drawing, figures, answer = boxes(*map(page.locator, parts))
    below = figures["y"] - drawing["y"] - drawing["height"]
    assert 0 < below < 120  # the knots' names lie between
    assert figures["y"] + figures["height"] < answer["y"]


def test_a_pin_that_came_into_a_knot_is_seen_and_let_go_by_a_tap(
    phone: Phone, bench: Bench
) -> None:
    page = phone.page
    _, board_id = described(bench, "Board with a pin in a knot")
    phone.open(f"/stock/boards/{board_id}")
    count(phone)
    page.locator("label.tool", has_text="Pin").tap()
    spot = middle(page.locator("[data-face=one] .blank").first)
    (on,) = boxes(wood(page, "one"))
    at = {"x": spot[0] - on["x"], "y": spot[1] - on["y"]}
    wood(page, "one").tap(position=at)
    expect(page.locator("[data-face=one] .blank.pinned")).to_have_count(1)
    page.locator("label.tool", has_text="Knot").tap()
    wood(page, "one").tap(position=at)
    expect(page.locator("[data-face=one] .blank.wrong")).to_have_count(1)
    expect(page.locator("[data-answer]")).to_contain_text("Pinned blank 1 has a knot in it.")
    page.locator("label.tool", has_text="Pin").tap()
    wood(page, "one").tap(position=at)
    expect(page.locator("[data-face=one] .blank.pinned")).to_have_count(0)
    assert count(phone) > 0


def test_what_was_wrong_is_named_and_clears_as_it_is_put_right(phone: Phone) -> None:
    page = phone.page
    phone.open("/stock/boards/new")
    page.get_by_label("Width", exact=True).fill("160")
    page.get_by_role("button", name="Keep the board").tap()
    box = page.locator(".problems")
    expect(box).to_contain_text("Length: This is still empty.")
    expect(box).not_to_contain_text("Width")
    page.get_by_label("Thickness", exact=True).fill("thick")
    expect(page.locator("#thickness-problem")).to_contain_text("is not a length")
    page.get_by_label("Thickness", exact=True).fill("30")
    page.get_by_label("Length", exact=True).fill("900")
    expect(box).to_have_count(0)
    expect(page.locator("[aria-invalid]")).to_have_count(0)


def test_on_a_board_that_was_sawn_a_finger_changes_nothing(phone: Phone, bench: Bench) -> None:
    page = phone.page
    set_id, board_id = described(bench, "Board that was sawn")
    with closing(Shop(bench.db)) as shop:
        stock.number_pieces(shop, set_id, at=AT)
    phone.open(f"/stock/boards/{board_id}")
    count(phone)
    expect(page.locator(".tools")).to_have_count(0)
    wood(page, "one").tap(position={"x": 120, "y": 40})
    page.wait_for_timeout(200)
    expect(names(page)).to_have_count(0)


def touches(touch: CDPSession, at: tuple[float, float]) -> None:
    """A finger down and up at once, waiting for nothing."""
    spot = {"x": at[0], "y": at[1]}
    touch.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [spot]})
    touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def wood(page: Page, side: str) -> Locator:
    return page.locator(f"[data-face={side}] [data-wood]")


def names(page: Page) -> Locator:
    """The buttons of the knots' list."""
    return page.locator("[data-list] button")


def slid(page: Page) -> list[float]:
    """How far the page and the board on it are scrolled."""
    found: list[float] = page.locator(".faces").evaluate("box => [box.scrollLeft, scrollY]")
    return found


def rests(phone: Phone) -> None:
    """Until nothing scrolls any more."""
    seen: list[list[float]] = []

    def still() -> bool:
        seen.append(slid(phone.page))
        return len(seen) > 10 and seen[-10:] == [seen[-1]] * 10

    phone.waits(still)


@pytest.mark.parametrize("slower", [1, 8])
def test_a_tap_hard_upon_a_drag_lifted_in_motion_is_not_lost(
    new_phone: NewPhone, bench: Bench, slower: int
) -> None:
    phone = new_phone()
    page = phone.page
    _, board_id = described(bench, f"Board flicked {slower}")
    phone.open(f"/stock/boards/{board_id}")
    count(phone)
    touch = phone.context.new_cdp_session(page)
    touch.send("Emulation.setCPUThrottlingRate", {"rate": slower})
    wood(page, "one").tap(position={"x": 150, "y": 40})
    for done in range(1, 5):
        expect(page.locator(".handle[aria-pressed=true]")).to_have_count(1)
        count(phone)
        grip = middle(page.locator(".handle[aria-pressed=true]"))
        (box,) = boxes(wood(page, "two"))
        other = (box["x"] + 40 + 60 * done, box["y"] + 70 - 12 * done)
        finger(phone, grip, (160 if done % 2 else -160, 0), touch)
        touches(touch, other)
        expect(names(page)).to_have_count(done + 1)
        expect(page.locator("[data-knot].chosen [name=knot_face]")).to_have_value("two")
        names(page).first.dispatch_event("click")  # without scrolling there


def test_a_finger_that_scrolls_or_stops_the_scrolling_puts_no_knot(
    phone: Phone, bench: Bench
) -> None:
    page = phone.page
    _, board_id = described(bench, "Board scrolled over")
    phone.open(f"/stock/boards/{board_id}")
    count(phone)
    at = (340.0, middle(wood(page, "one"))[1])
    touch = phone.context.new_cdp_session(page)
    finger(phone, at, (0, -120), touch)
    phone.waits(lambda: page.evaluate("scrollY") > 50)
    rests(phone)
    page.evaluate("scrollTo(0, 0)")
    finger(phone, at, (-200, 0), touch)
    phone.waits(lambda: slid(page)[0] > 50)
    rests(phone)
    faces = page.locator(".faces")
    faces.evaluate(
        "box => box.rolls = setInterval(() => box.scrollTo((Date.now() / 4) % 50, 0), 5)"
    )
    at_rest = slid(page)
    phone.waits(lambda: slid(page) != at_rest)
    for _ in range(3):
        touches(touch, at)
    faces.evaluate("box => clearInterval(box.rolls)")
    rests(phone)
    expect(names(page)).to_have_count(0)
    touches(touch, at)
    expect(names(page)).to_have_count(1)


def test_knots_are_put_dragged_and_pinned_by_a_mouse_on_both_faces(
    new_phone: NewPhone, bench: Bench
) -> None:
    laptop = new_phone(size=LAPTOP)
    page = laptop.page
    _, board_id = described(bench, "Board under a mouse")
    laptop.open(f"/stock/boards/{board_id}")
    count(laptop)
    for number, side in enumerate(("one", "two"), 1):
        wood(page, side).click(position={"x": 200 * number, "y": 60})
        expect(names(page)).to_have_count(number)
        expect(page.locator("[data-knot].chosen [name=knot_face]")).to_have_value(side)
        count(laptop)
        grip = middle(page.locator(".handle[aria-pressed=true]"))
        placed = page.locator("[data-knot].chosen [name=knot_at]").input_value()
        page.mouse.move(*grip)
        page.mouse.down()
        page.mouse.move(grip[0] + 90, grip[1], steps=4)
        page.mouse.up()
        at = page.locator("[data-knot].chosen [name=knot_at]")
        expect(at).not_to_have_value(placed)
        page.keyboard.press("ArrowLeft")
        expect(at).not_to_have_value(placed)
    wood(page, "one").click(position={"x": 100, "y": 60}, button="right")
    page.keyboard.press("Escape")
    expect(names(page)).to_have_count(2)
    page.locator("label.tool", has_text="Pin").click()
    count(laptop)
    for side, pins in (("one", 1), ("two", 0)):  # put on one face, let go on the other
        spot, on = boxes(page.locator(f"[data-face={side}] .blank").first, wood(page, side))
        wood(page, side).click(
            position={"x": spot["x"] - on["x"] + 8, "y": spot["y"] - on["y"] + 8}
        )
        expect(page.locator("[data-face=one] .blank.pinned")).to_have_count(pins)
        count(laptop)


def test_a_blank_beside_a_knot_is_pinned_through_its_handle(phone: Phone, bench: Bench) -> None:
    page = phone.page
    _, board_id = described(bench, "Board pinned by a knot")
    phone.open(f"/stock/boards/{board_id}")
    count(phone)
    wood(page, "one").tap(position={"x": 120, "y": 40})
    for name in ("knot_length", "knot_width"):  # the handle is much larger than this
        page.locator(f"[data-knot].chosen [name={name}]").fill("4")
    count(phone)
    page.locator("label.tool", has_text="Pin").tap()
    (grip,) = boxes(page.locator(".handle"))
    blanks = page.locator("[data-face=one] .blank").all()
    x = grip["x"] + grip["width"] / 2
    near = [
        (x, y)
        for box in boxes(*blanks)
        if box["x"] + 3 < x < box["x"] + box["width"] - 3
        for y in (box["y"] + 3, box["y"] + box["height"] - 3)
        if grip["y"] < y < grip["y"] + grip["height"]
    ]
    assert near
    touches(phone.context.new_cdp_session(page), near[0])
    expect(page.locator("[data-face=one] .blank.pinned")).to_have_count(1)


@pytest.mark.parametrize(
    ("slope", "hard_by"), [("", 5), ("1 in 40", 1)], ids=["by a knot", "by a sloping end"]
)
def test_a_blank_pinned_on_a_board_in_inches_is_still_in_its_place_when_it_is_opened_again(
    phone: Phone, bench: Bench, slope: str, hard_by: int
) -> None:
    page = phone.page
    told = BoardTold(
        name=f"Inches {slope}",
        unit="in/64",
        length="60",
        width="7 1/4",
        thickness="8/4",
        kerf="1/8",
        slope=slope,
        blank_length="18",
        blank_side="1 1/8",
        knots=(KnotRow(at="13.91", across="2.06", length="1.18", width="0.79"),),
    )
    with closing(Shop(bench.db)) as shop:
        board_id = boards.keep_board(shop, None, told, key=uuid4().hex, at=AT)
    phone.open(f"/stock/boards/{board_id}")
    found = count(phone)
    page.locator("label.tool", has_text="Pin").tap()
    blank = page.locator("[data-face=one] .blank").nth(hard_by).bounding_box()
    on = wood(page, "one").bounding_box()
    assert blank
    assert on
    middle_px = blank["y"] + blank["height"] / 2 - on["y"]
    wood(page, "one").tap(position={"x": blank["x"] + 60 - on["x"], "y": middle_px})
    expect(page.locator("[data-face=one] .blank.pinned")).to_have_count(1)
    assert count(phone) == found
    page.get_by_role("button", name="Keep the board").click()
    expect(page.get_by_text("Kept. Go on to")).to_be_visible()
    assert count(phone) == found
    expect(page.locator("[data-face=one] .blank.pinned")).to_have_count(1)
    expect(page.locator("[data-face=one] .blank.wrong")).to_have_count(0)


def test_the_printed_saw_plan_is_to_scale_and_lies_on_the_sheet(phone: Phone, bench: Bench) -> None:
    set_id, board_id = described(bench, "Board to print")
    told = BoardTold(
        name="Board to print",
        set_id=str(set_id),
        length="2400",
        width="180",
        thickness="34",
        kerf="3.2",
        knots=(KnotRow("knot", "two", "700", "60", "40", "30"),),
    )
    with closing(Shop(bench.db)) as shop:
        boards.keep_board(shop, board_id, told, key=uuid4().hex, at=AT)
    phone.open(f"/sets/{set_id}/stock/sheet")
    phone.page.emulate_media(media="print")
    phone.page.set_viewport_size({"width": round(273 * PX_PER_MM), "height": 700})
    (bar,) = boxes(phone.page.locator(".scale-bar"))
    assert bar["width"] == pytest.approx(100 * PX_PER_MM, abs=0.5)
    stretches = phone.page.locator(".stretch .scroll > svg").all()
    drawn = boxes(*stretches)
    assert sum(box["width"] for box in drawn) == pytest.approx(2400 / 5 * PX_PER_MM, abs=1)
    assert all(box["height"] == pytest.approx(180 / 5 * PX_PER_MM, abs=0.5) for box in drawn)
    assert all(box["x"] + box["width"] <= 273 * PX_PER_MM for box in drawn)


def test_no_page_of_stock_has_a_barrier_or_scrolls_sideways(
    new_phone: NewPhone,
    bench: Bench,
    axe: str,  # noqa: F811, the fixture of that name
) -> None:
    set_id, board_id = described(bench, "Board to look at")
    knots = (
        KnotRow("knot", "one", "300", "60", "30", "20"),
        KnotRow("check", "two", "800", "20", "180", "4"),
    )
    with closing(Shop(bench.db)) as shop:
        told = as_told(store.board(shop, board_id))
        boards.keep_board(shop, board_id, replace(told, knots=knots), key=uuid4().hex, at=AT)
        log = replace(logs.bare_log(uuid4().hex, AT), length_mm=1400.0, large_mm=300.0)
        log = replace(log, small_mm=280.0, blank_length_mm=500.0, blank_side_mm=26.0)
        log_id = logs.keep_log(shop, log)
    phone = new_phone(bypass_csp=True)
    found = []
    for path in (
        *("/stock", f"/stock/boards/{board_id}", f"/stock/boards/{board_id}/sheet"),
        *(f"/stock/logs/{log_id}", "/stock/boards/new", "/stock/logs/new", f"/sets/{set_id}/stock"),
        f"/sets/{set_id}/stock/sheet",
    ):
        phone.open(path)
        if path.endswith(str(board_id)):
            phone.page.get_by_role("button", name="Check 2").first.tap()
        found += [f"{path} {fault}" for fault in faults(phone, axe)]
        if beyond_px(phone.page) > 0:
            found.append(f"{path} scrolls sideways")
    with closing(Shop(bench.db)) as shop:
        stock.number_pieces(shop, set_id, at=AT)
    phone.open(f"/sets/{set_id}/stock")
    phone.page.get_by_text("Which piece is from where").tap()
    found += faults(phone, axe)
    assert found == []
