"""Pairing a phone: a short code once, then a signed cookie that only this service can make."""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
import time
from collections import deque
from pathlib import Path

from chargewright.errors import StoreError
from chargewright.web.problems import Problem

COOKIE = "chargewright_session"
SESSION_S = 180 * 24 * 3600  # half a year: a workshop's own phones
LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"  # none that is read for another
CODE_LENGTH = 8  # 31^8 codes: at the rate of tries below, millions of years
CODE_S = 10 * 60.0  # a code is renewed after so long
TRIES, TRIES_S = 10, 60.0  # wrong codes within a minute before all have to wait


class Pairing:
    """Codes and cookies of one service. ``now`` gives seconds since the epoch."""

    def __init__(self, key: bytes, *, now: object = time.time) -> None:
        self._key = key
        self._now = now
        self._code = ""
        self._made_at = -CODE_S * 2
        self._before = ""
        self._wrong: deque[float] = deque()

    def _time(self) -> float:
        return float(self._now())  # type: ignore[operator]

    def code(self) -> str:
        """Return the code that pairs a phone now, as ABCD-EFGH."""
        if self._time() - self._made_at > CODE_S:
            self._before = self._code if self._time() - self._made_at < 2 * CODE_S else ""
            self._code = "".join(secrets.choice(LETTERS) for _ in range(CODE_LENGTH))
            self._made_at = self._time()
        return f"{self._code[:4]}-{self._code[4:]}"

    def pair(self, typed: str) -> str:
        """Return the cookie for whoever typed the code.

        Raises ``Problem``: 401 for a wrong code, 429 after too many of them.
        """
        now = self._time()
        while self._wrong and now - self._wrong[0] > TRIES_S:
            self._wrong.popleft()
        if len(self._wrong) >= TRIES:
            wait = int(TRIES_S - (now - self._wrong[0])) + 1
            raise Problem(429, f"too many wrong codes; try again in {wait} s", retry_after_s=wait)
        self.code()
        plain = "".join(c for c in typed.upper() if c.isalnum()).encode()
        known = [code.encode() for code in (self._code, self._before) if code]
        if not any(hmac.compare_digest(plain, code) for code in known):
            self._wrong.append(now)
            raise Problem(401, "this code does not fit; take the one the service shows now")
        return self._cookie(secrets.token_hex(16), int(now))

    def valid(self, cookie: str | None) -> bool:
        """Tell whether this service made the cookie, and not too long ago."""
        if cookie is None or cookie.count(".") != 2:
            return False
        name, made, _ = cookie.split(".")
        if not (made.isascii() and made.isdigit() and len(made) < 12):
            return False
        expected = self._cookie(name, int(made))
        fresh = 0 <= self._time() - int(made) + 60 <= SESSION_S
        return hmac.compare_digest(expected.encode(), cookie.encode()) and fresh

    def _cookie(self, name: str, made: int) -> str:
        text = f"{name}.{made}"
        return f"{text}.{hmac.new(self._key, text.encode(), hashlib.sha256).hexdigest()}"


def key_file(store: Path) -> Path:
    """Return where the key beside a store lies."""
    return store.with_name(store.name + ".pairing-key")


def load_key(store: Path) -> bytes:
    """Return the key that signs cookies, made at the first call; only the owner may read it."""
    path = key_file(store)
    try:
        if not path.exists():
            handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with open(handle, "wb") as file:
                file.write(secrets.token_bytes(32))
        key = path.read_bytes()
    except OSError as error:
        raise StoreError(f"{path}: cannot be read or written: {error.strerror}") from error
    if len(key) != 32:
        raise StoreError(f"{path}: {len(key)} bytes, expected 32; delete it and pair anew")
    return key
