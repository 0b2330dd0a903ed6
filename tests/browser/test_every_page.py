"""Every page at its smallest: no scrolling aside, targets for gloves, no barrier, little weight."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from browser.conftest import DESK, EXAMPLES, PHONE, Open
from browser.house import House
from playwright.sync_api import Page

pytestmark = [pytest.mark.slow, pytest.mark.timeout(1200)]

AXE = (Path(__file__).parent / "axe.min.js").read_text(encoding="utf-8")
SMALL = (360, 740)
TOUCH_PX = 48
# Links inside sentences and lists of files are read, not pressed with gloves.
PAGES = {
    "jobs": "jobs",
    "new": "new",
    "check": "job/JOB",
    "causes": "job/JOB/causes",
    "readings": "job/JOB/readings",
    "plan": "job/JOB/plan",
    "card": "job/JOB/card",
    "chosen": "job/JOB/check/rest_v",
    "own": "job/JOB/own",
    "decision": "job/DONE",
    "menu": "menu",
    "settings": "settings",
    "machines": "machines",
    "machine": "machine/Demo%201%20(invented)%2C%20red",
    "would-read": "would-read",
    "energy": "energy",
    "battery": "energy/battery",
    "charge": "energy/charge",
    "storage": "energy/storage",
    "drain": "energy/drain",
    "budget": "energy/budget",
    "ride": "energy/ride",
    "choose": "energy/choose-battery",
    "workshop": "workshop",
    "sheets": "workshop/sheets",
    "sheet": "workshop/sheets/s1",
    "meters": "workshop/meters",
    "meter": "workshop/meters/m1",
    "prices": "workshop/prices",
    "loads": "workshop/loads/l1",
    "unsent": "unsent",
}
# Nothing is announced as under way, every picture is there, and the page has stood for a while.
SETTLED = """async () => {
  const waits = () =>
    document.querySelector("main [role=status], .picture.waits, [aria-busy=true]");
  for (let calm = 0; calm < 3; calm += 1) {
    if (waits()) return false;
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  return true;
}"""
WIDER_THAN_PAGE = """() => {
  const room = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth <= room) return [];
  return [...document.querySelectorAll("body *")]
    .filter((one) => one.getBoundingClientRect().right > room + 1)
    .slice(0, 5).map((one) => one.outerHTML.slice(0, 120));
}"""
TOO_SMALL = """(least) => {
  const targets = document.querySelectorAll(
    "button, a.button, select, summary, input:not([type=hidden]), textarea, .list a, nav a");
  return [...targets]
    .filter((one) => one.checkVisibility() && !one.closest(".hidden, [aria-hidden=true]"))
    .map((one) => [(one.closest("label.tick") ?? one).getBoundingClientRect(), one])
    .filter(([box]) => box.width > 0)
    .filter(([box]) => box.height < least - 0.5 || box.width < least - 0.5)
    .map(([box, one]) => [box.width, box.height, one.outerHTML.slice(0, 100)].join(" "));
}"""


@pytest.fixture(scope="module")
def jobs(house: House) -> dict[str, str]:
    """One job with a check to go, one that is decided."""
    return {
        "JOB": house.bring(EXAMPLES / "open-job.json", "pages-open"),
        "DONE": house.bring(EXAMPLES / "demo-job.json", "pages-done"),
    }


def go(page: Page, house: House, path: str, jobs: dict[str, str]) -> None:
    for name, job in jobs.items():
        path = path.replace(name, job)
    page.goto(f"{house.url}/#/{path}")
    page.wait_for_selector("main")
    if path == "would-read":
        page.wait_for_selector(".would")  # an empty page is never too wide
    page.wait_for_function(SETTLED)


@pytest.mark.parametrize("language", ["en", "de"])
def test_no_page_scrolls_sideways_and_every_target_fits_a_glove(
    house: House, open_page: Open, jobs: dict[str, str], language: str
) -> None:
    page = open_page("menu", size=SMALL)
    page.wait_for_selector("main")
    page.evaluate(f"localStorage.setItem('cw.settings', '{{\"language\": \"{language}\"}}')")
    page.reload()
    wide: dict[str, Any] = {}
    small: dict[str, Any] = {}
    for name, path in PAGES.items():
        go(page, house, path, jobs)
        for closed in page.query_selector_all("details:not([open]) > summary"):
            if closed.is_visible():
                closed.click()
        if found := page.evaluate(WIDER_THAN_PAGE):
            wide[name] = found
        if found := page.evaluate(TOO_SMALL, TOUCH_PX):
            small[name] = found
    assert wide == {}
    assert small == {}


def test_the_number_pad_fits_a_glove(house: House, open_page: Open, jobs: dict[str, str]) -> None:
    page = open_page(f"job/{jobs['JOB']}/check/rest_v", size=SMALL)
    page.click("#read")
    page.wait_for_selector("#pad")
    assert page.evaluate(TOO_SMALL, TOUCH_PX) == []
    keys = [key.bounding_box() for key in page.query_selector_all("#pad [data-key]")]
    assert min(key["width"] for key in keys if key) >= 64
    # the whole pad is in reach without scrolling
    box = page.locator("#pad-enter").bounding_box()
    assert box is not None
    assert box["y"] + box["height"] <= SMALL[1]


@pytest.mark.parametrize("theme", ["light", "dark", "sun"])
@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_axe_finds_no_serious_barrier(
    house: House, open_page: Open, jobs: dict[str, str], theme: str, size: tuple[int, int]
) -> None:
    page = open_page("menu", size=size)
    page.wait_for_selector("main")
    page.evaluate(f"localStorage.setItem('cw.settings', JSON.stringify({{theme: '{theme}'}}))")
    page.reload()
    found: dict[str, list[str]] = {}
    for name, path in PAGES.items():
        go(page, house, path, jobs)
        if problems := barriers(page):
            found[name] = problems
    page.goto(f"{house.url}/#/job/{jobs['JOB']}/check/rest_v")
    page.click("#read")
    page.wait_for_selector("#pad")
    if problems := barriers(page):
        found["pad"] = problems
    assert found == {}


def barriers(page: Page) -> list[str]:
    """Return what axe-core calls serious or critical, each with the element."""
    if not page.evaluate("() => 'axe' in window"):
        page.evaluate(AXE)
    result = page.evaluate("() => axe.run(document, {resultTypes: ['violations']})")
    return [
        f"{one['id']}: {node['html'][:120]} {node['any'][0]['message'] if node['any'] else ''}"
        for one in result["violations"]
        if one["impact"] in ("serious", "critical")
        for node in one["nodes"]
    ]


def test_the_first_page_weighs_little_on_the_wire(house: House, open_page: Open) -> None:
    """Counted by the browser itself, headers included: all that is loaded until the jobs stand."""
    page = open_page("jobs")
    page.wait_for_selector(".jobs")
    sizes = page.evaluate(
        "() => performance.getEntriesByType('resource').concat("
        "performance.getEntriesByType('navigation')).map((one) => one.transferSize)"
    )
    assert len(sizes) > 20
    assert sum(sizes) < 300_000


def test_the_keyboard_alone_types_a_reading(
    house: House, open_page: Open, jobs: dict[str, str]
) -> None:
    job = house.bring(EXAMPLES / "open-job.json", "keyboard")
    page = open_page(f"job/{job}/check/mid_v", size=DESK)
    page.wait_for_selector("#read")
    page.focus("#read")
    page.keyboard.press("Enter")
    page.wait_for_selector("#pad")
    page.keyboard.type("13,9")
    assert "13.9 V" in page.inner_text("#pad .display")
    page.keyboard.press("Enter")
    card = house.until(job, lambda card: len(card["readings"]) == 9)
    assert card["readings"][-1]["shown"]["value"] == pytest.approx(13.9)


def test_german_stands_on_the_pages_and_stays(house: House, open_page: Open) -> None:
    page = open_page("settings")
    page.click("[data-value=de]")
    page.wait_for_selector("h1:has-text('Dieses Telefon')")
    assert page.evaluate("document.documentElement.lang") == "de"
    page.reload()
    page.wait_for_selector("h1:has-text('Dieses Telefon')")


def test_us_units_go_in_and_out(house: House, open_page: Open) -> None:
    """77 F is 25 C, 100 miles are 160.9344 km (the international mile of 1959)."""
    page = open_page("settings")
    page.click("[data-value=us]")
    page.goto(f"{house.url}/#/new")
    page.click("summary")
    page.get_by_label("Air temperature (°F)").fill("77")
    page.get_by_label("Distance covered (mi)").fill("100")
    page.click("#begin")
    page.wait_for_url("**/job/*")
    card = house.call("GET", f"/jobs/{page.url.rsplit('/', 1)[1]}")["card"]
    assert card["ambient_c"] == pytest.approx(25.0)
    assert card["machine"]["mileage_km"] == pytest.approx(160.9344, abs=0.5)


def test_a_sheet_of_the_workshop_can_be_chosen_where_checks_are_tried(
    house: House, open_page: Open
) -> None:
    sheet = {"title": "red cart", "class": "atv", "spec": {"stator_ohm": [0.6, 0.9]}}
    house.call("PUT", "/sheets/red-cart", {"document": sheet, "seen": 0})
    page = open_page("would-read")
    page.wait_for_selector("option[value='sheet:red-cart']", state="attached")
    with page.expect_response(
        lambda one: (one.request.post_data_json or {}).get("sheet") == "red-cart"
    ) as waiting:
        page.select_option("select >> nth=0", "sheet:red-cart")
    assert waiting.value.status == 200
    page.wait_for_selector("table.would td")
