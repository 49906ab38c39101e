"""Stations, the sections between them, the curve they make, and the table they are written in."""

from benchside.pattern.places import Place, places
from benchside.pattern.shapes import DatumEnd, Pattern
from benchside.pattern.stations import Form, Kind, Section, Station

__all__ = ["DatumEnd", "Form", "Kind", "Pattern", "Place", "Section", "Station", "places"]
