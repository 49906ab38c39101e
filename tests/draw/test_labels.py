"""Labels never stand on one another."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchside.draw import labels, svg
from benchside.draw.whole import whole
from tests.draw.samples import SVG, baluster, tree


def boxes(found: labels.Lettering) -> list[tuple[bool, float, float]]:
    """Each label's side and its extent along the drawing."""
    pitch = labels.LINE_EM * found.font_px
    widths = [
        pitch if found.upright else svg.word_width_px(p.wanted.text, found.font_px)
        for p in found.placed
    ]
    return [
        (p.above, p.at_px - w / 2, p.at_px + w / 2)
        for p, w in zip(found.placed, widths, strict=True)
    ]


def wanted(x: float, text: str) -> labels.Wanted:
    return labels.Wanted(x, 10, 20, text)


places = st.lists(
    st.tuples(st.floats(0, 780), st.text("abcdefgh 0123456789", min_size=1, max_size=30)),
    min_size=1,
    max_size=60,
)


@given(places)
def test_no_two_labels_overlap_and_none_leaves_the_drawing(
    found: list[tuple[float, str]],
) -> None:
    placed = boxes(labels.arrange([wanted(x, t) for x, t in found], 780, 15))
    assert all(low >= -1e-6 and high <= 780 + 1e-6 for _, low, high in placed)
    for above in (True, False):
        row = sorted((low, high) for side, low, high in placed if side == above)
        assert all(a[1] <= b[0] + 1e-6 for a, b in pairwise(row))


def test_a_few_short_labels_lie_flat_at_their_own_places() -> None:
    found = labels.arrange([wanted(100, "22"), wanted(300, "25"), wanted(500, "20")], 780, 15)
    assert not found.upright
    assert [p.at_px for p in found.placed] == pytest.approx([100, 300, 500])


def test_two_labels_on_one_place_share_the_way_evenly() -> None:
    found = svg.spread([100, 100], [40, 40], 0, 400)
    assert found == pytest.approx([80, 120])


def test_labels_at_the_rim_are_pushed_in_not_cut() -> None:
    assert svg.spread([0, 400], [60, 60], 0, 400) == pytest.approx([30, 370])


def test_labels_keep_the_order_of_their_places() -> None:
    found = svg.spread([10, 11, 12, 200], [50, 50, 50, 50], 0, 400)
    assert found == sorted(found)


def test_where_there_is_no_room_at_all_spreading_says_so() -> None:
    with pytest.raises(ValueError, match="room"):
        svg.spread([1, 2], [300, 300], 0, 400)


@pytest.mark.parametrize("width", [358, 780])
def test_all_twenty_five_stations_keep_their_labels(width: int) -> None:
    pattern = baluster()
    drawing = whole(pattern, width=width, labels=[(s.at_mm, s.name) for s in pattern.stations])
    texts = [t.text for t in tree(drawing).iter(f"{SVG}text")]
    assert sorted(t or "" for t in texts) == sorted(s.name for s in pattern.stations)


def test_two_hundred_labels_are_thinned_but_both_ends_stay() -> None:
    found = labels.arrange([wanted(i * 2, f"Place {i}") for i in range(200)], 400, 15)
    texts = [p.wanted.text for p in found.placed]
    assert {"Place 0", "Place 199"} <= set(texts)
    assert 20 <= len(texts) < 60


def test_a_label_of_ten_thousand_letters_is_cut_with_an_ellipsis() -> None:
    found = labels.arrange([wanted(100, "x" * 10_000)], 780, 15)
    assert found.placed[0].wanted.text.endswith("…")
    assert found.above_px < 300
