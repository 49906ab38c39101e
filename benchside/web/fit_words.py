"""What is told of a tenon in its hole: verdicts, doubts, what is left of it, and its pictures."""

from __future__ import annotations

from collections.abc import Iterable

from benchside import units
from benchside.draw.mouth import YearLabels, mouth, year_chart
from benchside.job import fitting as job
from benchside.job.tenon_course import Course
from benchside.joint.fit import GLUE_FILLS_MM, SEEN_MM, SPLIT_SHARE, Doubt
from benchside.lathe.sizes import TRY_OVER_MM
from benchside.store.fitting import Turned
from benchside.units import Unit
from benchside.web.labels import length, moisture, wanted_moisture
from benchside.web.render import signed
from benchside.web.words import words

CHART_WIDE, CHART_HIGH = 360.0, 230.0


def mouth_picture(turned: Turned) -> str:
    """A tenon's end in its hole, turned so."""
    said = words()["fit"]["mouth"]
    return mouth(job.RING_DEG[turned], said[turned], said["grain"])


def year_picture(part: job.PartFit, unit: Unit) -> str:
    """How tight a part's tenons are from month to month; it must have a course."""
    assert part.course is not None
    year, said = part.course.year, words()["fit"]["chart"]
    figures = {
        f"{way}_{month}": signed(getattr(at, f"{way}_mm"), unit, fine=True)
        for month, at in (("dry", year.driest), ("damp", year.dampest))
        for way in ("along", "across")
    }
    labels = {name: text.format(**figures) for name, text in said.items()}
    return year_chart(
        year.along_mm.tolist(),
        year.across_mm.tolist(),
        split_mm=SPLIT_SHARE * part.course.mortise.bore_mm,
        loose_mm=-GLUE_FILLS_MM if part.glued else 0.0,
        width=CHART_WIDE,
        height=CHART_HIGH,
        labels=YearLabels(**labels),
    )


def dot(dot_deg: float, datum_end: str) -> str:
    """Where the dot on a piece's end comes to lie, in words; by five degrees no hand tells."""
    lies = "along" if abs(dot_deg) < 5 else "across" if abs(dot_deg) > 85 else ""
    text: str = words()["fit"]["dot"][lies or ("left" if dot_deg > 0 else "right")]
    return text.format(deg=f"{abs(dot_deg):.0f}", end=datum_end)


def doubts(course: Course | None, unit: Unit) -> list[tuple[str, str]]:
    """What speaks against a fit, in words: the short of it, and how much and what helps."""
    return [] if course is None else [_doubt(doubt, course, unit) for doubt in course.warnings]


def in_short(course: Course | None) -> str:
    """All that speaks against a fit, in a few words; nothing where nothing does."""
    return _in_short(course.warnings if course else ())


def _in_short(doubts: Iterable[Doubt]) -> str:
    said = words()["fit"]["short"]
    each = (said[doubt.what].format(month=doubt.month) for doubt in doubts)
    joined: str = words()["fit"]["and"].join(each)
    return joined


def _doubt(doubt: Doubt, course: Course, unit: Unit) -> tuple[str, str]:
    said = words()["fit"]
    head, more = said["doubt"][doubt.what]
    sign = units.unit_sign(unit)
    told = more.format(
        value=f"{signed(doubt.value, unit, fine=True)} {sign}",
        limit=f"{signed(doubt.limit, unit, fine=True)} {sign}",
        **_moved(doubt, course, unit),
    )
    return head.format(month=doubt.month), f"{told} {said['cure'][doubt.what]}"


