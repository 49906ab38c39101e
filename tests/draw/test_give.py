"""The give under the drawing: to its scale along the work, refusing what is no figure."""

import re
from math import nan
from xml.etree import ElementTree

import pytest

from benchside.draw import spindle
from benchside.draw.give import Give, GiveLabels, give_chart
from benchside.errors import OutOfRange
from tests.draw.samples import bench_spindle

SEEN = spindle.view(bench_spindle(), width_px=440)
LABELS = GiveLabels("Give <along> it", "limit 0.25 mm", "0.40 mm at 260")


def chart(bare, left=None, limit=0.25, steady=None):
    give = Give([0.0, 260.0, 520.0], bare, left, limit, [(100.0, 200.0)], steady)
    return give_chart(give, SEEN, height_px=120, labels=LABELS)


def points(svg, name):
    path = re.search(rf'class="{name}" d="M([^"]*?)z?"', svg)[1]
    return [tuple(float(v) for v in pair.split()) for pair in path.split("L")]


def test_it_lies_under_its_place_on_the_work_and_hangs_as_far_as_it_gives():
    svg = chart([0.0, 0.2, 0.1])
    ElementTree.fromstring(svg)
    found = points(svg, "hangs")
    assert [x for x, _ in found] == pytest.approx(
        [SEEN.scale.x(mm) for mm in (0, 260, 520)], abs=0.01
    )
    hangs = [y - found[0][1] for _, y in found]
    assert hangs[1] == pytest.approx(2 * hangs[2], rel=0.01)
    limit = float(re.search(r'class="limit" d="M\S+ (\S+)H', svg)[1]) - found[0][1]
    assert limit / hangs[1] == pytest.approx(0.25 / 0.2, rel=0.01)


def test_with_a_steady_what_is_left_is_filled_and_the_rest_dashed():
    svg = chart([0.0, 0.4, 0.0], [0.0, 0.1, 0.0], steady=400.0)
    assert points(svg, "bare")[1][1] > points(svg, "hangs")[1][1]
    assert "over-limit" not in svg
    assert 'class="stands"' in svg
    assert "over-limit" in chart([0.0, 0.4, 0.0])


def test_a_give_beyond_all_measure_is_drawn_at_the_foot():
    svg = chart([0.0, 900.0, 0.0])
    assert points(svg, "hangs over-limit")[1][1] < 120


@pytest.mark.parametrize(
    ("bare", "limit"), [([0.0, nan, 0.0], 0.25), ([0.0, 0.1, 0.0], 0.0), ([0.0, 0.1, 0.0], nan)]
)
def test_what_is_no_figure_is_refused(bare, limit):
    with pytest.raises(OutOfRange):
        chart(bare, limit=limit)


def test_a_steady_stands_on_the_wood_as_it_is_then():
    piece = bench_spindle()
    rough = spindle.at_step(piece, SEEN, steady_mm=300.0)
    finished = spindle.at_step(piece, SEEN, done=range(len(piece.sections)), steady_mm=300.0)
    bottoms = [re.search(r'class="wheel" d="M\S+ (\S+?)a', svg)[1] for svg in (rough, finished)]
    assert float(bottoms[0]) < float(bottoms[1])  # the wheel above stands higher on the round
    assert "wheel" not in spindle.at_step(piece, SEEN)
