"""Compiled loops where numba is installed, the same functions in plain Python where not."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

Routine = TypeVar("Routine", bound=Callable[..., Any])

try:
    import numba

    HAVE_NUMBA = True
except ImportError:  # pragma: no cover - exercised by the run without numba
    HAVE_NUMBA = False


def compiled(function: Routine) -> Routine:
    """Compile one machine's routine; its machine code is kept on disk."""
    if not HAVE_NUMBA:
        return function
    return numba.njit(cache=True, error_model="numpy", fastmath={"contract"})(function)  # type: ignore[no-any-return]


def compiled_parallel(function: Routine) -> Routine:
    """Compile a loop over machines that uses every core."""
    if not HAVE_NUMBA:
        return function
    return numba.njit(  # type: ignore[no-any-return]
        cache=True, parallel=True, error_model="numpy", fastmath={"contract"}
    )(function)


if HAVE_NUMBA:
    cores_loop = numba.prange
else:  # pragma: no cover
    cores_loop = range
