"""Fractions set as one: where markup may stand, and where it may not."""

from __future__ import annotations

from benchside.web.fractions import set_in


def test_the_title_of_a_drawing_holds_no_markup() -> None:
    page = "<svg><title>1 5⁄8 in</title><text>1 5⁄8</text></svg>"
    said = set_in(page)
    assert "<title>1 5/8 in</title>" in said
    assert "<tspan" in said.split("</title>")[1]
