"""Compiled loops where numba is installed, the same functions in plain Python where not.

``entry`` marks the few functions that Python calls; their machine code, with all they use, is
kept on disk. ``compiled`` marks what they are made of: called from Python, such a function
runs as it is written. ``CHARGEWRIGHT_PLAIN=1`` in the environment switches numba off.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import update_wrapper
from itertools import pairwise
from pathlib import Path
from typing import Any, TypeVar

Routine = TypeVar("Routine", bound=Callable[..., Any])

try:
    import numba

    HAVE_NUMBA = os.environ.get("CHARGEWRIGHT_PLAIN", "") in ("", "0")
except ImportError:  # pragma: no cover - exercised by the run without numba
    HAVE_NUMBA = False

cores_loop = numba.prange if HAVE_NUMBA else range

SLICES_PER_CORE = 4  # so that no core waits long for another
LEAST_SLICE = 64  # machines for which starting a thread pays
_FAST: dict[str, Any] = {"error_model": "numpy", "fastmath": {"contract", "reassoc", "nsz"}}

Dispatcher = Any  # numba's own types, which cannot be named where it is missing
Types = Any


class _Part:
    """A function that compiled code calls as machine code, and Python as it is written.

    It makes no arrays: those it is handed are kept by whoever called the ``entry``. So nothing has
    to count who holds them, which would cost more than the sums (``_nrt``).
    """

    def __init__(self, function: Callable[..., Any], **options: bool) -> None:
        update_wrapper(self, function)
        self._function = function
        njit: Callable[..., Any] = numba.njit
        part = njit(
            nogil=True,
            no_cpython_wrapper=True,
            no_cfunc_wrapper=True,
            _nrt=False,
            **_FAST,
            **options,
        )
        self._dispatcher = _one_copy(part(function))

    @property
    def _numba_type_(self) -> Types:
        return self._dispatcher._numba_type_

    def __call__(self, *args: object) -> object:
        return self._function(*args)


def _one_copy(dispatcher: Dispatcher) -> Dispatcher:
    """Keep numba from compiling a copy for every number written out in a call."""
    template = dispatcher.get_call_template
    unliteral: Callable[[Types], Types] = numba.types.unliteral

    def get_call_template(args: Types, kws: Types) -> Types:
        return template(tuple(map(unliteral, args)), {k: unliteral(v) for k, v in kws.items()})

    dispatcher.get_call_template = get_call_template
    return dispatcher


def _kept(function: Routine, **options: bool) -> Routine:
    """Compile; keep the machine code on disk where there is a place for it."""
    njit: Callable[..., Any] = numba.njit
    try:
        dispatcher = njit(cache=True, **_FAST, **options)(function)
        _watch_all_sources(dispatcher)
        return dispatcher  # type: ignore[no-any-return]
    except RuntimeError as error:  # a read-only installation without a cache directory
        if "locator" not in str(error):
            raise
        return njit(**_FAST, **options)(function)  # type: ignore[no-any-return]


def _watch_all_sources(dispatcher: Dispatcher) -> None:
    """Make kept machine code lapse when any file of this room changes, not only its own."""
    file: Any = getattr(getattr(dispatcher, "_cache", None), "_cache_file", None)
    if hasattr(file, "_source_stamp"):
        sources = sorted(Path(__file__).parent.glob("*.py"))
        stamps = tuple((source.name, *source.stat()[6:9:2]) for source in sources)
        file._source_stamp = (file._source_stamp, stamps)


def compiled(function: Routine) -> Routine:
    """Compile a routine that only compiled code calls often."""
    return _Part(function) if HAVE_NUMBA else function  # type: ignore[return-value]


def inlined(function: Routine) -> Routine:
    """Compile a small routine into each of its callers: for what a time step calls, because a call
    costs as much as the step. Anything larger would be compiled many times over."""
    return _Part(function, forceinline=True) if HAVE_NUMBA else function  # type: ignore[return-value]


def entry(function: Routine) -> Routine:
    """Compile a routine that Python calls; it lets other threads run."""
    return _kept(function, nogil=True) if HAVE_NUMBA else function


def compiled_parallel(function: Routine) -> Routine:
    """Compile a loop over machines that uses every core."""
    return _kept(function, parallel=True) if HAVE_NUMBA else function


def cores() -> int:
    """Return how many cores this process may use (``NUMBA_NUM_THREADS`` limits them)."""
    if not HAVE_NUMBA:
        return 1
    config: Any = numba.config
    return int(config.NUMBA_NUM_THREADS)


def on_all_cores(solve: Callable[[slice], None], n: int) -> None:
    """Call ``solve`` for slices of 0..n, on every core; ``solve`` must let other threads run."""
    workers = min(cores(), n // LEAST_SLICE)
    if workers < 2:
        solve(slice(0, n))
        return
    pieces = min(SLICES_PER_CORE * workers, n // LEAST_SLICE)
    edges = [n * piece // pieces for piece in range(pieces + 1)]
    slices = [slice(low, high) for low, high in pairwise(edges)]
    with ThreadPoolExecutor(workers) as pool:
        list(pool.map(solve, slices))
