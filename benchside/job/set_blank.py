"""The blank of a set: what is proposed, what was decided, what else is wanted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

from benchside.errors import OutOfRange, Refused
from benchside.job import wood_of
from benchside.job.shop import works_in
from benchside.lathe import now
from benchside.pattern import Pattern, places
from benchside.stock import blank as proposing
from benchside.stock import mixed
from benchside.stock.blank import Proposal, Route
from benchside.stock.board import Blank
from benchside.stock.mixed import Need
from benchside.store import patterns
from benchside.store import sets as kept_sets
from benchside.store import stock as store
from benchside.store.database import Shop
from benchside.store.sets import SpindleSet
from benchside.store.stock import KeptNeed, SetStock
from benchside.units import Unit, least_told, length_told, most_told
from benchside.wood.shrinkage import SizeNow


@dataclass(frozen=True, slots=True)
class Wanted:
    """One size that is wanted and its name; the first is the set's own spindles."""

    name: str
    need: Need


@dataclass(frozen=True, slots=True)
class SetBlank:
    """The blank of a set: what is proposed, what was decided, and how many are wanted.

    ``route`` is the one chosen, or the one its wood asks for. ``grown`` is the largest size to
    turn now and its reasons, None while the wood is not said.
    """

    kept: SpindleSet
    choices: SetStock
    route: Route
    proposal: Proposal
    grown: SizeNow | None
    blank: Blank
    pieces: int
    wanted: int
    others: tuple[KeptNeed, ...]

    @property
    def all_wanted(self) -> tuple[Wanted, ...]:
        own = Wanted("", Need(self.blank, self.wanted, 1))
        return (
            own,
            *(
                Wanted(n.name, Need(Blank(n.length_mm, n.side_mm), n.wanted, n.priority))
                for n in self.others
            ),
        )


def set_blank(shop: Shop, set_id: int) -> SetBlank:
    """The blank a set needs. Raises `NotFound`."""
    kept = kept_sets.found(shop, set_id)
    choices = store.set_stock(shop, set_id)
    route = choices.route or _asked_route(shop, set_id)
    pattern = patterns.found(shop, kept.pattern_id, kept.revision).pattern
    grown = _grown(shop, kept)
    proposal = proposing.propose(
        pattern.length_mm,
        grown.turn_mm if grown else _thickest_mm(pattern),
        route,
        left_mm=grown.allowance_mm if grown else 0.0,
        inches=kept.unit != "mm",
    )
    blank = Blank(
        choices.length_mm or proposal.blank.length_mm, choices.side_mm or proposal.blank.side_mm
    )
    return SetBlank(
        kept=kept,
        choices=choices,
        route=route,
        proposal=proposal,
        grown=grown,
        blank=blank,
        pieces=kept.choices.wanted,
        wanted=proposing.wanted(kept.choices.wanted, kept.choices.spares, choices.more_percent),
        others=tuple(store.needs(shop, set_id)),
    )


def route_of(shop: Shop, set_id: int) -> Route:
    """The way a set's blanks are come by: as chosen, else as its wood asks for."""
    return store.set_stock(shop, set_id).route or _asked_route(shop, set_id)


def _asked_route(shop: Shop, set_id: int) -> Route:
    """Sawn dry, unless the set's wood is green: then sawn green, or split where it is of logs."""
    said = wood_of.said(shop, set_id)
    if said is None or said.state != "green":
        return "dry"
    split = store.logs(shop, set_id=set_id) and not store.boards(shop, set_id=set_id)
    if said.wood.route == "rough":
        return "split_rough" if split else "sawn_rough"
    return "split" if split else "sawn_green"


def _grown(shop: Shop, kept: SpindleSet) -> SizeNow | None:
    """The largest size to turn now, with its reasons; None while nobody said the set's wood."""
    said = wood_of.said(shop, kept.id)
    if said is None:
        return None
    pattern = patterns.found(shop, kept.pattern_id, kept.revision).pattern
    return max(now.sizes(pattern, said.turning).values(), key=lambda size: size.turn_mm)


def _thickest_mm(pattern: Pattern) -> float:
    return max(place.diameter_mm for place in places(pattern))


