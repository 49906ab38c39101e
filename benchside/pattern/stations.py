"""A station and a section, and what each of them can be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

Kind = Literal["tenon", "slender", "decorative"]
Form = Literal["straight", "taper", "cove", "bead", "shoulder"]
KINDS: tuple[Kind, ...] = get_args(Kind)
FORMS: tuple[Form, ...] = get_args(Form)


@dataclass(frozen=True, slots=True)
class Station:
    """One marked place with one finished diameter.

    ``id`` is given once and survives renaming, moving and revising. ``at_mm`` runs from the
    datum end. ``tolerance_mm`` and ``position_tolerance_mm`` are half-widths; None takes the
    set's own for this kind.
    """

    id: str
    at_mm: float
    diameter_mm: float
    name: str
    kind: Kind = "decorative"
    tolerance_mm: float | None = None
    position_tolerance_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Section:
    """The form from one station to the next; ``through_mm`` is a bead's crown or a cove's root.

    ``name`` is what a bead or cove is called where it is not called by the station it begins at.
    """

    form: Form = "taper"
    through_mm: float | None = None
    name: str = ""
