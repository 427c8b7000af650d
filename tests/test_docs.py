"""The reference: pages link to each other, and nothing on them is fetched from outside."""

from __future__ import annotations

import dataclasses

import pytest
from shared.docs import build, docstrings

import headlife as hl


@pytest.mark.parametrize(
    ("line", "outside"),
    [
        ('<script src="https://elsewhere.org/x.js"></script>', True),
        ('<link rel="stylesheet" href="//elsewhere.org/x.css">', True),
        ("@import url('https://elsewhere.org/x.css');", True),
        ("body { background: url(https://elsewhere.org/x.png) }", True),
        ('<img alt="" src="http://elsewhere.org/x.png">', True),
        ('<img src="data:image/png;base64,//8A">', False),
        ('<script src="_static/searchtools.js"></script>', False),
        ('<a href="https://elsewhere.org">a link to click</a>', False),
    ],
)
def test_what_a_browser_would_fetch_from_outside_is_found(tmp_path, line, outside):
    page = tmp_path / "page.html"
    page.write_text(line)
    assert bool(build.fetched(page)) is outside


@pytest.mark.parametrize("name", build.MARKDOWN)
def test_links_between_files_become_links_between_pages(name):
    text = build.with_own_links(build.ROOT / name)
    for _, goal in build.LINK.findall(text):
        assert goal.startswith("http") or goal in build.MARKDOWN.values()


def test_every_name_of_the_front_door_and_every_module_has_its_place():
    page = build.front_door()
    assert all(f":: headlife.{name}\n" in page for name in hl.__all__ if name != "__version__")
    pages = build.rooms()
    for path in (build.ROOT / "analysis" / "headlife").rglob("*.py"):
        if not path.stem.startswith("__"):
            parts = path.relative_to(build.ROOT / "analysis" / "headlife").with_suffix("").parts
            assert ".".join(parts) in pages


def test_every_public_name_says_what_it_takes_and_gives():
    found = [
        fault for name, one in docstrings.public_names() for fault in docstrings.faults(name, one)
    ]
    assert found == []


def undocumented(hours: float) -> float:
    """Say nothing of what it takes."""
    return hours


@dataclasses.dataclass(frozen=True)
class Bare:
    """A result whose field says nothing."""

    told: float
    """A field with its docstring [h]."""
    untold: float


def test_what_a_docstring_leaves_out_is_found():
    name = f"{__name__}.undocumented"
    assert [line.split(": ")[1] for line in docstrings.faults(name, undocumented)] == [
        "Parameters {'hours'} not documented",
        "No Returns section found",
    ]
    assert docstrings.faults("Bare", Bare) == ["Bare.untold: a field without its docstring"]
