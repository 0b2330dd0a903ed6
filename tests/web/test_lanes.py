"""The long lane gives way to who waits at the bench; in each lane the lowest rank goes first."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator

import pytest

from chargewright.web.lanes import LATER, LONG, QUICK, Lanes


@pytest.fixture
def lanes() -> Iterator[Lanes]:
    both = Lanes()
    yield both
    both.close()


def niceness() -> int:
    """Return the niceness of this thread."""
    return os.getpriority(os.PRIO_PROCESS, threading.get_native_id())


@pytest.mark.skipif(sys.platform != "linux", reason="niceness goes by thread on Linux alone")
def test_planning_gives_way_to_who_waits(lanes: Lanes) -> None:
    own = niceness()
    assert lanes.submit(niceness, lane=QUICK).result(5.0) == own
    assert lanes.submit(niceness, lane=LONG).result(5.0) == min(LATER, 19)
    assert niceness() == own


def test_the_lowest_rank_goes_first(lanes: Lanes) -> None:
    told: list[str] = []
    gate = threading.Event()
    first = lanes.submit(gate.wait, lane=LONG)
    later = [
        lanes.submit(lambda name=name: told.append(name), lane=LONG, rank=rank)
        for name, rank in (("ahead", 9), ("assess", 0), ("aside", 5))
    ]
    gate.set()
    for one in (first, *later):
        one.result(5.0)
    assert told == ["assess", "aside", "ahead"]
