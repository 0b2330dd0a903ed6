"""The page in a real browser: hostile text runs nothing, nothing is fetched, phones show it all."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from report.scenes import MADE, job_of
from report.test_safe import HOSTILE, documents

from chargewright.report.html import html_text
from chargewright.report.written import report_document

sync_api = pytest.importorskip("playwright.sync_api")
CHROMIUM = shutil.which("chromium")
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="needs chromium"),
]


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with sync_api.sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield running
        running.close()


def shown(browser: Any, path: Path, **view: Any) -> tuple[Any, list[str]]:  # noqa: ANN401
    """Return a page and everything that happened besides showing it."""
    happened: list[str] = []
    page = browser.new_page(**view)
    page.on("dialog", lambda dialog: (happened.append(dialog.message), dialog.dismiss()))
    page.on("console", lambda message: happened.append(message.text))
    page.on("request", lambda request: happened.append(request.url))
    page.goto(path.as_uri())
    return page, [one for one in happened if one != path.as_uri()]


def test_hostile_text_runs_nothing_and_fetches_nothing(browser: Any, tmp_path: Path) -> None:  # noqa: ANN401
    path = tmp_path / "page.html"
    for text in HOSTILE:
        for document in documents(text):
            path.write_text(html_text(document), encoding="utf-8")
            page, happened = shown(browser, path)
            assert happened == []
            page.close()


@pytest.mark.parametrize("reader", ["customer", "workshop"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_phone_shows_the_page_without_scrolling_sideways(
    browser: Any,  # noqa: ANN401
    tmp_path: Path,
    reader: str,
    scheme: str,
) -> None:
    path = tmp_path / "page.html"
    job, found = job_of("proved")
    document = report_document(job, found, reader, made=MADE)
    path.write_text(html_text(document), encoding="utf-8")
    page, happened = shown(
        browser, path, viewport={"width": 390, "height": 844}, color_scheme=scheme
    )
    assert happened == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert "Repaired and proved by measurement" in page.inner_text("main")
    paper = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert (paper == "rgb(255, 255, 255)") is (scheme == "light")
    page.close()


def test_long_words_stay_on_the_phone(browser: Any, tmp_path: Path) -> None:  # noqa: ANN401
    path = tmp_path / "page.html"
    path.write_text(html_text(documents("W" * 200)[0]), encoding="utf-8")
    page, _ = shown(browser, path, viewport={"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.close()
