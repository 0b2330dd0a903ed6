"""A real Chromium before a real service. Asking any other host is refused and a failure."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

playwright_api = pytest.importorskip("playwright.sync_api")

from browser.house import House  # noqa: E402
from playwright.sync_api import Browser, Page, sync_playwright  # noqa: E402

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
PHONE, DESK = (390, 844), (1280, 800)
CHROMIUM = os.environ.get("CHARGEWRIGHT_CHROMIUM") or shutil.which("chromium")
# no name is ever looked up: whatever the app would fetch from elsewhere cannot arrive
ALONE = ["--no-sandbox", "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"]
Open = Callable[..., Page]


@pytest.fixture(scope="session")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """One service for all browser tests; each test works on jobs of its own."""
    one = House(tmp_path_factory.mktemp("house"))
    one.start()
    yield one
    one.stop()


@pytest.fixture(scope="session")
def rough_house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """The same with few machines: a module takes it as its ``house`` where that is enough."""
    one = House(tmp_path_factory.mktemp("rough"), rough=True)
    one.start()
    yield one
    one.stop()


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """The browser of the system."""
    if CHROMIUM is None:
        pytest.skip("no chromium on this machine")
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=ALONE)
        yield browser
        browser.close()


class Watch:
    """What a page must not do: ask another host, break, or be stopped by its own policy."""

    def __init__(self, url: str) -> None:
        self.url = url
        self.strangers: list[str] = []
        self.broken: list[str] = []

    def on_request(self, url: str) -> None:
        if not url.startswith((self.url, "data:", "blob:")):
            self.strangers.append(url)

    def on_console(self, kind: str, text: str) -> None:
        # a failed load is what some tests are about; anything else is a defect
        if kind == "error" and "Failed to load resource" not in text and "net::ERR" not in text:
            self.broken.append(text)


@pytest.fixture
def open_page(house: House, chromium: Browser, request: pytest.FixtureRequest) -> Iterator[Open]:
    """Open a page as a phone of its own, with nothing kept from before."""
    contexts = []
    watch = Watch(house.url)

    def open_at(
        path: str = "", *, size: tuple[int, int] = PHONE, service_worker: bool = False
    ) -> Page:
        context = chromium.new_context(
            viewport={"width": size[0], "height": size[1]},
            locale="en-GB",
            service_workers="allow" if service_worker else "block",
            reduced_motion="reduce",
        )
        contexts.append(context)
        context.set_default_timeout(60_000)
        context.on("request", lambda request: watch.on_request(request.url))
        page = context.new_page()
        page.on("pageerror", lambda error: watch.broken.append(str(error)))
        page.on("console", lambda message: watch.on_console(message.type, message.text))
        page.goto(f"{house.url}/#/{path}")
        return page

    yield open_at
    seen = os.environ.get("CHARGEWRIGHT_SEEN")  # a folder for what each page showed at the end
    for number, context in enumerate(contexts):
        if seen:
            name = re.sub(r"\W+", "-", request.node.name)
            for page in context.pages:
                page.screenshot(path=Path(seen) / f"{name}-{number}.png")
        context.close()
    assert watch.strangers == []
    assert watch.broken == []
