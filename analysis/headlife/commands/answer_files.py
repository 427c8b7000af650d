"""In which other files does a command write its answer: a table, a workbook, a calendar?

One option for each; claimed before anything is read, written after the answer was told. No command
itself.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from headlife.show.files import Outputs, write_whole

if TYPE_CHECKING:
    from headlife.show.terminal import Screen
    from headlife.show.xlsx import Row


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
    asked = [(one, getattr(args, one.option)) for one in files]
    return {
        one.option: outputs.claim(to, f"--{one.option}", ending=Path(one.example).suffix)
        for one, to in asked
        if to
    }


def write(
    places: dict[str, Path],
    screen: Screen | None,
    sheets: Mapping[str, Sequence[Row]],
    widths: Sequence[float],
    calendar: Callable[[Path], bytes],
) -> None:
    """Write the files, after the answer was told: `csv`, `xlsx` and `calendar`.

    Parameters
    ----------
    places : dict of str to Path
        From `claim`.
    screen : Screen or None
        Where to say so; None for a program.
    sheets : mapping of str to sequence of rows
        Name of a sheet -> its rows, the headings first; the first one is the CSV.
    widths : sequence of float
        Of the columns of the workbook, in characters.
    calendar : callable
        Makes the calendar that is to stand in a place.
    """
    from headlife.show.csv_text import csv_bytes
    from headlife.show.xlsx import workbook_bytes

    make: dict[str, Callable[[Path], bytes]] = {
        "csv": lambda _: csv_bytes(next(iter(sheets.values()))),
        "xlsx": lambda _: workbook_bytes(sheets, widths),
        "calendar": calendar,
    }
    for name, place in places.items():
        write_whole(place, make[name](place))
        if screen is not None:
            screen.say(f"Written: {place}")
