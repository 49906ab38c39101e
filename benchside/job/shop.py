"""The shop itself: its lathe, and whether its data have been copied lately."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Iterator
from dataclasses import dataclass, fields
from datetime import datetime, timedelta
from math import isfinite
from typing import Literal

from benchside import units
from benchside.errors import BenchsideError, OutOfRange
from benchside.lathe import course
from benchside.lathe.course import Bench
from benchside.lathe.outfit import Grip, Misfit, Steady, misfits, steady_n_per_mm
from benchside.pattern import Pattern
from benchside.store import patterns, sets, tools
from benchside.store.backup import LAST_BACKUP
from benchside.store.database import Shop

SWING_MM = 305.0  # judgement: twelve inches over the bed
BETWEEN_CENTRES_MM = 915.0  # judgement: thirty-six inches
LEAST_MM, MOST_MM = 50.0, 10_000.0  # judgement: guards against a slip of the unit
LEAST_RPM, MOST_RPM = 10.0, 20_000.0  # judgement: likewise
MOST_FORCE_N = 1000.0  # judgement: likewise
MOST_GIVE_MM = 10.0  # judgement: likewise
MOST_STEPS = 40  # judgement: no headstock has more pulleys
SIZES = frozenset({"swing_mm", "between_centres_mm"})
BACKUP_EVERY = timedelta(days=7)  # judgement


@dataclass(frozen=True, slots=True)
class Lathe:
    """The maker's lathe and what it is fitted with.

    ``swing_mm`` is the largest diameter, ``between_centres_mm`` the longest work it takes. Its
    speeds are ``steps_rpm``, slowest first, or anything from ``least_rpm`` to ``most_rpm``; both
    empty while nobody said. ``steady_n_per_mm`` is the steady's stiffness where it was measured.
    ``grip`` is how the headstock end is held, the other running on a live centre. ``cut_force_n``
    is the side force of the maker's cut and ``give_limit_mm`` the give at which ribbing is seen;
    None while not said. ``ours`` names the two sizes that stand as we have them, unsaid.
    """

    swing_mm: float = SWING_MM
    between_centres_mm: float = BETWEEN_CENTRES_MM
    steps_rpm: tuple[float, ...] = ()
    least_rpm: float | None = None
    most_rpm: float | None = None
    steady: Steady = "none"
    steady_n_per_mm: float | None = None
    grip: Grip = "unknown"
    cut_force_n: float | None = None
    give_limit_mm: float | None = None
    ours: frozenset[str] = dataclasses.field(default=frozenset(), compare=False)

    @property
    def slowest_rpm(self) -> float | None:
        """The slowest it turns, as far as was said."""
        return self.steps_rpm[0] if self.steps_rpm else self.least_rpm

    @property
    def fastest_rpm(self) -> float | None:
        """The fastest it turns, as far as was said."""
        return self.steps_rpm[-1] if self.steps_rpm else self.most_rpm

    @property
    def steady_stiffness_n_per_mm(self) -> float | None:
        """How stiff the steady is, measured or by its word (inf: rigid); None without one."""
        return steady_n_per_mm(self.steady, self.steady_n_per_mm)


# The name each field is kept under; the values are JSON.
LATHE_SETTINGS: dict[str, str] = {
    one.name: one.name if one.name in ("cut_force_n", "give_limit_mm") else f"lathe_{one.name}"
    for one in fields(Lathe)
    if one.name != "ours"
}


@dataclass(frozen=True, slots=True)
class Backup:
    """When the last backup was made, if ever, and whether the next is due."""

    last_at: str | None
    due: bool


def lathe(shop: Shop) -> Lathe:
    """The maker's lathe, or ours to begin with."""
    kept = shop.settings("")
    said = {field: json.loads(kept[name]) for field, name in LATHE_SETTINGS.items() if name in kept}
    ours = frozenset(SIZES - said.keys())
    return Lathe(**{**said, "steps_rpm": tuple(said.get("steps_rpm", ())), "ours": ours})


def newest_unit(shop: Shop) -> units.Unit | None:
    """The unit of the newest set; None before the first."""
    found = sets.listed(shop) or sets.listed(shop, archived=True)
    return found[0].unit if found else None


def works_in(shop: Shop) -> Literal["mm", "in"] | None:
    """Millimetres or inches, as the newest set is turned in; None before the first."""
    newest = newest_unit(shop)
    return newest and units.unit_sign(newest)


def swing_mm(shop: Shop) -> float | None:
    """The largest diameter the maker's lathe takes; None while nobody said. [mm]"""
    kept = shop.setting(LATHE_SETTINGS["swing_mm"])
    return None if kept is None else float(json.loads(kept))


