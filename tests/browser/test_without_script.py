"""A browser without script: everything can be read, and what matters can be kept."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.bench import Bench, peg
from tests.browser.conftest import NewPhone
from tests.browser.hand import SAYS, Phone


@pytest.fixture
def plain(new_phone: NewPhone) -> Phone:
    """A phone without script."""
    return new_phone(java_script_enabled=False)


@pytest.mark.slow
def test_every_step_can_be_read_by_its_links(bench: Bench, plain: Phone) -> None:
    kept = bench.started()
    steps = bench.work(kept).steps
    plain.turns(kept)
    plain.shows("mount")
    for step in steps:
        anchor = f"{step.id}/read" if step.phase == "final" and step.reads else step.id
        plain.opens_more()
        plain.step.locator(f'.steps-list a[href="#{anchor}"]').tap()
        plain.shows(anchor)
        expect(plain.page.locator("section.step").filter(visible=True)).to_have_count(1)
        expect(plain.step.get_by_role("heading", level=1)).to_be_visible()


@pytest.mark.quick
def test_one_reading_is_taken_and_comes_back_with_its_verdict(bench: Bench, plain: Phone) -> None:
    kept = bench.started(peg())
    plain.turns(kept, 1, "final:s1/read")
    plain.entry.fill("20,2")
    plain.step.get_by_role("button", name=SAYS["take"], exact=True).tap()
    plain.shows("final:s1/read")
    expect(plain.verdict).to_contain_text("20.2: Right.")
    assert bench.typed(kept) == ["20,2"]
    plain.page.reload()
    assert bench.typed(kept) == ["20,2"]


def test_a_mistake_is_explained_beside_the_field_and_given_back(bench: Bench, plain: Phone) -> None:
    kept = bench.started(peg())
    plain.turns(kept, 1, "final:s1/read")
    plain.entry.fill("about <20>")
    plain.step.get_by_role("button", name=SAYS["take"], exact=True).tap()
    expect(plain.entry).to_have_value("about <20>")
    expect(plain.entry).to_have_attribute("aria-invalid", "true")
    expect(plain.verdict).to_contain_text("“about <20>” is not a length.")
    said = plain.entry.get_attribute("aria-describedby")
    assert said == plain.verdict.get_attribute("id")
    assert bench.typed(kept) == []


@pytest.mark.slow
def test_a_surprising_figure_is_asked_about_and_then_taken(bench: Bench, plain: Phone) -> None:
    kept = bench.started(peg())
    plain.turns(kept, 1, "final:s1/read")
    plain.entry.fill("25")
    plain.step.get_by_role("button", name=SAYS["take"], exact=True).tap()
    expect(plain.verdict).to_contain_text("25 is 5.0 mm over what it should be.")
    plain.step.get_by_label(SAYS["sure"]).check()
    plain.step.get_by_role("button", name=SAYS["take"], exact=True).tap()
    expect(plain.verdict).to_contain_text("25.0")
    assert bench.typed(kept) == ["25"]


def test_a_step_is_ticked_and_the_next_one_shows(bench: Bench, plain: Phone) -> None:
    kept = bench.started(peg())
    plain.turns(kept)
    plain.goes_on()
    plain.shows("rough")
    assert bench.marks(kept) == [("step", "mount")]


@pytest.mark.slow
def test_a_note_a_skip_and_the_end_of_a_piece_are_kept(bench: Bench, plain: Phone) -> None:
    kept = bench.started(peg())
    plain.turns(kept, 1, "final:s1/read")
    plain.goes_on()
    plain.shows("final:middle:s1/read")
    plain.opens_more()
    plain.step.get_by_label("A note on this piece").fill("a knot")
    plain.step.get_by_role("button", name="Keep the note").tap()
    plain.shows("more")
    plain.turns(kept, 1, "done")
    plain.big_button.tap()
    plain.shows("mount")
    assert plain.piece == "Piece 2 of 3"
    assert [what for what, _ in bench.marks(kept)] == ["skip", "note", "done"]


@pytest.mark.slow
def test_every_other_page_can_be_read(bench: Bench, plain: Phone) -> None:
    kept = bench.started()
    bench.turned(kept, 1)
    for path in ("/", f"/sets/{kept.id}", f"/sets/{kept.id}/review", f"/sets/{kept.id}/pieces/1"):
        plain.open(path)
        expect(plain.page.get_by_role("heading", level=1)).to_be_visible()
        expect(plain.page.locator("main")).to_contain_text(
            "Test stretchers" if path != f"/sets/{kept.id}/pieces/1" else "First bead"
        )
