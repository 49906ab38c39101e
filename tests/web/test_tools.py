"""Calipers owned, edges and speeds: their pages, and their lines beside the steps."""

from __future__ import annotations

import random
import re

import pytest

from benchside.job import calipers, edges, patterns
from benchside.job import shop as shops
from benchside.lathe.edges import TOOLS
from benchside.pattern import Pattern, Section, Station
from benchside.store.tools import OwnedCaliper
from tests import shopfloor
from tests.web.pages import text_of

ASKS = {"Accept": "application/json"}


def face(page: str, step_id: str) -> str:
    """What stands on one face of the turn page."""
    (found,) = [
        part
        for part in page.split("<template")[0].split('<section class="step')[1:]
        if f'id="{step_id}"' in part.split(">")[0]
    ]
    return text_of(found)


def test_calipers_are_put_on_the_list_and_taken_off_it(shop, visitor):
    assert 'href="/calipers#owned"' in visitor.get("/shop").text
    first = {
        "letter": "a",
        "kind": "spring",
        "least_mm": "",
        "most_mm": "3 in",
        "name": " big  one",
    }
    visitor.post("/calipers/owned", data=first)
    gauge = {"letter": "G", "kind": "fixed", "least_mm": "9", "most_mm": "12,7"}
    said = text_of(visitor.post("/calipers/owned", data=gauge).text)
    assert calipers.owned(shop) == (
        OwnedCaliper("A", "spring", 0.0, 76.2, "big one"),  # 25.4 mm to the inch
        OwnedCaliper("G", "fixed", 12.7, 12.7),
    )
    assert "spring caliper, up to 76.2 mm big one" in said
    assert "fixed gauge, one size, 12.7 mm" in said
    visitor.post("/calipers/owned", data={"strike": "A"})
    assert [c.letter for c in calipers.owned(shop)] == ["G"]


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"letter": ""}, "letter"),
        ({"letter": "🪵"}, "letter"),
        ({"kind": "elastic"}, "kind"),
        ({"most_mm": "wide"}, "most_mm"),
        ({"most_mm": "9" * 5000}, "most_mm"),
        ({"least_mm": "-1"}, "least_mm"),
        ({"least_mm": "90"}, "most_mm"),
        ({"name": "n" * 3000}, "name"),
    ],
)
def test_a_caliper_that_cannot_be_comes_back_as_typed(shop, visitor, wrong, field):
    typed = {"letter": "Q", "kind": "firm", "least_mm": "3", "most_mm": "60", "name": "x"} | wrong
    reply = visitor.post("/calipers/owned", data=typed)
    assert reply.status_code == 422
    assert f'id="{field}-problem"' in reply.text
    if field != "most_mm":
        assert 'value="60"' in reply.text
    assert calipers.owned(shop) == ()


def test_after_how_many_pieces_they_are_checked_is_the_makers(shop, visitor):
    visitor.post("/calipers/recheck", data={"recheck": "8"})
    assert calipers.recheck_after(shop) == 8
    for wrong in ("0", "2,5", "often", "", "1e9"):
        reply = visitor.post("/calipers/recheck", data={"recheck": wrong})
        assert reply.status_code == 422
        assert 'id="recheck-problem"' in reply.text
    assert calipers.recheck_after(shop) == 8


def test_the_set_says_what_dealing_costs_and_what_none_opens_to(shop, visitor):
    kept = shopfloor.started(shop)
    page = text_of(visitor.get(f"/sets/{kept.id}").text)
    (piece, stage) = re.findall(r"set anew (\d+) times piece by piece, (\d+) stage by stage", page)[
        0
    ]
    assert int(piece) > int(stage)
    calipers.keep(shop, OwnedCaliper("A", "spring", 0.0, 20.0))
    page = text_of(visitor.get(f"/sets/{kept.id}").text)
    assert "None on your list opens to 23.6 mm, Swell" in page
    assert "Dealt so that the fewest" in page


