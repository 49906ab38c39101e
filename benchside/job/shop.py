"""The shop itself: its lathe, and whether its data have been copied lately."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isfinite

from benchside.errors import OutOfRange
from benchside.store import patterns, sets
from benchside.store.backup import LAST_BACKUP
from benchside.store.database import Shop

SWING_MM = 305.0  # judgement: twelve inches over the bed
BETWEEN_CENTRES_MM = 915.0  # judgement: thirty-six inches
LEAST_MM, MOST_MM = 50.0, 10_000.0  # judgement: guards against a slip of the unit
BACKUP_EVERY = timedelta(days=7)  # judgement

_SWING, _BETWEEN = "lathe_swing_mm", "lathe_between_centres_mm"


@dataclass(frozen=True, slots=True)
class Lathe:
    """The largest diameter and the longest work the lathe takes. [mm]"""

    swing_mm: float
    between_centres_mm: float


@dataclass(frozen=True, slots=True)
class Backup:
    """When the last backup was made, if ever, and whether the next is due."""

    last_at: str | None
    due: bool


def lathe(shop: Shop) -> Lathe:
    """The maker's lathe, or ours to begin with."""
    return Lathe(
        float(shop.setting(_SWING, str(SWING_MM)) or SWING_MM),
        float(shop.setting(_BETWEEN, str(BETWEEN_CENTRES_MM)) or BETWEEN_CENTRES_MM),
    )


def keep_lathe(shop: Shop, new: Lathe) -> None:
    """Keep the lathe's two sizes. Raises `OutOfRange`."""
    for field, value_mm in (("swing", new.swing_mm), ("between", new.between_centres_mm)):
        if not (isfinite(value_mm) and LEAST_MM <= value_mm <= MOST_MM):
            raise OutOfRange(
                f"It can be {LEAST_MM:g} to {MOST_MM:g} mm, not {value_mm:g}.",
                field=field,
                hint="The lathe's manual gives both.",
            )
    shop.keep_setting(_SWING, repr(new.swing_mm))
    shop.keep_setting(_BETWEEN, repr(new.between_centres_mm))


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
