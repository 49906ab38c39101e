"""The oval of drying and the curve of moisture: true to scale, sound as XML, and refusing."""

import re
import xml.etree.ElementTree as ET
from math import hypot

import pytest

from benchside.draw.falling import falling
from benchside.draw.oval import oval
from benchside.errors import OutOfRange


def test_circle_and_oval_stand_to_one_scale():
    drawn = oval(25.4, 24.49, 23.95, across="23.9", along="24.5 <b>", width=400, label="A section")
    root = ET.fromstring(drawn)
    circle, dried = root.find(".//circle"), root.find(".//ellipse")
    scale = 2 * float(circle.get("r")) / 25.4
    assert 2 * float(dried.get("rx")) / scale == pytest.approx(23.95, abs=0.03)
    assert 2 * float(dried.get("ry")) / scale == pytest.approx(24.49, abs=0.03)
    assert root.get("aria-label") == "A section"
    assert "&lt;b&gt;" in drawn


@pytest.mark.parametrize("ring_deg", [0, 20, 45, 90, 135, 171, 180])
def test_the_rays_lie_at_their_angle_from_the_dot_and_no_word_lies_on_the_section(ring_deg):
    drawn = oval(
        25.0, 24.0, 22.0, across="22", along="24", width=340, label="x", ring_deg=ring_deg, dot=True
    )
    root = ET.fromstring(drawn)
    group = next(g for g in root.iter("g") if g.get("transform"))
    turned, *about = map(float, re.findall(r"-?[\d.]+", group.get("transform")))
    # SVG turns clockwise, and the rays are drawn upright.
    assert 90 - turned == pytest.approx(ring_deg)
    dot = next(c for c in root.iter("circle") if c.get("class") == "tenon-dot")
    assert float(dot.get("cy")) == about[1]
    assert float(dot.get("cx")) > about[0]
    wide = float(root.find(".//ellipse").get("ry"))
    words = list(root.iter("text"))
    for word in words:
        off = hypot(float(word.get("x")) - about[0], float(word.get("y")) - 5 - about[1])
        assert off > wide
        assert 0 < float(word.get("x")) < 340
        assert 0 < float(word.get("y")) < float(root.get("viewBox").split()[3])
    # Each at the end of its own axis, the rays' and the rings'.
    (x, y), (u, v) = ((float(w.get("x")) - about[0], float(w.get("y")) - about[1]) for w in words)
    assert abs(x * u + y * v) / (hypot(x, y) * hypot(u, v)) < 0.2


def test_a_section_that_is_none_is_refused():
    with pytest.raises(OutOfRange):
        oval(25.4, 0.0, 23.0, across="", along="", width=300, label="x")


def drawn(**more):
    return falling(
        [0, 1, 2, 3],
        [45.0, 30.0, 21.0, 16.0],
        target=8.0,
        target_words="dry at 8 %",
        width=400,
        height=260,
        label="Piece 1",
        **more,
    )


def test_each_weighing_is_a_dot_and_wetter_stands_higher():
    root = ET.fromstring(drawn())
    dots = next(p for p in root.iter("path") if p.get("class") == "dots").get("d")
    found = [tuple(map(float, pair)) for pair in re.findall(r"M([\d.]+) ([\d.]+)", dots)]
    assert len(found) == 4
    assert sorted(found) == found
    assert sorted((y for _, y in found)) == [y for _, y in found]


@pytest.mark.parametrize("high", [9.0, float("inf")])
def test_the_band_of_days_stays_in_the_picture(high):
    root = ET.fromstring(drawn(low_day=5.0, high_day=high, curve=lambda day: 45 / (1 + day)))
    band = root.find(".//rect")
    left, wide = float(band.get("x")), float(band.get("width"))
    assert 0 < left < left + wide <= 400
    dots = next(p for p in root.iter("path") if p.get("class") == "dots").get("d")
    last = float(re.findall(r"M([\d.]+) ", dots)[-1])
    assert left > last


def test_a_figure_that_is_none_is_refused():
    with pytest.raises(OutOfRange):
        falling([], [], target=8, target_words="", width=300, height=200, label="x")


def test_the_picture_reaches_the_days_of_the_forecast():
    root = ET.fromstring(drawn(low_day=7.0, high_day=22.0, curve=lambda day: 45 / (1 + day)))
    feet = [word.text or "" for word in root.iter("text") if word.get("text-anchor") is None]
    days = [int(text) for text in feet if text.isdecimal()]
    assert max(days) >= 21
    band = root.find(".//rect")
    assert float(band.get("x")) + float(band.get("width")) < 400 - 12
