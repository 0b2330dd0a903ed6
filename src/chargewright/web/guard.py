"""What every request has to pass, and what every answer carries. Pure ASGI, before any route."""

from __future__ import annotations

import re
from collections.abc import Awaitable, Callable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from ipaddress import ip_address
from typing import Any

from starlette.exceptions import HTTPException

from chargewright.jobs.photos import MAX_PHOTO_BYTES
from chargewright.texts.speech import preferred
from chargewright.web.pairing import COOKIE, Pairing
from chargewright.web.problems import SPOKEN, problem_json
from chargewright.web.settings import API, HOME_NAMES, Settings

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
OPEN = frozenset({f"{API}/service", f"{API}/pair"})  # before pairing; GET /pair looks itself
MAX_BODY = 300_000
PHOTO = re.compile(rf"{API}/jobs/[^/]+/photos/")
LIMITS = (
    (PHOTO, MAX_PHOTO_BYTES),
    (re.compile(rf"{API}/jobs/import$"), 5_000_000),
    (re.compile(rf"{API}/energy/ride$"), 5_000_000),
)
HEADERS = (
    (
        b"content-security-policy",
        b"default-src 'self'; img-src 'self' data: blob:; object-src 'none'; base-uri 'none'; "
        b"form-action 'self'; frame-ancestors 'none'",
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"x-frame-options", b"DENY"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(self), geolocation=(), microphone=()"),
)


class TooLarge(HTTPException):
    """The body is above its limit."""

    def __init__(self, limit: int) -> None:
        super().__init__(413, f"body above {limit} bytes; expected at most that many")


class Guard:
    """Refuses strange hosts, foreign pages, phones nobody paired and bodies without end."""

    def __init__(self, app: App, settings: Settings, pairing: Pairing | None) -> None:
        self.app = app
        self.settings = settings
        self.pairing = pairing
        names = {*HOME_NAMES, *settings.names}
        self.hosts = {name.lower() for name in names}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or answer with the reason why not."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = {name: value.decode("latin-1") for name, value in scope["headers"]}
        SPOKEN.set(preferred(headers.get(b"accept-language")))

        async def sealed(message: Message) -> None:
            if message["type"] == "http.response.start":
                present = {name for name, _ in message.get("headers", [])}
                more = [pair for pair in HEADERS if pair[0] not in present]
                message = {**message, "headers": [*message.get("headers", []), *more]}
            await send(message)

        paired = scope["paired"] = is_home(scope) or self._paired(headers)
        refused = self._refused(scope, headers, paired)
        if refused is not None:
            await problem_json(*refused)(scope, receive, sealed)
            return
        if not _readable(scope, headers):
            refusal = problem_json(415, "media_type", "expected a body of application/json")
            await refusal(scope, receive, sealed)
            return
        limit = next((n for path, n in LIMITS if path.match(scope["path"])), MAX_BODY)
        declared = headers.get(b"content-length", "0")
        if declared.isascii() and declared.isdigit() and int(declared) > limit:
            too_large = problem_json(413, "too_large", TooLarge(limit).detail)
            await too_large(scope, receive, sealed)
            return
        await self.app(scope, _counted(receive, limit), sealed)

    def _paired(self, headers: dict[bytes, str]) -> bool:
        if self.pairing is None:
            return False
        try:
            cookies = SimpleCookie(headers.get(b"cookie", ""))
        except CookieError:
            return False
        return self.pairing.valid(cookies[COOKIE].value if COOKIE in cookies else None)

    def _refused(
        self, scope: Scope, headers: dict[bytes, str], paired: bool
    ) -> tuple[int, str, str] | None:
        host = headers.get(b"host", "")
        if _name(host) not in self.hosts:
            return 403, "forbidden", f"host {host[:80]!r} is not served here"
        if scope["method"] not in SAFE:
            origin = headers.get(b"origin")
            own = f"{scope['scheme']}://{host}"
            if origin is not None and origin.lower() != own.lower():
                return 403, "forbidden", f"a page of {origin[:80]!r} may not change anything here"
            if headers.get(b"sec-fetch-site", "same-origin") not in ("same-origin", "none"):
                return 403, "forbidden", "a page from elsewhere may not change anything here"
        path = scope["path"]
        if path.startswith("/api/") and path not in OPEN and not paired:
            return 401, "not_paired", "pair this phone first: type the code the service shows"
        return None


def _readable(scope: Scope, headers: dict[bytes, str]) -> bool:
    """Tell whether the body is of a kind the service reads: JSON, or a photo's bytes."""
    path = scope["path"]
    if scope["method"] not in ("POST", "PUT", "PATCH") or not path.startswith("/api/"):
        return True
    kind = headers.get(b"content-type", "").partition(";")[0].strip().lower()
    return kind in ("", "application/json") or PHOTO.match(path) is not None


def is_home(scope: Scope) -> bool:
    """Tell whether a request comes from the machine that serves."""
    client = scope.get("client")
    if client is None:
        return True  # a Unix socket
    try:
        return ip_address(client[0]).is_loopback
    except ValueError:
        return False


def _name(host: str) -> str:
    """Return a host header without its port, in lower case."""
    name, colon, port = host.rpartition(":")
    return (name if colon and port.isdigit() else host).lower()


def _counted(receive: Receive, limit: int) -> Receive:
    read = 0

    async def counted() -> Message:
        nonlocal read
        message = await receive()
        read += len(message.get("body", b""))
        if read > limit:
            raise TooLarge(limit)
        return message

    return counted
