"""Patterns to draw, and two ways to read a drawing back."""

from __future__ import annotations

import re
from xml.etree import ElementTree

from benchside.pattern import DatumEnd, Pattern, Section, Station

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = "</svg><script>alert(1)</script>\"'&<!--\x00"


def bench_spindle(name: str = "Hall bench back spindle", datum_end: DatumEnd = "tail") -> Pattern:
    stations = (
        Station("a", 0, 16, "Lower tenon", "tenon"),
        Station("b", 35, 22, "Foot"),
        Station("c", 190, 25, "Swell"),
        Station("d", 238, 20, "Bead, low"),
        Station("e", 252, 18, "Bead, top"),
        Station("f", 275, 18, "Cove, top"),
        Station("g", 450, 12.5, "Neck", "slender"),
        Station("h", 485, 12.7, "Shoulder", "tenon"),
        Station("i", 520, 12.7, "Upper tenon", "tenon"),
    )
    sections = (
        Section("shoulder"),
        Section("taper"),
        Section("taper"),
        Section("bead", 28),
        Section("cove", 13),
        Section("taper"),
        Section("straight"),
        Section("straight"),
    )
    return Pattern(name, stations, sections, datum_end)


def baluster() -> Pattern:
    """Twenty-five stations, some of them close together."""
    at = [0, 40, 44, 52, 60, 66, 90, 96, 104, 120, 190, 260, 330]
    at += [400, 470, 540, 600, 612, 620, 634, 640, 648, 660, 680, 720]
    stations = tuple(
        Station(f"s{i}", mm, 30 + (i * 7) % 11, f"Station number {i}") for i, mm in enumerate(at)
    )
    return Pattern("Maple baluster", stations, tuple(Section("taper") for _ in range(24)))


def tree(*drawings: str) -> ElementTree.Element:
    """Drawings as one document, as strictly read as XML is."""
    text = "".join(drawings).replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ')
    return ElementTree.fromstring(f"<page>{text}</page>")


def numbers(path: str) -> list[float]:
    return [float(n) for n in re.findall(r"-?\d*\.?\d+", path)]
