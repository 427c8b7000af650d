"""One word for one thing: nothing that people read uses a word the glossary rules out."""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "analysis" / "headlife"
GLOSSARY = ROOT / "shared" / "glossary.md"
# What shops write over their columns and for their reasons, in their own words.
THEIRS = ("records/draft/vocabulary.py", "records/draft/meaning_lines.py", "shop/columns.py")
# Words of a source, or of another trade, that are quoted as they are.
QUOTED = re.compile(r"Likelihood-ratio|machine hours?\b|bars and bands|Gantt", re.IGNORECASE)
# Names: code in backticks, options, files, settings with an underscore, tags and their classes.
NAMES = re.compile(r"`[^`]*`|<[^>]*>|--[\w-]+|\b\w+\.(?:csv|html|xlsx|toml|md)\b|\b\w*_\w*\b")


def never() -> list[re.Pattern[str]]:
    """The words of the glossary's last table, as whole words."""
    rows = GLOSSARY.read_text().split("| write | never |")[1].splitlines()[2:]
    words = [word.strip() for row in rows if row for word in row.split("|")[2].split(",")]
    assert len(words) > 30
    return [re.compile(rf"\b{re.escape(word)}\b", re.IGNORECASE) for word in words]


def faults(text: str) -> list[str]:
    plain = QUOTED.sub(" ", NAMES.sub(" ", text))
    return [one.pattern for one in never() if one.search(plain)]


def said(path: Path) -> Iterator[tuple[int, str]]:
    """Texts of a module that are sentences or headings; what explains code is not shown."""
    tree = ast.parse(path.read_text())
    explains = {
        id(body[0].value)
        for node in ast.walk(tree)
        if isinstance(body := getattr(node, "body", None), list)
        and body
        and isinstance(body[0], ast.Expr)
    }
    explains |= {id(one.value) for one in ast.walk(tree) if isinstance(one, ast.Expr)}
    for node in ast.walk(tree):
        text = getattr(node, "value", None) if isinstance(node, ast.Constant) else None
        if isinstance(text, str) and id(node) not in explains and " " in text.strip():
            yield node.lineno, text


@pytest.mark.parametrize(
    "path",
    [
        path
        for path in sorted(PACKAGE.rglob("*.py"))
        if not str(path.relative_to(PACKAGE)).startswith(THEIRS)
    ],
    ids=lambda path: str(path.relative_to(PACKAGE)),
)
def test_no_sentence_heading_or_message_uses_another_word(path):
    found = [(line, text[:80], words) for line, text in said(path) if (words := faults(text))]
    assert not found


@pytest.mark.parametrize("path", sorted((PACKAGE / "show" / "scripts").glob("*.js")), ids=str)
def test_no_script_of_a_page_does(path):
    code = re.sub(r"//.*", "", path.read_text())
    texts = re.findall(r'"[^"\n]*"|`[^`\n]*`', code)
    assert not [text for text in texts if " " in text and faults(text.strip('`"'))]


@pytest.mark.parametrize(
    "path",
    [ROOT / "README.md", *sorted((ROOT / "shared").glob("*.md"))],
    ids=lambda path: path.name,
)
def test_no_document_does(path):
    text = path.read_text().split("## Words that are not used")[0]
    text = re.sub(r"```.*?```", "", text, flags=re.DOTALL)
    assert not [(line, words) for line in text.splitlines() if (words := faults(line))]


@pytest.mark.parametrize("path", sorted((ROOT / "notebooks").glob("*.ipynb")), ids=lambda p: p.name)
def test_no_notebook_does(path):
    cells = json.loads(path.read_text())["cells"]
    told = ["".join(cell["source"]) for cell in cells if cell["cell_type"] == "markdown"]
    assert not [(text[:80], words) for text in told if (words := faults(text))]


def test_a_word_that_is_ruled_out_is_found():
    assert faults("The MTTF of this machine is 90 h.") and not faults("`machine_hour_rate` is 9.")
