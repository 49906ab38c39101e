"""Saying what a set is made of, and what it follows from: the sizes to turn now, with reasons."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from math import isfinite
from typing import get_args

from sqlite_utils import Database

from benchside.errors import BenchsideError, NotUnderstood, OutOfRange
from benchside.job import sets, tenon_aims, wood_of
from benchside.job.sets import Standing
from benchside.job.wood_of import Said
from benchside.job.work import Work, told_finely, work_of
from benchside.lathe import now
from benchside.pattern import Place
from benchside.store import wood as kept_wood
from benchside.store.database import Shop
from benchside.store.wood import OwnSpecies, Route, State, Wood
from benchside.units import most_told
from benchside.wood import species as listed
from benchside.wood.climate import USUAL_MOISTURE, Climate, climates, year_percent
from benchside.wood.moisture import checked_moisture, emc_percent
from benchside.wood.shrinkage import SizeNow
from benchside.wood.species import Source, Species

SIZING_MM = 0.3  # judgement: 0.15 mm a side for the last cut, where "a few thousandths" is said
ROUGH_MM = 3.175  # common practice, no source: an eighth of an inch over, roughed green
MOST_SIZING_MM, MOST_ROUGH_MM = 3.0, 25.0  # judgement: more is a slip of the unit
OWN_CLIMATE, OWN_FIGURE = "own", "figure"  # what the climate is called when it is the maker's


@dataclass(frozen=True, slots=True)
class Given:
    """What a maker says of a set's wood. None leaves a figure to us.

    ``climate`` is the id of one to pick, ``own`` with four figures, or ``figure`` with
    ``lives_mc``, the moisture it will live at. ``again``: pieces begun already go on the lathe
    again, to the new sizes.
    """

    species: str
    state: State
    route: Route
    climate: str
    moisture: float | None = None
    winter_c: float | None = None
    winter_rh: float | None = None
    summer_c: float | None = None
    summer_rh: float | None = None
    lives_mc: float | None = None
    dry_mc: float | None = None
    sizing_mm: float = SIZING_MM
    rough_mm: float = ROUGH_MM
    learned: tuple[float, float] | None = None
    again: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """One place of the pattern with its size to turn now, and why."""

    place: Place
    why: SizeNow

    @property
    def turn_mm(self) -> float:
        """The size as the lathe is told it."""
        return round(self.why.turn_mm, now.PLACES)


@dataclass(frozen=True, slots=True)
class Oval:
    """The thickest tenon, or without one the thickest place: turned, and as it will be. [mm]"""

    place: Place
    turned_mm: float
    radial_mm: float
    tangential_mm: float


@dataclass(frozen=True, slots=True)
class View:
    """A set's wood. ``rows`` are empty while nobody said.

    ``mounted`` counts the pieces that keep other sizes than these; ``begun`` all begun ones.
    ``by_holes``: the tenons go by their holes instead.
    """

    standing: Standing
    work: Work
    said: Said | None
    species: Species | None
    source: Source | None
    rows: tuple[Row, ...]
    oval: Oval | None
    short: tuple[Row, ...]
    mounted: int
    begun: int
    by_holes: bool

    @property
    def wood(self) -> Wood | None:
        return self.said.wood if self.said else None


def view(shop: Shop, set_id: int) -> View:
    """A set's wood and the sizes that follow from it. Raises `NotFound`."""
    standing = sets.standing(shop, set_id)
    doing = work_of(shop, standing.kept)
    standing = replace(standing, kept=told_finely(standing.kept, doing))
    holds = wood_of.of_pieces(shop, set_id, {p.number for p in standing.pieces})
    begun = {p.number for p in standing.pieces if p.begun}
    said, holes = doing.wood, tenon_aims.by_holes(shop, set_id)
    if said is None:
        return View(standing, doing, None, None, None, (), None, (), 0, len(begun), holes)
    species = wood_of.species(said.wood.species, shop)
    why = now.sizes(doing.finished, said.turning)
    rows = tuple(Row(place, why[place.id]) for place in doing.places.values())
    return View(
        standing=standing,
        work=doing,
        said=said,
        species=species,
        source=listed.OWN if said.wood.learned else listed.shrinkage_source(species),
        rows=rows,
        oval=_oval(rows),
        short=tuple(row for row in rows if _habit_short(row) and not said.turning.roughing),
        mounted=sum(holds[number] != said for number in begun),
        begun=len(begun),
        by_holes=holes,
    )


def give(shop: Shop, set_id: int, given: Given, *, at: str) -> Said:
    """Say what a set is made of; what was said before stays, and pieces begun keep to it.

    Raises the first of what `faults` finds.
    """
    for fault in faults(shop, given):
        raise fault
    with shop.transaction() as db:
        standing, before = sets.standing(shop, set_id), wood_of.said(shop, set_id)
        begun = [p.number for p in standing.pieces if p.begun]
        wood = _wood(shop, _still_learned(given, before, shop), at)
        _frozen(shop, db, set_id, begun, before, at)
        nth = _said(db, set_id, wood, before)
        mounted = kept_wood.mounted(shop, set_id)
        for number in begun if given.again else ():
            if mounted[number] != nth:
                kept_wood.mount(db, set_id, number, nth, at=at)
    return Said(nth, wood)


