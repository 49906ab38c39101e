"""Sticks to draw and PDFs to look at, by programs that had no part in writing them."""

from __future__ import annotations

import json
from math import ceil
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import pypdfium2

import benchside
from benchside.paper.page import Heading
from benchside.paper.stick import Line, Stick
from benchside.paper.words import Paper, paper_words
from benchside.pattern import Pattern, Section, Station, places
from tests import shopfloor

DAY = "2026-03-19T12:00:00Z"
HEADING = Heading("Bench back spindle", "Hall bench", "revision 3", "19 Mar 2026")
Grey = npt.NDArray[np.float64]


def say() -> Paper:
    """The words as the pages have them."""
    path = Path(benchside.__file__).parent / "web" / "templates" / "words_paper.json"
    return paper_words(json.loads(path.read_text("utf-8"))["paper"])


def stick(pattern: Pattern | None = None, *, datum_left: bool = False, **more: Any) -> Stick:
    """A stick with a line at every station, crown and root."""
    pattern = pattern or shopfloor.back_spindle()
    lines = tuple(
        Line(p.at_mm, p.name, p.diameter_mm, None, (("A", p.diameter_mm),), p.role != "station")
        for p in places(pattern)
        if p.role in ("station", "crown", "root")
    )
    return Stick(pattern, lines, "mm", HEADING, datum_left, **more)


def rod(*at_mm: float) -> Pattern:
    """A plain rod with stations at those places."""
    stations = tuple(
        Station(f"st{i}", at, 20.0 + i % 2, f"Station {i}") for i, at in enumerate(at_mm)
    )
    return Pattern("Rod", stations, (Section("taper"),) * (len(at_mm) - 1))


class Seen(NamedTuple):
    """A page as dots, 0 white to 1 black: what a dot is across, and where the first one lies."""

    dots: Grey
    across_mm: float
    high_mm: float
    left_mm: float = 0.0
    top_mm: float = 0.0

    def row(self) -> Row:
        """The blackness along x."""
        return Row(self.dots.mean(axis=0), self.across_mm, self.left_mm)

    def column(self) -> Row:
        """The blackness down y."""
        return Row(self.dots.mean(axis=1), self.high_mm, self.top_mm)


class Row(NamedTuple):
    """Blackness along a line of dots."""

    dark: Grey
    step_mm: float
    start_mm: float

    def line_near(self, near_mm: float, reach_mm: float = 0.8, least: float = 0.0) -> float:
        """Where the dark line near a place lies: the centre of its blackness, in mm."""
        at = self.start_mm + (np.arange(len(self.dark)) + 0.5) * self.step_mm
        dark = np.where((abs(at - near_mm) <= reach_mm) & (self.dark > least), self.dark, 0.0)
        assert dark.sum() > 0.2, f"no line near {near_mm} mm"
        return float((at * dark).sum() / dark.sum())


def seen(file: bytes, per_mm: float, *, within: tuple[float, ...] | None = None) -> Seen:
    """The first page as a renderer shows it; ``within`` is left, top, right, bottom in mm."""
    opened = pypdfium2.PdfDocument(file)
    page = opened[0]
    width, height = page.get_size()
    scale = per_mm * 25.4 / 72
    crop = (0.0, 0.0, 0.0, 0.0)
    if within is not None:
        left, top, right, bottom = (mm * 72 / 25.4 for mm in within)
        crop = (left, height - bottom, width - right, top)
    picture = page.render(scale=scale, grayscale=True, crop=crop)
    dots = np.array(picture.to_numpy(), dtype=float).reshape(picture.height, picture.width)
    opened.close()
    # The whole page is drawn to whole dots, and whole dots are cut away.
    across = width / ceil(width * scale) / 72 * 25.4
    high = height / ceil(height * scale) / 72 * 25.4
    return Seen(
        1.0 - dots / 255, across, high, ceil(crop[0] * scale) * across, ceil(crop[3] * scale) * high
    )


def text_of(file: bytes) -> str:
    """All the words of a PDF, as a reader finds them."""
    opened = pypdfium2.PdfDocument(file)
    found = "\n".join(page.get_textpage().get_text_range() for page in opened)
    opened.close()
    return found


def shop_post(diameter_mm: float) -> Pattern:
    """A thick post."""
    ends = (Station("a", 0.0, diameter_mm, "Foot"), Station("b", 700.0, diameter_mm, "Top"))
    return Pattern("Post", ends, (Section("straight"),))
