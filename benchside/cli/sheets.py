"""export COMMAND: sheets to print and to cut."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from benchside.cli.files import export_
from benchside.cli.group import opened, output_options, this_moment, write
from benchside.errors import BenchsideError

if TYPE_CHECKING:
    from benchside.store.database import Shop
    from benchside.units import Unit


def _paper_options(command: Callable[..., None]) -> Callable[..., None]:
    for option in (
        output_options,
        click.option("--revision", type=int, help="Of a pattern: not the newest."),
        click.option("--pattern", "pattern_id", type=int, metavar="N", help="Of pattern N alone."),
        click.option("--set", "set_id", type=int, metavar="N", help="Of set N."),
    ):
        command = option(command)
    return command


_PAGE = click.option(
    "--page",
    default="",
    metavar="PAGE",
    help="a4, letter, a3, tabloid, WxH in mm, or long for one page as long as it needs.",
)


_SHAPE = click.option(
    "--shape", type=click.Choice(["notch", "half-round"]), default="notch", show_default=True
)


_FINISHED = click.option(
    "--finished", is_flag=True, help="Of the finished sizes, not those to turn now."
)


_MEASURED = click.option(
    "--measured",
    default="",
    metavar="LONGxSHORT",
    help="What the two scales of a check sheet measured: 249.5x194.8. Else as kept.",
)


_KERF = click.option(
    "--kerf", default="", metavar="WIDTH", help="How wide the tool cuts: 0.2 mm. Else as kept."
)


_ADDRESS = click.option(
    "--address",
    default="http://localhost:8000",
    show_default=True,
    help="Where a phone finds this laptop.",
)


def _print_command(what: str, says: str, *options: Callable[..., Any]) -> None:
    """The command that writes one kind of sheet."""

    def command(
        page: str,
        measured: str,
        kerf: str = "",
        shape: str = "notch",
        address: str = "",
        finished: bool = False,
        **where: Any,
    ) -> None:
        from benchside.paper.pdf import pdf

        with _subject(where) as (job, shop, found, words):
            if what not in job.offered(found):
                raise BenchsideError("A pattern alone has no pieces.", hint="Add --set N.")
            printed, endless = _printed(job, shop, page)
            printed = _cutting(job, _measured(job, printed, measured), kerf)
            asked = job.Asked(endless, shape, address, finished)
            now = this_moment()
            sheets = job.sheets(found, what, printed, words, asked, at=now)
        file = pdf(sheets, title=f"{found.title}, {what}", made_at=now)
        write(file, where["output"], force=where["force"])

    made: Callable[..., Any] = command
    every: tuple[Callable[..., Any], ...] = (*options, _MEASURED, _PAGE, _paper_options)
    for option in every:
        made = option(made)
    export_.command(what, help=says)(made)


_print_command("stick", "The pattern stick, full size, as PDF.")
_print_command("half-pattern", "Half the outline and the full diameters, full size, as PDF.")
_print_command("profile", "The profile to saw from thin ply, full size, as PDF.")
_print_command("gauges", "Gauges for every size, full size, as PDF.", _KERF, _SHAPE, _FINISHED)
_print_command("labels", "Labels for the pieces of a set, as PDF.", _ADDRESS)


def _report_command(what: str, says: str, *, next_time: bool = False) -> None:
    """The command that writes what is known of a set."""

    @export_.command(what, help=says)
    @click.option("--set", "set_id", type=int, metavar="N", required=True, help="Of set N.")
    @output_options
    def command(set_id: int, output: Path | None, force: bool, db: Path | None) -> None:
        from benchside.web.set_sheet import set_sheet_pdf

        with opened(db) as shop:
            made = set_sheet_pdf(shop, set_id, at=this_moment(), next_time=next_time)
        write(made, output, force=force)


_report_command("set-sheet", "All of a set as it stands, as PDF.")
_report_command("as-made", "What is to be known of a set next time, as PDF.", next_time=True)


@export_.command("check-sheet")
@_PAGE
@output_options
def check_sheet(page: str, output: Path | None, force: bool, db: Path | None) -> None:
    """The two scales that a printer is measured by, as PDF."""
    from benchside.job import paper as job
    from benchside.job.shop import works_in
    from benchside.paper.pdf import pdf
    from benchside.web.paper import check_title, language

    at = this_moment()
    with opened(db) as shop:
        printed, _ = _printed(job, shop, page)
        sheet = job.check_sheet(printed, language(), check_title(), works_in(shop) or "mm", at=at)
    write(pdf([sheet], title=check_title(), made_at=at), output, force=force)


@export_.command("table")
@click.option("--pattern", "pattern_id", type=int, metavar="N", required=True, help="Of pattern N.")
@click.option("--revision", type=int, help="Not the newest.")
@output_options
def table(
    pattern_id: int, revision: int | None, output: Path | None, force: bool, db: Path | None
) -> None:
    """A pattern as a table, to be brought in again: CSV in mm."""
    from benchside.job.patterns import write_table

    with opened(db) as shop:
        _, text = write_table(shop, pattern_id, revision)
    write(text.encode(), output, force=force)


@export_.command("gauges-cut")
@_paper_options
@_SHAPE
@_FINISHED
@click.option("--as", "kind", type=click.Choice(["dxf", "svg"]), default="dxf", show_default=True)
@click.option("--sheet", type=int, default=1, show_default=True, help="Which sheet of them.")
@_KERF
def gauges_cut(shape: str, finished: bool, kind: str, sheet: int, kerf: str, **where: Any) -> None:
    """Gauges for a laser or saw, as DXF or SVG."""
    with _subject(where) as (job, shop, found, words):
        asked = job.Asked(shape=shape, finished=finished)
        cutter = _cutting(job, job.printer(shop), kerf)
        drawing = job.cut_file(found, cutter, words, asked, sheet, at=this_moment())
    write(_drawn(drawing, kind, found.title), where["output"], force=where["force"])


@export_.command("outline")
@_paper_options
@click.option("--as", "kind", type=click.Choice(["dxf", "svg"]), default="dxf", show_default=True)
@click.option("--half", is_flag=True, help="Only the half over the axis.")
def outline(kind: str, half: bool, **where: Any) -> None:
    """The outline of a pattern for other programs, as DXF or SVG."""
    with _subject(where) as (job, _, found, _words):
        drawing = job.outline(found, half=half)
    write(_drawn(drawing, kind, found.title), where["output"], force=where["force"])


@contextmanager
def _subject(where: dict[str, Any]) -> Iterator[tuple[Any, Shop, Any, Any]]:
    """The verbs of paper, the open data, the set or pattern that was asked for, and the words."""
    from benchside.job import paper as job
    from benchside.job.shop import works_in
    from benchside.web.paper import language

    set_id, pattern_id = where["set_id"], where["pattern_id"]
    if (set_id is None) == (pattern_id is None):
        raise BenchsideError("Of which set or pattern?", hint="Add --set N, or --pattern N.")
    words = language()
    with opened(where["db"]) as shop:
        if set_id is not None:
            found = job.of_set(shop, set_id, words)
        else:
            revision = where["revision"]
            unit: Unit = "in/64" if works_in(shop) == "in" else "mm"
            found = job.of_pattern(shop, pattern_id, words, unit=unit, revision=revision)
        yield job, shop, found, words


def _printed(job: Any, shop: Shop, text: str) -> tuple[Any, bool]:
    """The page as kept or as asked for, with the printer's correction; and whether it is long."""
    from dataclasses import replace

    from benchside.paper import page

    kept = job.printer(shop)
    if text in ("", "long"):
        return kept, text == "long"
    size = page.NAMED.get(text.lower())
    if size is None:
        try:
            width, height = (float(part) for part in text.lower().split("x"))
        except ValueError:
            raise BenchsideError(
                f"{text} is no page.", hint=f"Say {', '.join(page.NAMED)}, long, or 330x483."
            ) from None
        size = (width, height)
    other = page.page(*size, along=kept.page.along, across=kept.page.across)
    return replace(kept, page=other), False


def _measured(job: Any, printed: Any, text: str) -> Any:
    """The printer as its two scales measured, where that is told."""
    from benchside.units import parse_length

    if not text:
        return printed
    told = text.lower().split("x")
    if len(told) != len(job.WAYS):
        raise BenchsideError(
            f"{text} is not what two scales measured.", hint="The long way first: 249.5x194.8."
        )
    each = zip(told, job.WAYS, strict=True)
    return job.measured(printed, *(parse_length(mm, "mm", field=way) for mm, way in each))


def _cutting(job: Any, printed: Any, text: str) -> Any:
    """The printer with the tool that cuts so wide, where that is told."""
    from benchside.units import parse_length

    return job.cutting(printed, parse_length(text, "mm", field="kerf")) if text else printed


def _drawn(drawing: Any, kind: str, title: str) -> bytes:
    from benchside.paper.dxf import dxf
    from benchside.paper.svg import drawing_svg

    return dxf(drawing) if kind == "dxf" else drawing_svg(drawing, title).encode()
