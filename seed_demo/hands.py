"""The hands of the invented maker: the shop, chances of their own, where the clock stands."""

from __future__ import annotations

import random
from dataclasses import dataclass
from datetime import datetime, timedelta

from benchside.moments import as_text
from benchside.store.database import Shop

SCATTER_MM = {"tenon": 0.035, "slender": 0.12, "decorative": 0.12}  # of what hands turn


@dataclass
class Hands:
    """Whoever does something in the demo, now."""

    shop: Shop
    chance: random.Random
    clock: datetime

    def now(self) -> str:
        return as_text(self.clock)

    def later(self, minutes: float) -> str:
        """The moment so many minutes on, where the clock stands from then."""
        self.clock += timedelta(milliseconds=round(minutes * 60_000))
        return self.now()

    def key(self) -> str:
        """A key as a phone makes one."""
        return f"{self.chance.getrandbits(128):032x}"
