"""How does the list of actions become a table that people fill in and give back?

From `Actions`; gives rows of typed cells, a CSV or an XLSX, with empty columns for owner, decision
and day. Computes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from headlife.records.action_list import (
    DECIDED,
    DECISION,
    OWNER,
    REFERENCE,
    WHAT,
    ListedAction,
    reference,
)
from headlife.show.plain import plain
from headlife.show.words import actions as words

if TYPE_CHECKING:
    from headlife.decisions.actions import Action, Actions
    from headlife.decisions.came_of import CameOf

_WIDTHS: Final = (5, 44, 40, 12, 44, 14, 16, 24, 12, 30)
_HEADINGS: Final = ("No.", WHAT, "Why", "By", "Worth or risk", "Amount", OWNER, DECISION, DECIDED,
                    REFERENCE)  # fmt: skip


def action_rows(actions: Actions) -> list[list[Any]]:
    """Give the list as rows for a spreadsheet, headings first.

    Parameters
    ----------
    actions : Actions
        The list.

    Returns
    -------
    list of list
        Rows; a cell to be filled in is None.
    """
    headings = list(_HEADINGS)
    headings[headings.index("Amount")] = f"Amount [{actions.currency}]"
    rows = [
        [
            number,
            words.what(one),
            words.why(one, actions),
            one.by,
            words.stake(one, actions) or None,
            None if one.amount is None else round(one.amount, 2),
            None,
            None,
            None,
            reference(_listed(one, actions), words.what(one)),
        ]
        for number, one in enumerate(actions.each, start=1)
    ]
    return [headings, *rows]


def action_file(actions: Actions, workbook: bool) -> bytes:
    """Make the file that people fill in.

    Parameters
    ----------
    actions : Actions
        The list.
    workbook : bool
        An XLSX; otherwise a CSV.

    Returns
    -------
    bytes
        The file; the same list gives the same bytes.
    """
    rows = action_rows(actions)
    if workbook:
        from headlife.show.xlsx import workbook_bytes

        return workbook_bytes({"What to do": rows}, _WIDTHS, wrap=True)
    from headlife.show.csv_text import csv_bytes

    return csv_bytes(rows)


def _listed(action: Action, actions: Actions) -> ListedAction:
    plan = getattr(action.facts, "plan", None)
    return ListedAction(
        actions.shop_name,
        actions.as_of.date(),
        action.kind,
        action.about,
        action.by,
        action.heads,
        getattr(plan, "on_hand", 0),
        getattr(plan, "on_order", 0),
    )


def action_values(actions: Actions) -> list[dict[str, Any]]:
    """Give the list as plain values.

    Parameters
    ----------
    actions : Actions
        The list.

    Returns
    -------
    list of dict
        One per action, the most urgent first.
    """
    return [
        {
            "kind": one.kind,
            "about": plain(one.about),
            "what": words.what(one),
            "why": words.why(one, actions),
            "by": one.by.isoformat(),
            "amount": one.amount,
            "risk": one.risk,
            "heads": one.heads,
            "stake": words.stake(one, actions),
        }
        for one in actions.each
    ]


def came_values(found: Sequence[CameOf]) -> list[dict[str, Any]]:
    """Give what came of earlier actions as plain values.

    Parameters
    ----------
    found : sequence of CameOf
        What came of them.

    Returns
    -------
    list of dict
        One per action given back.
    """
    return [
        {
            "what": one.given.what,
            "asked_on": one.given.action.as_of.isoformat(),
            "by": one.given.action.by.isoformat(),
            "owner": one.given.owner,
            "decision": one.given.decision,
            "decided": one.given.decided,
            "state": one.state,
            "day": None if one.day is None else one.day.isoformat(),
            "sentence": words.came_sentence(one),
        }
        for one in found
    ]
