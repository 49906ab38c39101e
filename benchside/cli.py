"""The command line: serve, demo, backup, restore, export, import."""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import platformdirs

from benchside import __version__
from benchside.errors import BenchsideError, NotFound
from benchside.moments import as_text

if TYPE_CHECKING:
    from benchside.job.taking_in import Fault
    from benchside.store.database import Shop

PORT = 8000
PORTS_TRIED = 20


class _Sentences(click.Group):
    """A group whose mistakes are one line each, never a traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except BenchsideError as problem:
            said = str(problem)
        except OSError as problem:
            where = f"{problem.filename}: " if problem.filename else ""
            said = f"{where}{problem.strerror or problem}."
        click.echo(" ".join(said.split()), err=True)
        return ctx.exit(1)


def _db_option(command: Callable[..., None]) -> Callable[..., None]:
    return click.option(
        "--db",
        "db",
        type=click.Path(dir_okay=False, path_type=Path),
        envvar="BENCHSIDE_DB",
        help="The data file. Without it, the one in your own data folder.",
    )(command)


def _door_options(command: Callable[..., None]) -> Callable[..., None]:
    for option in (
        click.option(
            "--name",
            default="",
            metavar="NAME",
            help="A name that finds this laptop on the network, such as bench.local.",
        ),
        click.option(
            "--port",
            type=click.IntRange(0, 65535),
            help=f"The port to listen on, {PORT} unless you say; 0 is any free one.",
        ),
        click.option(
            "--lan", is_flag=True, help="Open to phones on the same network, once paired."
        ),
    ):
        command = option(command)
    return command


@click.group(cls=_Sentences, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, message="benchside %(version)s")
def main() -> None:
    """A lathe-side companion for turning sets of matching spindles."""


@main.command()
@_door_options
@_db_option
def serve(lan: bool, port: int | None, name: str, db: Path | None) -> None:
    """Open the shop: pages for this laptop, and with --lan for the phone at the lathe."""
    from benchside.store.backup import held
    from benchside.store.database import Shop

    path = _data_file(db)
    path.parent.mkdir(parents=True, exist_ok=True)
    with held(path), closing(Shop(path)) as shop:
        click.echo(f"Your data: {path}")
        if shop.migrated_from is not None:
            click.echo(
                f"It was made ready for this benchside; a copy from before: {shop.migrated_from}"
            )
        _open_the_door(shop, lan=lan, ports=[PORT if port is None else port], name=name)


@main.command()
@_door_options
def demo(lan: bool, port: int | None, name: str) -> None:
    """Look around with a half-turned set. Your own data are not touched; nothing is kept."""
    from benchside.job.demo import load_demo
    from benchside.resources import seed_dir
    from benchside.store.database import Shop

    ports = [*range(PORT, PORT + PORTS_TRIED), 0] if port is None else [port]
    with (
        tempfile.TemporaryDirectory(prefix="benchside-demo-") as folder,
        closing(Shop(Path(folder) / "demo.db")) as shop,
    ):
        load_demo(shop, seed_dir(), _now())
        click.echo("A demo on a copy of its own: whatever you do here is gone when you stop it.")
        _open_the_door(shop, lan=lan, ports=ports, name=name)


@main.command()
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--force", is_flag=True, help="Replace FILE if it is there already.")
@_db_option
def backup(file: Path | None, force: bool, db: Path | None) -> None:
    """Copy everything into FILE, also while benchside is serving.

    FILE may be a folder; without it, the copy is made here, named by day and time.
    """
    from benchside.store.backup import backup as make_backup

    with _opened(db) as shop:
        made = make_backup(shop, file or Path(), now=_now(), replace=force)
    click.echo(f"Backed up, and checked: {made}")


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@_db_option
def restore(file: Path, db: Path | None) -> None:
    """Put the backup FILE in the place of your data. What is replaced is kept beside it."""
    from benchside.store.backup import restore as put_back

    path = _data_file(db)
    path.parent.mkdir(parents=True, exist_ok=True)
    kept = put_back(path, file, now=_now())
    click.echo(f"Restored: {path}")
    if kept is not None:
        click.echo(f"What was there before: {kept}")


@main.group("export", invoke_without_command=True, cls=_Sentences)
@click.option("--set", "set_id", type=int, metavar="N", help="Only set N, with its pattern.")
@click.option(
    "--as",
    "kind",
    type=click.Choice(["json", "tables"]),
    default="json",
    show_default=True,
    help="One JSON file, or CSV tables in a zip.",
)
@click.option("-o", "--output", type=click.Path(path_type=Path), help="A file, not the screen.")
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
@_db_option
@click.pass_context
def export_(
    ctx: click.Context,
    set_id: int | None,
    kind: str,
    output: Path | None,
    force: bool,
    db: Path | None,
) -> None:
    """Write one set, or everything, as JSON or tables; with a COMMAND, sheets to print and cut."""
    if ctx.invoked_subcommand is not None:
        said = [name for name in ctx.params if _was_typed(ctx, name)]
        if said:
            raise BenchsideError(
                "What is asked of a command stands after it.",
                hint=f"benchside export {ctx.invoked_subcommand} --set 1 -o FILE",
            )
        return
    from benchside.job.csv_tables import to_tables
    from benchside.job.exchange import export_all, export_set, to_json

    with _opened(db) as shop:
        now = _now()
        found = export_all(shop, now=now) if set_id is None else export_set(shop, set_id, now=now)
    content = to_tables(found) if kind == "tables" else to_json(found).encode()
    _write(content, output, force=force)


def _was_typed(ctx: click.Context, name: str) -> bool:
    return ctx.get_parameter_source(name) is click.core.ParameterSource.COMMANDLINE


def _paper_options(command: Callable[..., None]) -> Callable[..., None]:
    for option in (
        _db_option,
        click.option("--force", is_flag=True, help="Replace the file if it is there already."),
        click.option(
            "-o", "--output", type=click.Path(path_type=Path), help="A file, not the screen."
        ),
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


_ADDRESS = click.option(
    "--address",
    default="http://localhost:8000",
    show_default=True,
    help="Where a phone finds this laptop.",
)


def _print_command(what: str, says: str, *options: Callable[..., Any]) -> None:
    """The command that writes one kind of sheet."""

    def command(
        page: str, shape: str = "notch", address: str = "", finished: bool = False, **where: Any
    ) -> None:
        from benchside.paper.pdf import pdf

        with _subject(where) as (job, shop, found, words):
            if what not in job.offered(found):
                raise BenchsideError("A pattern alone has no pieces.", hint="Add --set N.")
            printed, endless = _printed(job, shop, page)
            asked = job.Asked(endless, shape, address, finished)
            now = _now()
            sheets = job.sheets(found, what, printed, words, asked, at=now)
        file = pdf(sheets, title=f"{found.title}, {what}", made_at=now)
        _write(file, where["output"], force=where["force"])

    made: Callable[..., Any] = command
    every: tuple[Callable[..., Any], ...] = (*options, _PAGE, _paper_options)
    for option in every:
        made = option(made)
    export_.command(what, help=says)(made)


_print_command("stick", "The pattern stick, full size, as PDF.")
_print_command("half-pattern", "Half the outline and the full diameters, full size, as PDF.")
_print_command("profile", "The profile to saw from thin ply, full size, as PDF.")
_print_command("gauges", "Gauges for every size, full size, as PDF.", _SHAPE, _FINISHED)
_print_command("labels", "Labels for the pieces of a set, as PDF.", _ADDRESS)


@export_.command("set-sheet")
@click.option("--set", "set_id", type=int, metavar="N", required=True, help="Of set N.")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="A file, not the screen.")
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
@_db_option
def set_sheet(set_id: int, output: Path | None, force: bool, db: Path | None) -> None:
    """All of a set as it stands, as PDF."""
    from benchside.web.set_sheet import set_sheet_pdf

    with _opened(db) as shop:
        made = set_sheet_pdf(shop, set_id, at=_now())
    _write(made, output, force=force)


@export_.command("gauges-cut")
@_paper_options
@_SHAPE
@_FINISHED
@click.option("--as", "kind", type=click.Choice(["dxf", "svg"]), default="dxf", show_default=True)
@click.option("--sheet", type=int, default=1, show_default=True, help="Which sheet of them.")
def gauges_cut(shape: str, finished: bool, kind: str, sheet: int, **where: Any) -> None:
    """Gauges for a laser or saw, as DXF or SVG."""
    with _subject(where) as (job, shop, found, words):
        asked = job.Asked(shape=shape, finished=finished)
        drawing = job.cut_file(found, job.printer(shop), words, asked, sheet, at=_now())
    _write(_drawn(drawing, kind, found.title), where["output"], force=where["force"])


@export_.command("outline")
@_paper_options
@click.option("--as", "kind", type=click.Choice(["dxf", "svg"]), default="dxf", show_default=True)
@click.option("--half", is_flag=True, help="Only the half over the axis.")
def outline(kind: str, half: bool, **where: Any) -> None:
    """The outline of a pattern for other programs, as DXF or SVG."""
    with _subject(where) as (job, _, found, _words):
        drawing = job.outline(found, half=half)
    _write(_drawn(drawing, kind, found.title), where["output"], force=where["force"])


@main.command("import")
@click.argument("file", type=click.Path(path_type=Path, allow_dash=True))
@click.option("--leave-out", is_flag=True, help="Take what can be taken, leave out the rest.")
@click.option("--readings-of", type=int, metavar="N", help="FILE is a table of readings of set N.")
@_db_option
def import_(file: Path, leave_out: bool, readings_of: int | None, db: Path | None) -> None:
    """Bring in an exported FILE beside what is here already. As FILE, - is what is piped in.

    Every row that cannot be taken is told, and then nothing is taken, unless you say --leave-out.
    """
    from benchside.job.exchange import import_into
    from benchside.job.taking_in import look_through
    from benchside.store.database import Shop

    given = sys.stdin.buffer.read() if str(file) == "-" else file.read_bytes()
    if readings_of is not None:
        _take_readings(given, readings_of, db, leave_out=leave_out)
        return
    looked = look_through(given)
    _tell(looked.faults)
    if looked.document is None or (looked.faults and not leave_out):
        first = looked.faults[0]
        if len(looked.faults) == 1:
            raise BenchsideError(f"{first.where}: {first.message}", hint=first.hint)
        raise BenchsideError(
            f"{len(looked.faults)} rows cannot be taken. Nothing was brought in.",
            hint="Add --leave-out to take the rest." if looked.document else "",
        )
    path = _data_file(db)
    path.parent.mkdir(parents=True, exist_ok=True)
    with closing(Shop(path)) as shop:
        brought = import_into(shop, looked.document, now=_now())
    click.echo(
        f"Brought in: {_count(brought.sets, 'set')}, {_count(brought.patterns, 'pattern')},"
        f" {_count(brought.readings, 'reading')}."
    )
    if brought.already_here:
        click.echo(f"Already here, and left as they are: {', '.join(brought.already_here)}.")


@contextmanager
def _subject(where: dict[str, Any]) -> Iterator[tuple[Any, Shop, Any, Any]]:
    """The verbs of paper, the open data, the set or pattern that was asked for, and the words."""
    from benchside.job import paper as job
    from benchside.web.paper import language

    set_id, pattern_id = where["set_id"], where["pattern_id"]
    if (set_id is None) == (pattern_id is None):
        raise BenchsideError("Of which set or pattern?", hint="Add --set N, or --pattern N.")
    words = language()
    with _opened(where["db"]) as shop:
        if set_id is not None:
            found = job.of_set(shop, set_id, words)
        else:
            revision = where["revision"]
            found = job.of_pattern(shop, pattern_id, words, unit="mm", revision=revision)
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


def _drawn(drawing: Any, kind: str, title: str) -> bytes:
    from benchside.paper.dxf import dxf
    from benchside.paper.svg import drawing_svg

    return dxf(drawing) if kind == "dxf" else drawing_svg(drawing, title).encode()


def _write(content: bytes, output: Path | None, *, force: bool) -> None:
    """Into the file, whole or not at all; without one, to where the output goes."""
    if output is None or str(output) == "-":
        sys.stdout.buffer.write(content)
        return
    if output.exists() and not force:
        raise BenchsideError(f"There is a file {output} already.", hint="Add --force.")
    part = output.with_name(f".{output.name}.part")
    part.write_bytes(content)
    part.replace(output)
    click.echo(f"Exported: {output}", err=True)


def _take_readings(given: bytes, set_id: int, db: Path | None, *, leave_out: bool) -> None:
    from benchside.job.readings_file import take, try_out

    text = given.decode("utf-8-sig", "replace")
    with _opened(db) as shop:
        tried = try_out(shop, set_id, text, now=_now())
        left = (*tried.faults, *(fault for _, fault in tried.asked))
        _tell(left)
        if left and not leave_out:
            raise BenchsideError(
                f"{_count(len(left), 'row')} cannot be taken as they stand. Nothing was taken.",
                hint="Add --leave-out to take the rest.",
            )
        kept = take(shop, set_id, tried, asked_too=False, now=_now())
    click.echo(f"Taken: {_count(kept, 'reading')}.")


def _tell(faults: Sequence[Fault]) -> None:
    """Row by row what cannot be taken; a single fault is told by the error itself."""
    if len(faults) > 1:
        for fault in faults:
            click.echo(f"{fault.where}: {fault.message} {fault.hint}".rstrip(), err=True)


def _open_the_door(shop: Shop, *, lan: bool, ports: list[int], name: str) -> None:
    from benchside.web.address import allowed_hosts
    from benchside.web.app import create_app
    from benchside.web.door import Door
    from benchside.web.server import EVERYWHERE, THIS_LAPTOP, run

    with closing(_first_free(EVERYWHERE if lan else THIS_LAPTOP, ports)) as listener:
        port = int(listener.getsockname()[1])
        door = Door(shop, hosts=allowed_hosts(lan=lan, name=name), lan=lan, name=name)
        app = create_app(shop, door)
        here = f"http://{THIS_LAPTOP}:{port}"
        if lan:
            _say_who_may_come(here, port, name, door.codes.make)
        else:
            click.echo(f"On this laptop, and from nowhere else: {here}")
            click.echo("For a phone at the lathe, start it with --lan. Ctrl-C stops it.")
        run(app, listener, when_ready=lambda: _say_now(f"ready {here}"))
    click.echo("Stopped.")


def _first_free(host: str, ports: list[int]) -> Any:
    from benchside.web.server import PortTaken, listen

    for port in ports[:-1]:
        try:
            return listen(host, port)
        except PortTaken:
            continue
    return listen(host, ports[-1])


def _say_who_may_come(here: str, port: int, name: str, code: Callable[[str], str]) -> None:
    from benchside.web.address import lan_urls

    click.echo(
        f"On this laptop, a link that lets its browser in, once: {here}/enter?code={code(_now())}"
    )
    urls = lan_urls(port, name)
    if not urls:
        click.echo("This laptop is on no network now, so no phone can reach it.")
        return
    pairing = code(_now())
    click.echo(f"On a phone in the same network: {'  or  '.join(urls)}")
    click.echo(
        f"Scan this with the phone to pair it, or type the code {pairing[:4]} {pairing[4:]}:"
    )
    _draw(f"{urls[0]}/pair?code={pairing}")
    click.echo(
        "The door is open to everyone in this network: they can knock, only paired devices come in."
    )
    click.echo("What travels is not encrypted, so open it only in a network that you trust.")
    click.echo("Both codes work once, and for ten minutes. Ctrl-C stops it.")


def _draw(url: str) -> None:
    from benchside.web.qr import terminal_qr

    picture = terminal_qr(url, coloured=sys.stdout.isatty())
    try:
        picture.encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        click.echo(f"(This window cannot draw it. The address in it: {url})")
    else:
        click.echo(picture)


def _say_now(line: str) -> None:
    click.echo(line)
    sys.stdout.flush()


@contextmanager
def _opened(db: Path | None) -> Iterator[Shop]:
    """Data that are there already; a slip in --db must not make an empty file."""
    from benchside.store.database import Shop

    path = _data_file(db)
    if not path.exists():
        raise NotFound(f"There are no data at {path}.", hint="Begin with: benchside serve")
    with closing(Shop(path)) as shop:
        yield shop


def _data_file(db: Path | None) -> Path:
    return db or platformdirs.user_data_path("benchside", appauthor=False) / "benchside.db"


def _count(n: int, what: str) -> str:
    return f"{n} {what}{'' if n == 1 else 's'}"


def _now() -> str:
    return as_text(datetime.now(UTC))
