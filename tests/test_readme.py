"""What the README says is so: its answers are the demo's, its commands and files exist."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from shared.docs.picture import BEGIN, END, review_lines

import headlife as hl
from headlife.cli import COMMANDS
from headlife.decisions.two_ways import read_both_ways
from headlife.show.review.values import review_values

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_answers_are_the_demo_shops_of_today():
    shop = hl.read_shop(ROOT / "data_demo" / "shop.toml")
    records = hl.read_records(ROOT / "data_demo" / "removals.csv", shop)
    review = hl.quarterly_review(records, shop)
    both = read_both_ways(review, records, shop)
    block = README.split(BEGIN)[1].split(END)[0]
    quoted = {line.strip().removeprefix("> ").removesuffix("<br>") for line in block.splitlines()}
    for lines in review_lines(review_values(review, both)).values():
        stale = [line for line in lines if line not in quoted]
        assert stale == [], "run `make picture`"


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_links_lead_to_files(name):
    text = (ROOT / name).read_text(encoding="utf-8")
    links = re.findall(r"\]\(([^)#]+)\)", text)
    files = re.findall(r"`((?:shared|notebooks|data_demo|tests)/[\w/.]+\.\w+)`", text)
    for target in links + files:
        assert (ROOT / target).is_file(), target


def test_commands_and_targets_exist():
    for command in re.findall(r"(?:`|\$ )headlife ([a-z]+)", README):
        assert command in COMMANDS, command
    targets = re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(), re.MULTILINE)
    for document in ("README.md", "DEVELOPERS.md"):
        text = (ROOT / document).read_text(encoding="utf-8")
        for target in re.findall(r"(?:`|^)make ([a-z]+)", text, re.MULTILINE):
            assert target in targets, target
