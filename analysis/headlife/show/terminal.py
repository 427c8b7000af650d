"""The answers on a terminal: tables, and a bar while the work goes on.

From plain answers; prints to the terminal. The bar goes to the error stream and only to a person
watching, so that a pipe or a log file receives the answers and nothing else.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Final

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn
from rich.table import Table
from rich.text import Text

_WIDTH_OF_A_FILE: Final = 110  # columns, where there is no terminal to ask
_STYLES: Final = {"holds": "green", "falls short": "red", "not settled": "yellow"}


class _Console(Console):
    """A console whose reader may leave early, as in `headlife review ... | head`."""

    def on_broken_pipe(self) -> None:
        self.quiet = True
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise SystemExit(0)


def console(stream: Any = None) -> Console:
    """Open the terminal, or a plain stream of a fixed width where there is none."""
    stream = stream or sys.stdout
    width = None if stream.isatty() else _WIDTH_OF_A_FILE
    # Markup off: a serial number such as [red] is text, not a colour.
    return _Console(file=stream, width=width, markup=False, emoji=False, highlight=False)


def print_json(answers: Any) -> None:
    """Print answers for a program to read."""
    print(json.dumps(answers, indent=2, ensure_ascii=False, allow_nan=False))


def grid(title: str, headings: list[str], *, right: tuple[int, ...] = ()) -> Table:
    """Start a table in the one style of all commands."""
    made = Table(title=Text(title, "bold"), title_justify="left", show_edge=False, pad_edge=False)
    for at, heading in enumerate(headings):
        made.add_column(Text(heading), justify="right" if at in right else "left", overflow="fold")
    return made


def verdict_text(words: str | None) -> Text:
    """Colour a verdict; the word alone says it as well."""
    return Text(words or "no hours yet", f"bold {_STYLES.get(words or '', '')}".strip())


def safe(value: object) -> Text:
    """Show any text on one line, without letting it move the cursor or colour the terminal."""
    return Text(
        "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in str(value))
    )


@contextmanager
def progress_bar(first: str) -> Iterator[Any]:
    """Show a bar on the error stream while the block runs; silent where nobody watches.

    Yields
    ------
    callable
        To be called with (step, done, total).
    """
    screen = console(sys.stderr)
    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(bar_width=30),
        TimeElapsedColumn(),
        console=screen,
        transient=True,
        disable=not screen.is_terminal,
    )
    with bar:
        task = bar.add_task(first, total=None)

        def report(step: str, done: int, total: int) -> None:
            bar.update(task, description=step, completed=done, total=total or None)

        yield report
