"""Words around a drawing, each led to its place, none on top of another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from benchside.draw.svg import number, point, shortened, spread, word_width_px, words

LINE_EM = 1.25  # height of a line, so the pitch of upright labels
FARTHEST_EM = 4.0  # judgement: a lying label farther than this from its place is hard to follow
LONGEST_EM = 13.0  # judgement: an upright label longer than this is cut
LEADER_PX = 22.0
GAP_PX = 4.0


class Wanted(NamedTuple):
    """Words and the place they belong to: its x, and the upper and lower surface there. [px]"""

    x: float
    top: float
    bottom: float
    text: str


class Placed(NamedTuple):
    """A label and the x of its middle; ``above`` the spindle or below it. [px]"""

    wanted: Wanted
    at_px: float
    above: bool


@dataclass(frozen=True, slots=True)
class Lettering:
    """Where every label stands. ``above_px`` and ``below_px`` are the room they take."""

    placed: tuple[Placed, ...]
    upright: bool
    font_px: float

    @property
    def above_px(self) -> float:
        """Height needed over the thickest place."""
        return self._room_px(above=True)

    @property
    def below_px(self) -> float:
        """Height needed under the thickest place."""
        return self._room_px(above=False)

    def _room_px(self, *, above: bool) -> float:
        texts = [p.wanted.text for p in self.placed if p.above == above]
        if not texts:
            return 0.0
        longest = max(word_width_px(text, self.font_px) for text in texts)
        return LEADER_PX + GAP_PX + (longest if self.upright else LINE_EM * self.font_px)


def arrange(wanted: Sequence[Wanted], width_px: float, font_px: float) -> Lettering:
    """Lying in a row if they stand near their places, else on both sides, else upright.

    Where even two upright rows are too narrow, every second label (third, …) is left out, never
    the first or the last.
    """
    ordered = sorted(wanted, key=lambda w: w.x)
    tidy = [w._replace(text=shortened(w.text, LONGEST_EM * font_px, font_px)) for w in ordered]
    for upright in (False, True):
        for sides in (1, 2):
            placed = _rows(tidy, width_px, font_px, upright, sides)
            if placed is not None:
                return Lettering(tuple(placed), upright, font_px)
    fewer = tidy[:: 2 if len(tidy) % 2 else 3]
    return arrange([*fewer[:-1], tidy[-1]], width_px, font_px)


def _rows(
    wanted: Sequence[Wanted], width_px: float, font_px: float, upright: bool, sides: int
) -> list[Placed] | None:
    """The labels dealt out to one or two rows; None if there is no room for them."""
    placed: list[Placed] = []
    for side in range(sides):
        row = wanted[side::sides]
        if upright:
            widths = [LINE_EM * font_px] * len(row)
        else:
            widths = [word_width_px(w.text, font_px) + font_px for w in row]
        try:
            at = spread([w.x for w in row], widths, 0.0, width_px)
        except ValueError:
            return None
        farthest = max((abs(a - w.x) for a, w in zip(at, row, strict=True)), default=0.0)
        if not upright and farthest > FARTHEST_EM * font_px:
            return None
        placed += [Placed(w, a, side == 0) for w, a in zip(row, at, strict=True)]
    return placed


def drawn(lettering: Lettering, top_px: float, bottom_px: float) -> str:
    """Leaders and words, for a spindle that lies between two heights."""
    if not lettering.placed:
        return ""
    leaders = "".join(_leader(p, top_px, bottom_px) for p in lettering.placed)
    texts = "".join(_text(p, lettering, top_px, bottom_px) for p in lettering.placed)
    anchor = "" if lettering.upright else ' text-anchor="middle"'
    return (
        f'<path class="leader" d="{leaders}"/>'
        f'<g class="label" font-size="{number(lettering.font_px)}"{anchor}>{texts}</g>'
    )


def _leader(placed: Placed, top_px: float, bottom_px: float) -> str:
    wanted, sign = placed.wanted, -1 if placed.above else 1
    surface = wanted.top if placed.above else wanted.bottom
    bend = (top_px if placed.above else bottom_px) + sign * 5
    end = (top_px if placed.above else bottom_px) + sign * LEADER_PX
    return f"M{point(wanted.x, surface)}V{number(bend)}L{point(placed.at_px, end)}"


def _text(placed: Placed, lettering: Lettering, top_px: float, bottom_px: float) -> str:
    text, font = words(placed.wanted.text), lettering.font_px
    far = LEADER_PX + GAP_PX
    y = top_px - far if placed.above else bottom_px + far
    if not lettering.upright:
        y += -0.1 * font if placed.above else 0.8 * font
        return f'<text x="{number(placed.at_px)}" y="{number(y)}">{text}</text>'
    end = "" if placed.above else ' text-anchor="end"'
    x = placed.at_px + 0.35 * font  # the middle of small letters lies this far over their line
    return f'<text transform="translate({point(x, y)})rotate(-90)"{end}>{text}</text>'
