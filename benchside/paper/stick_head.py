"""The head of a stick: what it is, of which day and revision, and how it is used."""

from __future__ import annotations

from dataclasses import dataclass

from benchside.paper import lettering
from benchside.paper.marks import Words
from benchside.paper.page import Heading

HEAD_MM = 64.0  # what the stick is, beyond its end
ROOM_MM = HEAD_MM - 9.0
TITLE_MM, TOLD_MM = 5.0, 2.8


@dataclass(frozen=True, slots=True)
class Head:
    """What the board is, which sizes are on it, how long it is, and how it is used."""

    heading: Heading
    kind: str
    sizes: str
    whole: str
    told: str = ""


def head_mm(head: Head) -> float:
    """How high the head is. [mm]"""
    return max(mark.y for mark in head_words(head, 0.0)) + 3.0


def head_words(head: Head, left_mm: float) -> list[Words]:
    """Its words, from ``left_mm`` on and down from the upper edge. [mm]"""
    x = left_mm + 5.0
    title = lettering.wrapped(head.heading.title, ROOM_MM, TITLE_MM, 2, bold=True)
    told = lettering.wrapped(head.told, ROOM_MM, TOLD_MM, 12)
    marks = [Words(text, x, 9.0 + 6.2 * i, TITLE_MM, bold=True) for i, text in enumerate(title)]
    y = 9.0 + 6.2 * len(title)
    lines: tuple[tuple[str, float, float, bool], ...] = (
        (head.kind, 0.0, 3.4, False),
        (head.heading.day, 9.6, 8.0, True),
        (head.heading.revision, 8.2, 6.4, True),
        (head.sizes, 6.4, 4.0, True),
        (head.whole, 5.2, 3.0, False),
    )
    for text, down, size, bold in lines:
        y += down
        text = lettering.shortened(text, ROOM_MM, size, bold=bold)
        marks.append(Words(text, x, y, size, bold=bold))
    y += 5.6
    return [*marks, *(Words(text, x, y + 3.8 * i, TOLD_MM) for i, text in enumerate(told))]
