"""Several phones, a lost network, a slipped point: nothing typed is lost or silently changed."""

from __future__ import annotations

import pytest
from browser.conftest import EXAMPLES, Open
from browser.hands import likely, type_reading
from browser.house import House

pytestmark = [pytest.mark.slow, pytest.mark.timeout(1200)]


@pytest.fixture(scope="session")
def house(rough_house: House) -> House:
    """What is seen here does not depend on how good the diagnosis is."""
    return rough_house


CHECK = "mid_v"  # battery volts at mid speed: any working machine shows 12 to 15 V there


@pytest.fixture
def job(house: House, request: pytest.FixtureRequest) -> str:
    """The shipped job with one check to go, as a job of this test alone."""
    name = request.node.name.split("[")[0].removeprefix("test_").replace("_", "-")
    return house.bring(EXAMPLES / "open-job.json", name[:60])


def test_a_second_phone_sees_a_reading_at_once(house: House, open_page: Open, job: str) -> None:
    first, second = open_page(f"job/{job}/check/{CHECK}"), open_page(f"job/{job}/readings")
    second.wait_for_selector("h2:has-text('8 readings')")
    first.wait_for_selector("#read")
    type_reading(first, "13.9")
    second.wait_for_selector("h2:has-text('9 readings')")
    second.wait_for_selector(".result:has-text('Battery volts at mid speed') >> text=13.9 V")


def test_readings_typed_without_network_arrive_later_and_once(
    house: House, open_page: Open, job: str
) -> None:
    step, other = house.step(job), house.assessed(job)["bench"]["others"][0]
    page = open_page(f"job/{job}")
    page.wait_for_selector(f"#step-title:text-is({step['title']!r})")
    house.stop()
    try:
        type_reading(page, likely(step))
        page.wait_for_selector(f'.unsent [data-state="waiting"]:has-text({step["title"]!r})')
        page.wait_for_selector("#line-state")
        # the plan at hand goes on: the next best check is offered, and can be answered too
        page.wait_for_selector(f"#step-title:text-is({other['title']!r})")
        type_reading(page, likely(other))
        page.wait_for_function("() => document.querySelectorAll('.unsent > li').length === 2")
    finally:
        house.start()
    page.wait_for_function("() => document.querySelectorAll('.unsent > li').length === 0")
    card = house.until(job, lambda card: len(card["readings"]) == 10)
    assert [one["check"] for one in card["readings"][-2:]] == [step["check"], other["check"]]
    page.wait_for_selector("#line-state", state="detached")


def test_readings_outlive_a_closed_page(house: House, open_page: Open, job: str) -> None:
    """The queue lies in the phone's storage: the page may be reloaded once the service is back."""
    page = open_page(f"job/{job}/check/{CHECK}")
    page.wait_for_selector("#read")
    house.stop()
    try:
        type_reading(page, "13.9")
        page.wait_for_selector('.unsent [data-state="waiting"]')
    finally:
        page.goto("about:blank")
        house.start()
    page.goto(f"{house.url}/#/jobs")
    card = house.until(job, lambda card: len(card["readings"]) == 9)
    assert card["readings"][-1]["shown"]["value"] == pytest.approx(13.9)


def test_a_slipped_point_is_asked_about(house: House, open_page: Open, job: str) -> None:
    page = open_page(f"job/{job}/check/{CHECK}")
    page.wait_for_selector("#read")
    type_reading(page, "1.39")
    page.wait_for_selector(".slip >> text=13.9 V or 1.39 V?")
    assert len(house.call("GET", f"/jobs/{job}")["card"]["readings"]) == 8
    page.click("[data-slip=meant]")
    card = house.until(job, lambda card: len(card["readings"]) == 9)
    assert card["readings"][-1]["shown"]["value"] == pytest.approx(13.9)


