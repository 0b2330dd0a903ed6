"""Twelve complete jobs by simulated technicians, through the front door, to the right component.

Hidden machines come from the workshop of ``benchmarks/workshop``: wider scatter, shifted
centres, EMF harmonics, unequal phases, other batteries, loads and speeds, a meter with a fixed
gain error inside its specification. Nothing in the program knows their parameters.
"""

from __future__ import annotations

import os

import pytest

from benchmarks.workshop.technician import work

JOBS = [
    ("sport-600-1000", "stator_phase_open", "battery_goes_flat", "average-2000"),
    ("sport-600-1000", "regulator_low", "warning_light_or_low_volts", "trms-6000"),
    ("sport-600-1000", "battery_worn", "no_start", "average-2000"),
    ("sport-600-1000", "no_fault", "routine", "trms-6000"),
    ("sport-600-1000", "drain", "after_standing", "trms-6000"),
    ("twin-250-400", "fuse_open", "no_start", "average-2000"),
    ("big-twin-tourer", "rectifier_no_output", "battery_goes_flat", "trms-6000"),
    ("atv", "magnets_lost", "battery_goes_flat", "average-2000"),
    ("scooter-50-125", "regulator_never", "overcharge_or_bulbs_blow", "trms-6000"),
    ("outboard-three-phase", "charge_lead_open", "warning_light_or_low_volts", "trms-6000"),
    ("scooter-50-half-wave", "ac_regulator_open", "overcharge_or_bulbs_blow", "trms-6000"),
    ("tourer-field-excited", "field_open", "battery_goes_flat", "trms-6000"),
]


@pytest.fixture(autouse=True, scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Keep the populations of these jobs out of the user's cache."""
    os.environ["CHARGEWRIGHT_CACHE"] = str(tmp_path_factory.mktemp("shelf"))


@pytest.mark.parametrize(("class_id", "cause", "complaint", "meter"), JOBS)
def test_job_ends_in_the_right_component(
    class_id: str, cause: str, complaint: str, meter: str
) -> None:
    """The component blamed at the end is the one at fault, and no other part is fitted."""
    outcome = work(class_id, (cause,), complaint=complaint, meter_id=meter, seed=2026)
    told = f"{outcome.first} after {outcome.steps}: {outcome.stated}"
    assert outcome.right_component, told
    assert outcome.healthy_parts == 0, told


TWO_FAULTS = [  # the causes and the complaint
    (("battery_ground_resistance", "starter_feed_resistance"), "no_start"),
    (("plug_resistance", "drain"), "battery_goes_flat"),
]


@pytest.mark.parametrize(("causes", "complaint"), TWO_FAULTS)
def test_both_of_two_faults_are_mended(causes: tuple[str, ...], complaint: str) -> None:
    """Named together, or one is repaired, its proof fails, and the job goes on to the other."""
    outcome = work("sport-600-1000", causes, complaint=complaint, seed=2026)
    told = f"{outcome.repairs} in {outcome.steps}: {outcome.stated}"
    assert sum(step.startswith("[") for step in outcome.steps) == 2, told
    assert outcome.mended, told
    assert outcome.healthy_parts == 0, told
