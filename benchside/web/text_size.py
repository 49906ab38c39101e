"""Text sized for a screen that was measured with calipers: rem come out in true millimetres.

The size rides with the stylesheets, so that it holds without script as well.
"""

from __future__ import annotations

import re

from fastapi import Request

COOKIE = "benchside_scale"
LEAST_MM_PER_PX, MOST_MM_PER_PX = 0.08, 0.6  # judgement: no screen is finer or coarser
NOMINAL_MM_PER_PX = 0.159  # what sizes are reckoned with where nothing was measured
LARGEST_PHONE_MM_PER_PX = 0.19  # above it, no phone: text is large enough as it is
MOST_PERCENT = 150.0

_NAME = re.compile("text-([0-9]{2,3}\\.[0-9]{2})")


def measured(request: Request) -> float | None:
    """What this device's screen was measured to be, in mm to a CSS pixel."""
    try:
        per_px = float(request.cookies.get(COOKIE, ""))
    except ValueError:
        return None
    return per_px if LEAST_MM_PER_PX <= per_px <= MOST_MM_PER_PX else None


def percent(mm_per_px: float) -> float:
    """How large text has to be, as a share of the browser's own size, so that the phone's text
    setting still counts.

    >>> percent(0.14) > 100, percent(0.5)
    (True, 100.0)
    """
    if mm_per_px > LARGEST_PHONE_MM_PER_PX:
        return 100.0
    return min(100 * NOMINAL_MM_PER_PX / mm_per_px, MOST_PERCENT)


def sheet(request: Request) -> list[str]:
    """The name of the stylesheet that sizes this device's text; none where nothing was measured."""
    per_px = measured(request)
    return [] if per_px is None else [f"text-{percent(per_px):.2f}"]


def rule(name: str) -> str | None:
    """What a stylesheet of such a name says; None for any other name."""
    found = _NAME.fullmatch(name)
    return f":root{{font-size:{found[1]}%}}" if found else None
