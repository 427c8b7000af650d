"""What is to be done, and what came of it, on a page. From `Actions`; computes nothing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from headlife.show.markup import Html, escape, items, table, typeset
from headlife.show.words import actions as words

if TYPE_CHECKING:
    from headlife.decisions.actions import Action, Actions
    from headlife.decisions.came_of import CameOf


def action_list(actions: Actions | None) -> Html:
    """List what is to be done for the first screen; nothing where there is nothing.

    Parameters
    ----------
    actions : Actions or None
        The list; None where it was not made.

    Returns
    -------
    Html
        A piece of the page.
    """
    if actions is None or not actions.each:
        return Html("")
    shown = actions.first(words.SHOWN)
    items = "".join(_item(one, actions) for one in shown)
    more = words.more_sentence(actions)
    rest = f'<p class="note">{escape(more)}</p>' if more else ""
    return Html(
        f'<section class="todo"><h2>What to do</h2><ol>{items}</ol>{rest}</section>',
        "\n".join(f"{n}. {words.what(one)}" for n, one in enumerate(shown, start=1)),
    )


def _item(action: Action, actions: Actions) -> str:
    stake = words.stake(action, actions)
    note = f' <span class="note">{typeset(_sentence(stake))}</span>' if stake else ""
    return (
        f"<li><b>{typeset(words.what(action))}</b> "
        f'<span class="by">{escape(words.by(action, actions))}.</span> '
        f"{typeset(_sentence(words.why(action, actions)))}{note}</li>"
    )


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def came_table(found: Sequence[CameOf], problems: Sequence[str]) -> Html:
    """Tabulate what came of the actions given back.

    Parameters
    ----------
    found : sequence of CameOf
        What came of them.
    problems : sequence of str
        Rows that could not be answered.

    Returns
    -------
    Html
        A piece of the page.
    """
    made = table(
        *words.came_of(found),
        caption="Actions given back, and what the records and settings show since",
    )
    return made + items(problems)
