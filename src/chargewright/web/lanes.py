"""Where computing is done: quick answers and long ones on threads of their own.

The same lanes run inside a worker process (``pool.py``) or, for tests and small services, in the
process that serves.
"""

from __future__ import annotations

import contextlib
import itertools
import os
import sys
import threading
from collections.abc import Callable
from concurrent.futures import Future
from queue import PriorityQueue
from typing import Any

Work = Callable[[], Any]
QUICK, LONG = "quick", "long"
THREADS = {QUICK: 2, LONG: 1}
LATER = 10  # niceness of the long lane: planning gives way to whoever stands at the bench


class Lanes:
    """Two queues with threads: ``quick`` for who is waiting at the bench, ``long`` for the rest.

    In each the lowest ``rank`` goes first, equals in the order they came.
    """

    def __init__(self) -> None:
        self._count = itertools.count()
        self._queues: dict[str, PriorityQueue[tuple[int, int, Work | None, Future[Any]]]] = {
            lane: PriorityQueue() for lane in THREADS
        }
        self._threads = [
            threading.Thread(target=self._run, args=(lane,), name=f"reckon-{lane}", daemon=True)
            for lane, number in THREADS.items()
            for _ in range(number)
        ]
        for thread in self._threads:
            thread.start()

    def submit(self, work: Work, *, lane: str = LONG, rank: int = 0) -> Future[Any]:
        """Queue a piece of work and return its future."""
        future: Future[Any] = Future()
        self._queues[lane].put((rank, next(self._count), work, future))
        return future

    def close(self) -> None:
        """End the threads once they are idle; what is queued behind is not begun."""
        for lane, number in THREADS.items():
            for _ in range(number):
                self._queues[lane].put((-(10**9), next(self._count), None, Future()))
        for thread in self._threads:
            thread.join(timeout=10.0)

    def _run(self, lane: str) -> None:
        if lane == LONG:
            _give_way()
        while True:
            _, _, work, future = self._queues[lane].get()
            if work is None:
                return
            if not future.set_running_or_notify_cancel():
                continue
            try:
                future.set_result(work())
            except BaseException as error:  # whoever waits for the future gets it
                future.set_exception(error)


def _give_way() -> None:
    """Let other threads go first. Linux counts niceness by thread, and new threads inherit it."""
    if sys.platform == "linux":
        with contextlib.suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), LATER)
