"""An address as a square picture that a phone's camera reads."""

from __future__ import annotations

import io

import segno
from markupsafe import Markup

_QUIET = 4  # modules of white around it, as ISO/IEC 18004 asks for


def svg_qr(url: str) -> Markup:
    """An inline SVG: always dark on white, also on a dim page, and without any style of its own."""
    return Markup(
        segno.make(url, error="m", micro=False).svg_inline(
            scale=7, border=_QUIET, dark="#000", light="#fff", svgclass="qr", lineclass=None
        )
    )


def terminal_qr(url: str, *, coloured: bool = True) -> str:
    """Half blocks for a terminal, one line of text for two rows.

    ``coloured`` sets white on black around every line, so that the picture is the right way round
    in a light terminal as well; without it, it is so in a dark one only.
    """
    out = io.StringIO()
    segno.make(url, error="l", micro=False).terminal(out=out, border=_QUIET, compact=True)
    lines = out.getvalue().splitlines()
    if coloured:
        lines = [f"\x1b[97;40m{line}\x1b[0m" for line in lines]
    return "\n".join(lines)
