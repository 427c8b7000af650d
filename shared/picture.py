"""Take the README's picture: the first screen of the demo shop's review, in a real browser.

Runs the review on the demo and photographs the page at the width of a desk. Needs Chromium
(Debian package chromium). Run by `make picture`.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).parents[1]
PICTURE: Final = ROOT / "shared" / "first_screen.png"
SIZE: Final = {"width": 1280, "height": 790}


def main() -> int:
    """Write the picture; 1 without Chromium."""
    chromium = shutil.which("chromium")
    if chromium is None:
        print("Chromium is missing; install it (Debian package chromium).", file=sys.stderr)
        return 1
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as folder:
        page_file = Path(folder) / "review.html"
        demo = ROOT / "data_demo"
        command = [sys.executable, "-m", "headlife.cli", "review", str(demo / "removals.csv")]
        command += ["--shop", str(demo / "shop.toml"), "--out", str(page_file)]
        subprocess.run(command, check=True)
        with sync_playwright() as driver:
            browser = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
            page = browser.new_page(viewport=SIZE)
            page.goto(page_file.as_uri())
            page.screenshot(path=PICTURE)
            browser.close()
    print(f"The picture: {PICTURE.relative_to(ROOT)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
