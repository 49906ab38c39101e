"""Figures of the wood room as they are asked for: numbers, and within what can be."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from benchside.errors import OutOfRange

Floats = npt.NDArray[np.float64]


def checked(
    values: npt.ArrayLike,
    field: str,
    what: str,
    low: float,
    high: float,
    *,
    hint: str,
    below: bool = False,
) -> Floats:
    """The values as an array of floats, each from ``low`` to ``high`` (``below``: under it).

    Raises `OutOfRange`, naming the first that is not.
    """
    try:
        found = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise OutOfRange(f"{what} is no number.", field=field, hint=hint) from error
    with np.errstate(invalid="ignore"):
        well = (found >= low) & ((found < high) if below else (found <= high))
    if not np.all(well):
        first = float(np.atleast_1d(found)[~np.atleast_1d(well)][0])
        raise OutOfRange(f"{what} cannot be {first:g}.", field=field, hint=hint)
    return found


def plain(values: Floats) -> float | Floats:
    """A float for a single value, else the array."""
    return float(values) if values.ndim == 0 else values
