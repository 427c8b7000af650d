"""How do answers reach a terminal, whatever the files hold that they came from?

From text and rows; the one place that prints. What other people wrote may hold control characters
that move the cursor, colour the screen or turn text round: they are replaced here, for every line,
table, answer and mistake. The bar goes to the error stream and only to a person watching, so that
a pipe or a log file receives the answers and nothing else.
"""

from __future__ import annotations

import codecs
import io
import json
import os
import shutil
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any, Final, TextIO

from headlife.errors import HeadlifeError

if TYPE_CHECKING:
    from headlife.progress import Progress

_WIDTH_OF_A_FILE: Final = 110  # columns, where there is no terminal to ask
_STYLES: Final = {"holds": "green", "falls short": "red", "not settled": "yellow"}
# How a stream takes a sign it has not: not at all; the second where the locale is C.
_BREAK_OFF: Final = ("strict", "surrogateescape")
_INSTEAD: Final = "\N{REPLACEMENT CHARACTER}"


def cleaned(value: object) -> str:
    """Give text on one line, without anything that moves the cursor or turns text round.

    Parameters
    ----------
    value : object
        What to write.

    Returns
    -------
    str
        The text.
    """
    return "".join(sign if sign.isprintable() else _INSTEAD for sign in str(value))


def _cleaned_lines(text: str) -> str:
    """Give text with its line breaks, each line cleaned."""
    return "\n".join(map(cleaned, text.split("\n")))


def complain(sentence: object) -> None:
    """Tell a mistake, or that the run was stopped, on the error stream.

    Parameters
    ----------
    sentence : object
        What happened.
    """
    with suppress(OSError):  # an error stream that is full: the exit code is left to say it
        print(f"headlife: {_cleaned_lines(str(sentence))}", file=sys.stderr, flush=True)


def open_streams() -> None:
    """Make sure that output and error stream take whatever is said.

    A run that was started without one gets one that leads nowhere: as where the reader left, it
    goes on without a word, since a page may have to be written. What a stream has no sign for, as
    an old terminal that knows only English letters, is a question mark there.
    """
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w"))  # noqa: SIM115 - open until the end
        elif isinstance(stream, io.TextIOWrapper) and stream.errors in _BREAK_OFF:
            stream.reconfigure(errors="replace")


def print_json(answers: Any) -> None:
    """Print answers for a program to read; what a terminal would obey is written as its code.

    Parameters
    ----------
    answers : object
        Values that survive JSON.
    """
    # Where the output has not every sign, those it may lack are written as their code as well.
    every = _has_every_sign(sys.stdout)
    text = json.dumps(answers, indent=2, ensure_ascii=not every, allow_nan=False)
    with output():
        print("".join(sign if sign.isprintable() or sign == "\n" else _code(sign) for sign in text))


def print_file(text: str) -> None:
    """Print what would be the content of a file, as it is but for what a terminal would obey.

    Into a file or another program it goes in UTF-8, as every file that is written here, whatever
    the computer's own encoding is.

    Parameters
    ----------
    text : str
        What to write.
    """
    stream = sys.stdout
    if isinstance(stream, io.TextIOWrapper) and not (stream.isatty() or _has_every_sign(stream)):
        stream.reconfigure(encoding="utf-8")
    with output():
        print(_cleaned_lines(text), end="")


def _has_every_sign(stream: TextIO) -> bool:
    """Whether a stream writes in UTF-8."""
    return codecs.lookup(stream.encoding or "utf-8").name == "utf-8"


@contextmanager
def output() -> Iterator[None]:
    """Print inside this block; an output that is gone or full costs no traceback.

    Where the reader left (`headlife ... | head`) the run goes on without a word, since a page may
    still have to be written.

    Raises
    ------
    HeadlifeError
        The output takes no more, such as a file on a full disk.
    """
    try:
        yield
    except BrokenPipeError:
        _say_no_more()
    except OSError as problem:
        _say_no_more()
        raise HeadlifeError(
            f"the answers cannot be written to the output ({problem.strerror})."
        ) from None


