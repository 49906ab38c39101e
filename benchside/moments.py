"""How a moment is written, wherever it is kept, sent or shown to a program."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta


def as_text(moment: datetime) -> str:
    """ISO 8601, UTC, to the millisecond, ending in Z, so that moments sort as text.

    ``moment`` carries its time zone.

    >>> as_text(datetime.fromisoformat("2026-03-17T15:05:00+01:00"))
    '2026-03-17T14:05:00.000Z'
    """
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def put_right(taken_at: str, sent_at: str, received_at: str) -> str:
    """A phone's moment on the laptop's clock: its clock is off by what it said on sending.

    Never later than ``received_at``, and that where one of them cannot be read.
    """
    received, taken, sent = (_moment(text) for text in (received_at, taken_at, sent_at))
    if received is None or taken is None:
        return received_at
    try:
        offset = received - sent if sent is not None else timedelta()
        return as_text(min(taken + offset, received))
    except OverflowError:  # a clock before all calendars
        return received_at


def _moment(text: str) -> datetime | None:
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return None
    return found if found.tzinfo else found.replace(tzinfo=UTC)
