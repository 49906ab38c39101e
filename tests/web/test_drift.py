"""A drift told at the lathe: on the page, and to a phone that never loads the page again."""

from __future__ import annotations

import re
import secrets
from typing import Any

import pytest
from starlette.testclient import TestClient

from benchside.store import readings, sets
from benchside.store.database import Shop
from tests import shopfloor
from tests.web.pages import form_fields, text_of

CROWN = "crown:st5"
ASKS = {"accept": "application/json"}


@pytest.fixture
def creeping(shop: Shop) -> None:
    """Six pieces, whose bead's crown creeps up by a quarter millimetre a piece."""
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 7), scatter=0.05, drift_mm={CROWN: 0.25})


def tap(visitor: TestClient, number: int, what: str, **more: str) -> dict[str, Any]:
    data = {"key": secrets.token_hex(16), "what": what, **more}
    reply = visitor.post(f"/sets/1/pieces/{number}/mark", data=data, headers=ASKS)
    assert reply.status_code == 200
    found: dict[str, Any] = reply.json()
    return found


def sections(page: str) -> dict[str, str]:
    """What stands on each face of the turn page, by its anchor."""
    parts = page.split("<template")[0].split('<section class="step')[1:]
    return {part.split('id="')[1].split('"')[0]: part for part in parts}


@pytest.mark.usefixtures("creeping")
def test_a_piece_begins_and_ends_with_what_drifts(visitor: TestClient) -> None:
    found = sections(visitor.get("/sets/1/turn/7").text)
    for anchor in ("mount", "done"):
        assert "First bead, crown creeps up" in text_of(found[anchor])
        assert "Check caliper" in text_of(found[anchor])
    assert "creeps" not in text_of(found[f"size:{CROWN}"])


@pytest.mark.usefixtures("creeping")
def test_at_that_place_it_says_what_to_aim_for_and_what_is_drawn(
    visitor: TestClient,
) -> None:
    found = sections(visitor.get("/sets/1/turn/7").text)
    hinted = {anchor for anchor, face in found.items() if "data-instead" in face}
    assert hinted == {f"size:{CROWN}", "form:st5"}
    (row,) = [r for r in found["readings"].split("<li ") if f'name="final:{CROWN}"' in r]
    assert "it joins the others; drawn 22.0." in text_of(row)
    assert 'data-to="22"' in row  # the script puts the aim there


def test_where_nothing_drifts_nothing_is_said(shop: Shop, visitor: TestClient) -> None:
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, range(1, 7), scatter=0.15)
    page = visitor.get("/sets/1/turn/7").text
    assert '<p class="caution" data-drift hidden></p>' in page
    assert "data-instead" not in page
    assert tap(visitor, 7, "done")["drift"] is None


@pytest.mark.usefixtures("creeping")
def test_a_phone_hears_it_in_the_answer_to_the_piece_it_finished(visitor: TestClient) -> None:
    drift = tap(visitor, 7, "done")["drift"]
    assert "First bead, crown creeps up" in drift["line"]
    sizing, forming, reading = drift["aims"]
    assert [aim["at"] for aim in drift["aims"]] == [f"size:{CROWN}", "form:st5", f"final:{CROWN}"]
    assert re.match(
        r"The last crept up: caliper [A-C] on its gauge first\. Finish it at 22\.\d mm later",
        sizing["say"],
    )
    assert "to" not in sizing
    assert forming["to"] == reading["to"] > 22.0
    figure = forming["put"][".size > span"]
    assert re.fullmatch(
        rf"The last crept up: caliper [A-C] on its gauge first\. {figure} mm joins the others;"
        r" drawn 22\.0\.",
        forming["say"],
    )
    assert drift["line"].endswith(
        f"then the edge. Then aim for {figure} mm: that joins the others."
    )
    assert "drift" not in tap(visitor, 7, "step", step_id="mount")


@pytest.mark.usefixtures("creeping")
def test_once_the_caliper_was_checked_no_drift_is_told_but_the_aim_stays(
    visitor: TestClient,
) -> None:
    letter = tap(visitor, 7, "done")["drift"]["line"].split("caliper ")[1][0]
    tapped = visitor.post(
        "/sets/1/pieces/0/mark",
        data={"key": secrets.token_hex(16), "what": "caliper_checked", "about": letter},
        headers=ASKS,
    ).json()
    assert tapped["drift"]["line"] == ""
    assert {aim["at"] for aim in tapped["drift"]["aims"]} >= {"form:st5"}
    assert "creeps" not in text_of(visitor.get("/sets/1/turn/7").text)


def cells(page: str) -> dict[str, str]:
    """The crown's line in the table of every reading, by piece."""
    table = page.split('class="figures all by-piece"')[1]
    heads = [text_of(head) for head in re.findall(r"<th scope=\"col\".*?</th>", table)]
    at = heads.index("First bead, crown") - 1
    rows = re.findall(r"<tr><th scope=\"row\">(.*?)</th>(.*?)</tr>", table, re.S)
    return {text_of(n): text_of(re.findall(r"<td.*?</td>", each)[at]) for n, each in rows}


