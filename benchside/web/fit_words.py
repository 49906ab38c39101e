"""What is told of a tenon in its hole: verdicts, doubts, what is left of it, and its pictures."""

from __future__ import annotations

from benchside import units
from benchside.draw.mouth import YearLabels, mouth, year_chart
from benchside.job import fitting as job
from benchside.joint.fit import GLUE_FILLS_MM, SEEN_MM, SPLIT_SHARE, Doubt
from benchside.store.fitting import Turned
from benchside.units import Unit
from benchside.web.labels import length
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


def doubts(course: job.Course | None, unit: Unit) -> list[tuple[str, str]]:
    """What speaks against a fit, in words: the short of it, and how much and what helps."""
    return [] if course is None else [_doubt(doubt, course, unit) for doubt in course.warnings]


def in_short(course: job.Course | None) -> str:
    """All that speaks against a fit, in a few words; nothing where nothing does."""
    said, doubts = words()["fit"]["short"], course.warnings if course else ()
    return " and ".join(said[doubt.what].format(month=doubt.month) for doubt in doubts)


def _doubt(doubt: Doubt, course: job.Course, unit: Unit) -> tuple[str, str]:
    said = words()["fit"]
    head, more = said["doubt"][doubt.what]
    sign = units.unit_sign(unit)
    told = more.format(
        value=f"{signed(doubt.value, unit, fine=True)} {sign}",
        limit=f"{signed(doubt.limit, unit, fine=True)} {sign}",
        **_moved(doubt, course, unit),
    )
    return head.format(month=doubt.month), f"{told} {said['cure'][doubt.what]}"


def _moved(doubt: Doubt, course: job.Course, unit: Unit) -> dict[str, str]:
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
    said, doubts = words()["fit"], row.course.warnings if row.course else ()
    if row.says.word != "within" or row.course is None:
        sizes = {"side": row.says.side_mm, "off": abs(row.says.off_mm)}
        text: str = said["verdict"][row.says.word]
        return text.format(**_lengths(sizes, unit))
    planned = {(d.what, d.month) for d in part.course.warnings} if part.course else set()
    own = any((d.what, d.month) not in planned for d in doubts)
    key = "right" if not doubts else "own" if own else "planned"
    found: str = said["sized"][key].format(short=in_short(row.course))
    return found


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


def kinder(course: job.Course, turned: Turned, unit: Unit) -> tuple[str, bool]:
    """Which turning spares the part, in words, and whether it is the other one."""
    said, best = words()["fit"]["kinder"], course.kindest
    name = next(turn for turn, deg in job.RING_DEG.items() if deg == best.ring_deg)
    told = {
        name: f"{signed(mm, unit, fine=True)} {units.unit_sign(unit)}"
        for name, mm in (
            ("across", best.across_mm),
            ("other_across", best.other_across_mm),
            ("along", best.along_mm),
            ("other_along", best.other_along_mm),
        )
    }
    alike = best.other_across_mm - best.across_mm <= SEEN_MM
    key = "alike" if alike else "this" if name == turned else "other"
    text: str = said[key].format(turning=words()["fit"]["turning"][name], **told)
    return text, key == "other"


def _lengths(sizes_mm: dict[str, float], unit: Unit) -> dict[str, str]:
    sign = units.unit_sign(unit)
    return {name: f"{length(mm, unit, fine=True)} {sign}" for name, mm in sizes_mm.items()}
