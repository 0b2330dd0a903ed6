"""The document lists what the data files hold, figures included."""

from __future__ import annotations

from pathlib import Path

import pytest

from chargewright.machine.battery_spec import CcaStandard
from chargewright.machine.cause_file import catalogue
from chargewright.machine.causes import Placement, Scale
from chargewright.machine.classes import class_ids, read_class
from chargewright.machine.prior import complaints
from chargewright.machine.spec import FIELDS

TEXT = (Path(__file__).parents[2] / "docs" / "machines.md").read_text(encoding="utf-8")
LINES = TEXT.splitlines()


@pytest.mark.parametrize("name", [*FIELDS, *complaints(), *CcaStandard, *Placement])
def test_every_word_is_explained(name: str) -> None:
    assert f"`{name}`" in TEXT


@pytest.mark.parametrize("scale", [scale for scale in Scale if scale is not Scale.PLAIN])
def test_every_scale_is_explained(scale: Scale) -> None:
    assert f"`{scale.value}`" in TEXT


@pytest.mark.parametrize("class_id", class_ids())
def test_every_class_is_listed_with_its_figures(class_id: str) -> None:
    (row,) = [line for line in LINES if line.startswith(f"| `{class_id}` |")]
    stator = read_class(class_id).stator
    assert f"| {stator.pair_v_per_krpm.centre:.1f} | {stator.pair_ohm.centre:.2f} |" in row


def test_every_cause_is_listed_with_its_share() -> None:
    total = sum(cause.share for cause in catalogue().causes)
    for cause in catalogue().causes:
        (row,) = [line for line in LINES if line.startswith(f"| `{cause.id}` |")]
        assert f"| {100 * cause.share / total:.1f} % |" in row
        assert cause.repair.title in row
