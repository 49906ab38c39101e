"""The command line: serve, demo, backup, restore, export, import."""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import platformdirs

from benchside import __version__
from benchside.errors import BenchsideError, NotFound

if TYPE_CHECKING:
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


@main.command("export")
@click.option("--set", "set_id", type=int, metavar="N", help="Only set N, with its pattern.")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="A file, not the screen.")
@click.option("--force", is_flag=True, help="Replace the file if it is there already.")
@_db_option
def export_(set_id: int | None, output: Path | None, force: bool, db: Path | None) -> None:
    """Write one set, or everything, as JSON."""
    from benchside.job.exchange import export_all, export_set, to_json

    with _opened(db) as shop:
        now = _now()
        found = export_all(shop, now=now) if set_id is None else export_set(shop, set_id, now=now)
    text = to_json(found)
    if output is None or str(output) == "-":
        sys.stdout.buffer.write(text.encode())
        return
    if output.exists() and not force:
        raise BenchsideError(f"There is a file {output} already.", hint="Add --force.")
    part = output.with_name(f".{output.name}.part")
    part.write_bytes(text.encode())
    part.replace(output)
    click.echo(f"Exported: {output}", err=True)


@main.command("import")
@click.argument("file", type=click.Path(path_type=Path, allow_dash=True))
@_db_option
def import_(file: Path, db: Path | None) -> None:
    """Bring in an exported FILE beside what is here already. As FILE, - is what is piped in."""
    from benchside.job.exchange import from_json, import_into
    from benchside.store.database import Shop

    document = from_json(sys.stdin.buffer.read() if str(file) == "-" else file.read_bytes())
    path = _data_file(db)
    path.parent.mkdir(parents=True, exist_ok=True)
    with closing(Shop(path)) as shop:
        brought = import_into(shop, document, now=_now())
    click.echo(
        f"Brought in: {_count(brought.sets, 'set')}, {_count(brought.patterns, 'pattern')},"
        f" {_count(brought.readings, 'reading')}."
    )
    if brought.already_here:
        click.echo(f"Already here, and left as they are: {', '.join(brought.already_here)}.")


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
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
