"""A real service on a real socket, computing in its own process with a small diagnosis."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx

from chargewright.web.app import create_app
from chargewright.web.pairing import Pairing
from chargewright.web.serve import Server, config_of, listen
from chargewright.web.settings import API, Settings

Raw = dict[str, Any]
ATV: Raw = {"class": "atv", "label": "green 7", "complaint": {"kind": "battery_goes_flat"}}


@contextmanager
def serving(
    store: Path, *, pairing: Pairing | None = None, **fields: object
) -> Iterator[tuple[httpx.Client, Any]]:
    """Yield a client of a service that ends with the block, and the application."""
    sock = listen("127.0.0.1", 0)
    port = sock.getsockname()[1]
    settings = Settings(store=store, port=port, workers=0, watch_s=0.2, **fields)  # type: ignore[arg-type]
    app = create_app(settings, pairing=pairing)
    started = threading.Event()
    server = Server(config_of(app), app, started.set)
    thread = threading.Thread(target=lambda: asyncio.run(server.serve(sockets=[sock])))
    thread.start()
    try:
        assert started.wait(60.0)
        with httpx.Client(base_url=f"http://127.0.0.1:{port}{API}", timeout=120.0) as client:
            yield client, app
    finally:
        server.should_exit = True
        thread.join(30.0)
        sock.close()
    assert not thread.is_alive()


def begun(client: httpx.Client, **fields: object) -> str:
    """Begin a job and return its id."""
    answer = client.post("/jobs", json={**ATV, **fields})
    assert answer.status_code == 201, answer.text
    return str(answer.json()["id"])


def rest(name: str, text: str = "12.61", **fields: object) -> Raw:
    """Return a free reading of battery volts at rest."""
    return {
        "id": name,
        "function": "dc_v",
        "plus": "battery_pos",
        "minus": "battery_neg",
        "text": text,
        **fields,
    }


def error_of(answer: httpx.Response, status: int, code: str) -> Raw:
    """Return the error of an answer, after checking that it has the one form."""
    assert answer.status_code == status, answer.text
    body = answer.json()
    assert set(body) == {"error"}
    error: Raw = body["error"]
    assert error["code"] == code
    assert error["message"]
    assert "\n" not in error["message"]
    assert "Traceback" not in answer.text
    return error