def turn_dry(
    shop: Shop, set_id: int, numbers: Collection[int], moisture: float, *, at: str
) -> tuple[int, ...]:
    """Put roughed pieces on the lathe again, to be turned to the end at a moisture in percent.

    Their wood is said anew for them; what is still to be roughed follows the saying it had. A
    piece that is not roughed is left as it is, so that the same asked twice is done once. Returns
    the pieces that go on. Raises `NotUnderstood` without any piece, and `OutOfRange`.
    """
    if not numbers:
        raise NotUnderstood("Which pieces?", field="pieces", hint="Tick those that are dry.")
    checked_moisture(moisture, "moisture")
    if moisture > wood_of.WET:
        raise OutOfRange(
            f"At {moisture:g} % it is still green.",
            field="moisture",
            hint="Dry it first; the scales tell when.",
        )
    with shop.transaction() as db:
        standing, before = sets.standing(shop, set_id), wood_of.said(shop, set_id)
        going = tuple(n for n in standing.roughed if n in numbers)
        if before is None or not going:
            return ()
        _frozen(shop, db, set_id, [p.number for p in standing.pieces if p.begun], before, at)
        dry = replace(before.wood, state="figure", moisture=moisture, given_at=at)
        nth = _said(db, set_id, dry, before)
        waiting = any(p.to_turn and not p.begun for p in standing.pieces)
        if waiting and before.turning.roughing:
            kept_wood.add_wood(db, set_id, replace(before.wood, given_at=at))
        for number in going:
            kept_wood.mount(db, set_id, number, nth, at=at)
    return going


def _said(db: Database, set_id: int, wood: Wood, before: Said | None) -> int:
    """How manieth saying it is; the same said twice is one."""
    if before is not None and replace(before.wood, given_at=wood.given_at) == wood:
        return before.nth
    return kept_wood.add_wood(db, set_id, wood)


def _frozen(
    shop: Shop, db: Database, set_id: int, begun: Collection[int], held: Said | None, at: str
) -> None:
    """Keep to what they were begun with the pieces that only followed the set so far."""
    mounted = kept_wood.mounted(shop, set_id)
    for number in begun:
        if number not in mounted:
            kept_wood.mount(db, set_id, number, held.nth if held else 0, at=at)


def _still_learned(given: Given, before: Said | None, shop: Shop) -> Given:
    """What was learned of a tree holds on while its wood is said to be of the same species."""
    if given.learned or before is None or not before.wood.learned:
        return given
    if wood_of.species(given.species, shop).common_name != before.wood.species:
        return given
    return replace(given, learned=(before.wood.radial_percent, before.wood.tangential_percent))


def faults(shop: Shop, given: Given) -> tuple[BenchsideError, ...]:
    """Everything that cannot be in what is said of a wood, each naming its field."""
    return tuple(_faults(shop, given))


def keep_species(
    shop: Shop,
    name: str,
    radial_percent: float,
    tangential_percent: float,
    *,
    green_percent: float | None = None,
    at: str,
) -> Species:
    """Keep a species of the maker's own; one of the same name is replaced.

    Raises as `species.own_species`. What sets were said to be made of before stays as it was.
    """
    made = listed.own_species(name, radial_percent, tangential_percent, green_percent=green_percent)
    kept = OwnSpecies(
        made.common_name, "", radial_percent, tangential_percent, None, green_percent, at
    )
    with shop.transaction() as db:
        kept_wood.keep_own_species(db, kept)
    return made


def species_faults(
    name: str, radial_percent: float, tangential_percent: float, green_percent: float | None
) -> tuple[BenchsideError, ...]:
    """Everything that cannot be in a species of the maker's own, each naming its field."""
    found = []
    for figures in (
        (name, 1.0, 1.0, None),
        ("x", radial_percent, 1.0, None),
        ("x", 1.0, tangential_percent, None),
        ("x", 1.0, 1.0, green_percent),
    ):
        try:
            listed.own_species(*figures[:3], green_percent=figures[3])
        except BenchsideError as fault:
            found.append(fault)
    return tuple(found)


def species_doubts(radial_percent: float, tangential_percent: float) -> tuple[BenchsideError, ...]:
    """What is so unlike a wood that it is asked about before it is kept: of every species that is
    listed the rings shrink more than the rays."""
    if radial_percent <= tangential_percent:
        return ()
    return (
        NotUnderstood(
            f"Along the rays {radial_percent:g} %, along the rings only {tangential_percent:g} %:"
            " every species listed here has it the other way about.",
            field="sure",
            hint="Change the two over, or tick that it is meant.",
        ),
    )


def search(shop: Shop, text: str) -> tuple[Species, ...]:
    """Species by what is typed of their names, the maker's own first."""
    return listed.search(text, wood_of.own(shop))


