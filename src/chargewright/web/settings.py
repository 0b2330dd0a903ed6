"""How one service is run: where its store is, who may reach it, where it computes."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from chargewright.jobs.case import Workshop

API = "/api/v1"
HOME_NAMES = ("127.0.0.1", "localhost", "[::1]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """One service. ``names`` are the hosts it answers to besides this machine's own.

    ``key`` signs the cookies of paired phones; None when nobody but this machine reaches the
    service. ``workers`` is the number of computing processes; 0 computes in the server's own.
    """

    store: Path
    workshop: Workshop = field(default_factory=Workshop)
    names: tuple[str, ...] = ()
    port: int = 0
    key: bytes | None = None
    secure: bool = False
    workers: int = 1
    heartbeat_s: float = 15.0
    watch_s: float = 2.0  # how often changes by other programs are looked for
    assess: bool = True  # false serves cards and readings only

    @property
    def addresses(self) -> tuple[str, ...]:
        """Where phones find the service."""
        scheme = "https" if self.secure else "http"
        return tuple(f"{scheme}://{name}:{self.port}/" for name in self.names)
