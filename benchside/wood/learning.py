"""How much the wood of this tree shrinks, learned from pieces measured green and again when dry.

The handbook gives the mean of a species; one tree lies off it, each piece off its tree, and each
reading off its piece. All four are taken as normal, with the spreads known (below), so that what
is believed after the readings is normal again (conjugate; Gelman et al., Bayesian Data Analysis,
2.5 [@gelman-bda, 2.5]):

- the tree:  S ~ N(book, (TREE x book)^2)
- a piece:   S + N(0, (PIECE x book)^2) + its readings' own error
- all pieces alike: an error of the moisture they are said to be at, which no number of them takes
  away

Where the pieces scatter by more than these allow, their spread is taken as so much larger (the
ratio of what is seen to what is expected, as for constants measured by several hands, Birge 1932
[@birge-1932]); never as smaller. Of several places on one piece the mean counts, for they are one
piece of wood. A piece dried of its round to an oval is radial the wide way, tangential the narrow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite, sqrt

from benchside.errors import OutOfRange
from benchside.wood.moisture import checked_moisture
from benchside.wood.species import FIBER_SATURATION, MOST_SHRINKAGE_PERCENT

# Judgements. One measured 5/8 in tenon (common practice, no source; species not named) lost a tenth
# across where a handbook of ash allows a twentieth at that moisture: trees lie far off their mean.
TREE = 0.20
PIECE = 0.08
MOISTURE_SD = 1.0  # percent: how surely the moisture of a piece called dry is known, unweighed
CONFIDENCE_Z = 1.959963984540054  # 95 % of a normal lies within, both sides
LEAST_DRIED = 3.0  # judgement, percent below fibre saturation: dried by less, nothing is learned


@dataclass(frozen=True, slots=True)
class Pair:
    """One place of one piece, measured before and after. [mm, percent]

    ``green_mm`` is the round as turned at ``green_mc``, the mean of ``green_readings`` of them;
    ``radial_mm`` and ``tangential_mm`` the wide and the narrow way at ``dry_mc``. ``error_mm``
    is the standard deviation of one reading.
    """

    piece: str
    green_mm: float
    radial_mm: float
    tangential_mm: float
    green_mc: float
    dry_mc: float
    error_mm: float
    green_readings: int = 1

    def __post_init__(self) -> None:
        for name in ("green_mm", "radial_mm", "tangential_mm"):
            value = getattr(self, name)
            if not (isfinite(value) and value > 0):
                raise OutOfRange("A size must be more than 0 mm.", field=name)
        for name in ("green_mc", "dry_mc"):
            checked_moisture(getattr(self, name), name)
        if not (isfinite(self.error_mm) and self.error_mm >= 0):
            raise OutOfRange("An error of reading must be 0 mm or more.", field="error_mm")
        if self.green_readings < 1:
            raise OutOfRange("It takes one green reading at least.", field="green_readings")


@dataclass(frozen=True, slots=True)
class Learned:
    """The whole shrinkage in one direction, green to oven-dry. [percent]

    ``percent`` lies from ``low`` to ``high`` 19 times in 20, ``sd`` its standard deviation;
    ``book`` is the handbook's, ``seen`` the mean of the pieces alone (None: none), ``pieces``
    how many, ``weight`` the share of the pieces in ``percent`` (0: the handbook's alone), and
    ``each`` what each piece showed.
    """

    percent: float
    sd: float
    low: float
    high: float
    book: float
    seen: float | None
    pieces: int
    weight: float
    each: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Shrinkage:
    """What is believed of this tree: both ways across, green to oven-dry."""

    radial: Learned
    tangential: Learned


def shrinkage_seen(
    green_mm: float,
    dry_mm: float,
    green_mc: float,
    dry_mc: float,
    fiber_saturation: float = FIBER_SATURATION,
) -> float:
    """The whole shrinkage, green to oven-dry, that a size before and after tells. [percent]

    Linear below fibre saturation [@wood-handbook-2021, eq. 4-9]: with k the share of the way from
    saturation to oven-dry, after / before = (1 - S k_dry) / (1 - S k_green), solved for S.
    Raises `OutOfRange` when the piece dried by less than `LEAST_DRIED` below saturation.
    """
    before, after = _shares(green_mc, dry_mc, fiber_saturation)
    if not dried_enough(green_mc, dry_mc, fiber_saturation):
        raise OutOfRange(
            f"From {green_mc:g} % to {dry_mc:g} % wood hardly shrinks.",
            field="dry_mc",
            hint=f"It shrinks below about {fiber_saturation:g} % only."
            " Measure again when it is drier.",
        )
    ratio = dry_mm / green_mm
    return 100 * (1 - ratio) / (after - ratio * before)


def dried_enough(
    green_mc: float, dry_mc: float, fiber_saturation: float = FIBER_SATURATION
) -> bool:
    """Whether between two moistures wood shrinks by enough to be learned from. [percent]"""
    return min(green_mc, fiber_saturation) - dry_mc >= LEAST_DRIED


def learn(
    pairs: Sequence[Pair],
    radial_percent: float,
    tangential_percent: float,
    *,
    moisture_sd: float = MOISTURE_SD,
    fiber_saturation: float = FIBER_SATURATION,
) -> Shrinkage:
    """The shrinkage of this tree, shrunk toward the handbook's when pieces are few. [percent]

    ``radial_percent`` and ``tangential_percent`` are the handbook's; with no pairs they come back,
    as unsure as trees are. ``moisture_sd`` is how surely the dry moisture is known.
    Raises `OutOfRange` for handbook values that are none, and as `shrinkage_seen`.
    """
    for name, book in (
        ("radial_percent", radial_percent),
        ("tangential_percent", tangential_percent),
    ):
        if not (isfinite(book) and 0 < book <= MOST_SHRINKAGE_PERCENT):
            raise OutOfRange(
                f"A shrinkage lies above 0 and at most {MOST_SHRINKAGE_PERCENT:g} %.", field=name
            )
    if not (isfinite(moisture_sd) and moisture_sd >= 0):
        raise OutOfRange("A spread of moisture must be 0 or more.", field="moisture_sd")
    known = (moisture_sd, fiber_saturation)
    return Shrinkage(
        radial=_believed([(p, p.radial_mm) for p in pairs], radial_percent, *known),
        tangential=_believed([(p, p.tangential_mm) for p in pairs], tangential_percent, *known),
    )


@dataclass(frozen=True, slots=True)
class _Seen:
    """What one piece tells: its shrinkage, the variance of its readings, and how far a percent of
    moisture shifts it."""

    percent: float
    variance: float
    per_moisture: float


def _believed(
    read: Sequence[tuple[Pair, float]], book: float, moisture_sd: float, fiber_saturation: float
) -> Learned:
    tree = (TREE * book) ** 2
    pieces = _by_piece(read, fiber_saturation)
    if not pieces:
        return _learned(book, tree, book, None, (), 0.0)
    variances = [(PIECE * book) ** 2 + piece.variance for piece in pieces]
    weights = [1 / variance for variance in variances]
    total = sum(weights)
    seen = sum(w * piece.percent for w, piece in zip(weights, pieces, strict=True)) / total
    shift = sum(w * piece.per_moisture for w, piece in zip(weights, pieces, strict=True)) / total
    squares = sum(w * (piece.percent - seen) ** 2 for w, piece in zip(weights, pieces, strict=True))
    birge = max(1.0, squares / (len(pieces) - 1)) if len(pieces) > 1 else 1.0
    uncertain = birge / total + (shift * moisture_sd) ** 2
    weight = tree / (tree + uncertain)
    percent = book + weight * (seen - book)
    each = tuple(piece.percent for piece in pieces)
    return _learned(percent, weight * uncertain, book, seen, each, weight)


def _learned(
    percent: float,
    variance: float,
    book: float,
    seen: float | None,
    each: tuple[float, ...],
    weight: float,
) -> Learned:
    sd = sqrt(variance)
    wide = CONFIDENCE_Z * sd
    return Learned(percent, sd, percent - wide, percent + wide, book, seen, len(each), weight, each)


def _by_piece(read: Sequence[tuple[Pair, float]], fiber_saturation: float) -> list[_Seen]:
    """The mean of each piece's places, the surer ones counting for more."""
    places: dict[str, list[_Seen]] = {}
    for pair, dry_mm in read:
        places.setdefault(pair.piece, []).append(_seen(pair, dry_mm, fiber_saturation))
    return [_mean(seen) for seen in places.values()]


def _seen(pair: Pair, dry_mm: float, fiber_saturation: float) -> _Seen:
    percent = shrinkage_seen(pair.green_mm, dry_mm, pair.green_mc, pair.dry_mc, fiber_saturation)
    before, after = _shares(pair.green_mc, pair.dry_mc, fiber_saturation)
    ratio = dry_mm / pair.green_mm
    span = after - ratio * before
    of_ratio = (pair.error_mm / pair.green_mm) ** 2 * (1 + ratio**2 / pair.green_readings)
    by_ratio = 100 * (after - before) / span**2
    return _Seen(percent, by_ratio**2 * of_ratio, percent / (fiber_saturation * span))


def _mean(seen: list[_Seen]) -> _Seen:
    """Of the places of one piece, all read alike, so that the thickest says most."""
    weights = [1 / (place.variance or 1.0) for place in seen]
    total = sum(weights)
    parts = [(weight / total, place) for weight, place in zip(weights, seen, strict=True)]
    return _Seen(
        percent=sum(part * place.percent for part, place in parts),
        variance=sum(part**2 * place.variance for part, place in parts),
        per_moisture=sum(part * place.per_moisture for part, place in parts),
    )


def _shares(green_mc: float, dry_mc: float, fiber_saturation: float) -> tuple[float, float]:
    """How far from saturation to oven-dry each moisture lies, from 0 to 1."""
    before, after = (1 - min(mc, fiber_saturation) / fiber_saturation for mc in (green_mc, dry_mc))
    return before, after
