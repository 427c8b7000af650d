"""The commands of the terminal, one module each, which is a `Command`.

`on_records` is no command but what those that answer from records and settings share.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    import argparse


class Command(Protocol):
    """What the module of a command holds."""

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """Add the arguments of this command.

        Parameters
        ----------
        parser : argparse.ArgumentParser
            Of this command.
        """

    def run(self, args: argparse.Namespace) -> int:
        """Answer what this command is asked.

        Parameters
        ----------
        args : argparse.Namespace
            The arguments of the command line, read.

        Returns
        -------
        int
            Exit code: 0 done.
        """