def test_a_piece_begins_with_the_calipers_to_check_and_one_tap_says_it_is_done(shop, visitor):
    kept = shopfloor.started(shop, calipers=26)
    page = visitor.get(f"/sets/{kept.id}/turn/1").text
    assert "Check on a rule or gauge: A 23.6" in face(page, "mount")
    assert "Calipers checked" in face(page, "mount")
    assert "Check on a rule or gauge" not in face(page, "rough")
    tap = {"key": f"{random.Random(1).getrandbits(128):032x}", "what": "caliper_checked"}
    reply = visitor.post(f"/sets/{kept.id}/pieces/1/mark", data=tap, headers=ASKS)
    assert reply.json()["at_hand"]["calipers"].startswith("Calipers stand at:\nA 23.6\n")
    page = visitor.get(f"/sets/{kept.id}/turn/1").text
    assert "Calipers stand at: A 23.6" in face(page, "mount")
    assert "Calipers checked" not in face(page, "mount")


def test_the_edges_page_counts_and_keeps_the_makers_limits(shop, visitor):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    metres = {e.tool: e.passed.metres for e in edges.edges(shop)}
    said = text_of(visitor.get("/edges").text)
    assert f"Skew {metres['skew']:.0f} m of 600 m never tapped as touched up" in said
    limits = dict.fromkeys(TOOLS, "400") | {"skew": "12,5", "share": "80"}
    said = text_of(visitor.post("/edges", data=limits).text)
    assert "Skew touch up now" in said
    assert edges.limits(shop).after_m["skew"] == 12.5
    assert edges.limits(shop).cutting_share == 0.8
    assert "To be touched up: skew" in text_of(visitor.get("/shop").text)
    page = visitor.get(f"/sets/{kept.id}/turn/2").text
    due = [step for step in edges_named(page) if "Skew" in step]
    assert due
    assert all("Touch up first" in step for step in due)
    for wrong in ({"skew": "0"}, {"skew": "sharp"}, {"share": "101"}, {"share": ""}):
        reply = visitor.post("/edges", data=limits | wrong)
        assert reply.status_code == 422
        assert f'id="{next(iter(wrong))}-problem"' in reply.text
    assert edges.limits(shop).after_m["skew"] == 12.5


def edges_named(page: str) -> list[str]:
    return [text_of(t) for t in re.findall(r"<p data-line>(.*?)</p>", page, re.S)]


def test_a_touched_up_edge_falls_silent_on_the_phone(shop, visitor):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    edges.keep_limits(shop, edges.Limits(dict.fromkeys(TOOLS, 1.0), 0.5))
    before = edges_named(visitor.get(f"/sets/{kept.id}/turn/2").text)
    assert any("Roughing gouge" in line for line in before)
    tap = {
        "key": f"{random.Random(2).getrandbits(128):032x}",
        "what": "touched_up",
        "about": "roughing_gouge",
    }
    reply = visitor.post(f"/sets/{kept.id}/pieces/2/mark", data=tap, headers=ASKS).json()
    assert "rough" not in reply["at_hand"]


def test_every_piece_begins_with_a_fresh_edge_asked_for_and_one_tap_means_all(shop, visitor):
    kept = shopfloor.started(shop)
    shopfloor.turn(shop, kept, [1])
    page = visitor.get(f"/sets/{kept.id}/turn/2").text
    assert "Touch up the edges, then tap" in face(page, "mount")
    assert 'value="touched_up mount"' in page
    tap = {"key": "d" * 32, "what": "touched_up", "step_id": "mount"}
    assert visitor.post(f"/sets/{kept.id}/pieces/2/mark", data=tap, headers=ASKS).is_success
    assert all(edge.touched_at and edge.passed.metres == 0 for edge in edges.edges(shop))


