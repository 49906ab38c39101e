"""What a station can be, and what a section can be."""

from __future__ import annotations

from typing import Literal, get_args

Kind = Literal["tenon", "slender", "decorative"]
Form = Literal["straight", "taper", "cove", "bead", "shoulder"]
KINDS: tuple[Kind, ...] = get_args(Kind)
FORMS: tuple[Form, ...] = get_args(Form)
