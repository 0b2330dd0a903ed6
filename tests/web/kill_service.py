"""Kills the service at random moments under load and looks at what it left behind.

Run as ``python kill_service.py FOLDER TIMES SEED``; prints one JSON line per kill: the numbers of
readings that were acknowledged by then, and of those of them that are gone. A process of its
own, because it forks: everything is loaded once, so that a killed service is soon replaced.
"""

from __future__ import annotations

import asyncio
import json
import os
import random
import signal
import sqlite3
import sys
import threading
import time
from contextlib import closing, suppress
from datetime import UTC, datetime
from functools import partial
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from socket import socket

from fastapi import FastAPI
from httpx import ASGITransport, AsyncClient
from web.service import ATV, rest

from chargewright.jobs.card import JobCard, Machine
from chargewright.jobs.case import case_from
from chargewright.jobs.store import JobStore
from chargewright.web.app import create_app
from chargewright.web.serve import listen, serve
from chargewright.web.settings import API, Settings

PHONES = 4
PATIENCE_S = 20.0


def serving_child(app: FastAPI, sock: socket, tell: int) -> int:
    """Fork a service on a listening socket and return its process."""
    child = os.fork()
    if child:
        return child
    try:
        serve(app, sock, ready=partial(os.write, tell, b"r"))
    finally:
        os._exit(1)


def send(port: int, path: str, body: object) -> int:
    """Return the status of a POST; 0 when the service died before it answered."""
    connection = HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
    try:
        headers = {"Content-Type": "application/json"}
        connection.request("POST", API + path, json.dumps(body), headers)
        answer = connection.getresponse()
        answer.read()
        return answer.status
    except (OSError, HTTPException):
        return 0
    finally:
        connection.close()


def phone(port: int, job: str, name: str, acknowledged: list[str], first: threading.Event) -> None:
    """Send readings until the service is gone; remember those it said it has."""
    for number in range(1000):
        reading = f"{name}-{number}"
        if send(port, f"/jobs/{job}/readings", rest(reading)) != 201:
            return
        acknowledged.append(reading)
        first.set()


def one_kill(app: FastAPI, number: int, moment_s: float) -> list[str]:
    """Serve, load, kill; return the readings acknowledged."""
    hear, tell = os.pipe()
    sock = listen("127.0.0.1", 0)
    port = int(sock.getsockname()[1])
    child = serving_child(app, sock, tell)
    sock.close()
    os.close(tell)
    if os.read(hear, 1) != b"r":
        raise SystemExit("the service did not start")
    os.close(hear)
    acknowledged: list[str] = []
    jobs = [f"kill-{phone_number}" for phone_number in range(PHONES)]
    if number == 0:
        for job in jobs:
            if send(port, "/jobs", {**ATV, "id": job}) != 201:
                raise SystemExit(f"job {job} was not begun")
    first = threading.Event()
    phones = [
        threading.Thread(target=phone, args=(port, job, f"{job}-{number}", acknowledged, first))
        for job in jobs
    ]
    for one in phones:
        one.start()
    if not first.wait(PATIENCE_S):
        raise SystemExit("no reading was acknowledged")
    time.sleep(moment_s)
    os.kill(child, signal.SIGKILL)
    for one in phones:
        one.join()
    _, status = os.waitpid(child, 0)
    if not os.WIFSIGNALED(status):
        raise SystemExit(f"the service ended by itself with status {status}")
    return acknowledged


def kept(store: Path) -> set[str]:
    """Return the readings on all cards, after the database's own check of itself."""
    with closing(sqlite3.connect(store)) as connection:
        verdict = connection.execute("PRAGMA integrity_check").fetchone()[0]
        rows = connection.execute("SELECT reading_id FROM readings").fetchall()
    if verdict != "ok":
        raise SystemExit(f"integrity check: {verdict}")
    with JobStore(store) as opened:
        cards = [opened.load(line.id) for line in opened.list()]
    names = {reading.id for card in cards for reading in card.readings}
    if names != {row[0] for row in rows}:
        raise SystemExit("cards and table of readings differ")
    return names


def empty(store: Path) -> None:
    """Take the readings off the cards, so that a long run stays fast."""
    with JobStore(store) as opened:
        for line in opened.list():
            opened.update(line.id, lambda card: card.changed(readings=()))


async def warm(app: FastAPI) -> None:
    """Let the application build what its first request needs, once for all the forked ones."""
    client = AsyncClient(transport=ASGITransport(app), base_url=f"http://127.0.0.1{API}")
    with suppress(AttributeError):  # no store is open here: the handler itself is not reached
        await client.post("/jobs/x/readings", json=rest("x"))


def main(folder: str, times: str, seed: str) -> None:
    """Kill ``times`` services one after the other."""
    store, moments = Path(folder) / "jobs.sqlite", random.Random(int(seed))
    app = create_app(Settings(store=store, workers=0, assess=False))
    asyncio.run(warm(app))
    began = datetime(2026, 8, 1, tzinfo=UTC)
    case_from(JobCard(id="x", created=began, machine=Machine(class_id="atv")))  # read files once
    for number in range(int(times)):
        acknowledged = one_kill(app, number, moments.uniform(0.0, 0.2))
        lost = set(acknowledged) - kept(store)
        sys.stdout.write(json.dumps([len(acknowledged), len(lost)]) + "\n")
        if number % 10 == 9:
            empty(store)


if __name__ == "__main__":
    main(*sys.argv[1:])
