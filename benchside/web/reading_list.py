"""The list of all readings of a sitting, and the last ones of the piece in hand."""

from __future__ import annotations

from dataclasses import dataclass

from benchside import units
from benchside.job import turning
from benchside.job.work import tolerance_mm
from benchside.lathe.steps import Step
from benchside.pattern import Place
from benchside.store.readings import Reading
from benchside.web import labels
from benchside.web.words import words


@dataclass(frozen=True, slots=True)
class Row:
    """One reading that can be taken, in the list of all; the page's script makes a face of it.

    ``for_hole``: its size is that which the tenon's hole wants, another than the drawn one.
    """

    step: Step
    place: Place
    name: str
    aim: str
    tolerance_mm: float
    axes: bool
    for_hole: bool
    answer: dict[str, str] | None


def rows(sitting: turning.Sitting) -> list[Row]:
    """Every reading of a sitting, in the order of its steps."""
    return [_row(sitting, step) for step in sitting.steps if step.reads]


def latest(sitting: turning.Sitting) -> list[tuple[str, str]]:
    """The last readings of the piece in hand: where, and what was typed."""
    return [(_named(r, sitting), r.typed) for r in sitting.latest]


def _named(reading: Reading, sitting: turning.Sitting) -> str:
    known = sitting.work.places.get(reading.station_id)
    place = labels.place_label(known) if known else reading.station_id
    far = words()["page"]["distance"][sitting.work.pattern.datum_end]
    across = words()["script"]["axis"][reading.axis]
    return ", ".join(filter(None, (place, far if reading.kind == "position" else "", across)))


def _row(sitting: turning.Sitting, step: Step) -> Row:
    unit, reads = sitting.unit, step.reads or "diameter"
    place = sitting.work.places[step.place_id or ""]
    name, answer = labels.place_label(place), sitting.answers.get(step.id)
    aim_mm = step.stop_mm or 0.0
    aim = (
        labels.position(aim_mm, unit)
        if reads == "position"
        else labels.length(aim_mm, unit, fine=labels.fine_for(place, reads))
    )
    datum = sitting.work.pattern.datum_end
    state = "" if reads == "position" else labels.state_word(sitting.work.wood)
    for_hole = reads == "diameter" and place.id in sitting.aims
    if for_hole:
        state = words()["page"]["of_hole"]
    return Row(
        step=step,
        place=place,
        name=f"{name}, {words()['page']['distance'][datum]}" if reads == "position" else name,
        aim=f"{aim} {units.unit_sign(unit)} {state}".strip(),
        tolerance_mm=tolerance_mm(sitting.spindle_set, place, reads),
        axes=place.kind == "tenon" and reads == "diameter",
        for_hole=for_hole,
        answer=labels.said(answer) if answer else None,
    )
