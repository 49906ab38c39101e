"""How a moment is written, wherever it is kept, sent or shown to a program."""

from __future__ import annotations

from datetime import UTC, datetime


def as_text(moment: datetime) -> str:
    """ISO 8601, UTC, to the millisecond, ending in Z, so that moments sort as text.

    ``moment`` carries its time zone.

    >>> as_text(datetime.fromisoformat("2026-03-17T15:05:00+01:00"))
    '2026-03-17T14:05:00.000Z'
    """
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
