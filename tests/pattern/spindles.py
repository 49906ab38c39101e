"""Spindles for the tests of this folder: one drawn by hand, and any that can be thought of."""

from hypothesis import strategies as st

from benchside.pattern import Pattern, Section, Station
from benchside.pattern.profile import greatest_rise_mm
from benchside.pattern.stations import FORMS, KINDS


def spindle() -> Pattern:
    """One of everything: tenon and shoulder, bead, cove, straight, taper, tapered tenon."""
    return Pattern(
        name="hall bench back",
        stations=(
            Station("s1", 0, 15.9, "tail tenon", "tenon", 0.1),
            Station("s2", 25, 22, "shoulder", position_tolerance_mm=0.5),
            Station("s3", 60, 22, "bead", "decorative", 0.8),
            Station("s4", 80, 20.5, "fillet"),
            Station("s5", 200, 20.5, "belly"),
            Station("s6", 400, 12.7, "neck", "slender"),
            Station("s7", 440, 9.5, "tip", "tenon"),
        ),
        sections=(
            Section("shoulder"),
            Section("bead", 30),
            Section("cove", 14),
            Section("straight"),
            Section("taper"),
            Section("taper"),
        ),
    )


# Hundredths of a millimetre, as makers measure, and floats with all their digits.
figures = st.one_of(
    st.integers(300, 20_000).map(lambda hundredths: hundredths / 100),
    st.floats(3, 200),
)
tolerances = st.one_of(st.none(), st.floats(0.001, 5))
NO_SURROGATES = st.characters(exclude_categories=["Cs"], exclude_characters="\0")
names = st.one_of(
    st.text(NO_SURROGATES, max_size=200),
    st.text(alphabet="=+-@'\"#,;\t\r\n aא‏", max_size=12),
)
ids = st.text(alphabet="abzABZ019._-", min_size=1, max_size=40)


@st.composite
def sections(draw, length_mm, start_mm, end_mm):
    """A section that the rules allow between two ends."""
    form = draw(st.sampled_from(FORMS))
    if form not in ("bead", "cove"):
        return Section(form)
    low, high = sorted((start_mm, end_mm))
    rise_mm = greatest_rise_mm(length_mm, low, high) * draw(st.floats(0.01, 1))
    through_mm = high + rise_mm if form == "bead" else low - rise_mm
    fits = rise_mm > 1e-3 and 3 <= through_mm <= 1000
    return Section(form, through_mm) if fits else Section("taper")


@st.composite
def patterns(draw, *, form_sections=sections):
    count = draw(st.integers(2, 8))
    gaps = draw(st.lists(figures, min_size=count - 1, max_size=count - 1))
    at = [0.0]
    for gap in gaps:
        at.append(round(at[-1] + gap, draw(st.sampled_from([2, 15]))))
    sizes = draw(st.lists(figures, min_size=count, max_size=count))
    return Pattern(
        name=draw(names),
        stations=tuple(
            Station(
                station_id,
                at_mm,
                size,
                draw(names),
                draw(st.sampled_from(KINDS)),
                draw(tolerances),
                draw(tolerances),
            )
            for station_id, at_mm, size in zip(
                draw(st.lists(ids, min_size=count, max_size=count, unique=True)),
                at,
                sizes,
                strict=True,
            )
        ),
        sections=tuple(
            draw(form_sections(at[i + 1] - at[i], sizes[i], sizes[i + 1])) for i in range(count - 1)
        ),
        datum_end=draw(st.sampled_from(["tail", "drive"])),
    )
