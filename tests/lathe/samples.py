"""Patterns for the tests of the lathe, written as short tables."""

from hypothesis import strategies as st

from benchside.pattern import Pattern, Section, Station
from benchside.pattern.profile import greatest_rise_mm


def pattern(*rows, name="trial"):
    """Rows of (id, at, diameter, kind, form to the next, crown or root); the last without form."""
    stations, sections = [], []
    for row in rows:
        station_id, at, diameter, kind, *rest = row
        stations.append(Station(station_id, at, diameter, station_id.title(), kind))
        if rest:
            sections.append(Section(rest[0], rest[1] if len(rest) > 1 else None))
    return Pattern(name, tuple(stations), tuple(sections))


D, S, T = "decorative", "slender", "tenon"

# A chair-back spindle: foot tenon, bulb, slender taper to a tenon at the top. Tail end first.
BACK = pattern(
    ("tip", 0, 9.5, T, "straight"),
    ("tip-end", 25, 9.5, T, "taper"),
    ("waist", 250, 14.0, S, "taper"),
    ("bulb", 320, 20.0, D, "taper"),
    ("neck", 380, 12.7, D, "shoulder"),
    ("foot", 400, 12.7, T, "straight"),
    ("foot-end", 420, 12.7, T),
    name="back spindle",
)

# A baluster with everything: shoulder, beads, cove, long straight, tapers, two tenons.
BALUSTER = pattern(
    ("bottom", 0, 19.0, T, "straight"),
    ("ledge", 20, 19.0, T, "shoulder"),
    ("block", 22, 44.0, D, "straight"),
    ("block-top", 70, 44.0, D, "shoulder"),
    ("fillet", 80, 30.0, D, "bead", 38.0),
    ("ring", 92, 30.0, D, "cove", 24.0),
    ("vase", 112, 32.0, D, "straight"),
    ("vase-top", 240, 32.0, D, "taper"),
    ("throat", 420, 18.0, D, "bead", 28.0),
    ("collar", 432, 20.0, D, "bead", 28.0),
    ("cap", 444, 22.0, D, "taper"),
    ("head", 500, 30.0, D, "shoulder"),
    ("pin", 520, 16.0, T, "straight"),
    ("pin-end", 545, 16.0, T),
    name="baluster",
)

# A stretcher that swells in the middle, both necks alike.
STRETCHER = pattern(
    ("left", 0, 16.0, T, "straight"),
    ("left-end", 30, 16.0, T, "shoulder"),
    ("neck", 32, 19.0, D, "taper"),
    ("swell", 220, 32.0, D, "taper"),
    ("far-neck", 408, 19.0, D, "shoulder"),
    ("right", 410, 16.0, T, "straight"),
    ("right-end", 440, 16.0, T),
    name="stretcher",
)

# A plain cylinder.
DOWEL = pattern(("left", 0, 25.0, D, "straight"), ("right", 300, 25.0, D), name="dowel")


@st.composite
def patterns(draw):
    """Any pattern that can be made, of up to nine stations."""
    n = draw(st.integers(2, 9))
    gaps = draw(st.lists(st.integers(8, 160), min_size=n - 1, max_size=n - 1))
    sizes = draw(st.lists(st.sampled_from([8, 10, 12, 16, 16.02, 20, 30]), min_size=n, max_size=n))
    kinds = draw(st.lists(st.sampled_from([D, S, T]), min_size=n, max_size=n))
    at = [0]
    for gap in gaps:
        at.append(at[-1] + gap)
    rows = []
    for i in range(n):
        row = [f"s{i}", at[i], float(sizes[i]), kinds[i]]
        if i < n - 1:
            row += _form(draw, float(gaps[i]), *sorted((float(sizes[i]), float(sizes[i + 1]))))
        rows.append(row)
    return pattern(*rows)


def _form(draw, length, low, high):
    rise = greatest_rise_mm(length, low, high)
    forms = ["straight" if low == high else "taper", "shoulder"]
    if rise > 1:
        forms.append("bead")
        if low - min(rise / 2, 4) > 3:
            forms.append("cove")
    form = draw(st.sampled_from(forms))
    if form == "bead":
        return [form, high + min(rise / 2, 6)]
    return [form, low - min(rise / 2, 4)] if form == "cove" else [form]
