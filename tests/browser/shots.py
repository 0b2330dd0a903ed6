"""Take the pictures of docs/app.md: ``PYTHONPATH=.:src:tests python -m browser.shots FOLDER``."""

from __future__ import annotations

import io
import sys
import tempfile
from pathlib import Path

from browser.conftest import ALONE, CHROMIUM, DESK, EXAMPLES, PHONE
from browser.hands import likely, type_reading
from browser.house import House
from PIL import Image
from playwright.sync_api import Page, sync_playwright

PAGES = {
    "jobs": "jobs", "new": "new", "check": "job/open", "causes": "job/open/causes",
    "readings": "job/open/readings", "plan": "job/open/plan", "card": "job/open/card",
    "own": "job/open/own", "menu": "menu", "settings": "settings",
    "machines": "machines", "machine": "machine/Demo%201%20(invented)%2C%20red",
    "would-read": "would-read?class=sport-600-1000&cause=plug_resistance",
    "battery": "energy/battery", "charge": "energy/charge", "storage": "energy/storage",
    "drain": "energy/drain", "budget": "energy/budget", "ride": "energy/ride",
    "choose-battery": "energy/choose-battery", "sheet": "workshop/sheets/s1",
    "meter": "workshop/meters/average-2000", "prices": "workshop/prices",
    "loads": "workshop/loads/l1",
}  # fmt: skip
FILLED = {
    "battery": {"Volts at rest": "12.4", "Capacity": "10"},
    "charge": {"Volts at rest": "12.2", "Capacity": "10"},
    "storage": {"Capacity": "10"},
    "drain": {"The meter shows": "4.1"},
    "budget": {"Loads": "heated grips 36 W 0.6\nauxiliary lamps 36 W 0.5"},
}
ASKED = {*FILLED, "ride", "choose-battery"}
COLOURS = 64
MOST_STEPS = 12


def save(page: Page, path: Path, *, full: bool = True) -> None:
    """Keep what the page shows, with few colours so that the file stays small."""
    page.evaluate("full => full && scrollTo(0, 0)", full)
    picture = Image.open(io.BytesIO(page.screenshot(full_page=full))).convert("RGB")
    picture = picture.crop((0, 0, picture.width, min(picture.height, 3 * picture.width)))
    picture.quantize(COLOURS).save(path, optimize=True)


def answer(page: Page, name: str) -> None:
    """Fill a form of the energy pages and wait for its answer."""
    for label, text in FILLED.get(name, {}).items():
        page.get_by_label(label).first.fill(text)
    page.click("#ask")
    page.wait_for_selector(".card.key, .card.bad")


def tour(house: House, page: Page, folder: Path, size: str) -> None:
    """Every page once, then the pad with a reading in it, a slip, a repair and its proof."""
    for name, path in PAGES.items():
        page.goto(f"{house.url}/#/{path}")
        page.wait_for_selector("main")
        page.wait_for_timeout(1500)
        if name == "check":
            page.wait_for_selector(".step .picture:not([hidden]) svg")
        if name == "would-read":
            page.wait_for_selector(".would")
        if name in ASKED:
            answer(page, name)
        save(page, folder / f"{name}-{size}.png")
    page.goto(f"{house.url}/#/job/{size}/check/diode_through")
    page.wait_for_selector("#read")
    page.wait_for_selector(".step .picture:not([hidden]) svg")
    save(page, folder / f"bench-{size}.png", full=False)
    page.locator(".step .picture").evaluate("one => one.scrollIntoView({block: 'start'})")
    save(page, folder / f"circuit-{size}.png", full=False)
    page.click("#read")
    for key in "9.05":
        page.click(f'#pad [data-key="{key}"]')
    save(page, folder / f"pad-{size}.png", full=False)
    page.click("#pad-enter")
    page.wait_for_selector(".slip")
    save(page, folder / f"slip-{size}.png", full=False)
    page.click("[data-slip=meant]")
    house.until(size, lambda card: len(card["readings"]) > 8)
    for _ in range(MOST_STEPS):
        step = house.step(size)
        if step is None:
            break
        page.wait_for_selector(f"#step-title:text-is({step['title']!r})")
        count = len(house.call("GET", f"/jobs/{size}")["card"]["readings"])
        type_reading(page, likely(step))
        house.until(size, lambda card, count=count: len(card["readings"]) > count)
    page.wait_for_selector("#repair")
    page.wait_for_timeout(800)
    save(page, folder / f"decision-{size}.png")
    page.locator(".result summary").first.click()
    page.wait_for_timeout(800)
    save(page, folder / f"verdict-{size}.png")
    page.click("#repair")
    page.wait_for_selector("#repair-sheet")
    save(page, folder / f"repair-{size}.png", full=False)
    page.click("#repair-save")
    page.wait_for_selector("#proof")
    page.wait_for_selector("#read")
    page.wait_for_timeout(800)
    save(page, folder / f"prove-{size}.png", full=False)
    type_reading(page, "0.05")  # well within the limit of every drop that proves a plug
    page.wait_for_selector(".decision:has-text('Chance')")
    page.wait_for_timeout(800)
    save(page, folder / f"proved-{size}.png")


def themes(house: House, page: Page, folder: Path) -> None:
    """The bench in the dark, in the sun and in German."""
    for name, kept in (
        ("dark", "theme: 'dark'"),
        ("sun", "theme: 'sun'"),
        ("german", "language: 'de'"),
    ):
        page.evaluate(f"localStorage.setItem('cw.settings', JSON.stringify({{{kept}}}))")
        page.goto(f"{house.url}/#/job/open")
        page.reload()
        page.wait_for_selector("#read")
        page.wait_for_selector(".step .picture:not([hidden]) svg")
        save(page, folder / f"{name}-phone.png", full=False)


def main(folder: Path) -> None:
    """Start a service, walk through it at both sizes and keep a picture of every page."""
    folder.mkdir(parents=True, exist_ok=True)
    house = House(Path(tempfile.mkdtemp()))
    house.start()
    try:
        for job in ("open", "phone", "desk"):
            house.bring(EXAMPLES / "open-job.json", job)
        house.bring(EXAMPLES / "demo-job.json", "done")
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path=CHROMIUM, args=ALONE)
            for name, size in (("phone", PHONE), ("desk", DESK)):
                context = browser.new_context(
                    viewport={"width": size[0], "height": size[1]},
                    service_workers="block",
                    locale="en-GB",
                )
                context.set_default_timeout(60_000)
                page = context.new_page()
                page.on("pageerror", lambda error: sys.stderr.write(f"{error}\n"))
                page.goto(house.url)
                tour(house, page, folder, name)
                if name == "phone":
                    themes(house, page, folder)
                context.close()
            browser.close()
    finally:
        house.stop()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
