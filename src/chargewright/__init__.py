"""Finds the fault in a small vehicle's charging system from a few meter readings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chargewright.version import __version__

__all__ = ["Job", "__version__", "open_job", "simulate"]

if TYPE_CHECKING:
    from chargewright.simulation.run import simulate
    from chargewright.workbench import Job, open_job


def __getattr__(name: str) -> Any:  # noqa: ANN401
    """Load the front door when it is first used, so that the version costs nothing."""
    if name in ("Job", "open_job"):
        from chargewright import workbench

        return getattr(workbench, name)
    if name == "simulate":
        from chargewright.simulation.run import simulate

        return simulate
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
