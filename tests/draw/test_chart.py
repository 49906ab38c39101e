"""A station's chart: every piece in its place, the odd ones plain to see."""

from __future__ import annotations

from itertools import pairwise

import pytest

from benchside.draw.chart import ChartLabels, ChartPoint, Mark, station_chart
from benchside.errors import OutOfRange
from tests.draw.samples import HOSTILE, SVG, numbers, tree

LABELS = ChartLabels("First bead", "28.0 mm", "+0.3", "−0.3")


def mark(value_mm: float) -> Mark:
    return "within" if abs(value_mm - 28) <= 0.3 else "over" if value_mm > 28 else "under"


def chart(values: list[float | None], *, odd: int = 0, labels: ChartLabels = LABELS) -> str:
    points = [
        ChartPoint(i, v, "within" if v is None else mark(v), i == odd)
        for i, v in enumerate(values, 1)
    ]
    return station_chart(
        points, target_mm=28, tolerance_mm=0.3, width=358, height=200, labels=labels
    )


def part(drawing: str, name: str) -> list[str]:
    return [e.get("d") or "" for e in tree(drawing).iter(f"{SVG}path") if e.get("class") == name]


def test_readings_lie_over_and_under_the_target_in_proportion() -> None:
    drawing = chart([28.0, 28.2, 27.8, 28.1])
    target = numbers(part(drawing, "target")[0])[1]
    upper, lower = (numbers(part(drawing, "limit")[0])[i] for i in (1, 4))
    heights = numbers(part(drawing, "dots")[0].replace("h0", ""))[1::2]
    wanted = [target + share * (upper - target) for share in (0, 2 / 3, -2 / 3, 1 / 3)]
    assert heights == pytest.approx(wanted, abs=0.11)
    assert lower - target == pytest.approx(target - upper, abs=0.11)


def test_pieces_stand_in_the_order_of_turning_evenly_apart() -> None:
    across = numbers(part(chart([28.0] * 9), "dots")[0].replace("h0", ""))[0::2]
    steps = [b - a for a, b in pairwise(across)]
    assert steps == pytest.approx([steps[0]] * 8, abs=0.07)
    assert steps[0] > 0


def test_over_and_under_differ_in_shape_not_only_in_colour() -> None:
    drawing = chart([28.0, 28.6, 27.4])
    over, under = part(drawing, "over")[0], part(drawing, "under")[0]
    tip_y, rise = numbers(over)[1], numbers(over)[3]
    assert rise > 0  # from the tip the sides go down: it points up
    assert numbers(under)[3] < 0
    assert tip_y < numbers(under)[1]


def test_a_skipped_piece_leaves_a_gap_and_keeps_its_number() -> None:
    drawing = chart([28.0, 28.1, None, 28.0, 28.1])
    assert part(drawing, "trace")[0].count("M") == 2
    texts = [t.text for t in tree(drawing).iter(f"{SVG}text")]
    assert "3" in texts


def test_an_odd_piece_has_a_ring_and_a_bold_number() -> None:
    root = tree(chart([28.0] * 8 + [28.6], odd=9))
    assert len([c for c in root.iter(f"{SVG}circle") if c.get("class") == "odd"]) == 1
    bold = [t.text for t in root.iter(f"{SVG}text") if t.get("class") == "odd-number"]
    assert bold == ["9"]


@pytest.mark.parametrize("count", [1, 9, 40, 100, 400])
def test_numbers_are_thinned_until_they_are_clear_of_each_other(count: int) -> None:
    root = tree(chart([28.0] * count, odd=17))
    group = next(g for g in root.iter(f"{SVG}g") if g.get("class") == "numbers")
    shown = [(float(t.get("x") or 0), t.text or "") for t in group]
    for (x1, a), (x2, b) in pairwise(shown):
        assert x2 - x1 >= (len(a) + len(b)) / 2 * 0.6 * 15
    assert shown
    assert count < 17 or "17" in [text for _, text in shown]


def test_four_hundred_pieces_weigh_under_ten_kilobytes() -> None:
    drawing = chart([28 + (i % 7 - 3) * 0.13 for i in range(400)])
    assert len(drawing) < 10_000


def test_a_slip_of_the_keys_does_not_flatten_all_the_others() -> None:
    drawing = chart([28.0, 28.1, 2.8])
    upper, lower = (numbers(part(drawing, "limit")[0])[i] for i in (1, 4))
    assert lower - upper > 15
    assert numbers(part(drawing, "under")[0])[1] < 200


def test_no_pieces_at_all_still_show_the_band() -> None:
    drawing = chart([])
    assert part(drawing, "band")
    assert not part(drawing, "trace")


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_a_reading_that_is_no_number_is_refused(value: float) -> None:
    with pytest.raises(OutOfRange):
        chart([28.0, value])


@pytest.mark.parametrize("tolerance_mm", [0.0, -1.0, float("nan")])
def test_a_tolerance_that_is_none_is_refused(tolerance_mm: float) -> None:
    with pytest.raises(OutOfRange):
        station_chart(
            [], target_mm=28, tolerance_mm=tolerance_mm, width=300, height=200, labels=LABELS
        )


def test_what_a_person_typed_stays_text_in_a_chart() -> None:
    root = tree(chart([28.0], labels=ChartLabels(HOSTILE, HOSTILE, "+", "−")))
    assert not list(root.iter(f"{SVG}script"))
    assert root[0].get("aria-label") == HOSTILE.replace("\x00", "")
