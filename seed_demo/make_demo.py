"""Make demo.json: two afternoons at an invented bench, tapped through the same verbs as at a real
one. Run it again after a change of the form; everything in it follows from one seed.
"""

from __future__ import annotations

import random
import tempfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from benchside import units
from benchside.job import (
    as_made,
    calipers,
    dried,
    drying,
    exchange,
    fit_forms,
    holes,
    measuring,
    originals,
    patterns,
    sets,
    stock,
    turning,
    wood,
    wood_of,
)
from benchside.job import shop as shop_room
from benchside.job.board_table import BoardTold, KnotRow
from benchside.job.original_table import Row, Told
from benchside.lathe.plan import Stage, Step
from benchside.pattern import Pattern, Place, table
from benchside.store.database import Shop
from benchside.store.judging import AsMade
from benchside.store.originals import OriginalReading
from benchside.store.sets import Choices, SpindleSet
from benchside.store.tools import OwnedCaliper
from benchside.wood.shrinkage import section_mm

SEED = 21
FILE = Path(__file__).with_name("demo.json")
DATABASE_ID = "de30" * 8  # of no real bench

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
BALUSTER = """\
# pattern: Maple baluster, stair
at,diameter,name,kind,section,through
0,3/4,Lower pin,tenon,shoulder,
1,1 1/2,Plinth,decorative,straight,
3 1/4,1 1/2,Foot cove,decorative,cove,15/16
4 1/8,1 1/8,Foot ring,decorative,bead,1 1/2
4 9/16,1 1/8,Vase foot,decorative,bead,1 3/4
7 3/4,1 3/4,Vase belly,decorative,bead,1 3/4
10,1 3/8,Vase turn,decorative,cove,7/8
13 1/4,7/8,Neck ring,decorative,bead,1 3/16
13 11/16,7/8,Sleeve foot,decorative,bead,1 1/4
16,1 1/4,Sleeve,decorative,taper,
26 1/4,7/8,Top ring,decorative,bead,1 1/8
26 5/8,7/8,Cap cove,decorative,cove,13/16
28 1/4,1 1/8,Cap,decorative,straight,
29,1 1/8,Top shoulder,decorative,shoulder,
30,5/8,Upper pin,tenon,,
"""
RUNG = """\
# pattern: Stick chair rung
at_mm,diameter_mm,name,kind,section,through_mm
0,15.9,Left tenon,tenon,shoulder,
24,17,Left end,decorative,taper,
205,24,Swell,decorative,taper,
386,17,Right end,decorative,shoulder,
410,15.9,Right tenon,tenon,,
"""
RUNG_NOTE = "Six to a chair, turned green the week the log was split."
BALUSTER_NOTE = "Measured from one old baluster; its mate is missing."
# What its two ways across differ by from the middle, in 64ths: a hundred years of hands and of
# drying. And a slip at one place: the belly's figure typed at the turn below it.
OVAL = {"Vase belly": 1, "Sleeve": 2, "Cap": 1}
SLIP = "Vase turn", "1 3/4"
ONCE_MORE = {"Sleeve": 1, "Neck ring": -1}  # a second look at the dot, so many 64ths off
AS_MADE = AsMade(
    wood="White ash, sawn along the grain, eight months under the roof",
    bits="16 mm below, 12.7 mm (1/2 in) above, both lip and spur",
)
MISTAKE = (
    "The skew dug in at the neck of 4.",
    "A fresh edge before each neck, and a bare hand flat behind it.",
)
LATHE = shop_room.Lathe(
    steps_rpm=(500.0, 700.0, 900.0, 1100.0, 1650.0, 2300.0), steady="rollers", grip="spur"
)
# Test holes: how it cuts, the size on it, the wood, what was read along the grain and across, and
# how many tenons were tried in it.
HOLES = (
    ("Lip and spur bit", "16", "white ash", (("16.12", "16.07"), ("16.10", "")), 4),
    ("Lip and spur bit", "12.7", "white ash", (("12.80", "12.76"),), 2),
    ("Lip and spur bit", "5/8 in", "red maple", (("15.88", "15.84"),), 3),
    ("Old spade bit", "16", "sugar maple", (("16.31", "16.24"),), 14),
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
# For the baluster, not sawn yet: its grain runs off, and one knot shows on the back only.
PLANK = BoardTold(
    name="Maple plank",
    unit="in/64",
    length="96",
    width="7 1/4",
    thickness="2 1/8",
    kerf="1/8",
    trim_left="1 1/2",
    slope="1 in 24",
    knots=(
        KnotRow("knot", "one", "27 1/2", "2 1/4", "1 1/4", "1"),
        KnotRow("knot", "two", "58", "5 1/8", "1 1/2", "1 1/8"),
    ),
)
RINGS_DEG = (8.0, 12.0, 10.0, 171.0, 35.0, 41.0, 38.0, 95.0)  # of the first pieces, as seen
SPEEDS: dict[str, str] = {"rough": "700", "size": "900", "form": "1100", "thin": "900"}
# Four that open and a slot filed for the upper tenon; none is enough for every size by itself.
CALIPERS = (
    OwnedCaliper("A", "spring", 0.0, 75.0, "the long one"),
    OwnedCaliper("B", "spring", 0.0, 50.0),
    OwnedCaliper("C", "firm", 0.0, 100.0),
    OwnedCaliper("D", "spring", 0.0, 40.0),
    OwnedCaliper("E", "firm", 0.0, 60.0),
    OwnedCaliper("G", "fixed", 12.7, 12.7, "slot filed for the upper tenon"),
)

# Minutes to a piece, from the one before it to its last tap, by the afternoon it was turned on.
AFTERNOONS = (
    (datetime(2026, 3, 17, 14, 5, tzinfo=UTC), {1: 27.0, 2: 19.0, 3: 15.0}),
    (datetime(2026, 3, 18, 13, 40, tzinfo=UTC), {4: 13.5, 5: 14.0, 6: 13.0}),
)
TODAY = datetime(2026, 3, 19, 14, 0, tzinfo=UTC)
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

SCATTER_MM = {"tenon": 0.035, "slender": 0.12, "decorative": 0.12}
SCATTER_POSITION_MM = 0.25
# The repeat test of the calipers, on a spindle of the stack: its three places, and how hands err.
TESTED_MM, HAND_MM = (27.0, 13.0, 18.0), 0.02
CREEPS = "crown:s4"  # its nut was not quite tight, so from the third piece on it opened
STOOD_STILL, CREEP_MM = 2, 0.15
ODD = 4
ODD_OFF_MM = {"s7": -0.5, "along:s7:1": -0.7, "s8": -0.6}


def main() -> None:
    """Write the file anew."""
    FILE.write_text(made(), encoding="utf-8")


def made() -> str:
    """The demo as an export."""
    with (
        tempfile.TemporaryDirectory() as folder,
        closing(Shop(Path(folder) / "demo.db")) as shop,
    ):
        bench = _Bench(shop)
        last = bench.turn_two_afternoons_and_begin_today()
        document = exchange.export_all(shop, now=_iso(last))
    return exchange.to_json({**document, "database_id": DATABASE_ID})


# The rungs are turned green ten days before; then these go on the scales every morning: oven-dry
# weight, what is left each day of the way to balance with the air. Two lie by the stove.
RUNGS_TURNED = datetime(2026, 3, 9, 9, 0, tzinfo=UTC)
RUNGS, RUNGS_DRY = 7, (1, 2)
SCALES = {1: (86.2, 0.58), 2: (84.9, 0.60), 4: (88.1, 0.80), 6: (85.4, 0.78)}
WEIGHED_DAYS = 10
GREEN_MC, SLICE_G = 43.8, ("14.38", "10.00")  # an offcut, wet and out of the oven
ROOM = (23.0, 30.0)
TREE = 5.3, 8.2  # what this tree shrinks along the rays and along the rings, by no book
POSTS = {"s1": "Left post", "s5": "Right post"}  # by the tenon that goes in
SIZED = {1: ("16.12", "16.10")}  # at the dot and a quarter turn on
BALANCE_MC = 6.1  # of that air


class _Bench:
    """The invented maker: where the day stands, and what the hands do."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.chance = random.Random(SEED)
        self.aside = random.Random(SEED + 1)  # for taps that came to the demo later than the rest
        self.clock = AFTERNOONS[0][0] - timedelta(hours=2)
        self._furnish()
        self.kept = self._start_the_back_spindles()
        self.work = turning.work(shop, self.kept.pattern_id, self.kept.revision)
        self._start_the_baluster()
        self._test_the_calipers()
        self._saw_the_board()
        self._turn_the_rungs_green()

    def turn_two_afternoons_and_begin_today(self) -> datetime:
        """Six pieces done and a seventh begun; returns the moment of the last tap."""
        for afternoon, (begins, pieces) in enumerate(AFTERNOONS):
            self.clock = begins
            if afternoon:
                self._mark(None, "caliper_checked", about="A")
            else:
                self._mark_aside(None, "caliper_checked")
            for number, minutes in pieces.items():
                self._turn(number, self.work.steps, minutes)
        as_made.keep_words(self.shop, self.kept.id, AS_MADE)
        what, cure = MISTAKE
        as_made.note_mistake(self.shop, self.kept.id, what, cure, key="4" * 32, at=self._later(9))
        shop_room.keep_lathe(self.shop, LATHE)  # described today, the steady just made
        self.clock = TODAY - timedelta(hours=2)
        self._bore_test_holes()
        self._fit_the_rungs()
        self.clock = TODAY
        self._turn(IN_HAND, self.work.steps[:TICKED_IN_HAND], 5.5)
        return self.clock

    def _furnish(self) -> None:
        """The calipers listed."""
        for caliper in CALIPERS:
            calipers.keep(self.shop, caliper)

    def _start_the_back_spindles(self) -> SpindleSet:
        pattern_id = patterns.read_table(self.shop, BACK_SPINDLE, at=_iso(self.clock))
        patterns.rename(self.shop, pattern_id, "Hall bench back spindle", BACK_SPINDLE_NOTE)
        patterns.set_speeds(self.shop, pattern_id, SPEEDS)
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
        return sets.start(self.shop, pattern_id, choices, at=self._later(12))

    def _saw_the_board(self) -> None:
        """The board is described, sawn, and its blanks numbered as the pieces."""
        told = replace(BOARD, set_id=str(self.kept.id))
        at = _iso(self.clock - timedelta(days=1))
        stock.keep_board(self.shop, None, told, key="5" * 32, at=at)
        stock.number_pieces(self.shop, self.kept.id, at=at)
        for number, ring_deg in enumerate(RINGS_DEG, 1):
            stock.keep_ring(self.shop, self.kept.id, number, ring_deg)
        log = replace(
            stock.bare_log("7" * 32, at),
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
        stock.keep_log(self.shop, log)

    def _start_the_baluster(self) -> None:
        original_id = self._measure_the_old_baluster()
        pattern_id = originals.make_pattern(self.shop, original_id, at=self._later(2))
        choices = Choices(
            name="Maple baluster, stair",
            note="One to copy, and a spare in case.",
            wanted=1,
            spares=1,
            unit="in/64",
            habit="piece",
            tolerances=sets.DEFAULT_TOLERANCES,
            calipers=3,
        )
        kept = sets.start(self.shop, pattern_id, choices, at=self._later(5))
        sets.practice_piece(self.shop, kept.id)
        plank = replace(PLANK, set_id=str(kept.id))
        stock.keep_board(self.shop, None, plank, key="6" * 32, at=_iso(self.clock))

    def _test_the_calipers(self) -> None:
        """Three places, each read three times, by chances of their own."""
        chance = random.Random(SEED)
        test_id = measuring.begin(self.shop, "mm/100", at=self._later(3))
        while at := measuring.trial(self.shop, test_id).next:
            place, turn = at
            typed = f"{TESTED_MM[place - 1] + chance.gauss(0, HAND_MM):.2f}"
            measuring.take(self.shop, test_id, place, turn, typed, sure=False, at=self._later(0.2))

    def _bore_test_holes(self) -> None:
        for n, (bit, named, species, read, tried) in enumerate(HOLES, 1):
            key = f"{0xB0:030x}{n:02x}"
            told = holes.Told(bit, named, species, "30", "mm", "in an offcut")
            holes.add(self.shop, told, key=key, at=self._later(4))
            for m, (along, across) in enumerate(read, 1):
                typed: dict[holes.Axis, str] = {"A": along, "B": across}
                cells, at = f"{0xB1:028x}{n:02x}{m:02x}", self._later(1)
                holes.read(self.shop, key, typed, key=cells, sure=False, at=at)
            holes.used(self.shop, key, tried - 1)

    def _fit_the_rungs(self) -> None:
        """Damp posts and bone-dry rungs without glue; the first rung is sized today."""
        for n, (tenon, name) in enumerate(POSTS.items(), 1):
            told = fit_forms.Told(
                name=name,
                species="red maple",
                moisture="16",
                across="tangential",
                tenon=tenon,
                test_hole=f"{0xB0:030x}03",
                school="damp_post",
                tenon_moisture="6",
                turning="across",
            )
            part = f"{0xF1:030x}{n:02x}"
            fit_forms.keep_part(self.shop, self.rungs.id, told, key=part, at=self._later(2))
            for number, (wide, narrow) in SIZED.items():
                both: dict[holes.Axis, str] = {"A": wide, "B": narrow}
                key, at = f"{0xF2:028x}{n:02x}{number:02x}", self._later(3)
                fit_forms.read_size(
                    self.shop, self.rungs.id, part, number, both, key=key, sure=False, at=at
                )

    def _turn_the_rungs_green(self) -> None:
        """Rungs turned green ten days ago: every size the one to turn then, dried on the scales."""
        chance = random.Random(SEED + 2)
        at = RUNGS_TURNED - timedelta(hours=1)
        pattern_id = patterns.read_table(self.shop, RUNG, at=_iso(at))
        patterns.rename(self.shop, pattern_id, "Stick chair rung", RUNG_NOTE)
        choices = Choices(
            name="Rungs for the stick chair",
            note="White ash, split on Saturday. Dots at the tail end point along the rays.",
            wanted=RUNGS - 1,
            spares=1,
            unit="mm",
            habit="piece",
            tolerances=sets.DEFAULT_TOLERANCES,
            calipers=3,
            cuts="hard",
        )
        kept = sets.start(self.shop, pattern_id, choices, at=_iso(at))
        given = wood.Given("white ash", "green", "green", "cold_winters", moisture=GREEN_MC)
        wood.give(self.shop, kept.id, given, at=_iso(at))
        drying.keep_room(self.shop, kept.id, *ROOM)
        rungs = _Rungs(self.shop, kept, chance)
        for number in range(1, RUNGS + 1):
            rungs.turn(number)
        rungs.weigh()
        rungs.measure_dry()
        self.rungs = kept

    def _measure_the_old_baluster(self) -> int:
        """Every place at the dot and a quarter turn on, to the nearest 64th."""
        true = table.read_pattern(BALUSTER, unit="in")
        forms = [*(section.form for section in true.sections), "straight"]
        rows = tuple(
            Row(at=_in_64ths(s.at_mm), name=s.name, kind=s.kind, form=form)
            for s, form in zip(true.stations, forms, strict=True)
        )
        told = Told(true.name, BALUSTER_NOTE, "in/64", "tail", "1", rows)
        original_id = originals.begin(self.shop, told, at=self._later(4))
        seen = originals.seen(self.shop, original_id)
        sizes = {line.spot: _true_mm(true, line.spot.id) for line in seen.lines}
        cells = {}
        for spot, mm in sizes.items():
            by = OVAL.get(spot.name, 0) if spot.role == "station" else 0
            cells[spot.id, "A"] = _in_64ths(mm, by)
            cells[spot.id, "B"] = _in_64ths(mm, -by)
        slip = {(spot.id, "A"): SLIP[1] for spot in sizes if spot.name == SLIP[0]}
        slip = {cell: text for cell, text in slip.items() if ":" not in cell[0]}
        self._read_the_old_baluster(original_id, "1", {**cells, **slip}, sure=True)
        wrong = [r for r in originals.seen(self.shop, original_id).readings if _is_slip(r, slip)]
        for reading in wrong:
            originals.strike(self.shop, original_id, reading.key, self._later(0.2))
        again = {cell: cells[cell] for cell in slip}
        for spot, mm in sizes.items():
            if spot.role == "station" and spot.name in ONCE_MORE:
                around = ONCE_MORE[spot.name] + OVAL.get(spot.name, 0)
                again[spot.id, "A"] = _in_64ths(mm, around)
        self._read_the_old_baluster(original_id, "2", again)
        steady = {cell: cells[cell] for cell in again if cell not in slip}
        self._read_the_old_baluster(original_id, "3", steady)
        return original_id

    def _read_the_old_baluster(
        self, original_id: int, page: str, cells: dict[tuple[str, str], str], *, sure: bool = False
    ) -> None:
        key, at = page * 32, self._later(6)
        originals.take(self.shop, original_id, 1, cells, key=key, sure=sure, at=at)

    def _turn(self, number: int, steps: tuple[Step, ...], minutes: float) -> None:
        """Go through the steps of a piece in so many minutes, the clock with them."""
        shares = [SHARES[step.stage] * self.chance.uniform(0.8, 1.2) for step in steps]
        begun, spent = self.clock, 0.0
        for step, share in zip(steps, shares, strict=True):
            spent += share * minutes / sum(shares)
            self.clock = max(self.clock, begun + timedelta(seconds=round(spent * 60)))
            self._later(self.chance.uniform(0, 0.01))
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
            self._later(0.2)
            self._take(number, step, axis, typed, supersedes=slip)
        elif (number, step.id, axis) == (5, "final:s10", "B"):
            self._take(number + 1, step, axis, typed)
            at = self._later(0.3)
            turning.move(
                self.shop,
                self.kept.id,
                number + 1,
                count=1,
                to=number,
                key=self._key(),
                device_id=None,
                received_at=at,
            )
        else:
            self._take(number, step, axis, typed)

    def _caliper_says(self, number: int, step: Step, place: Place) -> str:
        if step.reads == "position":
            return f"{place.at_mm + self.chance.gauss(0, SCATTER_POSITION_MM):.1f}"
        off_mm = self.chance.gauss(0, SCATTER_MM[place.kind])
        if place.id == CREEPS:
            off_mm = off_mm / 6 + CREEP_MM * max(0, number - STOOD_STILL)
        if number == ODD and place.id in ODD_OFF_MM:
            off_mm = off_mm / 3 + ODD_OFF_MM[place.id]
        return f"{place.diameter_mm + off_mm:.{2 if place.kind == 'tenon' else 1}f}"

    def _take(self, number: int, step: Step, axis: str, typed: str, *, supersedes: str = "") -> str:
        key, at = self._key(), self._later(0.05)
        turning.take(
            self.shop,
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
        at = self._later(0.02)
        turning.mark(
            self.shop,
            self.kept.id,
            number,
            turning.Marked(self._key(), what, step_id, about, text, taken_at=at),
            device_id=None,
            received_at=self._heard(),
        )

    def _mark_aside(self, number: int | None, what: str, **said: str) -> None:
        """A mark that leaves all readings as they are: its key is of another row of chances."""
        at = _iso(self.clock)
        key = f"{self.aside.getrandbits(128):032x}"
        marked = turning.Marked(key, what, taken_at=at, **said)
        turning.mark(self.shop, self.kept.id, number, marked, device_id=None, received_at=at)

    def _later(self, minutes: float) -> str:
        """The moment so many minutes on, where the clock stands from then."""
        self.clock += timedelta(milliseconds=round(minutes * 60_000))
        return _iso(self.clock)

    def _heard(self) -> str:
        """When the laptop has it: a third of a second after the tap."""
        return _iso(self.clock + timedelta(milliseconds=self.chance.randint(180, 420)))

    def _key(self) -> str:
        return f"{self.chance.getrandbits(128):032x}"


class _Rungs:
    """A morning of rungs, by chances of their own, and the mornings on the scales after it."""

    def __init__(self, shop: Shop, kept: SpindleSet, chance: random.Random) -> None:
        self.shop, self.kept, self.chance = shop, kept, chance
        self.clock = RUNGS_TURNED

    def turn(self, number: int) -> None:
        """Every step tapped, every place read, about nine minutes."""
        work = turning.work_of(self.shop, self.kept, number)
        for step in work.steps:
            self.clock += timedelta(seconds=round(self.chance.uniform(8, 30)))
            place = work.places.get(step.place_id or "")
            if step.phase == "final" and place is not None and step.reads == "diameter":
                for axis in "AB" if place.kind == "tenon" else ("none",):
                    self._read(number, place, axis)
            elif step.stage == "done":
                self._mark(number, "done", "")
            elif step.phase != "final":
                self._mark(number, "step", step.id)

    def weigh(self) -> None:
        """An offcut through the oven, some rungs on the scales each morning, two of them dry."""
        wet, dry = SLICE_G
        drying.weigh_slice(
            self.shop, self.kept.id, wet, dry, "g", key="8" * 32, at=_iso(self._morning(1))
        )
        for day in range(WEIGHED_DAYS):
            for number, (dry_g, left) in SCALES.items():
                moisture = BALANCE_MC + (GREEN_MC - BALANCE_MC) * left**day
                grams = dry_g * (1 + moisture / 100) + self.chance.gauss(0, 0.03)
                at = _iso(self._morning(day) + timedelta(minutes=number))
                typed = f"{grams:.1f}"
                drying.weigh(self.shop, self.kept.id, number, typed, "g", key=self._key(), at=at)
        for number in RUNGS_DRY:
            at = _iso(self._morning(WEIGHED_DAYS - 1) + timedelta(minutes=20))
            drying.note(self.shop, self.kept.id, number, "dried", key=self._key(), at=at)

    def measure_dry(self) -> None:
        """Those that are dry, both tenons two ways; how dry, their weight says."""
        known = wood_of.known(self.shop, self.kept.id)
        assert known is not None
        now = _iso(self._morning(WEIGHED_DAYS - 1) + timedelta(minutes=40))
        for number in RUNGS_DRY:
            moisture, _ = dried.moisture_of(self.shop, self.kept.id, number, now=now)
            cells: dict[tuple[str, str], str] = {}
            for line in dried.dried(self.shop, self.kept.id).piece(number).lines:
                if line.tenon:
                    turned_mm = line.turned.size_mm
                    both = section_mm(turned_mm, *TREE, known.turned_mc, moisture)
                    for axis, mm in zip("AB", both, strict=True):
                        typed = f"{mm + self.chance.gauss(0, 0.02):.2f}"
                        cells[line.place.id, axis] = typed
            dried.take(
                self.shop,
                self.kept.id,
                number,
                cells,
                moisture=f"{moisture:.1f}",
                key=self._key(),
                sure=False,
                at=now,
            )

    def _read(self, number: int, place: Place, axis: str) -> None:
        off_mm = self.chance.gauss(0, SCATTER_MM[place.kind])
        typed = f"{place.diameter_mm + off_mm:.{2 if place.kind == 'tenon' else 1}f}"
        taken = turning.Taken(self._key(), place.id, typed, "mm", axis=axis, taken_at=self._now())
        turning.take(
            self.shop, self.kept.id, number, taken, device_id=None, received_at=self._now()
        )

    def _mark(self, number: int, what: str, step_id: str) -> None:
        marked = turning.Marked(self._key(), what, step_id, taken_at=self._now())
        turning.mark(
            self.shop, self.kept.id, number, marked, device_id=None, received_at=self._now()
        )

    def _morning(self, day: int) -> datetime:
        """The same hour each morning, from an hour after the last rung."""
        return RUNGS_TURNED + timedelta(days=day, hours=3)

    def _now(self) -> str:
        return _iso(self.clock)

    def _key(self) -> str:
        return f"{self.chance.getrandbits(128):032x}"


def _in_64ths(mm: float, more: int = 0) -> str:
    return units.format_length(mm + more * 25.4 / 64, "in/64")


def _true_mm(pattern: Pattern, place_id: str) -> float:
    """The size of a station, or of the crown or root after it."""
    row = [station.id for station in pattern.stations].index(place_id.rpartition(":")[2])
    through_mm = pattern.sections[row].through_mm if ":" in place_id else None
    return through_mm or pattern.stations[row].diameter_mm


def _is_slip(reading: OriginalReading, slip: dict[tuple[str, str], str]) -> bool:
    return slip.get((reading.place_id, reading.axis)) == reading.typed


def _iso(moment: datetime) -> str:
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


if __name__ == "__main__":
    main()
