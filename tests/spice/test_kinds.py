"""Half-wave and field-excited machines against a general-purpose circuit simulator.

``python -m benchmarks.spice_kinds`` compares many more and writes docs/validation/kinds.md.
"""

from __future__ import annotations

import numpy as np
import pytest

from chargewright.machine.layout import Winding
from tests.spice.kinds import (
    FIELD,
    GROUPS,
    HALF_WAVE,
    Verdict,
    battery_in,
    random_kind,
    verdict_of,
    verdicts,
)

CASES = {HALF_WAVE: 60, FIELD: 62}
SEED = 11
SET_POINT_V = 14.4  # about where regulators hold


@pytest.mark.slow
@pytest.mark.parametrize("class_id", [HALF_WAVE, FIELD])
def test_random_machines(class_id: str) -> None:
    """Every reading of sixty machines with a battery in circuit within its target."""
    cases = [random_kind(class_id, i, SEED) for i in range(CASES[class_id])]
    found = verdicts([case for case in cases if battery_in(case)])
    assert [v for _, v in found if not isinstance(v, Verdict)] == []
    good = [v for _, v in found if isinstance(v, Verdict)]
    assert len(good) > 45
    assert all(v.converged for v in good)
    assert [line for v in good for line in v.lines if not line.holds()] == []
    held = np.nanmax(np.abs([v.held_gap_v for v in good]))
    assert held < GROUPS["DC volts"].allowed(SET_POINT_V)


def test_delta_with_a_lead_off() -> None:
    """The windings at the open lead stay in the delta's loop and keep carrying current."""
    case = random_kind(FIELD, 25, SEED)
    assert (case.layout.winding, case.cause) == (Winding.DELTA, "plug_open")
    found = verdict_of(case)
    assert isinstance(found, Verdict)
    assert [line for line in found.lines if not line.holds()] == []
