"""The stick on paper, measured as a person would: by looking at the page."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from benchside.errors import OutOfRange
from benchside.paper import lettering, stick
from benchside.paper.between import TOLD_MM
from benchside.paper.marks import STRONG_MM, Drawing, Stroke, Words
from benchside.paper.page import MARGIN_MM, SIDE_MM, TOP_MM, page, room, sheets
from benchside.paper.pdf import pdf
from benchside.paper.stick_head import HEAD_MM
from tests.paper import samples

SAY = samples.say()
PER_MM = 12.0


def words_on(drawing: Drawing) -> list[str]:
    return [mark.text for mark in drawing.marks if isinstance(mark, Words)]


def on_one_page(drawing: Drawing, **corrected: float) -> bytes:
    made = sheets(drawing, page(297, 210, endless=True, **corrected), samples.HEADING, SAY)
    return pdf(made, title="A stick", made_at=samples.DAY)


def working_edge(drawing: Drawing, file: bytes, across: float = 1.0):
    """Dots along the slip, 5 to 6 mm over its lower edge."""
    spare = room(page(297, 210, across=across))[1] - drawing.height_mm
    edge = MARGIN_MM + (TOP_MM + spare / 2 + drawing.height_mm) * across
    long_mm = MARGIN_MM * 2 + (drawing.width_mm + SIDE_MM) * 1.02
    return samples.seen(file, PER_MM, within=(0, edge - 6.4, long_mm, edge - 5.4)).row()


@pytest.mark.parametrize("datum_left", [True, False])
def test_lines_lie_within_a_tenth_over_a_metre(datum_left: bool) -> None:
    at = (0.0, 2.0, 31.7, 250.0, 333.3, 498.25, 700.0, 702.0, 999.0, 1000.0 + 0.1)
    found = samples.stick(samples.rod(*at), datum_left=datum_left)
    drawing = stick.slip(found, SAY)
    dark = working_edge(drawing, on_one_page(drawing))
    head = 0.0 if datum_left else HEAD_MM
    zero = MARGIN_MM + SIDE_MM + head + stick.END_MM
    for mm in at:
        x = zero + (mm if datum_left else at[-1] - mm)
        assert dark.line_near(x) == pytest.approx(x, abs=0.05)


def test_a_printer_that_shrinks_is_drawn_for_longer() -> None:
    found = samples.stick(samples.rod(0.0, 500.0, 1000.0), datum_left=True)
    drawing = stick.slip(found, SAY)
    dark = working_edge(drawing, on_one_page(drawing, along=1.01, across=0.99), 0.99)
    zero, last = (
        dark.line_near(MARGIN_MM + (SIDE_MM + stick.END_MM + mm) * 1.01) for mm in (0.0, 1000.0)
    )
    assert (last - zero) * (1 / 1.01) == pytest.approx(1000.0, abs=0.05)


def test_the_half_pattern_ticks_the_full_diameter_over_its_straight_edge() -> None:
    found = samples.stick(datum_left=True)
    drawing = stick.half_pattern(found, SAY)
    file = on_one_page(drawing)
    spare = room(page(297, 210))[1] - drawing.height_mm
    edge = MARGIN_MM + TOP_MM + spare / 2 + drawing.height_mm
    for each in found.lines:
        x = MARGIN_MM + SIDE_MM + stick.END_MM + each.at_mm
        near = [abs(o.at_mm - each.at_mm) for o in found.lines if o is not each]
        if min(near) < 6:
            continue
        # Beside the line itself, where only the tick reaches.
        strip = samples.seen(file, PER_MM, within=(x + 1.2, edge - 40, x + 2.2, edge + 5))
        at = strip.column().line_near(edge - each.dry_mm)
        assert edge - at == pytest.approx(each.dry_mm, abs=0.1)


def test_the_outline_of_the_half_pattern_is_the_profile() -> None:
    found = samples.stick(datum_left=True)
    drawing = stick.half_pattern(found, SAY)
    file = on_one_page(drawing)
    spare = room(page(297, 210))[1] - drawing.height_mm
    edge = MARGIN_MM + TOP_MM + spare / 2 + drawing.height_mm
    for mm in (80.0, 150.0, 203.0, 216.0, 300.0, 400.0):
        x = MARGIN_MM + SIDE_MM + stick.END_MM + mm
        strip = samples.seen(file, PER_MM, within=(x - 0.1, edge - 20, x + 0.1, edge))
        half = float(found.pattern.diameter_mm_at(mm)) / 2
        # The wood is only tinted.
        at = strip.column().line_near(edge - half, least=0.5)
        assert edge - at == pytest.approx(half, abs=0.1)


def test_every_label_is_on_it_with_caliper_now_and_dry() -> None:
    base = samples.stick(steadies_mm=(215.0,))
    first = stick.Line(26.0, "Foot", 16.0, 16.8, (("A", 18.4), ("C", 16.8)))
    found = stick.Stick(
        base.pattern, (first, *base.lines[3:]), "mm", samples.HEADING, False, (215.0,)
    )
    for drawn in (stick.slip(found, SAY), stick.half_pattern(found, SAY)):
        said = words_on(drawn)
        assert {"16.8", "Foot", "at 26 · dry 16.0 · A 18.4", "A", "C"} <= set(said)
        assert "steady at 215 mm" in said
        assert {"19 Mar 2026", "revision 3", "0 to the last line: 450.0 mm"} <= set(said)
        assert "0  tail end" in said
    traced = words_on(stick.trace(found, SAY))
    assert {"19 Mar 2026", "revision 3"} <= set(traced)
    assert SAY.trace_told in " ".join(traced)


def test_a_board_says_which_sizes_it_ticks_and_which_outline_is_drawn() -> None:
    base = samples.stick(datum_left=True)
    # Turned green, each size 5 % over the finished one.
    lines = tuple(replace(each, now_mm=each.dry_mm * 1.05) for each in base.lines)
    green = replace(base, lines=lines, state="green")
    drawing = stick.half_pattern(green, SAY)
    told = " ".join(words_on(drawing))
    assert "GREEN: sizes to turn now" in told
    assert "strong tick, the size to turn now" in told
    assert "The fine ticks and the outline are the finished sizes, dry." in told
    strong = [
        m.points[0] for m in drawing.marks if isinstance(m, Stroke) and m.width_mm == STRONG_MM
    ]
    for each in lines:
        x = stick.END_MM + each.at_mm
        heights = [drawing.height_mm - p.y for p in strong if abs(p.x - x) < stick.TICK_MM + 0.1]
        assert any(abs(mm - each.dry_mm * 1.05) < 0.01 for mm in heights), each.name
    finished = " ".join(words_on(stick.half_pattern(base, SAY)))
    assert "Outline and ticks are the finished sizes." in finished
    assert "GREEN" not in finished
    assert "GREEN: sizes to turn now" in words_on(stick.slip(green, SAY))
    traced = words_on(stick.trace(green, SAY))
    assert "Finished sizes" in traced
    assert "The outline is that of the finished sizes, dry." in " ".join(traced)
    # Wood that shrinks no more is turned to the finished sizes, whatever was said of it.
    same = replace(base, state="dry")
    assert "Finished sizes" in words_on(stick.half_pattern(same, SAY))


def test_a_long_name_and_all_that_is_told_stay_on_the_board() -> None:
    base = samples.stick()
    lines = tuple(replace(each, now_mm=each.dry_mm + 1) for each in base.lines)
    heading = replace(samples.HEADING, title="An exceedingly long name " * 8)
    found = replace(base, lines=lines, state="green", heading=heading)
    for drawn in (stick.slip, stick.half_pattern, stick.trace):
        drawing = drawn(found, SAY)
        head = [m for m in drawing.marks if isinstance(m, Words) and m.x == 5.0]
        assert len(head) >= 7
        assert all(0 < m.y < drawing.height_mm - 2 for m in head)
        assert all(5.0 + lettering.width_mm(m.text, m.size_mm, bold=m.bold) < HEAD_MM for m in head)
        rows = [m.y - m.size_mm * lettering.CAP_EM for m in head]
        assert all(after > before.y for before, after in zip(head, rows[1:], strict=False))


def test_inches_stand_as_fractions() -> None:
    base = samples.stick()
    inches = stick.Stick(base.pattern, base.lines, "in/64", samples.HEADING)
    assert "1⁄2" in words_on(stick.slip(inches, SAY))


def test_labels_of_stations_2_mm_apart_do_not_cover_one_another() -> None:
    found = samples.stick(samples.rod(0, 100, 102, 104, 106, 108, 110, 300))
    for drawing in (stick.slip(found, SAY), stick.half_pattern(found, SAY)):
        names = sorted(
            m.x for m in drawing.marks if isinstance(m, Words) and m.text.startswith("Station")
        )
        assert len(names) == 8
        assert np.diff(names).min() > stick.SIZE_MM


def test_ticks_of_lines_2_mm_apart_do_not_meet() -> None:
    drawing = stick.half_pattern(samples.stick(samples.rod(0, 100, 102, 104, 300)), SAY)
    ticks = sorted(
        (m.points[0].x, m.points[1].x)
        for m in drawing.marks
        if isinstance(m, Stroke) and m.layer == "station" and m.points[0].y == m.points[1].y
    )
    assert len(ticks) == 5
    assert all(after[0] - before[1] > 0.2 for before, after in pairwise(ticks))


def between(*at_mm: float, now_mm: float | None = None) -> tuple[stick.Line, ...]:
    return tuple(
        stick.Line(mm, f"Middle {mm:g}", 20.5, now_mm, (("C", now_mm or 20.5),)) for mm in at_mm
    )


@pytest.mark.parametrize("drawn", [stick.slip, stick.half_pattern])
def test_the_middle_of_a_taper_is_a_light_tick_with_its_size_and_caliper(drawn) -> None:
    base = samples.stick(samples.rod(0.0, 100.0, 300.0), datum_left=True)
    for now_mm, told in ((None, "C 20.5"), (21.8, "C 21.8 · dry 20.5")):
        lines = tuple(replace(each, now_mm=now_mm and each.dry_mm + 1.3) for each in base.lines)
        found = replace(base, lines=lines, between=between(50.0, 200.0, now_mm=now_mm))
        drawing = drawn(found, SAY)
        words = [m for m in drawing.marks if isinstance(m, Words) and m.text == told]
        assert [m.x for m in words] == [stick.END_MM + 50.0, stick.END_MM + 200.0]
        ticks = [m for m in drawing.marks if isinstance(m, Stroke) and m.layer == "station"]
        light = [m for m in ticks if abs(m.points[0].x - words[0].x) < 3.0]
        assert light
        assert {m.paint for m in light} == {"soft"}
        assert max(m.width_mm for m in light) < STRONG_MM
        if drawn is stick.half_pattern:  # a caliper is set by it as by a line's
            sizes = sorted(drawing.height_mm - m.points[0].y for m in light)
            assert sizes == pytest.approx([20.5] if now_mm is None else [20.5, 21.8])
        assert "The short grey ticks are" in " ".join(words_on(drawing))
    assert "short grey ticks" not in " ".join(words_on(drawn(base, SAY)))


@pytest.mark.parametrize("drawn", [stick.slip, stick.half_pattern])
def test_a_middle_between_lines_that_stand_close_says_less_or_nothing(drawn) -> None:
    base = samples.stick(samples.rod(0.0, 4.0, 30.0, 130.0), datum_left=True)
    found = replace(base, between=between(2.0, 17.0, 80.0, now_mm=21.8))
    drawing = drawn(found, SAY)
    told = {
        m.x - stick.END_MM: m.text
        for m in drawing.marks
        if isinstance(m, Words) and m.size_mm == TOLD_MM and not m.upright
    }
    assert 2.0 not in told
    assert told[80.0] == "C 21.8 · dry 20.5"
    # On the half-pattern the ticks of the two lines and their letters stand there too.
    assert told[17.0] == ("C 21.8 · dry 20.5" if drawn is stick.slip else "C 21.8")
    for at_mm, text in told.items():  # over no line, nor over what stands at its tick
        half = lettering.width_mm(text, TOLD_MM) / 2
        assert all(abs(each.at_mm - at_mm) > half + 0.9 for each in found.lines)
    ticks = sorted(
        sorted((m.points[0].x, m.points[1].x))
        for m in drawing.marks
        if isinstance(m, Stroke) and m.layer == "station" and m.points[0].y == m.points[1].y
    )
    own = {round((low + high) / 2, 3) for low, high in ticks}
    for x in own:
        reach = max(high for low, high in ticks if abs((low + high) / 2 - x) < 1e-3)
        after = [low for low, high in ticks if (low + high) / 2 > x + 1e-3]
        assert not after or min(after) - reach > 0.2


def test_the_words_at_the_datum_end_stand_off_its_ticks_and_letters() -> None:
    for datum_left in (True, False):
        base = samples.stick(datum_left=datum_left)
        # A caliper set over the size stands beside its tick.
        over = tuple(replace(each, settings=(("A", each.dry_mm + 3),)) for each in base.lines)
        found = replace(base, lines=over)
        drawing = stick.half_pattern(found, SAY)
        end = next(m for m in drawing.marks if isinstance(m, Words) and m.text.startswith("0  "))
        datum = stick.END_MM if datum_left else HEAD_MM + stick.END_MM + base.pattern.length_mm
        span = sorted((end.x - datum, end.x - 2.6 * lettering.CAP_EM - datum))
        letter = 2.1 + lettering.width_mm("A", stick.SMALL_MM, bold=True)
        assert span[1] < -stick.TICK_MM if datum_left else span[0] > letter


def test_too_many_lines_are_refused_with_how_many_there_is_room_for() -> None:
    many = samples.stick(samples.rod(*(float(2 * i) for i in range(60))))
    with pytest.raises(OutOfRange, match="60 lines stand on") as caught:
        stick.slip(many, SAY)
    room_for = int(caught.value.hint.split(";")[0].split()[-1])
    few = samples.stick(samples.rod(*(118 / (room_for - 1) * i for i in range(room_for))))
    stick.slip(few, SAY)  # what the hint says does fit


def test_sawn_along_the_profile_there_is_a_board_left_over_it() -> None:
    drawing = stick.trace(samples.stick(), SAY)
    edge = next(m for m in drawing.marks if isinstance(m, Stroke) and m.layer == "outline")
    assert min(p.y for p in edge.points) >= stick.BOARD_MM
    assert max(p.y for p in edge.points) == pytest.approx(drawing.height_mm - 10.5 / 2)
