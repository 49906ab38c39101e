"""The rungs: turned green, dried on the scales, measured dry, fitted to damp posts."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from benchside.job import dried, drying, fit_forms, patterns, sets, turning, wood, wood_of
from benchside.job.work import work_of
from benchside.moments import as_text
from benchside.pattern import Place
from benchside.store.fitting import Axis
from benchside.store.sets import Choices, SpindleSet
from benchside.wood.shrinkage import section_mm
from seed_demo.hands import SCATTER_MM, Hands

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
# The rungs are turned green ten days before; then these go on the scales every morning: oven-dry
# weight, what is left each day of the way to balance with the air. Two lie by the stove.
TURNED = datetime(2026, 3, 9, 9, 0, tzinfo=UTC)
RUNGS, DRY = 7, (1, 2)
SCALES = {1: (86.2, 0.58), 2: (84.9, 0.60), 4: (88.1, 0.80), 6: (85.4, 0.78)}
WEIGHED_DAYS = 10
GREEN_MC, SLICE_G = 43.8, ("14.38", "10.00")  # an offcut, wet and out of the oven
ROOM = (23.0, 30.0)
TREE = 5.3, 8.2  # what this tree shrinks along the rays and along the rings, by no book
POSTS = {"s1": "Left post", "s5": "Right post"}  # by the tenon that goes in
SIZED = {1: ("16.12", "16.10")}  # at the dot and a quarter turn on
BALANCE_MC = 6.1  # of that air


def turn_green(hands: Hands) -> SpindleSet:
    """Rungs turned green ten days ago: every size the one to turn then, dried on the scales."""
    at = as_text(TURNED - timedelta(hours=1))
    pattern_id = patterns.read_table(hands.shop, RUNG, at=at)
    patterns.rename(hands.shop, pattern_id, "Stick chair rung", RUNG_NOTE)
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
    kept = sets.start(hands.shop, pattern_id, choices, at=at)
    given = wood.Given("white ash", "green", "green", "cold_winters", moisture=GREEN_MC)
    wood.give(hands.shop, kept.id, given, at=at)
    drying.keep_room(hands.shop, kept.id, *ROOM)
    for number in range(1, RUNGS + 1):
        _turn(hands, kept, number)
    _weigh(hands, kept)
    _measure_dry(hands, kept)
    return kept


def fit(hands: Hands, kept: SpindleSet) -> None:
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
        fit_forms.keep_part(hands.shop, kept.id, told, key=part, at=hands.later(2))
        for number, (wide, narrow) in SIZED.items():
            both: dict[Axis, str] = {"A": wide, "B": narrow}
            key, at = f"{0xF2:028x}{n:02x}{number:02x}", hands.later(3)
            fit_forms.read_size(hands.shop, kept.id, part, number, both, key=key, sure=False, at=at)


def _turn(hands: Hands, kept: SpindleSet, number: int) -> None:
    """Every step tapped, every place read, about nine minutes."""
    work = work_of(hands.shop, kept, number)
    for step in work.steps:
        hands.clock += timedelta(seconds=round(hands.chance.uniform(8, 30)))
        place = work.places.get(step.place_id or "")
        if step.phase == "final" and place is not None and step.reads == "diameter":
            for axis in "AB" if place.kind == "tenon" else ("none",):
                _read(hands, kept, number, place, axis)
        elif step.stage == "done":
            _mark(hands, kept, number, "done", "")
        elif step.phase != "final":
            _mark(hands, kept, number, "step", step.id)


def _weigh(hands: Hands, kept: SpindleSet) -> None:
    """An offcut through the oven, some rungs on the scales each morning, two of them dry."""
    wet, dry = SLICE_G
    drying.weigh_slice(hands.shop, kept.id, wet, dry, "g", key="8" * 32, at=as_text(_morning(1)))
    for day in range(WEIGHED_DAYS):
        for number, (dry_g, left) in SCALES.items():
            moisture = BALANCE_MC + (GREEN_MC - BALANCE_MC) * left**day
            grams = dry_g * (1 + moisture / 100) + hands.chance.gauss(0, 0.03)
            at = as_text(_morning(day) + timedelta(minutes=number))
            typed = f"{grams:.1f}"
            drying.weigh(hands.shop, kept.id, number, typed, "g", key=hands.key(), at=at)
    for number in DRY:
        at = as_text(_morning(WEIGHED_DAYS - 1) + timedelta(minutes=20))
        drying.note(hands.shop, kept.id, number, "dried", key=hands.key(), at=at)


def _measure_dry(hands: Hands, kept: SpindleSet) -> None:
    """Those that are dry, both tenons two ways; how dry, their weight says."""
    known = wood_of.known(hands.shop, kept.id)
    assert known is not None
    now = as_text(_morning(WEIGHED_DAYS - 1) + timedelta(minutes=40))
    for number in DRY:
        piece = dried.dried(hands.shop, kept.id).piece(number)
        moisture = piece.holds.mc
        cells: dict[tuple[str, str], str] = {}
        for line in piece.lines:
            if line.tenon:
                turned_mm = line.turned.size_mm
                both = section_mm(turned_mm, *TREE, known.turned_mc, moisture)
                for axis, mm in zip("AB", both, strict=True):
                    typed = f"{mm + hands.chance.gauss(0, 0.02):.2f}"
                    cells[line.place.id, axis] = typed
        dried.take(
            hands.shop,
            kept.id,
            number,
            cells,
            moisture=f"{moisture:.1f}",
            key=hands.key(),
            sure=False,
            at=now,
        )


def _read(hands: Hands, kept: SpindleSet, number: int, place: Place, axis: str) -> None:
    off_mm = hands.chance.gauss(0, SCATTER_MM[place.kind])
    typed = f"{place.diameter_mm + off_mm:.{2 if place.kind == 'tenon' else 1}f}"
    taken = turning.Taken(hands.key(), place.id, typed, "mm", axis=axis, taken_at=hands.now())
    turning.take(hands.shop, kept.id, number, taken, device_id=None, received_at=hands.now())


def _mark(hands: Hands, kept: SpindleSet, number: int, what: str, step_id: str) -> None:
    marked = turning.Marked(hands.key(), what, step_id, taken_at=hands.now())
    turning.mark(hands.shop, kept.id, number, marked, device_id=None, received_at=hands.now())


def _morning(day: int) -> datetime:
    """The same hour each morning, from an hour after the last rung."""
    return TURNED + timedelta(days=day, hours=3)
