"""What the routes share: the store, the ledger, answers, events, and the thread that writes."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Annotated, Any, TypeVar, cast

from fastapi import Depends, Request
from starlette.concurrency import run_in_threadpool

from chargewright.jobs.store import JobStore, Saved
from chargewright.web.answers import Answers
from chargewright.web.hub import Hub
from chargewright.web.ledger import Ledger
from chargewright.web.models import ErrorAnswer, Revision
from chargewright.web.pairing import Pairing
from chargewright.web.settings import Settings

T = TypeVar("T")

# What any call may answer besides its own; the API's description lists them.
ERRORS: dict[int | str, dict[str, Any]] = {
    status: {"model": ErrorAnswer, "description": text}
    for status, text in (
        (400, "No JSON."),
        (401, "This phone has not been paired."),
        (403, "A host or page that the service does not know."),
        (404, "There is no such thing; the message names the nearest."),
        (409, "Two people said different things: both sides."),
        (413, "The body is above its limit."),
        (415, "A body of another kind than is read here."),
        (422, "A field or reading cannot be used, or must not be measured."),
        (429, "Too many wrong codes."),
        (503, "The store cannot be read or written, or a computation broke off."),
    )
}


@dataclass(slots=True, kw_only=True)
class Context:
    """Everything one service has."""

    settings: Settings
    store: JobStore
    ledger: Ledger
    hub: Hub
    answers: Answers
    pairing: Pairing | None
    writer: ThreadPoolExecutor  # one thread: writers queue here instead of in SQLite

    async def write(self, work: Callable[[], T]) -> T:
        """Do something that writes into the store, and tell the listeners."""
        done = await asyncio.get_running_loop().run_in_executor(self.writer, work)
        self.hub.poke()
        return done

    async def read(self, work: Callable[[], T]) -> T:
        """Do something that reads."""
        return await run_in_threadpool(work)

    async def alter(self, job: str, work: Callable[[], Saved]) -> Revision:
        """Change a card, have it assessed, and return its revision."""
        saved = await self.write(work)
        self.answers.want(job, saved.revision)
        return Revision(revision=saved.revision, changed=saved.changed)


def context_of(request: Request) -> Context:
    """Return the context of the service that a request came to."""
    return cast(Context, request.app.state.context)


Here = Annotated[Context, Depends(context_of)]
