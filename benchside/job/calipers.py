"""The calipers of the shop and of a set: which are owned, how they stand, when to check them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import isfinite
from string import ascii_uppercase
from typing import Literal, NamedTuple, get_args

from benchside.errors import BenchsideError, NotFound, NotUnderstood, OutOfRange
from benchside.job import sets, turning
from benchside.job.turning import Marked, Sitting
from benchside.job.work import Work, calipers_for, letters_of, work_of
from benchside.lathe import calipers as core
from benchside.lathe.calipers import CALIPER_KINDS
from benchside.lathe.steps import Step
from benchside.store import readings, tools
from benchside.store.database import Shop
from benchside.store.readings import Mark
from benchside.store.sets import Habit, SpindleSet
from benchside.store.tools import OwnedCaliper
from benchside.units import most_told

RECHECK_AFTER = 5  # judgement, in pieces: calipers are easy to knock off the mark
MOST_PIECES = 1000
WIDEST_MM = 1000.0  # judgement: no caliper at a lathe opens further
LONGEST_NAME = 40
_RECHECK = "recheck_after_pieces"

Check = Literal["", "never", "pieces", "drift", "dropped"]


class Setting(NamedTuple):
    """A size that a caliper is set to. ``fine``: it is a tenon's too, and told as finely."""

    mm: float
    fine: bool


@dataclass(frozen=True, slots=True)
class Caliper:
    """One lettered caliper: the sizes it is set to, and the pieces sized with it since a check."""

    letter: str
    sizes: tuple[Setting, ...]
    checked_at: str | None
    dropped_at: str | None
    since: tuple[int, ...]

    @property
    def dropped(self) -> bool:
        """Whether it was dropped and not checked since."""
        return self.dropped_at is not None and self.dropped_at >= (self.checked_at or "")


@dataclass(frozen=True, slots=True)
class Standing:
    """How a caliper should stand as work begins, and why it is to be checked on the gauge.

    ``set_anew``: it stands at another size and is set now. ``check``: it was ``never`` checked,
    has served the maker's number of ``pieces`` since, its sizes ``drift``, or it was ``dropped``;
    "" for none of them, and always for a ``fixed`` gauge.
    """

    letter: str
    setting_mm: float
    for_tenon: bool
    set_anew: bool
    fixed: bool
    check: Check


@dataclass(frozen=True, slots=True)
class Dealt:
    """How often calipers are set anew over the whole set by either habit, and the steps whose size
    no caliper on the list takes."""

    set_anew: dict[Habit, int]
    beyond: tuple[Step, ...]
    owned: int


# ------------------------------------------------------------------ the calipers of the shop


def owned(shop: Shop) -> tuple[OwnedCaliper, ...]:
    """The calipers on the maker's list, by letter; none while there is no list."""
    return tuple(tools.calipers(shop))


def keep(shop: Shop, caliper: OwnedCaliper, *, was: str = "") -> None:
    """Put a caliper on the list, or with the letter it ``was`` change one. Raises of `faults`."""
    for fault in faults(caliper):
        raise fault
    with shop.transaction() as db:
        taken = {other.letter for other in tools.calipers(shop)} - {was}
        if caliper.letter in taken:
            raise BenchsideError(
                f"There is a caliper {caliper.letter} already.",
                field="letter",
                hint=f"The next free letter is {_free(taken)}." if _free(taken) else "",
            )
        if was and was != caliper.letter:
            tools.strike_caliper(db, was)
        tools.keep_caliper(db, caliper)


def strike(shop: Shop, letter: str) -> None:
    """Take a caliper off the list."""
    with shop.transaction() as db:
        tools.strike_caliper(db, letter)


def next_letter(shop: Shop) -> str:
    """The first letter no caliper on the list has; "" when all are taken."""
    return _free({caliper.letter for caliper in tools.calipers(shop)})


def faults(caliper: OwnedCaliper) -> tuple[BenchsideError, ...]:
    """Everything that cannot be in a caliper, each naming its field."""
    return tuple(_wrong(caliper))


def recheck_after(shop: Shop) -> int:
    """After so many pieces sized with a caliper it is to be checked on the gauge again."""
    return int(shop.setting(_RECHECK) or RECHECK_AFTER)


def keep_recheck_after(shop: Shop, pieces: int) -> None:
    """Keep the maker's own figure. Raises `OutOfRange`."""
    if not 1 <= pieces <= MOST_PIECES:
        raise OutOfRange(f"It can be 1 to {MOST_PIECES} pieces.", field="recheck")
    shop.keep_setting(_RECHECK, str(pieces))


# ------------------------------------------------------------------ the calipers of a set


def of_set(shop: Shop, kept: SpindleSet, doing: Work) -> tuple[Caliper, ...]:
    """The lettered calipers of a set, and what was sized with each since it was last checked."""
    by_step = letters_of(shop, kept, doing)
    if not by_step:
        return ()
    step_of = {(step.place_id, step.phase): step.id for step in doing.steps if step.reads}
    used: list[tuple[str, str, int]] = []  # letter, moment, piece
    about: dict[tuple[str, str], str] = {}
    for mark in readings.marks(shop, kept.id):
        if mark.what in ("caliper_checked", "caliper_dropped"):
            about[mark.what, mark.about] = mark.taken_at
        elif mark.what == "step" and mark.step_id in by_step and mark.spindle is not None:
            used.append((by_step[mark.step_id].letter, mark.taken_at, mark.spindle))
    for reading in readings.standing(shop, kept.id):
        step_id = step_of.get((reading.station_id, reading.phase), "")
        if reading.phase == "sizing" and step_id in by_step:
            used.append((by_step[step_id].letter, reading.taken_at, reading.spindle))
    return tuple(
        Caliper(
            letter=letter,
            sizes=sizes,
            checked_at=(checked := _newest(about, letter)),
            dropped_at=about.get(("caliper_dropped", letter)),
            since=tuple(
                sorted({n for held, at, n in used if held == letter and at > (checked or "")})
            ),
        )
        for letter, sizes in settings(by_step, doing).items()
    )


