"""Lengths as people write them, and millimetres."""

from __future__ import annotations

from typing import Literal

Unit = Literal["mm", "in", "in/16", "in/64"]
