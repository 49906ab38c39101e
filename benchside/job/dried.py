"""Pieces measured again when dry: what was expected, what came, and what the tree's wood does."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from benchside import units
from benchside.errors import NotFound, OutOfRange, Refused
from benchside.job import measuring, sets, wood_of
from benchside.job.forms import Asked, named, short
from benchside.job.holds import Holds, holds_of
from benchside.job.keys import cell_key, keyed
from benchside.job.scales import last_weighed
from benchside.job.sets import Standing
from benchside.job.wood_of import Known, Said
from benchside.job.work import Work, as_told, work_on
from benchside.lathe.parts import is_tenon
from benchside.lathe.sizes import surprising
from benchside.pattern import DatumEnd, Place
from benchside.store import fitting, readings, wood
from benchside.store.database import Shop
from benchside.store.fitting import Axis, Later
from benchside.store.readings import Reading
from benchside.units import Unit
from benchside.wood import learning
from benchside.wood.learning import Pair, Shrinkage
from benchside.wood.moisture import MOST_PERCENT
from benchside.wood.shrinkage import section_mm

AXES: tuple[Axis, ...] = ("A", "B")
Cells = Mapping[tuple[str, str], str]


@dataclass(frozen=True, slots=True)
class Turned:
    """What a place measured when it was turned, the mean of so many ways across. [mm]"""

    size_mm: float
    ways: int


@dataclass(frozen=True, slots=True)
class Line:
    """One place of one piece: as turned, as expected dry, and as it was read dry. [mm]

    ``expected_mm`` is what is expected now, at the moisture its piece holds (`Holds`), the wide way
    and the narrow; ``wide`` and ``narrow`` are the newest readings that count, each with what was
    expected when it was taken.
    """

    place: Place
    tenon: bool
    turned: Turned
    expected_mm: tuple[float, float]
    wide: Later | None
    narrow: Later | None

    @property
    def measured(self) -> bool:
        return self.wide is not None and self.narrow is not None

    def way(self, axis: str) -> Later | None:
        return self.wide if axis == "A" else self.narrow

    def expected(self, axis: str) -> float:
        return self.expected_mm[axis == "B"]


@dataclass(frozen=True, slots=True)
class DryPiece:
    """One piece with the places that were read when it was turned, tenons first.

    ``again``: it is on the lathe again since it dried, so that what was read green is gone.
    """

    number: int
    lines: tuple[Line, ...]
    again: bool
    holds: Holds

    @property
    def measured(self) -> int:
        return sum(line.measured for line in self.lines)


@dataclass(frozen=True, slots=True)
class Dried:
    """A set measured again. ``known`` is its wood, None until it was told.

    ``shrinkage`` is what is believed of this tree, from the ``learned_from`` sets of its log (this
    one among them); None without a wood. ``every`` are all readings, struck out ones included.
    """

    standing: Standing
    known: Known | None
    learned: bool
    log: str
    shrinkage: Shrinkage | None
    learned_from: tuple[str, ...]
    pieces: tuple[DryPiece, ...]
    every: tuple[Later, ...]
    places: Mapping[str, Place]
    datum_end: DatumEnd

    @property
    def wet(self) -> bool:
        """Whether the set is turned so wet that it shrinks by enough to be learned from."""
        return self.known is not None and _shrinks(self.known, self.known.dry_mc)

    def piece(self, number: int) -> DryPiece:
        """One piece. Raises `NotFound`."""
        for piece in self.pieces:
            if piece.number == number:
                return piece
        raise NotFound(f"Nothing of piece {number} was read when it was turned.")


def dried(shop: Shop, set_id: int, said_mc: Mapping[int, float] | None = None) -> Dried:
    """How a set dried, as far as it was measured. Raises `NotFound`.

    ``said_mc`` is the moisture of pieces as it is being said, in percent.
    """
    with shop.snapshot():
        standing = sets.standing(shop, set_id)
        standing = replace(standing, kept=as_told(shop, standing.kept))
        known = wood_of.known(shop, set_id)
        said = wood_of.said(shop, set_id)
        log = fitting.log(shop, set_id)
        every = fitting.later(shop, set_id)
        wet = _turned_wet(shop, set_id)
        weighed = last_weighed(shop, set_id)
        ours = _sets_of_log(shop, set_id, log)
        believed = None if known is None else _believed(shop, known, ours)
        doing = work_on(shop, standing.kept.pattern_id, standing.kept.revision)
    pieces: tuple[DryPiece, ...] = ()
    if known is not None and believed is not None:
        holds = {
            number: holds_of(number, every, weighed, known.dry_mc, said_mc or {}) for number in wet
        }
        lines = {
            number: _lines(
                doing,
                number,
                of_piece.sizes,
                _newest(every, "dry", of_piece.until),
                believed,
                (
                    _turned_mc(of_piece.by, known),
                    holds[number].mc,
                    known.saturation,
                ),
            )
            for number, of_piece in sorted(wet.items())
        }
        pieces = tuple(
            DryPiece(number, found, wet[number].until is not None, holds[number])
            for number, found in lines.items()
            if found
        )
    return Dried(
        standing=standing,
        known=known,
        learned=said is not None and said.wood.learned,
        log=log,
        shrinkage=believed,
        learned_from=tuple(sets.standing(shop, other).kept.name for other in ours),
        pieces=pieces,
        every=tuple(r for r in every if r.what == "dry"),
        places=doing.places,
        datum_end=doing.pattern.datum_end,
    )


def learned(shop: Shop, set_id: int) -> Shrinkage | None:
    """What is believed of a set's tree; None while its wood is not told."""
    known = wood_of.known(shop, set_id)
    if known is None:
        return None
    return _believed(shop, known, _sets_of_log(shop, set_id, fitting.log(shop, set_id)))


