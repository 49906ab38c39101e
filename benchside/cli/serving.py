"""serve and demo: the door opened, and who is told where it stands."""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from benchside.cli.group import data_file, db_option, main, this_moment

if TYPE_CHECKING:
    from benchside.store.database import Shop

PORT = 8000
PORTS_TRIED = 20


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


@main.command()
@_door_options
@db_option
def serve(lan: bool, port: int | None, name: str, db: Path | None) -> None:
    """Open the shop on this laptop, with --lan for phones too."""
    from benchside.store.backup import held
    from benchside.store.database import Shop

    path = data_file(db)
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
        load_demo(shop, seed_dir(), this_moment())
        click.echo("A demo on a copy of its own: whatever you do here is gone when you stop it.")
        _open_the_door(shop, lan=lan, ports=ports, name=name)


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

    enter = f"{here}/enter?code={code(this_moment())}"
    click.echo(f"On this laptop, a link that lets its browser in, once: {enter}")
    urls = lan_urls(port, name)
    if not urls:
        click.echo("This laptop is on no network now, so no phone can reach it.")
        return
    pairing = code(this_moment())
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
