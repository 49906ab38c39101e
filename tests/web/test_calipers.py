"""The two-minute test, walked through as a visitor without scripts walks."""

from __future__ import annotations

import re

from starlette.testclient import TestClient

from tests.web.pages import text_of

READ = ("22.14", "16.02", "12.70", "22.18", "16.05", "12.70", "22.16", "16.02", "12.70")


def asked(page: str) -> dict[str, str]:
    """The place and the turn that the page asks for."""
    return dict(re.findall(r'type="hidden" name="(place|turn)" value="(\d)"', page))


def walk(visitor: TestClient, figures: tuple[str, ...]) -> str:
    reply = visitor.post("/calipers", data={"step": "mm/100"})
    for figure in figures:
        reply = visitor.post(reply.url.path, data={**asked(reply.text), "value": figure})
        assert reply.status_code == 200
    return reply.text


def test_the_shop_leads_to_it_and_it_says_what_it_is_for(visitor: TestClient) -> None:
    assert 'href="/calipers"' in visitor.get("/shop").text
    said = text_of(visitor.get("/calipers").text)
    assert "neither do two readings of one place" in said
    assert "Lathe stopped" in said


def test_nine_readings_later_it_says_how_well_they_repeat(visitor: TestClient) -> None:
    said = text_of(walk(visitor, READ))
    # 1.96 times sqrt(0.0014 / 6): by hand, in tests/job/test_measuring.py.
    assert "Your calipers and hand repeat within ±0.030 mm" in said
    assert "less than 0.042 mm apart may be the very same size" in said
    assert "6 degrees of freedom" in said
    assert "±0.030 mm" in text_of(visitor.get("/calipers").text)


def test_while_it_runs_no_earlier_figure_is_shown(visitor: TestClient) -> None:
    page = walk(visitor, READ[:4])
    assert "Reading 5 of 9" in text_of(page)
    assert asked(page) == {"place": "2", "turn": "2"}
    assert not any(figure in page for figure in READ[:4])


def test_the_last_one_can_be_read_again(visitor: TestClient) -> None:
    page = walk(visitor, READ)
    (again,) = re.findall(r'href="(\?place=3&amp;turn=3)"', page)
    path = re.search(r"/calipers/\d+", walk(visitor, READ[:2]))
    assert path
    assert again
    page = visitor.get("/calipers/1?place=3&turn=3").text
    assert "in place of what was typed" in text_of(page)
    reply = visitor.post("/calipers/1", data={"place": "3", "turn": "3", "value": "12.72"})
    assert "12.72" in reply.text


def test_a_figure_far_off_is_given_back_with_its_question(visitor: TestClient) -> None:
    page = walk(visitor, READ[:3])
    assert asked(page) == {"place": "1", "turn": "2"}
    reply = visitor.post("/calipers/1", data={**asked(page), "value": "2.218"})
    assert reply.status_code == 422
    assert 'value="2.218"' in reply.text
    assert "far from what you read at place 1 before" in text_of(reply.text)
    assert 'name="sure"' in reply.text
    reply = visitor.post("/calipers/1", data={**asked(page), "value": "2.218", "sure": "1"})
    assert "Reading 5 of 9" in text_of(reply.text)


def test_what_is_no_figure_is_said_beside_the_field(visitor: TestClient) -> None:
    reply = visitor.post("/calipers", data={"step": "nothing"})
    assert reply.status_code == 422
    assert "Choose what your calipers show" in text_of(reply.text)
    walk(visitor, ())
    reply = visitor.post("/calipers/1", data={"place": "1", "turn": "1", "value": "thick"})
    assert reply.status_code == 422
    assert 'aria-invalid="true"' in reply.text
    assert visitor.get("/calipers/7").status_code == 404
    assert visitor.post("/calipers/7", data={"value": "3"}).status_code == 404


def test_in_inches_the_step_is_a_64th_and_so_is_the_floor(visitor: TestClient) -> None:
    reply = visitor.post("/calipers", data={"step": "in/64"})
    for _ in range(9):
        reply = visitor.post(reply.url.path, data={**asked(reply.text), "value": "5/8"})
    said = text_of(reply.text)
    # 1.96 / 64 / sqrt(12) in
    assert "within ±0.0088 in" in said
    assert "the step is what counts" in said


def test_only_steps_whose_readings_can_be_typed_are_offered(visitor: TestClient) -> None:
    """A rule's finest mark is 1/64 in, and finer fractions are not taken."""
    page = visitor.get("/calipers").text
    assert 'value="in/64"' in page
    assert "in/128" not in page


def test_ends_the_wrong_way_round_are_asked_about(visitor: TestClient) -> None:
    caliper = {"letter": "A", "kind": "spring", "least_mm": "75", "most_mm": "10", "was": ""}
    reply = visitor.post("/calipers/owned", data=caliper)
    assert reply.status_code == 422
    assert "It opens to less than it closes to. Change the two over?" in text_of(reply.text)
    assert 'value="75"' in reply.text