def take(
    shop: Shop,
    set_id: int,
    number: int,
    cells: Cells,
    *,
    moisture: str,
    key: str,
    sure: bool,
    at: str,
) -> int:
    """Keep what was read of one dried piece, all or none; returns how many figures there were.

    ``cells`` are texts by place and axis, empty ones are left out; ``moisture`` is what the piece
    is at, as typed. The same ``key`` twice is one page. Raises `Wrong` by cell (``PLACE AXIS``),
    also for a figure that is asked about unless it is meant, and `Refused` without a wood.
    """
    keyed(key)
    known = wood_of.known(shop, set_id)
    if known is None:
        raise Refused("Say first which wood the set is of.", hint="On its Wood page.")
    asked = Asked()
    mc = asked.read("moisture", known.dry_mc, _moisture, moisture, known)
    found = dried(shop, set_id, {number: mc})
    piece = found.piece(number)
    if piece.again:
        raise Refused(
            f"Piece {number} is on the lathe again, so what was read of it green is gone.",
            hint="Its sizes are read at the lathe now.",
        )
    unit = found.standing.kept.unit
    new = []
    for line in piece.lines:
        for axis in AXES:
            text = cells.get((line.place.id, axis), "").strip()
            field = f"{line.place.id} {axis}"
            if not text:
                continue
            if (size := asked.read(field, None, _size, text, unit, line, axis, sure)) is None:
                continue
            new.append(
                Later(
                    key=cell_key(key, number, line.place.id, axis),
                    spindle=number,
                    station_id=line.place.id,
                    what="dry",
                    axis=axis,
                    typed=text,
                    unit=unit,
                    value_mm=size,
                    expected_mm=line.expected(axis),
                    moisture=mc,
                    taken_at=at,
                )
            )
    if not sure:
        _ask_which_is_wide(asked, piece, new)
    if not new:
        asked.read("moisture", "", named, "", "Nothing was typed.", "One size at least.")
    asked.settle()
    with shop.transaction() as db:
        for reading in new:
            fitting.add_later(db, set_id, reading)
    return len(new)


def strike(shop: Shop, set_id: int, key: str, at: str | None) -> None:
    """Strike a reading out, or with None let it count again. Raises `NotFound`."""
    with shop.transaction() as db:
        fitting.strike_later(db, set_id, key, at)


