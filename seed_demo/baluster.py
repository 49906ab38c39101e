"""The baluster: one old one measured, a pattern made of it, its plank not sawn yet."""

from __future__ import annotations

from dataclasses import replace

from benchside import units
from benchside.job import boards, originals, sets
from benchside.job.board_table import BoardTold, KnotRow
from benchside.job.original_table import Row, Told
from benchside.pattern import Pattern, table
from benchside.store.originals import OriginalReading
from benchside.store.sets import Choices
from seed_demo.hands import Hands

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
BALUSTER_NOTE = "Measured from one old baluster; its mate is missing."
# What its two ways across differ by from the middle, in 64ths: a hundred years of hands and of
# drying. And a slip at one place: the belly's figure typed at the turn below it.
OVAL = {"Vase belly": 1, "Sleeve": 2, "Cap": 1}
SLIP = "Vase turn", "1 3/4"
ONCE_MORE = {"Sleeve": 1, "Neck ring": -1}  # a second look at the dot, so many 64ths off
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


def start(hands: Hands) -> None:
    """The old baluster measured, its pattern, a set of two with a practice piece, its plank."""
    original_id = _measure(hands)
    pattern_id = originals.make_pattern(hands.shop, original_id, at=hands.later(2))
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
    kept = sets.start(hands.shop, pattern_id, choices, at=hands.later(5))
    sets.practice_piece(hands.shop, kept.id)
    plank = replace(PLANK, set_id=str(kept.id))
    boards.keep_board(hands.shop, None, plank, key="6" * 32, at=hands.now())


def _measure(hands: Hands) -> int:
    """Every place at the dot and a quarter turn on, to the nearest 64th."""
    true = table.read_pattern(BALUSTER, unit="in")
    forms = [*(section.form for section in true.sections), "straight"]
    rows = tuple(
        Row(at=_in_64ths(s.at_mm), name=s.name, kind=s.kind, form=form)
        for s, form in zip(true.stations, forms, strict=True)
    )
    told = Told(true.name, BALUSTER_NOTE, "in/64", "tail", "1", rows)
    original_id = originals.begin(hands.shop, told, at=hands.later(4))
    seen = originals.seen(hands.shop, original_id)
    sizes = {line.spot: _true_mm(true, line.spot.id) for line in seen.lines}
    cells = {}
    for spot, mm in sizes.items():
        by = OVAL.get(spot.name, 0) if spot.role == "station" else 0
        cells[spot.id, "A"] = _in_64ths(mm, by)
        cells[spot.id, "B"] = _in_64ths(mm, -by)
    slip = {(spot.id, "A"): SLIP[1] for spot in sizes if spot.name == SLIP[0]}
    slip = {cell: text for cell, text in slip.items() if ":" not in cell[0]}
    _read(hands, original_id, "1", {**cells, **slip}, sure=True)
    wrong = [r for r in originals.seen(hands.shop, original_id).readings if _is_slip(r, slip)]
    for reading in wrong:
        originals.strike(hands.shop, original_id, reading.key, hands.later(0.2))
    again = {cell: cells[cell] for cell in slip}
    for spot, mm in sizes.items():
        if spot.role == "station" and spot.name in ONCE_MORE:
            around = ONCE_MORE[spot.name] + OVAL.get(spot.name, 0)
            again[spot.id, "A"] = _in_64ths(mm, around)
    _read(hands, original_id, "2", again)
    steady = {cell: cells[cell] for cell in again if cell not in slip}
    _read(hands, original_id, "3", steady)
    return original_id


def _read(
    hands: Hands,
    original_id: int,
    page: str,
    cells: dict[tuple[str, str], str],
    *,
    sure: bool = False,
) -> None:
    key, at = page * 32, hands.later(6)
    originals.take(hands.shop, original_id, 1, cells, key=key, sure=sure, at=at)


def _in_64ths(mm: float, more: int = 0) -> str:
    return units.format_length(mm + more * 25.4 / 64, "in/64")


def _true_mm(pattern: Pattern, place_id: str) -> float:
    """The size of a station, or of the crown or root after it."""
    row = [station.id for station in pattern.stations].index(place_id.rpartition(":")[2])
    through_mm = pattern.sections[row].through_mm if ":" in place_id else None
    return through_mm or pattern.stations[row].diameter_mm


def _is_slip(reading: OriginalReading, slip: dict[tuple[str, str], str]) -> bool:
    return slip.get((reading.place_id, reading.axis)) == reading.typed
