"""From opening the app to a page one can use, on a warm server, with a browser that kept nothing.

    PYTHONPATH=.:src:tests python benchmarks/first_page.py [TIMES]

Each time a fresh browser profile opens the list of jobs and, another time, a job at work, and the
clock stops when the first job can be tapped, or the next check and its circuit stand there. The
weight is what came over the wire, compressed, headers included, as the browser counts it.
Beside it stands a page of one line from the same service, so that the machine's own share shows.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from pathlib import Path

from browser.conftest import ALONE, CHROMIUM, EXAMPLES, PHONE
from browser.house import House
from playwright.sync_api import Browser, sync_playwright

TIMES = 20
PAGES = {
    "list of jobs": ("/#/jobs", ".jobs li"),
    "job at work": ("/#/job/open", "#step-title"),
    "its circuit": ("/#/job/open", ".step .picture:not([hidden]) svg"),
    "a page of one line": ("/api/v1/service", "body"),
}
WEIGHT = """() => performance.getEntriesByType('resource')
    .concat(performance.getEntriesByType('navigation'))
    .reduce((sum, one) => sum + one.transferSize, 0)"""


def opened(browser: Browser, url: str, mark: str) -> tuple[float, float]:
    """Return seconds until ``mark`` is there, and kB that came over the wire."""
    context = browser.new_context(
        viewport={"width": PHONE[0], "height": PHONE[1]}, service_workers="block", locale="en-GB"
    )
    page = context.new_page()
    began = time.perf_counter()
    page.goto(url, wait_until="commit")
    page.wait_for_selector(mark)
    took = time.perf_counter() - began
    page.wait_for_timeout(300)
    weight = float(page.evaluate(WEIGHT)) / 1e3
    context.close()
    return took, weight


def main() -> None:
    """Serve, open, print a table."""
    times = int(sys.argv[1]) if len(sys.argv) > 1 else TIMES
    house = House(Path(tempfile.mkdtemp()))
    house.start()
    try:
        house.bring(EXAMPLES / "open-job.json", "open")
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path=CHROMIUM, args=ALONE)
            print(f"load of this machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
            print(f"{'':20}{'50 %':>9}{'95 %':>9}{'kB':>7}   n = {times}")
            for name, (path, mark) in PAGES.items():
                opened(browser, house.url + path, mark)
                seen = sorted(opened(browser, house.url + path, mark) for _ in range(times))
                middle, most = seen[times // 2][0], seen[min(times - 1, int(0.95 * times))][0]
                weight = max(one for _, one in seen)
                print(f"{name:20}{middle * 1e3:6.0f} ms{most * 1e3:6.0f} ms{weight:7.0f}")
            browser.close()
    finally:
        house.stop()


if __name__ == "__main__":
    main()
