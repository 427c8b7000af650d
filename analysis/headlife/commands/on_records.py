"""What do the commands that answer from records and settings share?

Arguments in, a case out; the places they may write to; and a page, written after the answers were
told. No command itself.
"""

from __future__ import annotations

import argparse
import datetime
import stat
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from headlife.alike import missing_file
from headlife.errors import HeadlifeError
from headlife.show.files import Outputs, refuse_name, write_whole

if TYPE_CHECKING:
    from headlife.case import Case
    from headlife.progress import Progress
    from headlife.show.figures.style import Drawn
    from headlife.show.page import Page
    from headlife.show.terminal import Screen

# Printers of this kind are younger; beyond, the day has no number in the tables.
_FIRST_YEAR: Final = 1900
_LAST_YEAR: Final = 2199
_LONG_SINCE: Final = 92  # days, a quarter: a log that ends earlier has a gap (own choice)


def add_arguments(
    parser: argparse.ArgumentParser,
    as_of: str = "look at the records as on this day",
    page: bool = True,
) -> None:
    """Add the arguments that name records, settings and how to look at them.

    Parameters
    ----------
    parser : ArgumentParser
        Of the command.
    as_of : str
        What `--as-of` does, for the help.
    page : bool
        Whether the command can write a page.
    """
    parser.add_argument("records", metavar="RECORDS", help="table of head removals, or a folder")
    parser.add_argument("--shop", required=True, help="the shop's settings file (TOML)")
    if page:
        parser.add_argument("--out", metavar="PAGE.html", help="where to write the page")
    parser.add_argument("--as-of", metavar="DATE", help=as_of)
    parser.add_argument("--seed", type=int, help="seed of the random numbers (default: settings)")
    parser.add_argument(
        "--set-aside",
        choices=("stop", "continue"),
        help="what to do when rows cannot be used (default: settings)",
    )
    parser.add_argument("--json", action="store_true", help="print the answers for a program")


def add_figures(parser: argparse.ArgumentParser) -> None:
    """Add the argument of commands whose page has figures.

    Parameters
    ----------
    parser : ArgumentParser
        Of the command.
    """
    parser.add_argument(
        "--figures",
        metavar="FOLDER",
        help="a new or empty folder for every figure as SVG and PNG of a slide's size, with its "
        "data as CSV",
    )


def figures_folder(args: argparse.Namespace) -> Path | None:
    """Say where figures will be written, or why they may not be.

    Parameters
    ----------
    args : argparse.Namespace
        The arguments of the command line, read.

    Returns
    -------
    Path or None
        The folder; None where none is asked for.

    Raises
    ------
    HeadlifeError
        It holds files already, is no folder, or its own folder does not exist.
    """
    if args.figures is None:
        return None
    folder = Path(args.figures).absolute()
    where = f"--figures {args.figures}"
    refuse_name(folder.name, where)
    try:
        no_folder = folder.exists() and not folder.is_dir()
        full = folder.is_dir() and any(folder.iterdir())
        lost = not folder.parent.is_dir()
    except (OSError, ValueError) as problem:
        raise HeadlifeError(f"{where} cannot be read; choose another folder.") from problem
    if no_folder:
        raise HeadlifeError(f"{where} is no folder; name a new or an empty one.")
    if full:
        raise HeadlifeError(
            f"{where} holds files already; name a new or an empty folder, so that nothing is lost."
        )
    if lost:
        raise HeadlifeError(
            f"{where}: the folder {folder.parent} does not exist; make it, or choose another."
        )
    return folder


def case_of(args: argparse.Namespace, report: Progress | None = None) -> Case:
    """Read the case that the arguments name; say what of it is not known or not read.

    Parameters
    ----------
    args : Namespace
        Checked by `check`.
    report : callable, optional
        Called with (step, done, total).

    Returns
    -------
    Case
        The case.
    """
    from headlife.case import read_case

    case = read_case(
        Path(args.records).absolute(),
        shop=Path(args.shop).absolute(),
        as_of=args.as_of,
        seed=args.seed,
        set_aside=args.set_aside,
        progress=report,
    )
    complain_of_gaps(case)
    return case


def complain_of_gaps(case: Case) -> None:
    """Say on the error stream which sheets like the log are not read, and how long it ended ago.

    Parameters
    ----------
    case : Case
        The case, read.
    """
    from headlife.show.terminal import complain

    for sentence in case.records.not_read:
        complain(sentence)
    newest = case.records.accepted["date_out"].max()
    days = (case.day - newest.normalize()).days
    if days > _LONG_SINCE:
        complain(
            f"the newest row of {case.records.source} is of {newest:%Y-%m-%d}, {days} days before "
            f"{case.day:%Y-%m-%d}: what happened since is not known, and ages are projected."
        )


def check(args: argparse.Namespace, *more: Path) -> Outputs:
    """Refuse arguments that make no sense before anything is read; give what may be written.

    Parameters
    ----------
    args : argparse.Namespace
        The arguments of the command line, read.
    *more : Path
        Further inputs of the command, which may not be overwritten.

    Returns
    -------
    Outputs
        What may be written.

    Raises
    ------
    HeadlifeError
        A seed, a day or a file that cannot be.
    """
    if args.seed is not None and args.seed < 0:
        raise HeadlifeError(f"--seed is a whole number, 0 or more; got {args.seed}.")
    if args.as_of is not None:
        day_of("--as-of", args.as_of)
    return Outputs([*record_files(args.records), input_file(args.shop, "settings"), *more])


