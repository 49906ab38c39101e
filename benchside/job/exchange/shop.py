"""Parts of an export that belong to the shop: its lathe, the maker's limits, the calipers owned."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from benchside.errors import OutOfRange
from benchside.job import calipers, edges
from benchside.job.exchange.document import Part
from benchside.job.exchange.parts import MOST_MM, names
from benchside.job.paper import PAPER_SETTINGS, printer_of
from benchside.job.shop import LATHE_SETTINGS, LEAST_RPM, MOST_RPM, Lathe, speed_faults
from benchside.lathe.calipers import CALIPER_KINDS
from benchside.lathe.edges import TOOLS
from benchside.lathe.outfit import GRIPS, STEADIES
from benchside.store.tools import OwnedCaliper


def settings_in(part: Part) -> dict[str, Any]:
    """The settings of a shop, those that are there."""
    found = part.named(maybe=SETTINGS)
    read = {name: SETTINGS[name](value) for name, value in found.items()}
    described = Lathe(
        steps_rpm=tuple(read.get("lathe_steps_rpm", ())),
        least_rpm=read.get("lathe_least_rpm"),
        most_rpm=read.get("lathe_most_rpm"),
    )
    for fault in speed_faults(described):
        raise found.get(LATHE_SETTINGS[fault.field], part).wrong(fault.message, fault.hint)
    try:
        printer_of(read)
    except OutOfRange as fault:
        raise part.wrong(fault.message, fault.hint) from fault
    return read


def caliper_out(caliper: OwnedCaliper) -> dict[str, Any]:
    """A caliper on the maker's list."""
    return asdict(caliper)


def calipers_in(part: Part) -> tuple[OwnedCaliper, ...]:
    """The maker's list of calipers."""
    found: dict[str, OwnedCaliper] = {}
    for row in part.each():
        p = row.named(*names(OwnedCaliper))
        caliper = OwnedCaliper(
            letter=p["letter"].text(),
            kind=p["kind"].one_of(CALIPER_KINDS),
            least_mm=p["least_mm"].number(0, MOST_MM),
            most_mm=p["most_mm"].number(0, MOST_MM),
            name=p["name"].text(empty=True),
        )
        for fault in calipers.faults(caliper):
            raise p[fault.field].wrong(fault.message, fault.hint)
        if caliper.letter in found:
            raise p["letter"].wrong("another caliper before it has this letter.")
        found[caliper.letter] = caliper
    return tuple(found[letter] for letter in sorted(found))


def _rpm(part: Part) -> float:
    return part.number(LEAST_RPM, MOST_RPM)


def _some(part: Part) -> float:
    return part.number(1e-9, MOST_MM)


def _limits(part: Part) -> dict[str, float]:
    return {tool: value.number(1, edges.MOST_M) for tool, value in part.named(maybe=TOOLS).items()}


SETTINGS: dict[str, Callable[[Part], Any]] = {
    "lathe_swing_mm": lambda part: part.number(1.0, MOST_MM),
    "lathe_between_centres_mm": lambda part: part.number(1.0, MOST_MM),
    "lathe_steps_rpm": lambda part: [_rpm(step) for step in part.each()],
    "lathe_least_rpm": _rpm,
    "lathe_most_rpm": _rpm,
    "lathe_steady": lambda part: part.one_of(STEADIES),
    "lathe_steady_n_per_mm": _some,
    "lathe_grip": lambda part: part.one_of(GRIPS),
    "cut_force_n": _some,
    "give_limit_mm": _some,
    "recheck_after_pieces": lambda part: part.whole(1, calipers.MOST_PIECES),
    "touch_up_after_m": _limits,
    "edge_cutting_share": lambda part: part.number(0.01, 1.0),
    **dict.fromkeys(PAPER_SETTINGS, lambda part: part.number(0.0, MOST_MM)),
}
