"""The library's front door: the structured step, slips and refusals."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from chargewright import open_job
from chargewright.diagnosis import advise, population, prove, refine, rollout
from chargewright.errors import InputError, ReadingError, UnsafeCheckError
from chargewright.machine.points import Function, Point


@pytest.fixture(autouse=True)
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    """Make the diagnosis small: these tests are about the door, not the answers."""
    monkeypatch.setattr(population, "SINGLE_COUNT", 20)
    monkeypatch.setattr(population, "SOUND_COUNT", 40)
    monkeypatch.setattr(population, "PAIR_COUNT", 4)
    monkeypatch.setattr(refine, "thin", lambda belief, least=0.0: np.empty(0, dtype=np.intp))
    monkeypatch.setattr(advise, "WORLDS", 100)
    monkeypatch.setattr(prove, "EACH", 20)
    monkeypatch.setattr(rollout, "PLAYS", 4)
    monkeypatch.setenv("CHARGEWRIGHT_CACHE", "off")


def card(**fields: object) -> dict[str, Any]:
    """Return a least card."""
    base = {
        "card_version": 1,
        "id": "door-1",
        "created": "2026-01-01T00:00:00Z",
        "machine": {"class": "sport-600-1000"},
        "meter": {"card": "trms-6000"},
    }
    return base | fields


def test_the_next_step_is_structured() -> None:
    """Function, both points, state, minutes, cautions, and the expected reading per cause."""
    job = open_job(card(complaint={"kind": "battery_goes_flat"}))
    step = job.next_step()
    assert step is not None
    assert isinstance(step.check.function, Function)
    if step.check.function is not Function.LOOK:
        assert isinstance(step.question.plus, Point)
        assert isinstance(step.question.minus, Point)
    assert step.minutes == pytest.approx(sum(minutes for _, minutes in step.parts))
    assert step.cautions
    assert len(step.expected) >= 2
    assert any(band.low is not None for band in step.expected)


def test_any_two_points_in_any_state() -> None:
    """A reading outside the catalogue is understood and moves belief."""
    job = open_job(card())
    job.add(
        job.free_reading("dc_v", "alt_b", "frame", "5.1", state={"engine": "running", "rpm": 2200})
    )
    found = job.assess()
    assert len(found.evidence) == 1
    assert "alternator lead B" in found.evidence[0].title


def test_dangerous_readings_are_refused_with_the_reason() -> None:
    """Ohms on a running engine; nothing is put on the card."""
    job = open_job(card())
    state = {"engine": "running", "rpm": 2000}
    with pytest.raises(UnsafeCheckError, match="engine off"):
        job.add(job.free_reading("ohm", "alt_a", "alt_b", "0.4", state=state))
    assert job.card.readings == ()


def test_a_decimal_slip_is_questioned() -> None:
    """1.258 V typed for a rested battery: the job asks whether 12.58 V was meant."""
    job = open_job(card())
    reading = job.reading_for(job.check("rest_v"), "1.258")
    meant = job.slip(reading)
    assert meant is not None
    assert meant.value == pytest.approx(12.58)
    assert job.slip(job.reading_for(job.check("rest_v"), "12.58")) is None


def test_undo_and_what_cannot_be_understood() -> None:
    """Undo takes the last reading back; nonsense is refused in one line."""
    job = open_job(card())
    job.record(job.check("rest_v"), "12.58 V")
    assert job.undo() is not None
    assert job.card.readings == ()
    with pytest.raises(ReadingError):
        job.record(job.check("rest_v"), "fine")
    with pytest.raises(InputError, match="did you mean"):
        job.check("rest_w")


def test_ohms_use_the_leads_read_together() -> None:
    """With the leads' own 0.4 ohm on the card, a pair of 0.6 ohm is read as 0.2 ohm."""
    job = open_job(card(meter={"card": "average-2000"}))
    job.record(job.check("own_leads_ohm"), "0.4")
    job.record(job.check("pair_ohm_ab"), "0.6")
    answers = job.session.belief.answers
    assert answers[1].meter.function(Function.OHM).lead_ohm == pytest.approx(0.4)


def test_a_cold_lithium_battery_is_not_charged() -> None:
    """Noting a charge at -5 C on LiFePO4 is refused with the reason; on AGM it is not."""
    lithium = open_job(card(battery={"chemistry": "lifepo4"}, ambient_c=-5.0))
    with pytest.raises(UnsafeCheckError, match="lithium"):
        lithium.done()
    assert lithium.card.done == ()
    sound = open_job(card(battery={"chemistry": "agm"}, ambient_c=-5.0))
    sound.done()
    assert len(sound.card.done) == 1


def test_any_check_as_a_step() -> None:
    """A check the plan did not name comes as the same kind of step."""
    job = open_job(card())
    step = job.step(job.check("own_leads_ohm"))
    assert step.minutes > 0
    assert step.expected


def test_what_was_answered_is_not_asked_again_once_the_battery_is_charged() -> None:
    """Looks and ohms tell the same on a charged battery; a look after it stays answered too."""
    job = open_job(card(battery={"chemistry": "agm"}))
    answered = {"look_plug": "no", "pair_ohm_ab": "0.6", "diode_through": "0.9"}
    for name, text in answered.items():
        job.record(job.step(job.check(name)), text)
    job.done()
    job.record(job.step(job.check("look_clamps")), "no")
    offered = {option.check.id for option in job.session.advice().options}
    assert not offered & {*answered, "look_clamps"}
    assert "look_leads" in offered, "the offer is empty"


def across_the_fuse(name: str, **more: object) -> dict[str, Any]:
    """Return all the battery's volts across the main fuse: it is open."""
    return {
        "id": name,
        "function": "dc_v",
        "plus": "battery_pos",
        "minus": "fuse_out",
        "state": {"key_on": True, "lights_on": True},
        "shown": {"value": 12.5, "unit": "V", "lsd": 0.01, "text": "12.50"},
    } | more


def test_a_job_goes_on_after_a_repair_that_has_not_taken() -> None:
    """The same volts across the new fuse: the job is about the machine as it is now."""
    job = open_job(card(readings=[across_the_fuse("r1")]))
    job.repaired("replace_fuse")
    proving = job.assess()
    assert (proving.behind, proving.unproved, proving.remaining) == (0, None, None)
    assert proving.proof
    reading = job.free_reading(
        "dc_v", "battery_pos", "fuse_out", "12.5", state={"key_on": True, "lights_on": True}
    )
    assert reading.stage == "after_repair"
    job.add(reading)
    found = job.assess()
    assert found.behind == 1
    assert found.unproved is not None
    assert found.unproved.repairs == ("replace_fuse",)
    assert [one.answer.id for one in found.unproved.outside] == [reading.id]
    assert found.remaining is not None
    assert found.remaining > 0.5
    assert found.causes[0].repair == "replace_fuse"
    assert any(line.startswith("After the repair (replace the main") for line in found.explanation)
    glance = job.glance(job.card)
    assert [one.id for one in glance.causes] == [one.id for one in found.causes]
    assert [one.share for one in glance.causes] == pytest.approx(
        [one.share for one in found.causes], rel=1e-6
    )
    job.repaired("replace_fuse")
    assert job.assess().behind == 1
    assert job.assess().remaining is None, "nothing has been read after the second repair"


def test_only_a_known_repair_is_noted() -> None:
    with pytest.raises(InputError, match="replace_fuse"):
        open_job(card()).repaired("replace_fus")
