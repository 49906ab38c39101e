"""Words for places, verdicts and steps: keys of the core filled in with the maker's own figures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import groupby
from math import floor, log10

from benchside import units
from benchside.job.origin import Origin
from benchside.job.tenon_aims import Goal, TenonAim
from benchside.job.turning import Answer
from benchside.job.watching import Aim, Watch
from benchside.job.wood_of import Said
from benchside.lathe.sizes import Verdict
from benchside.lathe.steps import Step
from benchside.paper.lettering import apart
from benchside.pattern import Place
from benchside.store.fitting import TestHole
from benchside.units import Unit
from benchside.web.words import words
from benchside.wood.shrinkage import SizeNow

LOTS = {
    "mark_odd": "odd",
    "keep_spare": "spare",
    "by_eye": "spare",
    "mend_tenon": "mend",
    "oval_stop": "mend",
    "oval_low": "mend",
}
QUARTER_INCH_MM = 6.35
SHAPES = {"over": "▲", "within": "●", "under": "▼"}


def length(mm: float, unit: Unit, *, fine: bool = False) -> str:
    """A length as the maker reads it, fractions set as fractions."""
    return units.as_fraction_text(units.format_length(mm, unit, fine=fine))


def bit_size(hole: TestHole) -> str:
    """The size on a bit with its unit: as it was typed, or else as fine as holes are told."""
    typed, sign = hole.named_typed, units.unit_sign(hole.unit)
    if not typed:
        size = units.format_length(hole.named_mm, hole.unit, fine=hole.unit in ("mm", "in"))
        if hole.unit == "mm":
            size = size.removesuffix("0")
        return f"{units.as_fraction_text(size)} {sign}"
    has_unit = typed[-1].isalpha() or typed[-1] in '"″”'
    return units.as_fraction_text(typed) if has_unit else f"{units.as_fraction_text(typed)} {sign}"


def moisture(percent: float) -> str:
    """A moisture to a tenth of a percent; a whole one stands without a nought behind the point."""
    return f"{percent:.1f}".removesuffix(".0")


def position(mm: float, unit: Unit) -> str:
    """A distance from the datum end; a whole figure stands without noughts behind the point."""
    return length(mm, unit).removesuffix(".000").removesuffix(".0")


def saw_unit(unit: Unit) -> Unit:
    """The unit in which wood is sawn: a saw cut and what it leaves lie between the sixteenths."""
    return "in/64" if unit == "in/16" else unit


def error(mm: float, unit: Unit) -> str:
    """An error, far smaller than the step of sizes: two figures that count, and the unit."""
    sign = units.unit_sign(unit)
    value = mm if sign == "mm" else mm / float(units.MM_PER_INCH)
    places = 1 - floor(log10(value)) if value > 0 else 2
    return f"{value:.{max(0, places)}f} {sign}"


def place_label(place: Place) -> str:
    """What a place is called on a screen."""
    share, unnamed = f"{place.share:.0%}", words()["unnamed"]
    found: str = words()["place"][place.role]
    name, to_name = apart(place.name or unnamed["place"]), apart(place.to_name or unnamed["next"])
    return found.format(name=name, to_name=to_name, share=share)


def read_label(place: Place, kind: str) -> str:
    """What is read at a place: its name alone for its size."""
    name = place_label(place)
    return words()["position_of"].format(place=name) if kind == "position" else name


def from_where(origin: Origin, unit: Unit) -> str:
    """What a piece's blank is called, and where in its board or log it was."""
    said: str = words()["blank"]["board" if origin.blank.board_id else "log"]
    sign = units.unit_sign(unit)
    step_mm = 1.0 if sign == "mm" else QUARTER_INCH_MM  # finer than that nobody looks for it
    at_mm = step_mm * round(origin.blank.at_mm / step_mm)
    at = f"{position(at_mm, unit)} {sign}"
    return said.format(blank=origin.called, at=at)


def state_word(said: Said | None) -> str:
    """The state that sizes are of, where the wood was said."""
    found: str = words()["wood"]["short_state"][said.state] if said else ""
    return found


