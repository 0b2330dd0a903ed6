"""What a technician does on the page, and what the machine on the stand would show."""

from __future__ import annotations

from typing import Any

import numpy as np
from playwright.sync_api import Page

from benchmarks.workshop.world import Hidden, hidden_machine, reading
from chargewright import open_job
from chargewright.diagnosis.question import Question
from chargewright.machine.points import POINT_BY_WORD, Engine, Function, Load, State, Warmth
from chargewright.meters.load import load_meter


class Stand:
    """A machine with a fault nobody told the program, and the meter in the technician's hand."""

    def __init__(self, class_id: str, cause: str, meter: str, seed: int) -> None:
        self.meter = load_meter(meter)
        self.catalogue = open_job(
            {
                "card_version": 1,
                "id": "stand",
                "created": "2026-01-01T00:00:00Z",
                "machine": {"class": class_id},
            }
        )
        rng = np.random.default_rng(seed)
        self.hidden: Hidden = hidden_machine(class_id, (cause,), self.meter, rng)

    def shows(self, step: dict[str, Any]) -> str:
        """Return what is typed for a step of the service."""
        state = dict(step["state"])
        for field, kind in (("engine", Engine), ("warmth", Warmth), ("load", Load)):
            state[field] = kind(state[field])
        look = step["function"] == "look"
        question = Question(
            function=Function(step["function"]),
            plus=POINT_BY_WORD.get(step["plus"] or ""),
            minus=POINT_BY_WORD.get(step["minus"] or ""),
            state=State(**state),
            sign=self.catalogue.check(step["check"]).sign if look else None,
        )
        return reading(self.hidden, question, self.meter)


def type_reading(page: Page, text: str) -> None:
    """Answer the check on the page: the pad's keys for a figure, yes or no for a look."""
    if text in ("yes", "no"):
        page.click(f"[data-look={text}]")
        return
    page.click("#read")
    page.wait_for_selector("#pad")
    if text == "OL":
        page.click('#pad [data-key="OL"]')
    else:
        if text.startswith("-"):
            page.click('#pad [data-key="-"]')
        for key in text.lstrip("-"):
            page.click(f'#pad [data-key="{key}"]')
    page.click("#pad-enter")
    page.wait_for_selector("#pad", state="detached")