def test_speeds_stand_beside_their_ceilings_with_the_reasons(shop, visitor):
    kept = shopfloor.started(shop)
    patterns.set_speeds(shop, kept.pattern_id, {"rough": "700", "form": "4000"})
    shops.keep_lathe(shop, shops.Lathe(steps_rpm=(500.0, 700.0, 3000.0)))
    said = text_of(visitor.get(f"/sets/{kept.id}/speeds").text)
    assert "Start at the slowest" in said
    assert "yours: 700 rpm, 1.3 m/s at the rim" in said
    assert "6000 ÷ 1.402 in" in said  # 25.175 mm, across the corners
    assert "No ceiling is told until it is round." in said
    assert said.count("Ceilings in turns a minute") == said.count("9000 for finishing")
    assert "the lathe turns no faster than 3,000 rpm" in said
    assert "950 to 3,500 rpm" in said
    assert "Milton & Wohlers, 1919" in said
    assert "Of your lathe’s steps 500, 700" in said
    page = visitor.get(f"/sets/{kept.id}/turn/1").text
    rough = face(page, "rough")
    assert "Your speed: 700 rpm, 1.3 m/s at the rim." in rough
    assert "Not round yet: why slow" in rough  # the lathe's own is none
    assert "Ceiling" not in rough
    assert "Still square, so out of balance" in rough
    assert "no faster than 3,000 rpm" in face(page, "form:st5")


def test_a_lathe_too_short_is_said_before_the_piece_is_mounted(shop, visitor):
    kept = shopfloor.started(shop)
    shops.keep_lathe(shop, shops.Lathe(between_centres_mm=400.0, steps_rpm=(9000.0,)))
    page = visitor.get(f"/sets/{kept.id}/turn/1").text
    long = "The piece is 450 mm long; your lathe takes 400 mm between the centres."
    assert long in face(page, "mount")
    assert "Even your lathe's slowest, 9,000 rpm" in face(page, "rough")
    assert re.search(
        r"9,000 rpm, is above a ceiling: [\d,]+ rpm at “[A-Z][a-z ]+”\. Do not mount it so",
        face(page, "mount"),
    )
    for other in ("speeds", "plan"):
        assert long in text_of(visitor.get(f"/sets/{kept.id}/{other}").text), other


def test_a_weak_neck_is_said_before_the_piece_is_mounted(shop, visitor):
    thin = Pattern(
        "Post",
        (
            Station("st1", 0.0, 40.0, "Foot"),
            Station("st2", 200.0, 10.0, "Neck"),
            Station("st3", 400.0, 40.0, "Head"),
        ),
        (Section("taper"), Section("taper")),
    )
    weak, stout = shopfloor.started(shop, thin), shopfloor.started(shop)
    said = "Its thinnest place will be 25 % of its thickest, under 33 %: a weak neck"
    assert said in face(visitor.get(f"/sets/{weak.id}/turn/1").text, "mount")
    assert said in text_of(visitor.get(f"/sets/{weak.id}/plan").text)
    for page in ("turn/1", "plan"):
        assert "weak neck" not in visitor.get(f"/sets/{stout.id}/{page}").text


def test_a_square_too_wide_across_its_corners_is_said_in_the_sets_own_unit(shop, visitor):
    # Roughed to 43 mm and 1/8 in, 46.2 mm; across the corners of its square 65.3 mm, 2 37/64 in:
    # some of its sizes would miss their limits in sixteenths, so all are told in 64ths.
    kept = shopfloor.started(shop, shopfloor.landing_baluster(), unit="in/16")
    shops.keep_lathe(shop, shops.Lathe(swing_mm=60.0))
    square = "A square that makes it is 2 37⁄64 in across its corners"
    for page in ("speeds", "plan"):
        told = text_of(visitor.get(f"/sets/{kept.id}/{page}").text)
        assert f"{square}, more than your lathe's swing of 2 23⁄64 in." in told, page


def test_how_the_wood_wears_an_edge_is_a_choice_of_the_set(shop, visitor):
    kept = shopfloor.started(shop)
    page = visitor.get(f"/sets/{kept.id}/settings").text
    typed = dict(re.findall(r'<input id="(\w+)"[^>]*value="([^"]*)"', page))
    more = {"unit": "mm", "habit": "piece", "headstock": "left", "note": "", "cuts": "abrasive"}
    assert visitor.post(f"/sets/{kept.id}/settings", data=typed | more).status_code == 200
    assert shopfloor.set_again(shop, kept).choices.cuts == "abrasive"