def wanted_of(
    shop: Shop, set_id: int | None, length_mm: float | None, side_mm: float | None
) -> tuple[Wanted, ...]:
    """What a board or log is for: all its set wants, or the one size typed with it."""
    if set_id is not None:
        return set_blank(shop, set_id).all_wanted
    if length_mm and side_mm:
        return (Wanted("", Need(Blank(length_mm, side_mm), 10_000, 1)),)
    return ()


def begun_in(shop: Shop, set_id: int | None) -> Unit:
    """What a first board or log is told in: as its set, in 64ths where that counts sixteenths;
    without one as the shop works."""
    if set_id is not None and (unit := kept_sets.found(shop, set_id).unit) != "in/16":
        return unit
    return "in/64" if set_id is not None or works_in(shop) == "in" else "mm"


def keep_set_blank(shop: Shop, set_id: int, choices: SetStock, others: Sequence[KeptNeed]) -> None:
    """Keep what was decided of a set's blank.

    Raises `OutOfRange`, and `Refused` for other sizes than its pieces were numbered by.
    """
    kept = kept_sets.found(shop, set_id)
    if choices.route not in (None, *proposing.ROUTES):
        raise OutOfRange("Choose one of the routes.", field="route")
    proposing.wanted(kept.choices.wanted, kept.choices.spares, choices.more_percent)
    for field, least, most in (("length_mm", 20.0, 5000.0), ("side_mm", 5.0, 500.0)):
        value = getattr(choices, field)
        if value is not None and not least <= value <= most:
            low, high = least_told(least, kept.unit), most_told(most, kept.unit)
            raise OutOfRange("No blank is like that.", field=field, hint=f"{low} to {high}.")
    if choices.length_mm is not None and choices.length_mm < _length_mm(shop, kept):
        raise OutOfRange(
            f"The piece alone is {length_told(_length_mm(shop, kept), kept.unit)} long.",
            field="length_mm",
            hint="The blank needs waste at both centres besides.",
        )
    if len(others) > mixed.MOST_NEEDS - 1:
        raise OutOfRange(f"Up to {mixed.MOST_NEEDS - 1} other sizes.", field="needs")
    if store.blanks(shop, set_id) and not _cut_alike(shop, set_id, choices, others):
        raise Refused(
            "Pieces are numbered from stock that was sawn to these sizes.",
            field="needs",
            hint="Let the numbers go first to saw to others.",
        )
    with shop.transaction() as db:
        store.keep_set_stock(db, set_id, choices)
        store.keep_needs(db, set_id, others)


def _cut_alike(shop: Shop, set_id: int, choices: SetStock, others: Sequence[KeptNeed]) -> bool:
    before, needs = store.set_stock(shop, set_id), store.needs(shop, set_id)
    old, new = (
        [(c.length_mm, c.side_mm), *((n.length_mm, n.side_mm) for n in also)]
        for c, also in ((before, needs), (choices, others))
    )
    return (
        choices.route == before.route
        and [(n.wanted, n.priority) for n in needs] == [(n.wanted, n.priority) for n in others]
        and len(old) == len(new)
        and all(
            a is b or (a is not None and b is not None and _shown_as(a, b))
            for sizes in zip(old, new, strict=True)
            for a, b in zip(*sizes, strict=True)
        )
    )


def _length_mm(shop: Shop, kept: SpindleSet) -> float:
    return ceil(patterns.found(shop, kept.pattern_id, kept.revision).pattern.length_mm)


def unchanged_as_proposed(before: SetBlank, choices: SetStock) -> SetStock:
    """What was typed as it stood before and came from a proposal stays a proposal."""
    same_route = before.route == choices.route
    length, side = choices.length_mm, choices.side_mm
    if before.choices.length_mm is None and _shown_as(length, before.blank.length_mm):
        length = None
    if before.choices.side_mm is None and _shown_as(side, before.blank.side_mm):
        side = None
    if not same_route:
        length = None if _shown_as(length, before.blank.length_mm) else length
        side = None if _shown_as(side, before.blank.side_mm) else side
    route = None if same_route and before.choices.route is None else choices.route
    return replace(choices, route=route, length_mm=length, side_mm=side)


def _shown_as(mm: float | None, shown_mm: float) -> bool:
    """Whether a figure is the one that was shown, to the 64th of an inch it may be shown in."""
    return mm is None or abs(mm - shown_mm) < proposing.SAME_MM