def usual_moisture(state: State, species: Species) -> float:
    """The moisture that wood in that state mostly has; of green wood the species' own. [%]"""
    tree = [
        found
        for found in (species.green_heartwood_percent, species.green_sapwood_percent)
        if found is not None
    ]
    if state == "green" and tree:
        return sum(tree) / len(tree)
    return USUAL_MOISTURE.get(state, USUAL_MOISTURE["air-dry"])


def climate_of(given: Given) -> Climate | None:
    """The climate that is meant; None for a figure. Raises `NotUnderstood` and `OutOfRange`."""
    if given.climate == OWN_FIGURE:
        return None
    if given.climate != OWN_CLIMATE:
        for found in climates():
            if found.id == given.climate:
                return found
        raise NotUnderstood("Where will it live?", field="climate", hint="Pick one of the list.")
    figures = (given.winter_c, given.winter_rh, given.summer_c, given.summer_rh)
    winter_c, winter_rh, summer_c, summer_rh = (
        _there(value, field)
        for value, field in zip(
            figures, ("winter_c", "winter_rh", "summer_c", "summer_rh"), strict=True
        )
    )
    return Climate(OWN_CLIMATE, winter_c, winter_rh, summer_c, summer_rh)


def _wood(shop: Shop, given: Given, at: str) -> Wood:
    species = wood_of.species(given.species, shop)
    radial, tangential = given.learned or listed.shrinkage(species)
    climate = climate_of(given)
    if climate is None:
        lives = _there(given.lives_mc, "lives_mc")
        driest, dampest = lives, lives
    else:
        driest, dampest = year_percent(climate)
    moisture = given.moisture
    return Wood(
        species=species.common_name,
        radial_percent=radial,
        tangential_percent=tangential,
        learned=given.learned is not None,
        state=given.state,
        moisture=usual_moisture(given.state, species) if moisture is None else moisture,
        route=given.route,
        climate=given.climate,
        winter_c=climate.winter_c if climate else None,
        winter_rh=climate.winter_rh if climate else None,
        summer_c=climate.summer_c if climate else None,
        summer_rh=climate.summer_rh if climate else None,
        driest_mc=driest,
        dampest_mc=dampest,
        dry_mc=(driest + dampest) / 2 if given.dry_mc is None else given.dry_mc,
        sizing_mm=given.sizing_mm,
        rough_mm=given.rough_mm,
        given_at=at,
        saturation_percent=listed.saturation(species),
    )


def _faults(shop: Shop, given: Given) -> Iterator[BenchsideError]:
    try:
        listed.shrinkage(wood_of.species(given.species, shop))
    except BenchsideError as fault:
        yield fault
    if given.state not in get_args(State):
        yield NotUnderstood("Pick one of the list.", field="state")
    if given.route not in get_args(Route):
        yield NotUnderstood("Pick one of the list.", field="route")
    if given.state == "figure" and given.moisture is None:
        yield NotUnderstood(
            "Which moisture has it now?", field="moisture", hint="In percent, such as 20."
        )
    for value, field in ((given.moisture, "moisture"), (given.dry_mc, "dry_mc")):
        if value is not None:
            yield from _no_moisture(value, field)
    yield from _climate_faults(given)
    for mm, most, field in (
        (given.sizing_mm, MOST_SIZING_MM, "sizing_mm"),
        (given.rough_mm, MOST_ROUGH_MM, "rough_mm"),
    ):
        if not (isfinite(mm) and 0 <= mm <= most):
            yield OutOfRange(f"It can be 0 to {most_told(most)}.", field=field)


def _climate_faults(given: Given) -> Iterator[BenchsideError]:
    if given.climate == OWN_CLIMATE:
        for season in ("winter", "summer"):
            yield from _season_faults(given, season)
        return
    try:
        if climate_of(given) is None:
            checked_moisture(_there(given.lives_mc, "lives_mc"), "lives_mc")
    except BenchsideError as fault:
        yield fault


def _season_faults(given: Given, season: str) -> Iterator[BenchsideError]:
    """What cannot be of the air of one season: each of its two figures by itself."""
    for end, alone in (("_c", lambda c: (c, 50.0)), ("_rh", lambda rh: (20.0, rh))):
        try:
            emc_percent(*alone(_there(getattr(given, season + end), season + end)))
        except BenchsideError as fault:
            fault.field = season + end
            yield fault


def _no_moisture(value: float, field: str) -> Iterator[BenchsideError]:
    try:
        checked_moisture(value, field)
    except BenchsideError as fault:
        yield fault


def _there(value: float | None, field: str) -> float:
    if value is None:
        raise NotUnderstood("A figure is missing here.", field=field, hint="Such as 20.")
    return value


def _habit_short(row: Row) -> bool:
    return row.place.kind == "tenon" and row.why.allowance_mm > 0 and row.why.habit_short


def _oval(rows: tuple[Row, ...]) -> Oval:
    """The thickest tenon, else the thickest place: what it becomes."""
    tenons = [row for row in rows if row.place.kind == "tenon"]
    most = max(tenons or rows, key=lambda row: row.why.turn_mm)
    return Oval(most.place, most.turn_mm, *most.why.dried)
