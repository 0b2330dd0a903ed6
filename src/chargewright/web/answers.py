"""Assessments of jobs: begun when something changes, kept while it holds, waited for by phones."""

from __future__ import annotations

import asyncio
import contextlib
import json
import logging
from collections import OrderedDict
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import Any

from starlette.concurrency import run_in_threadpool

from chargewright.errors import ChargewrightError, StoreError
from chargewright.jobs.codec import pretty_json
from chargewright.jobs.store import JobStore
from chargewright.web.hub import Event, Hub
from chargewright.web.lanes import LONG, QUICK
from chargewright.web.own import workshop_of
from chargewright.web.pool import Desk, WorkerError
from chargewright.web.problems import Problem
from chargewright.web.reckon import Standing
from chargewright.web.settings import Settings

log = logging.getLogger("chargewright.web")

MOST_KEPT = 200  # answers, a few ten kB each
ASSESS, ASIDE, AHEAD = 0, 5, 9  # ranks in the long lane
FAILED = "this could not be worked out; please report it with the card"


@dataclass(slots=True)
class _Kept:
    """What is known of one job, and who is at it. Texts are JSON."""

    wanted: int = 0
    revision: int = 0
    text: str | None = None
    glance_revision: int = 0
    glance: str | None = None
    task: asyncio.Task[None] | None = None
    news: asyncio.Condition = field(default_factory=asyncio.Condition)


class Answers:
    """The assessments of one service."""

    def __init__(self, store: JobStore, hub: Hub, desk: Desk, settings: Settings) -> None:
        self._store = store
        self._hub = hub
        self._desk = desk
        self._settings = settings
        self._kept: OrderedDict[str, _Kept] = OrderedDict()

    def want(self, job: str, revision: int) -> None:
        """Have a job assessed at this revision or a later one."""
        kept = self._of(job)
        kept.wanted = max(kept.wanted, revision)
        idle = kept.task is None or kept.task.done()
        if self._settings.assess and idle and kept.revision < kept.wanted:
            kept.task = asyncio.create_task(self._work(job, kept))

    async def stop(self) -> None:
        """Leave what is under way."""
        tasks = [one.task for one in self._kept.values() if one.task is not None]
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)

    def known(self, job: str) -> str | None:
        """Return the newest assessment at hand as JSON text."""
        kept = self._kept.get(job)
        return None if kept is None else kept.text

    def forget(self, job: str | None = None) -> None:
        """Drop what is known of a job, or of all of them when prices have changed."""
        for name in [job] if job is not None else list(self._kept):
            kept = self._kept.get(name)
            if kept is not None:
                kept.revision, kept.text, kept.glance_revision, kept.glance = 0, None, 0, None

    async def assessed(self, job: str, revision: int, wait_s: float) -> str | None:
        """Return the assessment of ``revision`` or later as JSON text; None when not in time."""
        self.want(job, revision)
        kept = self._of(job)
        return await self._wait(kept, revision, wait_s)

    async def glance(self, job: str, revision: int, wait_s: float) -> str | None:
        """Return what can be said at once of ``revision`` or later; None when not in time.

        None also once the assessment itself is there: a glance that was left out never comes.
        """
        self.want(job, revision)
        kept = self._of(job)

        def there() -> bool:
            return kept.glance is not None and kept.glance_revision >= revision

        async with kept.news:
            with contextlib.suppress(TimeoutError):
                waited = kept.news.wait_for(lambda: there() or kept.revision >= max(revision, 1))
                await asyncio.wait_for(waited, wait_s)
            return kept.glance if there() else None

    async def ask(self, name: str, job: str, *args: object, lane: str = QUICK) -> Any:  # noqa: ANN401
        """Ask the job's worker something for somebody who waits; the answer is plain data."""
        standing = await run_in_threadpool(self._standing, job)
        return await self.reckon(name, standing, *args, key=job, lane=lane)

    async def reckon(
        self, name: str, *args: object, key: str = "", lane: str = LONG, rank: int = ASIDE
    ) -> Any:  # noqa: ANN401
        """Ask a worker; errors of the library come as they are, others as a defect."""
        future: Future[Any] = self._desk.ask(name, *args, key=key, lane=lane, rank=rank)
        try:
            return await asyncio.wrap_future(future)
        except WorkerError as error:
            log.error("%s: %s", name, error)
            raise Problem(503, "the computation was broken off; try it again") from error

    async def _wait(self, kept: _Kept, revision: int, wait_s: float) -> str | None:
        def ready() -> bool:
            return kept.text is not None and kept.revision >= revision

        async with kept.news:
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(kept.news.wait_for(ready), wait_s)
            return kept.text if ready() else None

    def _of(self, job: str) -> _Kept:
        kept = self._kept.setdefault(job, _Kept())
        self._kept.move_to_end(job)
        for name in list(self._kept)[: max(0, len(self._kept) - MOST_KEPT)]:
            task = self._kept[name].task
            if task is None or task.done():
                del self._kept[name]
        return kept

    def _standing(self, job: str) -> Standing:
        card, revision = self._store.load_with_revision(job)
        workshop = workshop_of(self._store, self._settings.workshop)
        return Standing(job=job, revision=revision, card=pretty_json(card), workshop=workshop)

    async def _work(self, job: str, kept: _Kept) -> None:
        while kept.revision < kept.wanted:
            try:
                standing = await run_in_threadpool(self._standing, job)
                await self._once(job, kept, standing)
            except StoreError:
                return  # removed, or the store is away: whoever waits is told by the store
            except Exception as error:
                log.error("assessment of %s: %r", job, error)
                return

    async def _once(self, job: str, kept: _Kept, standing: Standing) -> None:
        await self._look(job, kept, standing)
        snapshot = None
        try:
            text, snapshot = await self.reckon("assess", standing, key=job, rank=ASSESS)
        except (ChargewrightError, Problem) as error:
            code = "defect" if isinstance(error, Problem) else "input"
            text = error_text(standing, code, str(error))
        await self._publish(kept, text, standing.revision)
        self._hub.tell(job, Event("assessment", text))
        if snapshot is not None:
            await run_in_threadpool(self._store.keep_advice, job, standing.revision, snapshot)
            self._desk.ask("anticipate", standing, key=job, rank=AHEAD)

    async def _look(self, job: str, kept: _Kept, standing: Standing) -> None:
        with contextlib.suppress(ChargewrightError, Problem):  # the assessment tells them
            text = await self.reckon("glance", standing, key=job, lane=QUICK)
            if text is not None:
                async with kept.news:
                    kept.glance, kept.glance_revision = text, standing.revision
                    kept.news.notify_all()
                self._hub.tell(job, Event("glance", text))

    async def _publish(self, kept: _Kept, text: str, revision: int) -> None:
        async with kept.news:
            kept.text, kept.revision = text, revision
            kept.news.notify_all()


def error_text(standing: Standing, code: str, message: str) -> str:
    """Return ``Assessed`` for a job that cannot be assessed."""
    return json.dumps(
        {
            "job": standing.job,
            "revision": standing.revision,
            "assessment": None,
            "bench": None,
            "error": {"code": code, "message": message if code == "input" else FAILED},
        }
    )
