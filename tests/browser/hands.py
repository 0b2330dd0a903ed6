"""What a technician does on the page, and what the machine on the stand would show."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Page

from benchmarks.workshop.instrument import typed
from benchmarks.workshop.technician import chosen_job
from chargewright import open_job
from chargewright.diagnosis.question import Question
from chargewright.machine.points import POINT_BY_WORD, Engine, Function, Load, State, Warmth
from chargewright.meters.load import load_meter


class Stand:
    """A machine with a fault nobody told the program, and the meter in the technician's hand."""

    def __init__(self, class_id: str, cause: str, complaint: str, meter: str, seed: int) -> None:
        self.meter = load_meter(meter)
        self.hidden = chosen_job(
            class_id, (cause,), complaint=complaint, meter_id=meter, seed=seed
        ).hidden
        self.catalogue = open_job(
            {
                "card_version": 1,
                "id": "stand",
                "created": "2026-01-01T00:00:00Z",
                "machine": {"class": class_id},
            }
        )

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
        return typed(self.hidden, question, self.meter)


def likely(step: dict[str, Any], *, times: float = 1.0) -> str:
    """Return what the check would show under the leading cause, in V, ohm or A as typed.

    ``times`` moves the decimal point, as a tired finger does.
    """
    band = next((one for one in step["expected"] if one["low"] is not None), None)
    if step["function"] == "look":
        return "yes" if step["expected"][0]["sign"] > 0.5 else "no"
    if band is None:
        return "OL"
    middle = 0.5 * (band["low"] + band["high"]) * times
    return f"{middle:.4f}".rstrip("0").rstrip(".")


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
