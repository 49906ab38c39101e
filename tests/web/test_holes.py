"""The register of test holes, without scripts."""

from __future__ import annotations

import re

from starlette.testclient import TestClient

from tests.web.pages import text_of


def key_of(page: str) -> str:
    found = re.search(r'name="key" value="([0-9a-f]{32})"', page)
    assert found
    return found[1]


def test_a_bit_is_called_as_it_was_typed(visitor: TestClient) -> None:
    for n, (typed, unit, told) in enumerate(
        [("5/8 in", "mm", "5⁄8 in"), ("16", "mm", "16 mm"), ("5/8", "in/64", "5⁄8 in")], 1
    ):
        form = {"key": f"{n:032x}", "bit": "Twist", "named": typed, "unit": unit}
        visitor.post("/holes", data=form)
        assert f"Twist, {told}" in text_of(visitor.get(f"/holes/{n:032x}").text)
        assert f"Twist, {told}" in text_of(visitor.get("/holes").text)


def test_a_hole_from_the_empty_register_to_its_size_and_its_wear(visitor: TestClient) -> None:
    page = visitor.get("/holes").text
    assert "/holes" in visitor.get("/shop").text
    form = {"key": key_of(page), "bit": "Spade <b>", "named": "16", "species": "soft maple"}
    wrong = visitor.post("/holes", data={**form, "named": "sixteen", "species": "mapel"})
    assert wrong.status_code == 422
    assert "Spade &lt;b&gt;" in wrong.text
    assert 'value="sixteen"' in wrong.text
    assert 'id="named-problem"' in wrong.text
    assert 'id="species-problem"' in wrong.text
    page = visitor.post("/holes", data={**form, "unit": "mm"}).text
    assert "Measure it" in text_of(page)
    path = re.findall(r'action="(/holes/[0-9a-f]{32})"', page)[0]
    asked = visitor.post(path, data={"key": key_of(page), "a": "17,9", "b": "16,1"})
    assert asked.status_code == 422
    assert 'value="17,9"' in asked.text
    assert 'name="sure"' in asked.text
    page = visitor.post(path, data={"key": key_of(asked.text), "a": "16,3", "b": "16,1"}).text
    assert "16.20 mm" in text_of(page)
    assert "+0.20 mm on the bit" in text_of(page)
    reading = re.findall(r'name="key" value="([0-9a-f]{32})"', page)[-1]
    page = visitor.post(f"{path}/strike", data={"key": reading}).text
    assert "<s>16,1</s>" in page
    assert "One tenon more" in visitor.post(f"{path}/use", data={"uses": "11"}).text
    assert "bore a fresh one" in text_of(visitor.get("/holes").text)
    assert "worn since" in text_of(visitor.post(f"{path}/wear", data={}).text)
    assert "for rough sizing only" in text_of(visitor.get("/holes").text)


def test_a_hole_that_is_not_there_is_said_to_be_none(visitor: TestClient) -> None:
    assert visitor.get("/holes/" + "0" * 32).status_code == 404
    assert visitor.post("/holes/" + "0" * 32, data={"a": "16"}).status_code == 404
