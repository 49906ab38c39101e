"""Patterns read, pasted, scaled, ordered and put away."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from benchside.job import patterns
from benchside.job.shop import Lathe, keep_lathe
from benchside.store.database import Shop
from tests import shopfloor
from tests.job.pattern_bench import AT, TABLE
from tests.web.pattern_forms import values

# ------------------------------------------------------------------ reading


def test_the_first_time_says_what_a_pattern_is_and_offers_the_first_step(
    laptop: TestClient,
) -> None:
    page = laptop.get("/patterns").text
    assert "what every piece of a set is turned to" in page
    assert 'href="/patterns/new"' in page


def test_the_list_shows_each_pattern_with_a_drawing(laptop: TestClient, bench: int) -> None:
    page = laptop.get("/patterns").text
    assert "Hall bench back spindle" in page
    assert f"/sets/new?pattern={bench}" in page
    assert page.count('class="drawing whole"') == 1


@pytest.mark.parametrize(
    "path",
    ["", "/edit", "/scale", "/order", "/table.csv", "?unit=in", "?revision=1", "?unit=furlongs"],
)
def test_every_page_of_a_pattern_opens(laptop: TestClient, bench: int, path: str) -> None:
    assert laptop.get(f"/patterns/{bench}{path}").status_code == 200


@pytest.mark.parametrize(
    "path", ["", "?start=rung", "?start=bead", "?start=ends", "?start=nonsense"]
)
def test_a_new_pattern_starts_from_a_shape(laptop: TestClient, path: str) -> None:
    assert laptop.get(f"/patterns/new{path}").status_code == 200


@pytest.mark.parametrize("number", ["7", "0", "-1", "99999999999999999999999", "seven", "1;drop"])
def test_a_pattern_that_is_not_there_is_a_plain_page(laptop: TestClient, number: str) -> None:
    for end in ("", "/edit", "/scale", "/order", "/table.csv"):
        reply = laptop.get(f"/patterns/{number}{end}")
        assert reply.status_code in (404, 422)
        assert "Traceback" not in reply.text


def test_a_revision_that_is_not_there_is_not_found(laptop: TestClient, bench: int) -> None:
    assert laptop.get(f"/patterns/{bench}?revision=9").status_code == 404
    assert laptop.get(f"/patterns/{bench}?revision={10**30}").status_code in (404, 422)


def test_what_a_person_typed_never_becomes_markup(laptop: TestClient, shop: Shop) -> None:
    nasty = "</svg><script>alert(1)</script>"
    table = f"0,16,{nasty}\n200,18,middle\n400,16,“quoted” & <b>\n"
    pattern_id = patterns.read_table(shop, table, name=nasty, at=AT)
    for end in ("", "/edit", "/scale", "/order"):
        page = laptop.get(f"/patterns/{pattern_id}{end}").text
        assert "<script>alert" not in page
        assert "<b>" not in page
    assert "<script>alert" not in laptop.get("/patterns").text


def test_no_page_of_a_pattern_has_script_or_style_in_it(laptop: TestClient, bench: int) -> None:
    for path in ("", "/new", "/new?start=bead", f"/{bench}", f"/{bench}/edit", f"/{bench}/order"):
        page = laptop.get(f"/patterns{path}").text
        assert not re.search(r"<script(?![^>]*\bsrc=)|<style|\sstyle=|\son\w+=", page)


def test_lengths_can_be_looked_at_in_inches(laptop: TestClient, bench: int) -> None:
    page = laptop.get(f"/patterns/{bench}?unit=in").text
    assert "<sup>5</sup>⁄<sub>8</sub>" in page  # 15.875 mm is exactly 5/8 in


# ------------------------------------------------------------------ tables, scaling, order


def test_a_pasted_table_becomes_a_pattern(laptop: TestClient, shop: Shop) -> None:
    reply = laptop.post("/patterns/read", data={"table": TABLE})
    assert reply.headers["location"] == "/patterns/1"
    assert patterns.shown(shop, 1).pattern.length_mm == 500


def test_an_uploaded_file_becomes_a_pattern(laptop: TestClient, shop: Shop) -> None:
    files = {"file": ("bench.csv", TABLE.encode("utf-8-sig"), "text/csv")}
    reply = laptop.post("/patterns/read", data={"table": "", "name": "From a file"}, files=files)
    assert reply.status_code == 303
    assert patterns.shown(shop, 1).kept.name == "From a file"


@pytest.mark.parametrize("content", [b"\xff\xfe\x00\x01", b"", b"\x89PNG\r\n", b"0,16\n"])
def test_a_file_that_is_no_table_is_refused(laptop: TestClient, shop: Shop, content: bytes) -> None:
    files = {"file": ("picture.png", content, "image/png")}
    reply = laptop.post("/patterns/read", data={"table": "", "name": "Odd"}, files=files)
    assert reply.status_code == 422
    assert 'role="alert"' in reply.text
    assert patterns.listed(shop) == ()


def test_a_table_with_mistakes_is_given_back_with_each_row_told(
    laptop: TestClient, shop: Shop
) -> None:
    text = "0,16,end\nabc,16,next\n50,many,third\n60,16,last\n"
    reply = laptop.post("/patterns/read", data={"table": text, "name": "Twice wrong"})
    assert reply.status_code == 422
    assert "Row 2:" in reply.text
    assert "Row 3:" in reply.text
    assert "50,many,third" in reply.text
    assert patterns.listed(shop) == ()


def test_a_table_written_out_has_a_plain_file_name(laptop: TestClient, bench: int) -> None:
    reply = laptop.get(f"/patterns/{bench}/table.csv")
    assert reply.headers["content-type"].startswith("text/csv")
    assert 'filename="hall-bench-back-spindle.csv"' in reply.headers["content-disposition"]
    assert laptop.post("/patterns/read", data={"table": reply.text}).status_code == 303


def test_another_length_is_looked_at_before_it_is_kept(
    laptop: TestClient, shop: Shop, bench: int
) -> None:
    form = {"length": "600", "unit": "mm", "base": "1"}
    page = laptop.post(f"/patterns/{bench}/scale", data={**form, "do": "preview"})
    assert page.status_code == 200
    assert "Save as revision 2" in page.text
    assert patterns.shown(shop, bench).newest == 1
    kept = laptop.post(f"/patterns/{bench}/scale", data={**form, "do": "save"})
    assert kept.status_code == 303
    assert patterns.shown(shop, bench).pattern.length_mm == 600


def test_a_pattern_at_another_length_is_offered_a_name_that_says_so(
    laptop: TestClient, bench: int
) -> None:
    path, form = f"/patterns/{bench}/scale", {"unit": "mm", "base": "1", "do": "preview"}

    def names(**more: str) -> tuple[str, str]:
        page = laptop.post(path, data={**form, **more}).text
        return (
            values(page, "name")[0],
            values(page, "suggested")[0],
        )

    first = names(length="600", name="", suggested="")
    assert first == ("Hall bench back spindle, 600 mm",) * 2
    second = names(length="700", name=first[0], suggested=first[1])
    assert second[0] == "Hall bench back spindle, 700 mm"
    mine = names(length="800", name="For the stairs", suggested=second[1])
    assert mine[0] == "For the stairs"


def test_steps_stand_in_the_units_own_step_and_only_tenons_finer(
    laptop: TestClient, bench: int
) -> None:
    page = laptop.get(f"/patterns/{bench}/order").text
    # 1/16 in over 30.4 mm, and a tenon of 15.875 mm.
    assert "stop at 32.0 mm" in page
    assert "stop at 15.88 mm" in page
    assert "31.99" not in page


def test_an_odd_order_gets_a_word_on_its_page(laptop: TestClient, bench: int) -> None:
    path = f"/patterns/{bench}/order"
    reply = laptop.post(
        path, data={"do": "earlier:set_out"}, headers={"Accept": "application/json"}
    )
    assert "comes before it is roughed" in reply.json()["advice"]
    assert "comes before it is roughed" in laptop.get(path).text


def test_a_tapered_tenon_that_comes_out_fatter_is_told_before_saving(
    laptop: TestClient, shop: Shop
) -> None:
    # A tenon on one taper from tip to shoulder: shorter makes it steeper, so fatter at its mark.
    table = (
        "at,diameter,name,kind,section\n0,12,tip,tenon,taper\n"
        "300,30,middle,slender,taper\n600,12,far tip,tenon,\n"
    )
    pattern_id = patterns.read_table(shop, table, name="Tapered", at=AT)
    page = laptop.post(
        f"/patterns/{pattern_id}/scale",
        data={"length": "400", "unit": "mm", "base": "1", "do": "preview"},
    )
    assert "comes out fatter" in page.text


@pytest.mark.parametrize("length", ["", "0", "-5", "NaN", "1e9", "2000", "10", "🙂", "x" * 10_000])
def test_a_length_that_cannot_be_is_refused(
    laptop: TestClient, shop: Shop, bench: int, length: str
) -> None:
    form = {"length": length, "unit": "mm", "base": "1", "do": "save"}
    reply = laptop.post(f"/patterns/{bench}/scale", data=form)
    assert reply.status_code == 422
    assert 'role="alert"' in reply.text
    assert patterns.shown(shop, bench).newest == 1


def test_a_step_moves_by_its_button_and_goes_back_on_reset(
    laptop: TestClient, shop: Shop, bench: int
) -> None:
    before = [s.id for s in patterns.steps(shop, bench).steps]
    reply = laptop.post(f"/patterns/{bench}/order", data={"do": f"earlier:{before[5]}"})
    assert reply.status_code == 303
    moved = [s.id for s in patterns.steps(shop, bench).steps]
    assert moved[4] == before[5]
    laptop.post(f"/patterns/{bench}/order", data={"do": "reset:"})
    assert [s.id for s in patterns.steps(shop, bench).steps] == before


def test_a_script_sends_the_whole_order(laptop: TestClient, shop: Shop, bench: int) -> None:
    steps = [s.id for s in patterns.steps(shop, bench).steps]
    steps[3], steps[6] = steps[6], steps[3]
    reply = laptop.post(
        f"/patterns/{bench}/order",
        data={"do": "order", "step": steps},
        headers={"Accept": "application/json"},
    )
    assert reply.json()["order"] == steps
    assert reply.json()["own"] is True
    page = laptop.get(f"/patterns/{bench}/order").text
    assert re.search('data-order="ours" hidden', page)
    assert not re.search('data-order="own" hidden', page)
    assert [s.id for s in patterns.steps(shop, bench).steps] == steps


def test_speeds_are_kept_as_typed_and_too_long_ones_are_given_back(
    laptop: TestClient, bench: int
) -> None:
    laptop.post(f"/patterns/{bench}/speeds", data={"speed-rough": "900"})
    assert 'value="900"' in laptop.get(f"/patterns/{bench}/order").text
    reply = laptop.post(f"/patterns/{bench}/speeds", data={"speed-rough": "9" * 30})
    assert reply.status_code == 422
    assert "9" * 30 in reply.text


def test_one_button_turns_duplicates_renames_and_puts_away(
    laptop: TestClient, shop: Shop, bench: int
) -> None:
    base = f"/patterns/{bench}"
    seen = laptop.get(f"{base}/mirror").text
    assert "Save as revision 2" in seen
    assert patterns.shown(shop, bench).newest == 1
    assert laptop.post(f"{base}/mirror", data={"base": "1"}).status_code == 303
    late = laptop.post(f"{base}/mirror", data={"base": "1"})
    assert late.status_code == 409
    assert "Save as revision 3" in late.text
    assert laptop.post(f"{base}/go-back", data={"revision": "1"}).status_code == 303
    assert patterns.shown(shop, bench).newest == 3
    copy = laptop.post(f"{base}/duplicate", data={"copy_name": "Twin"})
    assert copy.headers["location"] == "/patterns/2"
    assert laptop.post(f"{base}/duplicate", data={"copy_name": ""}).status_code == 422
    assert laptop.post(f"{base}/name", data={"name": "Porch", "note": "ash"}).status_code == 303
    assert "Porch" in laptop.get(base).text
    assert laptop.post(f"{base}/name", data={"name": "", "note": "kept"}).status_code == 422
    assert laptop.post(f"{base}/archive").headers["location"] == "/patterns"
    assert "Porch" not in laptop.get("/patterns").text
    assert "Porch" in laptop.get("/patterns?archived=1").text
    laptop.post(f"{base}/archive", data={"back": "1"})
    assert "Porch" in laptop.get("/patterns").text


def test_another_origin_changes_nothing(laptop: TestClient, shop: Shop, bench: int) -> None:
    reply = laptop.post(
        f"/patterns/{bench}/archive", headers={"Origin": "http://elsewhere.example"}
    )
    assert reply.status_code == 403
    assert len(patterns.listed(shop)) == 1


def test_a_length_that_cannot_be_is_told_with_those_that_can_be(
    laptop: TestClient, shop: Shop
) -> None:
    shopfloor.started(shop)
    form = {"unit": "mm", "base": "1", "do": "preview"}
    for length in ("2000", "280"):
        page = laptop.post("/patterns/1/scale", data={**form, "length": length}).text
        found = re.search(r"Not that long: (\d+) to (\d+) mm is possible", page)
        assert found, page
        shortest, longest = map(float, found.groups())
        assert longest == 915  # what goes between the centres of a lathe nobody described
        for fits in (shortest, longest):
            assert (
                "Save as revision"
                in laptop.post("/patterns/1/scale", data={**form, "length": str(fits)}).text
            )
        short = laptop.post("/patterns/1/scale", data={**form, "length": str(shortest - 2)})
        assert short.status_code == 422


def test_a_length_a_hair_over_what_goes_on_the_lathe_is_not_told_as_possible(
    laptop: TestClient, shop: Shop
) -> None:
    shopfloor.started(shop)
    keep_lathe(shop, Lathe(between_centres_mm=699.99))
    form = {"unit": "mm", "base": "1", "do": "preview", "length": "2000"}
    assert "to 699 mm is possible" in laptop.post("/patterns/1/scale", data=form).text