def _say_no_more() -> None:
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _code(sign: str) -> str:
    units = sign.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[at : at + 2].hex()}" for at in range(0, len(units), 2))


class Screen:
    """The standard output, for people."""

    def __init__(self) -> None:
        # Imported here: a program that asks for JSON need not wait for it.
        from rich.console import Console

        class Patient(Console):
            """A console whose reader may leave early, as in `headlife review ... | head`."""

            def on_broken_pipe(self) -> None:
                self.quiet = True
                _say_no_more()

        # Asked here: with a COLUMNS of 0, as bare consoles have it, rich prints nothing at all.
        terminal = sys.stdout.isatty()
        width = shutil.get_terminal_size().columns if terminal else _WIDTH_OF_A_FILE
        # Markup off: a serial number such as [red] is text, not a colour.
        self._console = Patient(width=width, markup=False, emoji=False, highlight=False)

    def say(self, *words: object, style: str = "") -> None:
        """Print a line; a verdict among the words is coloured.

        Parameters
        ----------
        *words : object
            What to print.
        style : str, optional
            Of the text; empty for plain.
        """
        from rich.text import Text

        shown = [word if isinstance(word, Verdict) else cleaned(word) for word in words]
        line = Text(" ").join(
            word.text() if isinstance(word, Verdict) else Text(word, style) for word in shown
        )
        self._print(line)

    def head(self, words: object) -> None:
        """Print a heading.

        Parameters
        ----------
        words : object
            What to print.
        """
        self.say(words, style="bold")

    def gap(self) -> None:
        """Leave a line free."""
        self._print("")

    def table(
        self,
        title: str,
        headings: Sequence[str],
        rows: Sequence[Sequence[object]],
        right: Sequence[int] = (),
    ) -> None:
        """Print a table in the one style of all commands; nothing without rows.

        Parameters
        ----------
        title : str
            Above it, with a free line before; may be empty.
        headings : sequence of str
            One per column, with the unit in square brackets.
        rows : sequence of sequences
            Cells; a `Verdict` is coloured.
        right : sequence of int
            Columns set to the right.
        """
        from rich.text import Text

        from headlife.show.terminal_table import laid_out

        if not rows:
            return
        made = laid_out(
            Text(f"\n{cleaned(title)}" if title else "", "bold"),
            [Text(cleaned(heading)) for heading in headings],
            [
                [cell.text() if isinstance(cell, Verdict) else Text(cleaned(cell)) for cell in row]
                for row in rows
            ],
            right,
            self._console.width,
        )
        self._print(made)

    def _print(self, what: Any) -> None:
        with output():
            self._console.print(what)


class Verdict:
    """A verdict in its colour; the word alone says it as well."""

    def __init__(self, word: str | None) -> None:
        self.word = word or "no hours yet"

    def text(self) -> Any:
        """Give it as coloured text."""
        from rich.text import Text

        return Text(cleaned(self.word), f"bold {_STYLES.get(self.word, '')}".strip())


@contextmanager
def progress_bar(first: str) -> Iterator[Progress]:
    """Show a bar on the error stream while the block runs; silent where nobody watches.

    Parameters
    ----------
    first : str
        What is being done at first.

    Yields
    ------
    callable
        To be called with (step, done, total).
    """
    if not sys.stderr.isatty():
        yield lambda step, done, total: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
    from rich.progress import Progress as Bar

    screen = Console(file=sys.stderr, markup=False, emoji=False, highlight=False)
    bar = Bar(
        TextColumn("{task.description}", markup=False),
        BarColumn(bar_width=30),
        TimeElapsedColumn(),
        console=screen,
        transient=True,
    )
    with bar:
        task = bar.add_task(cleaned(first), total=None)

        def report(step: str, done: int, total: int) -> None:
            bar.update(task, description=cleaned(step), completed=done, total=total or None)

        yield report
