"""The drawings of a spindle: small, honest, safe to show."""

from __future__ import annotations

import zlib

import pytest

from benchside.draw import spindle
from benchside.draw.whole import whole
from benchside.errors import OutOfRange
from benchside.pattern import Pattern, places
from tests.draw.samples import HOSTILE, SVG, baluster, bench_spindle, numbers, tree

LABEL = "Hall bench back spindle, piece 7 of 9: sizing at the first bead, 244 mm from the tail end"


def a_whole_turning(pattern: Pattern) -> list[str]:
    """One drawing a step: square, round, every groove, every section, every final reading."""
    seen = spindle.view(pattern)
    found = places(pattern)
    last = len(pattern.sections)
    every = [p.at_mm for p in found if p.role in ("station", "crown", "root")]
    drawings = [spindle.at_step(pattern, seen, round_=False, label=LABEL)]
    for k, p in enumerate(p for p in found if p.at_mm in every):
        size = p.diameter_mm + 1.6
        drawings.append(
            spindle.at_step(
                pattern,
                seen,
                sized=every[:k],
                here_mm=p.at_mm,
                here_diameter_mm=size,
                label=LABEL,
            )
        )
    order = [*range(0, last, 2), *range(1, last, 2)]
    for k in range(last + 1):
        drawings.append(
            spindle.at_step(
                pattern, seen, done=order[:k], sized=every, here_mm=every[k], label=LABEL
            )
        )
    drawings += [
        spindle.at_step(pattern, seen, done=range(last), here_mm=at, label=LABEL) for at in every
    ]
    return drawings


def test_every_step_of_a_turning_reads_as_xml_and_weighs_under_800_bytes() -> None:
    drawings = a_whole_turning(bench_spindle())
    tree(spindle.symbols(bench_spindle(), spindle.view(bench_spindle())), *drawings)
    assert max(len(d.encode()) for d in drawings) < 800


def test_eighty_steps_in_one_document_travel_in_few_bytes() -> None:
    pattern = bench_spindle()
    drawings = (a_whole_turning(pattern) * 3)[:80]
    page = spindle.symbols(pattern, spindle.view(pattern)) + "".join(drawings)
    assert len(zlib.compress(page.encode())) < 6000


def test_a_pattern_of_twenty_five_stations_weighs_under_1100_bytes_a_step() -> None:
    assert max(len(d.encode()) for d in a_whole_turning(baluster())) < 1100


