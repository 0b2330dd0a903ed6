"""A whole service for browser tests: own process, own store, killed and begun again at will."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

import chargewright

PROGRAM = """
import sys
from pathlib import Path
from chargewright.web.app import create_app
from chargewright.web.serve import listen, serve
from chargewright.web.settings import Settings
sock = listen("127.0.0.1", int(sys.argv[1]))
app = create_app(Settings(store=Path(sys.argv[2]), port=int(sys.argv[1]), workers=0))
serve(app, sock, ready=lambda: print("ready", flush=True))
"""
FEW_MACHINES = """
from cli.small import SMALL
for module, name, value in SMALL:
    setattr(module, name, value)
"""
TESTS = str(Path(__file__).parents[1])
PATIENCE_S = 500.0  # a first population on a busy machine
SOURCE = str(Path(chargewright.__file__).parents[1])


def free_port() -> int:
    """Return a port nobody listens on now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class House:
    """One service. ``stop`` and ``start`` keep port and store, as a server that was rebooted.

    ``rough``: with few machines, for what does not depend on how good the diagnosis is.
    """

    def __init__(self, folder: Path, *, rough: bool = False) -> None:
        self.program = FEW_MACHINES + PROGRAM if rough else PROGRAM
        self.port = free_port()
        self.store = folder / "jobs.sqlite"
        self.log = folder / "service.log"
        self.own = {"CHARGEWRIGHT_CACHE": str(folder / "shelf")} if rough else {}
        self.url = f"http://127.0.0.1:{self.port}"
        self._process: subprocess.Popen[str] | None = None

    def start(self) -> None:
        with self.log.open("a") as log:
            self._process = subprocess.Popen(
                [sys.executable, "-c", self.program, str(self.port), str(self.store)],
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
                env={
                    **os.environ,
                    "PYTHONPATH": os.pathsep.join((SOURCE, TESTS)),
                    "PYTHONWARNINGS": "default",
                    **self.own,
                },
            )
        out = self._process.stdout
        assert out is not None
        if out.readline().strip() != "ready":
            self.stop()
            raise AssertionError(self.log.read_text())

    def stop(self) -> None:
        """Kill it, as a pulled plug would."""
        process, self._process = self._process, None
        if process is not None:
            process.send_signal(signal.SIGKILL)
            process.wait(timeout=10)
            assert process.stdout is not None
            process.stdout.close()

    def call(self, method: str, path: str, body: object = None) -> Any:  # noqa: ANN401 - JSON
        """Ask the service as another phone would."""
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(
            f"{self.url}/api/v1{path}",
            data=data,
            method=method,
            headers={"Content-Type": "application/json"},
        )
        with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
            text = answer.read()
        return json.loads(text) if text else None

    def bring(self, card: Path, job: str) -> str:
        """Take in a card as a job of its own and wait until it has been worked out."""
        document = json.loads(card.read_text(encoding="utf-8")) | {"id": job}
        self.call("POST", "/jobs/import?on_conflict=replace", document)
        self.assessed(job)
        return job

    def step(self, job: str) -> Any:  # noqa: ANN401 - JSON
        """Return the check that is on the bench, or None."""
        return self.assessed(job)["bench"]["step"]

    def until(self, job: str, true: Callable[[Any], bool]) -> Any:  # noqa: ANN401 - JSON
        """Return the job's card once something is true of it."""
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            card = self.call("GET", f"/jobs/{job}")["card"]
            if true(card):
                return card
            time.sleep(0.05)
        raise AssertionError(f"{job}: {card}")

    def assessed(self, job: str) -> Any:  # noqa: ANN401 - JSON
        """Return the assessment of the job as it stands."""
        revision = self.call("GET", f"/jobs/{job}")["revision"]
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            found = self.call("GET", f"/jobs/{job}/assessment?revision={revision}&wait_s=20")
            if found["assessment"] or found["error"]:
                return found
        raise AssertionError(f"{job} was not worked out in {PATIENCE_S:g} s")
