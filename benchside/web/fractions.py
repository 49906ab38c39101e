"""Fractions set as one: what stands over the line raised, what stands under it lowered.

Few fonts make a fraction of two numbers and a fraction slash; the others draw the slash through
the digits. So a whole page is set at once, just before it leaves.
"""

from __future__ import annotations

import re

SLASH = "⁄"
_WHOLE_PAGE = re.compile(
    r"<(?P<plain>title|option|textarea)\b[^>]*>[^<]*|<script\b[^>]*>.*?</script>"
    r"|(?P<drawing><svg\b.*?</svg>)"
    rf"|(?P<tag><[^<>]*{SLASH}[^<>]*>)"
    rf"|(?P<joined>(?<=\d) )?(?P<top>\d+){SLASH}(?P<bottom>\d+)",
    re.DOTALL,
)
_IN_DRAWING = re.compile(
    rf"(?P<tag><title\b[^>]*>[^<]*|<[^<>]*>)|(?P<top>\d+){SLASH}(?P<bottom>\d+)"
)
# In a drawing what is raised is let down again by the slash, so that nothing after it is moved.
_DRAWN = (
    r'<tspan font-size="70%" dy="-.4em">\g<top></tspan><tspan dy=".28em">⁄</tspan>'
    r'<tspan font-size="70%">\g<bottom></tspan>'
)


def set_in(page: str) -> str:
    """The page with every fraction set, never parted from the inches before it; with a plain slash
    where no markup can stand.

    >>> set_in('<p title="1 5⁄8">1 5⁄8 in</p>')
    '<p title="1 5/8">1\\xa0<sup>5</sup>⁄<sub>8</sub> in</p>'
    """
    return _WHOLE_PAGE.sub(_set, page) if SLASH in page else page


def plain(text: str) -> str:
    """Words that a script shows beside a field: with the slash that is typed there."""
    return text.replace(SLASH, "/")


def _set(found: re.Match[str]) -> str:
    if found["top"]:
        joined = "\N{NO-BREAK SPACE}" if found["joined"] else ""
        return f"{joined}<sup>{found['top']}</sup>{SLASH}<sub>{found['bottom']}</sub>"
    if found["drawing"]:
        return _IN_DRAWING.sub(_drawn, found[0])
    return found[0].replace(SLASH, "/") if found["plain"] or found["tag"] else found[0]


def _drawn(found: re.Match[str]) -> str:
    return found.expand(_DRAWN) if found["top"] else found[0].replace(SLASH, "/")
