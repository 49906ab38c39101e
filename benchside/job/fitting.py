"""Tenons in their mortises: the parts of a set, their holes, the final sizes, what goes where."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from benchside.errors import NotFound
from benchside.job import dry_tenons, holes, origin, sets, tenon_dryness, wood_of
from benchside.job.dry_tenons import DryTenon
from benchside.job.holds import Evidence
from benchside.job.holes import Hole
from benchside.job.origin import Rings
from benchside.job.sets import Standing
from benchside.job.tenon_course import Course, course_of, size_for
from benchside.job.tenon_dryness import Wait
from benchside.job.tenon_ends import End, tenons
from benchside.job.wood_of import Known
from benchside.job.work import as_told, work_on
from benchside.joint import fit
from benchside.joint import schools as taught
from benchside.joint.fit import Mortise, Tenon
from benchside.joint.hole import Bore
from benchside.joint.schools import School
from benchside.lathe.sizes import TRY_OVER_MM, Verdict, verdict
from benchside.pattern import DatumEnd
from benchside.store import fitting as store
from benchside.store.database import Shop
from benchside.store.fitting import Axis, HoleReading, Later, Part
from benchside.store.readings import Reading
from benchside.store.wood import Wood
from benchside.wood import species as listed
from benchside.wood.species import FIBER_SATURATION

OWN = "own"
STALE = timedelta(hours=24)  # judgement: dried tenons take moisture back while they lie
AXES: tuple[Axis, ...] = ("A", "B")
SAME_SIZE_MM = 0.005  # half of the finest step that a size is shown in
RING_DEG = {"along": 0.0, "across": 90.0}


@dataclass(frozen=True, slots=True)
class Row:
    """One tenon and its hole. Lengths in mm.

    ``bore`` is the hole's size, ``own`` whether it was measured itself or stands in for it the
    test hole; ``target_mm`` is what to bring the tenon to. ``wide`` and ``narrow`` are its final
    sizes as read, ``ways`` what each means, ``says`` the one that counts. ``dry`` is how it was
    read before, ``dry_mm`` its narrow way and ``dry_wide_mm`` its wide one at the moisture it is
    sized at; ``thin`` says that the narrow way is under the target, so that no wood is left for it;
    ``wait`` what it has to wait for before that cut, as the newest ``evidence`` says; ``stale``
    that it lay too long since.
    ``course`` is of the sizes read, or else of the target. ``rings`` is how its rings lie, where
    its blank tells, and ``dot_deg`` where the dot on its end comes to lie then, from the part's
    grain.
    """

    number: int
    hole: int
    bore: Bore | None
    own: bool
    target_mm: float | None
    wide: Later | None
    narrow: Later | None
    ways: tuple[tuple[Axis, Verdict], ...]
    says: Verdict | None
    dry: DryTenon | None
    dry_wide_mm: float | None
    dry_mm: float | None
    thin: bool
    wait: Wait
    evidence: Evidence | None
    course: Course | None
    home_at: str | None
    stale: bool
    rings: Rings | None
    dot_deg: float | None

    @property
    def to_size(self) -> bool:
        """Whether it waits at the lathe to be brought to its size."""
        if self.target_mm is None or self.home_at:
            return False
        return not self.thin if self.says is None else self.says.word == "over"

    @property
    def oval(self) -> bool:
        """Whether one way across it is another thing than the other: over, at its size or under."""
        return len({says.word for _, says in self.ways}) > 1

    @property
    def sized(self) -> bool:
        """Whether it was brought to its size: read, and no longer over it."""
        return self.sized_mm is not None and (self.says is None or self.says.word != "over")

    @property
    def no_stop(self) -> bool:
        """Whether it measured so little dry that there is no stopping before its size to try it."""
        if self.dry_wide_mm is None or self.target_mm is None:
            return False
        return self.dry_wide_mm < self.target_mm + TRY_OVER_MM

    @property
    def sized_at(self) -> str | None:
        return max((r.taken_at for r in (self.wide, self.narrow) if r), default=None)

    @property
    def sized_mm(self) -> float | None:
        read = [r.value_mm for r in (self.wide, self.narrow) if r]
        return sum(read) / len(read) if read else None


@dataclass(frozen=True, slots=True)
class PartFit:
    """A part with its tenons. ``fit_mm`` is how much larger they are wanted than their holes.

    ``hole_mm`` is the test hole's size, or the mean of the holes measured; ``target_mm`` what a
    tenon is brought to for it and ``course`` how that sits, None while no hole, or no wood, is
    known. ``comes_mm`` is what its tenons come dry to their last cut with, if so, and ``thin``
    says that this leaves no wood for the target. ``readings`` are those of its holes.
    """

    part: Part
    end: End
    test_hole: Hole | None
    school: School | None
    fit_mm: float
    glued: bool
    across_percent: float
    saturation: float
    hole_mm: float | None
    target_mm: float | None
    comes_mm: float | None
    thin: bool
    course: Course | None
    rows: tuple[Row, ...]
    readings: tuple[HoleReading, ...]

    @property
    def wants_mc(self) -> tuple[float, float]:
        """How dry its way of fitting counts on a tenon, from and to. [%]"""
        at = self.part.tenon_moisture
        return self.school.tenon_mc if self.school else (at, at)


@dataclass(frozen=True, slots=True)
class Fit:
    """A set and the parts it goes into. ``pairs`` are spindles by hole; ``settled`` whether the
    maker said so, or they only stand in the order of their numbers."""

    standing: Standing
    known: Known | None
    learned: bool
    ends: tuple[End, ...]
    datum_end: DatumEnd
    parts: tuple[PartFit, ...]
    pairs: Mapping[int, int]
    settled: bool
    candidates: tuple[int, ...]
    test_holes: tuple[Hole, ...]
    now: str

    def part(self, key: str) -> PartFit:
        """One part. Raises `NotFound`."""
        for found in self.parts:
            if found.part.key == key:
                return found
        raise NotFound("This set has no such part.")

    def row(self, part_key: str, number: int) -> Row:
        """The tenon of one spindle in one part. Raises `NotFound`."""
        for row in self.part(part_key).rows:
            if row.number == number:
                return row
        raise NotFound(f"Piece {number} goes into no hole of it.")

    def next_to_size(self, part_key: str = "", number: int = 0) -> tuple[PartFit, Row] | None:
        """The tenon to bring to its size next, after that one: the piece's other one first.

        Those that have to dry first come last.
        """
        off = still_to_turn(self.standing)
        order = [(row.number, i, p, row) for i, p in enumerate(self.parts) for row in p.rows]
        order.sort(key=lambda each: each[:2])
        here = [i for i, (n, _, p, _) in enumerate(order) if (p.part.key, n) == (part_key, number)]
        after = here[0] + 1 if here else 0
        waiting = [(p, row) for *_, p, row in (*order[after:], *order[:after]) if row.to_size]
        waiting = [(p, row) for p, row in waiting if row.number not in off]
        waiting.sort(key=lambda each: each[1].wait in ("wet", "unweighed"))
        return waiting[0] if waiting else None

    def to_size(self, part: PartFit) -> tuple[Row, ...]:
        """The tenons of a part that wait at the lathe, of pieces that are turned."""
        off = still_to_turn(self.standing)
        return tuple(row for row in part.rows if row.to_size and row.number not in off)

    @property
    def free_ends(self) -> tuple[End, ...]:
        """The tenons that have no part yet."""
        taken = {found.part.tenon for found in self.parts}
        return tuple(end for end in self.ends if end.id not in taken)


def fitting(shop: Shop, set_id: int, *, now: str) -> Fit:
    """Everything known of how a set goes into its parts. Raises `NotFound`.

    With no ``now``, of no tenon it is asked how long it has lain.
    """
    with shop.snapshot():
        standing = sets.standing(shop, set_id)
        standing = replace(standing, kept=as_told(shop, standing.kept))
        doing = work_on(shop, standing.kept.pattern_id, standing.kept.revision)
        known = wood_of.known(shop, set_id)
        said = wood_of.said(shop, set_id)
        later = [r for r in store.later(shop, set_id) if r.struck_at is None]
        at_lathe = dry_tenons.at_lathe(shop, set_id)
        home = {(f.spindle, f.tenon): f.at for f in store.fitted(shop, set_id)}
        measured = store.mortises(shop, set_id)
        every_hole = holes.listed(shop)
        told = store.holes_of(shop, set_id)
        rings = origin.rings(shop, set_id)
        dry = dry_tenons.measured(shop, set_id)
        dryness = tenon_dryness.of_pieces(shop, set_id, [p.number for p in standing.pieces])
        rows = store.parts(shop, set_id)
    candidates = tuple(p.number for p in standing.pieces if not p.practice and p.lot != "spoiled")
    pairs = {hole: spindle for spindle, hole in told.items()} or _by_number(standing)
    ends = tenons(doing.pattern)
    wood = said.wood if said else None
    comes = said is not None and not said.last_pass
    found = _Fitter(
        shop, standing, known, wood, comes, pairs, later, at_lathe, dry, dryness, home, rings, now
    )
    return Fit(
        standing=standing,
        known=known,
        learned=said is not None and said.wood.learned,
        ends=ends,
        datum_end=doing.pattern.datum_end,
        parts=tuple(
            found.part(part, end, _hole(every_hole, part), measured.get(part.key, []))
            for part in rows
            for end in ends
            if end.id == part.tenon
        ),
        pairs=pairs,
        settled=bool(told),
        candidates=candidates,
        test_holes=every_hole,
        now=now,
    )


def due(shop: Shop, set_id: int, *, now: str) -> tuple[PartFit, Row] | None:
    """The tenon that a set waits for at the lathe, where one is dry: dried wood takes moisture
    back, so it goes before anything that can lie."""
    if not store.parts(shop, set_id):
        return None
    found = fitting(shop, set_id, now=now).next_to_size()
    return found if found and found[1].wait not in ("wet", "unweighed") else None


def still_to_turn(standing: Standing) -> frozenset[int]:
    """Pieces with no tenon yet; none of a set of which no tap says that any is done."""
    done = {p.number for p in standing.pieces if p.done}
    return (
        frozenset(p.number for p in standing.pieces if p.number not in done)
        if done
        else frozenset()
    )


def _that_counts(ways: Sequence[Verdict]) -> Verdict | None:
    """What says whether a tenon is done: a way under, since no cut mends that, else a way over."""
    for word in ("under", "over"):
        beyond = [says for says in ways if says.word == word]
        if beyond:
            return min(beyond, key=lambda says: says.off_mm)
    return ways[0] if ways else None


def _by_number(standing: Standing) -> dict[int, int]:
    """Spindles by hole in the order of their numbers, the finished ones first."""
    counted = [p for p in standing.pieces if not p.practice and p.lot != "spoiled"]
    counted.sort(key=lambda p: (not p.done, p.lot != "sound", p.number))
    chosen = sorted(p.number for p in counted[: standing.kept.choices.wanted])
    return dict(enumerate(chosen, 1))


def _hole(every: Sequence[Hole], part: Part) -> Hole | None:
    return next((hole for hole in every if hole.kept.key == part.test_hole), None)


@dataclass(frozen=True, slots=True)
class _Fitter:
    """What all parts of a set share while their fits are worked out."""

    shop: Shop
    standing: Standing
    known: Known | None
    wood: Wood | None
    comes: bool  # to its last cut with what was left on it for that
    pairs: Mapping[int, int]
    later: Sequence[Later]
    at_lathe: Mapping[tuple[int, str], Mapping[str, Reading]]
    dry: Mapping[tuple[int, str], DryTenon]
    dryness: Mapping[int, Evidence | None]
    home: Mapping[tuple[int, str], str]
    rings: Mapping[int, Rings]
    now: str

    def part(
        self, part: Part, end: End, test_hole: Hole | None, readings: list[HoleReading]
    ) -> PartFit:
        school = None if part.school == OWN else taught.find(part.school)
        fit_mm = school.fit_mm if school else part.own_fit_mm or 0.0
        species = wood_of.species(part.species, self.shop)
        wood = listed.shrinkage(species)
        bores = {
            hole: holes.size_of([r for r in readings if r.hole == hole]) for hole in self.pairs
        }
        own = [bore.size_mm for bore in bores.values() if bore]
        stands_in = test_hole.size if test_hole else None
        typical_hole = stands_in.size_mm if stands_in else sum(own) / len(own) if own else None
        found = PartFit(
            part=part,
            end=end,
            test_hole=test_hole,
            school=school,
            fit_mm=fit_mm,
            glued=school.glued if school else fit_mm <= 0,
            across_percent=fit.across_percent(*wood, part.across),
            saturation=listed.saturation(species),
            hole_mm=typical_hole,
            target_mm=None,
            comes_mm=self._comes_mm(part, end),
            thin=False,
            course=None,
            rows=(),
            readings=tuple(readings),
        )
        if typical_hole is not None:
            target_mm = self._target_mm(found, typical_hole)
            course = self._course(found, typical_hole, target_mm, None)
            thin = self._is_thin(found.comes_mm, target_mm)
            found = replace(found, target_mm=target_mm, thin=thin, course=course)
        rows = tuple(
            self._row(found, hole, number, bores[hole] or stands_in, own=bores[hole] is not None)
            for hole, number in sorted(self.pairs.items())
        )
        return replace(found, rows=rows)

    def _row(self, found: PartFit, hole: int, number: int, bore: Bore | None, *, own: bool) -> Row:
        target_mm = None if bore is None else self._target_mm(found, bore.size_mm)
        wide, narrow = (self._sized(number, found, axis, target_mm) for axis in AXES)
        dry = self.dry.get((number, found.end.id))
        dry_wide_mm, dry_mm = self._dry_mm(found, dry)
        evidence = self.dryness.get(number)
        wait = self._wait(number, found)
        rings = self.rings.get(number)
        home_at = self.home.get((number, found.end.id))
        read = [r for r in (wide, narrow) if r]
        sized_at = max((r.taken_at for r in read), default=None)
        course = None
        ways: tuple[tuple[Axis, Verdict], ...] = ()
        if bore is not None and target_mm is not None:
            both = (wide.value_mm, narrow.value_mm) if wide and narrow else None
            course = self._course(found, bore.size_mm, target_mm, both)
            ways = tuple((r.axis, self._says(r.value_mm, target_mm)) for r in read)
        says = _that_counts([each for _, each in ways])
        return Row(
            number=number,
            hole=hole,
            bore=bore,
            own=own,
            target_mm=target_mm,
            wide=wide,
            narrow=narrow,
            ways=ways,
            says=says,
            dry=dry,
            dry_wide_mm=dry_wide_mm,
            dry_mm=dry_mm,
            wait="" if home_at or (says and says.word != "over") else wait,
            evidence=evidence,
            thin=home_at is None and self._is_thin(dry_mm, target_mm),
            course=course,
            home_at=home_at,
            stale=sized_at is not None and home_at is None and self._lay_long(sized_at),
            rings=rings,
            dot_deg=fit.dot_deg(RING_DEG[found.part.turning], rings.deg) if rings else None,
        )

    def _wait(self, number: int, found: PartFit) -> Wait:
        if number in still_to_turn(self.standing):
            return "turn"
        if number not in self.dryness:
            return ""
        return tenon_dryness.wait(self.dryness[number], found.wants_mc[1])

    def _sized(
        self, number: int, found: PartFit, axis: Axis, target_mm: float | None
    ) -> Later | None:
        """The newest final size one way across: typed here, or read at the lathe as it was turned
        to the very size that its hole wants."""
        asked = (number, found.end.id, "sized", axis)
        cells = [r for r in self.later if (r.spindle, r.station_id, r.what, r.axis) == asked]
        read = self.at_lathe.get((number, found.end.id), {}).get(axis)
        if read and target_mm is not None and abs(read.target_mm - target_mm) < SAME_SIZE_MM:
            cells.append(dry_tenons.as_sized(read, axis, found.part.tenon_moisture))
        return sorted(cells, key=lambda r: r.taken_at)[-1] if cells else None

    def _tenon(self, found: PartFit, diameter_mm: float) -> Tenon:
        part, below = found.part, self.wood.saturation_percent if self.wood else FIBER_SATURATION
        ring = RING_DEG[part.turning]
        return Tenon(diameter_mm, part.tenon_moisture, *self._percents(), ring, None, below)

    def _mortise(self, found: PartFit, bore_mm: float) -> Mortise:
        across = found.across_percent
        return Mortise(bore_mm, found.part.moisture, across, fiber_saturation=found.saturation)

    def _percents(self) -> tuple[float, float]:
        """The tenons' shrinkage along the rays and along the rings; none of an unknown wood."""
        wood = self.wood
        return (wood.radial_percent, wood.tangential_percent) if wood else (0.0, 0.0)

    def _target_mm(self, found: PartFit, hole_mm: float) -> float:
        part = found.part
        tenon = self._tenon(found, hole_mm)
        mortise = self._mortise(found, hole_mm)
        return size_for(found.fit_mm, tenon, mortise, part.tenon_moisture, part.moisture)

    def _course(
        self, found: PartFit, hole_mm: float, target_mm: float, read: tuple[float, float] | None
    ) -> Course | None:
        if self.known is None:
            return None
        part = found.part
        wide_mm, narrow_mm = read or (target_mm, target_mm)
        tenon = replace(self._tenon(found, wide_mm), tangential_mm=narrow_mm)
        mortise = self._mortise(found, hole_mm)
        months = (self.known.driest_mc, self.known.dampest_mc)
        return course_of(tenon, mortise, part.tenon_moisture, part.moisture, months, found.glued)

    def _says(self, sized_mm: float, target_mm: float) -> Verdict:
        tolerance = self.standing.kept.choices.tolerances.tenon_mm
        return verdict(sized_mm, target_mm, tolerance_mm=tolerance, kind="tenon")

    def _dry_mm(self, found: PartFit, tenon: DryTenon | None) -> tuple[float | None, float | None]:
        """How wide and how narrow a tenon was read, at the moisture it is sized at. [mm]"""
        if tenon is None or self.wood is None:
            return None, None
        return dry_tenons.at_mm(tenon, self.wood, found.part.tenon_moisture)

    def _comes_mm(self, part: Part, end: End) -> float | None:
        if self.wood is None or not self.comes:
            return None
        return dry_tenons.comes_dry_mm(end.diameter_mm, self.wood, part.tenon_moisture)

    def _is_thin(self, narrow_mm: float | None, target_mm: float | None) -> bool:
        if narrow_mm is None or target_mm is None:
            return False
        return self._says(narrow_mm, target_mm).word == "under"

    def _lay_long(self, since: str) -> bool:
        if not self.now:
            return False
        return datetime.fromisoformat(self.now) - datetime.fromisoformat(since) > STALE
