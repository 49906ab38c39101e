"""What a piece of a set can have been read."""

from __future__ import annotations

from benchside import units
from benchside.errors import OutOfRange
from benchside.job.shop import swing_mm
from benchside.job.work import Work
from benchside.lathe import sizes
from benchside.lathe.parts import stock_mm
from benchside.store.database import Shop


def most_mm(shop: Shop, doing: Work) -> float:
    """The thickest that a piece can have been read. [mm]"""
    return sizes.most_mm(stock_mm(doing.pattern), swing_mm(shop))


def check_possible(
    shop: Shop, doing: Work, kind: sizes.Reads, value_mm: float, unit: units.Unit
) -> None:
    """Raises `OutOfRange` for what no piece of this set can have been read."""
    if kind == "position":
        most, why_mm = sizes.MOST_LENGTHS * doing.pattern.length_mm, doing.pattern.length_mm
        why = "the piece is {} long"
    else:
        round_mm = stock_mm(doing.pattern)
        if value_mm <= round_mm:
            return
        swing = swing_mm(shop)
        most = sizes.most_mm(round_mm, swing)
        why_mm, why = (
            (most, "your lathe swings {}")
            if most == swing
            else (round_mm, "the piece was roughed to {}")
        )
    if value_mm <= most + sizes.NOTHING_MM:
        return
    read, than = (
        f"{units.format_length(mm, unit)} {units.unit_sign(unit)}" for mm in (value_mm, why_mm)
    )
    raise OutOfRange(
        f"{read} cannot be: {why.format(than)}.",
        field="value",
        hint="Not taken: measure again.",
    )
