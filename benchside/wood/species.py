"""Species of wood: the figures of the handbooks, each with how it was seen and where.

The table is ``species.csv`` beside this file; ``species_sources.csv`` says what its codes mean.
Figures of European species stand on another basis than the North American ones; they are never
averaged.
"""

from __future__ import annotations

import csv
import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from difflib import SequenceMatcher
from functools import cache, lru_cache
from math import isfinite
from pathlib import Path
from typing import Any, Literal, NamedTuple, get_args

from benchside.errors import NotUnderstood, OutOfRange

Seen = Literal["read", "reprint", "memory", "worked out", "own"]
SEEN: tuple[Seen, ...] = get_args(Seen)

FIGURES = (
    *("radial_percent", "tangential_percent", "volumetric_percent", "gravity_green", "gravity_12"),
    *("modulus_green_gpa", "modulus_12_gpa", "rupture_green_mpa", "rupture_12_mpa"),
    *("green_heartwood_percent", "green_sapwood_percent", "intersection_percent"),
    "saturation_percent",
)
FIBER_SATURATION = 30.0  # percent [@wood-handbook-2021, eq. 4-9]
MOST_SHRINKAGE_PERCENT = 30.0  # judgement: twice the most of any species listed
OFFERED = 5  # nearest names
LONGEST_NAME = 60


@dataclass(frozen=True, slots=True)
class Source:
    """How a figure was seen, where it stands (key and place), and that in words."""

    code: str
    seen: Seen
    source: str
    words: str


OWN = Source("OWN", "own", "the maker's own figure", "your own figure")


@dataclass(frozen=True, slots=True)
class Species:
    """One species. None is a figure that is not known.

    ``radial_percent``, ``tangential_percent`` and ``volumetric_percent`` are the shrinkage from
    green to 0 % moisture, in percent of the green size; ``gravity_…`` is oven-dry weight over the
    volume green and at 12 %, as specific gravity; ``modulus_…`` the modulus of elasticity and
    ``rupture_…`` the bending strength, green and at 12 %; ``green_…`` the usual moisture of the
    living tree; ``intersection_percent`` the moisture below which strength rises;
    ``saturation_percent`` the one below which it shrinks, where that is its own. ``sources``
    holds the `Source` of each known figure, by its name.
    """

    id: str
    common_name: str
    botanical_name: str
    group: str
    radial_percent: float | None
    tangential_percent: float | None
    volumetric_percent: float | None = None
    gravity_green: float | None = None
    gravity_12: float | None = None
    modulus_green_gpa: float | None = None
    modulus_12_gpa: float | None = None
    rupture_green_mpa: float | None = None
    rupture_12_mpa: float | None = None
    green_heartwood_percent: float | None = None
    green_sapwood_percent: float | None = None
    intersection_percent: float | None = None
    saturation_percent: float | None = None
    also: tuple[str, ...] = field(default=(), kw_only=True)
    note: str = field(default="", kw_only=True)
    sources: tuple[tuple[str, Source], ...] = field(default=(), kw_only=True)

    @property
    def names(self) -> tuple[str, ...]:
        """Every name it goes by."""
        return (self.common_name, *self.also, *self.botanical_name.split(" / "))

    def source_of(self, figure: str) -> Source | None:
        """How that figure was seen; None where it is not known."""
        return dict(self.sources).get(figure)


class Shrinkage(NamedTuple):
    """From green to 0 % moisture, along the rays and along the rings. [% of the green size]"""

    radial_percent: float
    tangential_percent: float


@cache
def all_species() -> tuple[Species, ...]:
    """Every species of the table, by common name."""
    rows = (_species(row, sources_by_code()) for row in _rows("species.csv"))
    return tuple(sorted(rows, key=lambda species: species.common_name.casefold()))


@cache
def sources_by_code() -> dict[str, Source]:
    """What the codes of the table mean."""
    return {
        row["code"]: Source(row["code"], _seen(row["seen"]), row["source"], row["words"])
        for row in _rows("species_sources.csv")
    }


def find(name: str, own: Iterable[Species] = ()) -> Species:
    """The species of that common or botanical name; ``own`` are the maker's, looked at first.

    Forgiving of case, hyphens, accents and the order of words (``Ash, white``). A word that only
    one species has is enough. Raises `NotUnderstood` with the nearest names for any other.

    >>> find("Fraxinus americana").common_name
    'white ash'
    >>> find("OAK, Northern-Red").tangential_percent
    8.6
    """
    own = tuple(own)
    wanted = _words(name)
    for kept in (own, all_species()):
        for species in kept:
            if name == species.id or any(_same(wanted, _words(n)) for n in species.names):
                return species
    having = [s for s in (*own, *all_species()) if wanted and any(wanted <= w for w in _each(s))]
    if len(having) == 1:
        return having[0]
    raise _unknown(name, [s.common_name for s in having] or nearest(name, own))


def search(text: str, own: Iterable[Species] = (), most: int = 12) -> tuple[Species, ...]:
    """The species whose names hold every word begun in ``text``, the maker's own first.

    A listed one that the maker has figures of is not told twice.

    >>> [species.common_name for species in search("whi as")]
    ['white ash']
    """
    begun, own = _plain(text).split(), tuple(own)
    both = (*own, *without(own))
    held = [s for s in both if any(_holds(begun, _plain(name)) for name in s.names)]
    return tuple(held[:most])


def without(own: Iterable[Species]) -> tuple[Species, ...]:
    """The listed species that none of the maker's own is called as."""
    taken = {_words(species.common_name) for species in own}
    return tuple(s for s in all_species() if _words(s.common_name) not in taken)


