"""The back spindles: sawn from one board, six turned in two afternoons, the seventh in hand."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from benchside.job import as_made, boards, logs, origin, patterns, sets, stock, turning
from benchside.job.board_table import BoardTold, KnotRow
from benchside.job.work import Work
from benchside.lathe.steps import Stage, Step
from benchside.moments import as_text
from benchside.pattern import Place
from benchside.store.judging import AsMade
from benchside.store.sets import Choices, SpindleSet
from seed_demo.hands import SCATTER_MM, Hands

BACK_SPINDLE = """\
# pattern: Hall bench back spindle
at_mm,diameter_mm,name,kind,tolerance_mm,section,through_mm
0,16,Lower tenon,tenon,,shoulder,
35,18,Foot,decorative,,taper,
165,25,Swell,decorative,,taper,
236,17,Bead,decorative,0.4,bead,27
250,17,Cove,decorative,,cove,13.5
274,19,Collar,decorative,,taper,
372,13,Neck,slender,,straight,
480,13,Flare,slender,,taper,
494,15.5,Upper shoulder,decorative,,shoulder,
520,12.7,Upper tenon,tenon,,,
"""
BACK_SPINDLE_NOTE = (
    "Drawn for the bench in the hall: nine across the back. The neck is the last thing turned."
)
AS_MADE = AsMade(
    wood="White ash, sawn along the grain, eight months under the roof",
    bits="16 mm below, 12.7 mm (1/2 in) above, both lip and spur",
)
MISTAKE = (
    "The skew dug in at the neck of 4.",
    "A fresh edge before each neck, and a bare hand flat behind it.",
)
# White ash by the door: knots on both faces, a check at its far end, one knot known to be shallow.
BOARD = BoardTold(
    name="White ash board",
    note="From the stack by the door; its left end is checked.",
    length="2420",
    width="196",
    thickness="34",
    kerf="3.2",
    trim_left="40",
    knots=(
        KnotRow("knot", "one", "388", "62", "34", "28"),
        KnotRow("knot", "two", "742", "118", "26", "22"),
        KnotRow("knot", "one", "1214", "20", "40", "30"),
        KnotRow("knot", "both", "1530", "96", "30", "26"),
        KnotRow("check", "two", "2210", "70", "190", "4"),
        KnotRow("knot", "one", "1846", "150", "22", "18", "3"),
    ),
)
RINGS_DEG = (8.0, 12.0, 10.0, 171.0, 35.0, 41.0, 38.0, 95.0)  # of the first pieces, as seen
SPEEDS: dict[str, str] = {"rough": "700", "size": "900", "form": "1100", "thin": "900"}

# Minutes to a piece, from the one before it to its last tap, by the afternoon it was turned on.
AFTERNOONS = (
    (datetime(2026, 3, 17, 14, 5, tzinfo=UTC), {1: 27.0, 2: 19.0, 3: 15.0}),
    (datetime(2026, 3, 18, 13, 40, tzinfo=UTC), {4: 13.5, 5: 14.0, 6: 13.0}),
)
IN_HAND = 7
TOUCHED_UP_BEFORE = {1: ("parting", "skew", "small_skew", "spindle_gouge"), 5: ("small_skew",)}
TICKED_IN_HAND = 5  # mount, rough, set out, and two sizing cuts
SHARES: dict[Stage, float] = {
    "mount": 1.5,
    "rough": 3.0,
    "set_out": 1.0,
    "size": 0.7,
    "tenon": 1.2,
    "run": 1.3,
    "form": 1.6,
    "thin": 2.0,
    "final": 0.16,
    "done": 0.3,
}

SCATTER_POSITION_MM = 0.25
CREEPS = "crown:s4"  # its nut was not quite tight, so from the third piece on it opened
STOOD_STILL, CREEP_MM = 2, 0.15
ODD = 4
ODD_OFF_MM = {"s7": -0.5, "along:s7:1": -0.7, "s8": -0.6}


def start(hands: Hands) -> SpindleSet:
    """The pattern, with the maker's speeds, and a set of nine with two spares."""
    pattern_id = patterns.read_table(hands.shop, BACK_SPINDLE, at=hands.now())
    patterns.rename(hands.shop, pattern_id, "Hall bench back spindle", BACK_SPINDLE_NOTE)
    patterns.set_speeds(hands.shop, pattern_id, SPEEDS)
    choices = Choices(
        name="Hall bench back spindles",
        note="White ash, dry, sawn along the grain. Ends marked 1 to 11 in pencil.",
        wanted=9,
        spares=2,
        unit="mm",
        habit="piece",
        tolerances=sets.DEFAULT_TOLERANCES,
        calipers=5,
        cuts="hard",
    )
    return sets.start(hands.shop, pattern_id, choices, at=hands.later(12))


