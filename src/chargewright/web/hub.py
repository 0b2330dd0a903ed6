"""Who is listening to which job, and what they are told."""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator
from dataclasses import dataclass

from starlette.concurrency import run_in_threadpool

from chargewright.errors import StoreError
from chargewright.jobs.changes import Change, Kind, changes_after, last_change
from chargewright.jobs.store import JobStore

MOST_WAITING = 200  # events for a phone that does not read; it is let go then


@dataclass(frozen=True, slots=True)
class Event:
    """One server-sent event; ``seq`` makes it resumable."""

    name: str
    data: str
    seq: int | None = None

    def text(self) -> str:
        """Return the event in the form of the event stream (WHATWG HTML, server-sent events)."""
        number = "" if self.seq is None else f"id: {self.seq}\n"
        return f"{number}event: {self.name}\ndata: {self.data}\n\n"


def change_event(change: Change) -> Event:
    """Return the event that tells of a change."""
    if change.kind == Kind.REMOVED:
        return Event("removed", json.dumps({"job": change.job_id}), change.seq)
    data = {
        "job": change.job_id,
        "revision": change.revision,
        "change": change.kind,
        "what": change.what,
        "at": change.at,
    }
    return Event("job", json.dumps(data), change.seq)


class Listener:
    """One open stream. ``job`` None listens to the list of all jobs."""

    def __init__(self, job: str | None) -> None:
        self.job = job
        self.queue: asyncio.Queue[Event | None] = asyncio.Queue(MOST_WAITING)

    def put(self, event: Event | None) -> None:
        """Queue an event; a full queue ends the stream, and the phone begins anew."""
        if self.queue.full():
            self.queue.get_nowait()
            event = None
        self.queue.put_nowait(event)


class Hub:
    """Passes on what the store's record of changes says, whoever wrote it."""

    def __init__(self, store: JobStore, *, watch_s: float) -> None:
        self._store = store
        self._watch_s = watch_s
        self._listeners: set[Listener] = set()
        self._seq = 0
        self._wake = asyncio.Event()
        self._task: asyncio.Task[None] | None = None

    async def start(self) -> None:
        """Begin to follow the store."""
        self._seq = await run_in_threadpool(self._last)
        self._task = asyncio.create_task(self._follow())

    async def stop(self) -> None:
        """End all streams."""
        if self._task is not None:
            self._task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._task
        self.end_streams()

    def end_streams(self) -> None:
        """Let every open stream end, so that the server can."""
        for listener in self._listeners:
            listener.put(None)

    def poke(self) -> None:
        """Look for changes now."""
        self._wake.set()

    def tell(self, job: str, event: Event) -> None:
        """Send an event to those who look at one job."""
        for listener in self._listeners:
            if listener.job == job:
                listener.put(event)

    async def listen(
        self, job: str | None, first: list[Event], *, after: int | None, heartbeat_s: float
    ) -> AsyncIterator[str]:
        """Yield the text of a stream: ``first``, what was missed after a number, what comes."""
        listener = Listener(job)
        self._listeners.add(listener)
        try:
            seen = 0
            for event in first:
                yield event.text()
            if after is not None:
                for change in await run_in_threadpool(self._after, after, job):
                    seen = change.seq
                    yield change_event(change).text()
            while True:
                try:
                    event_or_end = await asyncio.wait_for(listener.queue.get(), heartbeat_s)
                except TimeoutError:
                    yield ": still here\n\n"
                    continue
                if event_or_end is None:
                    return
                if event_or_end.seq is None or event_or_end.seq > seen:
                    yield event_or_end.text()
        finally:
            self._listeners.discard(listener)

    async def _follow(self) -> None:
        while True:
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self._wake.wait(), self._watch_s)
            woken = self._wake.is_set()
            self._wake.clear()
            if not (self._listeners or woken):
                continue
            with contextlib.suppress(StoreError):  # busy or away: looked at again soon
                for change in await run_in_threadpool(self._after, self._seq, None):
                    self._seq = change.seq
                    event = change_event(change)
                    for listener in self._listeners:
                        if listener.job in (None, change.job_id):
                            listener.put(event)

    def _last(self) -> int:
        with self._store.reading() as connection:
            return last_change(connection)

    def _after(self, seq: int, job: str | None) -> tuple[Change, ...]:
        with self._store.reading() as connection:
            return changes_after(connection, seq, job_id=job)