def pieces(numbers: Iterable[int | None]) -> str:
    """Which pieces are meant, those that follow one another as from and to; None: the set."""
    said, found = words()["pieces"], list(numbers)
    counted = sorted(n for n in found if n is not None)
    if None in found or not counted:
        return str(said["set"])
    runs = [
        [n for _, n in run] for _, run in groupby(enumerate(counted), key=lambda at: at[1] - at[0])
    ]
    told = [
        text
        for run in runs
        for text in ([said["run"].format(*run[:: len(run) - 1])] if len(run) > 2 else map(str, run))
    ]
    *most, last = told
    listed = f"{', '.join(most)} {said['and']} {last}" if most else last
    return f"{said['one' if len(counted) == 1 else 'many']} {listed}"


def room(place: Place, why: SizeNow, unit: Unit) -> str:
    """Why a crown or root is not turned to what was reckoned; nothing where it is."""
    if not why.short_mm:
        return ""
    said, sign = words()["wood"]["room"], units.unit_sign(unit)
    capped = (place.role == "crown") == (why.short_mm > 0)
    text: str = said[place.role if capped else "ends"]
    sizes = {
        "turn": why.turn_mm,
        "reckoned": why.reckoned_mm,
        "off": abs(why.short_dry_mm),
        "left": why.left_mm,
    }
    after = said[f"left_{place.role}" if why.allowance_mm else f"off_{place.role}"]
    told = {name: f"{length(mm, unit, fine=True)} {sign}" for name, mm in sizes.items()}
    return f"{text} {after if capped else ''}".strip().format(**told)


def step_label(step: Step, places: Mapping[str, Place], unit: Unit) -> str:
    """What a step is called in a list of them: what is done, and where."""
    if step.tool == "steady":
        key = "steady_off" if step.id.startswith("off:") else "steady_on"
        said: str = words()["steady_step"][key]
        return said.format(at=f"{position(step.at_mm or 0.0, unit)} {units.unit_sign(unit)}")
    stage: str = words()["stage_short"][step.stage]
    return f"{stage} {place_label(places[step.place_id])}" if step.place_id else stage


def fine_for(place: Place, kind: str) -> bool:
    """Whether a place wants the finer step: a tenon's tolerance is less than a sixteenth."""
    return place.kind == "tenon" and kind == "diameter"


def verdict_word(verdict: Verdict, unit: Unit, *, reads: str, fine: bool = False) -> str:
    """The verdict in a few words, said of the radius while something is still to come off; of two
    ways across that do not agree, how oval it is."""
    says = words()["verdict"]
    key: str = verdict.word
    if verdict.near and length(abs(verdict.off_mm), unit, fine=fine) != length(0, unit, fine=fine):
        key = "near_over" if verdict.off_mm > 0 else "near_under"
    key = key if reads == "diameter" else f"position_{key}"
    return _filled(says.get(verdict.action, says[key]), verdict, unit, fine)


def action(verdict: Verdict, unit: Unit, *, fine: bool = False) -> str:
    """What one does about it."""
    return _filled(words()["action"][verdict.action], verdict, unit, fine)


def said(answer: Answer) -> dict[str, str]:
    """An answer as the phone shows it; with what stands the other way across, where it does."""
    reading, fine = answer.reading, fine_for(answer.place, answer.reading.kind)
    other = ""
    if answer.other is not None:
        size = length(answer.other.value_mm, answer.other.unit, fine=fine)
        other = f"{size} {SHAPES[answer.other_word]}"
    return {
        "key": reading.key,
        "text": length(reading.value_mm, reading.unit, fine=fine),
        "word": answer.verdict.word,
        "shape": SHAPES[answer.verdict.word],
        "say": verdict_word(answer.verdict, reading.unit, reads=reading.kind, fine=fine),
        "action": action(answer.verdict, reading.unit, fine=fine),
        "axis": reading.axis,
        "lot": LOTS.get(answer.verdict.action, ""),
        "other": other,
    }


