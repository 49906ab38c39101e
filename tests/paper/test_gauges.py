"""Gauges: what is left of the wood after the cut has the gaps that were asked for."""

from __future__ import annotations

import io
from itertools import pairwise

import ezdxf
import numpy as np
import pytest
from ezdxf import path as dxf_path

from benchside.errors import OutOfRange
from benchside.paper import lettering
from benchside.paper.dxf import dxf
from benchside.paper.gauges import Cut, Gauge, Size, gauge_sheets, gauges, plate, plate_mm
from benchside.paper.marks import Drawing, Stroke, Words, in_steps
from tests.paper import samples

SAY = samples.say()
SIZES = (
    Size("Swell", 25.0, 0.4, "B"),
    Size("Bead", 17.0, 0.4, "A"),
    Size("Cove", 17.0, 0.4, "C"),
    Size("Upper tenon", 12.7, 0.1, "D", True),
)


def distance_to(stroke: Stroke, x: float, y: float) -> float:
    """How far a place is from the line the tool follows."""
    points = np.array(in_steps(stroke, chord_mm=1e-5))
    start, along = points[:-1], np.diff(points, axis=0)
    share = ((np.array([x, y]) - start) * along).sum(1) / np.maximum((along**2).sum(1), 1e-18)
    near = start + np.clip(share, 0, 1)[:, None] * along
    return float(np.hypot(*(near - [x, y]).T).min())


def test_equal_sizes_share_a_gauge_and_it_goes_at_the_upper_limit() -> None:
    found = gauges(SIZES)
    assert [(g.size_mm, g.go_mm, g.not_go_mm, g.names, g.letters) for g in found] == [
        (25.0, 25.4, 24.6, ("Swell",), "B"),
        (17.0, 17.4, 16.6, ("Bead", "Cove"), "A C"),
        (12.7, 12.8, 12.6, ("Upper tenon",), "D"),
    ]
    with pytest.raises(OutOfRange, match="lower limit"):
        gauges([Size("Pin", 0.3, 0.4)])


@pytest.mark.parametrize("shape", ["notch", "half-round"])
@pytest.mark.parametrize("kerf", [0.0, 0.18, 1.0])
def test_the_gap_left_by_the_cut_is_the_gap_asked_for(shape, kerf) -> None:
    # A tool as wide as the kerf runs along the line: what it does not reach is wood. At the
    # gap's true edges, across the middle of the piece, its own edge lies.
    gauge = gauges(SIZES)[0]
    line = plate(gauge, Cut(shape, kerf))
    length, width = plate_mm(gauge, shape)
    places = [
        (gauge.go_mm / 2 if shape == "notch" else 0.01, gauge.go_mm / 2),
        (length - (gauge.not_go_mm / 2 if shape == "notch" else 0.01), gauge.not_go_mm / 2),
        (length / 2, width / 2),  # and the outside of the plate
    ]
    for x, y in places:
        for side in (1, -1):
            assert distance_to(line, x, side * y) == pytest.approx(kerf / 2, abs=1e-4)


@pytest.mark.parametrize("kerf", [0.0, 0.2])
def test_a_half_round_is_a_half_circle_all_the_way(kerf) -> None:
    gauge = Gauge(("Swell",), 25.0, 25.4, 24.6, "", False)
    line = plate(gauge, Cut("half-round", kerf))
    for angle in np.linspace(-1.5, 1.5, 13):
        x, y = 12.7 * np.cos(angle), 12.7 * np.sin(angle)
        assert distance_to(line, x, y) == pytest.approx(kerf / 2, abs=1e-4)


def test_a_notch_reaches_past_the_middle_of_the_piece_and_its_mouth_is_eased() -> None:
    gauge = gauges(SIZES)[1]
    line = plate(gauge, Cut("notch"))
    assert distance_to(line, gauge.go_mm / 2 + 2.9, gauge.go_mm / 2) < 1e-6
    assert distance_to(line, 0.0, gauge.go_mm / 2) == pytest.approx(np.sqrt(2) - 1, abs=1e-3)


def test_a_kerf_that_cannot_be_is_refused() -> None:
    for kerf in (-0.1, 2.1, float("nan")):
        with pytest.raises(OutOfRange, match="kerf") as caught:
            plate(gauges(SIZES)[0], Cut("notch", kerf))
        assert caught.value.field == "kerf"


