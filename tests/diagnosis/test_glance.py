"""A glance: some machines speak for all, and say what all would have said."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from chargewright import Job, open_job
from chargewright.diagnosis import glance as module
from chargewright.diagnosis.belief import Belief

DEMO = Path(__file__).parents[2] / "examples" / "demo-job.json"


def demo(readings: int) -> Job:
    """Return the invented demo job with so many of its readings."""
    card = json.loads(DEMO.read_text(encoding="utf-8"))
    return open_job(card | {"readings": card["readings"][:readings]})


@pytest.fixture(scope="module")
def begun() -> Belief:
    """Return the belief after the demo job's first reading."""
    return demo(1).session.belief


def test_some_machines_keep_every_hypothesis_share(begun: Belief) -> None:
    believed = np.flatnonzero(begun.weights > module.BELIEVED)
    rows, weights = module._some(begun, believed)
    member, count = begun.population.member, len(begun.population.hypotheses)
    shares = np.bincount(member[rows], weights, minlength=count)
    np.testing.assert_allclose(shares, begun.hypothesis_shares(), atol=1e-6)
    assert np.bincount(member[rows]).max() <= module.SPEAKERS
    assert len(np.unique(rows)) == len(rows)


def test_some_say_what_all_would(monkeypatch: pytest.MonkeyPatch) -> None:
    """Shares of a cause scatter by sqrt(p (1 - p) / n): 0.04 is over four times that here."""
    later = demo(2).card
    quick = demo(1).glance(later)
    monkeypatch.setattr(module, "AT_ONCE", 10**9)
    whole = demo(1).glance(later)
    told = {cause.id: cause.share for cause in quick.causes}
    for cause in whole.causes[:5]:
        assert told[cause.id] == pytest.approx(cause.share, abs=0.04)
    assert [one.id for one in quick.evidence] == [one.id for one in whole.evidence]
    assert quick.judged == whole.judged


def test_what_was_worked_out_ahead_is_used_whole() -> None:
    job = demo(1)
    job.anticipate()
    asked = job.assess().steps[0].question
    predictions = job.session.belief.population.predictions
    rows = np.flatnonzero(job.session.belief.weights > module.BELIEVED)
    assert predictions.missing(asked, job.case.meter, rows) == 0
