"""The socket and the server on it. It says that it is ready only when it answers."""

from __future__ import annotations

import errno
import os
import signal
import socket
from collections.abc import Callable

import uvicorn
from fastapi import FastAPI

from benchside.errors import BenchsideError

EVERYWHERE, THIS_LAPTOP = "0.0.0.0", "127.0.0.1"
LINGER_S = 5  # judgement: how long a reply under way may take once we are told to stop


class PortTaken(BenchsideError):
    """Another program listens there already."""


def listen(host: str, port: int) -> socket.socket:
    """A listening socket; port 0 is any free one. Raises `PortTaken` and `BenchsideError`."""
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if os.name == "posix":  # elsewhere this would let two programs listen at once
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((host, port))
        listener.listen(128)
    except OSError as trouble:
        listener.close()
        if trouble.errno == errno.EADDRINUSE:
            raise PortTaken(
                f"Port {port} is taken by another program, or by another benchside.",
                field="port",
                hint=f"Try another: --port {port + 1 if port < 65535 else 8000}",
            ) from trouble
        raise BenchsideError(
            f"Port {port} cannot be opened: {trouble.strerror}.",
            field="port",
            hint="Try another, from 1024 upward: --port 8000",
        ) from trouble
    return listener


def run(app: FastAPI, listener: socket.socket, *, when_ready: Callable[[], None]) -> None:
    """Serve until Ctrl-C or a polite kill, then finish what is under way and come back."""
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        proxy_headers=False,
        server_header=False,
        timeout_graceful_shutdown=LINGER_S,
    )
    before = signal.signal(signal.SIGTERM, _stop)
    try:
        _Server(config, when_ready).run(sockets=[listener])
    except KeyboardInterrupt:
        pass
    finally:
        signal.signal(signal.SIGTERM, before)
        listener.close()


class _Server(uvicorn.Server):
    def __init__(self, config: uvicorn.Config, when_ready: Callable[[], None]) -> None:
        super().__init__(config)
        self._when_ready = when_ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self._when_ready()


def _stop(*_: object) -> None:
    # The server catches the signal, stops, and raises it again; this ends that as Ctrl-C ends.
    raise KeyboardInterrupt