def test_what_a_step_refers_to_is_defined_once_in_the_symbols() -> None:
    pattern = bench_spindle()
    symbols = tree(spindle.symbols(pattern, spindle.view(pattern)))
    ids = [e.get("id") for e in symbols.iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    used = {u.get("href") for d in a_whole_turning(pattern) for u in tree(d).iter(f"{SVG}use")}
    assert used <= {f"#{name}" for name in ids}


def test_two_patterns_live_in_one_document_under_two_prefixes() -> None:
    one, other = (spindle.view(bench_spindle(), prefix=p) for p in ("a", "b"))
    drawn = tree(spindle.symbols(bench_spindle(), one), spindle.symbols(bench_spindle(), other))
    ids = [e.get("id") for e in drawn.iter() if e.get("id")]
    assert len(ids) == len(set(ids))


def test_a_prefix_that_could_break_out_of_an_id_is_refused() -> None:
    with pytest.raises(ValueError, match="prefix"):
        spindle.view(bench_spindle(), prefix='a"><script>')


def test_only_the_unfinished_stretches_are_drawn_as_stock() -> None:
    pattern = bench_spindle()
    seen = spindle.view(pattern, headstock="right")
    step = tree(spindle.at_step(pattern, seen, done=[1, 2, 3]))
    rough = [p.get("d") or "" for p in step.iter(f"{SVG}path") if p.get("class") == "rough"]
    along = 314 / 520
    starts = [(n[0], n[2]) for n in map(numbers, rough[0].split("M")[1:])]
    assert starts == [
        pytest.approx((24.0, 35 * along), abs=0.07),
        pytest.approx((24 + 252 * along, (520 - 252) * along), abs=0.07),
    ]


def test_the_jaws_close_on_the_place_and_the_size_in_hand() -> None:
    pattern = bench_spindle()
    seen = spindle.view(pattern)
    step = tree(spindle.at_step(pattern, seen, here_mm=190, here_diameter_mm=26.6))
    x, across = 338 - 190 * 314 / 520, 2 * 314 / 520
    held = next(g for g in step.iter(f"{SVG}g") if g[0].get("href") == "#aj")
    assert numbers(held.get("transform") or "")[:2] == pytest.approx([x, (132 - 14) / 2], abs=0.07)
    upper, lower, _ = (float(jaw.get("y") or 0) for jaw in held)
    assert (upper, lower) == pytest.approx((-13.3 * across, 13.3 * across), abs=0.07)


def test_at_a_finished_size_the_caliper_is_the_one_of_the_symbols() -> None:
    pattern = bench_spindle()
    seen = spindle.view(pattern)
    for place in places(pattern):
        used = f"#{spindle.hand(seen, place.id)}"
        assert f'href="{used}"' in spindle.at_step(pattern, seen, here_mm=place.at_mm)


def test_a_finished_spindle_shows_neither_stock_nor_dashes() -> None:
    pattern = bench_spindle()
    step = spindle.at_step(pattern, spindle.view(pattern), done=range(8))
    assert "rough" not in step
    assert "#at" not in step


def test_a_groove_where_the_pattern_has_no_place_is_refused() -> None:
    pattern = bench_spindle()
    with pytest.raises(OutOfRange, match="111"):
        spindle.at_step(pattern, spindle.view(pattern), sized=[111])


@pytest.mark.parametrize("at_mm", [-1.0, 521.0, float("nan")])
def test_a_place_off_the_spindle_is_refused(at_mm: float) -> None:
    pattern = bench_spindle()
    with pytest.raises(OutOfRange):
        spindle.at_step(pattern, spindle.view(pattern), here_mm=at_mm, here_diameter_mm=20)
    with pytest.raises(OutOfRange):
        whole(pattern, width=400, labels=[(at_mm, "nowhere")])


def test_what_a_person_typed_cannot_leave_its_place_in_a_drawing() -> None:
    pattern = bench_spindle()
    named = whole(bench_spindle(name=HOSTILE[:-1]), width=800)
    assert tree(named)[0].get("aria-label") == HOSTILE[:-1]
    step = spindle.at_step(pattern, spindle.view(pattern), label=HOSTILE)
    drawn = whole(pattern, width=800, labels=[(190, HOSTILE)], length_text=HOSTILE, title=HOSTILE)
    typed = HOSTILE.replace("\x00", "")
    for drawing in (step, drawn):
        root = tree(drawing)
        assert not list(root.iter(f"{SVG}script"))
        assert root[0].get("aria-label") == typed
    texts = [t.text for t in tree(drawn).iter(f"{SVG}text")]
    assert typed in texts


def test_every_drawing_is_a_picture_with_a_name() -> None:
    drawn = whole(bench_spindle(), width=800)
    step = spindle.at_step(bench_spindle(), spindle.view(bench_spindle()), label=LABEL)
    names = [(s.get("role"), s.get("aria-label")) for s in tree(drawn, step)]
    assert names == [("img", "Hall bench back spindle"), ("img", LABEL)]


def test_the_whole_drawing_is_true_along_and_across() -> None:
    pattern = bench_spindle()
    root = tree(whole(pattern, width=780))
    edge = next(e for e in root.iter(f"{SVG}path") if e.get("id") == "wo1")
    x1, y1, x2, y2, _, y3 = numbers(edge.get("d") or "")[:6]
    scale = (780 - 48) / 520
    assert x1 - x2 == pytest.approx((190 - 35) * scale, abs=0.05)
    assert y1 - y2 == pytest.approx((25 - 22) / 2 * scale, abs=0.05)
    assert y3 - y2 == pytest.approx(25 * scale, abs=0.05)


def test_a_stout_piece_is_drawn_smaller_and_never_higher_than_it_is_wide() -> None:
    root = tree(whole(bench_spindle(), width=300, thickness=20))
    _, _, width, height = numbers(root[0].get("viewBox") or "")
    assert height < width