def plates(drawing: Drawing) -> list[np.ndarray]:
    return [
        np.array(in_steps(m)) for m in drawing.marks if isinstance(m, Stroke) and m.layer == "cut"
    ]


def test_packed_gauges_neither_touch_nor_leave_the_sheet() -> None:
    many = gauges(Size(f"Place {i}", 10.0 + 1.3 * i, 0.2, "A") for i in range(25))
    room = (260.0, 150.0)
    sheets = gauge_sheets(many, Cut("notch", 0.2), room, "A set", "mm", SAY)
    assert len(sheets) > 1
    assert sum(len(plates(s)) for s in sheets) == 25
    for sheet in sheets:
        boxes = [(*p.min(0), *p.max(0)) for p in plates(sheet)]
        for i, a in enumerate(boxes):
            assert a[0] > -1e-6
            assert a[1] > -1e-6
            assert a[2] < room[0] + 1e-6
            assert a[3] < room[1] + 1e-6
            for b in boxes[:i]:
                apart = max(b[0] - a[2], a[0] - b[2], b[1] - a[3], a[1] - b[3])
                assert apart > 3.9
    with pytest.raises(OutOfRange, match="the sheet has room"):
        gauge_sheets(gauges([Size("Hub", 200.0, 1.0)]), Cut(), room, "A set", "mm", SAY)


def test_each_says_its_set_its_caliper_and_which_end_goes() -> None:
    (sheet,) = gauge_sheets(gauges(SIZES), Cut(), (260, 150), "Hall bench", "mm", SAY)
    said = [m.text for m in sheet.marks if isinstance(m, Words)]
    for text in ("GO 17.40", "NOT GO 16.60", "A C 17.0 mm", "Bead, Cove", "D 12.70 mm"):
        assert text in said
    assert said.count("Hall bench") == 3


def test_a_long_name_is_set_in_two_lines_between_the_words_of_the_two_ends() -> None:
    few = [Size("Foot ring", 28.0, 0.4), Size("Vase foot", 28.0, 0.4), Size("Cap", 28.0, 0.4)]
    for sizes, title in ((few, "Hall"), (SIZES, "Hall bench back spindles of oak")):
        (sheet,) = gauge_sheets(gauges(sizes), Cut(), (400, 150), title, "mm", SAY)
        said = [m for m in sheet.marks if isinstance(m, Words)]
        assert not [m.text for m in said if "…" in m.text]
        starts = [i for i, m in enumerate(said) if m.text.startswith("GO ")]
        for start, end in zip(starts, [*starts[1:], len(said)], strict=True):
            go, stop, *rows = said[start:end]
            down = [go, *rows, stop]
            assert len(rows) >= 3
            for above, below in pairwise(down):
                assert below.x - below.size_mm * lettering.CAP_EM > above.x + 0.4, below.text


def test_what_the_wood_is_in_stands_in_large_letters_on_every_gauge() -> None:
    sizes = gauge_sheets(gauges(SIZES, "GREEN"), Cut(), (400, 150), "Hall bench of oak", "mm", SAY)
    said = [m for m in sizes[0].marks if isinstance(m, Words)]
    assert [(m.bold, m.size_mm) for m in said if m.text == "GREEN"] == [(True, 3.2)] * 3
    starts = [i for i, m in enumerate(said) if m.text.startswith("GO ")]
    for start, end in zip(starts, [*starts[1:], len(said)], strict=True):
        go, stop, *rows = said[start:end]
        for above, below in pairwise([go, *rows, stop]):
            assert below.x - below.size_mm * lettering.CAP_EM > above.x + 0.4, below.text


def test_the_dxf_read_back_is_the_same_plates() -> None:
    (sheet,) = gauge_sheets(gauges(SIZES), Cut("half-round", 0.2), (260, 150), "Hall", "mm", SAY)
    read = ezdxf.read(io.StringIO(dxf(sheet).decode()))
    assert read.units == ezdxf.units.MM
    cut = read.modelspace().query('LWPOLYLINE[layer=="cut"]')
    assert len(cut) == 3
    for entity, expected in zip(cut, plates(sheet), strict=True):
        assert entity.closed
        flat = np.array([(v.x, 150 - v.y) for v in dxf_path.make_path(entity).flattening(0.001)])
        np.testing.assert_allclose(flat.min(0), expected.min(0), atol=0.01)
        np.testing.assert_allclose(flat.max(0), expected.max(0), atol=0.01)
