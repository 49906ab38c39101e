"""A browser without script: everything can be read, and what matters can be kept."""

from __future__ import annotations

from contextlib import closing

import pytest
from playwright.sync_api import Locator, expect

from benchside.job import wood
from benchside.store.database import Shop
from tests.browser.bench import Bench, now, peg
from tests.browser.conftest import NewPhone
from tests.browser.hand import SAYS, Phone

LINES = "all => all.map(e => e.offsetHeight / parseFloat(getComputedStyle(e).lineHeight))"


@pytest.fixture
def plain(new_phone: NewPhone) -> Phone:
    """A phone without script."""
    return new_phone(java_script_enabled=False)


def test_every_step_can_be_read_by_its_links(bench: Bench, plain: Phone) -> None:
    kept = bench.started()
    steps = bench.work(kept).steps
    plain.turns(kept)
    plain.shows("mount")
    anchors = ["readings" if s.phase == "final" and s.reads else s.id for s in steps]
    for anchor in dict.fromkeys(anchors):
        plain.opens_more()
        if not plain.step.locator("[open] > .steps-list").count():
            plain.unfolds(SAYS["all_steps"])
        plain.step.locator(f'.steps-list a[href="#{anchor}"]').tap()
        plain.shows(anchor)
        expect(plain.page.locator("section.step").filter(visible=True)).to_have_count(1)
        expect(plain.step.get_by_role("heading", level=1)).to_be_visible()


def field(plain: Phone, step: str) -> Locator:
    """Where the reading of a step is typed, in the list of all."""
    return plain.step.locator(f'input[name="{step}"]')


def take(plain: Phone) -> None:
    plain.step.get_by_role("button", name=SAYS["take_all"], exact=True).tap()
    plain.shows("readings")


def row(plain: Phone, step: str) -> Locator:
    return plain.step.locator("li").filter(has=plain.page.locator(f'input[name="{step}"]'))


@pytest.mark.quick
def test_the_buttons_under_the_list_of_readings_hold_their_words(
    bench: Bench, plain: Phone
) -> None:
    kept = bench.started(peg())
    plain.turns(kept, 1, "readings")
    links = plain.step.locator(".go-line a")
    expect(links).to_have_count(2)
    room = links.evaluate_all("all => all.map(e => e.clientWidth - e.scrollWidth)")
    assert min(room) >= 0, room


@pytest.mark.quick
def test_no_name_in_the_list_of_readings_is_broken_within_a_word(
    bench: Bench, new_phone: NewPhone
) -> None:
    kept = bench.started()
    green = wood.Given("white ash", "green", "green", "figure", lives_mc=8.0)
    with closing(Shop(bench.db)) as shop:
        wood.give(shop, kept.id, green, at=now())
    small = new_phone(size={"viewport": {"width": 360, "height": 640}}, java_script_enabled=False)
    small.turns(kept, 1, "readings")
    names = small.step.locator("label > span").filter(has_text="tenon")
    expect(names.first).to_have_text("Foot tenon")
    expect(small.step.locator("label > b").first).to_contain_text("green")
    lines = names.evaluate_all(LINES)
    assert max(lines) < 2.5, lines


def test_readings_are_taken_and_come_back_with_their_verdicts(bench: Bench, plain: Phone) -> None:
    kept = bench.started(peg())
    plain.turns(kept, 1, "readings")
    field(plain, "final:s1").fill("20,2")
    field(plain, "size:s1").fill("21.6")
    take(plain)
    expect(row(plain, "final:s1")).to_contain_text("20.2: Right.")
    taken = [("s1", "diameter", "sizing", "21.6"), ("s1", "diameter", "final", "20,2")]
    assert bench.readings(kept) == taken
    plain.page.reload()
    assert bench.readings(kept) == taken


