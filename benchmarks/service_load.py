"""Twenty phones on twenty jobs: from the typed reading to the answer, beside an empty handler.

    python benchmarks/service_load.py [PHONES] [READINGS] [THINK_S]

Every phone begins a job of its own, waits for its first assessment, and then thinks, reads the
check it is told to do (the middle of a leading cause's band), posts it, and waits for the glance
(verdict and ranked causes) and for the whole answer (the next check). In between it asks a
handler that does nothing, so that each figure stands beside what the machine and the network
cost at that moment. Service and phones share this machine, loopback between them.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import random
import socket
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from pathlib import Path
from typing import Any

import httpx

PHONES, READINGS, THINK_S = 20, 4, 30.0
CLASSES = ("sport-600-1000", "atv", "scooter-50-125", "twin-250-400", "snowmobile")
COMPLAINTS = ("battery_goes_flat", None)
Times = dict[str, list[float]]


async def phone(
    client: httpx.AsyncClient, number: int, readings: int, think_s: float, times: Times
) -> None:
    """Do one job as a technician would, and note how long each answer took."""
    draw = random.Random(number)
    new: dict[str, Any] = {"class": CLASSES[number % len(CLASSES)], "meter": {"card": "trms-6000"}}
    if (kind := COMPLAINTS[number % len(COMPLAINTS)]) is not None:
        new["complaint"] = {"kind": kind}
    job = (await client.post("/jobs", json=new)).json()["id"]
    page = await whole_answer(client, job, 1)
    await asyncio.sleep(draw.uniform(0.0, think_s))  # nobody begins at the same moment
    for count in range(readings):
        step = page["bench"]["step"] if page["bench"] else None
        if step is None:
            return
        began = time.perf_counter()
        await client.get("/service")
        times["empty handler"].append(time.perf_counter() - began)
        sent = {"id": f"b{number}-{count}", "check": step["check"], "text": typed(step, draw)}
        began = time.perf_counter()
        answer = await client.post(f"/jobs/{job}/readings", json=sent)
        times["acknowledged"].append(time.perf_counter() - began)
        if answer.status_code != 201:
            raise SystemExit(f"{job}: {answer.text}")
        revision = answer.json()["revision"]
        seen = await client.get(f"/jobs/{job}/glance", params={"revision": revision, "wait_s": 30})
        kind = "verdict and causes" if seen.status_code == 200 else "no glance"
        times[kind].append(time.perf_counter() - began)
        page = await whole_answer(client, job, revision)
        times["next check"].append(time.perf_counter() - began)
        await asyncio.sleep(draw.uniform(0.5, 1.5) * think_s)


async def whole_answer(client: httpx.AsyncClient, job: str, revision: int) -> dict[str, Any]:
    """Return the assessment of a revision, however long it takes."""
    while True:
        params = {"revision": revision, "wait_s": 30}
        answer = await client.get(f"/jobs/{job}/assessment", params=params)
        if answer.status_code == 200:
            found: dict[str, Any] = answer.json()
            return found


def typed(step: dict[str, Any], draw: random.Random) -> str:
    """Return what the meter would show under one of the leading causes."""
    band = draw.choice(step["expected"])
    if step["function"] == "look":
        return "yes" if (band["sign"] or 0.0) > 0.5 else "no"
    if band["middle"] is None:
        return "OL"
    return f"{float(format(band['middle'], '.4g')):f} {step['unit']}"


async def load(port: int, phones: int, readings: int, think_s: float) -> Times:
    """Return the times of all phones together."""
    times: Times = defaultdict(list)
    limits = httpx.Limits(max_connections=None)
    async with httpx.AsyncClient(
        base_url=f"http://127.0.0.1:{port}/api/v1", timeout=300.0, limits=limits
    ) as client:
        for _ in range(600):
            with contextlib.suppress(httpx.TransportError):
                await client.get("/service")
                break
            await asyncio.sleep(0.1)
        work = (phone(client, n, readings, think_s, times) for n in range(phones))
        await asyncio.gather(*work)
    return times


def share(values: list[float], part: float) -> float:
    """Return the value below which ``part`` of them lie."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(part * len(ordered)))]


def main() -> None:
    """Serve, load, print a table."""
    given = sys.argv[1:]
    phones = int(given[0]) if given else PHONES
    readings = int(given[1]) if len(given) > 1 else READINGS
    think_s = float(given[2]) if len(given) > 2 else THINK_S
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "jobs.sqlite"
        command = [sys.executable, "-m", "chargewright.cli", "serve", "--store", str(store)]
        service = subprocess.Popen([*command, "--port", str(port)], stdout=subprocess.DEVNULL)
        try:
            times = asyncio.run(load(port, phones, readings, think_s))
        finally:
            service.terminate()
            service.wait(30)
    print(f"{phones} phones, {readings} readings each, {think_s:g} s apart on average")
    print(f"load of this machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    empty = share(times["empty handler"], 0.95)
    print(f"{'':22}{'n':>5}{'50 %':>10}{'95 %':>10}{'99 %':>10}{'95 % / empty':>14}")
    for name, values in times.items():
        ends = [share(values, part) * 1e3 for part in (0.5, 0.95, 0.99)]
        row = "".join(f"{one:8.0f} ms" for one in ends)
        print(f"{name:22}{len(values):5}{row}{ends[1] / empty / 1e3:12.1f}")


if __name__ == "__main__":
    main()