def saw(hands: Hands, kept: SpindleSet) -> None:
    """The board is described, sawn, and its blanks numbered as the pieces."""
    told = replace(BOARD, set_id=str(kept.id))
    at = as_text(hands.clock - timedelta(days=1))
    boards.keep_board(hands.shop, None, told, key="5" * 32, at=at)
    stock.number_pieces(hands.shop, kept.id, at=at)
    for number, ring_deg in enumerate(RINGS_DEG, 1):
        origin.keep_ring(hands.shop, kept.id, number, ring_deg)
    log = replace(
        logs.bare_log("7" * 32, at),
        name="Ash butt",
        note="Felled in February, ends sealed the same day.",
        length_mm=1320.0,
        large_mm=360.0,
        small_mm=342.0,
        bark_mm=12.0,
        sapwood_mm=25.0,
        blank_length_mm=612.0,
        blank_side_mm=32.0,
    )
    logs.keep_log(hands.shop, log)


@dataclass
class Turning:
    """The set being turned, tap by tap."""

    hands: Hands
    aside: random.Random  # for taps that came to the demo later than the rest
    kept: SpindleSet
    work: Work

    def two_afternoons(self) -> None:
        """Six pieces done, and what is to be remembered of them."""
        for afternoon, (begins, pieces) in enumerate(AFTERNOONS):
            self.hands.clock = begins
            if afternoon:
                self._mark(None, "caliper_checked", about="A")
            else:
                self._mark_aside(None, "caliper_checked")
            for number, minutes in pieces.items():
                self._turn(number, self.work.steps, minutes)
        shop, set_id = self.hands.shop, self.kept.id
        as_made.keep_words(shop, set_id, AS_MADE)
        what, cure = MISTAKE
        as_made.note_mistake(shop, set_id, what, cure, key="4" * 32, at=self.hands.later(9))

    def begin_the_next(self) -> None:
        """A seventh piece, left in the middle."""
        self._turn(IN_HAND, self.work.steps[:TICKED_IN_HAND], 5.5)

    def _turn(self, number: int, steps: tuple[Step, ...], minutes: float) -> None:
        """Go through the steps of a piece in so many minutes, the clock with them."""
        shares = [SHARES[step.stage] * self.hands.chance.uniform(0.8, 1.2) for step in steps]
        begun, spent = self.hands.clock, 0.0
        for step, share in zip(steps, shares, strict=True):
            spent += share * minutes / sum(shares)
            self.hands.clock = max(self.hands.clock, begun + timedelta(seconds=round(spent * 60)))
            self.hands.later(self.hands.chance.uniform(0, 0.01))
            if step.id == "mount":
                self._mark(number, "touched_up", about="roughing_gouge")
                for tool in TOUCHED_UP_BEFORE.get(number, ()):
                    self._mark_aside(number, "touched_up", about=tool)
            elif step.touch_up:
                self._mark_aside(number, "touched_up", step_id=step.id)
            for place, axis in self._read(step):
                self._reading(number, step, place, axis)
            self._tick(number, step)

    def _read(self, step: Step) -> Iterator[tuple[Place, str]]:
        """What is read at a step: tenons while sizing too, everything at the end."""
        if step.reads is None or step.place_id is None:
            return
        place = self.work.places[step.place_id]
        if step.phase == "final" or step.stage == "tenon":
            across = place.kind == "tenon" and step.reads == "diameter"
            for axis in "AB" if across else ("none",):
                yield place, axis

    def _tick(self, number: int, step: Step) -> None:
        here = number, step.id
        if here == (6, "size:s6"):
            self._mark(number, "skip", step_id=step.id)
        elif step.stage == "done":
            self._mark(number, "done")
        elif step.phase != "final":
            self._mark(number, "step", step_id=step.id)
        if here == (2, "run:s2"):
            self._mark(number, "note", text="A pin knot just over the foot. It cut clean.")
        if here == (ODD, "final:s8"):
            self._mark(number, "odd", text="Turned too thin: the skew dug in at the neck")

    def _reading(self, number: int, step: Step, place: Place, axis: str) -> None:
        typed = self._caliper_says(number, step, place)
        if (number, step.id) == (3, "final:s3"):
            slip = self._take(number, step, axis, f"{float(typed) - 1:.1f}")
            self.hands.later(0.2)
            self._take(number, step, axis, typed, supersedes=slip)
        elif (number, step.id, axis) == (5, "final:s10", "B"):
            self._take(number + 1, step, axis, typed)
            at = self.hands.later(0.3)
            turning.move(
                self.hands.shop,
                self.kept.id,
                number + 1,
                count=1,
                to=number,
                key=self.hands.key(),
                device_id=None,
                received_at=at,
            )
        else:
            self._take(number, step, axis, typed)

    def _caliper_says(self, number: int, step: Step, place: Place) -> str:
        if step.reads == "position":
            return f"{place.at_mm + self.hands.chance.gauss(0, SCATTER_POSITION_MM):.1f}"
        off_mm = self.hands.chance.gauss(0, SCATTER_MM[place.kind])
        if place.id == CREEPS:
            off_mm = off_mm / 6 + CREEP_MM * max(0, number - STOOD_STILL)
        if number == ODD and place.id in ODD_OFF_MM:
            off_mm = off_mm / 3 + ODD_OFF_MM[place.id]
        return f"{place.diameter_mm + off_mm:.{2 if place.kind == 'tenon' else 1}f}"

    def _take(self, number: int, step: Step, axis: str, typed: str, *, supersedes: str = "") -> str:
        key, at = self.hands.key(), self.hands.later(0.05)
        turning.take(
            self.hands.shop,
            self.kept.id,
            number,
            turning.Taken(
                key=key,
                station_id=step.place_id or "",
                typed=typed,
                unit="mm",
                kind=step.reads or "diameter",
                axis=axis,
                phase=step.phase,
                revision=self.work.revision,
                taken_at=at,
                supersedes=supersedes,
            ),
            device_id=None,
            received_at=self._heard(),
        )
        return key

    def _mark(
        self, number: int | None, what: str, *, step_id: str = "", about: str = "", text: str = ""
    ) -> None:
        at = self.hands.later(0.02)
        turning.mark(
            self.hands.shop,
            self.kept.id,
            number,
            turning.Marked(self.hands.key(), what, step_id, about, text, taken_at=at),
            device_id=None,
            received_at=self._heard(),
        )

    def _mark_aside(
        self, number: int | None, what: str, *, step_id: str = "", about: str = ""
    ) -> None:
        """A mark that leaves all readings as they are: its key is of another row of chances."""
        at = self.hands.now()
        key = f"{self.aside.getrandbits(128):032x}"
        marked = turning.Marked(key, what, step_id, about, taken_at=at)
        turning.mark(self.hands.shop, self.kept.id, number, marked, device_id=None, received_at=at)

    def _heard(self) -> str:
        """When the laptop has it: a third of a second after the tap."""
        late = timedelta(milliseconds=self.hands.chance.randint(180, 420))
        return as_text(self.hands.clock + late)