def _moved(doubt: Doubt, course: Course, unit: Unit) -> dict[str, str]:
    """How tenon and hole move the way a doubt is about, until its month."""
    found = course.until.get(doubt.month)
    if found is None:
        return {}
    if doubt.what == "loose":
        both_mm = {"tenon": found.tenon_along_mm, "hole": found.hole_along_mm}
    else:
        both_mm = {"tenon": found.tenon_across_mm, "hole": found.hole_across_mm}
    told = {}
    for name, mm in both_mm.items():
        size = length(abs(mm), unit, fine=True)
        way = 2 if size.strip("0.") == "" else int(mm < 0)
        text = words()["fit"]["moved"][name][way]
        told[name] = text.format(mm=f"{size} {units.unit_sign(unit)}")
    return told


def verdict(row: job.Row, part: job.PartFit, unit: Unit) -> str:
    """What a size read means, today and through the year: one thought."""
    assert row.says is not None
    said, key = words()["fit"], judged(row, part)
    if key == "oval":
        return _oval(row, unit)
    if row.course is None or key not in said["sized"]:
        sizes = {"side": row.says.side_mm, "off": abs(row.says.off_mm)}
        text: str = said["verdict"][row.says.word]
        return text.format(**_lengths(sizes, unit))
    doubts = _own(row, part) if key in ("tight", "loose") else row.course.warnings
    found: str = said["sized"][key].format(short=_in_short(doubts))
    return found


def _oval(row: job.Row, unit: Unit) -> str:
    """Which way a tenon that is no round is tight or loose, by how much, and what one does."""
    said = words()["fit"]["oval"]
    each = [
        said[says.word].format(way=said["way"][axis], **_lengths({"off": abs(says.off_mm)}, unit))
        for axis, says in row.ways
    ]
    beyond = " ".join(sorted(says.word for _, says in row.ways if says.word != "within"))
    return str(said["told"].format(first=each[0], second=each[1], cure=said["cure"][beyond]))


def judged(row: job.Row, part: job.PartFit) -> str:
    """The key of what a size read means: oval, over, under, or at its size and how that does."""
    assert row.says is not None
    if row.oval:
        return "oval"
    if row.says.word != "within":
        return row.says.word
    doubts = row.course.warnings if row.course else ()
    own = {doubt.what for doubt in _own(row, part)}
    tight = own & {"split", "split when driven"}
    return "tight" if tight else "loose" if own else "planned" if doubts else "right"


def _own(row: job.Row, part: job.PartFit) -> list[Doubt]:
    """What speaks against a tenon as it was read, and not against its part's plan."""
    planned = {(d.what, d.month) for d in part.course.warnings} if part.course else set()
    doubts = row.course.warnings if row.course else ()
    return [doubt for doubt in doubts if (doubt.what, doubt.month) not in planned]


def done_with(row: job.Row, part: job.PartFit) -> bool:
    """Whether a tenon read asks for nothing more, so that the next can be taken up."""
    return row.says is None or judged(row, part) in words()["fit"]["kept"]


def kept(row: job.Row, part: job.PartFit) -> str:
    """The same in a few words, for the one after it."""
    said, key = words()["fit"]["kept"], judged(row, part)
    return said[key] if key in said else in_short(row.course)


def thought(part: job.PartFit) -> str:
    """What a size does that something speaks against, by the way it was chosen, and what to do."""
    short, said = in_short(part.course), words()["fit"]
    if not short:
        return ""
    text: str = said["thought"]
    return text.format(short=short, risk=said["school"][part.part.school]["risk"])


def waits(row: job.Row, part: job.PartFit, found: job.Fit) -> tuple[str, str] | None:
    """What a tenon has to wait for before its last cut: in a few words, and by which figures."""
    if not row.wait:
        return None
    said, says = words()["fit"], row.evidence
    head, more = said["wait"][row.wait]
    if found.known is None:
        return head, more  # still to be turned: of wood nobody told, nothing else is known
    dry, wanted = f"{moisture(found.known.dry_mc)} %", wants(part)
    if says is None or says.moisture is None:
        return head, more.format(dry=dry, wants=wanted)
    holds, by = f"{moisture(says.moisture)} %", said["wait_by"][says.by]
    return head, more.format(holds=holds, by=by, dry=dry, wants=wanted)