def drift(watch: Watch, unit: Unit) -> dict[str, str]:
    """A drift in words: what it ``says``, what to ``check``, what to ``aim`` for ("": as drawn),
    and what comes ``first`` at the cut itself."""
    said = words()["watch"]
    key = watch.how if watch.kind == "diameter" else f"position_{watch.how}"
    fine, sign = unit != "mm" or fine_for(watch.place, watch.kind), units.unit_sign(unit)
    check = "caliper" if watch.letter else "stick" if watch.kind == "position" else "eye"
    aim = length(watch.aim_mm, unit, fine=fine)
    as_drawn = aim == length(watch.target_mm, unit, fine=fine)
    return {
        "says": said[key].format(
            place=place_label(watch.place),
            way=said["ways"][key][watch.moved_mm < 0],
            slope=f"{length(abs(watch.slope_mm), unit, fine=True)} {sign}",
            moved=f"{length(abs(watch.moved_mm), unit, fine=fine)} {sign}",
            since=watch.since,
            upto=watch.upto,
        ),
        "check": said[check].format(letter=watch.letter),
        "first": said["first"][check].format(
            moved=said["moved"][key][watch.moved_mm < 0], letter=watch.letter
        ),
        "aim": "" if as_drawn else said["aim"].format(aim=f"{aim} {sign}"),
    }


@dataclass(frozen=True, slots=True)
class Aimed:
    """What to aim for at a place, ``aim``, where ``drawn`` is what the pattern wants."""

    of: Aim
    name: str
    aim: str
    drawn: str
    words: str


def aims(found: Iterable[Aim], unit: Unit) -> list[Aimed]:
    """Where to aim off the pattern, as far as that can be seen in the maker's unit."""
    said = words()["page"]["aim_instead"]
    told = []
    for one in found:
        fine = unit != "mm" or fine_for(one.place, one.kind)
        aim, drawn = (
            length(mm, unit, fine=fine) for mm in (one.target_mm + one.off_mm, one.target_mm)
        )
        if aim == drawn:
            continue
        name, more = place_label(one.place), "more" if one.off_mm > 0 else "less"
        if one.kind == "position":
            name, more = f"{name}, {words()['page']['position']}", f"position_{more}"
        told.append(Aimed(one, name, aim, drawn, said[more]))
    return told


def for_hole(aim: TenonAim, drawn_mm: float, limit_mm: float, unit: Unit) -> str:
    """Which hole a tenon's size at the lathe is for, beside what the pattern draws."""
    said, goal = words()["page"]["for_hole"], aim.goal
    to, drawn, limit = (length(mm, unit, fine=True) for mm in (aim.to_mm, drawn_mm, limit_mm))
    keys: list[str] = [goal.by]
    if to != drawn:
        keys.append("decides" if abs(aim.to_mm - drawn_mm) > limit_mm else "drawn")
    if not goal.settled:
        keys.append("unsettled")
    told = {"hole": goal.hole, "part": goal.part, "drawn": drawn, "limit": limit}
    return " ".join(said[key].format(**told) for key in keys)


def drier_first(goal: Goal) -> str:
    """That a tenon is damper than its way of fitting counts on; "" where it is not."""
    if goal.damp is None:
        return ""
    head, more = words()["fit"]["wait"]["damper"]
    holds, by = goal.damp
    by_words = words()["fit"]["wait_by"][by]
    wants = wanted_moisture(goal.wants)
    return f"{head}. {more.format(holds=f'{moisture(holds)} %', by=by_words, wants=wants)}"


def wanted_moisture(low_high: tuple[float, float]) -> str:
    """How dry a way of fitting wants its tenons."""
    low, high = low_high
    told: str = words()["fit"]["wants"]
    return told.format(low=f"{low:g}", high=f"{high:g}") if low < high else f"{moisture(low)} %"


def _filled(text: str, verdict: Verdict, unit: Unit, fine: bool) -> str:
    sign = units.unit_sign(unit)
    sizes = {
        "side": verdict.side_mm,
        "off": abs(verdict.off_mm),
        "left": verdict.left_mm,
        "oval": verdict.oval_mm,
        "first": verdict.first_mm,
    }
    return text.format(
        **{
            name: f"{length(round(mm, 9), unit, fine=fine)} {sign}"
            for name, mm in sizes.items()
            if f"{{{name}}}" in text
        }
    )
