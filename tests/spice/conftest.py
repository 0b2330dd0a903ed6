"""Says why, where the simulator is missing, and gives the cases to those who compare."""

from __future__ import annotations

import pytest

from tests.spice.run import PROGRAM, available


@pytest.fixture(autouse=True)
def _simulator() -> None:
    """Skip when the simulator is not installed: it is a witness, not a dependency."""
    if not available():
        pytest.skip(f"{PROGRAM} is not on the path; the circuit's second witness was not heard")
