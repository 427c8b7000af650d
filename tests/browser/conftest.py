"""A headless Chromium for the tests: required where CI=true, skipped with a reason elsewhere.

Where HEADLIFE_SCREENSHOTS names a folder, pictures of what was seen are kept there for people.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.browser.lab import running_lab

_NAMES = ("chromium", "chromium-browser", "google-chrome")


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    path = next(filter(None, map(shutil.which, _NAMES)), None)
    if path is None:
        if os.environ.get("CI") == "true":
            pytest.fail("CI=true and no chromium on the path: .ci/run installs it")
        pytest.skip("no chromium on the path (Debian package chromium)")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        # Chromium's own sandbox needs rights that containers do not have; the pages are ours.
        opened = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def lab(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a JupyterLab that serves a copy of the notebooks."""
    with running_lab(tmp_path_factory.mktemp("lab")) as address:
        yield address


@pytest.fixture
def keep_picture() -> Callable[..., None]:
    """Keep a picture of a page where the environment asks for it."""

    def keep(page: Any, name: str, **options: Any) -> None:
        folder = os.environ.get("HEADLIFE_SCREENSHOTS")
        if folder:
            page.screenshot(path=Path(folder) / f"{name}.png", **options)

    return keep
