"""Every form of section is known wherever forms are told apart."""

from __future__ import annotations

import json

import numpy as np
import pytest

from benchside.draw.whole import whole
from benchside.lathe.course import Bench, standing
from benchside.lathe.parts import stock_mm
from benchside.lathe.plan import plan
from benchside.pattern import Pattern, Section, Station
from benchside.pattern.stations import FORMS
from benchside.pattern.table import read_pattern, write_pattern
from benchside.store import patterns
from benchside.web.render import TEMPLATES
from tests import shopfloor

THROUGH_MM = {"bead": 28.0, "cove": 15.0}  # a form that has a crown or a root of its own


def one_of(form: str) -> Pattern:
    """A spindle with a section of that form in its middle, between ends of two sizes."""
    return Pattern(
        f"One {form}",
        tuple(
            Station(f"st{i}", at_mm, size_mm, f"Station {i}")
            for i, (at_mm, size_mm) in enumerate([(0, 25), (100, 24), (125, 22), (225, 25)], 1)
        ),
        (Section("taper"), Section(form, THROUGH_MM.get(form)), Section("taper")),
    )


@pytest.mark.parametrize("form", FORMS)
def test_a_form_has_its_curve_and_is_drawn(form):
    found = one_of(form)
    begins_mm, ends_mm = found.ends_mm(1)
    inside = found.diameter_mm_at([100 + 1e-6, 125 - 1e-6])
    assert inside == pytest.approx([begins_mm, ends_mm], abs=1e-4)
    all_cut = standing(found, frozenset(range(3)), stock_mm(found), Bench())
    at = np.linspace(101, 124, 5)
    assert np.interp(at, all_cut.x_mm, all_cut.diameter_mm) == pytest.approx(
        found.diameter_mm_at(at), abs=0.3
    )
    assert "nan" not in whole(found, width=600).lower()


@pytest.mark.parametrize("form", FORMS)
def test_a_form_has_its_tool_its_step_and_its_words(form):
    words = json.loads((TEMPLATES / "words.json").read_text("utf-8"))
    (step,) = (s for s in plan(one_of(form)) if s.section == 1)
    for group, key in (("tool", step.tool), ("say", step.say), ("why", step.why)):
        assert key in words[group]
    on_paper = json.loads((TEMPLATES / "words_paper.json").read_text("utf-8"))
    assert on_paper["paper"]["forms"][form]


@pytest.mark.parametrize("form", FORMS)
def test_a_form_is_kept_written_and_offered(form, shop, browser):
    found = one_of(form)
    assert read_pattern(write_pattern(found)) == found
    with shop.transaction() as db:
        pattern_id = patterns.add(db, found, note="", at=shopfloor.moment(0))
    assert patterns.found(shop, pattern_id).pattern == found
    page = browser.get(f"/patterns/{pattern_id}/edit").text
    assert f'<option value="{form}" selected>' in page
