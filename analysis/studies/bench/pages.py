"""From slider to picture on the pages: how long, at worst, with every slider and kind of head?

In a headless Chromium. The wall time runs from a slider's event until the frame that shows the
answer has been handed on, which includes waiting for the screen's next frame; what the page's own
thread worked for it is beside it, since a busy machine lengthens the first and not the second.
"""

from __future__ import annotations

import shutil
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from studies.bench.measured import Measured, at_most

_ROOT = Path(__file__).parents[3]
_DEMO = ("data_demo/removals.csv", "--shop", "data_demo/shop.toml")
_BROWSERS = ("chromium", "chromium-browser", "google-chrome")
_MOVE = """([name, value]) => new Promise((done) => {
  const range = document.getElementById(`try-${name}`), begun = performance.now();
  range.value = value;
  range.dispatchEvent(new Event('input', {bubbles: true}));
  requestAnimationFrame(() => setTimeout(() => done(performance.now() - begun)));
})"""
_SLIDERS = """() => [...document.querySelectorAll('#what-if-panel input[type=range]')].map(
  (one) => [one.dataset.name, Number(one.min), Number(one.max), Number(one.step)])"""


def measure(short: bool) -> Iterator[Measured]:
    """Measure both pages, each slider over its whole range, for every kind of head or stock."""
    path = next(filter(None, map(shutil.which, _BROWSERS)), None)
    if path is None:
        yield Measured("slider to picture: no chromium here", float("nan"), "ms")
        return
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        for name in ("replace", "spares"):
            file = Path(folder) / f"{name}.html"
            command = [sys.executable, "-m", "headlife.cli", name, *_DEMO, "--out", str(file)]
            subprocess.run(command, cwd=_ROOT, check=True, capture_output=True)
            wall, worked = _moved(browser, file, 4 if short else 12)
            moves = f"{name}, {len(wall)} moves"
            yield Measured(f"slider to picture, {moves}, median", statistics.median(wall), "ms")
            yield Measured(f"slider to picture, {moves}, worst", max(wall), "ms", at_most(50))
            yield Measured(f"the page's own work for it, {moves}, worst", max(worked), "ms")
        browser.close()


def _moved(browser: Any, file: Path, places: int) -> tuple[list[float], list[float]]:
    """Move every slider of a page to so many places; wall and working time of each move [ms]."""
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.goto(file.as_uri())
    page.wait_for_timeout(1500)  # as long as somebody needs to read the first line
    clock = page.context.new_cdp_session(page)
    clock.send("Performance.enable", {"timeDomain": "threadTicks"})
    wall, worked = [], []
    for kind in range(page.locator("#what-if-kind option").count()):
        page.select_option("#what-if-kind", index=kind)
        page.wait_for_timeout(100)
        for name, least, most, step in page.evaluate(_SLIDERS):
            steps = round((most - least) / step)
            for place in range(places + 1):
                before = _work(clock)
                value = least + step * round(steps * place / places)
                wall.append(page.evaluate(_MOVE, [name, value]))
                worked.append(_work(clock) - before)
    page.close()
    return wall, worked


def _work(clock: Any) -> float:
    """Time that the page's thread has worked so far [ms]."""
    metrics = clock.send("Performance.getMetrics")["metrics"]
    return 1e3 * next(float(one["value"]) for one in metrics if one["name"] == "TaskDuration")