def wants(part: job.PartFit) -> str:
    """How dry the chosen way wants its tenons."""
    return wanted_moisture(part.wants_mc)


def dryness(part: job.PartFit, found: job.Fit) -> tuple[str, bool]:
    """How the set's dryness, the tenon's and the chosen way's relate; whether it is too damp."""
    if found.known is None:
        return "", False
    said, high = words()["fit"]["dryness"], part.school.tenon_mc[1] if part.school else None
    damper = high is not None and part.part.tenon_moisture > high
    keys = ("all", *(("way",) if high is not None else ()), *(("damper",) if damper else ()))
    sized, dry = (f"{moisture(mc)} %" for mc in (part.part.tenon_moisture, found.known.dry_mc))
    return " ".join(
        said[key].format(dry=dry, sized=sized, wants=wants(part)) for key in keys
    ), damper


def no_stop(row: job.Row, unit: Unit) -> tuple[str, str]:
    """That a tenon measured too little dry to stop before its size, and that its narrow way is
    under it; nothing where it can, and is not."""
    if row.sized_mm or row.thin or not row.no_stop or row.dry is None or row.dry.wide_mm is None:
        return "", ""
    assert row.target_mm is not None
    assert row.dry_mm is not None
    told, under = words()["fit"]["no_stop"]
    mm = {"wide": row.dry.wide_mm, "narrow": row.dry.narrow_mm}
    mm |= {"stop": row.target_mm + TRY_OVER_MM, "comes": row.dry_mm}
    sizes = {name: length(size_mm, unit, fine=True) for name, size_mm in mm.items()}
    short = sizes["comes"] != length(row.target_mm, unit, fine=True) and row.dry_mm < row.target_mm
    return told.format(**sizes), under.format(**sizes) if short else ""


def no_wood(row: job.Row, unit: Unit) -> list[tuple[str, ...]]:
    """That nothing is left to bring a tenon to its size, by how much, and what one does."""
    if not row.thin or row.dry_mm is None or row.target_mm is None:
        return []
    sizes = _lengths({"dry": row.dry_mm, "off": row.target_mm - row.dry_mm}, unit)
    return [tuple(text.format(**sizes) for text in words()["fit"]["thin"]["piece"])]


def no_wood_drawn(part: job.PartFit, unit: Unit) -> list[tuple[str, ...]]:
    """The same of a part whose tenons are drawn too thin for its holes."""
    if not part.thin or part.comes_mm is None:
        return []
    sizes = _lengths({"drawn": part.end.diameter_mm, "comes": part.comes_mm}, unit)
    return [tuple(text.format(**sizes) for text in words()["fit"]["thin"]["part"])]


def kinder(course: Course, turned: Turned, unit: Unit) -> tuple[str, bool]:
    """Which turning spares the part, in words, and whether it is the other one."""
    said, best = words()["fit"]["kinder"], course.kindest
    name = next(turn for turn, deg in job.RING_DEG.items() if deg == best.ring_deg)
    alike = best.other_across_mm - best.across_mm <= SEEN_MM
    across_mm = best.other_across_mm if alike and name != turned else best.across_mm
    told = {
        name: f"{signed(mm, unit, fine=True)} {units.unit_sign(unit)}"
        for name, mm in (
            ("across", across_mm),
            ("other_across", best.other_across_mm),
            ("along", best.along_mm),
            ("other_along", best.other_along_mm),
        )
    }
    key = "alike" if alike else "this" if name == turned else "other"
    text: str = said[key].format(turning=words()["fit"]["turning"][name], **told)
    return text, key == "other"


def _lengths(sizes_mm: dict[str, float], unit: Unit) -> dict[str, str]:
    sign = units.unit_sign(unit)
    return {name: f"{length(mm, unit, fine=True)} {sign}" for name, mm in sizes_mm.items()}
