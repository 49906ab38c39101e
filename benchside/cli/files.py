"""backup and restore, export and import: everything as files, and back again."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import click

from benchside.cli.group import (
    Sentences,
    counted,
    data_file,
    db_option,
    main,
    opened,
    output_options,
    this_moment,
    write,
)
from benchside.errors import BenchsideError

if TYPE_CHECKING:
    from benchside.job.exchange.taking_in import Fault


@main.command()
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--force", is_flag=True, help="Replace FILE if it is there already.")
@db_option
def backup(file: Path | None, force: bool, db: Path | None) -> None:
    """Copy everything into FILE, also while benchside is serving.

    FILE may be a folder; without it, the copy is made here, named by day and time.
    """
    from benchside.store.backup import backup as make_backup

    with opened(db) as shop:
        made = make_backup(shop, file or Path(), now=this_moment(), replace=force)
    click.echo(f"Backed up, and checked: {made}")


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@db_option
def restore(file: Path, db: Path | None) -> None:
    """Put the backup FILE in the place of your data. What is replaced is kept beside it."""
    from benchside.store.backup import restore as put_back

    path = data_file(db)
    path.parent.mkdir(parents=True, exist_ok=True)
    kept = put_back(path, file, now=this_moment())
    click.echo(f"Restored: {path}")
    if kept is not None:
        click.echo(f"What was there before: {kept}")


@main.group("export", invoke_without_command=True, cls=Sentences)
@click.option("--set", "set_id", type=int, metavar="N", help="Only set N, with its pattern.")
@click.option(
    "--as",
    "kind",
    type=click.Choice(["json", "tables"]),
    default="json",
    show_default=True,
    help="One JSON file, or CSV tables in a zip.",
)
@output_options
@click.pass_context
def export_(
    ctx: click.Context,
    set_id: int | None,
    kind: str,
    output: Path | None,
    force: bool,
    db: Path | None,
) -> None:
    """Write one set, everything, or sheets to print and cut.

    As JSON or tables; a COMMAND writes one of the sheets.
    """
    if ctx.invoked_subcommand is not None:
        said = [name for name in ctx.params if _was_typed(ctx, name)]
        if said:
            raise BenchsideError(
                "What is asked of a command stands after it.",
                hint=f"benchside export {ctx.invoked_subcommand} --set 1 -o FILE",
            )
        return
    from benchside.job.exchange import export_all, export_set, to_json
    from benchside.job.exchange.csv_tables import to_tables

    with opened(db) as shop:
        now = this_moment()
        found = export_all(shop, now=now) if set_id is None else export_set(shop, set_id, now=now)
    content = to_tables(found) if kind == "tables" else to_json(found).encode()
    write(content, output, force=force)


def _was_typed(ctx: click.Context, name: str) -> bool:
    return ctx.get_parameter_source(name) is click.core.ParameterSource.COMMANDLINE


@main.command("import")
@click.argument("file", type=click.Path(path_type=Path, allow_dash=True))
@click.option("--leave-out", is_flag=True, help="Take what can be taken, leave out the rest.")
@click.option("--readings-of", type=int, metavar="N", help="FILE is a table of readings of set N.")
@db_option
def import_(file: Path, leave_out: bool, readings_of: int | None, db: Path | None) -> None:
    """Bring in an exported FILE beside what is here already. As FILE, - is what is piped in.

    Every row that cannot be taken is told, and then nothing is taken, unless you say --leave-out.
    """
    from benchside.job.exchange import import_into
    from benchside.job.exchange.taking_in import look_through
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
    path = data_file(db)
    path.parent.mkdir(parents=True, exist_ok=True)
    with closing(Shop(path)) as shop:
        brought = import_into(shop, looked.document, now=this_moment())
    click.echo(
        f"Brought in: {counted(brought.sets, 'set')}, {counted(brought.patterns, 'pattern')},"
        f" {counted(brought.readings, 'reading')}."
    )
    if brought.already_here:
        click.echo(f"Already here, and left as they are: {', '.join(brought.already_here)}.")


def _take_readings(given: bytes, set_id: int, db: Path | None, *, leave_out: bool) -> None:
    from benchside.job.exchange.readings_file import take, try_out

    text = given.decode("utf-8-sig", "replace")
    with opened(db) as shop:
        tried = try_out(shop, set_id, text, now=this_moment())
        left = (*tried.faults, *(fault for _, fault in tried.asked))
        _tell(left)
        if left and not leave_out:
            raise BenchsideError(
                f"{counted(len(left), 'row')} cannot be taken as they stand. Nothing was taken.",
                hint="Add --leave-out to take the rest.",
            )
        kept = take(shop, set_id, tried, asked_too=False, now=this_moment())
    click.echo(f"Taken: {counted(kept, 'reading')}.")


def _tell(faults: Sequence[Fault]) -> None:
    """Row by row what cannot be taken; a single fault is told by the error itself."""
    if len(faults) > 1:
        for fault in faults:
            click.echo(f"{fault.where}: {fault.message} {fault.hint}".rstrip(), err=True)