@pytest.mark.usefixtures("creeping")
def test_lathe_piece_page_and_table_mark_one_reading_alike(visitor: TestClient) -> None:
    """Read where the set stands, more than the limit over what is drawn."""
    (aim,) = [a for a in tap(visitor, 7, "done")["drift"]["aims"] if a["at"] == f"final:{CROWN}"]
    value, shown = f"{aim['to'] + 0.7:.1f}", f"{aim['to']:.1f}"
    sent = {"key": "7" * 32, "station_id": CROWN, "value": value, "unit": "mm"}
    sent |= {"phase": "final", "target_mm": str(aim["to"])}
    answered = visitor.post("/sets/1/pieces/7/reading", data=sent, headers=ASKS).json()
    assert answered["shape"] == "●"
    piece = text_of(visitor.get("/sets/1/pieces/7").text)
    off = f"+{float(value) - 22:.1f}"
    stood = f"by where the set stood: {shown}; drawn 22.0."
    assert f"First bead, crown Marked {stood} {value} ● {off} within" in piece
    table = visitor.get("/sets/1/review/table").text
    assert cells(table)["7"] == off
    assert cells(table)["6"].startswith("▲")  # so said the lathe, which showed what is drawn
    assert f"Piece 7 at First bead, crown is marked {stood}" in text_of(table)
    corrected = next(
        form
        for form in form_fields(visitor.get("/sets/1/pieces/7").text, "/sets/1/pieces/7/reading")
        if form["supersedes"] == "7" * 32
    )
    visitor.post("/sets/1/pieces/7/reading", data=corrected | {"value": value + "1"})
    assert f"{value} ● {off} within" in text_of(visitor.get("/sets/1/pieces/7").text)


@pytest.mark.usefixtures("creeping")
def test_the_list_without_script_is_judged_by_the_aim_its_page_showed(
    shop: Shop, visitor: TestClient
) -> None:
    def shown() -> list[str]:
        page = visitor.get("/sets/1/turn/7").text
        return re.findall(r'name="aim" value="([^"]*)"', sections(page)["readings"])

    before = shown()
    (to_mm,) = (aim.split()[1] for aim in before if aim.startswith(f"final:{CROWN} "))
    shopfloor.turn(
        shop, sets.found(shop, 1), [8], seed=8, off_mm={(8, CROWN): 2.5}
    )  # on another device
    assert shown() != before
    sent = {"key": "8" * 32, "aim": before, f"final:{CROWN}": "23.2"}
    visitor.post("/sets/1/pieces/7/readings", data=sent)
    assert readings.standing(shop, 1, 7)[-1].target_mm == float(to_mm)
    assert f"against {float(to_mm):.1f} mm" in text_of(visitor.get("/sets/1/pieces/7").text)


@pytest.mark.usefixtures("creeping")
@pytest.mark.parametrize(("over_mm", "stands"), [(0.5, True), (0.0, False)])
def test_what_drifts_is_told_until_a_piece_comes_out_as_aimed(
    visitor: TestClient, over_mm: float, stands: bool
) -> None:
    """A piece back a little is no proof: the warning is there again when the page is."""
    (aim,) = [a for a in tap(visitor, 7, "done")["drift"]["aims"] if a["at"] == f"final:{CROWN}"]
    sent = {"key": "9" * 32, "station_id": CROWN, "value": f"{aim['to'] + over_mm:.1f}"}
    sent |= {"unit": "mm", "phase": "final", "target_mm": str(aim["to"])}
    visitor.post("/sets/1/pieces/7/reading", data=sent, headers=ASKS)
    line = text_of(sections(visitor.get("/sets/1/turn/7").text)["done"])
    assert ("First bead, crown creeps up" in line) is stands
    assert ("by piece 6. Check caliper" in line) is stands


def test_review_and_the_next_pieces_page_name_the_same_aims(
    shop: Shop, visitor: TestClient
) -> None:
    """The pieces agree among each other, all half a millimetre over: nothing drifts."""
    kept = shopfloor.started(shop)
    shopfloor.turn(
        shop, kept, range(1, 5), scatter=0.05, off_mm={(n, CROWN): 0.5 for n in range(1, 5)}
    )
    review = text_of(visitor.get("/sets/1/review").text)
    (aim,) = [
        one["put"][".size > span"]
        for one in tap(visitor, 5, "spoiled")["drift"]["aims"]
        if one["at"] == "form:st5"
    ]
    assert f"{aim} at First bead, crown" in review
    assert f"Drawn 22.0. The others are thicker: {aim} mm joins them." in text_of(
        visitor.get("/sets/1/turn/6").text
    )


def test_a_reading_keeps_the_size_that_was_shown_and_is_judged_by_it(
    visitor: TestClient, shop: Shop
) -> None:
    kept = shopfloor.started(shop)
    data = {"station_id": CROWN, "value": "22.9", "unit": "mm", "revision": "1"}

    def answered(phase: str, target: str) -> dict[str, Any]:
        sent = data | {"key": secrets.token_hex(16), "phase": phase, "target_mm": target}
        reply = visitor.post(f"/sets/{kept.id}/pieces/1/reading", data=sent, headers=ASKS)
        return {"status": reply.status_code, **reply.json()}

    assert answered("final", "")["word"] == "over"
    assert answered("final", "22.4")["word"] == "within"
    assert readings.standing(shop, kept.id, 1)[-1].target_mm == 22.4
    for wrong in ("27", "nan", "x"):
        assert answered("final", wrong)["status"] == 422