def test_what_was_typed_stands_when_it_was_meant(house: House, open_page: Open, job: str) -> None:
    page = open_page(f"job/{job}/check/{CHECK}")
    page.wait_for_selector("#read")
    type_reading(page, "1.39")
    page.click("[data-slip=typed]")
    card = house.until(job, lambda card: len(card["readings"]) == 9)
    assert card["readings"][-1]["shown"]["value"] == pytest.approx(1.39)


def test_what_cannot_be_read_is_said_and_typed_again(
    house: House, open_page: Open, job: str
) -> None:
    page = open_page(f"job/{job}/check/{CHECK}")
    page.wait_for_selector("#read")
    type_reading(page, "139")
    page.wait_for_selector(".unsent >> text=is the decimal point missing?")
    page.click("text=Type it again")
    page.wait_for_selector("#read")
    page.click("#read")
    for key in "13900":
        page.click(f'#pad [data-key="{key}"]')
    page.click("#pad [data-unit=mV]")
    page.click("#pad-enter")
    card = house.until(job, lambda card: len(card["readings"]) == 9)
    assert card["readings"][-1]["shown"]["value"] == pytest.approx(13.9)


def test_undo_takes_the_last_reading_back(house: House, open_page: Open, job: str) -> None:
    page = open_page(f"job/{job}")
    page.wait_for_selector("#undo")
    page.click("#undo")
    card = house.until(job, lambda card: len(card["readings"]) == 7)
    assert card["readings"][-1]["id"] == "r7"
    page.wait_for_selector(".result:has-text('AC volts C to A, unplugged, at idle')")


def test_a_reading_of_the_fault_after_anothers_repair_is_a_conflict(
    house: House, open_page: Open, job: str
) -> None:
    page = open_page(f"job/{job}/check/{CHECK}")
    page.wait_for_selector("#read")
    house.stop()
    try:
        type_reading(page, "13.9")
        page.wait_for_selector('.unsent [data-state="waiting"]')
        page.goto("about:blank")
    finally:
        house.start()
    repair = {"repair": "repair_plug", "at": "2026-08-01T12:00:00Z"}
    house.call("POST", f"/jobs/{job}/repairs", repair)
    page.goto(f"{house.url}/#/job/{job}")
    page.wait_for_selector('.unsent [data-state="asks"]')
    assert len(house.call("GET", f"/jobs/{job}")["card"]["readings"]) == 8
    page.click("text=Taken before it")
    card = house.until(job, lambda card: len(card["readings"]) == 9)
    assert card["readings"][-1]["stage"] == "fault"


def test_an_undecided_job_says_what_would_decide(house: House, open_page: Open) -> None:
    """The coarser meter on the limit itself: the verdict is open, and help is named."""
    job = house.bring(EXAMPLES / "demo-job.json", "undecided")
    page = open_page(f"job/{job}/readings")
    section = page.locator(".result", has_text="Battery volts at high speed, lights on").first
    section.locator("summary").click()
    assert "not decidable" in section.inner_text()
    assert "What would decide it" in section.inner_text()
    assert "6000-count meter" in section.inner_text()


def test_an_installed_app_opens_without_network(house: House, open_page: Open, job: str) -> None:
    """With its service worker (here: on this machine itself) the page may even be reloaded."""
    page = open_page("jobs", service_worker=True)
    page.evaluate("() => navigator.serviceWorker.ready")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    page.goto(f"{house.url}/#/job/{job}/check/{CHECK}")
    page.wait_for_selector("#read")
    page.goto(f"{house.url}/#/job/{job}")
    page.wait_for_selector("#read")
    house.stop()
    try:
        page.reload()
        page.wait_for_selector("#read")
        title = page.inner_text("#step-title")
        type_reading(page, "0.1")
        page.wait_for_selector(f'.unsent [data-state="waiting"]:has-text({title!r})')
    finally:
        house.start()
    page.wait_for_function("() => !document.querySelector('.unsent [data-state=waiting]')")
