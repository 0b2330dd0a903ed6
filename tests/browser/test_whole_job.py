"""The whole main job through the browser, phone and desk: from complaint to report."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from browser.conftest import DESK, EXAMPLES, PHONE, Open
from browser.hands import Stand, likely, type_reading
from browser.house import House
from playwright.sync_api import Page

MOST_STEPS = 20
pytestmark = pytest.mark.timeout(1200)


@pytest.mark.slow
@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_from_the_complaint_to_the_decision(
    house: House, open_page: Open, size: tuple[int, int]
) -> None:
    """A hidden machine with an open stator winding; the technician types what its meter shows."""
    stand = Stand(
        "sport-600-1000", "stator_phase_open", "battery_goes_flat", "average-2000", seed=2026
    )
    page = open_page("new", size=size)
    page.select_option("select >> nth=0", "sport-600-1000")
    page.fill("#label", "green 7")
    page.click("[data-complaint=battery_goes_flat]")
    page.click("#begin")
    page.wait_for_selector(".step, .decision")
    job = page.url.rsplit("/", 1)[1]
    follow(page, house, job, stand.shows)
    page.wait_for_selector("#decision")
    found = house.assessed(job)
    assert found["assessment"]["components"][0]["id"] == "stator"
    assert "stator" in page.inner_text("#decision")
    # what was chosen is chosen already for the next job
    page.goto(f"{house.url}/#/new")
    page.wait_for_selector("[data-complaint]")
    assert page.input_value("select >> nth=0") == "sport-600-1000"


@pytest.mark.slow
@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_from_the_last_checks_to_the_report(
    house: House, open_page: Open, size: tuple[int, int]
) -> None:
    """The shipped open job: last checks, decision, repair, its proof, what it was, the files."""
    job = house.bring(EXAMPLES / "open-job.json", f"open-{size[0]}")
    page = open_page(f"job/{job}", size=size)
    follow(page, house, job, likely)
    ending = house.assessed(job)["assessment"]["decision"]["ending"]
    page.wait_for_selector("#decision")
    page.click("#repair")
    page.fill("#repair-sheet textarea", "new housing and pins")
    page.click("#repair-save")
    page.wait_for_selector(".decision:has(#proof)")
    card = house.until(job, lambda card: len(card["repairs"]) > 0)
    assert "+".join(one["repair"] for one in card["repairs"]) == ending
    assert card["repairs"][0]["note"] == "new housing and pins"
    title = next(
        one["repair"]["title"]
        for one in house.call("GET", f"/causes?class={card['machine']['class']}")
        if one["repair"]["id"] == ending.split("+")[0]
    )
    page.wait_for_selector(f".decision:has-text({title!r})")
    step = house.step(job)
    page.wait_for_selector(f"#step-title:text-is({step['title']!r})")
    type_reading(page, likely(step))
    page.wait_for_selector(".decision:has-text('Chance that a fault is still there')")
    card = house.until(job, lambda card: card["readings"][-1]["stage"] == "after_repair")
    follow(page, house, job, likely, repaired=True)
    page.wait_for_selector("#confirm")
    page.click("#confirm")
    page.wait_for_selector("text=Confirmed:")
    known = house.call("GET", f"/jobs/{job}")["card"]["confirmed_cause"]
    assert known["cause"] == card["repairs"][0]["cause"]
    for words, head in (("Readings, CSV", b"id,"), ("For the customer, PDF", b"%PDF")):
        with page.expect_download(timeout=400_000) as waiting:  # worked out afresh
            page.click(f"text={words}")
        data = waiting.value.path().read_bytes()
        assert head in data[:200], data[:200]


def follow(
    page: Page,
    house: House,
    job: str,
    shows: Callable[[dict[str, Any]], str],
    *,
    repaired: bool = False,
) -> None:
    """Do what the page says until it says something else than to measure."""
    for _ in range(MOST_STEPS):
        found = house.assessed(job)
        step = found["bench"]["step"]
        if step is None or (found["bench"]["stage"] == "check") is repaired:
            return  # once repaired, only what proves it
        count = len(house.call("GET", f"/jobs/{job}")["card"]["readings"])
        page.wait_for_selector(f"#step-title:text-is({step['title']!r})")
        type_reading(page, shows(step))
        if page.locator(".slip").count():
            page.click("[data-slip=typed]")
        house.until(job, lambda card, count=count: len(card["readings"]) > count)
    raise AssertionError(f"{job}: no end after {MOST_STEPS} checks")
