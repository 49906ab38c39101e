"""Templates to pages. A name a template uses and was not given is an error, not a blank."""

from __future__ import annotations

import hashlib
import re
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

from fastapi import Request, Response
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from benchside import units
from benchside.errors import BenchsideError
from benchside.job import drafts
from benchside.moments import as_text
from benchside.resources import static_dir
from benchside.web import fractions, labels, text_size
from benchside.web.asked import shop_of
from benchside.web.words import words, words_module

TEMPLATES = Path(__file__).parent / "templates"
LOOK_COOKIE = "benchside_look"

_BEFORE_BLOCK = re.compile(
    r"\s+(?=</?(?:section|header|div|form|fieldset|details|h[12]|p|ul|ol|li|template|script)\b)"
)


def _unindented(page: str) -> Markup:
    """A page's own markup without the white space its lines begin with, and without any where
    a block begins or closes: it shows nothing and weighs on the way."""
    return Markup(re.sub(r"\n\s+", "\n", _BEFORE_BLOCK.sub("", page)))


@cache
def static_hash() -> str:
    """One hash over every static file and the words that travel with them; it is a segment of
    their address, so caching is safe."""
    digest = hashlib.sha256(words_module().encode())
    for path in sorted(static_dir().rglob("*")):
        if path.is_file():
            digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:12]


def static(*names: str) -> str:
    """The address of a static file, or of several stylesheets sent as one."""
    return f"/static/{static_hash()}/{'+'.join(names)}"


def when(at: str) -> str:
    """A moment as a day and a time on the laptop's own clock."""
    return f"{day(at)}, {datetime.fromisoformat(at).astimezone():%H:%M}"


def day(at: str) -> str:
    """A moment as a day."""
    local = datetime.fromisoformat(at).astimezone()
    return f"{local.day} {local:%b %Y}"


def signed(mm: float, unit: units.Unit, *, fine: bool = False) -> str:
    """A difference with its sign, in the maker's unit; a true minus."""
    text = units.format_length(abs(mm), unit, fine=fine)
    if text.strip("0.") == "":
        return text
    return ("+" if mm > 0 else "−") + units.as_fraction_text(text)


@cache
def environment() -> Environment:
    env = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=select_autoescape(["html"]),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.policies["json.dumps_kwargs"] = {"sort_keys": True, "separators": (",", ":")}
    env.globals.update(static=static, words=words(), unit_sign=units.unit_sign)
    env.filters.update(when=when, day=day, signed=signed)
    env.filters["length"] = lambda mm, unit, fine=False: labels.length(mm, unit, fine=fine)
    env.filters["error"] = labels.error
    env.filters["position"] = labels.position
    env.filters["unindented"] = _unindented
    env.filters["from_where"] = labels.from_where
    env.filters["bit_size"] = labels.bit_size
    env.filters["place_label"] = labels.place_label
    env.filters["read_label"] = labels.read_label
    env.filters["moisture"] = labels.moisture
    env.filters["temperature"] = units.format_temperature
    env.filters["pieces"] = labels.pieces
    env.filters["room"] = labels.room
    env.filters["step_label"] = labels.step_label
    env.filters["upper_first"] = lambda text: text[:1].upper() + text[1:]
    env.filters["lower_first"] = lambda text: text[:1].lower() + text[1:]
    env.filters["cell"] = drafts.figure
    env.filters["typed_length"] = drafts.shown
    env.filters["plain_length"] = units.format_length
    env.filters["other_length"] = units.in_other_unit
    return env


def render(
    request: Request, template: str, *, status: int = 200, here: str = "", **context: Any
) -> Response:
    """A page. ``here`` names the part of the top line that is open."""
    shop = shop_of(request)
    theme = request.cookies.get(LOOK_COOKIE, "")
    html = (
        environment()
        .get_template(template)
        .render(
            **context,
            here=here,
            text_size=text_size.sheet(request),
            theme=theme if theme in ("day", "dim") else "",
            database_id=shop.database_id,
            path=request.url.path + (f"?{request.url.query}" if request.url.query else ""),
            device=getattr(request.state, "device", None),
        )
    )
    return HTMLResponse(fractions.set_in(html), status_code=status)


def see(path: str) -> Response:
    """Go and look there: the answer to a form that was kept."""
    return RedirectResponse(path, status_code=303)


def wants_json(request: Request) -> bool:
    """Whether a script is asking."""
    return "application/json" in request.headers.get("accept", "")


def problem_json(problem: BenchsideError) -> Response:
    """A problem as a script reads it."""
    return JSONResponse(
        {
            "field": problem.field,
            "message": fractions.plain(problem.message),
            "hint": fractions.plain(problem.hint),
        },
        status_code=problem.status,
    )


def now() -> str:
    """This moment, as moments are kept."""
    return as_text(datetime.now(UTC))
