"""What every command shares: one group, the data file, one line for every mistake."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
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
    from benchside.store.database import Shop


class Sentences(click.Group):
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


def db_option(command: Callable[..., None]) -> Callable[..., None]:
    return click.option(
        "--db",
        "db",
        type=click.Path(dir_okay=False, path_type=Path),
        envvar="BENCHSIDE_DB",
        help="The data file. Without it, the one in your own data folder.",
    )(command)


@click.group(cls=Sentences, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, message="benchside %(version)s")
def main() -> None:
    """A lathe-side companion for turning sets of matching spindles."""


def output_options(command: Callable[..., None]) -> Callable[..., None]:
    """Where a file goes, and from which data it is made."""
    for option in (
        db_option,
        click.option("--force", is_flag=True, help="Replace the file if it is there already."),
        click.option(
            "-o", "--output", type=click.Path(path_type=Path), help="A file, not the screen."
        ),
    ):
        command = option(command)
    return command


def write(content: bytes, output: Path | None, *, force: bool) -> None:
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


@contextmanager
def opened(db: Path | None) -> Iterator[Shop]:
    """Data that are there already; a slip in --db must not make an empty file."""
    from benchside.store.database import Shop

    path = data_file(db)
    if not path.exists():
        raise NotFound(f"There are no data at {path}.", hint="Begin with: benchside serve")
    with closing(Shop(path)) as shop:
        yield shop


def data_file(db: Path | None) -> Path:
    return db or platformdirs.user_data_path("benchside", appauthor=False) / "benchside.db"


def counted(n: int, what: str) -> str:
    return f"{n} {what}{'' if n == 1 else 's'}"


def this_moment() -> str:
    return as_text(datetime.now(UTC))
