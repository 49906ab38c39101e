"""What a maker says and reads while tenons are fitted: parts, holes, final sizes, pairs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import get_args

from benchside import units
from benchside.errors import NotFound, NotUnderstood, OutOfRange, Refused
from benchside.job import choosing, holes, wood_of
from benchside.job.drafts import shown
from benchside.job.fitting import OWN, Fit, PartFit, Row, fitting
from benchside.job.forms import Asked, named
from benchside.job.keys import cell_key, keyed
from benchside.job.possible import check_possible
from benchside.job.work import Work, work_of
from benchside.joint import fit
from benchside.joint import schools as taught
from benchside.joint.fit import Tenon
from benchside.lathe.sizes import surprising
from benchside.store import fitting as store
from benchside.store import wood
from benchside.store.database import Shop
from benchside.store.fitting import Axis, Fitted, HoleReading, Later, Part
from benchside.store.wood import DryingMark
from benchside.units import Unit
from benchside.wood import species as listed

LARGEST_FIT_MM = 3.0  # judgement: a greater difference is a slip
AXES: tuple[Axis, ...] = ("A", "B")
LIES: tuple[fit.Lies, ...] = get_args(fit.Lies)


@dataclass(frozen=True, slots=True)
class Told:
    """A part as typed."""

    name: str = ""
    species: str = ""
    moisture: str = ""
    across: str = "tangential"
    tenon: str = ""
    test_hole: str = ""
    school: str = "snug"
    own_fit: str = ""
    tenon_moisture: str = ""
    turning: str = ""


def as_told(part: Part, unit: Unit) -> Told:
    """A part as it would be typed."""
    own = part.own_fit_mm
    return Told(
        name=part.name,
        species=part.species,
        moisture=f"{part.moisture:g}",
        across=part.across,
        tenon=part.tenon,
        test_hole=part.test_hole or "",
        school=part.school,
        own_fit="" if own is None else _as_typed(own, unit),
        tenon_moisture=f"{part.tenon_moisture:g}",
        turning=part.turning,
    )


def keep_part(shop: Shop, set_id: int, told: Told, *, key: str, at: str) -> Part:
    """Add a part of a set, or keep it anew under its key. Raises `Wrong` with all that is."""
    keyed(key)
    found = fitting(shop, set_id, now=at)
    unit = found.standing.kept.unit
    asked = Asked()
    whole = ("What is it called?", "Seat, crest rail, front post.")
    own = told.school == OWN
    kept = Part(
        key=key,
        name=asked.read("name", "", named, told.name, *whole),
        species=asked.read("species", "", _shrinking, shop, told.species),
        moisture=asked.read("moisture", 0.0, _moisture, told.moisture),
        across=asked.read("across", "tangential", _across, told.across),
        tenon=asked.read("tenon", "", _tenon, found, told.tenon, key),
        test_hole=asked.read("test_hole", None, _test_hole, found, told.test_hole),
        school=OWN if own else asked.read("school", "", _school, told.school),
        own_fit_mm=asked.read("own_fit", 0.0, _own_fit, told.own_fit, unit) if own else None,
        tenon_moisture=asked.read("tenon_moisture", 0.0, _moisture, told.tenon_moisture),
        turning="along" if told.turning == "along" else "across",
        made_at=next((p.part.made_at for p in found.parts if p.part.key == key), at),
    )
    asked.settle()
    with shop.transaction() as db:
        store.keep_part(db, set_id, kept)
    return kept


def read_hole(
    shop: Shop,
    set_id: int,
    part_key: str,
    hole: int,
    typed: Mapping[Axis, str],
    *,
    key: str,
    sure: bool,
    at: str,
) -> None:
    """Keep what was read of one hole of a part. Raises `Wrong` by axis.

    Unless it is meant, a hole is asked about that is far from the others, or smaller than the
    tenon as drawn could be even bone-dry.
    """
    found = fitting(shop, set_id, now=at)
    part = found.part(part_key)
    _row_of(part, hole=hole)
    unit = found.standing.kept.unit
    should_mm = None if sure else part.hole_mm or part.end.diameter_mm
    readings = holes.readings_of(typed, unit, hole=hole, key=key, named_mm=should_mm, at=at)
    if not sure:
        _ask_too_small(found, part, readings, unit)
    with shop.transaction() as db:
        for reading in readings:
            store.add_mortise(db, part_key, reading)


def read_size(
    shop: Shop,
    set_id: int,
    part_key: str,
    number: int,
    typed: Mapping[Axis, str],
    *,
    key: str,
    sure: bool,
    at: str,
) -> None:
    """Keep the final size of a tenon, both ways across. Raises `Wrong` by axis.

    What no piece can have been is refused, however it is meant.
    """
    keyed(key)
    found = fitting(shop, set_id, now=at)
    part = found.part(part_key)
    row = _row_of(part, number=number)
    unit = found.standing.kept.unit
    asked = Asked()
    new = []
    doing = work_of(shop, found.standing.kept)
    for axis in AXES:
        text = typed.get(axis, "").strip()
        value_mm = None
        if text:
            value_mm = asked.read(axis, None, _size, shop, doing, text, unit, row, sure)
        if value_mm is not None:
            new.append(
                Later(
                    key=cell_key(key, part_key, number, axis),
                    spindle=number,
                    station_id=part.end.id,
                    what="sized",
                    axis=axis,
                    typed=text,
                    unit=unit,
                    value_mm=value_mm,
                    expected_mm=row.target_mm,
                    moisture=part.part.tenon_moisture,
                    taken_at=at,
                )
            )
    if not new:
        asked.read("A", "", named, "", "Nothing was typed.", "One way across at least.")
    asked.settle()
    mark = DryingMark(cell_key(key, part_key, number, "sized"), number, "sized", at)
    with shop.transaction() as db:
        for reading in new:
            store.add_later(db, set_id, reading)
    if fitting(shop, set_id, now=at).row(part_key, number).sized:
        with shop.transaction() as db:
            wood.add_drying_mark(db, set_id, mark)


def strike(shop: Shop, set_id: int, part_key: str, key: str, at: str | None) -> None:
    """Strike a reading of a hole or of a tenon out, or with None let it count again."""
    with shop.transaction() as db:
        if any(r.key == key for r in store.mortises(shop, set_id).get(part_key, [])):
            store.strike_mortise(db, part_key, key, at)
        else:
            store.strike_later(db, set_id, key, at)


def pair(shop: Shop, set_id: int, typed: Mapping[int, str], *, at: str) -> None:
    """Say which spindle goes into which hole; an empty one gets none. Raises `Wrong` by hole."""
    found = fitting(shop, set_id, now=at)
    asked = Asked()
    holes_of: dict[int, int] = {}
    for hole, text in sorted(typed.items()):
        if not text.strip():
            continue
        number = asked.read(f"hole {hole}", 0, _spindle, text, found)
        if number in holes_of:
            asked.read(f"hole {hole}", None, _twice, number, holes_of[number])
        elif number:
            holes_of[number] = hole
    if not holes_of and not asked.problems:
        asked.read("hole 1", "", named, "", "No piece is named.", "The number on its end.")
    asked.settle()
    with shop.transaction() as db:
        store.keep_holes_of(db, set_id, holes_of)


def pair_as_chosen(shop: Shop, set_id: int) -> None:
    """Put the spindles into the holes as the choice of the most alike orders them, from the left.

    Raises `Refused` while nothing can be chosen.
    """
    chosen = choosing.choosing(shop, set_id).chosen
    if chosen is None:
        raise Refused(
            "Nothing can be chosen of this set yet.",
            field="hole 1",
            hint="Two finished pieces at least must have been read.",
        )
    with shop.transaction() as db:
        store.keep_holes_of(db, set_id, {n: hole for hole, n in enumerate(chosen.order, 1)})


def home(shop: Shop, set_id: int, part_key: str, number: int, *, out: bool, at: str) -> None:
    """Note that a tenon went home, or came out again. Raises `NotFound`."""
    part = fitting(shop, set_id, now=at).part(part_key)
    row = _row_of(part, number=number)
    mark = DryingMark(cell_key(part_key, number, "fitted", at), number, "fitted", at)
    with shop.transaction() as db:
        if out:
            store.take_out(db, set_id, number, part.end.id)
        elif row.home_at is None:
            store.keep_fitted(db, set_id, Fitted(number, part.end.id, at))
            wood.add_drying_mark(db, set_id, mark)


# ------------------------------------------------------------------ one thing said


def _row_of(part: PartFit, *, hole: int | None = None, number: int | None = None) -> Row:
    for row in part.rows:
        if hole in (None, row.hole) and number in (None, row.number):
            return row
    raise NotFound(f"{part.part.name} has no such hole.", field="hole")


def _shrinking(shop: Shop, text: str) -> str:
    species = wood_of.species(text, shop)
    listed.shrinkage(species)
    return species.common_name


def _moisture(text: str) -> float:
    value = units.parse_figure(text.strip().removesuffix("%"))
    if not 0 <= value <= 250:
        raise OutOfRange("Moisture lies from 0 to 250 %.", hint="A dry part is at 6 to 12 %.")
    return value


def _across(text: str) -> fit.Lies:
    for way in LIES:
        if text == way:
            return way
    raise NotUnderstood("How do the rings lie there?", hint="Choose one of the three.")


def _tenon(found: Fit, text: str, key: str) -> str:
    if text not in {end.id for end in found.ends}:
        raise NotUnderstood("Which tenon goes into it?", hint="Choose one.")
    other = next((p.part for p in found.parts if p.part.tenon == text and p.part.key != key), None)
    if other is not None:
        raise Refused(f"That tenon goes into {other.name} already.", hint="Change that part.")
    return text


def _test_hole(found: Fit, text: str) -> str | None:
    if text and text not in {hole.kept.key for hole in found.test_holes}:
        raise NotUnderstood("There is no such test hole.", hint="Choose one, or none.")
    return text or None


def _school(text: str) -> str:
    return taught.find(text).id


_FITS = {"mm": "0.1 or −0.05 mm", "in": "0.004 or −0.002 in"}


def _own_fit(text: str, unit: Unit) -> float:
    """A difference, with its sign: −0.05, or 0.002 in."""
    plain = text.strip().replace("−", "-")
    under = plain.startswith("-")
    value_mm = units.parse_length(plain.lstrip("+-"), unit)
    if value_mm > LARGEST_FIT_MM:
        raise OutOfRange(
            f"A tenon {text.strip()[:20]} off its hole is no fit.",
            hint=f"The difference of the two, such as {_FITS[units.unit_sign(unit)]}.",
        )
    return -value_mm if under else value_mm


def _as_typed(mm: float, unit: Unit) -> str:
    return ("−" if mm < 0 else "") + shown(abs(mm), units.unit_sign(unit))


def _size(shop: Shop, doing: Work, text: str, unit: Unit, row: Row, sure: bool) -> float:
    value_mm = units.parse_length(text, unit)
    if value_mm <= 0:
        raise OutOfRange("A tenon is thicker than nothing.")
    check_possible(shop, doing, "diameter", value_mm, unit)
    if not sure and row.target_mm is not None and surprising(value_mm, row.target_mm):
        raise Refused(
            f"{text[:20]} is far from the size it is brought to.",
            hint="Measure again, or say below that it is meant.",
        )
    return value_mm


def _ask_too_small(found: Fit, part: PartFit, readings: list[HoleReading], unit: Unit) -> None:
    if found.known is None:
        return
    book = (found.known.radial_percent, found.known.tangential_percent)
    least_mm = fit.least_mm(Tenon(part.end.diameter_mm, found.known.dry_mc, *book))
    asked = Asked()
    for reading in readings:
        if reading.value_mm < least_mm:
            asked.read(reading.axis, None, _too_small, reading.typed, least_mm, unit)
    asked.settle()


def _too_small(typed: str, least_mm: float, unit: Unit) -> None:
    least = f"{units.format_length(least_mm, unit, fine=True)} {units.unit_sign(unit)}"
    raise Refused(
        f"A hole of {typed[:20]} is smaller than this tenon could be even bone-dry ({least}).",
        hint="Measure again, or say below that the tenon is to be cut down to it.",
    )


def _spindle(text: str, found: Fit) -> int:
    stripped = text.strip()
    number = int(stripped) if stripped.isdecimal() and len(stripped) < 6 else 0
    if number not in found.candidates:
        raise NotUnderstood(
            f"There is no piece {stripped[:10]} to fit.", hint="The number on its end."
        )
    return number


def _twice(number: int, hole: int) -> None:
    raise Refused(f"Piece {number} goes into hole {hole} already.", hint="One hole for each.")
