"""In which other files does a command write its answer: a table, a workbook, a calendar?

One option for each; claimed before anything is read, written after the answer was told. No command
itself.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from headlife.show.files import Outputs, write_whole

if TYPE_CHECKING:
    from headlife.show.terminal import Screen


class AnswerFile(NamedTuple):
    """A file that an answer can be written to."""

    option: str
    """Option that names it, without its dashes."""
    example: str
    """A name, as the help shows it."""
    holds: str
    """What it holds, in words."""


def add_arguments(parser: argparse.ArgumentParser, files: tuple[AnswerFile, ...]) -> None:
    """Add an option for each file.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        Of the command.
    files : tuple of AnswerFile
        The files.
    """
    for one in files:
        parser.add_argument(
            f"--{one.option}", metavar=one.example, help=f"where to write {one.holds}"
        )


def claim(
    args: argparse.Namespace, outputs: Outputs, files: tuple[AnswerFile, ...]
) -> dict[str, Path]:
    """Claim the files that are asked for.

    Parameters
    ----------
    args : argparse.Namespace
        The arguments of the command line, read.
    outputs : Outputs
        What may be written.
    files : tuple of AnswerFile
        Those that the command knows.

    Returns
    -------
    dict of str to Path
        Where each is to be, by its option.
    """
    asked = {one.option: getattr(args, one.option) for one in files}
    return {name: outputs.claim(to, f"--{name}") for name, to in asked.items() if to}


def write(places: dict[str, Path], content: Callable[[str], bytes], screen: Screen | None) -> None:
    """Write the files, after the answer was told.

    Parameters
    ----------
    places : dict of str to Path
        From `claim`.
    content : callable
        Makes the file of an option.
    screen : Screen or None
        Where to say so; None for a program.
    """
    for name, place in places.items():
        write_whole(place, content(name))
        if screen is not None:
            screen.say(f"Written: {place}")
