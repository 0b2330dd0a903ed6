"""Runs the service until Ctrl-C: its sockets, its certificate, the browser."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path

import uvicorn
from fastapi import FastAPI

from chargewright.errors import InputError

GRACE_S = 3


class Server(uvicorn.Server):
    """The server, which lets open event streams end before it waits for the rest."""

    def __init__(self, config: uvicorn.Config, app: FastAPI, ready: Callable[[], object]) -> None:
        super().__init__(config)
        self._app = app
        self._ready = ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, then say that it is so."""
        await super().startup(sockets=sockets)
        if self.started:
            self._ready()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End the streams, then the rest."""
        context = getattr(self._app.state, "context", None)
        if context is not None:
            context.hub.end_streams()
        await super().shutdown(sockets=sockets)


def listen(host: str, port: int) -> socket.socket:
    """Return a listening socket. Raises ``InputError`` when the address cannot be had."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # the protocol is named, for only then does the event loop switch off the holding back of
    # small packets: with it every answer in two parts waits for an acknowledgement, 40 ms
    sock = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        sock.bind((host, port))
        sock.listen(128)
    except OSError as error:
        sock.close()
        raise InputError(
            f"{host} port {port}: cannot be served ({error.strerror}); is it running already? "
            "--port chooses another"
        ) from error
    return sock


def serve(
    app: FastAPI,
    sock: socket.socket,
    *,
    ready: Callable[[], object],
    certificate: tuple[Path, Path] | None = None,
) -> None:
    """Serve ``app`` on a listening socket until interrupted."""
    server = Server(config_of(app, certificate=certificate), app, ready)
    with contextlib.suppress(KeyboardInterrupt):
        asyncio.run(server.serve(sockets=[sock]))


def config_of(app: FastAPI, *, certificate: tuple[Path, Path] | None = None) -> uvicorn.Config:
    """Return how the server is run."""
    return uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        proxy_headers=False,  # nobody stands before it, so nobody may say who asks
        server_header=False,
        timeout_graceful_shutdown=GRACE_S,
        ssl_certfile=str(certificate[0]) if certificate else None,
        ssl_keyfile=str(certificate[1]) if certificate else None,
    )


def open_browser(url: str) -> None:
    """Try to show the app; no browser is no failure."""

    def show() -> None:
        with contextlib.suppress(Exception):
            webbrowser.open(url)

    threading.Thread(target=show, daemon=True).start()


def own_addresses() -> tuple[str, ...]:
    """Return this machine's addresses in the workshop's network, the one in use first."""
    found: list[str] = []
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(("192.0.2.1", 9))  # RFC 5737: nothing is sent, only the way is chosen
        found.append(probe.getsockname()[0])
    with contextlib.suppress(OSError):
        for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET):
            found.append(str(info[4][0]))
    return tuple(dict.fromkeys(one for one in found if not one.startswith("127.")))
