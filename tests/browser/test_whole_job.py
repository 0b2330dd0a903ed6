"""The whole main job through the browser, phone and desk: from complaint to report."""

from __future__ import annotations

import pytest
from browser.conftest import DESK, EXAMPLES, PHONE, Open
from browser.hands import Stand, type_reading
from browser.house import House

MOST_STEPS = 20


@pytest.mark.slow
@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_from_the_complaint_to_the_decision(
    house: House, open_page: Open, size: tuple[int, int]
) -> None:
    """A hidden machine with an open stator winding; the technician types what its meter shows."""
    stand = Stand("sport-600-1000", "stator_phase_open", "average-2000", seed=2026)
    page = open_page("new", size=size)
    page.select_option("select >> nth=0", "sport-600-1000")
    page.fill("#label", "green 7")
    page.click("[data-complaint=battery_goes_flat]")
    page.click("#begin")
    page.wait_for_selector(".step, .decision")
    job = page.url.rsplit("/", 1)[1]
    for _ in range(MOST_STEPS):
        found = house.assessed(job)
        if found["bench"]["stage"] != "check":
            break
        count = len(found["assessment"]["readings"])
        page.wait_for_selector(f"#step-title:text-is('{found['bench']['step']['title']}')")
        type_reading(page, stand.shows(found["bench"]["step"]))
        house.until(job, lambda card, count=count: len(card["readings"]) > count)
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
def test_from_the_last_check_to_the_report(
    house: House, open_page: Open, size: tuple[int, int]
) -> None:
    """The shipped open job: last check, decision, repair, its proof, what it was, the files."""
    job = house.bring(EXAMPLES / "open-job.json", f"open-{size[0]}")
    page = open_page(f"job/{job}", size=size)
    page.wait_for_selector("#step-title")
    type_reading(page, "0.905")
    page.wait_for_selector("#decision:has-text('renew the alternator plug')")
    page.click("#repair")
    page.fill("#repair-sheet textarea", "new housing and pins")
    page.click("#repair-save")
    page.wait_for_selector(".decision:has(#proof):has-text('renew the alternator plug')")
    page.wait_for_selector("#read")
    type_reading(page, "0.05")
    page.wait_for_selector(".decision:has-text('Chance that the fault is still there')")
    card = house.call("GET", f"/jobs/{job}")["card"]
    assert card["repairs"][0]["repair"] == "repair_plug"
    assert card["repairs"][0]["note"] == "new housing and pins"
    assert card["readings"][-1]["stage"] == "after_repair"
    page.click("#confirm")
    page.wait_for_selector("text=Confirmed: burnt contact in the alternator plug")
    assert (
        house.call("GET", f"/jobs/{job}")["card"]["confirmed_cause"]["cause"] == "plug_resistance"
    )
    with page.expect_download() as waiting:
        page.click("text=Readings, CSV")
    text = waiting.value.path().read_text(encoding="utf-8")
    assert "0.905" in text
    assert len(text.splitlines()) == 1 + len(card["readings"])
    names = page.eval_on_selector_all(".reports a", "all => all.map((one) => one.pathname)")
    assert {name.rsplit("/", 1)[1] for name in names} == {
        "report.pdf",
        "report.html",
        "card",
        "readings.csv",
    }
