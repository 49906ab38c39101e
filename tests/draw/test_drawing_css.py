"""Every class that a drawing uses has its rule, and no drawing carries a colour of its own."""

from __future__ import annotations

import re
from pathlib import Path

from benchside.draw import spindle
from benchside.draw.back import Standing, back
from benchside.draw.bars import bars
from benchside.draw.chart import ChartLabels, ChartPoint, station_chart
from benchside.draw.give import Give, GiveLabels, give_chart
from benchside.draw.lines import Across, lined_up
from benchside.draw.row import Turned, side_by_side
from benchside.draw.strip import strip
from benchside.draw.whole import whole
from tests.draw.samples import bench_spindle

CSS = (Path(__file__).parents[2] / "static" / "drawing.css").read_text()


def everything_drawn() -> str:
    pattern = bench_spindle()
    seen = spindle.view(pattern)
    points = [
        ChartPoint(1, 28.0),
        ChartPoint(2, 29.0, "over", True),
        ChartPoint(3, 27.0, "under"),
    ]
    labels = ChartLabels("a", "b", "c", "d")
    return "".join(
        [
            spindle.symbols(pattern, seen),
            spindle.at_step(pattern, seen, round_=False),
            spindle.at_step(pattern, seen, sized=[35, 190], here_mm=238),
            spindle.at_step(pattern, seen, done=[0, 1], here_mm=190, steady_mm=400),
            *(
                give_chart(
                    Give([0, 260, 520], [0, 0.4, 0], left, 0.25, [(100, 200)], at),
                    seen,
                    height_px=120,
                    labels=GiveLabels("a", "b", "c"),
                )
                for left, at in ((None, None), ([0, 0.3, 0], 400), ([0, 0.1, 0], 400))
            ),
            whole(pattern, width=700, labels=[(35, "Foot")], length_text="520 mm"),
            station_chart(
                points,
                target_mm=28,
                tolerance_mm=0.3,
                width=358,
                height=200,
                labels=labels,
                usual_mm=(27.9, 28.1),
            ),
            side_by_side(pattern, [Turned(1, {"a": 0.1, "c": 0.2}, odd=True)], 6),
            strip([0.2, 1.3], (-0.5, 0.5)),
            lined_up([Across("Bead", [0.1, -1.2])], [1, 2], width=380, label="lines"),
            bars([12.0], [1], [12.0, 10.0], width=380, height=200, label="minutes"),
            back(
                pattern,
                [Standing(n, {"a": 0.1, "c": 0.2}, {}, odd=True, pinned=True) for n in (1, 2)],
                6,
                height=380,
                label="back",
            ),
        ]
    )


def test_every_class_in_a_drawing_has_a_rule() -> None:
    used = {
        c for classes in re.findall(r'class="([^"]+)"', everything_drawn()) for c in classes.split()
    }
    ruled = set(re.findall(r"\.([a-z][a-z-]*)", CSS))
    assert used - ruled - {"spindle", "whole"} == set()


def test_every_rule_is_for_a_class_that_some_drawing_uses() -> None:
    used = {
        c for classes in re.findall(r'class="([^"]+)"', everything_drawn()) for c in classes.split()
    }
    ruled = set(re.findall(r"\.([a-z][a-z-]*)", re.sub(r"/\*.*?\*/", "", CSS, flags=re.S)))
    assert ruled - used - {"rows"} == set()


def test_no_drawing_carries_a_style_or_a_colour() -> None:
    drawn = everything_drawn()
    assert "style" not in drawn
    assert "<script" not in drawn
    fills = set(re.findall(r'(?:fill|stroke|stop-color|color)="([^"]+)"', drawn))
    assert all(fill.startswith("url(#") for fill in fills)


def test_the_rules_lie_in_their_layer() -> None:
    bare = re.sub(r"/\*.*?\*/", "", CSS, flags=re.S).strip()
    assert bare.startswith("@layer parts {")
    assert bare.endswith("}")
    assert bare.count("{") == bare.count("}")
    assert "!important" not in bare
