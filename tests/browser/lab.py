"""Drive JupyterLab as a person would: start it, open a notebook, run all cells, read what it shows.

JupyterLab runs on a copy of the notebooks, with settings and folders of its own, so that nothing
of the user's is read or changed.
"""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
START_SECONDS, RUN_SECONDS = 300, 600  # patience only: all cores may be busy
SETTINGS = {
    # JupyterLab draws only the cells in view; a test wants all of them.
    "@jupyterlab/notebook-extension/tracker": '{"windowingMode": "none"}',
    "@jupyterlab/apputils-extension/notification": (
        '{"fetchNews": "false", "checkForUpdates": false, "doNotDisturbMode": true}'
    ),
}


@contextmanager
def running_lab(home: Path) -> Iterator[str]:
    """Start JupyterLab on a copy of notebooks and demo data under `home`; give its address."""
    for folder in ("notebooks", "data_demo"):
        shutil.copytree(ROOT / folder, home / folder)
    for name, text in SETTINGS.items():
        path = home / "settings" / f"{name}.jupyterlab-settings"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    own = {
        "JUPYTERLAB_SETTINGS_DIR": "settings",
        "JUPYTERLAB_WORKSPACES_DIR": "workspaces",
        "JUPYTER_CONFIG_DIR": "config",
        "JUPYTER_DATA_DIR": "data",
        "JUPYTER_RUNTIME_DIR": "runtime",
        "IPYTHONDIR": "ipython",
    }
    options = ["--no-browser", "--allow-root", "--ip=127.0.0.1", f"--port={port}"]
    options += ["--IdentityProvider.token=", "--ServerApp.port_retries=0", f"--notebook-dir={home}"]
    log = home / "lab.log"
    with log.open("w") as written:
        server = subprocess.Popen(
            [sys.executable, "-m", "jupyterlab", *options],
            env=os.environ | {name: str(home / folder) for name, folder in own.items()},
            cwd=home,
            stdout=written,
            stderr=subprocess.STDOUT,
        )
        try:
            _wait_for(f"http://127.0.0.1:{port}/api", server, log)
            yield f"http://127.0.0.1:{port}"
        finally:
            server.terminate()
            server.wait(timeout=30)


def _wait_for(address: str, server: Any, log: Path) -> None:
    until = time.monotonic() + START_SECONDS
    while time.monotonic() < until and server.poll() is None:
        try:
            with urllib.request.urlopen(address, timeout=1):
                return
        except OSError:
            time.sleep(0.2)
    pytest.fail(f"JupyterLab did not start:\n{log.read_text()}")


def open_notebook(page: Any, lab: str, name: str) -> None:
    """Open a notebook and wait until its kernel is idle."""
    page.goto(f"{lab}/lab/tree/notebooks/{name}?reset")
    page.wait_for_selector(".jp-Notebook .jp-CodeCell", timeout=1000 * START_SECONDS)
    choose = page.locator(".jp-Dialog .jp-mod-accept")
    idle = page.locator(".jp-StatusBar-Widget", has_text=re.compile(r"Python 3.*Idle"))
    until = time.monotonic() + START_SECONDS
    while not idle.count() or choose.count():
        assert time.monotonic() < until, "the kernel did not come up"
        if choose.count():  # JupyterLab asks which Python when its list came late
            choose.first.click()
        page.wait_for_timeout(200)


def run_all(page: Any) -> None:
    """Run all cells from the menu and wait until the last one has its number."""
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.get_by_text("Run All Cells", exact=True).click()
    last = page.locator(".jp-CodeCell .jp-InputPrompt").last
    until = time.monotonic() + RUN_SECONDS
    while not re.fullmatch(r"\[\d+\]:", last.inner_text().strip()):
        assert time.monotonic() < until, "the notebook did not come to its end"
        page.wait_for_timeout(200)


def errors_shown(page: Any) -> list[str]:
    """Everything the notebook shows as an error or a warning."""
    kinds = ("application/vnd.jupyter.error", "application/vnd.jupyter.stderr")
    return [
        text
        for kind in kinds
        for text in page.locator(f".jp-OutputArea [data-mime-type='{kind}']").all_inner_texts()
    ]
