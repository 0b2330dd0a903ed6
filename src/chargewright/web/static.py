"""The app's own files, from a table made once: no name in a request ever becomes a path."""

from __future__ import annotations

import gzip
import hashlib
import json
import mimetypes
from dataclasses import dataclass
from importlib.resources import files
from importlib.resources.abc import Traversable

from fastapi import Request, Response
from starlette.types import Receive, Scope, Send

from chargewright.texts.catalogue import languages, phone_file, section
from chargewright.web.problems import problem_json

TYPES = {
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".html": "text/html; charset=utf-8",
    ".json": "application/json",
    ".svg": "image/svg+xml",
    ".txt": "text/plain; charset=utf-8",
    ".webmanifest": "application/manifest+json",
    ".woff2": "font/woff2",
}
SQUEEZED = frozenset({".js", ".css", ".html", ".json", ".svg", ".txt", ".webmanifest"})


@dataclass(frozen=True, slots=True)
class Asset:
    """One file, ready to be sent."""

    data: bytes
    squeezed: bytes | None
    media_type: str
    tag: str


def assets() -> dict[str, Asset]:
    """Return every file of the app by the path it is served at."""
    root = files("chargewright.web") / "app"
    found: dict[str, Asset] = {}
    if root.is_dir():
        _gather(root, "/app", found)
    for path, name in (("/", "/app/index.html"), ("/sw.js", "/app/sw.js")):
        if name in found:
            found[path] = found[name]
    return found | _languages(root)


def _languages(root: Traversable) -> dict[str, Asset]:
    """Return each language's texts and manifest, from its one catalogue."""
    manifest = json.loads((root / "manifest.webmanifest").read_text("utf-8"))
    found = {}
    for code in languages():
        about = section(code, "app")["app.about"]
        texts, own = phone_file(code), manifest | {"lang": code, "description": about}
        found[f"/app/texts/{code}.json"] = _made(_json(texts), ".json")
        found[f"/app/texts/{code}.webmanifest"] = _made(_json(own), ".webmanifest")
    return found


def _json(value: object) -> bytes:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode()


def _gather(folder: Traversable, path: str, found: dict[str, Asset]) -> None:
    for entry in folder.iterdir():
        if entry.name.startswith("."):
            continue
        if entry.is_dir():
            _gather(entry, f"{path}/{entry.name}", found)
        else:
            found[f"{path}/{entry.name}"] = _asset(entry)


def _asset(entry: Traversable) -> Asset:
    return _made(entry.read_bytes(), "." + entry.name.rpartition(".")[2])


def _made(data: bytes, suffix: str) -> Asset:
    kind = TYPES.get(suffix) or mimetypes.guess_type(f"a{suffix}")[0] or "application/octet-stream"
    squeezed = gzip.compress(data, 9, mtime=0) if suffix in SQUEEZED else None
    tag = f'"{hashlib.sha256(data).hexdigest()[:20]}"'
    return Asset(data, squeezed, kind, tag)


class Files:
    """Answers every path that no route has: with a file of the app, or that nothing is there."""

    def __init__(self, table: dict[str, Asset]) -> None:
        self._table = table

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send the file."""
        if scope["type"] != "http":
            return
        await self._answer(Request(scope))(scope, receive, send)

    def _answer(self, request: Request) -> Response:
        path = request.url.path
        asset = self._table.get(path)
        if asset is None:
            return problem_json(404, "not_found", f"nothing is at {path[:100]!r}")
        if request.method not in ("GET", "HEAD"):
            answer = problem_json(405, "method", f"{request.method} is not possible at {path!r}")
            answer.headers["Allow"] = "GET, HEAD"
            return answer
        headers = {"ETag": asset.tag, "Cache-Control": "no-cache", "Vary": "Accept-Encoding"}
        if request.headers.get("if-none-match") == asset.tag:
            return Response(status_code=304, headers=headers)
        data = asset.data
        if asset.squeezed is not None and "gzip" in request.headers.get("accept-encoding", ""):
            data = asset.squeezed
            headers["Content-Encoding"] = "gzip"
        return Response(data, headers=headers, media_type=asset.media_type)
