"""The pages of a set's wood and of its drying, and of species."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from benchside.job import drying, turning, wood
from benchside.job.work import work_of
from benchside.moments import as_text
from benchside.pattern import Pattern, Section, Station
from benchside.store import wood as store_wood
from benchside.store.database import Shop
from benchside.web.drying import told
from benchside.web.render import now
from benchside.wood.climate import climates
from benchside.wood.species import all_species
from tests import shopfloor
from tests.job.fitted_bench import a_seat
from tests.web.pages import text_of

AT = "2026-02-01T08:00:00.000Z"
FORM = {
    "species": "White Ash",
    "state": "green",
    "route": "green",
    "climate": "cold_winters",
    "moisture": "",
    "sizing_mm": "0,3",
    "rough_mm": "3.2",
}


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    opened = shopfloor.open_shop(tmp_path)
    shopfloor.started(opened)
    yield opened
    opened.close()


def key_of(page: str, form: str) -> str:
    found = re.search(
        rf'action="[^"]*/{form}"[^>]*>.*?name="key" value="([0-9a-f]{{32}})"', page, re.S
    )
    assert found
    return found[1]


def test_wood_is_said_in_one_form_and_the_sizes_stand_with_their_reasons(
    visitor: TestClient,
) -> None:
    assert 'href="/sets/1/wood"' in visitor.get("/sets/1").text
    first = text_of(visitor.get("/sets/1/wood").text)
    assert "Say what this set is made of" in first
    said = text_of(visitor.post("/sets/1/wood", data=FORM).text)
    assert "White ash, green at 45 %" in said
    assert "Lower tenon 12.70 dry 13.82 green" in said
    assert "Left for the last cut when it is dry +0.30" in said
    assert "Wood Handbook, 2010, read there" in said
    assert "A tenth over, as many do by habit, would be 13.97" in said
    turn = visitor.get("/sets/1/turn/1").text
    assert "13.82" in turn
    assert "Now green: why" in turn
    assert "as white ash dries from 45 to 7" in turn
    assert "Try its hole when dry" in turn
    assert "try at" not in turn
    assert 'data-tenon="wet"' in turn


def test_a_bead_with_no_room_is_told_the_same_size_on_the_wood_page_and_at_the_lathe(
    visitor: TestClient, shop: Shop
) -> None:
    kept = shopfloor.started(shop, shopfloor.round_bead())
    said = text_of(visitor.post(f"/sets/{kept.id}/wood", data=FORM).text)
    turned = work_of(shop, kept).places["crown:st5"].diameter_mm
    assert f"First bead, crown 26.90 wanted, dries to 26.29 {turned:.1f} green" in said
    why = "A bead stands no higher over its ends than half its length"
    assert f"{why}: there is room for {turned:.2f} mm and not for the 28.59 mm reckoned" in said
    lathe = visitor.get(f"/sets/{kept.id}/turn/1").text
    assert f'data-finish="{turned}"' in lathe
    assert why in text_of(lathe)


def test_what_does_not_fit_stands_beside_its_field_with_what_was_typed(visitor: TestClient) -> None:
    wrong = {**FORM, "species": "wite ash", "moisture": "soaked", "winter_rh": "120"}
    reply = visitor.post("/sets/1/wood", data=wrong)
    assert reply.status_code == 422
    said = text_of(reply.text)
    assert "2 things do not fit yet" in said
    assert "Nearest: white ash" in said
    assert 'value="soaked"' in reply.text
    assert "Say what this set is made of" in said


def test_species_are_searched_and_one_s_own_are_added(visitor: TestClient) -> None:
    assert "Fraxinus americana" in visitor.get("/species?q=white+ash").text
    assert "No species is called that" in visitor.get("/species?q=zzz").text
    refused = visitor.post("/species", data={"name": "mill ash", "radial_percent": "5"})
    assert refused.status_code == 422
    assert 'value="mill ash"' in refused.text
    own = {"name": "mill ash", "radial_percent": "5,2", "tangential_percent": "9.9"}
    kept = text_of(visitor.post("/species", data=own).text)
    assert "mill ash is kept" in kept
    assert "9.9 your own figure" in kept


def test_a_moisture_is_one_figure_on_every_page(visitor: TestClient) -> None:
    # Northern red oak holds 80 % in its heartwood and 69 in its sapwood [@wood-handbook-2021,
    # table 4-1, in a copy made by others]; their middle is reckoned with.
    visitor.post("/sets/1/wood", data={**FORM, "species": "northern red oak"})
    assert "green at 74.5 %" in text_of(visitor.get("/sets/1/wood").text)
    assert "74.5 % , the figure given" in text_of(visitor.get("/sets/1/drying").text)
    assert "dries from 74.5 to 7.3" in text_of(visitor.get("/sets/1/turn/1").text)
    assert "at 74.5 %" in text_of(visitor.get("/sets/1/sheet").text)
    listed = text_of(visitor.get("/species?q=northern+red+oak").text)
    assert re.search(r" 80 [a-z ,]+ 69 ", listed)
    fifth = "one tree in three lies more than a fifth off it"
    assert fifth in text_of(visitor.get("/sets/1/wood").text)


def test_the_pages_of_the_wood_lead_to_one_another(visitor: TestClient) -> None:
    visitor.post("/sets/1/wood", data=FORM)
    for page, leads in (("wood", ("stock", "plan", "drying")), ("drying", ("dry", "fit"))):
        told = visitor.get(f"/sets/1/{page}").text
        assert all(f'href="/sets/1/{to}"' in told for to in leads)
    assert 'href="/sets/1/fit"' in visitor.get("/sets/1/dry").text


def test_weighing_from_the_first_day_to_a_forecast(visitor: TestClient) -> None:
    assert "First say what it is made of" in visitor.get("/sets/1/drying").text
    visitor.post("/sets/1/wood", data=FORM)
    page = visitor.get("/sets/1/drying").text
    assert "Nothing weighed yet" in page
    sent = {"key": key_of(page, "weigh"), "number": "3", "mass": "217,5", "unit": "g"}
    asked = visitor.post("/sets/1/drying/weigh", data=sent)
    assert "Piece 3 is still to be turned" in text_of(asked.text)
    page = visitor.post("/sets/1/drying/weigh", data={**sent, "sure": "yes"}).text
    assert "Not yet." in page
    assert "Two more weighings" in page
    assert '<option value="3" selected>' in page  # no other has been on the lathe
    sent = {"key": key_of(page, "weigh"), "number": "3", "mass": "240", "unit": "g"}
    asked = visitor.post("/sets/1/drying/weigh", data=sent)
    assert asked.status_code == 422
    assert "would have gained" in asked.text
    assert 'value="240"' in asked.text
    assert 'name="sure"' in asked.text


def test_after_the_last_that_was_turned_the_first_is_weighed_again(
    visitor: TestClient, shop: Shop
) -> None:
    visitor.post("/sets/1/wood", data=FORM)
    for number in (1, 2):
        mark = turning.Marked(f"{number:032x}", "done", "done")
        turning.mark(shop, 1, number, mark, device_id=None, received_at=AT)
    assert '<option value="2" selected>' in visitor.get("/sets/1/drying?after=1").text
    assert '<option value="1" selected>' in visitor.get("/sets/1/drying?after=2").text


def test_weights_on_paper_are_typed_with_their_days(visitor: TestClient, shop: Shop) -> None:
    visitor.post("/sets/1/wood", data=FORM)
    page = visitor.get("/sets/1/drying").text
    today = datetime.now().astimezone().date()
    assert f'name="day" max="{today}" value="{today}"' in page
    for ago, mass in ((1, "7 1/4"), (3, "8 1/2"), (2, "7 3/4")):
        sent = {"number": "3", "mass": mass, "unit": "oz", "sure": "yes", "opened": f"{today}"}
        sent |= {"key": f"{ago:032x}", "day": f"{today - timedelta(days=ago)}"}
        page = visitor.post("/sets/1/drying/weigh", data=sent).text
    piece = drying.view(shop, 1, now=now()).pieces[0]
    assert [w.typed for w in piece.weighings] == ["8 1/2", "7 3/4", "7 1/4"]
    assert piece.days == (0.0, 1.0, 2.0)
    assert "8 1/2 oz" in page
    assert "last weighed" in page
    sent |= {"key": "f" * 32, "mass": "7", "day": f"{today + timedelta(days=1)}"}
    refused = visitor.post("/sets/1/drying/weigh", data=sent)
    assert refused.status_code == 422
    assert "That day is still to come" in refused.text
    assert 'id="weigh-day-problem"' in refused.text
    # A page left open since yesterday names yesterday, and means today.
    yesterday = f"{today - timedelta(days=1)}"
    sent |= {"day": yesterday, "opened": yesterday}
    visitor.post("/sets/1/drying/weigh", data=sent)
    assert drying.view(shop, 1, now=now()).pieces[0].days[-1] > 2.0


def test_a_day_that_is_past_without_a_weighing_asks_for_one(shop: Shop) -> None:
    wood.give(shop, 1, wood.Given("white ash", "green", "green", "cold_winters"), at=AT)
    for day, grams in enumerate((217.5, 196.7, 183.5)):
        weighed = f"2026-02-0{2 + day}T08:00:00.000Z"
        how = {"key": f"{day:032x}", "at": weighed, "sure": True}
        drying.weigh(shop, 1, 3, f"{grams}", "g", **how)
    soon = told(drying.view(shop, 1, now="2026-02-04T09:00:00.000Z"))["day"]
    assert re.fullmatch(r"Most likely dry on \w+ \d+ Feb, between .* and .*\.", soon)
    found = drying.view(shop, 1, now=AT).pieces[0].forecast
    between = datetime(2026, 2, 2, 8, tzinfo=UTC) + timedelta((found.day_low + found.day) / 2)
    any_day = told(drying.view(shop, 1, now=as_text(between)))["day"]
    assert re.fullmatch(r"Most likely dry on .*; it may be any day until .*\.", any_day)
    late = told(drying.view(shop, 1, now="2026-03-31T09:00:00.000Z"))["day"]
    assert "That day is past: weigh it again." in late


def test_the_forms_beside_the_scales_keep_what_they_are_given(visitor: TestClient) -> None:
    visitor.post("/sets/1/wood", data=FORM)
    page = visitor.get("/sets/1/drying").text
    cut = {"key": key_of(page, "slice"), "wet": "13.6", "dry": "10", "unit": "g"}
    assert "36.0 %" in visitor.post("/sets/1/drying/slice", data=cut).text
    wrong = {"temperature_c": "20", "rh_percent": "120"}
    refused = visitor.post("/sets/1/drying/room", data=wrong)
    assert refused.status_code == 422
    assert 'value="120"' in refused.text
    air = {"temperature_c": "30", "rh_percent": "25", "diffusion": "1,5"}
    assert (
        "An estimate, before the weights can tell"
        in visitor.post("/sets/1/drying/room", data=air).text
    )
    page = visitor.get("/sets/1/drying").text
    noted = {"key": key_of(page, "note"), "number": "", "what": "dried"}
    none = visitor.post("/sets/1/drying/note", data=noted)
    assert "No piece is off the lathe yet. Choose the piece." in text_of(none.text)
    said = text_of(visitor.post("/sets/1/drying/note", data={**noted, "number": "2"}).text)
    assert "Piece 2: dry since" in said
    assert visitor.get("/sets/9/drying").status_code == 404


def test_a_spoiled_piece_is_offered_neither_to_the_scales_nor_to_be_noted(
    visitor: TestClient,
) -> None:
    visitor.post("/sets/1/wood", data=FORM)
    visitor.post("/sets/1/pieces/2/mark", data={"key": "e" * 32, "what": "spoiled"})
    page = visitor.get("/sets/1/drying").text
    weigh, note = (page.split(f'action="/sets/1/drying/{form}"')[1] for form in ("weigh", "note"))
    for form in (weigh, note):
        offered = re.findall(r'<option value="(\d+)"', form.split("</form>")[0])
        assert "1" in offered
        assert "2" not in offered
    assert "Piece 3, to turn" in note


def test_a_species_typed_by_another_of_its_names_is_told_by_which_it_goes_here(
    visitor: TestClient,
) -> None:
    for typed, understood in (
        ("yew", "“yew” is taken as Pacific yew, Taxus brevifolia. Is yours another tree?"),
        ("rock maple", "“rock maple” is taken as sugar maple, Acer saccharum."),
    ):
        page = visitor.post("/sets/1/wood", data={**FORM, "species": typed}).text
        assert understood in text_of(page)
    assert "(also hard maple" in text_of(page)
    assert "is taken as" not in text_of(visitor.get("/sets/1/wood").text)
    assert "Acer saccharum, also hard maple, rock maple" in text_of(
        visitor.get("/species?q=rock").text
    )
    for typed in ("Maple, sugar", "Acer saccharum", "sugar maple"):
        page = visitor.post("/sets/1/wood", data={**FORM, "species": typed}).text
        assert "is taken as" not in text_of(page)
    hole = {"key": "d" * 32, "bit": "Spade", "named": "16", "unit": "mm", "species": "soft maple"}
    page = visitor.post("/holes", data=hole).text
    assert "“soft maple” is taken as red maple, Acer rubrum." in text_of(page)


def test_an_own_species_keeps_the_letters_of_its_name(visitor: TestClient) -> None:
    own = {"name": "oak from the Weald", "radial_percent": "4", "tangential_percent": "8"}
    visitor.post("/species", data=own)
    page = text_of(
        visitor.post("/sets/1/wood", data={**FORM, "species": "oak from the Weald"}).text
    )
    assert "Oak from the Weald, green at" in page
    assert "from green to 0 %; your own figure." in page
    assert "one tree in three" not in page
    assert "is taken as" not in page
    for other in ("as-made", "sheet"):
        page = text_of(visitor.get(f"/sets/1/{other}").text)
        assert "by your own figures" in page
        assert "by the book" not in page


def test_the_size_to_turn_now_is_one_figure_on_the_page_and_at_the_lathe(
    shop: Shop, visitor: TestClient
) -> None:
    """16.175 mm over 0.9319 is 17.3643: 0.684 in, but the lathe is told 17.36, 0.683 in."""
    rung = Pattern(
        "Rung",
        (Station("a", 0.0, 15.875, "Foot", "tenon"), Station("b", 200.0, 25.4, "Swell")),
        (Section("taper"),),
    )
    kept = shopfloor.started(shop, rung, name="Oak rungs", unit="in/64")
    wood.keep_species(shop, "Weald oak", 4.5, 9.0, at=AT)
    given = wood.Given("Weald oak", "green", "green", "cold_winters")
    wood.give(shop, kept.id, given, at=AT)
    page = text_of(visitor.get(f"/sets/{kept.id}/wood").text)
    assert "Foot 0.625 dry 0.683 green" in page
    assert "dashed as turned, 0.683 ;" in page
    assert "0.684" not in page
    assert ">0.683</span>" in visitor.get(f"/sets/{kept.id}/turn/1").text
    dry = wood.Given("Weald oak", "figure", "dry", "figure", moisture=8.0, lives_mc=8.0)
    wood.give(shop, kept.id, dry, at=AT)
    assert "What the round becomes" not in text_of(visitor.get(f"/sets/{kept.id}/wood").text)


def test_the_wood_of_a_set_with_holes_says_that_these_decide(
    shop: Shop, visitor: TestClient
) -> None:
    visitor.post("/sets/1/wood", data={**FORM, "state": "kiln-dry", "route": "dry"})
    told = "On the lathe a tenon is brought to what its hole wants, where that is known"
    assert told not in text_of(visitor.get("/sets/1/wood").text)
    a_seat(shop, 1)
    for page in ("wood", "steps", "sheet"):
        assert told in text_of(visitor.get(f"/sets/1/{page}").text)
    visitor.post("/sets/1/wood", data=FORM)
    assert told not in text_of(visitor.get("/sets/1/wood").text)  # green: they are turned fat


def test_the_pages_hold_in_inches(shop: Shop, visitor: TestClient) -> None:
    kept = shopfloor.started(shop, name="Inches", unit="in/64")
    given = wood.Given("red oak", "green", "rough", "warm_damp")
    wood.give(shop, kept.id, given, at=AT)
    said = text_of(visitor.get(f"/sets/{kept.id}/wood").text)
    assert "Rough it to, now" in said
    assert visitor.get(f"/sets/{kept.id}/turn/1").status_code == 200


def test_the_air_of_a_room_is_taken_in_fahrenheit_and_asked_about_where_no_scale_is_said(
    shop: Shop, visitor: TestClient
) -> None:
    kept = shopfloor.started(shop, name="Fahrenheit", unit="in/64")
    base = f"/sets/{kept.id}"
    air = {"winter_c": "68 F", "winter_rh": "30", "summer_c": "75.2 °F", "summer_rh": "50"}
    form = {**FORM, "climate": "own", "sizing_mm": "", "rough_mm": "", **air}
    refused = visitor.post(f"{base}/wood", data={**form, "winter_c": "68"})
    assert refused.status_code == 422
    assert "is that °F or °C? Type 68 F, or 68 C." in text_of(refused.text)
    assert visitor.post(f"{base}/wood", data=form).status_code == 200
    said = wood.view(shop, kept.id).wood
    assert said is not None
    assert (said.winter_c, said.summer_c) == (20.0, 24.0)
    again = visitor.get(f"{base}/wood").text
    assert 'value="68 °F"' in again
    room = {"temperature_c": "120", "rh_percent": "20", "diffusion": ""}
    assert "°F or °C" in text_of(visitor.post(f"{base}/drying/room", data=room).text)
    visitor.post(f"{base}/drying/room", data={**room, "temperature_c": "122 F"})
    assert 'value="122 °F"' in visitor.get(f"{base}/drying").text
    assert store_wood.room(shop, kept.id).temperature_c == 50.0


def test_every_climate_is_told_with_the_figures_it_has_in_both_scales(visitor: TestClient) -> None:
    said = " ".join(text_of(visitor.get("/sets/1/wood").text).split())
    for climate in climates():
        for celsius, humid in (
            (climate.winter_c, climate.winter_rh),
            (climate.summer_c, climate.summer_rh),
        ):
            told = f"{celsius:g} °C ({32 + 1.8 * celsius:.0f} °F) and {humid:g} %"
            assert told in said.replace("\u202f", " ").replace("\xa0", " ")


def test_what_cannot_be_reckoned_without_a_shrinkage_is_said_and_how_to_mend_it(
    visitor: TestClient,
) -> None:
    page = text_of(visitor.get("/species").text)
    assert "8 species whose shrinkage is not known" in page
    assert "no size to turn now, no oval and no fit" in page
    found = visitor.get("/species?q=osage").text
    assert "Give it your own shrinkage" in found
    (link,) = set(re.findall(r'href="(/species[?]own=[^#"]+)#own">Give', found))
    page = visitor.get(link).text
    assert 'value="Osage-orange"' in page
    assert '<details id="own" open>' in page
    form = {"name": "Osage-orange", "radial_percent": "4,1", "tangential_percent": "6"}
    assert "Osage-orange is kept" in text_of(visitor.post("/species", data=form).text)
    assert (
        "Give it your own shrinkage"
        not in visitor.get("/species?q=osage").text.split("<details")[0]
    )


def test_rays_that_shrink_more_than_the_rings_are_asked_about(visitor: TestClient) -> None:
    assert all(
        s.radial_percent < s.tangential_percent
        for s in all_species()
        if s.radial_percent is not None and s.tangential_percent is not None
    )
    form = {"name": "Mill ash", "radial_percent": "7.8", "tangential_percent": "4.9"}
    asked = visitor.post("/species", data=form)
    assert asked.status_code == 422
    assert "Along the rays 7.8 %, along the rings only 4.9 %" in text_of(asked.text)
    assert 'value="7.8"' in asked.text
    kept = visitor.post("/species", data={**form, "sure": "1"})
    assert "Mill ash is kept" in text_of(kept.text)


def test_a_species_left_empty_is_said_to_be_so(visitor: TestClient) -> None:
    said = text_of(visitor.post("/sets/1/wood", data={**FORM, "species": " "}).text)
    assert "No species is typed. Such as: white ash, soft maple." in said
    assert "Nearest" not in said
