"""Puts the service together."""

from __future__ import annotations

from collections.abc import AsyncIterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import asynccontextmanager
from typing import Any

from fastapi import APIRouter, FastAPI
from fastapi.openapi.utils import get_openapi

from chargewright.jobs.store import JobStore
from chargewright.version import __version__
from chargewright.web import (
    routes_energy,
    routes_jobs,
    routes_known,
    routes_own,
    routes_service,
    routes_shown,
    routes_work,
)
from chargewright.web.answers import Answers
from chargewright.web.context import ERRORS, Context
from chargewright.web.guard import Guard
from chargewright.web.hub import Hub
from chargewright.web.ledger import Ledger
from chargewright.web.pairing import Pairing
from chargewright.web.pool import Desk, HereDesk, Pool
from chargewright.web.problems import add_problems
from chargewright.web.reckon import Reckoner
from chargewright.web.settings import API, Settings
from chargewright.web.static import Files, assets

TITLE = "Chargewright"
ABOUT = "The workshop's jobs, on every phone of the house."


def create_app(settings: Settings, *, pairing: Pairing | None = None) -> FastAPI:
    """Return the service as an ASGI application. The store is opened when it starts."""
    if pairing is None and settings.key is not None:
        pairing = Pairing(settings.key)

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        with (
            JobStore(settings.store) as store,
            ThreadPoolExecutor(1, thread_name_prefix="write") as writer,
        ):
            hub = Hub(store, watch_s=settings.watch_s)
            desk: Desk = (
                Pool(Reckoner, settings.workers) if settings.workers else HereDesk(Reckoner)
            )
            app.state.context = Context(
                settings=settings,
                store=store,
                ledger=Ledger(store, settings.workshop),
                hub=hub,
                answers=Answers(store, hub, desk, settings),
                pairing=pairing,
                writer=writer,
            )
            await hub.start()
            try:
                yield
            finally:
                await hub.stop()
                await app.state.context.answers.stop()
                desk.close()

    app = FastAPI(
        title=TITLE,
        version=__version__,
        description=ABOUT,
        lifespan=lifespan,
        docs_url=None,  # their pages would be fetched from elsewhere
        redoc_url=None,
        openapi_url=f"{API}/openapi.json",
    )
    api = APIRouter(prefix=API, responses=ERRORS)
    for routes in (
        routes_service,
        routes_jobs,
        routes_work,
        routes_known,
        routes_own,
        routes_energy,
        routes_shown,
    ):
        api.include_router(routes.router)
    app.include_router(api)
    app.router.default = Files(assets())
    add_problems(app)
    app.add_middleware(Guard, settings=settings, pairing=pairing)
    app.openapi = lambda: description(app)  # type: ignore[method-assign]
    return app


def description(app: FastAPI) -> dict[str, Any]:
    """Return the OpenAPI document, the framework's own form of errors taken out."""
    if app.openapi_schema is None:
        made = get_openapi(
            title=app.title,
            version=app.version,
            description=app.description,
            routes=app.routes,
            openapi_version="3.1.0",
        )
        for name in ("HTTPValidationError", "ValidationError"):
            made["components"]["schemas"].pop(name, None)
        app.openapi_schema = made
    return app.openapi_schema
