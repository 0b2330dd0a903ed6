"""Every error in one form, with the text that the command line shows."""

from __future__ import annotations

import logging
from collections.abc import Awaitable, Callable, Mapping
from contextvars import ContextVar
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel
from starlette.exceptions import HTTPException
from starlette.routing import Match

from chargewright.errors import (
    ChargewrightError,
    ConflictError,
    ImpossibleReadingsError,
    InputError,
    MissingError,
    ReadingError,
    StoreError,
    UnsafeCheckError,
)
from chargewright.jobs.refusal import json_path, sentence
from chargewright.texts.catalogue import ENGLISH
from chargewright.texts.speech import speech

log = logging.getLogger("chargewright.web")
SPOKEN = ContextVar("spoken", default=ENGLISH)
"""The language of who asks, set for each request by the guard."""

KINDS: tuple[tuple[type[ChargewrightError], int, str], ...] = (
    (MissingError, 404, "not_found"),
    (ConflictError, 409, "conflict"),
    (UnsafeCheckError, 422, "unsafe"),
    (ImpossibleReadingsError, 422, "impossible"),
    (ReadingError, 422, "reading"),
    (InputError, 422, "input"),
    (StoreError, 503, "store"),
)
BY_STATUS = {
    400: "bad_request",
    401: "not_paired",
    403: "forbidden",
    404: "not_found",
    405: "method",
    413: "too_large",
    415: "media_type",
    422: "input",
    429: "too_many_tries",
    503: "busy",
}
DEFECT = "the program has failed here; please report what you were doing"


class Problem(Exception):  # noqa: N818 - as RFC 9457 calls it
    """An error that only the service has: who asks, how much, how often."""

    def __init__(self, status: int, message: str, **more: object) -> None:
        super().__init__(message)
        self.status = status
        self.more = more


def problem_json(status: int, code: str, message: str, **more: object) -> JSONResponse:
    """Return the answer that tells of an error, in the language of who asks."""
    told = speech(SPOKEN.get()).said(one_line(message))
    error: dict[str, object] = {"code": code, "message": told, **more}
    headers = {
        "Cache-Control": "no-store",
        "Content-Language": SPOKEN.get(),
        "Vary": "Accept-Language",
    }
    if isinstance(wait := more.get("retry_after_s"), int):
        headers["Retry-After"] = str(wait)
    return JSONResponse({"error": error}, status, headers)


def one_line(text: str) -> str:
    """Return ``text`` on one line, without signs that could steer a terminal."""
    return "".join(c if c.isprintable() else " " for c in " ".join(text.split()))


def told(error: ChargewrightError) -> JSONResponse:
    """Return the answer for an error of the library."""
    status, code = next((s, c) for kind, s, c in KINDS if isinstance(error, kind))
    more: dict[str, Any] = {}
    if isinstance(error, ConflictError):
        more = {"yours": error.yours, "here": error.here}
    return problem_json(status, code, str(error), **more)


def _validation(error: RequestValidationError) -> JSONResponse:
    findings: list[Mapping[str, Any]] = list(error.errors())
    first = findings[0]
    if first["type"] == "json_invalid":
        why = first.get("ctx", {}).get("error", "")
        return problem_json(400, "bad_request", f"body: no JSON: {why}")
    where, *rest = first["loc"]
    path = json_path(tuple(rest))
    line = f"{where}{': ' + path if path else ''}: {sentence(first, BaseModel)}"
    if len(findings) > 1:
        line += f" (and {len(findings) - 1} more)"
    return problem_json(422, "input", line, field=path or str(where))


def add_problems(app: FastAPI) -> None:
    """Let every error of ``app`` end in the one form."""

    def on(kind: type[Exception]) -> Callable[[Handler], Handler]:
        return app.exception_handler(kind)

    @on(ChargewrightError)
    async def _ours(_request: Request, error: Any) -> JSONResponse:  # noqa: ANN401
        return told(error)

    @on(Problem)
    async def _service(_request: Request, error: Any) -> JSONResponse:  # noqa: ANN401
        return problem_json(error.status, BY_STATUS[error.status], str(error), **error.more)

    @on(RequestValidationError)
    async def _fields(_request: Request, error: Any) -> JSONResponse:  # noqa: ANN401
        return _validation(error)

    @on(HTTPException)
    async def _http(request: Request, error: Any) -> JSONResponse:  # noqa: ANN401
        status = error.status_code
        text = {
            404: f"nothing is at {request.url.path!r}",
            405: f"{request.method} is not possible at {request.url.path!r}",
        }.get(status, str(error.detail))
        answer = problem_json(status, BY_STATUS.get(status, "bad_request"), text)
        answer.headers.update(error.headers or {})
        if status == 405:
            answer.headers["Allow"] = ", ".join(sorted(_methods(request)))
        return answer

    @on(Exception)
    async def _defect(request: Request, error: Any) -> JSONResponse:  # noqa: ANN401
        log.error("%s %s: %r", request.method, request.url.path, error)
        return problem_json(500, "defect", DEFECT)


def _methods(request: Request) -> set[str]:
    """Return every method that the path of a request has."""
    found: set[str] = set()
    for route in request.app.routes:
        if route.matches(request.scope)[0] is not Match.NONE:
            found |= getattr(route, "methods", None) or set()
    return found


Handler = Callable[[Request, Any], Awaitable[JSONResponse]]
