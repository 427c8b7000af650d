"""For the vendor, on a terminal. From a `VendorStatement`; computes nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from headlife.show.terminal import Screen, Verdict
from headlife.show.vendor.table import head_rows
from headlife.show.words import vendor as words
from headlife.show.words.days import day

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.vendor import VendorStatement


def print_vendor(screen: Screen, said: VendorStatement) -> None:
    """Print the statement.

    Parameters
    ----------
    screen : Screen
        Printed on.
    said : VendorStatement
        The statement.
    """
    whose = said.head_type if said.vendor is None else f"{said.head_type}, {said.vendor}"
    screen.head(f"{whose}: the rating by records from {day(said.first)} to {day(said.as_of)}")
    screen.say(words.claim_sentence(said))
    screen.table(
        "Does the rating hold?",
        ["Role", "Verdict", "In words"],
        [[one.role, Verdict(one.stated), words.role_sentence(one)] for one in said.roles],
    )
    if said.divided:
        screen.table("Lot by lot", *words.parts_table(said, Verdict))
        for divided in said.divided:
            screen.say(words.divided_sentence(divided))
    screen.table("Failures before the rated hours", words.HEADINGS, _shown(said.early), right=(5,))
    if warranty := words.warranty_sentence(said):
        screen.gap()
        screen.say(warranty)
        screen.table("", words.HEADINGS, _shown(said.warranted), right=(5,))
    screen.gap()
    for line in words.method_lines(said):
        screen.say(line)


def _shown(heads: pd.DataFrame) -> list[list[Any]]:
    return [["–" if cell is None else cell for cell in row] for row in head_rows(heads)]
