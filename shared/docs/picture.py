"""Refresh what the README shows of the demo shop: the picture of the first screen, the answers.

Runs the review on the demo, photographs its page at the width of a desk, and writes the present
answers between the two marks in README.md. Needs Chromium (Debian package chromium). Run by
`make picture`.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any, Final

ROOT: Final = Path(__file__).parents[2]
DEMO: Final = ROOT / "data_demo"
README: Final = ROOT / "README.md"
PICTURE: Final = ROOT / "shared" / "first_screen.png"
SIZE: Final = {"width": 1280, "height": 790}
BEGIN: Final = "<!-- answers of the demo: written by make picture -->"
END: Final = "<!-- end of the answers -->"


def review_lines(review: dict[str, Any]) -> dict[str, list[str]]:
    """Quote the review's answers, by question of the README."""
    ratings, spares, records = review["ratings"], review["stock"], review["records"]
    return {
        "rating": [
            f"{one['head_type']}, {one['role']}: {one['verdict']}. {one['sentence']} "
            f"{one['standing']['sentence'] if one['standing'] else ''}".strip()
            for one in ratings
        ],
        "spares": [f"{one['head_type']}: {one['sentence']}" for one in spares],
        "today": [f"{one['head_type']}, {one['role']}: {one['watch_sentence']}" for one in ratings],
        "trust": [
            f"{records['rows_read']} rows read, {records['rows_set_aside']} set aside.",
            *(f"{one['head_type']}: {one['last_quarter_sentence']}" for one in spares),
        ],
    }


def policy_lines(replace: dict[str, Any]) -> list[str]:
    """Quote the advice on running past the rating, one line per head type and role."""
    return [
        f"{one['head_type']}, {one['role']}: {one['advice']} {one['step_sentence']}".rstrip()
        for one in replace["kinds"]
    ]


def answers_block(review: dict[str, Any], replace: dict[str, Any]) -> str:
    """Write the five questions with the demo's answers, as Markdown."""
    lines = review_lines(review) | {"policy": policy_lines(replace)}
    questions = (
        ("rating", "Rating. Does the vendor's rating hold for our heads?", "review"),
        ("spares", "Spares. How many heads do we hold, and what do we order now?", "review"),
        ("policy", "Policy. Swap at the rating, or run past it, and how far?", "replace"),
        ("today", "Today. Which heads may not finish the next long build?", "review"),
        ("trust", "Trust. Are the records sound, and did the last forecast come true?", "review"),
    )
    parts = [
        f"{number}. **{question}** (`headlife {command}`)\n"
        + "".join(f"   > {line}<br>\n" for line in lines[key]).removesuffix("<br>\n")
        for number, (key, question, command) in enumerate(questions, start=1)
    ]
    return "\n\n".join(parts)


def main() -> int:
    """Write the picture and the answers; 1 without Chromium."""
    chromium = shutil.which("chromium")
    if chromium is None:
        print("Chromium is missing; install it (Debian package chromium).", file=sys.stderr)
        return 1
    with tempfile.TemporaryDirectory() as folder:
        page_file = Path(folder) / "review.html"
        review = _answers_of("review", "--out", str(page_file))
        _photograph(page_file, chromium)
    _write_answers(answers_block(review, _answers_of("replace")))
    print(f"Written: {PICTURE.relative_to(ROOT)} and the answers in {README.name}")
    return 0


def _answers_of(command: str, *options: str) -> dict[str, Any]:
    run = [sys.executable, "-m", "headlife.cli", command, str(DEMO / "removals.csv")]
    run += ["--shop", str(DEMO / "shop.toml"), "--json", *options]
    done = subprocess.run(run, check=True, capture_output=True, text=True)
    return dict(json.loads(done.stdout))


def _photograph(page_file: Path, chromium: str) -> None:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        page = browser.new_page(viewport=SIZE)
        page.goto(page_file.as_uri())
        page.screenshot(path=PICTURE)
        browser.close()


def _write_answers(block: str) -> None:
    text = README.read_text(encoding="utf-8")
    before, rest = text.split(BEGIN)
    _, after = rest.split(END)
    README.write_text(f"{before}{BEGIN}\n\n{block}\n\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
