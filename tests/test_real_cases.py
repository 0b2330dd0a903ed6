"""Sixteen charging cases told in public go in as they are: few readings, "about", no speed.

Facts and figures only, machines by class (``tests/cases``). They are too few and too soft to
tune on; what is asked of the program is that it says something and never falls over.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from chargewright import open_job
from chargewright.diagnosis import population
from chargewright.diagnosis.findings import Decision

CASES = sorted((Path(__file__).parent / "cases").glob("w-*.json"))


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_case_gets_a_ranking_and_a_way_on(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Causes with probabilities, and either a next check or an ending with its chance."""
    monkeypatch.setenv("CHARGEWRIGHT_CACHE", "off")
    monkeypatch.setattr(population, "SINGLE_COUNT", 200)
    monkeypatch.setattr(population, "PAIR_COUNT", 40)
    found = open_job(path).assess()
    shares = [cause.share for cause in found.causes]
    assert shares == sorted(shares, reverse=True)
    assert sum(shares) > 0.0
    assert np.isfinite(found.log_evidence)
    assert found.explanation
    if found.decision is Decision.CHECK:
        assert found.steps[0].minutes > 0
    else:
        assert 0.0 <= found.cure <= 1.0


def test_all_sixteen_are_there() -> None:
    assert len(CASES) == 16