def record_files(name: str) -> list[Path]:
    """Make sure that records are there: a table, or a folder of them.

    Parameters
    ----------
    name : str
        As the person wrote it.

    Returns
    -------
    list of Path
        The files that are read and must not be written over.

    Raises
    ------
    HeadlifeError
        As for `input_file`; the folder cannot be looked into.
    """
    from headlife.records.folders import in_folder

    path = input_file(name, "records", folder=True)
    return [one for one in in_folder(path) if one.is_file()] if path.is_dir() else [path]


def input_file(name: str, what: str, *, folder: bool = False) -> Path:
    """Make sure that an input is there and comes to an end, before anything reads it.

    Parameters
    ----------
    name : str
        As the person wrote it.
    what : str
        What it holds, such as "records"; for the sentence.
    folder : bool
        Whether a folder of files will do.

    Returns
    -------
    Path
        The input.

    Raises
    ------
    HeadlifeError
        It does not exist, cannot be reached, or is a pipe or a device, which may never end.
    """
    path = Path(name)
    try:
        there = path.stat()
    except (OSError, ValueError) as problem:
        if isinstance(problem, FileNotFoundError):
            said = f"does not exist{missing_file(path)}"
        else:
            said = f"cannot be read ({getattr(problem, 'strerror', None) or 'no such name'})"
        raise HeadlifeError(f"The {what} file {path.absolute()} {said}.") from None
    if stat.S_ISDIR(there.st_mode) and not folder:
        raise HeadlifeError(f"{path.absolute()} is a folder; name the {what} file in it.")
    if not (stat.S_ISREG(there.st_mode) or stat.S_ISDIR(there.st_mode)):
        raise HeadlifeError(
            f"{path.absolute()} is a device or a pipe, no {what} file; save it as a file first."
        )
    return path


def day_of(option: str, text: str) -> datetime.date:
    """Read a day given on the command line; anything but year-month-day is refused.

    Parameters
    ----------
    option : str
        The option, as it is written.
    text : str
        What was given.

    Returns
    -------
    datetime.date
        The day.
    """
    try:
        day = datetime.date.fromisoformat(text)
    except ValueError:
        day = None
    if day is None or day.isoformat() != text:
        raise HeadlifeError(
            f"{option} '{text}' is not a date; write year-month-day, such as 2026-09-30."
        )
    if not _FIRST_YEAR <= day.year <= _LAST_YEAR:
        raise HeadlifeError(
            f"{option} {text} is in no year that records are of ({_FIRST_YEAR} to {_LAST_YEAR}); "
            "correct the year."
        )
    return day


def tell(
    args: argparse.Namespace, values: Callable[[], Any], show: Callable[[Screen], None]
) -> Screen | None:
    """Print the answers, or with `--json` their values for a program and nothing else.

    Parameters
    ----------
    args : argparse.Namespace
        The arguments of the command line, read.
    values : callable
        Gives the values.
    show : callable
        Prints the answers on the screen that it is given.

    Returns
    -------
    Screen or None
        Where to say what is written next; None for a program.
    """
    from headlife.show.terminal import Screen, print_json

    if args.json:
        print_json(values())
        return None
    screen = Screen()
    show(screen)
    return screen


def write_file(
    place: Path | None, content: Callable[[], bytes], screen: Screen | None, what: str
) -> None:
    """Write a further file of an answer, after the answer was told.

    Parameters
    ----------
    place : Path or None
        From `Outputs.claim`; None where it is not wanted.
    content : callable
        Gives what it holds.
    screen : Screen or None
        From `tell`.
    what : str
        What it is, for the sentence.
    """
    if place is None:
        return
    write_whole(place, content())
    if screen is not None:
        screen.gap()
        screen.say(f"{what}: {place}")


def write_page(
    make: Callable[[], Page],
    path: Path | None,
    screen: Screen | None,
    figures: Path | None = None,
) -> None:
    """Make a page and write it, after the answers were told; and its figures by themselves.

    Parameters
    ----------
    make : callable
        Gives the page.
    path : Path or None
        From `Outputs.claim`; None where only the figures are wanted.
    screen : Screen or None
        Where to say so; None for a program.
    figures : Path, optional
        From `figures_folder`.
    """
    from headlife.show.figures.style import kept_drawings
    from headlife.show.page import missing_parts
    from headlife.show.terminal import complain, progress_bar
    from headlife.show.words.numbers import counted

    if path is None and figures is None:
        return
    with progress_bar("drawing the page"), kept_drawings() as drawn:
        text = make().html()
    if path is not None:
        write_whole(path, text.encode())
    missing = missing_parts(text)
    if missing:
        complain(
            f"{counted(missing, 'part', 'parts')} of the page could not be made, a fault of "
            "headlife, not of your files; a sentence stands in place. The answers stand."
        )
    if figures is not None:
        _write_figures(drawn, figures)
    if screen is not None:
        screen.gap()
        if path is not None:
            screen.say(f"The page: {path}")
        if figures is not None:
            screen.say(f"{counted(len(drawn), 'figure', 'figures')}: {figures}")


def _write_figures(drawn: list[Drawn], folder: Path) -> None:
    from headlife.show.figures.slides import files_of

    try:
        folder.mkdir(exist_ok=True)
    except OSError as problem:
        raise HeadlifeError(f"{folder} cannot be made: {problem.strerror}.") from problem
    for number, one in enumerate(drawn, 1):
        for name, content in files_of(one, number):
            write_whole(folder / name, content)
