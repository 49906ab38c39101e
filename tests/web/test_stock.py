"""Stock without a script: a board by its form, the blank of a set, the printed saw plan."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
from starlette.testclient import TestClient

from benchside.job import sets, wood
from benchside.store import stock as store
from tests import shopfloor
from tests.web.pages import text_of
from tests.web.test_logs import LOG

BOARD: dict[str, Any] = {
    "key": "a" * 32,
    "name": "White ash",
    "unit": "mm",
    "length": "2400",
    "width": "180",
    "thickness": "30",
    "kerf": "3,2",
    "slope": "",
    "slope_to": "far",
    "resawn": "yes",
    "knot_kind": ["knot", "check", "knot"],
    "knot_face": ["one", "two", "one"],
    "knot_at": ["500", "900", ""],
    "knot_across": ["60", "20", ""],
    "knot_length": ["40", "150", ""],
    "knot_width": ["25", "3", ""],
    "knot_depth": ["", "", ""],
    "knot_tried": ["", "", ""],
    "do": "save",
}


def board(visitor: TestClient, **changes: Any) -> Any:
    return visitor.post("/stock/boards/new", data={**BOARD, **changes})


def test_a_board_is_described_kept_and_changed_by_its_form_alone(visitor, shop, kept):
    page = board(visitor, set_id=str(kept.id))
    assert page.status_code == 200
    assert page.url.path == "/stock/boards/1"
    assert re.search(r"\d+ blanks best possible", text_of(page.text))
    assert len(store.board(shop, 1).knots) == 2
    assert page.text.count("data-knot>") + page.text.count("data-knot data-blank>") == 6
    changed = {**BOARD, "set_id": str(kept.id), "knot_at": ["600", "", ""]}
    changed |= {"knot_across": ["60", "", ""], "knot_length": ["40", "", ""]}
    visitor.post("/stock/boards/1", data={**changed, "knot_width": ["25", "", ""]})
    assert [knot.at_mm for knot in store.board(shop, 1).knots] == [600.0]


def test_what_is_wrong_stands_beside_its_field_and_nothing_typed_is_lost(visitor, shop):
    page = board(visitor, width="wide", knot_at=["5000", "900", ""])
    assert page.status_code == 422
    assert 'value="wide"' in page.text
    assert re.search(r'id="width"[^>]*aria-invalid="true"', page.text)
    assert "“wide” is not a length." in text_of(page.text)
    assert store.boards(shop) == []
    page = board(visitor, knot_at=["5000", "900", ""])
    assert re.search(r'id="k1-at"[^>]*aria-invalid="true"', page.text)
    assert 'value="900"' in page.text


def test_an_absurd_board_is_asked_about_and_taken_at_the_second_word(visitor, shop):
    inches = {"length": "96", "width": "8", "thickness": "1", "knot_at": ["", "", ""]}
    inches |= {name: ["", "", ""] for name in ("knot_across", "knot_length", "knot_width")}
    page = board(visitor, **inches)
    assert "were those inches?" in text_of(page.text)
    assert store.boards(shop) == []
    board(visitor, **inches, sure="yes")
    assert store.boards(shop)[0].length_mm == 96


def test_more_rows_are_had_without_keeping(visitor, shop):
    page = board(visitor, do="more")
    assert page.text.count("data-blank>") == 6
    assert store.boards(shop) == []


def test_the_drawing_is_asked_for_as_it_is_typed(visitor, shop, kept):
    reply = visitor.post("/stock/boards/draw", data={**BOARD, "set_id": str(kept.id)}).json()
    assert reply["one"].startswith("<svg")
    assert reply["problems"] == []
    assert {"at_mm", "across_mm", "corners", "need"} <= reply["blanks"][0].keys()
    assert "Saw settings" in reply["answer"]
    reply = visitor.post("/stock/boards/draw", data={**BOARD, "length": ""}).json()
    assert [p["field"] for p in reply["problems"]] == ["length"]
    assert store.boards(shop) == []


def test_a_pin_in_a_knot_is_drawn_and_told_with_its_place_and_can_be_let_go(visitor, kept):
    pinned = {"pin_at": ["0", "300"], "pin_across": ["120", "55"], "pin_need": ["0", "0"]}
    form = {**BOARD, "set_id": str(kept.id), **pinned}
    reply = visitor.post("/stock/boards/draw", data=form).json()
    assert reply["problems"][0]["field"] == "pin"
    says = (
        "Pinned blank 2 has a knot in it. It lies 300 mm from the left end and 55 mm from the near"
    )
    assert says in text_of(reply["answer"])
    for drawing in (reply["one"], reply["two"], reply["whole"]):
        assert drawing.count('class="blank pinned"') == 1
        assert drawing.count('class="blank pinned wrong"') == 1
    places = [(blank["at_mm"], blank["across_mm"]) for blank in reply["blanks"]]
    assert places == [(0, 120), (300, 55)]
    form = {**form, "pin_across": ["60", "55"]}
    reply = visitor.post("/stock/boards/draw", data=form).json()
    assert "Pinned blanks 1 and 2 cannot both be ripped out." in text_of(reply["answer"])
    assert reply["one"].count('class="blank pinned wrong"') == 2


def test_a_pin_is_told_in_the_unit_of_its_board(visitor, kept):
    inches = {"unit": "in/64", "length": "96", "width": "7", "thickness": "1 1/4", "kerf": "1/8"}
    inches |= {
        "knot_at": ["20", "", ""],
        "knot_across": ["2", "", ""],
        "knot_length": ["1", "", ""],
    }
    inches |= {"knot_width": ["1", "", ""], "pin_at": ["12 1/2"], "pin_across": ["2"]}
    form = {**BOARD, "set_id": str(kept.id), **inches, "pin_need": ["0"]}
    reply = visitor.post("/stock/boards/draw", data=form).json()
    says = "It lies 12 1/2 in from the left end and 2 in from the near edge of White ash."
    assert says in reply["problems"][0]["hint"]


def test_a_pin_of_another_size_stops_no_page(visitor, shop, kept):
    sizes: dict[str, Any] = {"route": "dry", "more_percent": "50", "length_mm": "", "side_mm": ""}
    legs = {"other_name": ["Legs"], "other_length": ["420"], "other_side": ["29"]}
    sizes |= {**legs, "other_wanted": ["3"], "other_priority": ["2"]}
    visitor.post(f"/sets/{kept.id}/stock", data=sizes)
    pinned = {"pin_at": ["0"], "pin_across": ["100"], "pin_need": ["1"]}
    board(visitor, set_id=str(kept.id), **pinned)
    assert len(store.boards(shop)[0].pins) == 1
    for path in ("/stock", f"/sets/{kept.id}/stock"):
        assert "is of a size" not in text_of(visitor.get(path).text)
    gone = {name: [""] for name in ("other_name", "other_length", "other_side", "other_wanted")}
    visitor.post(f"/sets/{kept.id}/stock", data={**sizes, **gone})
    page = text_of(visitor.get("/stock/boards/1").text)
    assert "Pinned blank 1 is of a size that is no longer wanted. It lies 0 mm" in page


def test_a_pin_in_the_way_of_a_whole_set_names_its_board(visitor, kept):
    sizes: dict[str, Any] = {"route": "dry", "more_percent": "50", "length_mm": "", "side_mm": ""}
    legs = {"other_name": ["Legs"], "other_length": ["420"], "other_side": ["29"]}
    visitor.post(
        f"/sets/{kept.id}/stock",
        data={**sizes, **legs, "other_wanted": ["3"], "other_priority": ["2"]},
    )
    board(visitor, set_id=str(kept.id))
    pinned = {"pin_at": ["300"], "pin_across": ["55"], "pin_need": ["1"]}
    board(visitor, set_id=str(kept.id), name="Brown ash", key="c" * 32, **pinned)
    page = text_of(visitor.get(f"/sets/{kept.id}/stock").text)
    assert "Pinned blank 1 has a knot in it. It lies 300 mm" in page
    assert "from the near edge of Brown ash." in page


def test_a_name_that_is_code_is_only_words(visitor):
    page = board(visitor, name="<b>Ash</b>")
    assert "<b>Ash" not in page.text
    assert "<b>Ash" not in visitor.get("/stock").text


def test_a_board_or_log_for_a_set_is_told_in_the_sets_unit(visitor, shop):
    kept = shopfloor.started(shop, name="In inches", unit="in")
    for path in ("boards", "logs"):
        page = visitor.get(f"/stock/{path}/new?set={kept.id}").text
        assert '<option value="in" selected>' in page
        assert f'<option value="{kept.id}" selected>In inches</option>' in page
        assert visitor.get(f"/stock/{path}/new?set=777").status_code == 404


def test_what_was_kept_is_said_once(visitor, kept):
    for path, said in (("boards", BOARD), ("logs", LOG)):
        page = visitor.post(f"/stock/{path}/new", data={**said, "set_id": str(kept.id)})
        assert "Kept. Go on to the stock of its set" in text_of(page.text)
        assert f'href="/stock/{path}/new?set={kept.id}"' in page.text
        assert "Kept." not in text_of(visitor.get(page.url.path).text)


def test_an_eighth_of_an_inch_is_still_one_on_the_next_board(visitor):
    board(visitor, kerf="1/8 in")
    for path in ("1", "new"):
        page = visitor.get(f"/stock/boards/{path}").text
        assert re.search(r'name="kerf" value="3\.175( mm)?"', page)


def test_a_new_board_is_told_its_sizes_before_its_knots(visitor):
    page = visitor.get("/stock/boards/new").text
    assert page.index('id="thickness"') < page.index("data-face=") < page.index('id="knots"')
    kept = visitor.post("/stock/boards/new", data=BOARD).text
    assert kept.index("data-face=") < kept.index('id="knots"') < kept.index('id="thickness"')


def test_the_stock_of_a_set_from_its_blank_to_its_spares(visitor, shop, kept):
    base = f"/sets/{kept.id}/stock"
    page = visitor.get(base).text
    assert "Nothing is put to this set yet" in text_of(page)
    assert page.index('id="needs"') < page.index('id="from"') < page.index('id="pieces"')
    board(visitor, set_id=str(kept.id))
    page = visitor.get(base)
    assert re.search(r"\d+ blanks for the 12 wanted, best possible", text_of(page.text))
    page = visitor.post(f"{base}/number")
    assert "The stock still covers the set." in text_of(page.text)
    assert store.blanks(shop, kept.id)[0].spindle == 1
    page = visitor.post(f"{base}/rings", data={"piece": "2", "ring": "41"})
    assert "41°" in page.text
    assert "Kept." in text_of(page.text)
    for nonsense in ("", "two", "²", "9" * 40, "777"):
        page = visitor.post(f"{base}/rings", data={"piece": nonsense, "ring": "41"})
        assert 400 <= page.status_code < 500, nonsense
    page = visitor.post(f"{base}/rings", data={"piece": "2", "ring": "north"})
    assert page.status_code == 422
    assert "sawn too" not in page.text
    board(visitor, set_id=str(kept.id), name="Another", key="e" * 32)
    assert "Another is sawn too: add the blanks" in text_of(visitor.get(base).text)
    before = len(store.blanks(shop, kept.id))
    assert "sawn too" not in visitor.post(f"{base}/add").text
    assert len(store.blanks(shop, kept.id)) > before
    visitor.post(f"{base}/spare")
    assert "stays as it was sawn" in text_of(visitor.get("/stock/boards/1").text)
    visitor.post(f"{base}/let-go")
    assert store.blanks(shop, kept.id) == []


def test_the_blank_can_be_changed_and_other_sizes_asked_for(visitor, shop, kept):
    base = f"/sets/{kept.id}/stock"
    form: dict[str, Any] = {
        "route": "dry",
        "length_mm": "466",
        "side_mm": "28",
        "more_percent": "50 %",
        "other_name": ["Legs", ""],
        "other_length": ["420", ""],
        "other_side": ["30", ""],
        "other_wanted": ["3", ""],
        "other_priority": ["2", "2"],
    }
    assert "as if dry: say its wood" in text_of(visitor.get(base).text)
    given = wood.Given("white ash", "green", "green", "figure", lives_mc=8.0)
    wood.give(shop, kept.id, given, at=shopfloor.moment(0))
    page = text_of(visitor.get(base).text)
    assert "shrinks by, from 45 to 8 % moisture 1.3 largest diameter to turn now 23.3" in page
    page = visitor.get(base).text
    assert '<option value="sawn_green" selected>Sawn green: 3.2 mm over' in page
    assert "as its wood asks; turned to the end" in page
    visitor.post(base, data={**form, "route": "sawn_green", "length_mm": "542"})
    found = store.set_stock(shop, kept.id)
    assert (found.route, found.length_mm) == (None, None)
    visitor.post(base, data={**form, "length_mm": "542"})
    found = store.set_stock(shop, kept.id)
    assert (found.route, found.length_mm) == ("dry", None)
    visitor.post(base, data=form)
    found = store.set_stock(shop, kept.id)
    assert (found.length_mm, found.side_mm, found.more_percent) == (None, 28.0, 50.0)
    assert store.needs(shop, kept.id)[0].wanted == 3
    board(visitor, set_id=str(kept.id))
    assert re.search(r"Legs: 3 of 3", text_of(visitor.get(base).text))
    page = visitor.post(base, data={**form, "length_mm": "120", "other_wanted": ["none", ""]})
    assert page.status_code == 422
    assert "Say how many" in text_of(page.text)
    page = visitor.post(base, data={**form, "length_mm": "120"})
    assert "The piece alone is 450 mm long." in text_of(page.text)
    assert 'value="120"' in page.text


def test_a_board_sawn_along_its_grain_is_marked_from_each_strips_own_end(visitor, kept):
    assert "Marks from the left end, mm" in board(visitor, set_id=str(kept.id)).text
    page = board(visitor, set_id=str(kept.id), slope="1 in 20", key="d" * 32)
    assert "under a blow (Wood Handbook, 2010, chapter 5, from memory)" in page.text
    both = page.text + visitor.get(f"{page.url.path}/sheet").text
    assert both.count("Marks from its own left end, mm") == 2


def test_the_saw_plan_is_printed_to_scale(visitor, kept):
    board(visitor, set_id=str(kept.id))
    for path in (f"/sets/{kept.id}/stock/sheet", "/stock/boards/1/sheet"):
        page = visitor.get(path).text
        assert 'width="100mm"' in page  # the bar
        widths = [
            float(mm) for mm in re.findall(r'<svg [^>]*width="([\d.]+)mm" height="36mm"', page)
        ]
        assert sum(widths) == pytest.approx(2400 / 5)
        assert "drawn 1 : 5" in page


@pytest.mark.parametrize("kind", ["boards", "logs"])
@pytest.mark.parametrize("number", ["99", "9" * 23, "9" * 5000, "🪵"], ids=len)
def test_stock_for_a_set_that_is_not_there_is_not_found(
    visitor: TestClient, kind: str, number: str
) -> None:
    said = {**(BOARD if kind == "boards" else LOG), "set_id": number}
    assert visitor.post(f"/stock/{kind}/new", data=said).status_code == 404


def test_figures_of_thousands_of_digits_are_refused_where_a_number_is_chosen(visitor, kept):
    endless = "9" * 5000
    drawn = visitor.post("/stock/boards/draw", data={**BOARD, "board_id": endless})
    assert drawn.status_code == 404
    other = {"other_length": "300", "other_side": "30", "other_wanted": endless}
    asked = {"other_name": "peg", "other_priority": "2", **other}
    page = visitor.post(f"/sets/{kept.id}/stock", data=asked)
    assert "Say how many, 1 or more." in text_of(page.text)
    noted = {"key": "e" * 32, "number": endless, "what": "dried"}
    assert visitor.post(f"/sets/{kept.id}/drying/note", data=noted).status_code == 404
    ticked = {f"piece {endless}": "on", "moisture": "8"}
    assert visitor.post(f"/sets/{kept.id}/drying/turn_dry", data=ticked).status_code == 404


def test_what_is_not_there_is_said(visitor):
    for number in ("9", "9" * 23):  # the second is more than a database counts to
        for path in ("/stock/boards/{}", "/stock/logs/{}", "/sets/{}/stock", "/sets/{}"):
            assert visitor.get(path.format(number)).status_code == 404
        assert visitor.get(f"/stock/boards/{number}/sheet").status_code == 404
        assert board(visitor, set_id=number).status_code == 404


def test_a_blank_has_one_number_on_every_page(visitor, kept):
    alone = {"blank_length_mm": "", "blank_side_mm": ""}
    plain = {name: value for name, value in BOARD.items() if not name.startswith("knot_")}
    told = {**plain, "length": "700", "set_id": str(kept.id)}
    assert visitor.post("/stock/boards/new", data=told).status_code == 200
    visitor.post("/stock/logs/new", data={**LOG, **alone, "set_id": str(kept.id)})
    base = f"/sets/{kept.id}/stock"

    def numbers(path: str) -> list[int]:
        found = re.findall(r'class="blank-number"[^>]*>(\d+)<', visitor.get(path).text)
        return sorted({int(n) for n in found})

    boards, billets = numbers("/stock/boards/1"), numbers("/stock/logs/1")
    assert boards[0] == 1
    assert billets[0] == boards[-1] + 1
    visitor.post(
        base, data={"route": "split", "length_mm": "", "side_mm": "", "more_percent": "30"}
    )
    boards, billets = numbers("/stock/boards/1"), numbers("/stock/logs/1")
    assert billets[0] == 1
    assert boards[0] == billets[-1] + 1
    stock_page = text_of(visitor.get(base).text)
    assert f"White ash blanks {boards[0]} to {boards[-1]}" in stock_page
    assert f"Ash butt blanks 1 to {billets[-1]}" in stock_page
    drafted = {**told, "board_id": "1", "numbered": f"{kept.id}:{boards[0]}"}
    drawn = visitor.post("/stock/boards/draw", data=drafted).json()
    assert str(boards[0]) in re.findall(r'class="blank-number"[^>]*>(\d+)<', drawn["one"])
    assert f"<td>{boards[0]}</td>" in drawn["answer"]


def test_in_sixteenths_saw_and_blank_are_told_to_the_64th_alike_on_every_page(visitor, shop, kept):
    sets.settle(shop, kept.id, replace(kept.choices, unit="in/16"))
    base = f"/sets/{kept.id}/stock"
    size = {"length_mm": "24 5/8", "side_mm": "1 25/64"}
    visitor.post(base, data={"route": "dry", "more_percent": "30", **size})
    sizes = {"length": "96", "width": "7 1/4", "thickness": "1 1/2", "kerf": "1/8"}
    plain = {name: value for name, value in BOARD.items() if not name.startswith("knot_")}
    told = {**plain, **sizes, "near": "31/64", "unit": "in/64", "set_id": str(kept.id)}
    assert visitor.post("/stock/boards/new", data=told).status_code == 200
    assert "24 5⁄8 × 1 25⁄64 × 1 25⁄64 in" in text_of(visitor.get(base).text)
    for path in ("/stock/boards/1", "/stock/boards/1/sheet", f"{base}/sheet"):
        page = text_of(visitor.get(path).text)
        assert "1 25⁄64 in" in page, path
        assert "23⁄64 in" in page, path
        assert "49 3⁄8" in page, path  # the second blank's far end: 24 5/8, 1/8, 24 5/8
    sheet = text_of(visitor.get(f"/sets/{kept.id}/sheet").text)
    assert "24 5⁄8 × 1 25⁄64 × 1 25⁄64 in" in sheet
    assert "trim 23⁄64 in of waste off the edge" in sheet
    assert "24 5⁄8 ▸, 49 3⁄8 ▸, 74 1⁄8 ▸" in sheet


def test_what_was_sawn_is_said_and_stays_when_the_wood_is_said_anew(visitor, shop, kept):
    base = f"/sets/{kept.id}"
    board(visitor, set_id=str(kept.id))
    visitor.post(f"{base}/stock/number")
    page = text_of(visitor.get(f"{base}/stock").text)
    assert "Sawn dry to 466 × 25.5 × 25.5 mm" in page
    assert "The stock still covers the set." in page
    sheet = text_of(visitor.get(f"{base}/stock/sheet").text)
    assert "27 blanks of 466 × 25.5 × 25.5 mm" in sheet
    whole = text_of(visitor.get(f"{base}/sheet").text)
    assert "Sawn to 466 × 25.5 × 25.5 mm, numbers 1–27" in whole
    green = wood.Given("white ash", "green", "green", "figure", lives_mc=8.0)
    wood.give(shop, kept.id, green, at=shopfloor.moment(1))
    page = text_of(visitor.get(f"{base}/stock").text)
    assert "Today 542 × 27 × 27 mm would be proposed: these leave 2.2 mm over" in page
    assert "Every piece has its blank. One more would be 542 × 27 × 27 mm" in page
    rough = wood.Given("white ash", "green", "rough", "figure", rough_mm=3.0, lives_mc=8.0)
    wood.give(shop, kept.id, rough, at=shopfloor.moment(2))
    page = text_of(visitor.get(f"{base}/stock").text)
    assert "They cannot hold the size to turn now, 26.5 mm at its thickest." in page
    assert "still covers" not in page
    assert "To saw next" in page
    assert text_of(visitor.get(f"{base}/stock/sheet").text) == sheet
    mine = text_of(visitor.get("/stock/boards/1").text)
    assert "27 blanks as they were sawn" in mine
    assert "each 466 × 25.5 × 25.5 mm" in mine
    assert "27 blanks sawn for" in text_of(visitor.get("/stock").text)


def test_why_a_size_cannot_change_once_it_is_sawn_stands_where_it_is_seen(visitor, kept):
    base = f"/sets/{kept.id}/stock"
    board(visitor, set_id=str(kept.id))
    visitor.post(f"{base}/number")
    form = {"route": "dry", "length_mm": "466", "side_mm": "28", "more_percent": "30"}
    page = visitor.post(base, data=form)
    assert page.status_code == 422
    (needs,) = re.findall(r'aria-labelledby="needs">(.*?)</form>', page.text, re.S)
    assert "Pieces are numbered from stock" in needs.rpartition("</details>")[2]


def test_a_log_put_to_a_sawn_set_is_split_too(visitor, kept):
    base = f"/sets/{kept.id}/stock"
    board(visitor, set_id=str(kept.id), width="60")
    page = text_of(visitor.post(f"{base}/number").text)
    assert "× 25.5 mm , 1 of them" in page
    visitor.post("/stock/logs/new", data={**LOG, "set_id": str(kept.id)})
    assert "Ash butt is split too: add the blanks" in text_of(visitor.get(base).text)


def test_a_board_too_small_for_its_blank_says_that_and_no_more(visitor, kept):
    clear = {f"knot_{name}": [""] * 3 for name in ("at", "across", "length", "width")}
    board(visitor, set_id=str(kept.id), length="400", **clear)
    page = text_of(visitor.get("/stock/boards/1").text)
    assert re.search("0 blanks No clear blank of 466 × 25.5 × 25.5 mm lies in it. A shorter", page)
    assert "of the wood is waste" not in page


def test_a_board_says_what_the_plan_of_its_whole_set_takes_from_it(visitor, kept):
    sizes: dict[str, Any] = {"route": "dry", "more_percent": "30", "length_mm": "", "side_mm": ""}
    legs = {"other_name": ["Legs"], "other_length": ["420"], "other_side": ["29"]}
    sizes |= {**legs, "other_wanted": ["3"], "other_priority": ["1"]}
    visitor.post(f"/sets/{kept.id}/stock", data=sizes)
    board(visitor, set_id=str(kept.id))
    alone = text_of(visitor.get("/stock/boards/1").text)
    assert "takes from it" not in alone
    assert "sawn straight through it would give" in alone
    board(visitor, set_id=str(kept.id), key="c" * 32, name="Second")
    ours = "That is what the plan over all boards of Hall bench takes from it."
    for path in ("/stock/boards/1", "/stock/boards/2"):
        page = text_of(visitor.get(path).text)
        assert ours in page
        assert "straight through" not in page
    typed = {**BOARD, "board_id": "1", "set_id": str(kept.id)}
    assert ours in text_of(visitor.post("/stock/boards/draw", data=typed).json()["answer"])
    assert ", were all of it for Hall bench" in text_of(visitor.get("/stock").text)
    visitor.post("/stock/boards/2/away", data={"away": "yes"})
    assert "takes nothing from a board that is put away" in text_of(
        visitor.get("/stock/boards/2").text
    )
