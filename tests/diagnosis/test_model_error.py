"""Which row of the model's error speaks for a reading."""

from __future__ import annotations

import numpy as np
import pytest

from chargewright.diagnosis.model_error import kind_of, model_sigma
from chargewright.diagnosis.question import Question
from chargewright.machine.conditioning import load_class
from chargewright.machine.points import Engine, Function, Point, State

LAYOUT = load_class("sport-600-1000").layout
RUNNING = State(engine=Engine.RUNNING, key_on=True, lights_on=True, rpm=3000.0)


def asked(plus: Point, minus: Point) -> Question:
    """Return AC volts between two points, engine running."""
    return Question(function=Function.AC_V, plus=plus, minus=minus, state=RUNNING)


@pytest.mark.parametrize(
    ("plus", "minus", "row"),
    [
        (Point.ALT_B, Point.REG_B, "ac_drop"),
        (Point.REG_B, Point.ALT_B, "ac_drop"),
        (Point.REG_A, Point.REG_B, "ac_loaded"),
        (Point.ALT_A, Point.REG_B, "ac_loaded"),
        (Point.BATTERY_POS, Point.BATTERY_NEG, "ac_ripple"),
    ],
)
def test_the_row_of_an_ac_reading(plus: Point, minus: Point, row: str) -> None:
    assert kind_of(asked(plus, minus), LAYOUT) == row


def test_a_good_contacts_drop_is_told_from_a_poor_ones() -> None:
    """0.10 V across a contact is told from 0.35 V, as along any wire, and not lost in what the
    regulator's switching makes of volts between leads."""
    sigma = model_sigma(asked(Point.ALT_A, Point.REG_A), np.array([0.10, 0.35]), LAYOUT)
    assert (0.35 - 0.10) / np.hypot(*sigma) > 3.0
