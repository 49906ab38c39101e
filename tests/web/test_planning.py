"""The plan page: the worst cut drawn, the steady tried, the maker's own force and limit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from pathlib import Path
from re import findall
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient

from benchside.job import planning
from benchside.job import shop as shops
from benchside.store.database import Shop
from tests import shopfloor
from tests.web.pages import browsing, text_of


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    opened = shopfloor.open_shop(Path(tmp_path_factory.mktemp("plan")))
    shopfloor.started(opened)
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def browser(shop: Shop) -> Iterator[TestClient]:
    yield from browsing(shop)


def owning(shop: Shop, **said: Any) -> None:
    shops.keep_lathe(shop, replace(shops.Lathe(), **said))


def test_every_cut_stands_in_its_order_with_its_reason(shop: Shop, browser: TestClient) -> None:
    owning(shop)
    seen = planning.view(shop, 1)
    page = browser.get("/sets/1/plan").text
    cuts = findall(r'href="\?cut=([^"#]*)#seen"(?! rel| class)', page.split('class="cuts"')[1])
    assert [unescape(cut).replace("%3A", ":") for cut in cuts] == [c.step.id for c in seen.cuts]
    assert "Tenons are cut while the wood about them is thick." in text_of(page)
    assert "The thinnest part last" in text_of(page)


def test_the_picture_of_the_give_has_its_table(shop: Shop, browser: TestClient) -> None:
    owning(shop, steady="ring")
    for cut in (None, planning.view(shop, 1).cuts[0].step.id):
        line = (seen := planning.view(shop, 1, cut)).line
        page = browser.get("/sets/1/plan", params={"cut": cut} if cut else {}).text
        table = page.split("Give at each station")[1].split("</table>")[0]
        stations = seen.work.pattern.stations
        assert [name.strip() for name in findall(r'row">([^<]+)<', table)] == [
            station.name for station in stations
        ]
        assert len(line.at_stations) == len(stations)
        for station, (bare_mm, left_mm) in zip(stations, line.at_stations, strict=True):
            assert bare_mm == pytest.approx(np.interp(station.at_mm, line.x_mm, line.bare_mm), 0.02)
            assert (left_mm is None) == (line.left_mm is None)
        most = max(bare_mm for bare_mm, _ in line.at_stations)
        assert f"{most:.2g} mm" in text_of(table)
        assert ("steadied" in table) == (line.left_mm is not None)


def test_one_cut_is_drawn_and_the_worst_is_the_first_shown(shop: Shop, browser: TestClient) -> None:
    owning(shop)
    seen = planning.view(shop, 1)
    assert seen.shown == seen.worst
    assert max(seen.line.bare_mm) >= seen.cuts[seen.worst].moment.bare_mm * 0.999
    marked = 'aria-current="true">'
    worst = browser.get("/sets/1/plan").text.split(marked)[1].split("<")[0]
    first = seen.cuts[0].step.id
    page = browser.get("/sets/1/plan", params={"cut": first}).text
    assert page.split(marked)[1].split("<")[0] == seen.work.places[first.split(":")[1]].name
    assert page.split(marked)[1].split("<")[0] != worst
    assert browser.get("/sets/1/plan", params={"cut": "gone"}).status_code == 200


def test_a_bead_goes_by_its_own_name_or_its_station_s(shop: Shop, browser: TestClient) -> None:
    drawn = shopfloor.back_spindle()
    pearl = [replace(s, name="=pearl") if s.form == "bead" else s for s in drawn.sections]
    kept = shopfloor.started(shop, replace(drawn, name="Pearls", sections=tuple(pearl)))
    own = text_of(browser.get(f"/sets/{kept.id}/plan").text)
    assert "=pearl small skew" in own
    assert "First bead to" not in own
    assert "First bead small skew" in text_of(browser.get("/sets/1/plan").text)


def test_who_owns_no_steady_is_told_what_else_helps(shop: Shop, browser: TestClient) -> None:
    owning(shop, give_limit_mm=0.02)
    page = text_of(browser.get("/sets/1/plan").text)
    assert "Fit the steady" not in page
    assert "You own none" in page
    assert "half the force gives half" in page
    assert "A bare hand flat" in page


def test_who_owns_one_is_told_where_it_goes(shop: Shop, browser: TestClient) -> None:
    owning(shop, give_limit_mm=0.05, steady="ring")
    seen = planning.view(shop, 1)
    fits = [c.fit for c in seen.cuts if c.fit]
    assert fits
    page = text_of(browser.get("/sets/1/plan").text)
    for fit in fits:
        assert f"the steady at {fit.at_mm:g} mm" in page or f"steady to {fit.at_mm:g} mm" in page
    turn = text_of(browser.get("/sets/1/turn/1").text)
    assert "Set it here. It touches, it does not push." in turn


@pytest.mark.parametrize("page", ["steps", "as-made"])
def test_the_steady_is_named_where_the_order_is_listed(shop, browser, page):
    owning(shop, give_limit_mm=0.05, steady="ring")
    fit = next(c.fit for c in planning.view(shop, 1).cuts if c.fit)
    assert f"Steady, at {fit.at_mm:g} mm" in browser.get(f"/sets/1/{page}").text


@pytest.mark.parametrize(("steady", "says"), [("9999", "off the work"), ("-5", ""), ("x", "")])
def test_a_steady_that_cannot_stand_there_is_told_and_given_back(
    shop: Shop, browser: TestClient, steady: str, says: str
) -> None:
    owning(shop)
    reply = browser.get("/sets/1/plan", params={"steady": steady})
    assert reply.status_code == 422
    assert 'id="steady-problem"' in reply.text
    assert f'value="{steady}"' in reply.text
    assert says in text_of(reply.text)


def test_a_steady_on_what_is_cut_is_told(shop: Shop, browser: TestClient) -> None:
    owning(shop)
    seen = planning.view(shop, 1)
    low, high = seen.line.cut_mm[0]
    reply = browser.get("/sets/1/plan", params={"steady": f"{(low + high) / 2:g}"})
    assert reply.status_code == 422
    assert "would stand on what is cut" in text_of(reply.text)


def test_force_and_limit_are_the_makers_and_go_back_to_ours(
    shop: Shop, browser: TestClient
) -> None:
    owning(shop)
    before = planning.view(shop, 1)
    reply = browser.post("/sets/1/plan/force", data={"force": "10", "limit": "0,4"})
    assert reply.status_code == 303
    after = planning.view(shop, 1)
    assert (after.bench.force_n, after.bench.limit_mm) == (10.0, 0.4)
    worst = [v.cuts[v.worst].moment.bare_mm for v in (before, after)]
    assert worst[1] == pytest.approx(2 * worst[0])  # the give is in proportion to the force
    browser.post("/sets/1/plan/force", data={"force": "", "limit": ""})
    assert planning.view(shop, 1).bench == before.bench


@pytest.mark.parametrize(
    ("force", "limit", "wrong"),
    [("0", "", "force"), ("much", "", "force"), ("1e9", "", "force"), ("5", "-1", "limit")],
)
def test_a_force_that_cannot_be_is_refused_with_what_was_typed(
    shop: Shop, browser: TestClient, force: str, limit: str, wrong: str
) -> None:
    owning(shop)
    reply = browser.post("/sets/1/plan/force", data={"force": force, "limit": limit})
    assert reply.status_code == 422
    assert f'id="{wrong}-problem"' in reply.text
    assert f'value="{force}"' in reply.text
    assert shops.lathe(shop).cut_force_n is None


def test_a_dip_gives_the_force_back_that_made_it(shop: Shop, browser: TestClient) -> None:
    owning(shop)
    seen = planning.view(shop, 1)
    cut = seen.cuts[seen.shown]
    i = int(seen.line.bare_mm.argmax())
    at, dip = seen.line.x_mm[i], seen.line.bare_mm[i]
    data = {"cut": cut.step.id, "at": f"{at:.4f}", "dip": f"{2.4 * dip:.5f}"}
    assert browser.post("/sets/1/plan/dip", data=data).status_code == 303
    assert shops.lathe(shop).cut_force_n == pytest.approx(2.4 * seen.bench.force_n, rel=1e-3)
    owning(shop)
    for wrong in ({"at": "0"}, {"dip": "0"}, {"dip": "wood"}, {"at": "9999"}, {"dip": "500"}):
        reply = browser.post("/sets/1/plan/dip", data={**data, **wrong})
        assert reply.status_code == 422
        assert "-problem" in reply.text
    assert shops.lathe(shop).cut_force_n is None