def settings(letters: Mapping[str, core.CaliperUse], doing: Work) -> dict[str, tuple[Setting, ...]]:
    """What each caliper of a set is set to, by its letter, small to large."""
    tenons = {step.id for step in doing.steps if step.stage == "tenon"}
    stood: dict[str, dict[float, bool]] = {}
    for step_id, use in letters.items():
        sizes = stood.setdefault(use.letter, {})
        sizes[use.setting_mm] = sizes.get(use.setting_mm, False) or step_id in tenons
    return {
        letter: tuple(Setting(mm, fine) for mm, fine in sorted(sizes.items()))
        for letter, sizes in sorted(stood.items())
    }


def begin(shop: Shop, sitting: Sitting, *, drifting: str = "") -> tuple[Standing, ...]:
    """How the calipers should stand as the piece (or the stage of it) in hand is begun.

    ``drifting`` is the letter of the caliper whose sizes drift, if one's do.
    """
    fixed = {caliper.letter for caliper in owned(shop) if caliper.kind == "fixed"}
    seen = {c.letter: c for c in of_set(shop, sitting.spindle_set, sitting.work)}
    after = recheck_after(shop)
    tenons = [sitting.letters.get(s.id) for s in sitting.steps if s.stage == "tenon"]
    return tuple(
        Standing(
            letter=use.letter,
            setting_mm=use.setting_mm,
            for_tenon=use in tenons,
            set_anew=use.reset,
            fixed=use.letter in fixed,
            check=""
            if use.letter in fixed
            else _check(seen[use.letter], sitting.number, after, drifting),
        )
        for use in core.at_start(sitting.steps, sitting.letters)
    )


def dealt(shop: Shop, kept: SpindleSet, doing: Work) -> Dealt:
    """What the calipers cost a set by either habit, and what none of them takes."""
    calipers = calipers_for(shop, kept)
    pieces = kept.choices.wanted + kept.choices.spares
    habits: tuple[Habit, ...] = get_args(Habit)
    return Dealt(
        set_anew={
            habit: core.times_set_anew(doing.steps, calipers, pieces=pieces, habit=habit)
            for habit in habits
        },
        beyond=() if isinstance(calipers, int) else core.without_one(doing.steps, calipers),
        owned=0 if isinstance(calipers, int) else len(calipers),
    )


def mark(
    shop: Shop,
    set_id: int,
    letter: str,
    what: str,
    *,
    key: str,
    at: str,
    device_id: int | None,
) -> Mark:
    """Note that a caliper was checked on its gauge, or that it was dropped or knocked."""
    kept = sets.standing(shop, set_id).kept
    doing = work_of(shop, kept)
    if letter not in {use.letter for use in letters_of(shop, kept, doing).values()}:
        raise NotFound("This set has no such caliper.", field="letter")
    if what not in ("caliper_checked", "caliper_dropped"):
        raise BenchsideError("Was it checked, or dropped?", field="what")
    marked = Marked(key=key, what=what, about=letter)
    return turning.mark(shop, set_id, None, marked, device_id=device_id, received_at=at)


def _newest(about: Mapping[tuple[str, str], str], letter: str) -> str | None:
    """When a caliper was last checked: by its letter, or all of them at once."""
    moments = [about.get(("caliper_checked", which), "") for which in (letter, "")]
    return max(moments) or None


def _check(caliper: Caliper, number: int, after: int, drifting: str) -> Check:
    """Why a caliper is to be checked before this piece, the gravest reason first."""
    if caliper.dropped:
        return "dropped"
    if caliper.letter == drifting:
        return "drift"
    if caliper.checked_at is None:
        return "never"
    return "pieces" if len(set(caliper.since) - {number}) >= after else ""


def _wrong(caliper: OwnedCaliper) -> Iterator[BenchsideError]:
    if len(caliper.letter) != 1 or caliper.letter not in ascii_uppercase:
        yield NotUnderstood(
            "A caliper is called by one letter, A to Z.", field="letter", hint="Write it on it."
        )
    if caliper.kind not in CALIPER_KINDS:
        yield NotUnderstood("Choose one of the kinds.", field="kind")
    ends = (caliper.least_mm, caliper.most_mm)
    if not all(isfinite(mm) and 0 <= mm <= WIDEST_MM for mm in ends):
        yield OutOfRange(f"It can open to {most_told(WIDEST_MM)} at most.", field="most_mm")
    elif caliper.most_mm <= 0:
        yield OutOfRange("It opens to more than nothing.", field="most_mm")
    elif caliper.most_mm < caliper.least_mm:
        yield OutOfRange(
            "It opens to less than it closes to.", field="most_mm", hint="Change the two over?"
        )
    elif caliper.kind == "fixed" and caliper.most_mm != caliper.least_mm:
        yield OutOfRange("A fixed gauge has one size.", field="most_mm")
    if len(caliper.name) > LONGEST_NAME:
        yield OutOfRange(f"There is room for {LONGEST_NAME} letters.", field="name")


def _free(taken: set[str]) -> str:
    return next((letter for letter in ascii_uppercase if letter not in taken), "")
