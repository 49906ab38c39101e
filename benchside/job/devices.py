"""Who has been let in: codes to pair a phone with, what it shows afterwards, shutting it out.

Moments are ISO 8601 UTC texts to the millisecond, and are passed in.
"""

from __future__ import annotations

import hashlib
import hmac
import math
import re
import secrets
import threading
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from benchside.errors import BenchsideError, DatabaseTrouble, NotUnderstood, OutOfRange, Refused
from benchside.job.forms import plain
from benchside.moments import as_text
from benchside.store import devices
from benchside.store.database import Shop
from benchside.store.devices import Device

# No two of these are taken for one another on a dusty screen: no 0 O, 1 I L, 2 Z, 5 S, 8 B.
ALPHABET = "ACDEFGHJKMNPQRTUVWXY34679"
CODE_LENGTH = 8
CODE_LASTS = timedelta(minutes=10)
OPEN_AT_MOST = 4
WRONG_AT_MOST = 10
WRONG_WITHIN = timedelta(minutes=10)
NAME_AT_MOST = 60
SEEN_EVERY = timedelta(minutes=1)

# How long a code that is no longer good is remembered, so that its maker is told why.
_REMEMBERED = timedelta(hours=1)
_REMEMBERED_AT_MOST = 32
_ANOTHER = "Make another on a device that is in already: Phones, then Pair another phone."


class CodeRefused(Refused):
    """A pairing code that lets nobody in: wrong, used, too old or replaced."""


class TooManyTries(BenchsideError):
    """So many wrong codes have been tried that none is looked at for a while."""

    status = 429

    def __init__(self, wait_s: int) -> None:
        minutes = math.ceil(wait_s / 60)
        super().__init__(
            "Too many wrong codes have been tried, so none is taken for a while.",
            field="code",
            hint=f"Wait {minutes} {'minute' if minutes == 1 else 'minutes'},"
            " then try with a fresh code.",
        )
        self.wait_s = wait_s


@dataclass(frozen=True, slots=True)
class OpenCode:
    """A code that still lets one device in, and for how many minutes more (begun ones count)."""

    code: str
    minutes: int

    @property
    def spaced(self) -> str:
        """The code in two halves, as it is easily read and typed."""
        return f"{self.code[:4]} {self.code[4:]}"


@dataclass(slots=True)
class _Code:
    code: str
    made_at: datetime
    made_by: int | None
    gone: Literal["", "used", "replaced"] = ""

    def is_open(self, now: datetime) -> bool:
        return not self.gone and now - self.made_at < CODE_LASTS


class PairingCodes:
    """The codes given out since the server started. Kept in memory only; safe between threads."""

    def __init__(self) -> None:
        self._codes: list[_Code] = []
        self._wrong: list[datetime] = []
        self._lock = threading.Lock()

    def make(self, now: str, *, made_by: int | None = None) -> str:
        """A fresh code, good for one device and ten minutes.

        It takes the place of the one that device ``made_by`` made before, and of the oldest when
        more than four would be open. None is the terminal, which may have several.
        """
        moment = _moment(now)
        code = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))
        with self._lock:
            self._forget_old(moment)
            still_open = [known for known in self._codes if known.is_open(moment)]
            for known in still_open:
                if made_by is not None and known.made_by == made_by:
                    known.gone = "replaced"
            still_open = [known for known in still_open if not known.gone]
            for known in still_open[: max(0, len(still_open) + 1 - OPEN_AT_MOST)]:
                known.gone = "replaced"
            self._codes.append(_Code(code, moment, made_by))
        return code

    def open_for(self, made_by: int | None, now: str) -> OpenCode | None:
        """The newest code that ``made_by`` made, while it is good."""
        moment = _moment(now)
        with self._lock:
            for known in reversed(self._codes):
                if known.made_by == made_by and known.is_open(moment):
                    left = known.made_at + CODE_LASTS - moment
                    return OpenCode(known.code, math.ceil(left.total_seconds() / 60))
        return None

    def spend(self, typed: str, now: str) -> None:
        """Use a code up. Spaces, dashes and small letters do not matter.

        Raises `NotUnderstood` for an empty one, `CodeRefused` with the reason, and
        `TooManyTries` after ten wrong ones within ten minutes, whatever is typed then.
        """
        moment = _moment(now)
        code = re.sub(r"[\s\-–—]+", "", typed).upper()
        with self._lock:
            self._refuse_guessing(moment)
            if not code:
                raise NotUnderstood("The code is missing.", field="code", hint=_where_to_look())
            known = self._find(code)
            if known is None:
                self._wrong.append(moment)
                raise CodeRefused(
                    "That is not a code that was given out here.",
                    field="code",
                    hint=_where_to_look(),
                )
            _refuse_gone(known, moment)
            known.gone = "used"

    def give_back(self, typed: str) -> None:
        """Open a code again that was spent for nothing, because the device was not kept."""
        code = re.sub(r"[\s\-–—]+", "", typed).upper()
        with self._lock:
            known = self._find(code)
            if known is not None and known.gone == "used":
                known.gone = ""

    def _find(self, code: str) -> _Code | None:
        # Every code is compared, each in constant time: how long it takes tells nothing.
        found = None
        for known in self._codes:
            if hmac.compare_digest(known.code.encode(), code.encode()):
                found = known
        return found

    def _refuse_guessing(self, now: datetime) -> None:
        self._wrong = [at for at in self._wrong if now - at < WRONG_WITHIN]
        if len(self._wrong) >= WRONG_AT_MOST:
            until = self._wrong[-WRONG_AT_MOST] + WRONG_WITHIN
            raise TooManyTries(math.ceil((until - now).total_seconds()))

    def _forget_old(self, now: datetime) -> None:
        kept = [known for known in self._codes if now - known.made_at < _REMEMBERED]
        self._codes = kept[-_REMEMBERED_AT_MOST:]


