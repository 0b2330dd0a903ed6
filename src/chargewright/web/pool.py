"""Worker processes: the server's own process never computes, so that it always answers.

A job goes to the same worker each time, where its population is warm. A worker that dies is
started again and what it was doing is asked once more.
"""

from __future__ import annotations

import contextlib
import itertools
import multiprocessing as mp
import signal
import threading
import zlib
from collections.abc import Callable
from concurrent.futures import Future, InvalidStateError
from functools import partial
from multiprocessing.connection import Connection
from typing import Any, Protocol

from chargewright.errors import ChargewrightError
from chargewright.web.lanes import LONG, Lanes

Make = Callable[[], object]  # returns the object whose methods are called; must be importable


class WorkerError(Exception):
    """A worker ended, or something in it failed that is no error of the input."""


class Desk(Protocol):
    """Something that computes: ``name`` is a method of the reckoner."""

    def ask(
        self, name: str, *args: object, key: str = "", lane: str = LONG, rank: int = 0
    ) -> Future[Any]:
        """Return the future of one piece of work; equal keys go to the same place."""

    def close(self) -> None:
        """End everything."""


class HereDesk:
    """Computes in this process."""

    def __init__(self, make: Make) -> None:
        self._lanes = Lanes()
        self._reckoner = make()

    def ask(
        self, name: str, *args: object, key: str = "", lane: str = LONG, rank: int = 0
    ) -> Future[Any]:
        """Return the future of one piece of work."""
        work = getattr(self._reckoner, name)
        return self._lanes.submit(partial(work, *args), lane=lane, rank=rank)

    def close(self) -> None:
        """End the threads."""
        self._lanes.close()


class Pool:
    """Computes in ``workers`` processes."""

    def __init__(self, make: Make, workers: int) -> None:
        self._make = make
        self._workers = [_Worker(make) for _ in range(workers)]

    def ask(
        self, name: str, *args: object, key: str = "", lane: str = LONG, rank: int = 0
    ) -> Future[Any]:
        """Return the future of one piece of work; equal keys go to the same worker."""
        place = zlib.crc32(key.encode()) % len(self._workers)
        if not key:
            place = min(range(len(self._workers)), key=lambda n: self._workers[n].busy)
        return self._workers[place].ask((name, args, lane, rank))

    def close(self) -> None:
        """End the processes."""
        for worker in self._workers:
            worker.close()


Call = tuple[str, tuple[object, ...], str, int]


class _Worker:
    """One process, the pipe to it and what it has been asked."""

    def __init__(self, make: Make) -> None:
        self._make = make
        self._numbers = itertools.count()
        self._lock = threading.Lock()
        self._open: dict[int, tuple[Call, Future[Any], bool]] = {}
        self._closed = False
        self._start()

    @property
    def busy(self) -> int:
        """How many answers are outstanding."""
        return len(self._open)

    def ask(
        self, call: Call, *, again: bool = False, future: Future[Any] | None = None
    ) -> Future[Any]:
        """Send a call and return the future of its answer."""
        future = future or Future()
        with self._lock:
            number = next(self._numbers)
            self._open[number] = (call, future, again)
            with contextlib.suppress(OSError, ValueError):  # the listener sees the end, asks again
                self._pipe.send((number, *call))
        return future

    def close(self) -> None:
        """Let the process end by itself; it does when the pipe closes."""
        self._closed = True
        self._pipe.close()
        self._process.join(timeout=5.0)
        if self._process.is_alive():
            self._process.kill()
            self._process.join()

    def _start(self) -> None:
        context = mp.get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self._process = context.Process(
            target=serve_pipe, args=(theirs, self._make), name="reckoner", daemon=True
        )
        self._process.start()
        theirs.close()
        listener = threading.Thread(
            target=self._listen, args=(self._pipe,), name="listen", daemon=True
        )
        listener.start()

    def _listen(self, pipe: Connection) -> None:
        while True:
            try:
                number, good, value = pipe.recv()
            except (EOFError, OSError, TypeError):  # TypeError: closed here while it was read
                break
            with self._lock:
                _, future, _ = self._open.pop(number)
            with contextlib.suppress(InvalidStateError):  # nobody waits for it any more
                if good:
                    future.set_result(value)
                else:
                    future.set_exception(value)
        if not self._closed:
            self._restart()

    def _restart(self) -> None:
        with self._lock:
            left, self._open = list(self._open.values()), {}
            self._process.join(timeout=1.0)
            self._start()
        for call, future, again in left:
            if again:
                future.set_exception(WorkerError("a worker ended twice over the same question"))
            else:
                self.ask(call, again=True, future=future)


def serve_pipe(pipe: Connection, make: Make) -> None:
    """Answer calls from a pipe until it closes, as it does when the server ends or is killed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the server's business
    lanes, reckoner, sending = Lanes(), make(), threading.Lock()

    def answer(number: int, future: Future[Any]) -> None:
        error = future.exception()
        if error is not None and not isinstance(error, ChargewrightError):
            error = WorkerError(f"{type(error).__name__}: {error}")
        value = future.result() if error is None else error
        with sending, contextlib.suppress(OSError):  # the server may be gone
            pipe.send((number, error is None, value))

    while True:
        try:
            number, name, args, lane, rank = pipe.recv()
        except (EOFError, OSError):
            return
        work = partial(getattr(reckoner, name), *args)
        future = lanes.submit(work, lane=lane, rank=rank)
        future.add_done_callback(partial(answer, number))