def tell_log(shop: Shop, set_id: int, log: str) -> None:
    """Say which log the wood is from, so that its sets learn from each other. Raises `Wrong`."""
    sets.standing(shop, set_id)
    asked = Asked()
    said = asked.read("log", "", short, log, 60)
    asked.settle()
    with shop.transaction() as db:
        fitting.keep_log(db, set_id, said)


def use_learned(shop: Shop, set_id: int, use: bool, *, at: str) -> None:
    """Reckon the next pieces with what was learned of the tree, or with the handbook again.

    Raises `Refused` when nothing is learned yet.
    """
    believed = learned(shop, set_id)
    if believed is None or not believed.tangential.pieces:
        raise Refused(
            "Nothing is learned of this tree yet.", hint="Measure a dried piece of it first."
        )
    said = wood.woods(shop, set_id)[-1]
    way = (believed.radial, believed.tangential)
    percents = [w.percent if use else w.book for w in way]
    if [said.radial_percent, said.tangential_percent, said.learned] == [*percents, use]:
        return
    with shop.transaction() as db:
        wood.add_wood(
            db,
            set_id,
            replace(
                said,
                radial_percent=percents[0],
                tangential_percent=percents[1],
                learned=use,
                given_at=at,
            ),
        )


# ------------------------------------------------------------------ what is learned


def _sets_of_log(shop: Shop, set_id: int, log: str) -> list[int]:
    """The sets that are of one log with this one, this one among them."""
    return sorted({set_id, *(fitting.sets_of_log(shop, log) if log else ())})


def _believed(shop: Shop, known: Known, set_ids: Sequence[int]) -> Shrinkage:
    pairs: list[Pair] = []
    for set_id in set_ids:
        other = wood_of.known(shop, set_id)
        if other is not None and other.species == known.species:
            pairs += _pairs(shop, set_id, other)
    return learning.learn(
        pairs, known.radial_percent, known.tangential_percent, fiber_saturation=known.saturation
    )


def _pairs(shop: Shop, set_id: int, known: Known) -> Iterator[Pair]:
    """The places of a set that were read green and both ways dry, and dried enough to learn of."""
    every = fitting.later(shop, set_id)
    newest = _newest(every, "dry").values()
    error_mm = measuring.error_of(shop, ((r.typed, r.unit) for r in newest)).sd_mm
    for number, of_piece in _turned_wet(shop, set_id).items():
        green_mc = _turned_mc(of_piece.by, known)
        read = _newest(every, "dry", of_piece.until)
        for place_id, turned in of_piece.sizes.items():
            ways = [read.get((number, place_id, axis)) for axis in AXES]
            wide, narrow = ways
            if wide is None or narrow is None:
                continue
            dry_mc = (wide.moisture + narrow.moisture) / 2
            if not learning.dried_enough(green_mc, dry_mc, known.saturation):
                continue
            yield Pair(
                piece=f"{set_id} {number}",
                green_mm=turned.size_mm,
                radial_mm=wide.value_mm,
                tangential_mm=narrow.value_mm,
                green_mc=green_mc,
                dry_mc=dry_mc,
                error_mm=error_mm,
                green_readings=turned.ways,
            )


def _turned_mc(said: Said | None, known: Known) -> float:
    """The moisture a piece was turned at: that of its own mounting, where it has one."""
    return said.wood.moisture if said else known.turned_mc


@dataclass(frozen=True, slots=True)
class _Wet:
    """What a piece measured as it left the lathe wet, by place.

    ``by`` is the saying of its wood it was turned by then; ``until`` when it went on the lathe
    again dry, None while it has not.
    """

    by: Said | None
    until: str | None
    sizes: Mapping[str, Turned]


