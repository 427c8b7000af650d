"""Build the HTML reference, offline and with every warning an error.

From the package's docstrings, the pages beside this file and the executed notebooks of one
folder: `python shared/docs/build.py NOTEBOOKS TARGET` (`make docs`). Stages the pages, runs
Sphinx, and refuses a page that would fetch anything from outside.
"""

from __future__ import annotations

import argparse
import importlib
import inspect
import pkgutil
import re
import shutil
import sys
from pathlib import Path
from types import ModuleType

import nbformat
from sphinx.cmd.build import main as sphinx_build

import headlife
from headlife.cli import COMMANDS
from headlife.show.notebook.page import notebook_html

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
ROOMS = ("shop", "records", "life", "fleet", "futures", "decisions", "scale", "show", "commands")
# Pages written elsewhere as Markdown -> their name here.
MARKDOWN = {
    "shared/columns.md": "columns.md",
    "shared/settings.md": "settings.md",
    "shared/answers.md": "answers.md",
    "shared/glossary.md": "glossary.md",
    "DEVELOPERS.md": "developers.md",
    "CHANGELOG.md": "changelog.md",
}
LINK = re.compile(r"(?<!!)\[([^\]]+)\]\(([^)\s]+)\)")
# What makes a browser fetch: a link to be clicked does not.
_FETCHED = re.compile(
    r"""(?:<(?:img|script|iframe|source|video|audio|embed)[^>]*\ssrc|<link[^>]*\shref|url\(|@import)"""
    r"""\s*=?\s*["'(]?\s*(?:https?:)?//[^"')>]+"""
)