def bench(shop: Shop) -> Bench:
    """What pieces are turned with, as far as stiffness goes; our own figures where nothing is said.

    The wood is that of no set: an even hardwood. Of calipers there are enough while none is listed.
    """
    found = lathe(shop)
    return Bench(
        force_n=found.cut_force_n or course.FORCE_N,
        limit_mm=found.give_limit_mm or course.LIMIT_MM,
        held_fast=found.grip == "chuck",
        steady_n_per_mm=found.steady_stiffness_n_per_mm,
        calipers=len(tools.calipers(shop)) or None,
    )


def unfit(on: Lathe, pattern: Pattern, stock_mm: float) -> tuple[Misfit, ...]:
    """What of a piece of a pattern, roughed to a round of ``stock_mm``, does not go on it."""
    return misfits(
        pattern.length_mm,
        stock_mm,
        swing_mm=on.swing_mm,
        between_centres_mm=on.between_centres_mm,
    )


def keep_lathe(shop: Shop, new: Lathe) -> None:
    """Keep the lathe as it is described now. Raises the first of `faults`."""
    for fault in faults(new):
        raise fault
    said = {
        name: None if one in new.ours else getattr(new, one) for one, name in LATHE_SETTINGS.items()
    }
    shop.keep_settings(
        {
            name: None if value is None or value == () else json.dumps(value)
            for name, value in said.items()
        }
    )


def faults(new: Lathe) -> tuple[BenchsideError, ...]:
    """Everything that cannot be in a lathe, each naming its field."""
    sizes = (("swing_mm", new.swing_mm), ("between_centres_mm", new.between_centres_mm))
    figures = (
        ("steady_n_per_mm", new.steady_n_per_mm, 100_000.0, "100000 N/mm"),
        ("cut_force_n", new.cut_force_n, MOST_FORCE_N, f"{MOST_FORCE_N:g} N"),
        ("give_limit_mm", new.give_limit_mm, MOST_GIVE_MM, units.most_told(MOST_GIVE_MM)),
    )
    return (
        *(
            OutOfRange(
                f"It can be {units.least_told(LEAST_MM)} to {units.most_told(MOST_MM)}.",
                field=field,
                hint="The lathe's manual gives both.",
            )
            for field, value_mm in sizes
            if not (isfinite(value_mm) and LEAST_MM <= value_mm <= MOST_MM)
        ),
        *speed_faults(new),
        *(
            OutOfRange(f"It is more than 0 and at most {told}.", field=field)
            for field, value, most, told in figures
            if value is not None and not (isfinite(value) and 0 < value <= most)
        ),
    )


def speed_faults(new: Lathe) -> Iterator[BenchsideError]:
    """What cannot be in the speeds: steps and a range at once, one end of a range, nonsense."""
    ends = (("least_rpm", new.least_rpm), ("most_rpm", new.most_rpm))
    for field, speeds in (("steps_rpm", new.steps_rpm), *((f, (v,)) for f, v in ends if v)):
        wrong = [rpm for rpm in speeds if not LEAST_RPM <= rpm <= MOST_RPM]
        if wrong:
            yield OutOfRange(
                f"{wrong[0]:g} is no speed of a lathe.",
                field=field,
                hint=f"In turns a minute, {LEAST_RPM:g} to {MOST_RPM:,.0f}.",
            )
    if len(new.steps_rpm) > MOST_STEPS:
        yield OutOfRange(f"That is more than {MOST_STEPS} steps.", field="steps_rpm")
    if list(new.steps_rpm) != sorted(set(new.steps_rpm)):
        yield OutOfRange("A step stands twice, or out of turn.", field="steps_rpm")
    if new.steps_rpm and any(value is not None for _, value in ends):
        yield OutOfRange(
            "The lathe has steps, or runs through a range: not both.",
            field="steps_rpm",
            hint="Clear the one that is not so.",
        )
    elif (new.least_rpm is None) != (new.most_rpm is None):
        yield OutOfRange(
            "A range has two ends.",
            field="least_rpm" if new.least_rpm is None else "most_rpm",
            hint="Give the slowest and the fastest.",
        )
    elif new.least_rpm is not None and new.most_rpm is not None and new.least_rpm >= new.most_rpm:
        yield OutOfRange("The fastest must be more than the slowest.", field="most_rpm")


def backup(shop: Shop, *, now: str) -> Backup:
    """The state of the backups: due a week after the last, or after the first thing was made."""
    last = shop.setting(LAST_BACKUP)
    since = last or _first_made(shop)
    due = since is not None and _moment(now) - _moment(since) > BACKUP_EVERY
    return Backup(last, due)


def _first_made(shop: Shop) -> str | None:
    moments: list[str] = []
    for archived in (False, True):
        moments += [kept.made_at for kept in sets.listed(shop, archived=archived)]
        moments += [record.made_at for record in patterns.listed(shop, archived=archived)]
    return min(moments, default=None)


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text)