def test_a_tenon_is_read_both_ways_across(bench: Bench, plain: Phone) -> None:
    kept = bench.started()
    plain.turns(kept, 1, "readings")
    field(plain, "final:s1").fill("16.02")
    field(plain, "final:s1/B").fill("15.98")
    take(plain)
    axes = "SELECT axis, typed FROM reading WHERE set_id = ? ORDER BY id"
    assert bench.rows(axes, kept.id) == [("A", "16.02"), ("B", "15.98")]


def test_a_mistake_is_explained_beside_its_field_and_the_others_are_kept(
    bench: Bench, plain: Phone
) -> None:
    kept = bench.started(peg())
    plain.turns(kept, 1, "readings")
    wrong = field(plain, "final:s1")
    wrong.fill("about <20>")
    field(plain, "final:s2").fill("14")
    take(plain)
    expect(wrong).to_have_value("about <20>")
    expect(wrong).to_have_attribute("aria-invalid", "true")
    said = row(plain, "final:s1").locator(".problem")
    expect(said).to_contain_text("“about <20>” is not a length.")
    assert wrong.get_attribute("aria-describedby") == said.get_attribute("id")
    assert bench.typed(kept) == ["14"]


def test_a_surprising_figure_is_asked_about_and_then_taken(bench: Bench, plain: Phone) -> None:
    kept = bench.started(peg())
    plain.turns(kept, 1, "readings")
    field(plain, "final:s1").fill("25")
    take(plain)
    expect(row(plain, "final:s1")).to_contain_text("25 is 5.0 mm over what it should be.")
    plain.step.get_by_label(SAYS["sure"]).check()
    take(plain)
    expect(row(plain, "final:s1").locator(".verdict")).to_contain_text("25.0")
    assert bench.typed(kept) == ["25"]


def test_a_step_is_ticked_and_the_next_one_shows(bench: Bench, plain: Phone) -> None:
    kept = bench.started(peg())
    plain.turns(kept)
    plain.goes_on()
    plain.shows("rough")
    assert bench.marks(kept) == [("step", "mount")]


def test_a_step_a_note_and_the_end_of_a_piece_are_kept(bench: Bench, plain: Phone) -> None:
    kept = bench.started(peg())
    plain.turns(kept, 1, "thin:s1")
    plain.goes_on()
    plain.shows("readings")
    plain.opens_more()
    plain.step.get_by_label("A note on this piece").fill("a knot")
    plain.step.get_by_role("button", name="Keep the note").tap()
    plain.shows("more")
    plain.turns(kept, 1, "done")
    plain.big_button.tap()
    plain.shows("mount")
    assert plain.piece == "Piece 2 of 3"
    assert [what for what, _ in bench.marks(kept)] == ["step", "note", "done"]


def test_the_rest_of_the_readings_is_skipped_and_taken_up_again(bench: Bench, plain: Phone) -> None:
    kept = bench.started(peg())
    plain.turns(kept, 1, "readings")
    plain.step.get_by_role("link", name=SAYS["rest"]["link"]).tap()
    plain.shows("skip-rest")
    plain.big_button.tap()
    plain.shows("done")
    expect(plain.step.get_by_text(SAYS["rest"]["left_out"])).to_be_visible()
    plain.step.get_by_role("button", name=SAYS["rest"]["undo"]).tap()
    plain.shows("readings")
    assert [what for what, _ in bench.marks(kept)] == ["skip", "withdrawn"]
    plain.turns(kept, 1, "done")
    expect(plain.step.get_by_text(SAYS["rest"]["left_out"])).to_be_hidden()


def test_every_other_page_can_be_read(bench: Bench, plain: Phone) -> None:
    kept = bench.started()
    bench.turned(kept, 1)
    for path in ("/", f"/sets/{kept.id}", f"/sets/{kept.id}/review", f"/sets/{kept.id}/pieces/1"):
        plain.open(path)
        expect(plain.page.get_by_role("heading", level=1)).to_be_visible()
        expect(plain.page.locator("main")).to_contain_text(
            "Test stretchers" if path != f"/sets/{kept.id}/pieces/1" else "First bead"
        )
