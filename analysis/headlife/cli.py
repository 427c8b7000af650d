"""The command line: which command was asked for, with what.

Each command lives in a module of its own under `headlife.commands`, imported only when it is
the one asked for, so that `headlife --help` is quick. A mistake the user can mend ends with its
sentence and exit code 2, an interrupted run with one sentence and exit code 130; neither with a
traceback.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Mapping, Sequence
from importlib import import_module
from typing import TYPE_CHECKING, Final, cast

from headlife import __version__
from headlife.errors import HeadlifeError
from headlife.stopped import EXIT_CODE, SENTENCE, ctrl_c_given, raise_ctrl_c

if TYPE_CHECKING:
    from headlife.commands import Command

_MISTAKE: Final = 2
_TOO_LITTLE: Final = (
    "headlife: this computer has too little free memory for it, or the run was allowed too little; "
    "close other programs or allow more. Nothing was left half-written."
)

_NO_ROOM_BETWEEN: Final = (
    "headlife: no folder for temporary files can be written to, and a page needs one; name one "
    "that can, as TMPDIR=some/folder. Nothing was left half-written."
)

# Command -> what it answers. Its module has the same name, with - as _.
COMMANDS: Final[dict[str, str]] = {
    "check": "what in the records cannot be used or is doubtful, on screen, as a page, as tables",
    "settings": "draft a settings file from your own table, for you to finish",
    "log": "a workbook to keep the log in, with your own head types, reasons and printers",
    "demo": "write the demo's records and settings into a folder, to play with",
    "review": "the quarterly review: rating, spares, heads to watch, as a table and a page",
    "due": "which heads are due, on which day, what to do; also as a calendar",
    "plan": "which head to swap in which gap between the builds ahead",
    "changes": "what changed since the last quarter end: ratings, stock levels and why, heads",
    "spares": "what to hold, which orders lie ahead, what the next four quarters cost",
    "backtest": "past forecasts beside what happened",
    "replace": "running heads past their rating: costs, risks, policies side by side",
    "vendor": "one page on one head type for its vendor, and nothing else of the shop",
    "rating": "judge a rating from a plain table of lives",
    "evidence": "write what this site may tell others: its evidence, without serials or dates",
    "pool": "judge the rating at each site and at all of them, from their evidence files",
}


def build_parser(chosen: str | None) -> argparse.ArgumentParser:
    """Build the parser, with the arguments of the chosen command only.

    Parameters
    ----------
    chosen : str or None
        The command asked for; only its module is imported.

    Returns
    -------
    argparse.ArgumentParser
        The parser of the whole command line.
    """
    parser = argparse.ArgumentParser(
        prog="headlife",
        description="Reliability review for a fleet of extrusion printers, "
        "from the shop's own head removal records.",
    )
    parser.add_argument("--version", action="version", version=f"headlife {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name, answers in COMMANDS.items():
        added = commands.add_parser(
            name, help=answers, description=answers[0].upper() + answers[1:]
        )
        if name == chosen:
            module = cast("Command", import_module(f"headlife.commands.{name.replace('-', '_')}"))
            module.add_arguments(added)
            added.set_defaults(run=module.run)
    return parser


def _refuse_empty(given: Mapping[str, object]) -> None:
    """Refuse an option that is given as nothing, as a variable of a shell that is not set.

    So is one of spaces alone, and one with the sign that ends a name for every system.
    """
    for name, value in given.items():
        for text in value if isinstance(value, list) else [value]:
            if not isinstance(text, str):
                continue
            if not text.strip():
                raise HeadlifeError(
                    f"What stands for {name.replace('_', '-')} is empty; write it, or leave the "
                    "option out."
                )
            if "\0" in text:
                raise HeadlifeError(
                    f"What stands for {name.replace('_', '-')} holds a sign that no name can have "
                    "(U+0000); write it again."
                )


def _refuse_gone_folder() -> None:
    """Refuse to start in a folder that was removed or renamed meanwhile: no name leads anywhere."""
    try:
        os.getcwd()
    except FileNotFoundError:
        raise HeadlifeError(
            "The folder that this was called from is no longer there; go to one that is."
        ) from None


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0 done, 2 a mistake the user can mend.

    Parameters
    ----------
    argv : sequence of str, optional
        Arguments; those of this process where none are given.

    Returns
    -------
    int
        0 done, 2 a mistake the user can mend, 130 stopped by the user.
    """
    try:
        raise_ctrl_c()
        return _run(list(sys.argv[1:] if argv is None else argv))
    except BaseException as error:
        # Wherever it was, the import of what runs included.
        if ctrl_c_given() or isinstance(error, KeyboardInterrupt):
            sentence, code = SENTENCE, EXIT_CODE
        elif isinstance(error, MemoryError):
            sentence, code = _TOO_LITTLE, _MISTAKE
        elif isinstance(error, OSError) and _no_temporary_folder():
            sentence, code = _NO_ROOM_BETWEEN, _MISTAKE
        else:
            raise
        if sys.stderr is not None:
            print(sentence, file=sys.stderr)
        return code


def _no_temporary_folder() -> bool:
    import tempfile

    try:
        tempfile.gettempdir()
    except OSError:
        return True
    return False


def _run(arguments: list[str]) -> int:
    from headlife.show.terminal import complain, open_streams, output

    open_streams()
    # Whatever helpers are started: no file of the folder we are called from is Python to run.
    os.environ["PYTHONSAFEPATH"] = "1"
    # Our matrices are small: further threads would only wait for each other, and sums would
    # depend on the number of cores.
    for library in ("OPENBLAS", "MKL", "OMP"):
        os.environ.setdefault(f"{library}_NUM_THREADS", "1")
    os.environ["MPLBACKEND"] = "agg"  # whatever the one called from draws with
    try:
        _refuse_gone_folder()
        chosen = next((word for word in arguments if not word.startswith("-")), None)
        given = build_parser(chosen).parse_args(arguments)
        _refuse_empty(vars(given))
        code = int(given.run(given))
        with output():
            sys.stdout.flush()
    except HeadlifeError as mistake:
        if ctrl_c_given():
            raise
        complain(mistake)
        return _MISTAKE
    return code


if __name__ == "__main__":
    sys.exit(main())
