"""What the workshop has made its own, out of the store: prices, meters, spec sheets, loads."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from chargewright.diagnosis.decisions import prices_from
from chargewright.errors import InputError
from chargewright.jobs.case import Workshop
from chargewright.jobs.papers import PaperKind, find_paper, get_paper
from chargewright.jobs.reading import MeterUse
from chargewright.jobs.store import JobStore
from chargewright.meters.load import load_meter, meter_ids

PRICES = "own"  # there is one list of prices


def workshop_of(store: JobStore, base: Workshop) -> Workshop:
    """Return the workshop with the prices it has typed in and what its closed jobs teach."""
    paper = find_paper(store, PaperKind.PRICES, PRICES)
    prices = base.prices if paper is None else prices_from(paper.body)
    return replace(base, prices=prices, lessons=store.lessons.counting())


def meter_use(store: JobStore, use: MeterUse | None) -> MeterUse | None:
    """Return a meter as a card keeps it: an own meter is copied into the card."""
    if use is None or use.card is None or use.card in meter_ids():
        return use
    paper = find_paper(store, PaperKind.METER, use.card)
    if paper is None:
        load_meter(use.card)  # says that it is unknown, and which are near
        raise InputError(f"meter {use.card!r} is unknown")
    return MeterUse(own_card=paper.body, leads_nulled=use.leads_nulled)


def sheet_of(store: JobStore, name: str) -> dict[str, Any]:
    """Return an own spec sheet: ``title``, ``class`` and ``spec``."""
    return get_paper(store, PaperKind.SHEET, name).body