def main(arguments: list[str] | None = None) -> int:
    """Stage, build, check; 0 when every page is sound."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("notebooks", type=Path, help="folder of executed notebooks")
    parser.add_argument("target", type=Path, help="folder for the pages")
    given = parser.parse_args(arguments)
    staged = given.target.with_name(given.target.name + "_pages")
    for folder in (staged, given.target):
        shutil.rmtree(folder, ignore_errors=True)
    stage(staged, given.notebooks)
    options = ["-q", "-W", "--keep-going", "-b", "html", "-d", str(staged / ".doctrees")]
    if sphinx_build([*options, str(staged), str(given.target)]):
        return 1
    found = [line for page in sorted(given.target.rglob("*")) for line in fetched(page)]
    print("\n".join(found) or f"The reference: {given.target / 'index.html'}")
    return 1 if found else 0


def stage(target: Path, notebooks: Path) -> None:
    """Write every page, in reStructuredText or Markdown, into one folder for Sphinx."""
    shutil.copytree(HERE, target, ignore=shutil.ignore_patterns("*.pyc", "__pycache__", "build.py"))
    for source, name in MARKDOWN.items():
        (target / name).write_text(with_own_links(ROOT / source), encoding="utf-8")
    (target / "front_door.rst").write_text(front_door(), encoding="utf-8")
    (target / "commands.rst").write_text(commands(), encoding="utf-8")
    (target / "rooms").mkdir()
    for name, text in rooms().items():
        (target / "rooms" / f"{name}.rst").write_text(text, encoding="utf-8")
    (target / "extra" / "notebooks").mkdir(parents=True)
    titles = {}
    for path in sorted(notebooks.glob("*.ipynb")):
        notebook = nbformat.read(path, as_version=4)
        titles[path.stem] = re.sub("^#+ *", "", notebook.cells[0].source.splitlines()[0])
        page = notebook_html(notebook, titles[path.stem])
        (target / "extra" / "notebooks" / f"{path.stem}.html").write_text(page, encoding="utf-8")
    if not titles:
        raise SystemExit(f"no executed notebook in {notebooks}; run `make notebooks` first")
    (target / "notebooks.rst").write_text(notebook_list(titles), encoding="utf-8")


def with_own_links(path: Path) -> str:
    """Turn links between files of the repository into links between pages, or into plain names."""

    def turned(link: re.Match[str]) -> str:
        words, goal = link.groups()
        if goal.startswith(("http", "#")):
            return link.group()
        file = (path.parent / goal.partition("#")[0]).resolve().relative_to(ROOT)
        page = MARKDOWN.get(file.as_posix())
        named = f"`{file.as_posix()}`"
        return f"[{words}]({page})" if page else named if "/" in words else f"{words} ({named})"

    return LINK.sub(turned, path.read_text(encoding="utf-8"))


def heading(words: str, mark: str = "=") -> str:
    """Write a heading with its line under it."""
    return f"{words}\n{mark * len(words)}\n\n"


def directive(full_name: str, thing: object) -> str:
    """Write the directive that documents a class, a function or a value."""
    kind = "class" if inspect.isclass(thing) else "function" if callable(thing) else "data"
    return f".. auto{kind}:: {full_name}\n\n"


def front_door() -> str:
    """List what `import headlife` offers."""
    names = [name for name in headlife.__all__ if not name.startswith("__")]
    text = heading("Front door")
    text += (
        "What ``import headlife as hl`` offers. Each name is imported when it is first used.\n\n"
    )
    text += ".. contents::\n   :local:\n\n"
    for name in names:
        text += heading(name, "-") + directive(f"headlife.{name}", getattr(headlife, name))
    return text


def commands() -> str:
    """List the commands with what they answer and their arguments."""
    from headlife.cli import build_parser

    text = heading("Commands") + "``headlife COMMAND --help`` prints the same.\n\n"
    for name, answers in COMMANDS.items():
        chosen = build_parser(name)._subparsers._group_actions[0].choices[name]  # type: ignore[union-attr]
        chosen.formatter_class = lambda prog: argparse.HelpFormatter(prog, width=96)
        help_ = "\n".join(f"   {line}".rstrip() for line in chosen.format_help().splitlines())
        text += heading(f"headlife {name}", "-") + f"{answers[0].upper()}{answers[1:]}.\n\n"
        text += f".. code-block:: text\n\n{help_}\n\n"
    return text


def rooms() -> dict[str, str]:
    """Write a page for each module, one for each room that lists them, and one of all rooms."""
    pages, all_rooms = {}, {}
    for room in ROOMS:
        package = importlib.import_module(f"headlife.{room}")
        found = {
            module.name.removeprefix("headlife."): importlib.import_module(module.name)
            for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}.")
            if not (module.ispkg or module.name.endswith("__main__"))
        }
        pages |= {short: module_page(short, module) for short, module in found.items()}
        pages[room] = f"{heading(room)}{inspect.getdoc(package)}\n\n{with_questions(found)}"
        all_rooms[room] = package
    alone = {
        module.name.removeprefix("headlife."): importlib.import_module(module.name)
        for module in pkgutil.iter_modules(headlife.__path__, "headlife.")
        if not (module.ispkg or module.name.endswith("__main__"))
    }
    pages |= {short: module_page(short, module) for short, module in alone.items()}
    order = "A room imports only rooms before it in this list; `case` stands before `futures`.\n\n"
    small = heading("Modules of no room", "-") + with_questions(alone)
    pages["index"] = heading("Rooms") + order + with_questions(all_rooms) + small
    return pages


def with_questions(modules: dict[str, ModuleType]) -> str:
    """List modules, each a link to its page, with the question that it opens with."""
    rows = "".join(
        f"   * - :doc:`{short} <{short}>`\n     - {first_sentence(module)}\n"
        for short, module in modules.items()
    )
    names = "".join(f"   {short}\n" for short in modules)
    return f".. list-table::\n   :widths: 30 70\n\n{rows}\n.. toctree::\n   :hidden:\n\n{names}\n"


def first_sentence(module: ModuleType) -> str:
    """Give what a module opens with, on one line."""
    return " ".join((inspect.getdoc(module) or "").split("\n\n")[0].split())


def module_page(short: str, module: ModuleType) -> str:
    """Document one module: its question, then everything public in it."""
    return heading(short) + f".. automodule:: {module.__name__}\n"


def notebook_list(titles: dict[str, str]) -> str:
    """List the executed notebooks; they are pages of their own, outside Sphinx."""
    text = (
        heading("Notebooks")
        + "As they ran when these pages were made.\n\n.. raw:: html\n\n   <ul>\n"
    )
    for stem, title in titles.items():
        text += f'   <li><a href="notebooks/{stem}.html">{title}</a></li>\n'
    return text + "   </ul>\n"


def fetched(page: Path) -> list[str]:
    """Whatever a browser would fetch from outside for this page or sheet."""
    if page.suffix not in {".html", ".css"}:
        return []
    text = page.read_text(encoding="utf-8")
    return [f"{page}: fetches {found.group()}" for found in _FETCHED.finditer(text)]


if __name__ == "__main__":
    sys.exit(main())