def nearest(name: str, own: Iterable[Species] = (), most: int = OFFERED) -> list[str]:
    """The names that are spelt most like this one, best first."""
    wanted = " ".join(sorted(_plain(name).split()))
    likeness = [
        (_alike(wanted, " ".join(sorted(_plain(known).split()))), known)
        for species in (*own, *all_species())
        for known in species.names
    ]
    likeness.sort(key=lambda pair: -pair[0])
    return [known for _, known in likeness[:most]]


def shrinkage(species: Species) -> Shrinkage:
    """Its two shrinkages. Raises `NotUnderstood` where the table has none."""
    if species.radial_percent is None or species.tangential_percent is None:
        raise NotUnderstood(
            f"No shrinkage is known of {species.common_name}, so neither sizes to turn now nor what"
            " it dries to can be reckoned.",
            field="species",
            hint="Add it under Species with figures of your own.",
        )
    return Shrinkage(species.radial_percent, species.tangential_percent)


def saturation(species: Species) -> float:
    """The moisture below which it shrinks: its own where a source gives one, else 30 %.

    >>> saturation(find("western redcedar")), saturation(find("white ash"))
    (22.0, 30.0)
    """
    return species.saturation_percent or FIBER_SATURATION


def shrinkage_source(species: Species) -> Source:
    """How its shrinkage was seen; the weaker of the two directions."""
    both = [species.source_of(name) or OWN for name in FIGURES[:2]]
    return max(both, key=lambda source: SEEN.index(source.seen))


def own_species(
    name: str,
    radial_percent: float,
    tangential_percent: float,
    *,
    botanical_name: str = "",
    gravity_green: float | None = None,
    green_percent: float | None = None,
) -> Species:
    """A species of the maker's own, with the maker's figures.

    One called as a listed species keeps that one's weight and strength, which a maker cannot
    measure. Raises `NotUnderstood` without a name and `OutOfRange` for a figure that cannot be.
    """
    plain = " ".join(name.split())
    if not _plain(plain) or len(plain) > LONGEST_NAME:
        raise NotUnderstood(
            "A species needs a name of one to sixty letters.",
            field="name",
            hint="Such as: ash from the mill.",
        )
    _in(radial_percent, "radial_percent", "The shrinkage along the rays", MOST_SHRINKAGE_PERCENT)
    _in(
        tangential_percent,
        "tangential_percent",
        "The shrinkage along the rings",
        MOST_SHRINKAGE_PERCENT,
    )
    if gravity_green is not None:
        _in(gravity_green, "gravity_green", "Specific gravity", 1.5)
    if green_percent is not None:
        _in(green_percent, "green_percent", "The moisture of the living tree", 250.0)
    given = {
        "radial_percent": radial_percent,
        "tangential_percent": tangential_percent,
        "gravity_green": gravity_green,
        "green_heartwood_percent": green_percent,
        "green_sapwood_percent": green_percent,
    }
    own: dict[str, Any] = {name: value for name, value in given.items() if value is not None}
    bare = Species("", plain, "", "own", None, None)
    book = next((s for s in all_species() if _words(s.common_name) == _words(plain)), bare)
    sources = {name: source for name, source in book.sources if name != "volumetric_percent"}
    return replace(
        book,
        id=f"own:{_plain(plain)}",
        common_name=plain,
        botanical_name=botanical_name.strip() or book.botanical_name,
        group="own",
        volumetric_percent=None,
        sources=tuple({**sources, **dict.fromkeys(own, OWN)}.items()),
        **own,
    )


def _species(row: Mapping[str, str], codes: Mapping[str, Source]) -> Species:
    return Species(
        row["id"],
        row["common_name"],
        row["botanical_name"],
        row["group"],
        *(float(row[name]) if row[name] else None for name in FIGURES),
        also=tuple(name.strip() for name in row["also"].split(";") if name.strip()),
        note=row["note"],
        sources=tuple(
            (name, codes[row[f"{name}_from"]]) for name in FIGURES if row[f"{name}_from"]
        ),
    )


def _rows(name: str) -> list[dict[str, str]]:
    with Path(__file__).with_name(name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _seen(text: str) -> Seen:
    return next(seen for seen in SEEN if seen == text)


@lru_cache(maxsize=2000)
def _plain(name: str) -> str:
    letters = unicodedata.normalize("NFKD", name.casefold())
    kept = "".join(" " if letter in "-,/.()" else letter for letter in letters)
    return " ".join(re.sub(r"[^a-z0-9 ]", "", kept).split())


def _words(name: str) -> frozenset[str]:
    return frozenset(_plain(name).split())


def _same(a: frozenset[str], b: frozenset[str]) -> bool:
    """Alike but for the order of words and the joins between them: honey-locust, honeylocust."""
    return bool(a) and (a == b or "".join(sorted("".join(a))) == "".join(sorted("".join(b))))


def _each(species: Species) -> list[frozenset[str]]:
    return [_words(name) for name in species.names]


def _holds(begun: list[str], plain: str) -> bool:
    return all(any(word.startswith(start) for word in plain.split()) for start in begun)


def _alike(a: str, b: str) -> float:
    return SequenceMatcher(None, a, b).ratio()


def _unknown(name: str, near: list[str]) -> NotUnderstood:
    shown = name.strip()[:LONGEST_NAME]
    if not shown:
        return NotUnderstood(
            "No species is typed.", field="species", hint="Such as: white ash, soft maple."
        )
    return NotUnderstood(
        f"No one species is called “{shown}”.",
        field="species",
        hint=f"Nearest: {', '.join(near[:OFFERED])}.",
    )


def _in(value: float, field: str, what: str, most: float) -> None:
    if not (isfinite(value) and 0 < value <= most):
        raise OutOfRange(
            f"{what} is more than 0 and at most {most:g}.", field=field, hint="Such as 5 or 7,8."
        )
