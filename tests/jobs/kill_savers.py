"""Kills a saving process at random moments and looks at what it left behind.

Run as ``python kill_savers.py card|store FOLDER TIMES SEED``; prints one JSON line per kill:
the last save that was acknowledged, and the one found. A process of its own, because it forks.
"""

from __future__ import annotations

import itertools
import json
import os
import random
import signal
import sqlite3
import struct
import sys
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from chargewright.jobs.card import JobCard
from chargewright.jobs.codec import card_from_dict
from chargewright.jobs.files import load_card, save_card
from chargewright.jobs.store import JobStore

BULK = 20_000  # characters of notes, so that a save takes several writes
NUMBER = struct.Struct("<q")
Save = Callable[[JobCard], object]


def a_card() -> JobCard:
    """A card of some size; its seed counts the saves."""
    readings = [
        {
            "id": f"r{number}",
            "function": "dc_v",
            "plus": "battery_pos",
            "minus": "battery_neg",
            "shown": {"value": 12.6, "unit": "V"},
        }
        for number in range(20)
    ]
    return card_from_dict(
        {
            "card_version": 1,
            "id": "job-1",
            "created": "2026-08-01T10:00:00Z",
            "machine": {"class": "atv", "label": "green"},
            "readings": readings,
            "notes": "y" * BULK,
        }
    )


def save_for_ever(save: Save, start: JobCard, acknowledge: int) -> None:
    """Save card after card, telling each number once its save has returned."""
    for number in itertools.count(start.seed + 1):
        save(start.changed(seed=number))
        os.write(acknowledge, NUMBER.pack(number))


def last_acknowledged_before_kill(
    open_save: Callable[[], Save], start: JobCard, wait_s: float
) -> int:
    """Fork a saver, kill it ``wait_s`` after its first save, return its last word."""
    hear, tell = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            save_for_ever(open_save(), start, tell)
        finally:
            os._exit(1)
    os.close(tell)
    with open(hear, "rb", buffering=0) as heard:
        words = heard.read(NUMBER.size)  # blocks until the first save
        time.sleep(wait_s)
        os.kill(child, signal.SIGKILL)
        words += heard.read()
    _, status = os.waitpid(child, 0)
    if not os.WIFSIGNALED(status):
        raise SystemExit(f"the saver ended by itself with status {status}")
    return int(NUMBER.unpack(words[-NUMBER.size :])[0])


def found_in_store(path: Path) -> JobCard:
    """Return the card in the store, after the database's own check of itself."""
    with closing(sqlite3.connect(path)) as connection:
        verdict = connection.execute("PRAGMA integrity_check").fetchone()[0]
        dangling = connection.execute("PRAGMA foreign_key_check").fetchall()
    if verdict != "ok" or dangling:
        raise SystemExit(f"integrity check: {verdict} {dangling}")
    with JobStore(path) as store:
        card = store.load("job-1")
        (track,) = store.history("green")
    if len(track.readings) != len(card.readings):
        raise SystemExit(
            f"{len(track.readings)} readings in the table, {len(card.readings)} on card"
        )
    return card


def main(kind: str, folder: str, times: str, seed: str) -> None:
    """Kill ``times`` savers one after the other."""
    path = Path(folder) / ("job.json" if kind == "card" else "jobs.db")
    moments = random.Random(int(seed))
    card = a_card()
    for _ in range(int(times)):
        if kind == "card":
            told = last_acknowledged_before_kill(
                lambda: lambda new: save_card(new, path), card, moments.uniform(0, 0.04)
            )
            card = load_card(path)
        else:
            told = last_acknowledged_before_kill(
                lambda: JobStore(path).save, card, moments.uniform(0, 0.04)
            )
            card = found_in_store(path)
        sys.stdout.write(json.dumps([told, card.seed, len(card.notes)]) + "\n")


if __name__ == "__main__":
    main(*sys.argv[1:])
