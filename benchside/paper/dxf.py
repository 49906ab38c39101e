"""A drawing as DXF, for a laser or a program that draws. Millimetres, arcs as arcs."""

from __future__ import annotations

import io

from benchside.paper import lettering
from benchside.paper.marks import Drawing, Stroke, Words

COLOURS = {
    "cut": 1,
    "outline": 7,
    "centre": 3,
    "station": 5,
    "mark": 8,
    "words": 4,
    "check": 6,
}


def dxf(drawing: Drawing) -> bytes:
    """The drawing, each of its layers one layer. y runs upward, as such programs have it.

    The same drawing gives the same bytes: no moment and no machine's name is in it. Painted
    shapes are left out, words are single lines of text.
    """
    from ezdxf._options import options
    from ezdxf.enums import TextEntityAlignment as At
    from ezdxf.filemanagement import new
    from ezdxf.units import MM

    options.write_fixed_meta_data_for_testing = True
    file = new("R2010", units=MM)
    used = {mark.layer for mark in drawing.marks if isinstance(mark, Stroke | Words)}
    for layer in sorted(used):
        file.layers.add(layer, color=COLOURS[layer])
    space = file.modelspace()
    aligned = {"left": At.LEFT, "middle": At.CENTER, "right": At.RIGHT}
    top = drawing.height_mm
    for mark in drawing.marks:
        if isinstance(mark, Stroke) and not mark.filled:
            corners = [(p.x, top - p.y, -p.bulge) for p in mark.points]
            space.add_lwpolyline(
                corners, format="xyb", close=mark.closed, dxfattribs={"layer": mark.layer}
            )
        elif isinstance(mark, Words) and (text := lettering.tidy(mark.text)):
            height = mark.size_mm * lettering.CAP_EM
            words = space.add_text(
                text,
                height=height,
                rotation=90 if mark.upright else 0,
                dxfattribs={"layer": mark.layer},
            )
            words.set_placement((mark.x, top - mark.y), align=aligned[mark.align])
    out = io.StringIO()
    file.write(out)
    return out.getvalue().encode("utf-8")