def pair(shop: Shop, codes: PairingCodes, code: str, name: str, now: str) -> tuple[Device, str]:
    """Let a device in for good: spends the code, keeps the device, returns it and its secret.

    The secret (64 hex digits) is known to the device alone; the database holds its SHA-256. A name
    that another device has meanwhile gets a number after it.
    Raises what `PairingCodes.spend` and `named` raise, and `DatabaseTrouble`; then nothing is
    kept, and a good code stays good.
    """
    called = named(name)
    codes.spend(code, now)
    secret = secrets.token_hex(32)
    try:
        with shop.transaction() as db:
            device_id = devices.add(db, free_name(shop, called), _digest(secret), at=now)
        return devices.found(shop, device_id), secret
    except Exception:
        codes.give_back(code)
        raise


def known(shop: Shop, secret: str, now: str) -> Device | None:
    """The device that shows this secret, unless it was shut out. Raises `DatabaseTrouble`."""
    if re.fullmatch("[0-9a-f]{64}", secret) is None:
        return None
    device = devices.by_secret(shop, _digest(secret))
    if device is not None:
        _note_seen(shop, device, now)
    return device


def shut_out(shop: Shop, device_id: int, now: str) -> Device:
    """Let a device in no more. Doing it twice changes nothing.

    Raises `NotFound` and `DatabaseTrouble`.
    """
    devices.found(shop, device_id)
    with shop.transaction() as db:
        devices.shut_out(db, device_id, at=now)
    return devices.found(shop, device_id)


def named(name: str) -> str:
    """A device's name, tidied. Raises `NotUnderstood` when empty, `OutOfRange` over 60 letters."""
    tidy = plain(name)
    if not tidy:
        raise NotUnderstood(
            "This device needs a name.",
            field="name",
            hint="Any name that tells it from the others, such as Phone by the lathe.",
        )
    if len(tidy) > NAME_AT_MOST:
        raise OutOfRange(
            f"That name is {len(tidy)} letters long.",
            field="name",
            hint=f"At most {NAME_AT_MOST} fit.",
        )
    return tidy


def free_name(shop: Shop, wanted: str) -> str:
    """``wanted``, or with a number after it when a paired device is called so already."""
    taken = {device.name for device in devices.listed(shop)}
    return next(
        name
        for name in (wanted, *(f"{wanted} {n}" for n in range(2, len(taken) + 3)))
        if name not in taken
    )


def minutes_between(earlier: str, later: str) -> int:
    """Whole minutes from one moment to another; 0 when they come the wrong way round."""
    return max(0, int((_moment(later) - _moment(earlier)).total_seconds() // 60))


def _refuse_gone(known: _Code, now: datetime) -> None:
    if known.gone == "used":
        raise CodeRefused("That code has been used.", field="code", hint=_each_lets_one_in())
    if known.gone == "replaced":
        raise CodeRefused(
            "A newer code has taken the place of that one.", field="code", hint=_where_to_look()
        )
    if not known.is_open(now):
        minutes = int(CODE_LASTS.total_seconds() // 60)
        raise CodeRefused(
            f"That code is more than {minutes} minutes old.", field="code", hint=_ANOTHER
        )


def _each_lets_one_in() -> str:
    return f"Each code lets one device in. {_ANOTHER}"


def _where_to_look() -> str:
    return f"It has {CODE_LENGTH} letters and digits and stands with the square picture."


def _note_seen(shop: Shop, device: Device, now: str) -> None:
    since = as_text(_moment(now) - SEEN_EVERY)
    if device.last_seen_at <= since:
        # A full disk must not keep the maker from reading: only this note is lost.
        with suppress(DatabaseTrouble):
            devices.seen(shop, device.id, at=now, unless_since=since)


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text)
