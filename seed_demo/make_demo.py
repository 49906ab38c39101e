"""Make demo.json: two afternoons at an invented bench, tapped through the same verbs as at a real
one. Run it again after a change of the form (python -m seed_demo.make_demo); everything in it
follows from one seed.
"""

from __future__ import annotations

import random
import tempfile
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

from benchside.job import calipers, exchange, holes, measuring
from benchside.job import shop as shop_room
from benchside.job.work import work_on
from benchside.store.database import Shop
from benchside.store.fitting import Axis
from benchside.store.tools import OwnedCaliper
from seed_demo import back_spindles, baluster, rungs
from seed_demo.hands import Hands

SEED = 21
FILE = Path(__file__).with_name("demo.json")
DATABASE_ID = "de30" * 8  # of no real bench
TODAY = datetime(2026, 3, 19, 14, 0, tzinfo=UTC)
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
# Four that open and a slot filed for the upper tenon; none is enough for every size by itself.
CALIPERS = (
    OwnedCaliper("A", "spring", 0.0, 75.0, "the long one"),
    OwnedCaliper("B", "spring", 0.0, 50.0),
    OwnedCaliper("C", "firm", 0.0, 100.0),
    OwnedCaliper("D", "spring", 0.0, 40.0),
    OwnedCaliper("E", "firm", 0.0, 60.0),
    OwnedCaliper("G", "fixed", 12.7, 12.7, "slot filed for the upper tenon"),
)
# The repeat test of the calipers, on a spindle of the stack: its three places, and how hands err.
TESTED_MM, HAND_MM = (27.0, 13.0, 18.0), 0.02


def main() -> None:
    """Write the file anew."""
    FILE.write_text(made(), encoding="utf-8")


def made() -> str:
    """The demo as an export."""
    with (
        tempfile.TemporaryDirectory() as folder,
        closing(Shop(Path(folder) / "demo.db")) as shop,
    ):
        last = _everything(shop)
        document = exchange.export_all(shop, now=last)
    return exchange.to_json({**document, "database_id": DATABASE_ID})


def _everything(shop: Shop) -> str:
    """All that was done at the bench, in its order; returns the moment of the last tap."""
    for caliper in CALIPERS:
        calipers.keep(shop, caliper)
    begun = back_spindles.AFTERNOONS[0][0] - timedelta(hours=2)
    hands = Hands(shop, random.Random(SEED), begun)
    backs = back_spindles.start(hands)
    work = work_on(shop, backs.pattern_id, backs.revision)
    at_work = back_spindles.Turning(hands, random.Random(SEED + 1), backs, work)
    baluster.start(hands)
    _test_the_calipers(hands)
    back_spindles.saw(hands, backs)
    green = rungs.turn_green(Hands(shop, random.Random(SEED + 2), rungs.TURNED))
    at_work.two_afternoons()
    shop_room.keep_lathe(shop, LATHE)  # described today, the steady just made
    hands.clock = TODAY - timedelta(hours=2)
    _bore_test_holes(hands)
    rungs.fit(hands, green)
    hands.clock = TODAY
    at_work.begin_the_next()
    return hands.now()


def _test_the_calipers(hands: Hands) -> None:
    """Three places, each read three times, by chances of their own."""
    chance = random.Random(SEED)
    test_id = measuring.begin(hands.shop, "mm/100", at=hands.later(3))
    while at := measuring.trial(hands.shop, test_id).next:
        place, turn = at
        typed = f"{TESTED_MM[place - 1] + chance.gauss(0, HAND_MM):.2f}"
        measuring.take(hands.shop, test_id, place, turn, typed, sure=False, at=hands.later(0.2))


def _bore_test_holes(hands: Hands) -> None:
    for n, (bit, named, species, read, tried) in enumerate(HOLES, 1):
        key = f"{0xB0:030x}{n:02x}"
        told = holes.Told(bit, named, species, "30", "mm", "in an offcut")
        holes.add(hands.shop, told, key=key, at=hands.later(4))
        for m, (along, across) in enumerate(read, 1):
            typed: dict[Axis, str] = {"A": along, "B": across}
            cells, at = f"{0xB1:028x}{n:02x}{m:02x}", hands.later(1)
            holes.read(hands.shop, key, typed, key=cells, sure=False, at=at)
        holes.used(hands.shop, key, tried - 1)


if __name__ == "__main__":
    main()