def _turned_wet(shop: Shop, set_id: int) -> dict[int, _Wet]:
    """The sizes of each piece as turned: the final ones, or those that it was roughed to."""
    taken: dict[int, list[Reading]] = defaultdict(list)
    for reading in readings.standing(shop, set_id):
        if reading.kind == "diameter":
            taken[reading.spindle].append(reading)
    found = {}
    for number, (by, until) in wood_of.turned_wet(shop, set_id, taken).items():
        phase = "sizing" if by is not None and by.turning.roughing else "final"
        newest: dict[str, dict[str, float]] = defaultdict(dict)
        for reading in taken[number]:
            if reading.phase == phase and (until is None or reading.taken_at < until):
                newest[reading.station_id][reading.axis] = reading.value_mm
        sizes = {
            place_id: Turned(sum(ways.values()) / len(ways), len(ways))
            for place_id, ways in newest.items()
        }
        found[number] = _Wet(by, until, sizes)
    return found


def _newest(
    every: Sequence[Later], what: str, until: str | None = None
) -> dict[tuple[int, str, str], Later]:
    """The newest reading of each cell that counts, of those taken before a moment."""
    return {
        (r.spindle, r.station_id, r.axis): r
        for r in every
        if r.what == what and r.struck_at is None and (until is None or r.taken_at < until)
    }


def _lines(
    doing: Work,
    number: int,
    turned: Mapping[str, Turned],
    read: Mapping[tuple[int, str, str], Later],
    believed: Shrinkage,
    from_to_below_mc: tuple[float, float, float],
) -> tuple[Line, ...]:
    both = (believed.radial.percent, believed.tangential.percent)
    lines = [
        Line(
            place=place,
            tenon=is_tenon(doing.pattern, place),
            turned=turned[place.id],
            expected_mm=section_mm(turned[place.id].size_mm, *both, *from_to_below_mc),
            wide=read.get((number, place.id, "A")),
            narrow=read.get((number, place.id, "B")),
        )
        for place in doing.places.values()
        if place.id in turned
    ]
    return tuple(sorted(lines, key=lambda line: not line.tenon))


# ------------------------------------------------------------------ one figure


def _shrinks(known: Known, to_mc: float) -> bool:
    """Whether wood as wet as this shrinks by enough to be learned from, down to a moisture."""
    return learning.dried_enough(known.turned_mc, to_mc, known.saturation)


def _moisture(text: str, known: Known) -> float:
    value = units.parse_figure(text)
    if not 0 <= value <= MOST_PERCENT:
        raise OutOfRange("Moisture lies from 0 to 250 %.", hint="A dried piece is at 5 to 12 %.")
    if not _shrinks(known, value):
        raise OutOfRange(
            f"The set was turned at {known.turned_mc:g} %: at {value:g} % it has hardly dried.",
            hint=f"It shrinks below about {known.saturation:g} % only. Measure when it is drier.",
        )
    return value


def _size(text: str, unit: Unit, line: Line, axis: str, sure: bool) -> float:
    value_mm = units.parse_length(text, unit)
    if value_mm <= 0:
        raise OutOfRange("A piece is thicker than nothing.")
    turned_mm = line.turned.size_mm
    if sure:
        return value_mm
    if value_mm > turned_mm + GROWN_MM:
        turned = f"{units.format_length(turned_mm, unit, fine=True)} {units.unit_sign(unit)}"
        raise Refused(
            f"{text[:20]} is more than the {turned} it was turned to.",
            hint="Drying only makes it smaller. Measure again, or say below that it is meant.",
        )
    if surprising(value_mm, line.expected(axis)):
        raise Refused(
            f"{text[:20]} is far from what was expected.",
            hint="Measure again, or say below that it is meant.",
        )
    return value_mm


GROWN_MM = 0.15  # judgement: two readings of one place may differ by so much


def _ask_which_is_wide(asked: Asked, piece: DryPiece, new: Sequence[Later]) -> None:
    """Asks about a place whose second way across was the wider."""
    for line in piece.lines:
        both = {axis: line.way(axis) for axis in AXES}
        both |= {r.axis: r for r in new if r.station_id == line.place.id}
        wide, narrow = both["A"], both["B"]
        typed = any(r.station_id == line.place.id for r in new)
        if typed and wide and narrow and narrow.value_mm > wide.value_mm + GROWN_MM:
            asked.read(f"{line.place.id} B", None, _swapped)


def _swapped() -> None:
    raise Refused(
        "The second way across is the wider.",
        hint="The wide way comes first: swap them, or say below that it is meant.",
    )
